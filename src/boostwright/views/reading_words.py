"""How a reading, its range and its verdict are said: in the unit that its instrument shows."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import tzinfo
from functools import cache
from typing import TYPE_CHECKING

from boostwright.build.recorded import Standing
from boostwright.library.ladder import ladder_steps
from boostwright.library.measurements import Measurement
from boostwright.planning.readings.expected import RULES
from boostwright.planning.readings.judged import unevenness
from boostwright.quantity import COVERAGE, Dimension, PressureKind, in_unit, write
from boostwright.views.clock import said_moment

if TYPE_CHECKING:
    from boostwright.planning.readings import Comparison, Expected, JudgedReading

__all__ = [
    "compared_words",
    "far_words",
    "kind_words",
    "of_a_step",
    "range_words",
    "say_difference",
    "say_reading",
    "say_value",
    "spread_words",
    "state_words",
    "verdict_words",
]


def kind_words(one: Measurement) -> str:
    """' gauge' or ' absolute' after a pressure that needs it, else ''."""
    if one.pressure in (PressureKind.GAUGE, PressureKind.ABSOLUTE):
        return f" {one.pressure.value}"
    return ""


def say_value(one: Measurement, value: float, sd: float | None = None) -> str:
    """One value with its unit, and gauge or absolute: '13.1 bar gauge'."""
    if one.dimension is None:
        return ""
    return write(value, one.unit, one.dimension, sd, digits=3 if sd is None else 4) + kind_words(one)


def say_difference(one: Measurement, value: float, sd: float | None = None) -> str:
    """A difference of two values; of temperatures in K."""
    if one.dimension is None:
        return ""
    unit, dimension = one.unit, one.dimension
    if dimension is Dimension.TEMPERATURE:
        unit, dimension = "K", Dimension.TEMPERATURE_DIFFERENCE
    return write(value, unit, dimension, sd, digits=2)


def say_reading(one: Measurement, values: Sequence[float], answer: str = "") -> str:
    """All values of a reading with one unit at the end, or the answer with its words."""
    if one.dimension is None:
        words = (one.choices or {}).get(answer, "")
        return f"{answer}: {words}" if words else answer
    if len(values) == 1:
        return say_value(one, values[0])
    numbers = " ".join(f"{in_unit(v, one.unit, one.dimension) if one.unit else v:.4g}" for v in values)
    return f"{numbers} {one.unit}".strip() + kind_words(one)


def range_words(one: Measurement, expected: Expected | None) -> str:
    """'9.6 to 15.8 bar gauge', 'at most 15 %', or that nobody can say."""
    if one.dimension is None:
        return " or ".join(one.good) if one.good else ""
    if expected is None or (expected.low is None and expected.high is None):
        return "nothing is known to expect here"
    if expected.low is None and expected.high is not None:
        return f"at most {say_value(one, expected.high)}"
    if expected.high is None and expected.low is not None:
        return f"at least {say_value(one, expected.low)}"
    assert expected.low is not None
    assert expected.high is not None
    assert one.dimension is not None
    low, high = (
        in_unit(end, one.unit, one.dimension) if one.unit else end for end in (expected.low, expected.high)
    )
    step = _step(one, expected)
    if step is None:
        return f"{low:.3g} to {say_value(one, expected.high)}"
    digits = max(0, -round(math.log10(step)))
    first, last = (f"{step * round(end / step):.{digits}f}" for end in (low, high))
    return f"{first} to {last} {one.unit}".strip() + kind_words(one)


def _step(one: Measurement, expected: Expected) -> float | None:
    """The power of ten, in the unit shown, that one reading's scatter still tells apart: finer digits say
    nothing. None where only limits are known, or no scatter.
    """
    if one.repeat is None or expected.middle is None or one.dimension is None:
        return None
    sd = one.repeat.at(expected.middle)
    if one.unit:
        at = expected.middle
        sd = abs(in_unit(at + sd, one.unit, one.dimension) - in_unit(at, one.unit, one.dimension))
    return 10.0 ** math.floor(math.log10(sd) + 1e-9) if sd > 0.0 else None


def state_words(state: Standing) -> str:
    """The word for a state."""
    return {
        Standing.INSIDE: "inside",
        Standing.OUTSIDE: "OUTSIDE",
        Standing.FAR: "FAR OUTSIDE",
        Standing.OPEN: "kept",
    }[state]


@cache
def _step_readings() -> frozenset[str]:
    return frozenset(row.measurement for step in ladder_steps() for row in step.reads)


def of_a_step(one: Measurement) -> bool:
    """Whether the ladder works out what it should show, at the condition of its step."""
    return one.key in _step_readings() and one.expected not in RULES


def verdict_words(judged: JudgedReading, zone: tzinfo | None = None) -> str:
    """What the state means for the work, in words. zone: of the moments in them; None for UTC."""
    one = judged.measurement
    if judged.state is Standing.OPEN:
        if of_a_step(one):
            return "Kept and NOT judged here: what this build should show stands on the ladder."
        return "Kept; nothing says what it should be."
    if judged.state is Standing.INSIDE and of_a_step(one):
        return "Inside the outer limits of any build; what this one should show stands on the ladder."
    if judged.state is Standing.INSIDE:
        share = None if judged.expected is None else unevenness(judged.reading.values, judged.expected)
        even = "" if share is None else f" The lowest shows {share:.0%} of the highest."
        return f"Inside what this build should show.{even}"
    if judged.at_once:
        return "It is on record and holds the work until a reading inside follows; --undo takes back a slip."
    if judged.against is not None:
        first = judged.against
        return (
            f"It contradicts the reading of {said_moment(first.time, zone)} by {first.who}, which stands."
            f" {one.hides} It goes when two good answers of a later day, each from a cold start, are on"
            " record; or take that"
            f" one back, if it was a slip: 'boostwright record FILE --undo {first.id[:8]} --note WHY'."
            f" {one.harm}"
        )
    if one.dimension is None:
        return f"Not what lets the work go on. {one.harm}".strip()
    where = ""
    if judged.expected is not None and judged.beyond == 0.0 and judged.expected.even is not None:
        share = unevenness(judged.reading.values, judged.expected) or 0.0
        where = f": {one.each} {judged.place + 1} shows {share:.0%} of the highest, at least"
        where += f" {judged.expected.even:.0%} is wanted"
    elif len(judged.reading.values) > 1 and judged.value is not None:
        where = f" ({one.each or 'place'} {judged.place + 1}: {say_value(one, judged.value)})"
    points = _points_at(judged.value, judged.expected)
    if judged.repeated >= 2:
        return f"Outside{where}, and {judged.repeated} readings say so: a hold. {points or one.harm}".strip()
    again = "read it again with another instrument or another way before you act on it."
    return f"Outside{where}, once: {again} {points}".strip()


def _points_at(value: float | None, expected: Expected | None) -> str:
    """What a value beyond an end of its range points at; '' where nothing is known."""
    if value is None or expected is None:
        return ""
    if expected.low is not None and value < expected.low:
        return expected.if_low
    return expected.if_high if expected.high is not None and value > expected.high else ""


def compared_words(one: Measurement, found: Comparison | None) -> str:
    """The change against before, and whether it is more than scatter; '' without one."""
    if found is None:
        return ""
    where = f" at {one.each or 'place'} {found.place + 1} of {found.places}" if found.places > 1 else ""
    change = say_difference(one, found.change, found.sd)
    rare = "fewer than 1" if found.chance < 0.01 else f"{100.0 * found.chance:.0f}"
    told = "the change is real" if found.real else "it may well be scatter"
    was, now = say_value(one, found.before), say_value(one, found.after)
    n, m = found.counts
    several = "" if n == m == 1 else f" ({n} before, {m} after)"
    return (
        f"Before {was}, now {now}{where}{several}: changed by {change}. An unchanged car shows as much in"
        f" {rare} of 100 such pairs: {told}."
    )


def far_words(one: Measurement, value: float, expected: Expected) -> str:
    """'Really 7 bar gauge?': the question for a value that a slip explains better than a fault."""
    return (
        f"Really {say_value(one, value)}? {one.words} should be {range_words(one, expected)} on this build."
        f" {_points_at(value, expected) or expected.why}"
    )


def spread_words(one: Measurement, sd: float | None) -> str:
    """'+/- 0.08 bar', which holds the truth 19 times out of 20; '' without a spread."""
    if sd is None or not math.isfinite(sd) or sd <= 0.0:
        return ""
    return f"+/- {say_difference(one, COVERAGE * sd)}"
