"""The label that every numerical check carries: which kind of evidence it is, and from where.

    @check("published", id="I3", source="woschni1967", note="table 2, printed; +/- half of the last digit")
    def test_something() -> None: ...

``docs/validation.md`` is made from these labels, so a wrong one stops the collection of the tests.
"""

from __future__ import annotations

import re
from typing import Final

import pytest

__all__ = ["KINDS", "NEEDS_SOURCE", "LabelError", "check", "validate"]

KINDS: Final = {
    "published": "a printed, digitised or remembered value from a publication; the note says which",
    "common practice": "a fact of the trade, no source",
    "reference library": "another program's answer; the source names it, the run records its version",
    "limit": "an analytic limit or an exact solution",
    "conservation": "mass, energy or another balance, counted independently",
    "measured": "an open data set",
    "regression": "our own earlier output: shows change, is no evidence of truth",
}

NEEDS_SOURCE: Final = frozenset({"published", "reference library", "measured"})

_ID = re.compile(r"[A-Z][A-Za-z]?\d+[a-z]?(?:[.\-]\d+)?")


class LabelError(ValueError):
    """A label that the validation page could not use."""


def validate(kind: str, id: str | None, source: str, note: str) -> None:
    """Raise LabelError unless the four parts of a label make sense together."""
    if kind not in KINDS:
        raise LabelError(f"kind {kind!r} is none of: {', '.join(sorted(KINDS))}")
    for name, text in (("source", source), ("note", note)):
        if not isinstance(text, str):
            raise LabelError(f"{name} is a {type(text).__name__}, where a text is needed")
    if kind in NEEDS_SOURCE and not source.strip():
        raise LabelError(f"a {kind!r} check must say its source")
    if kind == "common practice" and source not in ("", "no source"):
        raise LabelError(
            f"a 'common practice' check has no source, but this one names {source!r}; is it 'published'?"
        )
    if id is not None and not (isinstance(id, str) and _ID.fullmatch(id)):
        raise LabelError(f"id {id!r} is not a letter or two and a number, like 'A1' or 'K12'")


def check(kind: str, *, id: str | None = None, source: str = "", note: str = "") -> pytest.MarkDecorator:
    """Mark a test as one numerical check.

    kind: a key of KINDS.
    id: our own number of the check, like 'I3'; one id may stand on several tests.
    source: a key of ``boostwright.sources``, the name of a library, or a data set's name.
    note: page, table, how the value was come by ('printed', 'digitised', 'from memory'), where the tolerance
        comes from.
    """
    validate(kind, id, source, note)
    return pytest.mark.check(kind=kind, id=id, source=source, note=note)
