"""Warming of the charge from pull to pull."""

from __future__ import annotations

import math
from dataclasses import replace

from boostwright.findings.case import Case
from boostwright.findings.charge_path import amount, charge_air, last_pull, soak
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import sure_demand
from boostwright.findings.worst import Worst, worst_number
from boostwright.systems.charge_air.cooler import ChargeCooler, CoolingAir

__all__ = ["third_pull"]

_OUTLET_SD = 10.0  # of a compressor outlet temperature from wheel sizes [K]; judgement, as turbo.outlet
_LARGEST = 3.0  # a core more than so many times as large does not go in [-]; judgement

_THERMOMETER = Reading(
    "A quick thermometer in the plenum, logged over three pulls; or two, before and after the cooler.", 3600.0
)


@rule(
    "charge.third_pull",
    "Charge temperature on the third pull",
    asks="Is the charge still cool enough on the third pull in a row?",
    demand="charge temperature in the third pull, the car standing between them, worst over every corner",
    capacity="warmest charge that full load is set for",
    harm=Harm.POOR_RUNNING,
    harm_words="spark and power have to come back, or the third pull knocks where the first did not",
    sense=Sense.AT_MOST,
    limits=("charge_hot",),
)
def third_pull(rule: Rule, case: Case) -> Finding | None:
    """The wall of the core warms from pull to pull; see `physics.heat_soak`."""
    seen = worst_number(case, lambda line: last_pull(case, line))
    if seen is None:
        return None
    value, found = seen
    cooler = charge_air(case).cooler
    limit = case.limits["charge_hot"]
    demand = Amount(value, _soak_sd(case, found, cooler, value), Kind.TEMPERATURE, "charge on the third pull")
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(found.speed),
        corner=found.corner,
        cause=_soak_cause(case, found, cooler),
        remedy=_soak_remedy(rule, case, found, cooler, demand, limit.amount),
        reading=_THERMOMETER,
        notes=_soak_notes(case, found, cooler),
        about=("cooler.effectiveness", "cooler.pause_time", "cooler.pull_time"),
    )


def _at(case: Case, found: Worst, cooler: ChargeCooler, **how: object) -> float:
    """Charge temperature at the worst place in the last pull with another cooler or other air [K]."""
    line = soak(case, found.line, cooler, **how)  # type: ignore[arg-type]
    return math.nan if line is None else float(line.charge[-1, found.place])


def _soak_sd(case: Case, found: Worst, cooler: ChargeCooler | None, value: float) -> float:
    """One standard deviation each of outlet temperature, effectiveness and heat capacity, taken together."""
    if cooler is None:
        return case.left(_OUTLET_SD)
    lighter = replace(cooler, heat_capacity=cooler.heat_capacity / (1.0 + cooler.heat_capacity_spread))
    moved = (
        _at(case, found, cooler, outlet_rise=_OUTLET_SD),
        _at(case, found, cooler.worse(1.0)),
        _at(case, found, lighter),
    )
    return math.hypot(*(v - value for v in moved))


def _soak_cause(case: Case, found: Worst, cooler: ChargeCooler | None) -> Phrase:
    outlet = amount(float(found.goal.compressor_outlet_temperature[found.place]), Kind.TEMPERATURE)
    if cooler is None:
        return Phrase(
            "The air leaves the compressor with {outlet}, and nothing cools it.", {"outlet": outlet}
        )
    first = soak(case, found.line, cooler)
    assert first is not None
    amounts = {
        "outlet": outlet,
        "first": amount(float(first.charge[0, found.place]), Kind.TEMPERATURE),
        "wall": amount(float(first.wall_end[-1]), Kind.TEMPERATURE),
    }
    what = "water" if cooler.water else "core"
    return Phrase(
        "The air comes with {outlet} from the compressor. In the first pull it leaves the cooler with"
        f" {{first}} at this speed; the {what} warms from pull to pull and ends the last one at {{wall}}.",
        amounts,
    )


def _soak_notes(case: Case, found: Worst, cooler: ChargeCooler | None) -> tuple[Phrase, ...]:
    if cooler is None:
        return ()
    rolling = _at(case, found, cooler, pause_air=CoolingAir.MOVING)
    still = _at(case, found, cooler, air=CoolingAir.STANDING, pause_air=CoolingAir.STANDING)
    fan = _at(case, found, cooler, air=CoolingAir.FAN, pause_air=CoolingAir.FAN)
    return (
        Phrase(
            "With the car rolling between pulls it is {rolling}.",
            {"rolling": amount(rolling, Kind.TEMPERATURE)},
        ),
        Phrase(
            "On a bench the third pull reaches {still} without a fan and {fan} before a usual one.",
            {"still": amount(still, Kind.TEMPERATURE), "fan": amount(fan, Kind.TEMPERATURE)},
        ),
    )


def _soak_remedy(
    rule: Rule, case: Case, found: Worst, cooler: ChargeCooler | None, demand: Amount, limit: Amount
) -> Phrase:
    """A core so many times as large, where that is enough."""
    if case.drawn:
        return Phrase("")
    if cooler is None:
        return Phrase("Fit a charge cooler.")
    wanted = sure_demand(limit, demand, rule.sense, rule.harm)
    if demand.value <= wanted:
        return Phrase("Leave it as it is, and leave a pause between pulls.")
    size = _core_times(case, found, cooler, wanted)
    if size is None:
        return Phrase(
            "A larger core alone does not do it ({room} too warm for a sure hold): ask for less boost in the"
            " heat, lead air to the core and seal around it, or leave longer pauses.",
            {"room": amount(demand.value - wanted, Kind.TEMPERATURE_DIFFERENCE)},
        )
    ways = " Lead air to it and seal around it first." if not case.build.flag("cooler.ducted") else ""
    if cooler.volume is not None:
        return Phrase(
            f"Fit a core of {{litres}}, in as much more air, or leave longer pauses.{ways}",
            {"litres": amount(cooler.volume * size, Kind.VOLUME)},
        )
    return Phrase(
        f"Fit a core {{times}} times as large, in as much more air, or leave longer pauses.{ways}",
        {"times": amount(size, Kind.RATIO)},
    )


def _core_times(case: Case, found: Worst, cooler: ChargeCooler, wanted: float) -> float | None:
    """How many times as large the core must be [-]; None when three times is not enough."""
    low, high = 1.0, _LARGEST
    if not _at(case, found, cooler.times(high)) <= wanted:
        return None
    for _ in range(12):
        middle = (low + high) / 2
        low, high = (low, middle) if _at(case, found, cooler.times(middle)) <= wanted else (middle, high)
    return high
