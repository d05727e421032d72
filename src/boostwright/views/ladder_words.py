"""Numbers of the ladder in words: ranges in the unit of their measurement, rounded by their width."""

from __future__ import annotations

from boostwright.job.records import Reading
from boostwright.library.measurements import Measurement, measurements
from boostwright.planning.ladder import Expected, State
from boostwright.quantity import PressureKind, in_unit
from boostwright.views.numbers import say_number, spread_step

__all__ = ["broken_off_words", "expected_words", "mark_of", "measured_words", "reading_words", "unit_words"]

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
    return text.rstrip("0").rstrip(".") if "." in text else text


def _with(number: str, one: Measurement) -> str:
    return f"{number} {unit_words(one)}".strip()


def expected_words(expected: Expected) -> str:
    """What is expected: '109 to 134 kPa absolute', 'dry', 'yes'; 'no range' where nothing says one."""
    one = measurements()[expected.measurement]
    if one.dimension is None:
        choices = one.choices or {}
        return " or ".join(choices.get(answer, answer) for answer in expected.good)
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


def broken_off_words(expected: Expected) -> str:
    """Where the step is broken off: 'below 1.0, above 6.8 bar gauge'; '' where nowhere by this reading."""
    one = measurements()[expected.measurement]
    if one.dimension is None:
        return "with any other answer"
    said = []
    if expected.stop_low is not None:
        said.append(f"below {measured_words(expected.stop_low.value, expected, one)}")
    if expected.stop_high is not None:
        said.append(f"above {measured_words(expected.stop_high.value, expected, one)}")
    return _with(" or ".join(said), one) if said else ""


def reading_words(reading: Reading, expected: Expected) -> str:
    """What was read, as the person wrote it or in the measurement's unit."""
    one = measurements()[expected.measurement]
    if one.dimension is None:
        return (one.choices or {}).get(reading.answer, reading.answer)
    return _with(" ".join(measured_words(v, expected, one) for v in reading.values), one)
