"""Range of the pressure sensor against the highest pressure that it must see."""

from __future__ import annotations

import math

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
from boostwright.findings.subjects.cuts import highest_pressure

__all__ = ["sensor_range"]

_FULL_SCALE_SD = 0.015  # of a stated full scale [-] (common practice, no source)


@rule(
    "sensor.range",
    "Range of the pressure sensor",
    asks="Does the pressure sensor still read at the highest pressure that the plenum can see?",
    demand="plenum pressure that the match reaches on the worst day, creep and spike of the gate",
    capacity="highest pressure that the sensor reads",
    harm=Harm.SEVERE,
    harm_words="the controller sees too little air, the engine runs lean and too early at full boost, and"
    " a piston goes",
    sense=Sense.AT_MOST,
    limits=("sensor_unknown",),
)
def sensor_range(rule: Rule, case: Case) -> Finding | None:
    """p = p_plenum + creep + spike in the worst corner; a sensor of unknown transfer may end near 105 kPa:
    unknown, not 'holds'.
    """
    found = highest_pressure(case)
    if found is None:
        return None
    demand, there = found
    sd = demand.sd or 0.0
    top = case.amount("pressure_sensor.highest", Kind.PRESSURE_ABSOLUTE, "top of the sensor's range")
    limit = case.limits["sensor_unknown"]
    needed = Amount((demand.value + 2.0 * sd) / (1.0 - _FULL_SCALE_SD), None, Kind.PRESSURE_ABSOLUTE)
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
        place=Place(there.speed),
        corner=there.corner,
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
