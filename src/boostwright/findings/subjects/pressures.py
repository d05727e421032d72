"""Exhaust pressure against plenum pressure: what stays in the cylinders, and what the pistons push out."""

from __future__ import annotations

import math

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.resized import bench, housing_where, turbine_where
from boostwright.findings.sure import sure_demand
from boostwright.findings.worst import Line, Worst, worst_number
from boostwright.library.turbo_sizes import turbine_band

__all__ = ["back_pressure"]

_LEAST_BOOST = 0.1e5  # below it the ratio says nothing of the turbine [Pa above the outside air]
_ABOUT = ("turbo.turbine_housing", "turbo.turbine_exducer", "exhaust.back_pressure")


def _ratio(line: Line) -> np.ndarray:
    goal = line.goal
    return np.where(goal.boost >= _LEAST_BOOST, goal.exhaust_pressure / goal.plenum_pressure, np.nan)


@rule(
    "exhaust.back_pressure",
    "Exhaust pressure over plenum pressure",
    asks="Does the turbine leave the engine room to breathe out?",
    demand="greatest exhaust pressure over plenum pressure where there is boost, over every speed and corner",
    capacity="ratio up to which road conversions run well",
    harm=Harm.POOR_RUNNING,
    harm_words="hot gas stays in the cylinders, knock comes early and the top of the rev range goes flat",
    sense=Sense.AT_MOST,
    limits=("back_pressure_ratio",),
)
def back_pressure(rule: Rule, case: Case) -> Finding | None:
    """p3 / p_im, both absolute. Spread: the turbine's area and efficiency as far as they move p3."""
    seen = worst_number(case, _ratio)
    if seen is None:
        return None
    value, found = seen
    goal, i, limit = found.goal, found.place, case.limits["back_pressure_ratio"]
    over = 1.0 - found.line.ambient_pressure / float(goal.exhaust_pressure[i])
    band = turbine_band()
    # the part above the outside air carries the turbine's spread: area, and power at a given drop
    sd = value * max(over, 0.0) * math.hypot(band.area, band.efficiency / 0.65)
    demand = Amount(value, sd, Kind.RATIO, "exhaust pressure over plenum pressure, both absolute")
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(found.speed),
        corner=found.corner,
        cause=Phrase(
            "Before the turbine stand {before} for {plenum} in the plenum: the turbine must drive the"
            " compressor, and its housing lets no more through.",
            {
                "before": Amount(float(goal.exhaust_pressure[i]), None, Kind.PRESSURE_ABSOLUTE),
                "plenum": Amount(float(goal.plenum_pressure[i]), None, Kind.PRESSURE_ABSOLUTE),
            },
        ),
        remedy=_remedy(rule, case, found, demand, limit.amount),
        reading=Reading(
            "A gauge on the exhaust manifold through a coil of copper pipe, on one full pull.", 5400.0
        ),
        about=_ABOUT,
    )


def _remedy(rule: Rule, case: Case, found: Worst, demand: Amount, limit: Amount) -> Phrase:
    """A larger housing where it is enough, else a larger turbine wheel with it."""
    wanted = sure_demand(limit, demand, rule.sense, rule.harm)
    plenum = float(found.goal.plenum_pressure[found.place])
    most = Amount(wanted * plenum, None, Kind.PRESSURE_ABSOLUTE)
    if demand.value <= wanted:
        return Phrase(
            "Leave it; up to {most} before the turbine is sure here, exhaust and catalyst clean.",
            {"most": most},
        )
    place = bench(case, found.line, found.place)
    housing = None if place is None else housing_where(place, most.value)
    if housing is not None:
        return Phrase(
            "Fit a turbine housing of A/R {housing} or more (it brings boost later).",
            {"housing": Amount(housing, None, Kind.LENGTH)},
        )
    wheel = None if place is None else turbine_where(place, most.value)
    if wheel is not None:
        return Phrase(
            "Another housing alone does not do it: fit a turbine wheel with an exducer of {wheel} or more and"
            " a housing to match (boost comes later).",
            {"wheel": Amount(wheel, None, Kind.LENGTH)},
        )
    return Phrase(
        "No turbine of this family does it: ask for less boost, or bring what stands before the turbine down"
        " to {most}.",
        {"most": most},
    )
