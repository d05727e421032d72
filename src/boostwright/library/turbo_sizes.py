"""Reading of ``turbo_sizes.toml``: constants and bands of the estimates from turbo sizes, with their
sources."""

from __future__ import annotations

import math
import tomllib
from functools import cache
from typing import Any, NamedTuple

from boostwright.library import read_text
from boostwright.physics.compressor_sizes import Band, CompressorRecipe
from boostwright.physics.turbine import TurbineRecipe

__all__ = [
    "SizeConstant",
    "TurbineBand",
    "compressor_band",
    "compressor_recipe",
    "constants",
    "turbine_band",
    "turbine_recipe",
]

_TO_SI = {"-": 1.0, "m": 1.0, "W": 1.0, "rad/s": 1.0, "deg": math.pi / 180}


class SizeConstant(NamedTuple):
    """One row of the table."""

    value: float | tuple[float, float]  # SI; a pair is a range
    unit: str  # SI unit of the value
    source: str


class TurbineBand(NamedTuple):
    """One standard deviation of real turbines about the estimate from sizes."""

    area: float  # relative [-]
    efficiency: float  # absolute [-]
    bearing: float  # relative, on the bearing loss [-]


@cache
def _table() -> dict[str, dict[str, SizeConstant]]:
    raw: dict[str, dict[str, dict[str, Any]]] = tomllib.loads(read_text("turbo_sizes.toml"))
    return {section: {name: _row(row) for name, row in rows.items()} for section, rows in raw.items()}


def _row(row: dict[str, Any]) -> SizeConstant:
    factor = _TO_SI[row["unit"]]
    value = row["value"]
    si = (value[0] * factor, value[1] * factor) if isinstance(value, list) else value * factor
    return SizeConstant(si, "rad" if row["unit"] == "deg" else row["unit"], row["source"])


def _values(section: str) -> dict[str, Any]:
    return {name: row.value for name, row in _table()[section].items()}


def constants(section: str) -> dict[str, SizeConstant]:
    """Rows of one section ('compressor', 'compressor_band', 'turbine', 'turbine_band') with unit and
    source."""
    return dict(_table()[section])


@cache
def compressor_recipe() -> CompressorRecipe:
    """Constants of the compressor estimate from wheel sizes, SI."""
    return CompressorRecipe(**_values("compressor"))


@cache
def compressor_band() -> Band:
    """Scatter of real compressors about the estimate, one standard deviation."""
    return Band(**_values("compressor_band"))


@cache
def turbine_recipe() -> TurbineRecipe:
    """Constants of the turbine estimate from sizes, SI."""
    return TurbineRecipe(**_values("turbine"))


@cache
def turbine_band() -> TurbineBand:
    """Scatter of real turbines about the estimate, one standard deviation."""
    return TurbineBand(**_values("turbine_band"))
