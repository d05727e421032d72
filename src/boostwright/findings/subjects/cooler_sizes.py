"""A cooler that is stated twice: by its effectiveness and by the sizes of its core."""

from __future__ import annotations

import math

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.charge_path import charge_air
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.systems.stated.charge_cooler import core_size

__all__ = ["stated_twice"]

_R_AIR = 287.05


@rule(
    "charge.cooler_sizes",
    "Effectiveness against the core's sizes",
    asks="Do the stated effectiveness of the cooler and the sizes of its core speak of the same cooler?",
    demand="difference between the stated effectiveness and that of such a core, at the greatest flow",
    capacity="difference that maker's figures and an estimate from sizes may have",
    harm=Harm.POOR_RUNNING,
    harm_words="one of the two is wrong, and charge temperature and knock with it",
    sense=Sense.AT_MOST,
    limits=("cooler_sizes",),
)
def stated_twice(rule: Rule, case: Case) -> Finding | None:
    """|stated - computed|; silent unless both are stated. Everything else is computed by the sizes."""
    stated = case.stated("cooler.effectiveness")
    if stated is None or not case.build.is_stated("cooler.effectiveness") or core_size(case.build) is None:
        return None
    cooler, goal = charge_air(case).cooler, case.goal
    if cooler is None or goal is None or not goal.settled.any():
        return None
    place = int(np.nanargmax(np.where(goal.settled, goal.result.air_flow, np.nan)))
    density = case.ambient_pressure / (_R_AIR * case.ambient_temperature)
    flow = float(goal.result.air_flow[place])
    computed, told = float(cooler.effectiveness_at(flow, density=density)), float(stated.value)
    limit = case.limits["cooler_sizes"]
    amounts = {
        "stated": Amount(told, None, Kind.SHARE),
        "computed": Amount(computed, None, Kind.SHARE),
        "flow": Amount(flow, None, Kind.MASS_FLOW),
    }
    return rule.finding(
        Amount(
            abs(told - computed),
            math.hypot(cooler.sd, float(stated.sd or 0.0)),
            Kind.SHARE,
            "difference of the two",
        ),
        limit.amount,
        limit,
        place=Place(float(goal.speed[place])),
        corner=case.corner,
        cause=Phrase(
            "You state {stated}; a core of these sizes gives {computed} at {flow}, and everything here is"
            " computed by that.",
            amounts,
        ),
        remedy=Phrase(
            "Measure the core again, without its tanks; if the sizes stand and the figure is a reading, take"
            " the sizes out of the file.",
        ),
        reading=Reading("A quick thermometer before and after the cooler, one pull.", 3600.0),
        about=("cooler.effectiveness", "cooler.width", "cooler.height", "cooler.depth"),
    )
