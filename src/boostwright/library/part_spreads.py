"""Reading of ``part_spreads.toml``: how far parts of one kind differ, with the source of each number."""

from __future__ import annotations

import tomllib
from functools import cache
from typing import NamedTuple

from boostwright.library import read_text

__all__ = ["PartSpread", "part_spread", "part_spreads"]


class PartSpread(NamedTuple):
    """One row of the table."""

    value: float  # SI
    unit: str  # '-' or 'K'
    source: str


@cache
def part_spreads() -> dict[str, dict[str, PartSpread]]:
    """All rows by section and name."""
    raw = tomllib.loads(read_text("part_spreads.toml"))
    return {section: {name: PartSpread(**row) for name, row in rows.items()} for section, rows in raw.items()}


def part_spread(section: str, name: str) -> float:
    """The value of one row [SI]. Raises KeyError for a row that the table does not have."""
    return part_spreads()[section][name].value
