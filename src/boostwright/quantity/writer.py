"""Writing a quantity in a unit that a person uses, with no more digits than its spread allows."""

from __future__ import annotations

import math

from boostwright.quantity.reader import COVERAGE
from boostwright.quantity.units import Dimension, Unit, find_unit

__all__ = ["in_unit", "write"]


def in_unit(value: float, unit: str | Unit, dimension: Dimension) -> float:
    """The number of an SI value in the named unit of its dimension. Raises KeyError for an unknown unit."""
    known = find_unit(unit, dimension) if isinstance(unit, str) else unit
    return (value - known.offset) / known.factor


def write(value: float, unit: str, dimension: Dimension, sd: float | None = None, digits: int = 4) -> str:
    """The text of an SI value: '440 cc/min', or with its spread '440 +/- 15 cc/min'.

    `sd` is one standard deviation [SI]; what is written after +/- is `COVERAGE` of them, to two digits, and
    the value stops at the same place. Without `sd` the value has `digits` significant digits.
    """
    if not unit:
        return _rounded(value, digits) if sd is None else _with_spread(value, sd * COVERAGE, "")
    known = find_unit(unit, dimension)
    number = (value - known.offset) / known.factor
    if sd is None:
        return _named(_rounded(number, digits), known.name)
    return _with_spread(number, sd * COVERAGE / abs(known.factor), known.name)


def _with_spread(number: float, half_width: float, name: str) -> str:
    if not half_width > 0 or not math.isfinite(half_width):
        return _named(_rounded(number, 4), name)
    places = max(0, 1 - math.floor(math.log10(half_width)))
    if half_width / 10 ** math.floor(math.log10(half_width)) >= 3.0:
        places = max(0, places - 1)
    return _named(f"{number:.{places}f} +/- {half_width:.{places}f}", name)


def _named(number: str, name: str) -> str:
    return f"{number}{name}" if name.startswith(":") else f"{number} {name}".strip()


def _rounded(number: float, digits: int) -> str:
    if number == 0 or not math.isfinite(number):
        return "0" if number == 0 else str(number)
    places = max(0, digits - 1 - math.floor(math.log10(abs(number))))
    text = f"{number:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
