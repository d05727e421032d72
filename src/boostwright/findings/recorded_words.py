"""Recorded readings as amounts that a finding can show."""

from __future__ import annotations

from boostwright.build.recorded import Recorded, Standing
from boostwright.findings.model import Amount, Kind, Phrase
from boostwright.quantity import Dimension, PressureKind

__all__ = ["against", "told"]

_KINDS = {
    Dimension.TEMPERATURE: Kind.TEMPERATURE,
    Dimension.TEMPERATURE_DIFFERENCE: Kind.TEMPERATURE_DIFFERENCE,
    Dimension.ANGLE: Kind.CRANK_DIFFERENCE,
    Dimension.SPARK: Kind.CRANK_DIFFERENCE,
    Dimension.ROTATION: Kind.ENGINE_SPEED,
    Dimension.SPEED: Kind.ROAD_SPEED,
    Dimension.TORQUE: Kind.TORQUE,
    Dimension.POWER: Kind.POWER,
    Dimension.MASS: Kind.MASS,
    Dimension.MASS_FLOW: Kind.MASS_FLOW,
    Dimension.VOLUME_FLOW: Kind.VOLUME_FLOW,
    Dimension.FORCE: Kind.SPRING_LOAD,
    Dimension.VOLTAGE: Kind.VOLTAGE,
    Dimension.CURRENT: Kind.COIL_CURRENT,
    Dimension.RESISTANCE: Kind.RESISTANCE,
    Dimension.SHARE: Kind.SHARE,
    Dimension.LENGTH: Kind.LENGTH,
    Dimension.TIME: Kind.DELAY,
    Dimension.COUNT: Kind.COUNT,
}


def _kind(one: Recorded) -> Kind:
    if one.dimension is Dimension.PRESSURE:
        if one.pressure is PressureKind.ABSOLUTE:
            return Kind.PRESSURE_ABSOLUTE
        if one.unit in ("kPa", "mbar", "Pa"):
            return Kind.PRESSURE_SMALL
        return Kind.PRESSURE_GAUGE if one.pressure is PressureKind.GAUGE else Kind.PRESSURE_DIFFERENCE
    return Kind.RATIO if one.dimension is None else _KINDS.get(one.dimension, Kind.RATIO)


def _amount(one: Recorded, value: float, sd: float | None, name: str) -> Amount:
    return Amount(value, sd, _kind(one), name)


def told(one: Recorded, key: str) -> Phrase:
    """What was read and what was expected, one sentence; key: opens the names of its amounts."""
    place = f" at {one.each} {one.place + 1}" if len(one.values) > 1 else ""
    if not one.values:
        undone = f" It contradicts the reading of {one.against} and does not undo it." if one.against else ""
        return Phrase(f"{one.words}: the answer was '{one.answer}'.{undone}")
    amounts = {f"{key}read": _amount(one, one.values[one.place], one.sd, one.words)}
    text = f"{one.words} reads {{{key}read}}{place}"
    if one.fell:
        return Phrase(f"{text}; {one.fell}.", amounts)
    ends = [("low", one.low), ("high", one.high)]
    amounts |= {f"{key}{name}": _amount(one, end, None, name) for name, end in ends if end is not None}
    if one.low is not None and one.high is not None:
        text += f", where {{{key}low}} to {{{key}high}} is expected"
    elif one.high is not None:
        text += f", where at most {{{key}high}} is expected"
    elif one.low is not None:
        text += f", where at least {{{key}low}} is expected"
    value = one.values[one.place]
    beyond = (one.low is not None and value < one.low) or (one.high is not None and value > one.high)
    if one.standing is Standing.OUTSIDE and not beyond:
        text += ", and it is too far from the other places"
    times = f"; {one.repeated} readings say so" if one.repeated > 1 else "; one reading so far"
    return Phrase(f"{text}{times}.", amounts)


def against(one: Recorded, key: str) -> Phrase:
    """What was read and what the file states, one sentence."""
    stated = next((was for was in one.was if was is not None), None)
    if stated is None:
        return Phrase(f"{one.words}: what was read and what the file states differ.")
    where = f"line {stated.line} of the file" if stated.line else "the file"
    if not one.values:
        return Phrase(f"{one.words}: '{one.answer}' was recorded, {where} says '{stated.value}'.")
    filed = stated.value if isinstance(stated.value, tuple) else (stated.value,)
    if len(filed) != len(one.values):
        return Phrase(f"{one.words}: the reading and {where} have not as many values.")
    place = max(range(len(filed)), key=lambda i: abs(one.values[i] - float(filed[i])))
    which = f" at {one.each} {place + 1}" if len(filed) > 1 else ""
    amounts = {
        f"{key}read": _amount(one, one.values[place], one.sd, one.words),
        f"{key}filed": _amount(one, float(filed[place]), None, "stated"),
    }
    return Phrase(f"{one.words} reads {{{key}read}}{which}; {where} says {{{key}filed}}.", amounts)
