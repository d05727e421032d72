"""What stands in the wastegate's signal line: how high it can hold the boost, and what it is set to."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.case import Case
from boostwright.findings.gate_case import (
    PUMP,
    SPRING_FIELDS,
    as_limit,
    assumed_gate,
    goal_and_room,
    pressure,
    stiffest_allowed,
    turbine_can,
    worst_gate,
)
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.systems.wastegate import Control, GateAnswers, GateStatus

__all__ = ["bleed_setting", "control_range"]

Array = NDArray[np.float64]


def _reach(answers: GateAnswers) -> Array:
    """Boost at the greatest opening less the wish, where the control and not the turbine limits it."""
    if answers.gate.control is Control.SPRING or answers.gate.duty is not None:
        return np.full(answers.boost_asked.shape, np.nan)
    able = turbine_can(answers)
    by_control = able & np.isin(answers.top_status, (GateStatus.HELD, GateStatus.AT_STOP))
    chosen = by_control if by_control.any() else able
    return np.where(chosen, answers.boost_control_top - answers.boost_asked, np.nan)


@rule(
    "boost.control_range",
    "Reach of the boost control",
    asks="Can the valve in the signal line hold the boost that you ask for, at every speed?",
    demand="boost asked for, less what boost may wander",
    capacity="boost at the greatest opening of the valve, where the exhaust on the gate lets it go",
    harm=Harm.NUISANCE,
    harm_words="the controller stands at its end and the boost still falls short",
    sense=Sense.AT_MOST,
    limits=("boost_wander",),
)
def control_range(rule: Rule, case: Case) -> Finding | None:
    """Signal pressure cannot fall below (p2 - p_amb)(1 - k); above that boost the exhaust opens the gate."""
    asked = goal_and_room(case)
    place = worst_gate(
        case,
        _reach,
    )
    if asked is None or place is None:
        return None
    goal, room = asked
    answers = place.answers
    top = pressure(
        place.at(answers.boost_control_top),
        "boost at the greatest opening",
        place.at(answers.boost_control_top_sd),
    )
    wanted = pressure(
        goal.value - room.value,
        "boost asked for, or a little less",
        math.hypot(goal.sd or 0.0, room.sd or 0.0),
    )
    tops, duty = answers.spring_for_goal_top, answers.gate_duty
    least = float(np.nanmax(tops)) if np.isfinite(tops).any() else math.nan
    most = stiffest_allowed(place)
    spring = max(least, 0.0) if math.isfinite(least) else math.nan
    amounts = {
        "top": top,
        "least": pressure(spring),
        "most": pressure(most),
        "spring": pressure(answers.gate.bench_crack),
    }
    notes: tuple[Phrase, ...] = ()
    if np.isfinite(duty).any():
        ends = {
            "low": Amount(float(np.nanmin(duty)), None, Kind.SHARE),
            "high": Amount(float(np.nanmax(duty)), None, Kind.SHARE),
        }
        notes = (Phrase("Over speed the duty that holds the wish lies between {low} and {high}.", ends),)
    return rule.finding(
        wanted,
        top,
        as_limit(case, "You asked for it; a tenth of a bar below it is within what boost wanders."),
        place=Place(place.there.speed),
        corner=place.there.corner,
        cause=Phrase(
            "With the valve in the line wide open the rest of the signal and the exhaust on the gate open"
            " it at"
            " {top} against a spring of {spring}.",
            amounts,
        ),
        remedy=Phrase(
            "Fit a spring that first moves between {least} and {most} on the bench."
            if math.isfinite(spring) and math.isfinite(most) and spring < most
            else "Fit a gate with a larger diaphragm or a smaller valve, or ask for less.",
            amounts,
        ),
        reading=PUMP,
        notes=notes,
        assumed=assumed_gate(case, "spring"),
        about=(*SPRING_FIELDS, "wastegate.solenoid", "wastegate.restrictor", "wastegate.vent"),
    )


@rule(
    "boost.bleed",
    "Boost at the bleed valve's setting",
    asks="Does the bleed valve as it is set give no more than you ask for?",
    demand="greatest boost over speed with the bleed valve as it is set",
    capacity="boost asked for, and what boost may wander",
    harm=Harm.DAMAGE,
    harm_words="the engine gets more boost than everything else here was judged for",
    sense=Sense.AT_MOST,
    limits=("boost_wander",),
)
def bleed_setting(rule: Rule, case: Case) -> Finding | None:
    """The force balance with the share of the signal that the setting takes away; only where it is stated."""
    asked = goal_and_room(case)
    place = worst_gate(
        case,
        lambda a: np.where(
            (a.gate.control is Control.BLEED) & (a.gate.duty is not None) & ~a.gate_at_stop,
            a.boost_asked - a.boost_held,
            np.nan,
        ),
    )
    if asked is None or place is None:
        return None
    goal, room = asked
    answers = place.answers
    held = pressure(
        place.at(answers.boost_held),
        "boost with the bleed as it is set",
        place.at(answers.boost_control_top_sd),
    )
    duty = answers.gate_duty
    amounts = {
        "set": Amount(answers.gate.duty or 0.0, None, Kind.SHARE),
        "less": Amount(float(np.nanmin(duty)) if np.isfinite(duty).any() else 0.0, None, Kind.SHARE),
        "held": held,
    }
    return rule.finding(
        held,
        pressure(
            goal.value + room.value,
            "boost asked for, and a little over",
            math.hypot(goal.sd or 0.0, room.sd or 0.0),
        ),
        as_limit(case, "You asked for it; a tenth of a bar over it is within what boost wanders."),
        place=Place(place.there.speed),
        corner=place.there.corner,
        cause=Phrase(
            "Open by {set}, the bleed leaves so little signal that the boost stands at {held}.", amounts
        ),
        remedy=Phrase(
            "Turn it in to {less} or less, then log a gentle pull before you open it further.", amounts
        ),
        reading=Reading("Log boost over a graded pull, from shut upwards in small steps.", 3600.0),
        assumed=assumed_gate(case, "spring"),
        about=(*SPRING_FIELDS, "wastegate.bleed"),
    )
