"""Reading of ``readings.toml``: cheap readings, what they cost, and how well a value is known afterwards."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from typing import Any, NamedTuple

from boostwright.library import read_text
from boostwright.library.measurements import measurements
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
    measurement: str = ""  # its key in the catalogue of measurements; '' where it is none of the job's


@cache
def cheap_readings() -> Mapping[str, CheapReading]:
    """The whole list by key, in the order of the file."""
    raw = tomllib.loads(read_text("readings.toml"))
    return {key: _reading(key, row) for key, row in raw.items()}


def _reading(key: str, row: Mapping[str, Any]) -> CheapReading:
    """One row; instrument and minutes of a measurement of the job stand in its catalogue."""
    same = measurements()[row["measurement"]] if "measurement" in row else None
    return CheapReading(
        key=key,
        words=row["words"],
        instrument=row["instrument"] if same is None else same.instrument,
        when=row["when"],
        minutes=float(row["minutes"] if same is None else same.minutes),
        price=float(row["price"]),
        settles={
            field: Spread(float(after.get("sd", 0.0)), float(after.get("share", 0.0)))
            for field, after in row["settles"].items()
        },
        caution=row["caution"],
        basis=row["basis"],
        measurement="" if same is None else same.key,
    )
