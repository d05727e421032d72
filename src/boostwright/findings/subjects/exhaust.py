"""Exhaust gas temperature at the valve, at the manifold's end and at the turbine, by material."""

from __future__ import annotations

import math

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.judge import HOLDS_FROM, probability_holds
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule

__all__ = ["manifold", "turbine", "valve"]

_MODEL_SD = 40.0  # of a computed exhaust temperature without a thermocouple [K]
_RICHEST = 0.76  # lambda below which more fuel mostly washes the bores (common practice, no source)
_LATE = math.radians(1.0)  # a spark less late than this does not warm the exhaust worth a word
_PER_LAMBDA = 730.0  # K that a richer mixture takes off, for each unit of lambda, on the rich side

_MANIFOLDS = {
    "iron": "exhaust_iron",
    "mild-steel": "exhaust_mild_steel",
    "stainless": "exhaust_stainless",
    "ni-resist": "exhaust_nickel_iron",
    "": "exhaust_unknown",
}


def _judge(
    rule: Rule, case: Case, temperature: np.ndarray, key: str, name: str, about: str
) -> Finding | None:
    goal = case.goal
    assert goal is not None
    worst = int(np.nanargmax(temperature))
    limit = case.limits[key]
    found = float(temperature[worst])
    late = float(goal.used_spark[worst] - goal.mbt_spark[worst])
    demand = Amount(found, _MODEL_SD, Kind.TEMPERATURE, name)
    unstated = key == "exhaust_unknown"
    sure = (probability_holds(demand, limit.amount, Sense.AT_MOST) or 0.0) >= HOLDS_FROM[rule.harm]
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(float(goal.speed[worst])),
        corner=case.corner,
        cause=_cause(late),
        remedy=_remedy(found, limit.amount, float(goal.lam[worst])),
        reading=Reading(
            "Find out what the manifold is made of: a magnet, a file and the seller will tell.", 900.0
        )
        if unstated
        else Reading(
            "A thermocouple in the manifold during a pull; it reads 40 to 90 K less than the gas.", 7200.0
        ),
        about=(about, "fuel.lambda_boost"),
        undecided=unstated and not sure,
    )


def _cause(late: float) -> Phrase:
    """Why it is hot; `late` is how much later than MBT the spark stands [rad]."""
    if late < _LATE:
        return Phrase(
            "More gas passes each second than before the turbo. Knock hardly holds the spark back here, so"
            " an earlier spark cannot cool it."
        )
    return Phrase(
        "Knock holds the spark {late} later than the one of greatest torque: what burns late leaves hot,"
        " and more gas passes each second than before the turbo.",
        {"late": Amount(late, None, Kind.CRANK_DIFFERENCE)},
    )


def _remedy(found: float, limit: Amount, lam: float) -> Phrase:
    """What to do: richer where that is enough for a sure hold, else shorter pulls, less boost or other
    parts.
    """
    assert limit.sd is not None
    over = found - (limit.value - 1.65 * math.hypot(limit.sd, _MODEL_SD))
    richer = lam - over / _PER_LAMBDA
    if over <= 0.0:
        return Phrase(
            "Keep lambda {lam} at full load and the spark no later than it must be.", {"lam": _lam(lam)}
        )
    if richer >= _RICHEST:
        return Phrase(
            "Run lambda {lam} at full load here, a little over 7 K cooler for each 0.01, or make pulls"
            " short.",
            {"lam": _lam(richer)},
        )
    return Phrase(
        "Ask for less boost here, make pulls short, or fit parts of a material that stands it; a richer"
        " mixture alone (lambda {lam} would take {takes} off) does not do it.",
        {
            "lam": _lam(_RICHEST),
            "takes": Amount((lam - _RICHEST) * _PER_LAMBDA, None, Kind.TEMPERATURE_DIFFERENCE),
        },
    )


def _lam(value: float) -> Amount:
    return Amount(value, None, Kind.RATIO)


@rule(
    "exhaust.valve",
    "Exhaust gas at the valve",
    asks="Do the exhaust valves stand the gas at full load?",
    demand="gas temperature at the valve, worst over speed, at the spark used",
    capacity="exhaust valves of a naturally aspirated engine",
    harm=Harm.DAMAGE,
    harm_words="an exhaust valve stretches, burns or loses its head",
    sense=Sense.AT_MOST,
    limits=("exhaust_valve",),
)
def valve(rule: Rule, case: Case) -> Finding | None:
    """The mass mean of the gas at the valve."""
    if case.goal is None:
        return None
    gas = case.goal.result.exhaust_valve_temperature
    return _judge(rule, case, gas, "exhaust_valve", "gas at the valve", "model.heat")


@rule(
    "exhaust.manifold",
    "Exhaust gas in the manifold",
    asks="Does the manifold's material stand the gas at full load?",
    demand="gas temperature after the port, worst over speed, at the spark used",
    capacity="the manifold's material",
    harm=Harm.DAMAGE,
    harm_words="the manifold cracks and blows hot gas at its neighbours",
    sense=Sense.AT_MOST,
    limits=tuple(_MANIFOLDS.values()),
)
def manifold(rule: Rule, case: Case) -> Finding | None:
    """The gas that enters the manifold, against the material that the file states."""
    if case.goal is None:
        return None
    material = case.word("manifold.material") or ""
    gas = case.goal.result.exhaust_port_temperature
    return _judge(rule, case, gas, _MANIFOLDS[material], "gas after the port", "manifold.material")


@rule(
    "exhaust.turbine",
    "Exhaust gas at the turbine",
    asks="Does the turbine stand the gas at full load?",
    demand="gas temperature at the turbine inlet, worst over speed, at the spark used",
    capacity="turbine wheel and housing of common alloys",
    harm=Harm.DAMAGE,
    harm_words="the turbine wheel grows, rubs and breaks, or its housing cracks",
    sense=Sense.AT_MOST,
    limits=("exhaust_turbine",),
)
def turbine(rule: Rule, case: Case) -> Finding | None:
    """The gas at the end of the manifold."""
    if case.goal is None:
        return None
    gas = case.goal.turbine_inlet_temperature
    return _judge(rule, case, gas, "exhaust_turbine", "gas at the turbine inlet", "model.heat")
