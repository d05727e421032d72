"""Reading one written quantity: '0.6 bar', '440 +/- 15 cc/min', '25 degC', '10 psig', '0,7 bar'."""

from __future__ import annotations

import math
import re
from typing import Final, NamedTuple

from boostwright.quantity.nearest import nearest
from boostwright.quantity.number import NUMBER_START, read_number
from boostwright.quantity.problem import QuantityError
from boostwright.quantity.units import (
    DIMENSIONLESS,
    Dimension,
    PressureKind,
    Unit,
    candidates,
    unit_names,
    units_with_key,
)

__all__ = ["COVERAGE", "LONGEST", "Quantity", "read", "read_many"]

COVERAGE: Final = 2.0
"""What follows +/- holds the truth 19 times out of 20: it is this many standard deviations (ISO/IEC Guide
98-3: coverage factor 2)."""

LONGEST: Final = 200
"""A written quantity is never longer than this [characters]."""

_PLUS_MINUS = re.compile(r"\+\s?/\s?-|±|\+-")
_PREFIXED = re.compile(r"([A-Za-z]{1,12})\s*[=:]?\s*([0-9].*)")
_BETWEEN = re.compile(r"\s*(?:-|–|to|\.\.\.?|bis)\s*[0-9]")
_ROW_SEPARATOR = re.compile(r";|,(?=\s)")  # a comma before a space parts values; without one it is decimal
_FRACTIONS = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_PLAIN = str.maketrans({"−": "-", "\u00a0": " ", "\u2009": " ", "\u202f": " ", "\t": " "})
_MOST_VALUES = 400
_LONGEST_NUMBER = 40


class Quantity(NamedTuple):
    """A number read from text, in SI."""

    value: float  # SI; a gauge or absolute pressure as `kind` says
    sd: float | None  # one standard deviation, SI; None when the text says none
    unit: Unit | None  # as written; None for a bare number
    text: str  # as written

    @property
    def kind(self) -> PressureKind | None:
        """Gauge or absolute, when the text itself says so."""
        return self.unit.kind if self.unit else None


def read(text: str, dimension: Dimension, offer: tuple[str, ...] = ()) -> Quantity:
    """The quantity that the text states, which must be of the given dimension.

    The text is a number with comma or point, an optional spread after +/- (in the same unit, its own unit, or
    in percent of the value) and a unit. What follows +/- is `COVERAGE` standard deviations. For a share in
    percent a spread in percent means points. Dimensions of `DIMENSIONLESS` need no unit. `offer`: the units
    that a message may name; all of the dimension when empty.

    Raises QuantityError: 'no-number', 'ambiguous-number', 'not-finite', 'no-unit', 'unknown-unit', 'wrong-
    unit', 'two-numbers'.
    """
    if len(text) > LONGEST:
        raise QuantityError(
            "no-number", f"{len(text)} characters are too long for one value", _example(dimension, offer)
        )
    plain = text.translate(_PLAIN).strip()
    for sign, digits in _FRACTIONS.items():
        if sign in plain:
            plain = plain.replace(sign, " " + digits).strip()
    parts = _PLUS_MINUS.split(plain)
    if len(parts) > 2:
        raise QuantityError("two-numbers", f"'{text}' has more than one +/-", _example(dimension, offer))
    number, unit_text = _split(parts[0], dimension, text, offer)
    value = read_number(number)
    if len(parts) == 1:
        unit = _unit(unit_text, dimension, number, offer)
        return Quantity(_si(value, unit), None, unit, text)

    spread_number, spread_text = _split(parts[1], dimension, text, offer)
    spread = abs(read_number(spread_number))
    relative = spread_text.startswith("%") and dimension not in (Dimension.SHARE, Dimension.RATIO)
    if relative:
        trailing = spread_text[1:].strip()
        unit = _unit(unit_text or trailing, dimension, number, offer)
        half_width = abs(value) * spread / 100 * abs(unit.factor if unit else 1.0)
    else:
        unit = _unit(unit_text or spread_text, dimension, number, offer)
        spread_unit = _unit(spread_text, dimension, number, offer) if spread_text else unit
        half_width = spread * abs(spread_unit.factor if spread_unit else 1.0)
    if not math.isfinite(half_width):
        raise _not_finite(spread_number)
    return Quantity(_si(value, unit), half_width / COVERAGE, unit, text)


def read_many(text: str, dimension: Dimension, offer: tuple[str, ...] = ()) -> tuple[Quantity, ...]:
    """The quantities of one text with one unit at its end: '1500 2000 2500 rpm' or '1500; 2000; 2500 rpm'; a
    comma with a space after it parts them, too.

    Raises QuantityError as `read` does.
    """
    if len(text) > LONGEST * 20:
        raise QuantityError(
            "no-number", f"{len(text)} characters are too long for one row", _example(dimension, offer)
        )
    words = _ROW_SEPARATOR.sub(" ", text.translate(_PLAIN)).split()
    numbers: list[str] = []
    while words and NUMBER_START.fullmatch(words[0]):
        if len(words[0]) > _LONGEST_NUMBER:
            raise QuantityError(
                "no-number", f"'{words[0][:20]}...' is too long for a number", _example(dimension, offer)
            )
        numbers.append(words.pop(0))
        if len(numbers) > _MOST_VALUES:
            raise QuantityError(
                "no-number", f"more than {_MOST_VALUES} values in one row", "Write fewer values."
            )
    if not numbers:
        return (read(text, dimension, offer),)
    unit = _unit(" ".join(words), dimension, numbers[-1], offer)
    return tuple(Quantity(_si(read_number(n), unit), None, unit, n) for n in numbers)


def _si(value: float, unit: Unit | None) -> float:
    found = value if unit is None else value * unit.factor + unit.offset
    if not math.isfinite(found):  # a number that is finite in its own unit may be none in SI
        raise _not_finite(f"{value:g}")
    return found


def _not_finite(number: str) -> QuantityError:
    return QuantityError("not-finite", f"'{number}' is larger than any quantity", "Write a smaller number.")


def _split(part: str, dimension: Dimension, text: str, offer: tuple[str, ...]) -> tuple[str, str]:
    part = part.strip()
    match = NUMBER_START.match(part)
    if match is None:
        prefixed = _PREFIXED.fullmatch(part)
        if prefixed and units_with_key(prefixed[1], dimension):
            number = NUMBER_START.match(prefixed[2])
            if number and not prefixed[2][number.end() :].strip():
                return number[0], prefixed[1]
        if not part:
            raise QuantityError("no-number", "there is nothing to read", _example(dimension, offer))
        raise QuantityError("no-number", f"'{text}' does not begin with a number", _example(dimension, offer))
    rest = part[match.end() :]
    if _BETWEEN.match(rest):
        example = " ".join(("12.5 +/- 0.5", *(offer or unit_names(dimension))[:1]))
        raise QuantityError(
            "two-numbers",
            f"'{text}' gives two numbers where one belongs",
            f"Write the middle and the half width, like {example}.",
        )
    return match[0], rest.strip()


def _unit(unit_text: str, dimension: Dimension, number: str, offer: tuple[str, ...]) -> Unit | None:
    if not unit_text:
        if dimension in DIMENSIONLESS:
            return None
        names = offer or unit_names(dimension)
        if dimension is Dimension.CAM_EVENT:
            remedy = f"Say where the angle counts from: {number} deg btdc, {number} deg atdc, bbdc or abdc."
        elif dimension is Dimension.MIXTURE:
            remedy = f"Write 0.88 lambda, or {number} AFR petrol."
        else:
            remedy = (
                "Write the unit after the number: " + " or ".join(f"{number} {n}" for n in names[:3]) + "."
            )
        raise QuantityError("no-unit", f"'{number}' has no unit", remedy)
    found = units_with_key(unit_text, dimension)
    if len(found) == 1:
        return found[0]
    if found:
        names = tuple(unit.name for unit in found)
        likely = [name for name in names if not offer or name in offer] or names
        raise QuantityError(
            "unknown-unit",
            f"'{unit_text}' can mean {' or '.join(names)}",
            f"Write {' or '.join(likely)}, in that case.",
        )
    raise _unknown_unit(unit_text, dimension, number, offer)


def _unknown_unit(unit_text: str, dimension: Dimension, number: str, offer: tuple[str, ...]) -> QuantityError:
    names = offer or unit_names(dimension)
    shown = unit_text[:24]
    if dimension is Dimension.MIXTURE and unit_text.casefold().startswith("afr"):
        return QuantityError(
            "no-unit",
            "an air-fuel ratio means nothing without its fuel",
            f"Write {number} AFR petrol (or E10, E85, ethanol), or the lambda.",
        )
    others = candidates(unit_text)
    if others and not names:
        return QuantityError(
            "wrong-unit",
            f"'{shown}' is a {others[0].dimension.value}; a plain number belongs here",
            f"Write {number}.",
        )
    if others:
        return QuantityError(
            "wrong-unit",
            f"'{shown}' is a unit of {others[0].dimension.value}; a {dimension.value} belongs here",
            f"Write a {dimension.value}, in {', '.join(names[:4])}.",
        )
    if not names:
        return QuantityError(
            "unknown-unit", f"'{shown}' stands where only a number belongs", f"Write {number}."
        )
    near = nearest(unit_text, names, count=2)
    remedy = f"Did you mean {' or '.join(f'{number} {n}' for n in near)}?" if near else ""
    return QuantityError(
        "unknown-unit",
        f"the unit '{shown}' is not known",
        f"{remedy} Units of {dimension.value} are {', '.join(names[:6])}.".strip(),
    )


def _example(dimension: Dimension, offer: tuple[str, ...]) -> str:
    names = offer or unit_names(dimension)
    return f"Write one number with its unit, like 12.5 {names[0]}." if names else "Write one number, like 4."
