"""What each reading of a step should show: one rule for each name under `expected` in the measurements.

A rule answers from the model at that condition, from a reading of this car, from the file, or not at all;
then the range of the table, common practice, stands. Limits come from the findings where they have one.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from boostwright.library.ladder import StepRead
from boostwright.library.measurements import Measurement, measurements
from boostwright.planning.ladder.asked import TRADE, Asked, Guess, Rule, nearer
from boostwright.planning.ladder.at_rest import AT_REST_RULES
from boostwright.planning.ladder.pulls import PULL_RULES
from boostwright.planning.ladder.records import Expected, Limit, Origin
from boostwright.quantity import COVERAGE

__all__ = ["RULES", "expected_of"]

RULES: Final[dict[str, Rule]] = {**AT_REST_RULES, **PULL_RULES}


def expected_of(asked: Asked, row: StepRead) -> Expected:
    """What a step expects of one reading."""
    measured = measurements()[row.measurement]
    never = asked.step.never.get(row.measurement, "")
    plain = Expected(
        row.measurement, good=measured.good, optional=row.optional, witness=measured.witness, never=never
    )
    if measured.dimension is None:
        return plain
    rule = RULES.get(measured.expected)
    guess = None if row.band is not None or rule is None else rule(asked)
    if guess is None:
        guess = Guess(band=row.band, origin=Origin.TRADE)
    made = _made(plain, measured, guess)
    return made if asked.step.load in ("spring", "goal") else _within(made)


def _made(plain: Expected, measured: Measurement, guess: Guess) -> Expected:
    sd = None
    low, high = guess.band if guess.band is not None else (None, None)
    if guess.middle is not None:
        own = 0.0 if measured.repeat is None else measured.repeat.at(guess.middle)
        sd = math.hypot(guess.sd, own)
        low, high = guess.middle - COVERAGE * sd, guess.middle + COVERAGE * sd
    low_limit = _own(measured.low, measured)
    high_limit = _own(measured.high, measured)
    return replace(
        plain,
        low=low,
        high=high,
        middle=guess.middle,
        sd=sd,
        stop_low=nearer(guess.stop_low, low_limit, max),
        stop_high=nearer(guess.stop_high, high_limit, min),
        stands=guess.stands,
        origin=guess.origin,
        how=guess.how,
    )


def _within(made: Expected) -> Expected:
    """The range cut where the step is broken off, as far as its middle lies inside: standing or cruising, a
    reading near its limit costs nothing but the step. A pull keeps its order strictly (see `rungs`)."""
    low, high = made.low, made.high
    if made.middle is None:
        return made
    if made.stop_low is not None and low is not None and made.middle > made.stop_low.value:
        low = max(low, made.stop_low.value)
    if made.stop_high is not None and high is not None and made.middle < made.stop_high.value:
        high = min(high, made.stop_high.value)
    return replace(made, low=low, high=high)


def _own(value: float | None, measured: Measurement) -> Limit | None:
    return None if value is None else Limit(value, measured.limit_why, measured.limit_source or TRADE)
