"""The unit and the digits of a calibration table, the same on a terminal, in a CSV file and in a plot."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.calibration.records import Axis, Setting, Table
from boostwright.quantity import COVERAGE, DIMENSIONLESS, Dimension, PressureKind, Unit, find_unit, unit_names
from boostwright.views.numbers import THIN, say_number, spread_step

__all__ = [
    "Edge",
    "Face",
    "axis_face",
    "axis_texts",
    "difference_face",
    "edges_of",
    "face_of",
    "place_words",
    "said",
    "said_cell",
    "said_in",
    "setting_words",
    "si_name",
    "step_of",
    "table_face",
    "write_step",
]

Array = NDArray[np.float64]

_UNITS: Final = {
    Dimension.LENGTH: "mm",
    Dimension.AREA: "mm2",
    Dimension.VOLUME: "cc",
    Dimension.MASS: "g",
    Dimension.TEMPERATURE: "degC",
    Dimension.TEMPERATURE_DIFFERENCE: "K",
    Dimension.ANGLE: "deg",
    Dimension.SPARK: "deg",
    Dimension.ROTATION: "rpm",
    Dimension.SPEED: "km/h",
    Dimension.VOLUME_FLOW: "cc/min",
    Dimension.MASS_FLOW: "g/s",
    Dimension.TORQUE: "Nm",
    Dimension.POWER: "kW",
    Dimension.ENERGY: "mJ",
    Dimension.TIME: "ms",
    Dimension.VOLTAGE: "V",
    Dimension.CURRENT: "A",
    Dimension.RESISTANCE: "ohm",
    Dimension.MIXTURE: "lambda",
    Dimension.SHARE: "%",
    Dimension.OCTANE: "RON",
}
_PRESSURES: Final = {
    PressureKind.ABSOLUTE: "kPa absolute",
    PressureKind.GAUGE: "bar gauge",
    PressureKind.DIFFERENCE: "bar",
    None: "kPa",
}
_LONG: Final = 2.0  # a time beyond this [s] is no pulse, and is written in seconds
_LITTLE: Final = 1.0e-4  # a mass below this [kg] is one of fuel, and is written in milligrams
_DIGITS: Final = 4  # of a number whose spread nobody knows


class Face(NamedTuple):
    """How a quantity is written: shown = (SI - offset) / factor, with the unit's name, '' for none.

    Inside, spark is a crank angle, negative before top dead centre; people count it before, so its factor
    is negative, and what is earliest is largest.
    """

    name: str
    factor: float
    offset: float

    @property
    def size(self) -> float:
        """Of the unit in SI, without the sign."""
        return abs(self.factor)

    @property
    def backwards(self) -> bool:
        """Whether what is larger inside is smaller as shown."""
        return self.factor < 0.0

    def shown(self, value: Array) -> Array:
        """SI values in the unit shown."""
        return np.asarray((np.asarray(value, dtype=float) - self.offset) / self.factor)


def face_of(dimension: Dimension, pressure: PressureKind | None = None, largest: float = 0.0) -> Face:
    """The unit of a quantity.

    pressure: against what it is counted. largest: of the values, SI, by which a time is one of milliseconds
    or of seconds.
    """
    if dimension is Dimension.MASS and 0.0 < largest < _LITTLE:
        name = "mg"
    elif dimension is Dimension.PRESSURE:
        name = _PRESSURES[pressure]
    elif dimension is Dimension.TIME and largest > _LONG:
        name = "s"
    else:
        name = _UNITS.get(dimension, "")
    if not name:
        return Face("", 1.0, 0.0)
    unit: Unit = find_unit(name, dimension)
    return Face(name, -unit.factor if dimension is Dimension.SPARK else unit.factor, unit.offset)


def difference_face(face: Face) -> Face:
    """The unit of a difference of two values, or of a spread: K for degC, bar for bar gauge."""
    name = "K" if face.name == "degC" else face.name.removesuffix(" gauge").removesuffix(" absolute")
    return Face(name, face.size, 0.0)


def table_face(table: Table) -> Face:
    """The unit of a table's cells."""
    return face_of(table.dimension, table.pressure, _largest(table.value))


def axis_face(axis: Axis) -> Face:
    """The unit of an axis."""
    return face_of(axis.dimension, axis.pressure, _largest(axis.values))


def si_name(dimension: Dimension) -> str:
    """The SI unit of a dimension as a word; '1' for a plain number."""
    if dimension is Dimension.TEMPERATURE_DIFFERENCE:
        return "K"
    for name in unit_names(dimension):
        unit = find_unit(name, dimension)
        if unit.factor == 1.0 and unit.offset == 0.0 and dimension not in DIMENSIONLESS:
            return name
    return "1"


def _largest(values: Array) -> float:
    known = np.abs(values[np.isfinite(values)])
    return float(known.max()) if known.size else 0.0


# ---------------------------------------------------------------------------------------------- digits


def step_of(table: Table) -> float:
    """The last decimal that the cells of a table deserve, in the unit shown, as a power of ten.

    The middle of the cells decides, so that all have the same digits.
    """
    face = table_face(table)
    spread = COVERAGE * np.abs(table.sd) / face.size
    known = spread[np.isfinite(spread) & (spread > 1.0e-280) & np.isfinite(table.value)]
    if known.size:
        return spread_step(float(np.median(known)))
    largest = _largest(face.shown(table.value))
    return 10.0 ** (math.floor(math.log10(largest)) - _DIGITS + 1) if largest > 0.0 else 1.0


def write_step(table: Table) -> float:
    """The last decimal of a table in a file that is read again: one finer than its spread deserves, so that
    rounding is no edit. In the unit shown.
    """
    return 0.1 * step_of(table)


def axis_texts(axis: Axis, digits: int = 4) -> tuple[str, ...]:
    """Breakpoints in their unit, with as many digits as tell them apart."""
    values = axis_face(axis).shown(axis.values)
    for more in range(digits, 12):
        texts = tuple(f"{value:.{more}g}" for value in values)
        if "e" not in "".join(texts) and len(set(texts)) == len(texts):
            return texts
    return tuple(f"{value:.12g}" for value in values)


def said(
    value: float, sd: float, dimension: Dimension, pressure: PressureKind | None = None, band: bool = True
) -> str:
    """A value with its unit and, where it has one, its spread: '17.3 ± 1.8 deg'. 'none' for no number."""
    return said_in(face_of(dimension, pressure, abs(value)), value, sd, band)


def said_cell(table: Table, value: float, sd: float, band: bool = True) -> str:
    """The same for a value of a table, in the table's unit."""
    return said_in(table_face(table), value, sd, band)


def said_in(face: Face, value: float, sd: float, band: bool = True) -> str:
    """The same in a unit that is chosen already."""
    if not math.isfinite(value):
        return "none"
    number = (value - face.offset) / face.factor
    spread = COVERAGE * abs(sd) / face.size if math.isfinite(sd) else 0.0
    unit = f"{THIN}{face.name.replace(' ', THIN)}" if face.name else ""
    if face.name == "lambda":
        unit = ""  # 'lambda' stands before the number on every page
    if not spread > 1.0e-280:
        digits = f"{number:.{_DIGITS}g}"
        return f"{float(digits):.0f}{unit}" if "e" in digits else f"{digits}{unit}"
    step = spread_step(spread)
    text = say_number(number, step)
    return f"{text}{THIN}±{THIN}{say_number(spread, step)}{unit}" if band else f"{text}{unit}"


def setting_words(setting: Setting) -> str:
    """The value of a setting with unit and spread."""
    return said(setting.value, setting.sd, setting.dimension, setting.pressure)


class Edge(NamedTuple):
    """A limit of the cells of a table as people see it."""

    value: Array  # SI, NaN for none
    why: str
    most: bool  # what is shown may not lie above it; else not below


def edges_of(table: Table) -> tuple[Edge, ...]:
    """The limits that an edit may not pass."""
    backwards = table_face(table).backwards
    found = []
    if table.high is not None:
        found.append(Edge(table.high, table.high_why, not backwards))
    if table.low is not None:
        found.append(Edge(table.low, table.low_why, backwards))
    return tuple(found)


def place_words(table: Table, at: tuple[int, ...]) -> str:
    """Where a cell is: '3000 rpm, 180 kPa absolute'."""
    words = []
    for axis, index in zip(table.axes, at, strict=False):
        unit = axis_face(axis).name
        words.append(f"{axis_texts(axis)[index]}{THIN}{unit.replace(' ', THIN)}".rstrip(THIN))
    return ", ".join(words)
