"""Exhaust gas temperature at the valve, at the manifold's end and at the turbine, by material; and what a
probe in the pipe would show.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.charge_path import tail
from boostwright.findings.judge import HOLDS_FROM, probability_holds
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import sure_demand
from boostwright.findings.worst import Line, Worst, worst_number
from boostwright.library.part_spreads import part_spread
from boostwright.physics.knock import RUSS_GUIDELINES

__all__ = ["manifold", "turbine", "valve"]

Quantity = Callable[[Line], np.ndarray]

_MODEL_SD = 40.0  # of a computed exhaust temperature without a thermocouple [K]
_RICHEST = 0.76  # lambda below which more fuel mostly washes the bores (common practice, no source)
_LATE = math.radians(1.0)  # a spark less late than this does not warm the exhaust worth a word
_PER_LAMBDA = 730.0  # K that a richer mixture takes off, for each unit of lambda, on the rich side
_PER_DEGREE = 7.0  # K that a degree of later spark adds, half burned 15 degrees after top dead centre
_LEAST_BOOST = 0.2e5  # below this a turbo is not worth its trouble [Pa above ambient]

_MANIFOLDS = {
    "iron": "exhaust_iron",
    "mild-steel": "exhaust_mild_steel",
    "stainless": "exhaust_stainless",
    "ni-resist": "exhaust_nickel_iron",
    "": "exhaust_unknown",
}
_HOUSINGS = {
    "iron": "exhaust_turbine_iron",
    "ni-resist": "exhaust_turbine",
    "steel": "exhaust_turbine_steel",
    "": "exhaust_turbine",
}


def _judge(
    rule: Rule,
    case: Case,
    quantity: Quantity,
    key: str,
    name: str,
    about: tuple[str, ...],
) -> Finding | None:
    seen = worst_number(case, quantity)
    if seen is None:
        return None
    hottest, found = seen
    goal, i = found.goal, found.place
    limit = case.limits[key]
    late = float(goal.used_spark[i] - goal.mbt_spark[i])
    demand = Amount(hottest, _MODEL_SD, Kind.TEMPERATURE, name)
    unstated = key == "exhaust_unknown"
    sure = (probability_holds(demand, limit.amount, Sense.AT_MOST) or 0.0) >= HOLDS_FROM[rule.harm]
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(found.speed),
        corner=found.corner,
        cause=_cause(late),
        remedy=_remedy(rule, case, found, demand, limit.amount, quantity),
        reading=Reading(
            "Find out what the manifold is made of: a magnet, a file and the seller will tell.", 900.0
        )
        if unstated
        else Reading(
            "A thermocouple in the pipe during a pull, set beside the reading that is named here.", 7200.0
        ),
        notes=()
        if rule.code == "exhaust.valve"
        else (_probe(case, found, hottest, limit.amount),),  # none there
        about=(*about, "fuel.lambda_boost"),
        undecided=unstated and not sure,
    )


def _probe(case: Case, found: Worst, gas: float, limit: Amount) -> Phrase:
    """What a probe would show where it stands: gas and probe are two things, and behind the turbine the gas
    has done its work.
    """
    below, sd = part_spread("exhaust_probe", "below_gas"), part_spread("exhaust_probe", "sd")
    where = "A probe in the pipe here would show"
    if case.word("exhaust.probe") == "behind":
        where = "Your probe behind the turbine would show"
        left = tail(case, found.line).temperature[found.place]
        below += max(float(found.goal.turbine_inlet_temperature[found.place] - left), 0.0)
    return Phrase(
        f"{where} {{shows:band}}: it averages over time and radiates. Stop a pull when it shows {{stop}}.",
        {
            "shows": Amount(gas - below, math.hypot(sd, _MODEL_SD), Kind.TEMPERATURE, "probe"),
            "stop": Amount(limit.value - below - sd, None, Kind.TEMPERATURE),
        },
    )


def _cause(late: float) -> Phrase:
    """Why it is hot; `late` is how much later than MBT the spark stands [rad]."""
    if late < _LATE:
        return Phrase(
            "Knock hardly holds the spark back here, so an earlier spark cannot cool the gas; only mixture,"
            " boost and speed can."
        )
    return Phrase(
        "Knock holds the spark {late} later than the one of greatest torque: what burns late leaves hot,"
        " and more gas passes each second than before the turbo.",
        {"late": Amount(late, None, Kind.CRANK_DIFFERENCE)},
    )


def _remedy(
    rule: Rule,
    case: Case,
    found: Worst,
    demand: Amount,
    limit: Amount,
    quantity: Quantity,
) -> Phrase:
    """What to do: richer where that is enough for a sure hold, else less boost, else parts that stand it."""
    lam = float(found.goal.lam[found.place])
    wanted = sure_demand(limit, demand, rule.sense, rule.harm)
    over = demand.value - wanted
    richer = lam - over / _PER_LAMBDA
    if over <= 0.0:
        return Phrase(
            "Keep lambda {lam} at full load and the spark no later than it must be; up to {hot} of gas is"
            " sure.",
            {"lam": _lam(lam), "hot": Amount(wanted, None, Kind.TEMPERATURE)},
        )
    if richer >= _RICHEST:
        return Phrase(
            "Run lambda {lam} at full load here, a little over 7 K cooler for each 0.01, or make pulls"
            " short.",
            {"lam": _lam(richer)},
        )
    takes = Amount((lam - _RICHEST) * _PER_LAMBDA, None, Kind.TEMPERATURE_DIFFERENCE)
    boost = _boost_where(found, wanted + max(takes.value, 0.0), quantity)
    best = max(case.limits[key].amount.value for key in rule.limits)
    amounts = {
        "lam": _lam(_RICHEST),
        "takes": takes,
        "hot": Amount(demand.value + _room_above(limit, demand), None, Kind.TEMPERATURE),
    }
    if boost is not None:
        amounts["boost"] = Amount(boost, None, Kind.PRESSURE_GAUGE)
        return Phrase(
            "Hold {boost} here with lambda {lam}, or make pulls short and fit parts of a material that stands"
            " {hot}.",
            amounts,
        )
    if amounts["hot"].value > best:
        amounts["most"] = Amount(best, None, Kind.TEMPERATURE)
        if demand.value <= best:
            amounts["room"] = Amount(best - demand.value, None, Kind.TEMPERATURE_DIFFERENCE)
            return Phrase(
                "The best usual material stands {most}, {room} above the middle of what is asked: too little"
                " for how well the temperature is known. State what yours is, read the temperature, or make"
                " pulls short; a richer mixture (lambda {lam}) takes {takes} off.",
                amounts,
            )
        amounts["over"] = Amount(demand.value - best, None, Kind.TEMPERATURE_DIFFERENCE)
        return Phrase(
            "No usual material stands this (the best {most}): take boost and compression down until the gas"
            " comes {over} cooler, and look at the knock finding first; a richer mixture alone (lambda {lam})"
            " takes {takes} off.",
            amounts,
        )
    return Phrase(
        "Fit parts of a material that stands {hot}, and make pulls short; a richer mixture alone (lambda"
        " {lam} would take {takes} off) does not do it.",
        amounts,
    )


def _room_above(limit: Amount, demand: Amount) -> float:
    """Room [K] that a limit of the same spread must have above the demand for a sure hold."""
    return demand.value - sure_demand(
        Amount(demand.value, limit.sd, limit.kind), Amount(demand.value, demand.sd, demand.kind),
        Sense.AT_MOST, Harm.DAMAGE,
    )  # fmt: skip


def _boost_where(found: Worst, wanted: float, quantity: Quantity) -> float | None:
    """Boost [Pa above ambient] at which the gas here has cooled to `wanted` [K], along the line itself.

    Less boost gives spark back: one degree for each 2.9 kPa (russ1996: one octane number each), and each
    degree cools the gas by 7 K (the slope of our own cycle where half has burned 15 degrees after top dead
    centre). None where the spark has not retreated that far: then less boost hardly cools it.
    """
    goal, i = found.goal, found.place
    late = math.degrees(float(goal.used_spark[i] - goal.mbt_spark[i]))
    value = float(quantity(found.line)[i])
    degrees = (value - wanted) / _PER_DEGREE
    if degrees > late:
        return None
    boost = float(goal.boost[i]) - degrees / (
        math.degrees(1.0 / RUSS_GUIDELINES.spark) * RUSS_GUIDELINES.intake_pressure
    )
    return boost if boost >= _LEAST_BOOST else None


def _lam(value: float) -> Amount:
    return Amount(value, None, Kind.RATIO)


@rule(
    "exhaust.valve",
    "Exhaust gas at the valve",
    asks="Do the exhaust valves stand the gas at full load?",
    demand="gas temperature at the valve, worst over speeds and corners, at the spark used",
    capacity="exhaust valves, by their material",
    harm=Harm.DAMAGE,
    harm_words="an exhaust valve stretches, burns or loses its head",
    sense=Sense.AT_MOST,
    limits=("exhaust_valve", "exhaust_valve_nickel"),
)
def valve(rule: Rule, case: Case) -> Finding | None:
    """The mass mean of the gas at the valve, against what the valves are made of."""
    nickel = case.word("engine.exhaust_valve_material") == "nickel"
    return _judge(
        rule, case, lambda line: line.goal.result.exhaust_valve_temperature,
        "exhaust_valve_nickel" if nickel else "exhaust_valve", "gas at the valve",
        ("model.heat", "engine.exhaust_valve_material"),
    )  # fmt: skip


@rule(
    "exhaust.manifold",
    "Exhaust gas in the manifold",
    asks="Does the manifold's material stand the gas at full load?",
    demand="gas temperature after the port, worst over speeds and corners, at the spark used",
    capacity="the manifold's material",
    harm=Harm.DAMAGE,
    harm_words="the manifold cracks and blows hot gas at its neighbours",
    sense=Sense.AT_MOST,
    limits=tuple(_MANIFOLDS.values()),
)
def manifold(rule: Rule, case: Case) -> Finding | None:
    """The gas that enters the manifold, against the material that the file states."""
    material = case.word("manifold.material") or ""
    return _judge(
        rule, case, lambda line: line.goal.result.exhaust_port_temperature, _MANIFOLDS[material],
        "gas after the port", ("manifold.material",),
    )  # fmt: skip


@rule(
    "exhaust.turbine",
    "Exhaust gas at the turbine",
    asks="Does the turbine stand the gas at full load?",
    demand="gas temperature at the turbine inlet, worst over speeds and corners, at the spark used",
    capacity="turbine wheel and housing, by the housing's material",
    harm=Harm.DAMAGE,
    harm_words="the turbine wheel grows, rubs and breaks, or its housing cracks",
    sense=Sense.AT_MOST,
    limits=("exhaust_turbine", "exhaust_turbine_iron", "exhaust_turbine_steel"),
)
def turbine(rule: Rule, case: Case) -> Finding | None:
    """The gas at the end of the manifold."""
    material = case.word("turbo.housing_material") or ""
    return _judge(
        rule, case, lambda line: line.goal.turbine_inlet_temperature, _HOUSINGS[material],
        "gas at the turbine inlet", ("model.heat", "turbo.housing_material"),
    )  # fmt: skip
