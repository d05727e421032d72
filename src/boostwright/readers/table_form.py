"""What an edited calibration table must hold: its breakpoints, its unit, and what its numbers can be."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.quantity import Dimension, PressureKind, unit_names
from boostwright.quantity.units import units_with_key

__all__ = [
    "TABLES",
    "AxisForm",
    "TableForm",
    "breakpoint_unit",
    "possible",
    "said_breakpoint",
    "said_place",
]

Array = NDArray[np.float64]

_DEGREE: Final = np.pi / 180.0
_POSSIBLE: Final[Mapping[Dimension, tuple[float, float, str]]] = {  # what no table of a road car goes beyond
    Dimension.MIXTURE: (0.5, 1.7, "0.5 to 1.7 lambda"),
    Dimension.SPARK: (-45.0 * _DEGREE, 75.0 * _DEGREE, "-45 to 75 deg before top dead centre"),
    Dimension.ANGLE: (-400.0 * _DEGREE, 400.0 * _DEGREE, "-400 to 400 deg"),
    Dimension.TIME: (0.0, 3600.0, "0 to an hour"),
    Dimension.SHARE: (-1.0, 5.0, "-100 to 500 %"),
    Dimension.RATIO: (-1.0, 20.0, "-1 to 20"),
    Dimension.PRESSURE: (-1.0e5, 3.0e7, "-1 to 300 bar"),
    Dimension.VOLTAGE: (0.0, 48.0, "0 to 48 V"),
    Dimension.TEMPERATURE: (200.0, 1500.0, "-73 to 1227 degC"),
    Dimension.ROTATION: (0.0, 2000.0, "0 to 19000 rpm"),
}
_MANIFOLD: Final = (0.0, 1.0e6, "0 to 1000 kPa absolute")
_ANYTHING: Final = (-1e12, 1e12, "")


TABLES: Final[Mapping[str, tuple[Dimension, PressureKind | None, bool]]] = {
    "after_start_fuel": (Dimension.RATIO, None, False),
    "air_temperature_fuel": (Dimension.RATIO, None, False),
    "air_temperature_spark": (Dimension.ANGLE, None, False),
    "boost_target": (Dimension.PRESSURE, PressureKind.ABSOLUTE, False),
    "coolant_temperature_spark": (Dimension.ANGLE, None, False),
    "cranking_fuel": (Dimension.TIME, None, False),
    "cylinder_air": (Dimension.MASS, None, True),
    "dead_time": (Dimension.TIME, None, False),
    "gate_duty": (Dimension.SHARE, None, False),
    "gate_signal_share": (Dimension.SHARE, None, False),
    "injector_pulse": (Dimension.TIME, None, True),
    "lambda_target": (Dimension.MIXTURE, None, True),
    "pressure_sensor": (Dimension.PRESSURE, None, False),
    "spark": (Dimension.SPARK, None, True),
    "volumetric_efficiency": (Dimension.SHARE, None, True),
    "warm_up_fuel": (Dimension.RATIO, None, False),
}
"""What each table that there can be holds, and whether it lies over speed and manifold pressure."""


class AxisForm(NamedTuple):
    """Breakpoints that the file must have, rising, SI."""

    key: str
    words: str
    dimension: Dimension
    values: Array
    pressure: PressureKind | None = None


class TableForm(NamedTuple):
    """What the file must hold."""

    key: str
    words: str
    dimension: Dimension
    axes: tuple[AxisForm, ...]
    may_be_empty: NDArray[np.bool_]  # cells that may stay without a number
    pressure: PressureKind | None = None


def possible(form: TableForm) -> tuple[float, float, str]:
    """What no number of a table goes beyond, SI, and the range in words."""
    if form.dimension is Dimension.PRESSURE and form.pressure is PressureKind.ABSOLUTE:
        return _MANIFOLD
    return _POSSIBLE.get(form.dimension, _ANYTHING)


def breakpoint_unit(axis: AxisForm) -> str:
    """The first unit of an axis's dimension that a person uses."""
    name = {Dimension.PRESSURE: "kPa"}.get(axis.dimension, (*unit_names(axis.dimension), "")[0])
    return f"{name} {axis.pressure.value}" if name and axis.pressure is not None else name


def said_breakpoint(axis: AxisForm, value: float) -> str:
    """A breakpoint, SI, as a number in that unit."""
    name = breakpoint_unit(axis)
    if not name:
        return f"{value:.5g}"
    (unit,) = units_with_key(name, axis.dimension)[:1]
    return f"{(value - unit.offset) / unit.factor:.5g}"


def said_place(axis: AxisForm, index: int) -> str:
    """A breakpoint with its unit."""
    return f"{said_breakpoint(axis, float(axis.values[index]))} {breakpoint_unit(axis)}".rstrip()
