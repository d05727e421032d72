"""Expected failures that stand in docs/disagreements.toml: published values that we do not meet.

    @disagreement("K2")
    @check("published", source="russ1996", ...)
    def test_something() -> None: ...

The test must fail (strict): should it pass one day, the entry has to go.
"""

from __future__ import annotations

import tomllib
from functools import lru_cache
from pathlib import Path
from typing import Final

import pytest

__all__ = ["FIELDS", "FILE", "disagreement", "known"]

FILE: Final = Path(__file__).parent.parent / "docs" / "disagreements.toml"
FIELDS: Final = ("id", "what", "ours", "theirs", "source", "why")


@lru_cache(maxsize=1)
def known() -> dict[str, dict[str, str]]:
    """The entries by id; raises ValueError for one that is not complete or stands twice."""
    rows = tomllib.loads(FILE.read_text(encoding="utf-8")).get("disagreement", [])
    table: dict[str, dict[str, str]] = {}
    for row in rows:
        if sorted(row) != sorted(FIELDS) or not all(isinstance(v, str) and v.strip() for v in row.values()):
            raise ValueError(
                f"{FILE.name}: entry {row.get('id', '?')} must have exactly: {', '.join(FIELDS)}"
            )
        if row["id"] in table:
            raise ValueError(f"{FILE.name}: {row['id']} stands twice")
        table[row["id"]] = row
    return table


def disagreement(id: str) -> pytest.MarkDecorator:
    """Expect the test to fail, for the reason that stands in docs/disagreements.toml under ``id``."""
    row = known()[id]
    reason = f"{id}: {row['what']}: ours {row['ours']}, theirs {row['theirs']} ({row['source']})"
    return pytest.mark.xfail(strict=True, raises=AssertionError, reason=reason)
