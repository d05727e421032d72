"""The pressure sensor's ground: what a voltage between it and the block does to the reading."""

from __future__ import annotations

import math

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import deviations
from boostwright.systems.stated.sensing import pressure_sensor_of

__all__ = ["sensor_ground"]

_IDLE_PRESSURE = 35.0e3  # in the manifold at warm idle, for the words only (common practice, no source) [Pa]


def _boosted(case: Case) -> float:
    """Highest pressure in the plenum on the ordinary day [Pa]; the outside air without a turbo line."""
    return case.ambient_pressure if case.goal is None else float(np.nanmax(case.goal.plenum_pressure))


@rule(
    "electrics.sensor_ground",
    "Ground of the pressure sensor",
    asks="Does the sensor's ground stand where the controller believes it to be?",
    demand="voltage read between the sensor's ground and the block",
    capacity="voltage that this sensor's scale turns into an error which is lost among the others",
    harm=Harm.POOR_RUNNING,
    harm_words="fuel and spark follow a pressure that is not there, and most when fan and lights are on",
    sense=Sense.AT_MOST,
    limits=("sensor_ground",),
)
def sensor_ground(rule: Rule, case: Case) -> Finding | None:
    """|U| against dp (U_high - U_low)/(p_high - p_low); silent where nobody has read it."""
    offset = case.stated("pressure_sensor.ground_offset")
    if offset is None:
        return None
    transfer = pressure_sensor_of(case.build).transfer
    span = float(np.asarray(transfer.highest) - np.asarray(transfer.lowest))
    slope = abs(span / float(np.asarray(transfer.signal_highest) - np.asarray(transfer.signal_lowest)))
    volts, sd = abs(float(offset.value)), float(offset.sd or 0.0)
    demand = Amount(volts, sd, Kind.SIGNAL, "on the sensor's ground")
    limit = case.limits["sensor_ground"]
    capacity = Amount(
        limit.amount.value / slope, (limit.amount.sd or 0.0) / slope, Kind.SIGNAL, "lost among other errors"
    )
    room = deviations(rule.harm) * math.hypot(demand.sd or 0.0, capacity.sd or 0.0)
    amounts = {
        "volts": demand,
        "idle": Amount(volts * slope / _IDLE_PRESSURE, None, Kind.SHARE),
        "boost": Amount(volts * slope / _boosted(case), None, Kind.SHARE),
        "most": Amount(max(capacity.value - room, 0.0), None, Kind.SIGNAL),
    }
    return rule.finding(
        demand,
        capacity,
        limit,
        place=Place(words="at any pressure alike"),
        cause=Phrase(
            "{volts} on the ground shift the reading by {idle} of the pressure at idle and {boost} at full"
            " load, and fuel with it.",
            amounts,
        ),
        remedy=Phrase(
            "Leave it; up to {most} are lost among the other errors."
            if demand.value + room <= capacity.value
            else "Lead the sensor's ground to the controller alone, not to block or pump, and refit the"
            " strap from engine to body, until {most} or less are left.",
            amounts,
        ),
        reading=Reading(
            "Millivolts from the sensor's ground pin to the block, fan, lights and pump on.", 600.0
        ),
        about=("pressure_sensor.ground_offset",),
    )
