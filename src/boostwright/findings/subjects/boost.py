"""Does the boost come, and in time."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

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

if TYPE_CHECKING:
    from boostwright.systems.corners import Threshold

__all__ = ["arrival", "one_threshold", "reached", "threshold_amount"]

_RPM: Final = math.pi / 30.0
_MODEL_SD: Final = 100.0 * _RPM  # of the threshold beside what is not known of the turbo [rad/s]; judgement
_UNKNOWN_SD: Final = 400.0 * _RPM  # of it where the match cannot tell [rad/s]; judgement
_ONE_SPEED: Final = 25.0 * _RPM  # nearer than this the two branches count as one [rad/s]
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
    """The threshold from below with its band: boost reacts several times as strongly as any efficiency."""
    goal, threshold = case.goal, case.threshold
    wanted = case.amount("goal.boost_by", Kind.ENGINE_SPEED, "speed by which you want full boost")
    if goal is None or wanted is None or threshold is None or not math.isfinite(threshold.coming_up):
        return None  # where it is held nowhere 'boost.reached' has said it
    return rule.finding(
        threshold_amount(threshold),
        Amount(wanted.value, wanted.sd or 0.0, Kind.ENGINE_SPEED, wanted.name),
        _goal_record(case, "goal.boost_by"),
        place=Place(threshold.coming_up),
        corner=case.corner,
        cause=_why_then(threshold, float(goal.speed[0])),
        remedy=Phrase(
            "Fit a smaller turbine housing (and mind back pressure at the top), or be content with later"
            " boost."
        ),
        reading=_SIZES,
        about=_ABOUT,
    )


def threshold_amount(threshold: Threshold) -> Amount:
    """Where boost comes by itself, with the turbo's unknowns and the model's own error [rad/s]."""
    known = math.isfinite(threshold.deviation)
    sd = math.hypot(threshold.deviation, _MODEL_SD) if known else _UNKNOWN_SD
    return Amount(threshold.coming_up, sd, Kind.ENGINE_SPEED, "full boost from this speed on")


def one_threshold(threshold: Threshold) -> bool:
    """Whether boost comes and goes at one speed, as near as it is computed."""
    return threshold.coming_up - threshold.coming_down <= _ONE_SPEED


def _why_then(threshold: Threshold, lowest: float) -> Phrase:
    amounts = {
        "up": Amount(threshold.coming_up, None, Kind.ENGINE_SPEED),
        "down": Amount(threshold.coming_down, None, Kind.ENGINE_SPEED),
    }
    if threshold.coming_up <= lowest:
        return Phrase("The boost is there at {up} already, the lowest speed looked at.", amounts)
    words = "Below it the exhaust gives the turbine less than the compressor takes, even with the gate shut."
    if not one_threshold(threshold):
        return Phrase(
            words + " From {down} to {up} boost hangs on where you come from: it stays when you come down,"
            " and does not come when you come up.",
            amounts,
        )
    return Phrase(words + " It is the same speed coming up and coming down.", amounts)
