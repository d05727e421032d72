"""The catch can: does it hold what blow-by brings until it is emptied."""

from __future__ import annotations

import math

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.crankcase_case import crankcase_line
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
from boostwright.findings.oil_case import speaks_of
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import sure_demand
from boostwright.findings.worst import worst_number
from boostwright.library.oil import oil_constant
from boostwright.physics.atmosphere import R_DRY_AIR

__all__ = ["can"]

_LIQUID = 950.0  # oil and water mixed [kg/m3]
_GAS_PRESSURE = 101325.0


@rule(
    "crankcase.can",
    "Catch can",
    asks="Does the catch can hold what gathers until it is emptied?",
    demand="oil and water out of the blow-by of the match, over the distance between two emptyings",
    capacity="part of the can that may fill",
    harm=Harm.POOR_RUNNING,
    harm_words="a full can sends its oil into the intake, where it knocks, or onto the ground",
    sense=Sense.AT_MOST,
)
def can(rule: Rule, case: Case) -> Finding | None:
    """V = (oil + water in a cubic metre) x blow-by x load share x distance/speed."""
    volume = case.amount("breather.can_volume", Kind.VOLUME, "the can")
    if case.word("breather.outlet") != "can" or not speaks_of(case, "breather"):
        return None
    seen = worst_number(case, lambda line: _gas(case, line))
    if seen is None:
        return None
    gas, there = seen
    oil, water, load = (oil_constant("can", n) for n in ("oil", "water", "load"))
    speed, useful = oil_constant("can", "speed"), oil_constant("can", "useful")
    distance = case.build.number("breather.can_interval")
    rate = (
        (oil.value + water.value) / _LIQUID * load.value * gas / speed.value
    )  # liquid for each metre [m3/m]
    relative = math.hypot(
        math.hypot(oil.sd, water.sd) / (oil.value + water.value),
        load.sd / load.value,
        speed.sd / speed.value,
        oil_constant("rings", "service").sd / oil_constant("rings", "service").value,
    )
    demand = Amount(rate * distance, relative * rate * distance, Kind.VOLUME, "what gathers")
    capacity = None
    if volume is not None:
        sd = (
            volume.value
            * useful.value
            * math.hypot((volume.sd or 0.0) / volume.value, useful.sd / useful.value)
        )
        capacity = Amount(volume.value * useful.value, sd, Kind.VOLUME, "may fill")
    of_can = Amount(1.0, useful.sd / useful.value, Kind.VOLUME)
    fill = sure_demand(demand, of_can, Sense.AT_LEAST, rule.harm, relative=True)
    amounts = {
        "gas": Amount(gas * load.value, None, Kind.OIL_FLOW),
        "rate": Amount(rate * 1000e3, relative * rate * 1000e3, Kind.VOLUME),
        "way": Amount(distance, None, Kind.DISTANCE),
        "size": Amount(fill / useful.value, None, Kind.VOLUME),
    }
    remedy = "State the can's volume; {size} is sure for {way}."
    if capacity is not None:
        often = sure_demand(capacity, demand, rule.sense, rule.harm, relative=True) / rate
        amounts["often"] = Amount(often, None, Kind.DISTANCE)
        remedy = "Empty it each {often}, more often in frost, or fit one of {size}."
        if often >= distance:
            remedy = "Keep to it; in frost look at half of the distance, for water freezes in the hose."
    return rule.finding(
        demand,
        capacity,
        LimitRecord("computed", "common practice, no source", "A can carries over long before it is full."),
        place=Place(words="mean of a mixed road"),
        corner=there.corner,
        cause=Phrase(
            "About {gas} of gas comes through on the road, and leaves {rate} of oil and water in 1000 km.",
            amounts,
        ),
        remedy=Phrase(remedy, amounts),
        reading=Reading("Weigh the can after 100 km.", 600.0),
        about=("breather.can_volume", "breather.can_interval", "breather.outlet"),
    )


def _gas(case: Case, line: object) -> np.ndarray:
    """Volume of the blow-by along a line [m3/s]."""
    found = crankcase_line(case, line)  # type: ignore[arg-type]
    if found is None:
        return np.array(math.nan)
    density = _GAS_PRESSURE / (R_DRY_AIR * oil_constant("breather", "temperature").value)
    return np.asarray(found.gas / density)
