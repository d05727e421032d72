"""The cautions that stand beside findings, and the standing list of what 'holds' does not cover."""

from __future__ import annotations

import tomllib
from functools import cache

from boostwright.findings.model import Caution
from boostwright.library import read_text
from boostwright.library.cautions import caution_rows, deference

__all__ = ["caution", "cautions_for", "deference", "not_covered"]


@cache
def _by_subject() -> dict[str, tuple[Caution, ...]]:
    by_subject: dict[str, tuple[Caution, ...]] = {}
    for row in caution_rows().values():
        for subject in row.subjects:
            by_subject[subject] = (*by_subject.get(subject, ()), Caution(row.key, row.text))
    return by_subject


def cautions_for(code: str) -> tuple[Caution, ...]:
    """The cautions that belong to a finding code, by the word before its first point."""
    return _by_subject().get(code.partition(".")[0], ())


def caution(key: str) -> Caution:
    """One caution by its key. Raises KeyError."""
    return Caution(key, caution_rows()[key].text)


@cache
def not_covered() -> tuple[str, ...]:
    """What a 'holds' does not cover, one sentence each."""
    text = read_text("not_covered.toml")
    return tuple(tomllib.loads(text)["items"])
