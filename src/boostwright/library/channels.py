"""Reading of ``channels.toml``: every quantity that a logger may record, with its ground."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from typing import NamedTuple

from boostwright.library import read_text
from boostwright.quantity import Dimension, PressureKind

__all__ = ["ChannelKind", "channel_kinds"]


class ChannelKind(NamedTuple):
    """One quantity of a log. SI: Pa, K, rad, rad/s, m/s, s, kg/s; shares from 0 to 1; acceleration in g."""

    key: str
    words: str
    short: str  # beside a line of a plot
    dimension: Dimension
    pressure: PressureKind | None  # how a pressure is kept inside; None for other quantities
    lowest: float  # of what a running petrol car can show, in SI
    highest: float
    by_cylinder: bool


@cache
def channel_kinds() -> Mapping[str, ChannelKind]:
    """All quantities by key, in the order of the file."""
    raw = tomllib.loads(read_text("channels.toml"))
    return {
        key: ChannelKind(
            key,
            row["words"],
            row["short"],
            Dimension(row["dimension"]),
            PressureKind(row["kind"]) if "kind" in row else None,
            float(row["lowest"]),
            float(row["highest"]),
            bool(row.get("by_cylinder", False)),
        )
        for key, row in raw.items()
    }
