"""Units as loggers write them: behind a heading, below it, or in the cells."""

from __future__ import annotations

import math
import re
import tomllib
import unicodedata
from functools import cache, lru_cache
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.library import read_text
from boostwright.quantity import Dimension, PressureKind, find_unit
from boostwright.quantity.units import units_with_key

__all__ = ["LogUnit", "any_unit", "fuel_said", "unit_named", "unit_said", "units_of"]

_NOTHING: Final = frozenset(
    {"", "-", "--", "1", "none", "n/a", "[-]", "[]", "()", ".", "/", "unitless", "null", "–"}
)
_LONGEST: Final = 24  # letters of a unit
_NOISE: Final = re.compile(r"[\s_]+")


class LogUnit(NamedTuple):
    """A unit of a log: SI = (value - shift) * factor, or factor / value where it is reciprocal.

    below: another factor for negative values (gauges that show vacuum in another unit), NaN for none.
    """

    name: str
    dimension: Dimension
    factor: float
    shift: float = 0.0
    kind: PressureKind | None = None
    reciprocal: bool = False
    below: float = math.nan

    @property
    def asks(self) -> bool:
        """True for the air-fuel ratio of an unknown fuel: nobody knows by what to divide it."""
        return math.isnan(self.factor)

    def to_si(self, value: NDArray[np.float64]) -> NDArray[np.float64]:
        """The values (n,) in SI, a pressure as its kind says; NaN where one is larger than any quantity."""
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            if self.reciprocal:
                found = np.where(value == 0.0, np.nan, self.factor / value)
            elif not math.isnan(self.below):
                found = np.where(value < 0.0, value * self.below, value * self.factor)
            elif self.shift:
                found = (value - self.shift) * self.factor
            else:
                found = value * self.factor
        wild = np.isinf(found)
        return np.where(wild, np.nan, found) if wild.any() else np.asarray(found)


@cache
def _table() -> dict[str, Any]:
    return tomllib.loads(read_text("log_units.toml"))


@cache
def _own() -> dict[str, LogUnit]:
    return {
        name: LogUnit(
            name,
            Dimension(row["dimension"]),
            float(row["factor"]),
            float(row.get("shift", 0.0)),
            PressureKind(row["kind"]) if "kind" in row else None,
            bool(row.get("reciprocal", False)),
            float(row.get("below", math.nan)),
        )
        for name, row in _table()["own"].items()
    }


def _plain(text: str) -> str:
    """A unit's text without case, brackets and spare signs."""
    text = unicodedata.normalize("NFC", text).strip().strip("[](){}<>").strip()
    text = text.replace("º", "°").replace("˚", "°").replace("�", "°")
    return _NOISE.sub(" ", text).casefold()


@cache
def _spelled() -> dict[Dimension, dict[str, str]]:
    return {
        Dimension(dimension): {_plain(k): v for k, v in rows.items()}
        for dimension, rows in _table()["spellings"].items()
    }


def unit_named(name: str, dimension: Dimension) -> LogUnit | None:
    """The unit of that printed name or spelling, or None."""
    own = _own().get(name)
    if own is not None and own.dimension is dimension:
        return own
    return unit_said(name, dimension)


@lru_cache(maxsize=20_000)
def unit_said(text: str, dimension: Dimension) -> LogUnit | None:
    """The unit of one dimension that a log's text can mean, or None."""
    plain = _plain(text)
    if plain in _NOTHING or len(plain) > 40:
        return None
    spelled = _spelled().get(dimension, {})
    known = spelled.get(plain) or spelled.get(plain.replace(" ", ""))
    if known is not None:
        own = _own().get(known)
        if own is not None:
            return own
        text = known
    stripped = text.strip().strip("[](){}<>").strip().replace("�", "°").replace("˚", "°").replace("_", " ")
    stripped = re.sub(r"\s*[,;]\s*(?=\D)", " ", stripped)
    found = units_with_key(stripped, dimension) or units_with_key(stripped.replace("/", ""), dimension)
    if not found and dimension is Dimension.SPARK:
        found = units_with_key(stripped.replace("deg", ""), dimension)
    if not found:
        return None
    best = next((unit for unit in found if unit.name != "mPa"), found[0])
    return LogUnit(best.name, dimension, best.factor, -best.offset / best.factor, best.kind)


@lru_cache(maxsize=20_000)
def any_unit(text: str) -> tuple[Dimension, ...]:
    """The dimensions in which a text is a unit; empty where it is none."""
    if len(text) > _LONGEST:
        return ()
    return tuple(d for d in Dimension if d is not Dimension.MONEY and unit_said(text, d) is not None)


def fuel_said(heading: str) -> LogUnit | None:
    """The scale of a mixture that a heading names, by its fuel or as the ratio turned over; or None."""
    words = re.split(r"[^a-z0-9]+", _plain(heading))
    name = next((unit for word, unit in _table()["mixtures"].items() if word in words), None)
    return unit_named(name, Dimension.MIXTURE) if name and (name == "phi" or "lambda" not in words) else None


@cache
def units_of(dimension: Dimension) -> tuple[LogUnit, ...]:
    """The units in which loggers write a dimension, to try where none is said."""
    names = {
        Dimension.ROTATION: ("rpm", "rad/s", "Hz", "rpm x1000"),
        Dimension.PRESSURE: ("kPa", "bar", "mbar", "psi", "inHg", "Pa", "psi above, inHg below"),
        Dimension.TEMPERATURE: ("degC", "degF", "K"),
        Dimension.SHARE: ("%", "of one"),
        Dimension.MIXTURE: ("lambda", "AFR petrol", "AFR E10", "AFR E85", "AFR ethanol"),
        Dimension.TIME: ("ms", "us", "s"),
        Dimension.SPARK: ("deg", "rad"),
        Dimension.SPEED: ("km/h", "mph", "m/s"),
        Dimension.VOLTAGE: ("V", "mV"),
        Dimension.MASS_FLOW: ("g/s", "kg/h", "lb/min", "kg/s"),
        Dimension.RATIO: ("g", "m/s2"),
        Dimension.LENGTH: ("m", "ft"),
        Dimension.COUNT: ("number",),
    }.get(dimension, ())
    made = []
    for name in names:
        unit = _own().get(name)
        if unit is None or unit.dimension is not dimension:
            known = find_unit(name, dimension)
            unit = LogUnit(known.name, dimension, known.factor, -known.offset / known.factor, known.kind)
        made.append(unit)
    return tuple(made)


@cache
def trailing() -> tuple[frozenset[str], tuple[str, ...]]:
    """Words, and signs longest first, that are a unit where they stand behind a heading without brackets."""
    row = _table()["trailing"]
    return frozenset(row["words"]), tuple(sorted(row["marks"], key=len, reverse=True))
