"""Oil's way home from the turbo: what the drain carries, where it enters, the outlet, the level."""

from __future__ import annotations

import math
from dataclasses import replace

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
from boostwright.findings.oil_case import figure_sd, oil_side, sided, speaks_of
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import deviations, sure_demand
from boostwright.systems.oil import drain_of, feed_at
from boostwright.systems.stated.oil import turbo_volume_of

__all__ = ["drain", "entry", "level", "tilt"]

_STEEP = math.radians(45.0)  # the slope that a remedy asks for at least
_FIELDS = {"bore": "oil.drain_bore", "slope": "oil.drain_slope"}
_WIDEST = 25e-3  # no drain of a car is wider [m]


@rule(
    "oil.drain",
    "Drain of the turbo",
    asks="Does the drain take home all the oil that the bearing gets?",
    demand="oil that leaves the bearing at the top of the rev range, hot",
    capacity="what runs down half of the drain's bore at its least slope, air in the oil counted",
    harm=Harm.WEAR,
    harm_words="oil stands in the centre housing and is pushed past the seals: smoke, coke",
    sense=Sense.AT_MOST,
)
def drain(rule: Rule, case: Case) -> Finding | None:
    """Q at the bearing against (1 - air) A sqrt(8 g R sin a/f)."""
    if case.goal is None or not speaks_of(case, "oil"):
        return None
    side = oil_side(case)
    top = side.top_speed
    at = feed_at(side, top)
    takes = drain_of(side, at)
    flow_sd = figure_sd(case, lambda s: feed_at(s, top).flow)
    takes_sd = figure_sd(case, lambda s: drain_of(s, feed_at(s, top)))
    flow_sd, takes_sd = sided(at.flow, flow_sd, takes), sided(takes, takes_sd, at.flow)
    demand = Amount(at.flow, flow_sd, Kind.OIL_FLOW, "oil through the bearing")
    capacity = Amount(takes, takes_sd, Kind.OIL_FLOW, "the drain carries")
    amounts = {
        "bore": Amount(side.drain_bore, None, Kind.LENGTH),
        "slope": Amount(side.drain_slope, None, Kind.ANGLE),
        "air": Amount(side.air, None, Kind.SHARE),
        "gets": demand,
    }
    return rule.finding(
        demand,
        capacity,
        LimitRecord(
            "computed",
            "colebrook1939",
            "Oil falls through a half-full pipe by its weight against friction; the other half is the gas's.",
        ),
        place=Place(top),
        cause=_cause(side.drain_slope, amounts),
        remedy=_remedy(rule, case, demand, capacity, amounts),
        reading=Reading(
            "Pour a litre of oil of 90 degC into the drain's upper end through a funnel and time it; measure"
            " bore and least slope. Hot oil: gloves and goggles.",
            1800.0,
        ),
        assumed=_assumed(case),
        about=("oil.drain_bore", "oil.drain_slope", "oil.feed_bore", "turbo.bearing", "oil.grade"),
    )


def _assumed(case: Case) -> str:
    missing = [what for what in ("bore", "slope") if not case.build.is_stated(_FIELDS[what])]
    if not missing:
        return ""
    are = "is" if len(missing) == 1 else "are"
    return f"The drain's {' and '.join(missing)} {are} not stated; what is usual stands in."


def _cause(slope: float, amounts: dict[str, Amount]) -> Phrase:
    if slope <= 0.0:
        return Phrase("The drain does not fall ({slope}): only oil that backs up moves on.", amounts)
    return Phrase(
        "Only its weight moves the oil: {bore} of bore at {slope}, about {air} of what comes is air, and half"
        " of the bore belongs to the gas.",
        amounts,
    )


def _remedy(rule: Rule, case: Case, demand: Amount, capacity: Amount, amounts: dict[str, Amount]) -> Phrase:
    z = deviations(rule.harm)
    wanted = demand.value + z * math.hypot(demand.sd or 0.0, capacity.sd or 0.0)
    if capacity.value >= wanted:
        return Phrase("Leave it as it is; keep it free of kinks and away from the exhaust.", amounts)
    relative = (capacity.sd or 0.0) / capacity.value if capacity.value > 0.0 else 0.25
    slope = max(amounts["slope"].value, _STEEP)
    now = oil_side(case)
    for half in range(int(amounts["bore"].value * 2e3), int(_WIDEST * 2e3) + 1):
        bore = half * 0.5e-3
        side = replace(now, drain_bore=bore, drain_slope=slope)
        takes = drain_of(side, feed_at(side, side.top_speed))
        if takes - z * math.hypot(demand.sd or 0.0, relative * takes) >= demand.value:
            more = {
                **amounts,
                "wide": Amount(bore, None, Kind.LENGTH),
                "steep": Amount(slope, None, Kind.ANGLE),
            }
            return Phrase("Fit a drain of {wide} or more that nowhere falls less than {steep}.", more)
    return Phrase("No drain of a car carries this: bring the feed down first, see the restrictor.", amounts)


@rule(
    "oil.drain_entry",
    "Where the drain enters",
    asks="Does the drain enter the sump above the oil level?",
    demand="height of the drain's entry above the level, car level",
    capacity="height that a leaning car and the crank's spray ask for",
    harm=Harm.WEAR,
    harm_words="oil stands in the drain, and smoke follows every bend",
    sense=Sense.AT_LEAST,
    limits=("oil_entry",),
)
def entry(rule: Rule, case: Case) -> Finding | None:
    """The reading against the limit; silent where nobody measured it."""
    height = case.amount("oil.drain_entry", Kind.LENGTH, "entry above the level")
    if height is None:
        return None
    limit = case.limits["oil_entry"]
    least = sure_demand(limit.amount, height, rule.sense, rule.harm)
    amounts = {
        "least": Amount(least, None, Kind.LENGTH),
        "up": Amount(least - height.value, None, Kind.LENGTH),
    }
    return rule.finding(
        height,
        limit.amount,
        limit,
        place=Place(words="sump, oil at the upper mark"),
        cause=Phrase(
            "Below the level the gas of the drain has no way out, and the whole column must rise first."
            if height.value <= 0.0
            else "Above the level oil falls free and gas comes up beside it."
        ),
        remedy=Phrase(
            "Move the entry up by {up}, clear of the crank's spray."
            if height.value < least
            else "Leave it; it holds from {least} on.",
            amounts,
        ),
        reading=Reading("Tape and spirit level, oil at the upper mark, car level.", 900.0),
        about=("oil.drain_entry",),
    )


@rule(
    "oil.outlet_tilt",
    "Lean of the turbo's oil outlet",
    asks="Does the turbo's oil outlet point down enough?",
    demand="lean of the outlet away from straight down",
    capacity="lean from which oil stands against a seal",
    harm=Harm.WEAR,
    harm_words="oil lies against the lower seal and smokes at idle",
    sense=Sense.AT_MOST,
    limits=("oil_outlet_tilt",),
)
def tilt(rule: Rule, case: Case) -> Finding | None:
    """The reading against the limit; silent where nobody measured it."""
    lean = case.amount("oil.outlet_tilt", Kind.ANGLE, "lean of the outlet")
    if lean is None:
        return None
    limit = case.limits["oil_outlet_tilt"]
    most = sure_demand(limit.amount, lean, rule.sense, rule.harm)
    amounts = {"most": Amount(most, None, Kind.ANGLE)}
    return rule.finding(
        lean,
        limit.amount,
        limit,
        place=Place(words="centre housing"),
        cause=Phrase("The chamber under the shaft empties through its lowest point only."),
        remedy=Phrase(
            "Turn the centre housing in its clamps until the outlet leans {most} or less."
            if lean.value > most
            else "Leave it; up to {most} holds.",
            amounts,
        ),
        reading=Reading("Angle gauge across the outlet flange, car level.", 600.0),
        about=("oil.outlet_tilt",),
    )


@rule(
    "oil.level",
    "Oil level after the first start",
    asks="Does the level stay between the marks when turbo, lines and cooler have filled?",
    demand="oil that they hold against what was filled beyond the usual amount, the greater less the lesser",
    capacity="oil between the marks",
    harm=Harm.DAMAGE,
    harm_words="the pickup takes air in a bend, turbo and bearings run dry",
    sense=Sense.AT_MOST,
    limits=("oil_level_band",),
)
def level(rule: Rule, case: Case) -> Finding | None:
    """|V_added - V_extra| against the dipstick: a level far above its mark is no better than one below."""
    if case.goal is None or not speaks_of(case, "oil"):
        return None
    holds, sd = turbo_volume_of(case.build)
    extra = case.build.number("oil.extra_fill")
    limit = case.limits["oil_level_band"]
    amounts = {
        "holds": Amount(holds, sd, Kind.VOLUME),
        "extra": Amount(abs(holds - extra), None, Kind.VOLUME),
        "filled": Amount(extra, None, Kind.VOLUME),
    }
    over, even = extra > holds, abs(holds - extra) <= sd
    remedy = "Have {extra} more at hand: fill to the upper mark, run it, stop, wait five minutes, dip again."
    if over or even:
        remedy = "Dip it five minutes after the first stop; above the upper mark the crank whips the oil."
    if over and not even:
        remedy = "Drain {extra} again. " + remedy
    return rule.finding(
        Amount(abs(holds - extra), sd, Kind.VOLUME, "rise of the level" if over else "fall of the level"),
        limit.amount,
        limit,
        place=Place(words="after the first start"),
        cause=Phrase(
            "Turbo, lines and cooler take about {holds:band} out of the sump."
            + (" {filled} more than usual were filled: {extra} stand above the upper mark." if over else ""),
            amounts,
        ),
        remedy=Phrase(remedy, amounts),
        reading=Reading("Fill turbo, lines and cooler from a measuring cup before they go on.", 900.0),
        assumed=""
        if case.build.is_stated("oil.added_volume")
        else "Nobody measured what turbo, lines and cooler hold; a usual amount stands in.",
        about=("oil.added_volume", "oil.extra_fill", "oil.cooler"),
    )
