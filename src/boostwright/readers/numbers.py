"""Quantities of a build file: unit, spread, gauge or absolute, allowed and usual range."""

from __future__ import annotations

import re
from typing import Any, Final

from boostwright.build.air import SEA_LEVEL
from boostwright.build.catalogue import Field
from boostwright.build.faults import Fault, Severity
from boostwright.build.limits import example_line, offered_units, value_text
from boostwright.build.values import Source
from boostwright.quantity import (
    DIMENSIONLESS,
    Dimension,
    PressureKind,
    Quantity,
    QuantityError,
    read,
    read_many,
    unit_names,
    write,
)
from boostwright.readers.assemble import Entry
from boostwright.readers.refused import Refused, article, is_number, number_text, type_name

__all__ = ["MOST_VALUES", "NumberReader"]

_PETROL: Final = 745.0  # density at 15 degC [kg/m3]
_HEPTANE: Final = 684.0  # density at 20 degC [kg/m3]
_SAY_THEIR_OWN: Final = (Dimension.CAM_EVENT, Dimension.MIXTURE)  # a missing unit there is a missing origin

MOST_VALUES: Final = 400
"""A row never has more values than this."""


class NumberReader:
    """Reads numbers against their field's record; notes go to the list that it was given."""

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = faults
        self.barometer = SEA_LEVEL  # air pressure of the place [Pa absolute]

    def quantity(self, known: Field, raw: Any) -> Quantity:
        """The quantity that a raw value states. Raises Refused."""
        dimension = known.dimension or Dimension.RATIO
        if isinstance(raw, bool) or not isinstance(raw, (str, int, float)):
            raise Refused(
                "wrong-type",
                f"{type_name(raw)} stands where {article(dimension)} belongs",
                f"Write {example_line(known)}.",
            )
        if isinstance(raw, (int, float)):
            number = number_text(raw)
            if not -1e30 < raw < 1e30:  # also infinite or not a number
                raise Refused(
                    "not-finite", f"{number} is not a number of anything", f'Write "{known.example}".'
                )
            if dimension not in DIMENSIONLESS:
                raise Refused("no-unit", f"{number} has no unit", _with_unit(known, number, dimension))
            return Quantity(float(raw), None, None, number)
        try:
            return read(raw, dimension, offered_units(known))
        except QuantityError as error:
            remedy = error.remedy
            if error.code == "no-number":
                remedy = f"Write it like {example_line(known)}."
            elif error.code == "no-unit" and known.unit and dimension not in _SAY_THEIR_OWN:
                remedy = _with_unit(known, raw.strip(), dimension)
            elif error.code == "wrong-unit":
                remedy = _by_weight(raw, dimension) or remedy
            raise Refused(error.code, error.why, remedy) from None

    def own_spread(self, known: Field, inline: dict[str, Any], quantity: Quantity) -> float | None:
        """The standard deviation that the entry states [SI], from +/- or from spread = ..., else None."""
        stated = inline.get("spread")
        if stated is None:
            return quantity.sd
        if quantity.sd is not None:
            raise Refused("two-spreads", "the spread is stated twice", "Keep either +/- or spread.")
        dimension = known.dimension or Dimension.RATIO
        text = str(stated) if not isinstance(stated, (list, dict, bool)) else ""
        number = text.strip()
        if re.fullmatch(r"[0-9.,]+\s*%", number) and dimension not in (Dimension.SHARE, Dimension.RATIO):
            try:
                return abs(quantity.value) * read(number, Dimension.SHARE).value / 2.0
            except QuantityError as error:
                raise Refused(error.code, error.why, error.remedy) from None
        joined = f"{quantity.text} +/- {number}"
        try:
            return read(joined, dimension).sd
        except QuantityError as error:
            raise Refused(error.code, f"the spread cannot be read: {error.why}", error.remedy) from None

    def checked(
        self, known: Field, quantity: Quantity, own_sd: float | None, source: Source, entry: Entry
    ) -> tuple[float | int, float]:
        """Value and standard deviation [SI] of a quantity within its field's range. Raises Refused."""
        value = quantity.value
        if known.dimension is Dimension.PRESSURE:
            value = self._pressure(known, quantity, entry)
            if not _within(known, value) and _within(known, quantity.value) and value != quantity.value:
                raise _mixed_up(known, quantity)
        elif known.dimension is Dimension.CAM_EVENT:
            value = self._cam_event(known, quantity)
        elif known.dimension is Dimension.OCTANE:
            self._octane(known, quantity)
        elif known.dimension is Dimension.SHARE and quantity.unit is None and value > 1.0:
            raise Refused(
                "no-unit",
                f"{quantity.text} is more than the whole",
                f'Write "{quantity.text} %" if you mean percent.',
            )
        self._in_range(known, value, quantity)
        if known.whole:
            if not float(value).is_integer():
                raise Refused(
                    "wrong-type", f"{quantity.text} is not a whole number", f"Write {known.example}."
                )
            return int(value), 0.0
        self._unusual(known, value, quantity, entry)
        if own_sd is not None:
            return value, own_sd
        return value, known.spread_for(source).at(value)

    def _in_range(self, known: Field, value: float, quantity: Quantity) -> None:
        if _within(known, value):
            return
        low = known.low
        if value < 0 and low is not None and low >= 0 and known.dimension is not Dimension.TEMPERATURE:
            raise Refused(
                "negative",
                f"{quantity.text} is negative; {known.words} cannot be",
                f'Write it like "{known.example}".',
            )
        other = self._other_kind(known, value, quantity)
        if other:
            raise other
        why = (
            f"{quantity.text} is {'below' if low is not None and value < low else 'above'} the allowed range"
        )
        if known.reason:
            why += f": {known.reason}"
        raise Refused("out-of-range", why, self._hint(known, value, quantity))

    def _hint(self, known: Field, value: float, quantity: Quantity) -> str:
        """What the person may have meant: a thousands point, or another unit of the same dimension."""

        def fits(candidate: float) -> bool:
            low = known.usual_low if known.usual_low is not None else known.low
            high = known.usual_high if known.usual_high is not None else known.high
            return low is not None and high is not None and low <= candidate <= high

        dimension = known.dimension
        number = re.match(r"\s*[+\-]?[0-9.,]+", quantity.text)
        if quantity.unit is not None and number is not None and dimension is not None:
            if re.match(r"\s*[1-9][0-9]{0,2}\.[0-9]{3}(?![0-9])", quantity.text) and fits(value * 1000):
                plain = quantity.text.replace(".", "", 1)
                return f'If you meant {plain}, write "{plain}".'
            bare = (value - quantity.unit.offset) / quantity.unit.factor
            for name in unit_names(dimension):
                if name == quantity.unit.name:
                    continue
                try:
                    candidate = read(f"{bare!r} {name}", dimension).value
                except QuantityError:
                    continue
                if fits(candidate):
                    return f"Did you mean {number[0].strip()} {name}?"
        return f"Look again, or measure it: {known.measure}" if known.measure else "Look again at the number."

    def _unusual(self, known: Field, value: float, quantity: Quantity, entry: Entry) -> None:
        low, high = known.usual_low, known.usual_high
        if low is None or high is None or low <= value <= high:
            return
        usual = f"{value_text(known, low)} to {value_text(known, high)}"
        why = f"usual is {usual}"
        self.faults.append(
            Fault(
                "unusual",
                entry.line,
                known.shown_path,
                quantity.text,
                "",
                why,
                "Leave it if you are sure.",
                entry.column,
                Severity.NOTE,
            )
        )

    def _pressure(self, known: Field, quantity: Quantity, entry: Entry) -> float:
        value, said = quantity.value, quantity.kind
        if said is None or known.kind is None or said is known.kind:
            return value
        air = write(self.barometer, "bar", Dimension.PRESSURE, digits=3)
        if known.kind is PressureKind.DIFFERENCE:
            if said is PressureKind.ABSOLUTE:
                raise Refused(
                    "gauge-absolute",
                    f"{known.words} is a pressure difference; '{quantity.text}' is absolute",
                    "Write the difference itself, without 'abs' or 'a'.",
                )
            return value
        if known.kind is PressureKind.GAUGE:
            converted = value - self.barometer
            if converted < 0 and (known.low is None or known.low >= 0):
                raise _mixed_up(known, quantity, f" and is less than the air around ({air})")
        else:
            converted = value + self.barometer
        shown = write(
            converted, quantity.unit.name.split()[0] if quantity.unit else "bar", Dimension.PRESSURE
        )
        self.faults.append(
            Fault(
                "pressure-kind",
                entry.line,
                known.shown_path,
                quantity.text,
                "",
                f"read as {shown} {known.kind.value}, with {air} of air around",
                "Nothing to do if that is what you mean.",
                entry.column,
                Severity.NOTE,
            )
        )
        return converted

    def _other_kind(self, known: Field, value: float, quantity: Quantity) -> Refused | None:
        """The refusal of a pressure that would fit if it were counted the other way, or None."""
        if known.dimension is not Dimension.PRESSURE or known.kind not in (
            PressureKind.GAUGE,
            PressureKind.ABSOLUTE,
        ):
            return None
        gauge = known.kind is PressureKind.GAUGE
        other = value - self.barometer if gauge else value + self.barometer
        low, high = known.usual_low or known.low, known.usual_high or known.high
        if low is None or high is None or not low <= other <= high:
            return None
        unit = known.unit or "bar"
        as_meant = write(other, unit, Dimension.PRESSURE)
        return Refused(
            "gauge-absolute",
            f"counted {known.kind.value}, as here, this pressure cannot be {quantity.text}",
            f"If your figure counts from {'vacuum' if gauge else 'the air around'}, write "
            f'"{as_meant}" ({known.kind.value}).',
        )

    def _cam_event(self, known: Field, quantity: Quantity) -> float:
        point = quantity.unit.name.split()[-1] if quantity.unit else ""
        if point not in known.points:
            raise Refused(
                "wrong-unit",
                f"{known.words} is counted {' or '.join(known.points)}, not {point}",
                f'Write it like "{known.example}".',
            )
        return known.counts_from + quantity.value

    def _octane(self, known: Field, quantity: Quantity) -> None:
        wanted = known.unit or "RON"
        if quantity.unit is not None and quantity.unit.name != wanted:
            raise Refused(
                "wrong-unit", f"this field is {wanted}, not {quantity.unit.name}", f'Write "{known.example}".'
            )

    def row(
        self, known: Field, raw: Any, inline: dict[str, Any], source: Source, entry: Entry
    ) -> tuple[tuple[float | int, ...], tuple[float, ...]]:
        """The values and standard deviations of a row [SI]. Raises Refused."""
        dimension = known.dimension or Dimension.RATIO
        if isinstance(raw, str):
            try:
                quantities = list(read_many(raw, dimension, offered_units(known)))
            except QuantityError as error:
                remedy = error.remedy
                if error.code == "no-unit" and known.unit and dimension not in _SAY_THEIR_OWN:
                    remedy = _with_unit(known, raw.split()[-1], dimension)
                raise Refused(error.code, error.why, remedy) from None
        elif isinstance(raw, list):
            unit = inline.get("unit", "")
            items: list[Any] = raw[: MOST_VALUES + 1]
            if isinstance(unit, str) and unit:
                items = [f"{number_text(item)} {unit}" if is_number(item) else item for item in items]
            quantities = [self.quantity(known, item) for item in items]
        else:
            quantities = [self.quantity(known, raw)]
        if not quantities:
            raise Refused("missing-value", "the row is empty", f"Write {example_line(known)}.")
        if len(quantities) > MOST_VALUES:
            raise Refused("too-long", f"more than {MOST_VALUES} values in one row", "Write fewer values.")
        stated = inline.get("spread")
        checked = []
        for quantity in quantities:
            own = self.own_spread(known, inline, quantity) if stated is not None else quantity.sd
            checked.append(self.checked(known, quantity, own, source, entry))
        return tuple(value for value, _ in checked), tuple(sd for _, sd in checked)


def _with_unit(known: Field, number: str, dimension: Dimension) -> str:
    """How to write a number without a unit: in the field's own one, else in one that makes it possible."""
    names = [known.unit, *offered_units(known), *unit_names(dimension)]
    fitting: dict[float, str] = {}
    for unit in dict.fromkeys(name for name in names if name):
        try:
            value = read(f"{number} {unit}", dimension, offered_units(known)).value
        except QuantityError:
            continue
        if _within(known, value):
            fitting.setdefault(value, f'"{number} {unit}"')
    if fitting:
        own = list(fitting.values())[: 1 if f'"{number} {known.unit}"' in fitting.values() else 3]
        return f"Write {known.name} = {' or '.join(own)}, with the unit that you mean."
    return f"Write the unit that you mean, like {example_line(known)}; {number} is possible in none."


def _within(known: Field, value: float) -> bool:
    """True when the value lies inside the field's allowed range, rounding aside."""
    slack = 1e-9 * abs(value)
    low, high = known.low, known.high
    return (low is None or value >= low - slack) and (high is None or value <= high + slack)


def _mixed_up(known: Field, quantity: Quantity, more: str = "") -> Refused:
    """The refusal of a pressure whose own words make it impossible, while the bare number would fit."""
    absolute = known.kind is PressureKind.ABSOLUTE
    theirs, ours = ("the air around", "vacuum") if absolute else ("vacuum", "the air around")
    number = re.match(r"[^A-Za-z]*", quantity.text.strip())
    base = quantity.unit.name.split()[0] if quantity.unit else "bar"
    meant = f"{number[0].strip()} {base}" if number else base
    kind = "absolute" if absolute else "gauge"
    return Refused(
        "gauge-absolute",
        f"'{quantity.text}' counts from {theirs}{more}; {known.words} counts from {ours} ({kind})",
        f'If you mean {kind}, write "{meant}".',
    )


def _by_weight(text: str, dimension: Dimension) -> str:
    """What a flow stated by weight is by volume, for the two fluids that sheets are made with, or ''."""
    if dimension is not Dimension.VOLUME_FLOW:
        return ""
    try:
        flow = read(text, Dimension.MASS_FLOW).value
    except QuantityError:
        return ""
    petrol, heptane = (write(flow / density, "cc/min", dimension) for density in (_PETROL, _HEPTANE))
    both = f"{petrol} of petrol, or {heptane} of n-heptane"
    return f"By volume that is {both}: write the one that the sheet means."
