"""Reading of ``readings.toml``: cheap readings, what they cost, and how well a value is known afterwards."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from typing import NamedTuple

from boostwright.library import read_text
from boostwright.uncertainty import Spread

__all__ = ["WHEN", "CheapReading", "cheap_readings"]

WHEN: Mapping[str, str] = {
    "before": "before strip-down",
    "bench": "with the part in hand",
    "off": "with the head off",
}


class CheapReading(NamedTuple):
    """One reading that a builder can take."""

    key: str
    words: str
    instrument: str
    when: str  # a key of WHEN
    minutes: float  # of work [min]
    price: float  # [EUR]
    settles: Mapping[str, Spread]  # field -> spread after the reading
    caution: str
    basis: str


@cache
def cheap_readings() -> Mapping[str, CheapReading]:
    """The whole list by key, in the order of the file."""
    raw = tomllib.loads(read_text("readings.toml"))
    return {
        key: CheapReading(
            key=key,
            words=row["words"],
            instrument=row["instrument"],
            when=row["when"],
            minutes=float(row["minutes"]),
            price=float(row["price"]),
            settles={
                field: Spread(float(after.get("sd", 0.0)), float(after.get("share", 0.0)))
                for field, after in row["settles"].items()
            },
            caution=row["caution"],
            basis=row["basis"],
        )
        for key, row in raw.items()
    }
