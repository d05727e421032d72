"""The cautions that stand beside findings, and the standing list of what 'holds' does not cover."""

from __future__ import annotations

import tomllib
from functools import cache

from boostwright.findings.model import Caution
from boostwright.library import read_text

__all__ = ["cautions_for", "deference", "not_covered"]


@cache
def _cautions() -> tuple[str, dict[str, tuple[Caution, ...]]]:
    text = read_text("cautions.toml")
    data = tomllib.loads(text)
    by_subject: dict[str, tuple[Caution, ...]] = {}
    for key, row in data.items():
        if key == "defer":
            continue
        for subject in row["subjects"]:
            by_subject[subject] = (*by_subject.get(subject, ()), Caution(key, row["text"]))
    return str(data["defer"]), by_subject


def cautions_for(code: str) -> tuple[Caution, ...]:
    """The cautions that belong to a finding code, by the word before its first point."""
    return _cautions()[1].get(code.partition(".")[0], ())


def deference() -> str:
    """The sentence under every list of cautions: who comes first."""
    return _cautions()[0]


@cache
def not_covered() -> tuple[str, ...]:
    """What a 'holds' does not cover, one sentence each."""
    text = read_text("not_covered.toml")
    return tuple(tomllib.loads(text)["items"])
