"""Full load at low speed: pre-ignition, and the earliest speed at which the engine may be loaded fully."""

from __future__ import annotations

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import sure_demand
from boostwright.findings.worst import Line, Worst, worst_number

__all__ = ["low_speed"]

_LOAD_SD = 0.08  # of a computed mean effective pressure under boost


@rule(
    "knock.low_speed",
    "Full load at low speed",
    asks="Is the engine loaded so hard at low speed that it may light by itself before the spark?",
    demand="greatest brake mean effective pressure below the earliest speed for full load, over every corner",
    capacity="load at low speed that port-injected engines stand",
    harm=Harm.DAMAGE,
    harm_words="one cycle that lights long before the spark breaks a ring land or bends a rod",
    sense=Sense.AT_MOST,
    limits=("low_speed_load", "low_speed_end"),
)
def low_speed(rule: Rule, case: Case) -> Finding | None:
    """bmep = 4 pi T / V_d at the knock-limited spark; silent where no speed below that limit was computed."""
    end = case.limits["low_speed_end"].amount.value

    def load(line: Line) -> np.ndarray:
        return np.where(line.goal.speed < end, line.goal.result.bmep, np.nan)

    seen = worst_number(case, load)
    if seen is None:
        return None
    value, found = seen
    limit = case.limits["low_speed_load"]
    demand = Amount(
        value,
        case.left(_LOAD_SD) * value,
        Kind.PRESSURE,
        "greatest mean effective pressure at low speed",
    )
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(found.speed),
        corner=found.corner,
        cause=Phrase(
            "Boost of {boost} is there below {end} already, where the mixture has the longest time and oil"
            " in it the most chances.",
            {
                "boost": Amount(float(found.goal.boost[found.place]), None, Kind.PRESSURE_GAUGE),
                "end": Amount(end, None, Kind.ENGINE_SPEED),
            },
        ),
        remedy=_remedy(rule, case, found, demand, limit.amount, end),
        reading=Reading("A logged pull from 1500 rpm with manifold pressure and knock signal.", 3600.0),
        about=("turbo.turbine_housing", "goal.boost"),
    )


def _remedy(rule: Rule, case: Case, found: Worst, demand: Amount, limit: Amount, end: float) -> Phrase:
    wanted = sure_demand(limit, demand, rule.sense, rule.harm, relative=True)
    amounts = {
        "load": Amount(wanted, None, Kind.PRESSURE),
        "end": Amount(end, None, Kind.ENGINE_SPEED),
    }
    if demand.value <= wanted:
        return Phrase(
            "Leave it, and do not floor it in a high gear below {end}; up to {load} is sure.", amounts
        )
    boost = _boost_for(case, found, wanted)
    if boost is None:
        return Phrase("Do not give full load below {end}; keep to {load} of mean pressure there.", amounts)
    amounts["boost"] = Amount(boost, None, Kind.PRESSURE_GAUGE)
    return Phrase(
        "Let the controller hold {boost} or less below {end}, and full boost from there on only.", amounts
    )


def _boost_for(case: Case, found: Worst, wanted: float) -> float | None:
    """Boost [Pa] for a mean effective pressure [Pa], between the engine before the turbo and with it."""
    goal, base = found.goal, case.baseline
    before = float(np.interp(found.speed, base.speeds, base.result.bmep))
    boost, after = float(goal.boost[found.place]), float(goal.result.bmep[found.place])
    if after <= before or boost <= 0.0 or wanted <= before:
        return None
    return boost * (wanted - before) / (after - before)
