"""The wastegate's port: does it pass what must go past the turbine, or does boost creep up with speed."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.case import Case
from boostwright.findings.gate_case import (
    GatePlace,
    as_limit,
    assumed_gate,
    goal_and_room,
    pressure,
    turbine_can,
    worst_gate,
)
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import deviations, sure_demand
from boostwright.physics.wastegate import lift_for_area
from boostwright.systems.wastegate import Gate, GateAnswers, GateStatus

__all__ = ["creep", "port"]

Array = NDArray[np.float64]

_CREEP = Reading(
    "Log boost over a graded pull on the plain hose, first short of the limit: boost at the limit less"
    " boost at"
    " mid speed.",
    3600.0,
)
_CALLIPER = Reading("Calliper on seat and lift, gate open; hand pump on the actuator.", 900.0)
_ABOUT = (
    "wastegate.valve_diameter",
    "wastegate.rod_travel",
    "wastegate.rod_arm",
    "wastegate.valve_arm",
    "wastegate.type",
)
_A_LITTLE_MORE = 1.1  # than the gate has, where it does not hold though the area should do (judgement)
_USEFUL = 0.9  # of the whole port that more lift can still reach [-] (judgement)


def _port_for(gate: Gate, area: float) -> Amount:
    """Seat diameter of a gate of the same shape with that effective area, lift and lever in proportion."""
    wide = gate.port_diameter * math.sqrt(area / float(gate.most_area))
    return Amount(wide, 0.5 * wide * _own_spread(gate), Kind.LENGTH)


def _whole_port(gate: Gate) -> float:
    """Effective area of the port with the valve out of the way [m2]."""
    return gate.flow.port * math.pi / 4 * gate.port_diameter**2


def _remedy(gate: Gate, area: float) -> Phrase:
    """More lift where the port would do with it, else a wider port; nothing where it has that area."""
    if area <= float(gate.most_area):
        return Phrase("Leave port and lift as they are.")
    whole = _whole_port(gate)
    amounts = {
        "now": Amount(gate.port_diameter, None, Kind.LENGTH),
        "lift_now": Amount(gate.most_lift, None, Kind.LENGTH),
        "wider": _port_for(gate, area),
    }
    if area < _USEFUL * whole:
        most = float(lift_for_area(area, gate.port_diameter, gate.flow))
        lift = Amount(most, most * _own_spread(gate), Kind.LENGTH)
        return Phrase(
            "Let the valve lift {lift} in place of {lift_now} (longer travel or another lever), or open"
            " the port"
            " from {now} to {wider}.",
            {**amounts, "lift": lift},
        )
    return Phrase(
        "Open the port from {now} to {wider}, valve and lift in proportion, or fit a gate of that size.",
        amounts,
    )


def _reading_of_creep(rule: Rule, case: Case, place: GatePlace, capacity: Amount) -> Finding:
    """A stated creep stands on the boost that was held at mid speed: a reading beats the computation."""
    answers = place.answers
    read = case.amount("wastegate.creep", Kind.PRESSURE_DIFFERENCE, "creep")
    assert read is not None
    held = np.where(answers.status == GateStatus.HELD, answers.boost_held, np.nan)
    asked = place.at(answers.boost_asked)  # a boost above it is the spring's doing, and judged there
    base = min(float(np.nanmax(held)), asked) if np.isfinite(held).any() else asked
    demand = pressure(base + read.value, "boost at the limit, with the creep that you read", read.sd or 0.0)
    amounts = {"creep": read, "base": pressure(base), "reached": demand}
    area = max(float(np.nanmax(answers.gate_area_needed)), answers.gate_area_most)
    return rule.finding(
        demand,
        capacity,
        as_limit(case, "You asked for it; a tenth of a bar over it is within what boost wanders."),
        place=Place(place.there.speed),
        corner=place.there.corner,
        cause=Phrase(
            "You read {creep} of creep: on the {base} that the gate holds at mid speed it makes {reached}.",
            amounts,
        ),
        remedy=_remedy(answers.gate, case.limits["gate_port"].amount.value * area),
        reading=_CREEP,
        about=("wastegate.creep", *_ABOUT),
    )


def _ports_over_need(answers: GateAnswers) -> Array:
    """Area of the port over the effective area needed, where the turbine could make the wish [-]."""
    needed = np.where(turbine_can(answers), answers.gate_area_needed, np.nan)
    return math.pi / 4 * answers.gate.port_diameter**2 / needed


def _own_spread(gate: Gate) -> float:
    """Relative standard deviation of the area on the stop, from the gate's own values [-]."""
    changes = [float(one.most_area / gate.most_area) - 1.0 for one in gate.one_deviation_each()]
    return math.sqrt(sum(change**2 for change in changes))


def _room_below(answers: GateAnswers) -> Array:
    """The wish less the boost with the gate wide open, where the turbine could make the wish [Pa].

    Of speeds with the same room the highest counts, by a thousandth of a pascal each.
    """
    later = 1e-3 * np.arange(answers.boost_asked.size)
    able = turbine_can(answers) | ~np.isfinite(answers.gate_area_needed)
    return np.where(able, answers.boost_asked - answers.boost_gate_open - later, np.nan)


@rule(
    "boost.creep",
    "Boost that creeps up",
    asks="Can the open gate pass enough for the boost to stay at what you ask for?",
    demand="boost with the valve on its stop, where turbine and open port share the exhaust; or the creep"
    " that you"
    " read, on the boost that is held",
    capacity="boost asked for, and what boost may wander",
    harm=Harm.DAMAGE,
    harm_words="boost climbs to the limit whatever spring and controller do, until something knocks or bends",
    sense=Sense.AT_MOST,
    limits=("boost_wander",),
)
def creep(rule: Rule, case: Case) -> Finding | None:
    """Where CdA at the stop equals the area needed; a softer spring cannot go below it."""
    asked = goal_and_room(case)
    place = worst_gate(case, _room_below)
    if asked is None or place is None:
        return None
    goal, room = asked
    capacity = pressure(
        goal.value + room.value,
        "boost asked for, and a little over",
        math.hypot(goal.sd or 0.0, room.sd or 0.0),
    )
    if case.build.is_stated("wastegate.creep"):
        return _reading_of_creep(rule, case, place, capacity)
    answers = place.answers
    gate = answers.gate
    reached = pressure(
        place.at(answers.boost_gate_open),
        "boost with the gate wide open",
        place.at(answers.boost_gate_open_sd),
    )
    needed = place.at(answers.gate_area_needed)
    z = deviations(rule.harm)
    sure = (needed + z * place.at(answers.gate_area_needed_sd)) * (1 + z * _own_spread(gate))
    if not math.isfinite(sure):
        sure = case.limits["gate_port"].amount.value * answers.gate_area_most
    if reached.value + z * math.hypot(reached.sd or 0.0, capacity.sd or 0.0) > capacity.value:
        sure = max(sure, _A_LITTLE_MORE * answers.gate_area_most)
    creeps = answers.gate_at_stop & (answers.boost_held > answers.boost_asked + room.value)
    amounts = {
        "reached": reached,
        "now": Amount(gate.port_diameter, None, Kind.LENGTH),
        "lift": Amount(gate.most_lift, None, Kind.LENGTH),
        "share": Amount(needed / answers.gate_area_most if math.isfinite(needed) else 1.0, None, Kind.SHARE),
        "goal": goal,
    }
    return rule.finding(
        reached,
        capacity,
        as_limit(case, "You asked for it; a tenth of a bar over it is within what boost wanders."),
        place=Place(place.there.speed),
        corner=place.there.corner,
        cause=Phrase(
            "Wide open, the port of {now} at {lift} of lift passes so little that the boost stands at"
            " {reached};"
            " to hold {goal} it would have to pass {share} of what it can."
            if creeps.any()
            else "Wide open, the port of {now} at {lift} of lift lets the boost fall to {reached}; to hold"
            " {goal} it"
            " opens by {share} of what it can.",
            amounts,
        ),
        remedy=_remedy(gate, sure),
        reading=_CREEP,
        assumed=assumed_gate(case, "valve_diameter"),
        about=_ABOUT,
    )


@rule(
    "boost.gate_port",
    "Port of the gate",
    asks="Is the port of the gate large enough, with something in hand?",
    demand="area of the port over the effective area past which the exhaust must go at the boost asked for",
    capacity="what a port should have over that, for its discharge and for a cold day or a freer exhaust",
    harm=Harm.POOR_RUNNING,
    harm_words="the gate works at its stop: boost follows weather and exhaust instead of the spring",
    sense=Sense.AT_LEAST,
    limits=("gate_port",),
)
def port(rule: Rule, case: Case) -> Finding | None:
    """pi/4 D^2 over CdA needed, the latter from the balance of power at the turbine's shaft."""
    place = worst_gate(case, _ports_over_need)
    if place is None:
        return None
    answers, limit = place.answers, case.limits["gate_port"]
    gate, needed = answers.gate, place.at(answers.gate_area_needed)
    ratio = float(_ports_over_need(answers)[place.there.place])
    relative = math.hypot(
        place.at(answers.gate_area_needed_sd) / needed, 2 * gate.spread.port_diameter / gate.port_diameter
    )
    demand = Amount(ratio, ratio * relative, Kind.RATIO, "port over the opening needed")
    wanted = sure_demand(limit.amount, demand, rule.sense, rule.harm, relative=True)
    factor = wanted if math.isfinite(wanted) else 1.5 * limit.amount.value
    wider = 2 * math.sqrt(factor * needed / math.pi)
    amounts = {
        "needed": Amount(2 * math.sqrt(needed / math.pi), None, Kind.LENGTH),
        "now": Amount(gate.port_diameter, None, Kind.LENGTH),
        "wider": Amount(wider, None, Kind.LENGTH),
    }
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(place.there.speed),
        corner=place.there.corner,
        cause=Phrase(
            "A smooth hole of {needed} would pass what must go past the turbine here; the port measures"
            " {now}.",
            amounts,
        ),
        remedy=Phrase(
            "Open the port from {now} to {wider}, valve and lift in proportion, or fit a gate of that size."
            if wider > gate.port_diameter
            else "Leave the port as it is.",
            amounts,
        ),
        reading=_CALLIPER,
        assumed=assumed_gate(case, "valve_diameter"),
        about=_ABOUT,
    )
