"""The literature list and its use in the docstrings of this room."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from boostwright import sources
from boostwright.errors import UnknownField

PHYSICS = Path(sources.__file__).parent / "physics"
KEY = re.compile(r"\b([a-z]+(?:19|20)\d\d)\b|\b(iso2533|iso1585|saej\d+|din70020|grpe7002)\b")


def cited() -> set[str]:
    text = "\n".join(p.read_text(encoding="utf-8") for p in PHYSICS.rglob("*.py"))
    return {a or b for a, b in KEY.findall(text)}


def test_every_cited_publication_is_in_the_list() -> None:
    assert len(cited()) > 20
    assert cited() <= sources.SOURCES.keys()


def test_the_list_is_complete_in_every_row() -> None:
    for key, row in sources.SOURCES.items():
        assert row.key == key
        assert row.authors
        assert row.title
        assert row.where
        assert 1830 <= row.year <= 2030
        assert isinstance(row.seen, sources.Seen)


def test_an_unknown_key_is_answered_with_near_ones() -> None:
    assert sources.source("woschni1967").year == 1967
    with pytest.raises(UnknownField, match="woschni1967"):
        sources.source("woschni1976")
