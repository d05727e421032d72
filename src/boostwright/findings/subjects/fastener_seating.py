"""Whether the bolts of a joint press its gasket hard enough to bed it in."""

from __future__ import annotations

from boostwright.findings.case import Case
from boostwright.findings.fastener_case import area_of, middle, sheet_of
from boostwright.findings.judge import probability_holds
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
from boostwright.findings.subjects.fastener import left_out, plain, taken_as_usual
from boostwright.findings.sure import sure_demand
from boostwright.systems.fasteners import Fastener, Known, clamp_at
from boostwright.systems.fasteners.clamp import seating_force

__all__ = ["seating"]

_PLACES = ("manifold", "turbine", "turbine-outlet", "charge")
_ABOUT = "fasteners[]."


@rule(
    "fastener.seating",
    "Gaskets bedded in",
    asks="Do the bolts press each gasket hard enough to bed it in when they are tightened?",
    demand="share of the clamp as tightened that the gasket needs: its bedding pressure on half of its width"
    " around the ports",
    capacity="all of that clamp, with the spread of friction and wrench",
    harm=Harm.WEAR,
    harm_words="the gasket leaks from the first start and burns through",
    sense=Sense.AT_MOST,
)
def seating(rule: Rule, case: Case) -> Finding | None:
    """The gasket most likely to stay loose. Silent where no joint with gas in it has a gasket to bed in."""
    worst: tuple[float, Fastener, float, Known, Known, Amount, Amount] | None = None
    unjudged: list[Fastener] = []
    for row in sheet_of(case):
        bolt, torque = row.bolt, middle(row)
        if case.goal is None or torque is None or bolt.clamps not in _PLACES:
            continue
        needed = seating_force(bolt, *area_of(case, bolt))
        if needed is None:
            continue
        each = clamp_at(bolt, torque)
        if each is None or bolt.count is None:
            unjudged.append(bolt)
            continue
        whole = bolt.count * each.value
        demand = Amount(needed.value / whole, needed.sd / whole, Kind.SHARE, f"clamp needed, {bolt.name}")
        capacity = Amount(1.0, each.sd / each.value, Kind.SHARE, "clamp as tightened")
        holds = probability_holds(demand, capacity, rule.sense) or 0.0
        if worst is None or holds < worst[0]:
            worst = (holds, bolt, torque, needed, Known(whole, bolt.count * each.sd), demand, capacity)
    if worst is None:
        return None
    _, bolt, torque, needed, whole_clamp, demand, capacity = worst
    assert bolt.gasket is not None
    most = sure_demand(capacity, demand, rule.sense, rule.harm)
    amounts = {
        "need": Amount(needed.value, needed.sd, Kind.FORCE),
        "have": Amount(whole_clamp.value, whole_clamp.sd, Kind.FORCE),
        "torque": Amount(torque * demand.value / most, None, Kind.TORQUE),
    }
    return rule.finding(
        demand,
        capacity,
        LimitRecord(
            "computed",
            "asmeviii2019",
            "Bedding pressures by kind of gasket, from memory, known to 40 %; its maker's own figure wins.",
        ),
        place=Place(words=plain(bolt.name)),
        cause=Phrase(
            f"A gasket of this kind ({bolt.gasket.name}) around these ports wants {{need:band}} to bed in;"
            f" the bolts press with {{have:band}} in all.",
            amounts,
        ),
        remedy=Phrase(
            "Leave it; the faces must be flat to 0.1 mm for that."
            if demand.value <= most
            else "Ask the gasket's maker what it needs; about {torque} would be sure if the bolts stand"
            " it, else more bolts or a gasket that beds in with less.",
            amounts,
        ),
        reading=Reading(
            "Lay a straight edge and a feeler gauge on both faces; soap and air after fitting.", 1200.0
        ),
        notes=(
            *taken_as_usual(bolt, "opening", "tool"),
            *left_out(unjudged, "size, lubricant or count not stated"),
        ),
        about=(f"{_ABOUT}gasket", f"{_ABOUT}manual_torque", f"{_ABOUT}count"),
    )
