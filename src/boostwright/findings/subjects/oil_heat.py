"""Heat that the turbo gives to the oil, and how hot the oil gets."""

from __future__ import annotations

import math

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.oil_case import HotOil, hot_oil, rise_in_turbo, speaks_of
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import sure_demand
from boostwright.systems.oil import minutes_to

__all__ = ["heat"]

_EXTRA_SD = 0.3  # relative, of the heat that full load adds, for its digits [-]


@rule(
    "oil.heat",
    "Oil temperature with the turbo",
    asks="Does the oil stay cool enough when turbo and boost add their heat?",
    demand="oil temperature at the end of the third pull in a row: the reading before the conversion, the"
    " turbo's heat by the match's shaft speed and turbine inlet temperature, and the heat of the burn",
    capacity="hottest oil that keeps its film",
    harm=Harm.WEAR,
    harm_words="the film in bearings and turbo thins away, and the oil cokes in the turbo",
    sense=Sense.AT_MOST,
    limits=("oil_temperature",),
)
def heat(rule: Rule, case: Case) -> Finding | None:
    """T_before + E/UA (1 - exp(-t/tau)), pull after pull."""
    hot = hot_oil(case)
    if hot is None or not speaks_of(case, "oil"):
        return None
    limit = case.limits["oil_temperature"]
    demand = Amount(hot.value, hot.sd, Kind.TEMPERATURE, "oil after the third pull")
    most = sure_demand(limit.amount, demand, rule.sense, rule.harm)
    amounts = {
        "turbo": Amount(hot.turbo, hot.turbo_sd, Kind.POWER),
        "rise": Amount(rise_in_turbo(case, hot), None, Kind.TEMPERATURE_DIFFERENCE),
        "extra": Amount(hot.heat.extra, _EXTRA_SD * abs(hot.heat.extra), Kind.POWER),
        "before": Amount(hot.before, None, Kind.TEMPERATURE),
        "most": Amount(most, None, Kind.TEMPERATURE),
        "over": Amount(hot.value - most, None, Kind.TEMPERATURE_DIFFERENCE),
        "takes": Amount(_cooler(hot, most), None, Kind.POWER),
        "limit": limit.amount,
    }
    remedy = "Leave it as it is; a gauge in sight, and let it idle a minute or two before you switch off."
    if hot.value > most:
        remedy = (
            "Take {over} off: an oil cooler with a thermostat that takes {takes} at {limit}, or longer pauses"
            " and shorter pulls; read the temperature before the conversion if it is only assumed."
        )
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(hot.there.speed),
        corner=hot.there.corner,
        cause=Phrase(
            "Before the conversion the oil ends a hard drive at {before}. At full load here the turbo gives"
            " it {turbo:band}, which warms what passes the bearing by {rise}; with the greater burn {extra}"
            " more goes in than in that drive.",
            amounts,
        ),
        remedy=Phrase(remedy, amounts),
        reading=Reading(
            "Probe down the dipstick tube at the end of a hard drive, before and after the conversion.",
            1800.0,
        ),
        notes=_notes(hot, limit.amount),
        assumed=""
        if case.build.is_stated("oil.temperature")
        else "The oil's temperature was not read; that of a usual engine driven hard stands in.",
        about=("oil.temperature", "oil.sump_volume", "turbo.water_cooled", "cooler.pull_time"),
    )


def _cooler(hot: HotOil, most: float) -> float:
    """Heat that a cooler must take so that lasting full load ends where it is sure [W]."""
    return max(hot.heat.extra - hot.heat.conductance * (most - hot.heat.before), 0.0)


def _notes(hot: HotOil, limit: Amount) -> tuple[Phrase, ...]:
    time = minutes_to(hot.heat, limit.value)
    if not math.isfinite(time):
        return ()
    return (
        Phrase(
            "Lasting full load, as on a long climb or a bench, would bring it to {limit} in about {time}.",
            {"limit": limit, "time": Amount(time, None, Kind.TIME if time >= 90.0 else Kind.DELAY)},
        ),
    )
