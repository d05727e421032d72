"""Reading of ``compressor_points.toml``: how far a real compressor lies from its map."""

from __future__ import annotations

import tomllib
from functools import cache
from typing import Any, NamedTuple

from boostwright.library import read_text
from boostwright.physics.compressor_anchor import ShapeBand
from boostwright.physics.compressor_points import Widening

__all__ = ["PointsBand", "plausible_factor", "points_band", "shape_band", "widening"]


class PointsBand(NamedTuple):
    """Spreads of a map from points, and the limits of its data check; names as in the table."""

    flow: float
    surge: float
    head: float
    speed: float
    efficiency: float
    unknown_reference_flow: float
    unknown_reference_speed: float
    unknown_reference_temperature: float  # [K]
    unknown_reference_pressure: float  # [Pa]
    estimated_efficiency: float
    work_scatter: float
    work_low: float
    work_high: float


@cache
def _values(section: str) -> dict[str, Any]:
    raw: dict[str, dict[str, dict[str, Any]]] = tomllib.loads(read_text("compressor_points.toml"))
    return {name: row["value"] for name, row in raw[section].items()}


@cache
def points_band() -> PointsBand:
    """One standard deviation of a real compressor about a map from points."""
    return PointsBand(**_values("map_band"))


@cache
def widening() -> Widening:
    """Growth of the spreads outside the measured ground."""
    return Widening(**{name: tuple(value) for name, value in _values("widening").items()})


@cache
def shape_band() -> ShapeBand:
    """What one known point cannot take away from an estimate by sizes."""
    return ShapeBand(**{name: value for name, value in _values("sizes_shape").items() if name != "plausible"})


def plausible_factor() -> float:
    """Factor on the spreads of an estimate for a wheel a little outside its ground [-]."""
    return float(_values("sizes_shape")["plausible"])
