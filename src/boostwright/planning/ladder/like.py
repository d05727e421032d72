"""Pulls against earlier pulls of the same step: what the model is too wide to see, repetition shows.

A computed power is known to a tenth, and a road log's mass and drag to 6 %; both are the same in every pull.
The ratio of two pulls in one gear on one road at like boost repeats far better.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Final

from boostwright.job.records import Reading
from boostwright.library.measurements import measurements
from boostwright.planning.ladder.records import State
from boostwright.quantity import COVERAGE

__all__ = ["LIKE", "SHUTS", "power_against_before"]

SHUTS: Final = 3.0  # standard deviations of the ratio from which a fall shuts the gate, as for any reading
LIKE: Final = "at like boost"
"""With these words each sentence on a fall begins."""

_TOGETHER: Final = 1800.0  # a peak read so near a power belongs to the same pull [s]


def power_against_before(
    power: Sequence[Reading], peaks: Sequence[Reading], moment: Callable[[str], float], since: float
) -> tuple[State, str] | None:
    """How the newest power stands to the pull before it, each over its highest manifold pressure.

    power, peaks: readings of one step, oldest first. moment: of a record's time [s]. since: only pulls after
    this last change of the build are like. returns: a state and a sentence; None without an earlier one.
    """
    like = [one for one in power if one.values and moment(one.time) > since]
    if len(like) < 2 or like[-1] is not power[-1]:
        return None
    new = like[-1]
    before = max(like[:-1], key=lambda one: _mean(one) / (_peak(one, peaks, moment) or 1.0))
    tops = _peak(before, peaks, moment), _peak(new, peaks, moment)
    ratio = _mean(new) / _mean(before)
    spread = _ratio_sd()
    if tops[0] is not None and tops[1] is not None:
        ratio *= tops[0] / tops[1]
        known = measurements()["pull_peak"].repeat
        spread = math.hypot(spread, *(0.0 if known is None else known.at(p) / p for p in tops if p))
    fall = 1.0 - ratio
    if not math.isfinite(fall) or fall <= COVERAGE * spread:
        return None
    day = before.time[:16].replace("T", " ")
    words = (
        f"{LIKE} it is {100.0 * fall:.0f} % less than in the pull of {day} UTC; two pulls repeat to"
        f" {100.0 * COVERAGE * spread:.0f} %: late spark, knock control, a leak, slip, or it went rich"
    )
    return (State.OUTSIDE if fall > SHUTS * spread else State.UNUSUAL), words


def _mean(reading: Reading) -> float:
    return sum(reading.values) / len(reading.values)


def _ratio_sd() -> float:
    """Relative standard deviation of the ratio of two pulls on the same road [-]."""
    known = measurements()["soak_power"].repeat
    return 0.0 if known is None else known.at(1.0)


def _peak(power: Reading, peaks: Sequence[Reading], moment: Callable[[str], float]) -> float | None:
    """The highest manifold pressure of the same pull [Pa absolute]; None where none was read with it."""
    at = moment(power.time)
    near = [one for one in peaks if one.values and abs(moment(one.time) - at) <= _TOGETHER]
    if not near:
        return None
    return _mean(min(near, key=lambda one: abs(moment(one.time) - at)))
