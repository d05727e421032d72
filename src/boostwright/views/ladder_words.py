"""Numbers of the ladder in words: ranges in the unit of their measurement, rounded by their width."""

from __future__ import annotations

import math
from collections.abc import Callable

from boostwright.job.records import Reading
from boostwright.library.measurements import Measurement, measurements
from boostwright.planning.ladder import Air, Expected, State
from boostwright.quantity import Dimension, PressureKind, in_unit
from boostwright.views.numbers import say_number, spread_step

__all__ = [
    "air_lines",
    "expected_words",
    "mark_of",
    "measured_words",
    "reading_words",
    "stop_words",
    "unit_words",
]

_KINDS = {PressureKind.GAUGE: " gauge", PressureKind.ABSOLUTE: " absolute"}
_MARKS = {
    State.GOOD: "+",
    State.UNUSUAL: "~",
    State.MISSING: " ",
    State.OLD: "o",
    State.ALONE: "1",
    State.OUTSIDE: "!",
    State.BROKEN_OFF: "X",
}


def mark_of(state: State) -> str:
    """One character for how a reading stands."""
    return _MARKS[state]


def unit_words(one: Measurement) -> str:
    """The unit of a measurement; a pressure says what it is counted from."""
    return one.unit + ("" if one.pressure is None else _KINDS.get(one.pressure, ""))


def _step(expected: Expected, one: Measurement) -> float:
    """Step to which the numbers of one reading are rounded, in its unit: by the spread, else by the width."""
    ends = [v for v in (expected.low, expected.high) if v is not None]
    ends += [e.value for e in (expected.stop_low, expected.stop_high) if e is not None]
    if one.dimension is None or len(ends) < 2:
        return 1.0
    width = 2.0 * expected.sd if expected.sd is not None else 0.5 * (max(ends) - min(ends))
    if one.unit:
        width = abs(in_unit(width, one.unit, one.dimension) - in_unit(0.0, one.unit, one.dimension))
    return spread_step(width) if width > 0.0 else 1.0


def measured_words(value: float, expected: Expected, one: Measurement) -> str:
    """One number of a reading, without its unit."""
    assert one.dimension is not None
    number = in_unit(value, one.unit, one.dimension) if one.unit else value
    text = say_number(number, _step(expected, one))
    if "." not in text or (expected.sd is not None and number != 0.0):
        return text  # two digits of what is not sure; a zero at the end is one of them
    return text.rstrip("0").rstrip(".")


def _with(number: str, one: Measurement) -> str:
    return f"{number} {unit_words(one)}".strip()


def expected_words(expected: Expected) -> str:
    """What is expected: '109 to 134 kPa absolute', 'dry (all dry, no smell)', 'yes'; 'no range is known'."""
    one = measurements()[expected.measurement]
    if one.dimension is None:
        choices = one.choices or {}
        said = [f"'{word}' ({choices[word]})" if word in choices else f"'{word}'" for word in expected.good]
        return " or ".join(said) or "what was seen, in words"
    low = None if expected.low is None else measured_words(expected.low, expected, one)
    high = None if expected.high is None else measured_words(expected.high, expected, one)
    if low is None and high is None:
        return "no range is known"
    if low == high:
        return _with(str(low), one)
    if low is None:
        return f"up to {_with(str(high), one)}"
    if high is None:
        return f"from {_with(low, one)}"
    return f"{low} to {_with(high, one)}"


def stop_words(expected: Expected) -> str:
    """Where the step is broken off: 'STOP below 1.0 or above 6.8 bar gauge'; '' where nowhere by this."""
    one = measurements()[expected.measurement]
    if one.dimension is None:
        return "STOP at any other answer" if expected.good else ""
    said = []
    if expected.stop_low is not None:
        said.append(f"below {_limit(expected.stop_low.value, expected, one, math.ceil)}")
    if expected.stop_high is not None:
        said.append(f"above {_limit(expected.stop_high.value, expected, one, math.floor)}")
    return f"STOP {_with(' or '.join(said), one)}" if said else ""


def _limit(value: float, expected: Expected, one: Measurement, to: Callable[[float], int]) -> str:
    """A limit rounded to its safe side, so that nothing printed lies beyond it."""
    assert one.dimension is not None
    step = _step(expected, one)
    number = in_unit(value, one.unit, one.dimension) if one.unit else value
    near = round(number / step)
    whole = near if abs(number / step - near) < 1e-6 else to(number / step)
    text = say_number(whole * step, step)
    return text.rstrip("0").rstrip(".") if "." in text else text


def air_lines(air: Air) -> str:
    """In which air the ranges are worked out, and what to do where nobody said today's."""
    degrees = in_unit(air.temperature, "degC", Dimension.TEMPERATURE)
    numbers = f"{degrees:.0f} degC, {air.pressure / 1e3:.1f} kPa"
    if air.given:
        return f"Ranges are worked out {air.words}{'' if 'degC' in air.words else f': {numbers}'}."
    return (
        f"AIR NOT GIVEN: ranges are for {numbers}, {air.words.removeprefix('on ')} at the build's place."
        " Say today's: --air '12 degC 101 kPa'."
    )


def reading_words(reading: Reading, expected: Expected) -> str:
    """What was read, as the person wrote it or in the measurement's unit."""
    one = measurements()[expected.measurement]
    if one.dimension is None:
        return (one.choices or {}).get(reading.answer, reading.answer)
    return _with(" ".join(measured_words(v, expected, one) for v in reading.values), one)
