"""Range of the pressure sensor against the highest pressure that it must see."""

from __future__ import annotations

import math

import numpy as np

from boostwright.findings.case import Case
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

__all__ = ["sensor_range"]

_CONTROL_SD = (
    12.0e3  # of the boost that really stands against the one asked for [Pa] (common practice, no source)
)
_FULL_SCALE_SD = 0.015  # of a stated full scale [-] (common practice, no source)


@rule(
    "sensor.range",
    "Range of the pressure sensor",
    asks="Does the pressure sensor still read at the highest pressure that the plenum can see?",
    demand="outside air, boost that is reached, creep and spike of the gate",
    capacity="highest pressure that the sensor reads",
    harm=Harm.SEVERE,
    harm_words="the controller sees too little air, the engine runs lean and too early at full boost, and"
    " a piston goes",
    sense=Sense.AT_MOST,
    limits=("sensor_unknown",),
)
def sensor_range(rule: Rule, case: Case) -> Finding | None:
    """p = p_ambient + boost + creep + spike; a sensor of unknown transfer may end near 105 kPa: unknown,
    not 'holds'.
    """
    goal = case.goal
    if goal is None or not goal.settled.any():
        return None
    boost = np.where(goal.settled, goal.boost, np.nan)
    i = int(np.nanargmax(boost))
    creep = case.amount("wastegate.creep", Kind.PRESSURE_DIFFERENCE, "creep")
    spike = case.amount("wastegate.spike", Kind.PRESSURE_DIFFERENCE, "spike")
    extra = [a for a in (creep, spike) if a is not None]
    highest = case.ambient_pressure + float(boost[i]) + sum(a.value for a in extra)
    sd = math.hypot(_CONTROL_SD, *(a.sd or 0.0 for a in extra))
    demand = Amount(highest, sd, Kind.PRESSURE_ABSOLUTE, "boost, creep and spike on the outside air")
    top = case.amount("pressure_sensor.highest", Kind.PRESSURE_ABSOLUTE, "top of the sensor's range")
    limit = case.limits["sensor_unknown"]
    needed = Amount(highest + 2.0 * sd, None, Kind.PRESSURE_ABSOLUTE)
    known = top is not None
    if top is not None:
        capacity = Amount(
            top.value, math.hypot(top.sd or 0.0, _FULL_SCALE_SD * top.value), top.kind, top.name
        )
    else:
        capacity = limit.amount
    stated = case.stated("pressure_sensor.highest")
    record = LimitRecord(
        "pressure_sensor.highest",
        f"the build file, line {stated.line}" if stated is not None and stated.line else limit.record.source,
        "The range that you state, with the tolerance of a full scale." if known else limit.record.reason,
        limit.record.edited and not known,
        limit.record.edit_reason if not known else "",
    )
    return rule.finding(
        demand,
        capacity,
        record,
        place=Place(float(goal.speed[i])),
        corner=case.corner,
        cause=Phrase(
            "Above its top the sensor's signal stands still, and fuel and spark stay where they were."
            if known
            else "Nobody has stated how far this sensor reads; one made for a naturally aspirated car may end"
            " just above the outside air."
        ),
        remedy=Phrase(
            "Fit a sensor that reads to at least {needed}, and enter its own scale.", {"needed": needed}
        ),
        reading=Reading(
            "Key on, engine off: the reading must equal the barometer. Then put 50 and 100 kPa from a"
            " hand pump on its hose and see whether the reading follows.",
            900.0,
        ),
        about=("pressure_sensor.highest", "wastegate.creep", "wastegate.spike"),
        undecided=not known,
    )
