"""An exhaust temperature probe behind the turbine: what it does not see."""

from __future__ import annotations

import math

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.charge_path import tail
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.worst import Line, worst_number

__all__ = ["probe_place"]

_SD = 15.0  # of the computed fall across the turbine [K] (judgement)
_SHARE = 0.1  # the same, relative: compressor efficiency and bearing loss (judgement)


@rule(
    "exhaust.probe_place",
    "Place of the exhaust probe",
    asks="Does the exhaust temperature probe see what the manifold and the turbine see?",
    demand="fall of the gas temperature across the turbine, by the match, where it is largest",
    capacity="by how much a probe may miss the manifold's gas",
    harm=Harm.DAMAGE,
    harm_words="the alarm comes when manifold and turbine are past their limit already",
    sense=Sense.AT_MOST,
    limits=("probe_short",),
)
def probe_place(rule: Rule, case: Case) -> Finding | None:
    """T_3 - T_4 = m_a cp_a (T_2 - T_0)/(m_e cp_e); silent unless the probe is stated behind the turbine."""
    if case.goal is None or case.word("exhaust.probe") != "behind":
        return None

    def fall(line: Line) -> np.ndarray:
        return np.asarray(line.goal.turbine_inlet_temperature - tail(case, line).temperature)

    found = worst_number(case, fall)
    if found is None:
        return None
    value, there = found
    limit = case.limits["probe_short"]
    before = float(there.goal.turbine_inlet_temperature[there.place])
    sd = math.hypot(_SD, _SHARE * value)
    return rule.finding(
        Amount(value, sd, Kind.TEMPERATURE_DIFFERENCE, "fall across the turbine"),
        limit.amount,
        limit,
        place=Place(there.speed),
        corner=there.corner,
        cause=Phrase(
            "The turbine takes the compressor's work out of the gas: {before} before it are {behind} behind"
            " it.",
            {
                "before": Amount(before, None, Kind.TEMPERATURE),
                "behind": Amount(before - value, None, Kind.TEMPERATURE),
            },
        ),
        remedy=Phrase(
            "Move the probe into the collector before the turbine, or set its alarm {value} lower than for"
            " the manifold.",
            {"value": Amount(value, None, Kind.TEMPERATURE_DIFFERENCE)},
        ),
        reading=Reading("A second probe in the collector, one graded pull with both.", 3600.0),
        about=("exhaust.probe",),
    )
