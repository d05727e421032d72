"""Reading of ``fuses.toml``: gates and ratings of vehicle fuses, and what the trade reckons with."""

from __future__ import annotations

import tomllib
from functools import cache
from typing import Any, Final, NamedTuple

import numpy as np

from boostwright.library import read_text
from boostwright.physics.fuse import FuseGates

__all__ = [
    "FUSE_TYPES",
    "FusePractice",
    "FuseType",
    "fuse_practice",
    "fuse_type",
    "fuse_types",
    "pulse_share",
]

FUSE_TYPES: Final = ("blade", "bolted")


class FuseType(NamedTuple):
    """One type of fuse."""

    name: str
    ratings: tuple[float, ...]  # that are sold [A]
    gates: FuseGates
    standard: str
    source: str
    note: str


class FusePractice(NamedTuple):
    """One figure of the trade."""

    value: float
    sd: float
    unit: str
    source: str
    note: str


@cache
def _table() -> dict[str, dict[str, Any]]:
    return tomllib.loads(read_text("fuses.toml"))


@cache
def fuse_types() -> dict[str, FuseType]:
    """Every type by its name."""
    found = {}
    for name in FUSE_TYPES:
        row = dict(_table()[name])
        ratio, earliest, latest = np.array(row.pop("gates"), dtype=np.float64).T
        gates = FuseGates(ratio, earliest, latest, breaking_current=row.pop("breaking_current"))
        found[name] = FuseType(name=name, ratings=tuple(row.pop("ratings")), gates=gates, **row)
    return found


def fuse_type(name: str) -> FuseType:
    """One type, 'blade' or 'bolted'. Raises KeyError."""
    return fuse_types()[name]


def fuse_practice(name: str) -> FusePractice:
    """One figure: 'lasting', 'temperature_slope' or 'rated_temperature'. Raises KeyError."""
    return FusePractice(**_table()["practice"][name])


def pulse_share(count: float) -> float:
    """Share of the earliest opening time that each of so many pulses may use; straight over log count."""
    rows = _table()["pulses"]["rows"]
    counts = np.log([row["count"] for row in rows])
    return float(np.interp(np.log(max(count, 1.0)), counts, [row["share"] for row in rows]))
