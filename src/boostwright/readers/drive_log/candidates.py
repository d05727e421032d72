"""All that a column can be, by its words, its unit and its values: the ground on which columns are chosen."""

from __future__ import annotations

import math
from typing import NamedTuple

from boostwright.library.channels import channel_kinds
from boostwright.quantity import Dimension, PressureKind
from boostwright.readers.drive_log.evidence import Look, range_fit, rules
from boostwright.readers.drive_log.names import Reading, cylinder_of, fits, kind_word, readings
from boostwright.readers.drive_log.units import (
    LogUnit,
    any_unit,
    fuel_said,
    unit_named,
    unit_said,
    units_of,
)

__all__ = ["Guess", "guesses"]


class Guess(NamedTuple):
    """One way to take a column."""

    key: str
    unit: LogUnit
    kind: str  # of a pressure: absolute or gauge; '' for others
    kind_said: bool
    unit_said: bool
    cylinder: int
    by_name: float  # 0 to 1
    by_value: float  # 0 to 1
    reason: str

    @property
    def score(self) -> float:
        """Name and values together."""
        return self.by_name * (0.35 + 0.65 * self.by_value)


def guesses(heading: str, unit_text: str, look: Look, place: float) -> list[Guess]:
    """All ways to take a column, best first.

    place: barometer [Pa]. unit_text: from a row of units, the cells, or the file's record; '' for none.
    """
    found: dict[tuple[str, str, str], Guess] = {}
    ways = readings(heading)
    if ways[0].unit and any(f.score > 0.6 for f in fits(ways[0].name)):
        ways = ways[:1]  # its unit is written: no other way to read it counts
    for reading in ways:
        said = unit_text or reading.unit
        for fit in fits(reading.name):
            if fit.score < 0.2:
                continue
            score = fit.score
            for guess in _with_units(fit.key, score, heading, reading, said, look, place):
                slot = (guess.key, guess.unit.name, guess.kind)
                if slot not in found or guess.score > found[slot].score:
                    found[slot] = guess
    return sorted(found.values(), key=lambda g: -g.score)


def _with_units(
    key: str, score: float, heading: str, reading: Reading, said: str, look: Look, place: float
) -> list[Guess]:
    kind = channel_kinds()[key]
    cylinder = cylinder_of(reading.name) if kind.by_cylinder else 0
    unit = unit_said(said, kind.dimension) if said else None
    if unit is None and said and any_unit(said):
        return []  # a unit of something else: the sensor's volts, a rate
    options = [(unit, True)] if unit is not None else [(u, False) for u in units_of(kind.dimension)]
    fuel = fuel_said(heading) if kind.dimension is Dimension.MIXTURE else None
    if fuel is not None and (unit is None or unit.asks):
        options = [(fuel, True)]
    elif unit is not None and unit.asks:
        options = [(u, False) for u in units_of(kind.dimension) if u.name.startswith("AFR")]
    options += [(u, bool(said)) for u in _shifted(key, look, unit)]
    whole = unit_named("of one", kind.dimension)
    doubt = (
        unit is not None
        and unit.name == "%"
        and look.distinct > 1
        and look.high <= 1.05
        and whole is not None
    )
    if doubt and whole is not None:
        options.append((whole, False))  # percent is written, and nothing is above one: to be asked
    made = []
    for option, is_said in options:
        for pressure, pressure_said in _kinds(key, option, heading):
            shift = 0.0
            if kind.pressure is PressureKind.ABSOLUTE and pressure == "gauge":
                shift = place
            elif kind.pressure is PressureKind.GAUGE and pressure == "absolute":
                shift = -place
            by_value = range_fit(key, look, option, shift)
            if kind.dimension is Dimension.PRESSURE and not pressure_said:
                by_value *= _kind_fit(key, option, pressure, look, place)
            if kind.dimension is Dimension.SHARE and option.name in ("%", "of one"):
                by_value *= _share_fit(option.name, look, is_said) * (0.35 if doubt else 1.0)
            if not math.isnan(option.below) and not look.low < rules()["pressure"]["vacuum_in_inches"]:
                by_value *= 0.2  # all of it can be one unit
            if key == "gear" and not look.whole:
                by_value *= 0.1
            if key == "barometer" and look.distinct:
                span = (look.high - look.low) * abs(option.factor)
                by_value *= 1.0 if span < 8e3 else 0.2
            reason = f"by its name{'' if is_said else ' and its values'}"
            made.append(
                Guess(key, option, pressure, pressure_said, is_said, cylinder, score, by_value, reason)
            )
    return made


def _kinds(key: str, unit: LogUnit, heading: str) -> list[tuple[str, bool]]:
    """Gauge or absolute, and whether somebody said so."""
    kind = channel_kinds()[key]
    if kind.dimension is not Dimension.PRESSURE:
        return [("", True)]
    if unit.kind is not None:
        return [(unit.kind.value, True)]
    word = kind_word(heading)
    if word and not (word == "gauge" and key == "barometer"):
        return [(word, True)]
    if key == "barometer":
        return [("absolute", True)]
    if key in ("fuel_pressure_difference", "crankcase_pressure"):
        return (
            [("gauge", True)]
            if key == "fuel_pressure_difference"
            else [("gauge", False), ("absolute", False)]
        )
    return [("absolute", False), ("gauge", False)]


def _kind_fit(key: str, unit: LogUnit, kind: str, look: Look, place: float) -> float:
    """How well gauge or absolute fits the lowest readings."""
    if look.distinct == 0:
        return 1.0
    rule = rules()["pressure"]
    low = float(unit.to_si(look.quantiles[:1])[0])
    if kind == "absolute" and low < rule["below_zero"]:
        return 0.0
    kept = channel_kinds()[key].pressure
    if kept is PressureKind.GAUGE:  # senders of oil and fuel pressure count from the air outside
        if key == "fuel_pressure":
            return 1.0  # senders of both kinds are usual, and the pump runs before the engine does
        if key == "oil_pressure":
            if kind == "absolute":
                return 0.9 if abs(low - place) < rule["near_air"] * place else 0.55
            return 0.75 if abs(low - place) < rule["near_air"] * place else 1.0
        return 1.0
    if key == "charge_pressure" and kind == "gauge" and low > 0.5 * place:
        return 0.1
    return 1.0


def _share_fit(name: str, look: Look, said: bool) -> float:
    """Percent, or a share of one."""
    if look.distinct == 0:
        return 1.0
    most = max(abs(look.high), abs(look.low))
    if name == "%":
        return 1.0 if most > 1.6 or look.distinct == 1 else (0.75 if said else 0.35)
    return 1.0 if most <= 1.3 else 0.1


def _shifted(key: str, look: Look, unit: LogUnit | None) -> list[LogUnit]:
    """Units of a correction written as a factor, of a negative retard, of a spark after dead centre."""
    names: list[str] = []
    if key in ("fuel_trim", "fuel_trim_long") and look.distinct:
        if 60.0 < look.middle < 140.0:
            names = ["%, 100 for none"]
        elif 0.6 < look.middle < 1.4 and look.low > 0.3:
            names = ["times, 1 for none"]
    if key == "knock_retard" and look.distinct > 1 and look.high <= 0.01 and look.low < -0.3:
        names = ["deg, negative is later"]
    if key in ("spark_advance", "spark_table") and look.distinct > 1 and look.middle < -2.0:
        names = ["deg atdc"] if unit is None or unit.name == "deg" else []
    found = [unit_named(n, channel_kinds()[key].dimension) for n in names]
    return [u for u in found if u is not None]
