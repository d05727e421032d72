"""The wastegate's spring: whether it lets the boost be as low and as high as you want, and as even."""

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
    best_gate,
    goal_and_room,
    pressure,
    stiffest_allowed,
    turbine_can,
    worst_gate,
)
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import sure_demand
from boostwright.systems.wastegate import Control, GateAnswers, GateStatus

__all__ = ["early_opening", "falling_boost", "spring_alone", "spring_below_goal"]

Array = NDArray[np.float64]

_SOFTEST = 10.0e3  # spring that is made [Pa above ambient]; the build file's range ends there


def _on_spring(answers: GateAnswers) -> NDArray[np.bool_]:
    """Where the plain hose's boost was computed and the port surely does not limit it: that is creep."""
    left_out = (GateStatus.AT_STOP, GateStatus.NO_BOOST, GateStatus.NOT_COMPUTED)
    too_small = answers.gate_area_needed + 2 * answers.gate_area_needed_sd > answers.gate_area_most
    return ~np.isin(answers.spring_status, left_out) & ~too_small


def _springs_for(answers: GateAnswers, boost: float) -> Array:
    """Bench pressure of the spring that holds a boost near the wish, at each speed [Pa].

    On the straight line through the present spring with its boost and the spring that holds the wish.
    """
    goal, spring = answers.boost_asked, answers.spring_for_goal
    apart = answers.boost_spring_only - goal
    far = np.abs(apart) > 1.0
    slope = np.where(far, (answers.gate.bench_crack - spring) / np.where(far, apart, 1.0), 1.0)
    return np.asarray(spring + np.clip(slope, 0.5, 2.5) * (boost - goal))


def _stiffest(springs: Array) -> float:
    """The stiffest spring that is not too stiff at any speed [Pa]; NaN where none is known."""
    return float(np.nanmin(springs)) if np.isfinite(springs).any() else math.nan


@rule(
    "boost.spring",
    "Wastegate spring and boost wanted",
    asks="Can the boost be as low as you ask for, with this spring?",
    demand="greatest boost over speed with the plain hose: spring and exhaust on the valve against the"
    " area needed",
    capacity="boost asked for, and what boost may wander",
    harm=Harm.DAMAGE,
    harm_words="the engine always gets more boost than everything else here was judged for",
    sense=Sense.AT_MOST,
    limits=("boost_wander",),
)
def spring_below_goal(rule: Rule, case: Case) -> Finding | None:
    """Boost at which CdA(lift) meets the area needed, no air bled off; places on the stop belong to creep."""
    asked = goal_and_room(case)
    place = worst_gate(case, lambda a: np.where(_on_spring(a), a.boost_asked - a.boost_spring_only, np.nan))
    if asked is None or place is None:
        return None
    goal, room = asked
    lowest = pressure(
        place.at(place.answers.boost_spring_only),
        "least boost that the spring lets you have",
        place.at(place.answers.boost_spring_only_sd),
    )
    capacity = pressure(
        goal.value + room.value,
        "boost asked for, and a little over",
        math.hypot(goal.sd or 0.0, room.sd or 0.0),
    )
    sure = sure_demand(capacity, lowest, rule.sense, rule.harm)
    softer = _stiffest(_springs_for(place.answers, sure))
    if not softer >= _SOFTEST:  # too unsure for any spring to be safe: then the one that should do, measured
        softer = _stiffest(place.answers.spring_for_goal)
    gate = place.answers.gate
    can = math.isfinite(softer) and softer >= _SOFTEST
    amounts = {"spring": pressure(gate.bench_crack), "softer": pressure(softer), "lowest": lowest}
    return rule.finding(
        lowest,
        capacity,
        as_limit(case, "You asked for it; a tenth of a bar over it is within what boost wanders."),
        place=Place(place.there.speed),
        corner=place.there.corner,
        cause=Phrase(
            "A spring that first moves at {spring} on the bench, with the exhaust helping on the valve, lets"
            " the boost stand at {lowest}; a controller can only add to that.",
            amounts,
        ),
        remedy=Phrase(
            "Fit a spring that first moves at {softer} or less on the bench, and prove it with a hand pump;"
            " or ask for {lowest} and check again."
            if can
            else "No spring is soft enough here: ask for {lowest} and check again, or fit a gate with a"
            " larger"
            " diaphragm.",
            amounts,
        ),
        reading=PUMP,
        assumed=assumed_gate(case, "spring"),
        about=SPRING_FIELDS,
    )


@rule(
    "boost.spring_alone",
    "Boost that the spring alone holds",
    asks="Does the gate stay shut long enough for the boost that you ask for, with nothing but the spring?",
    demand="boost asked for, less what boost may wander",
    capacity="greatest boost over speed with the plain hose, where the turbine could make what you ask for",
    harm=Harm.NUISANCE,
    harm_words="the boost stays below the wish, and somebody will be tempted to pinch a hose",
    sense=Sense.AT_MOST,
    limits=("boost_wander",),
)
def spring_alone(rule: Rule, case: Case) -> Finding | None:
    """The same boost from the other side; only where the spring alone holds."""
    asked = goal_and_room(case)
    place = best_gate(
        case,
        lambda a: np.where(turbine_can(a) & (a.gate.control is Control.SPRING), a.boost_spring_only, np.nan),
    )
    if asked is None or place is None:
        return None
    goal, room = asked
    answers = place.answers
    held = pressure(
        place.at(answers.boost_spring_only),
        "boost that the spring alone holds",
        place.at(answers.boost_spring_only_sd),
    )
    wanted = pressure(
        goal.value - room.value,
        "boost asked for, or a little less",
        math.hypot(goal.sd or 0.0, room.sd or 0.0),
    )
    stiffer = place.at(answers.spring_for_goal)
    most = stiffest_allowed(place)
    amounts = {
        "spring": pressure(answers.gate.bench_crack),
        "held": held,
        "stiffer": pressure(min(stiffer, most) if math.isfinite(most) else stiffer),
    }
    return rule.finding(
        wanted,
        held,
        as_limit(case, "You asked for it; a tenth of a bar below it is within what boost wanders."),
        place=Place(place.there.speed),
        corner=place.there.corner,
        cause=Phrase(
            "The rod first moves at {spring} on the bench; with the exhaust pushing on the valve the boost"
            " stands at {held}, and nowhere higher.",
            amounts,
        ),
        remedy=Phrase(
            "Fit a spring that first moves at {stiffer} on the bench and no stiffer one, or a solenoid valve"
            " under the controller."
            if math.isfinite(stiffer)
            else "Fit a solenoid valve under the controller, or a gate whose port is large enough first.",
            amounts,
        ),
        reading=PUMP,
        assumed=" ".join(
            s
            for s in (
                assumed_gate(case, "spring"),
                ""
                if case.build.is_stated("wastegate.control")
                else "What holds the boost is not stated; the spring alone is assumed.",
            )
            if s
        ),
        about=SPRING_FIELDS,
    )


@rule(
    "boost.fall",
    "Boost that falls with speed",
    asks="Does the boost stay up to the limit, with nothing but the spring?",
    demand="boost with the plain hose below its highest at a lower speed",
    capacity="fall that few drivers feel",
    harm=Harm.NUISANCE,
    harm_words="the pull goes flat before the limit",
    sense=Sense.AT_MOST,
    limits=("boost_fall",),
)
def falling_boost(rule: Rule, case: Case) -> Finding | None:
    """Exhaust pressure grows with speed and opens the valve earlier, by (p3 - p4) A_v b/(a A_d)."""
    place = worst_gate(
        case,
        lambda a: np.where((a.gate.control is Control.SPRING) & (a.boost_fall > 0), -a.boost_fall, np.nan),
    )
    if place is None:
        return None
    answers, limit = place.answers, case.limits["boost_fall"]
    fall = Amount(
        place.at(answers.boost_fall),
        place.at(answers.boost_fall_sd),
        Kind.PRESSURE_DIFFERENCE,
        "boost below its highest",
    )
    held, even = place.at(answers.boost_spring_only), place.at(answers.spring_for_even)
    lost = even - answers.gate.bench_crack if math.isfinite(even) else fall.value
    amounts = {
        "held": pressure(held),
        "share": Amount(float(np.clip(lost / (held + fall.value), 0.0, 1.0)), None, Kind.SHARE),
    }
    return rule.finding(
        fall,
        limit.amount,
        limit,
        place=Place(place.there.speed),
        corner=place.there.corner,
        cause=Phrase(
            "Exhaust pressure grows with speed and helps the valve open: here the boost stands at {held}.",
            amounts,
        ),
        remedy=Phrase(
            "A solenoid valve under the controller holds it level: here it must keep about {share} of the"
            " signal off"
            " the diaphragm.",
            amounts,
        ),
        reading=Reading("Log boost over a graded pull to the limit, on the spring alone.", 3600.0),
        assumed=assumed_gate(case, "spring", "valve_diameter"),
        about=SPRING_FIELDS,
    )


@rule(
    "boost.crack",
    "Gate that opens early",
    asks="Does the gate stay shut while the turbo spools?",
    demand="boost at which the valve leaves its seat, where full boost first arrives, over the boost asked"
    " for",
    capacity="share of the wish to which a gate should stay shut",
    harm=Harm.NUISANCE,
    harm_words="boost arrives later than turbine and engine would allow",
    sense=Sense.AT_LEAST,
    limits=("gate_crack",),
)
def early_opening(rule: Rule, case: Case) -> Finding | None:
    """(F0 - (p3 - p4) A_v b/a)/A_d at the lowest speed that can make the wish; only with a plain hose."""

    def share(a: GateAnswers) -> Array:
        values = np.full(a.boost_crack.shape, np.nan)
        able = np.flatnonzero(turbine_can(a) & np.isfinite(a.boost_crack))
        if able.size and a.gate.control is Control.SPRING:
            values[able[0]] = a.boost_crack[able[0]] / a.boost_asked[able[0]]
        return values

    place = worst_gate(case, share)
    if place is None:
        return None
    answers, limit = place.answers, case.limits["gate_crack"]
    crack, goal = place.at(answers.boost_crack), place.at(answers.boost_asked)
    demand = Amount(
        crack / goal,
        place.at(answers.boost_spring_only_sd) / goal,
        Kind.SHARE,
        "boost at which the gate opens, of the boost asked for",
    )
    wanted = sure_demand(limit.amount, demand, rule.sense, rule.harm) * goal
    stiffer, most = answers.gate.bench_crack + wanted - crack, stiffest_allowed(place)
    amounts = {"crack": pressure(crack), "stiffer": pressure(stiffer)}
    fits = not math.isfinite(most) or stiffer <= most
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(place.there.speed),
        corner=place.there.corner,
        cause=Phrase(
            "The valve leaves its seat at {crack} here and lets past what the turbine needs.", amounts
        ),
        remedy=Phrase(
            "Fit a spring that first moves at {stiffer} on the bench."
            if fits
            else "A stiffer spring would give too much boost later on: a solenoid valve under the"
            " controller keeps"
            " the gate shut until the boost is there.",
            amounts,
        ),
        reading=PUMP,
        assumed=assumed_gate(case, "spring"),
        about=SPRING_FIELDS,
    )
