"""Whether the head stays down: clamp of its bolts against the peak pressure of the hardest burn."""

from __future__ import annotations

import math

import numpy as np

from boostwright.errors import OutOfRange
from boostwright.findings.case import Case
from boostwright.findings.model import (
    Amount,
    Finding,
    Harm,
    Kind,
    Phrase,
    Place,
    Reading,
    Sense,
)
from boostwright.findings.registry import Rule, rule
from boostwright.findings.strength_days import (
    LEAST_BOOST,
    MODEL_SD,
    boost_for,
    compression_sd,
    days_of,
    nothing_known,
    on_best_fuel,
)
from boostwright.findings.sure import sure_demand
from boostwright.physics.strength import gas_force
from boostwright.systems.stated.head_bolts import HeadBolts, head_bolts_of, on_steel_gasket

__all__ = ["head_clamp"]

_FIELDS = ("sealing.head_bolts", "sealing.head_bolt_size", "sealing.head_bolt_class")


@rule(
    "strength.head_clamp",
    "Clamp of the cylinder head",
    asks="Do the head bolts hold the head down on its gasket at the peak pressure of the hardest burn?",
    demand="clamp of the bolts of one cylinder, the gasket's set taken off, over peak pressure times bore"
    " area",
    capacity="clamp over gas force that keeps a gasket tight",
    harm=Harm.DAMAGE,
    harm_words="gas crosses the gasket into the coolant, and the head lifts",
    sense=Sense.AT_LEAST,
    limits=("head_clamp",),
)
def head_clamp(rule: Rule, case: Case) -> Finding | None:
    """The hardest burn of every day. Spread: bolts, gasket, model, boost, compression ratio. Silent where the
    file states nothing of pistons, rods, rings and bolts: `strength.peak_pressure` asks for all at once.
    """
    days = days_of(case)
    if not days or nothing_known(case):
        return None
    limit = case.limits["head_clamp"]
    day = max(days, key=lambda d: float(np.nanmax(d.strong.result.peak_pressure)))
    peak = day.strong.result.peak_pressure
    worst = int(np.nanargmax(peak))
    speed = float(day.strong.speed[worst])
    try:
        bolts = head_bolts_of(case.build)
    except OutOfRange as refused:
        return _unread(rule, case, str(refused), speed)
    gas = float(gas_force(peak[worst], case.engine.bore))
    boost_sd = float(np.interp(speed, day.goal.speed, day.goal.boost_sd / day.goal.plenum_pressure))
    clamp = bolts.own * bolts.each.value
    ratio = clamp / gas
    burn = math.sqrt(case.left(MODEL_SD) ** 2 + boost_sd**2 + compression_sd(case) ** 2)
    demand = Amount(
        ratio,
        ratio * math.hypot(bolts.each.sd / bolts.each.value, burn),
        Kind.RATIO,
        "clamp over gas force",
    )
    wanted = sure_demand(limit.amount, demand, rule.sense, rule.harm, relative=True)
    keep = boost_for(day, float(peak[worst]) * ratio / wanted, worst)
    boost = float(np.interp(speed, day.goal.speed, day.goal.boost))
    amounts = {
        "gas": Amount(gas, None, Kind.FORCE),
        "each": Amount(bolts.each.value, bolts.each.sd, Kind.FORCE),
        "own": Amount(bolts.own, None, Kind.RATIO),
        "boost": Amount(max(keep, 0.0), None, Kind.PRESSURE_GAUGE),
        "need": Amount(on_steel_gasket(wanted * gas / bolts.own), None, Kind.FORCE),
    }
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(speed),
        corner=on_best_fuel(case, day),
        cause=Phrase(
            f"The burn lifts the head with {{gas}} over one bore; {{own}} bolts are that cylinder's own"
            " (one between two counts half),"
            f" {'at the printed torque' if bolts.printed else 'tightened as is usual'} with {{each:band}}"
            " each.",
            amounts,
        ),
        remedy=Phrase(_remedy(keep, boost), amounts),
        assumed=_assumed(bolts),
        reading=Reading(
            "Count the head bolts; read size and class off one, and the gasket off its edge.", 900.0
        )
        if bolts.missing
        else Reading("Look for combustion gas in the coolant after a pull; cold hoses must be soft.", 1200.0),
        about=(*_FIELDS, "sealing.gasket", "engine.compression_ratio", "goal.boost"),
    )


def _remedy(keep: float, boost: float) -> str:
    """What to do. keep: boost at which the head surely stays down, boost: what is reached [Pa gauge]."""
    if keep >= boost:
        return (
            "Leave it; at this speed it is sure up to {boost}. New bolts, and the manual's torque and order."
        )
    studs = "studs that clamp with {need} each on a gasket of layers of steel; their torque is their maker's."
    if keep >= LEAST_BOOST:
        return f"Keep boost at {{boost}} or below here, or fit {studs}"
    return f"Less boost alone does not make it sure: it takes {studs}"


def _assumed(bolts: HeadBolts) -> str:
    if not bolts.missing:
        return ""
    names = [field.partition(".")[2] for field in bolts.missing]
    listed = ", ".join(names[:-1]) + (" and " if len(names) > 1 else "") + names[-1]
    return f"Nobody stated {listed}; as is usual {bolts.stand_in} is taken."


def _unread(rule: Rule, case: Case, why: str, speed: float) -> Finding:
    limit = case.limits["head_clamp"]
    return rule.finding(
        None,
        limit.amount,
        limit,
        place=Place(speed),
        cause=Phrase(why.replace("{", "(").replace("}", ")")),
        remedy=Phrase("Write the thread of the head bolts like M10x1.5."),
        reading=Reading("Calliper over the thread of a head bolt, pitch gauge on it.", 600.0),
        about=_FIELDS,
    )
