"""Reading of ``repeatability.toml``: how well a reading repeats from one day to the next."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from typing import NamedTuple

from boostwright.library import read_text
from boostwright.uncertainty import Spread

__all__ = ["Repeat", "repeatability"]


class Repeat(NamedTuple):
    """Of one reading of one field."""

    spread: Spread  # one standard deviation, SI, and as a share
    source: str


@cache
def repeatability() -> Mapping[str, Repeat]:
    """The whole table by field."""
    raw = tomllib.loads(read_text("repeatability.toml"))
    return {
        field: Repeat(Spread(float(row.get("sd", 0.0)), float(row.get("share", 0.0))), str(row["source"]))
        for field, row in raw.items()
    }
