"""Does the boost come, and in time."""

from __future__ import annotations

import math

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.model import (
    Amount,
    Finding,
    Harm,
    Kind,
    LimitRecord,
    Phrase,
    Place,
    Reading,
    Sense,
)
from boostwright.findings.registry import Rule, rule

__all__ = ["arrival", "reached"]

_ARRIVAL_SD = 400.0 * math.pi / 30.0  # of the speed at which boost arrives, from sizes only [rad/s]
_SIZES = Reading(
    "Measure turbine wheel and housing (A/R is cast on it), and the bore of the exhaust after the turbine.",
    1800.0,
)
_ABOUT = ("turbo.turbine_housing", "turbo.turbine_inducer", "turbo.turbine_exducer", "exhaust.back_pressure")


def _goal_record(case: Case, field: str) -> LimitRecord:
    stated = case.stated(field)
    line = "" if stated is None or stated.line is None else f", line {stated.line}"
    return LimitRecord("goal", f"the build file{line}", "You asked for it.")


@rule(
    "boost.reached",
    "Boost that the turbine can drive",
    asks="Can this turbo make the boost that you ask for, anywhere in the rev range?",
    demand="boost asked for",
    capacity="greatest boost that turbine and compressor agree on",
    harm=Harm.POOR_RUNNING,
    harm_words="you carry the heat and the cost of a turbo that gives no boost",
    sense=Sense.AT_MOST,
)
def reached(rule: Rule, case: Case) -> Finding | None:
    """The greatest over speed. Where the gate holds the goal, the turbine's room above it is not counted."""
    goal = case.goal
    asked = case.amount("goal.boost", Kind.PRESSURE_GAUGE, "boost asked for")
    if goal is None or asked is None or not goal.settled.any():
        return None
    boost = np.where(goal.settled, goal.boost, np.nan)
    i = int(np.nanargmax(boost))
    enough = bool((goal.turbine_enough & goal.settled).any())
    sd = float(goal.boost_sd[i])
    best = asked.value + 2.5 * sd if enough else float(boost[i])
    return rule.finding(
        asked,
        Amount(best, sd, Kind.PRESSURE_GAUGE, "greatest boost, at the least" if enough else "greatest boost"),
        LimitRecord(
            "computed", "the match of engine and turbo", "Where turbine power meets compressor and bearings."
        ),
        place=Place(float(goal.speed[i])),
        corner=case.corner,
        cause=Phrase(
            "The exhaust drives the compressor to this boost with the gate still open."
            if enough
            else "With the gate shut the exhaust of this engine drives this turbine no further."
        ),
        remedy=Phrase("Fit a smaller turbine housing or a smaller turbo, or ask for less."),
        reading=_SIZES,
        about=_ABOUT,
    )


@rule(
    "boost.arrival",
    "Speed at which boost arrives",
    asks="Is full boost there by the engine speed that you named?",
    demand="lowest engine speed at which the turbine drives the boost asked for",
    capacity="speed by which you want it",
    harm=Harm.NUISANCE,
    harm_words="the car feels lazy where you wanted it to pull",
    sense=Sense.AT_MOST,
)
def arrival(rule: Rule, case: Case) -> Finding | None:
    """The threshold with its band: boost reacts several times as strongly as any efficiency in it."""
    goal = case.goal
    wanted = case.amount("goal.boost_by", Kind.ENGINE_SPEED, "speed by which you want full boost")
    if goal is None or wanted is None:
        return None
    there = np.flatnonzero(goal.turbine_enough & goal.settled)
    if there.size == 0:
        return None  # 'boost.reached' has said it
    first = int(there[0])
    speed = _threshold(goal.speed, goal.boost, first)
    gap = float(goal.speed[first] - goal.speed[max(first - 1, 0)])  # computed speeds stand so far apart
    sd = math.hypot(_ARRIVAL_SD, gap / math.sqrt(12.0))
    return rule.finding(
        Amount(speed, sd, Kind.ENGINE_SPEED, "full boost from this speed on"),
        Amount(wanted.value, wanted.sd or 0.0, Kind.ENGINE_SPEED, wanted.name),
        _goal_record(case, "goal.boost_by"),
        place=Place(speed),
        corner=case.corner,
        cause=Phrase(
            "Below it the exhaust gives the turbine less than the compressor takes, even with the gate shut."
        ),
        remedy=Phrase(
            "Fit a smaller turbine housing (and mind back pressure at the top), or be content with later"
            " boost."
        ),
        reading=_SIZES,
        about=_ABOUT,
    )


def _threshold(speed: np.ndarray, boost: np.ndarray, first: int) -> float:
    """Between the last speed short of the goal and the first that holds it, by the trend of the boost
    below.
    """
    if first < 2 or boost[first - 1] <= boost[first - 2]:
        return float(speed[first])
    slope = (boost[first - 1] - boost[first - 2]) / (speed[first - 1] - speed[first - 2])
    guess = speed[first - 1] + (boost[first] - boost[first - 1]) / slope
    return float(np.clip(guess, speed[first - 1], speed[first]))
