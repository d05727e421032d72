"""The oil of engine and turbo: feed, drain, heat, and the crankcase that it runs home to."""

from boostwright.systems.oil.flow import (
    Breather,
    Oiled,
    OilFeed,
    breather_pressure,
    drain_capacity,
    head_of_drain,
    oiled,
)
from boostwright.systems.oil.side import (
    READ_AT,
    OilHeat,
    OilSide,
    after_pulls,
    bearing_by_bottle,
    bore_by_bottle,
    drain_of,
    feed_at,
    gauge_pressure,
    head_of,
    idle_with_turbo,
    minutes_to,
)

__all__ = [
    "READ_AT",
    "Breather",
    "OilFeed",
    "OilHeat",
    "OilSide",
    "Oiled",
    "after_pulls",
    "bearing_by_bottle",
    "bore_by_bottle",
    "breather_pressure",
    "drain_capacity",
    "drain_of",
    "feed_at",
    "gauge_pressure",
    "head_of",
    "head_of_drain",
    "idle_with_turbo",
    "minutes_to",
    "oiled",
]
