"""The rail: what its pressure follows, whether it holds over a pull, and whether it stands still at idle."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.fuel_case import at, fuel_parts, fuel_spread, usual_line
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.worst import worst, worst_number
from boostwright.physics.fuel_line import Reference
from boostwright.physics.injection import unreferenced_share
from boostwright.systems.fuel_side import FuelParts, IdleRail, idle_rail
from boostwright.systems.stated.fuel_side import SEAT_COEFFICIENT

__all__ = ["feed_line", "idle_pressure", "rail_reference"]

_IN_HAND = 1.1  # of the pump's flow, for which a bigger regulator is named (judgement)
_SEAT_SHARE = SEAT_COEFFICIENT * 0.25 * math.pi  # effective area of a seat over its bore squared

_CAUSES = {
    Reference.MANIFOLD: "The regulator follows the plenum; what is lost is its own droop as the return flow"
    " dwindles.",
    Reference.ATMOSPHERE: "The regulator follows the outside air: {boost} of boost stand against it, and an"
    " injector passes {share} of its flow only. A controller that does not know makes lambda {lean} of"
    " {wanted}.",
    Reference.TANK: "The regulator sits in the tank and follows the outside air: {boost} of boost stand"
    " against it, line and filter take {feed} more, and an injector passes {share} of its flow only. A"
    " controller that does not know makes lambda {lean} of {wanted}.",
}
_REMEDIES = {
    Reference.MANIFOLD: "Fit a regulator of less droop; log rail less manifold pressure over a pull.",
    Reference.ATMOSPHERE: "Connect the regulator to the plenum, or fit one that can be: it gives {back} of"
    " pressure back.",
    Reference.TANK: "Fit a return line and a regulator that follows the plenum: it gives {back} of pressure"
    " back. Or tell the controller the pressure across the injectors by a rail sensor.",
}


@rule(
    "fuel.rail_reference",
    "Pressure across the injectors",
    asks="Does the pressure across the injectors stay the same from idle to full boost?",
    demand="fall of rail less plenum pressure at the worst place: boost that the rail does not follow, droop,"
    " and the feed line's loss where the regulator sits in the tank",
    capacity="fall that a mixture table can bear",
    harm=Harm.DAMAGE,
    harm_words="the mixture grows lean in proportion to boost, and a piston melts where nobody looked",
    sense=Sense.AT_MOST,
    limits=("rail_fall",),
)
def rail_reference(rule: Rule, case: Case) -> Finding | None:
    """1 - dp/p_set; an unreferenced rail keeps sqrt((p_set - boost)/p_set) of its flow."""
    parts = fuel_parts(case)
    rail = parts.regulator.pressure
    found = worst_number(case, lambda line: 1.0 - usual_line(case, line).set_difference / rail)
    if found is None:
        return None
    value, there = found
    here = at(parts, there)
    boost_sd = float(there.goal.boost_sd[there.place])
    follows = parts.regulator.reference is Reference.MANIFOLD

    def fall(p: FuelParts) -> np.ndarray:
        return np.asarray(1.0 - at(p, there).set_difference / p.regulator.pressure)

    sd = math.hypot(fuel_spread(case, fall), 0.0 if follows else boost_sd / rail)
    boost = float(there.goal.plenum_pressure[there.place]) - there.line.ambient_pressure
    lam = float(there.goal.lam[there.place])
    share = math.sqrt(max(1.0 - value, 0.0))
    bare = float(unreferenced_share(rail, boost))
    amounts = {
        "boost": Amount(boost, None, Kind.PRESSURE_DIFFERENCE),
        "share": Amount(share if parts.regulator.reference is Reference.TANK else bare, None, Kind.SHARE),
        "wanted": Amount(lam, None, Kind.RATIO),
        "lean": Amount(lam / max(share, 0.05), None, Kind.RATIO),
        "feed": Amount(float(here.feed_loss[0]), None, Kind.PRESSURE_DIFFERENCE),
        "back": Amount(max(rail - float(here.set_difference[0]), 0.0), None, Kind.PRESSURE_DIFFERENCE),
    }
    limit = case.limits["rail_fall"]
    return rule.finding(
        Amount(value, sd, Kind.SHARE, "fall of rail less plenum pressure"),
        limit.amount,
        limit,
        place=Place(there.speed),
        corner=there.corner,
        cause=Phrase(_CAUSES[parts.regulator.reference], amounts),
        remedy=Phrase(_REMEDIES[parts.regulator.reference], amounts),
        reading=Reading(
            "Gauge on the rail at idle: pull the regulator's hose off. A rail that follows the plenum rises"
            " by the vacuum, about 0.6 bar; one that does not, stays.",
            600.0,
        ),
        assumed=""
        if case.build.is_stated("regulator.reference") or case.build.is_stated("regulator.droop")
        else "What the rail follows is not stated; a hose to the plenum is assumed.",
        about=("regulator.reference", "regulator.droop", "regulator.pressure"),
    )


@rule(
    "fuel.idle_pressure",
    "Rail pressure at idle",
    asks="Do regulator and return line pass what the pump gives too much at idle?",
    demand="rise of the rail over its set pressure at idle",
    capacity="rise that hides in no table",
    harm=Harm.POOR_RUNNING,
    harm_words="idle and cruise run rich and the error hides in the fuel table",
    sense=Sense.AT_MOST,
    limits=("idle_rail",),
)
def idle_pressure(rule: Rule, case: Case) -> Finding | None:
    """Rail at which pump curve, open seat and return line pass the same flow, over that set. Silent when idle
    was not computed.
    """
    light = case.extra.get("light_loads")
    if light is None:
        return None
    parts = fuel_parts(case)

    def rail(p: FuelParts) -> IdleRail:
        return idle_rail(p, light.fuel_flow[0], light.plenum_pressure[0], case.ambient_pressure)

    def rise(p: FuelParts) -> np.ndarray:
        found = rail(p)
        return np.asarray(found.overrun / found.set_difference)

    own, value = rail(parts), float(rise(parts)[0])
    seat, back = _bores(case, parts, light.fuel_flow[0], light.plenum_pressure[0])
    amounts = {
        "surplus": Amount(float(own.return_flow[0]), None, Kind.VOLUME_FLOW),
        "rise": Amount(float(own.overrun[0]), None, Kind.PRESSURE_DIFFERENCE),
        "seat": Amount(seat, None, Kind.LENGTH),
        "back": Amount(back, None, Kind.LENGTH),
    }
    measured = case.build.is_stated("regulator.seat_bore") and case.build.is_stated("regulator.return_bore")
    limit = case.limits["idle_rail"]
    return rule.finding(
        Amount(value, fuel_spread(case, rise), Kind.SHARE, "rise of the rail at idle"),
        limit.amount,
        limit,
        place=Place(float(light.speed[0]), "at warm idle"),
        cause=Phrase(
            "The pump gives {surplus} more than idle takes, and all of it must go back through the regulator"
            " and the return line.",
            amounts,
        ),
        remedy=Phrase(
            "Fit a regulator with a seat of at least {seat} and a return line of at least {back}, or run the"
            " pump slower at light load.",
            amounts,
        )
        if own.overrun[0] > 0.0
        else Phrase("Leave it; look at the gauge at idle once the bigger pump runs."),
        reading=Reading(
            "Gauge on the rail at warm idle: it must stand at the set pressure less the vacuum. Goggles,"
            " extinguisher in reach.",
            600.0,
        ),
        assumed=""
        if measured
        else "Bores of regulator seat and return line are not both stated; usual ones are assumed.",
        about=("regulator.seat_bore", "regulator.return_bore", "pump.flow"),
    )


def _bores(case: Case, parts: FuelParts, fuel: float, plenum: float) -> tuple[float, float]:
    """Bores of seat and return line [m] that pass a pump of a tenth more; never smaller than its own."""
    if case.drawn:  # nobody reads what to do of one draw
        return math.nan, math.nan
    pump = parts.pump._replace(free_flow=_IN_HAND * np.asarray(parts.pump.free_flow))
    seat, back = math.sqrt(parts.regulator.seat_area / _SEAT_SHARE), parts.lines.return_bore
    for bore in np.arange(seat, 16.0e-3, 0.25e-3):
        seat, back = float(bore), max(back, float(bore))
        wider = replace(
            parts,
            pump=pump,
            regulator=replace(parts.regulator, seat_area=_SEAT_SHARE * seat**2),
            lines=replace(parts.lines, return_bore=back),
        )
        if float(idle_rail(wider, fuel, plenum, case.ambient_pressure).overrun[0]) <= 0.0:
            break
    return seat, back


@rule(
    "fuel.feed_line",
    "Filter and feed line",
    asks="Do filter and feed line leave the pump enough pressure to work with?",
    demand="pressure that filter and feed line take at the flow that really passes them",
    capacity="pressure that they may take",
    harm=Harm.POOR_RUNNING,
    harm_words="the pump works against its own line and gives out early",
    sense=Sense.AT_MOST,
    limits=("feed_loss",),
)
def feed_line(rule: Rule, case: Case) -> Finding | None:
    """f L/D rho v^2/2 and the filter's own; with a return line the whole flow of the pump passes."""
    parts = fuel_parts(case)
    there = worst(case, lambda line: -usual_line(case, line).feed_loss)
    if there is None:
        return None
    here = at(parts, there)
    value = float(here.feed_loss[0])
    bore = parts.lines.feed_bore
    limit = case.limits["feed_loss"]
    sure = limit.amount.value - 2.0 * (limit.amount.sd or 0.0)
    amounts = {
        "flow": Amount(float(here.feed_flow[0]), None, Kind.VOLUME_FLOW),
        "bore": Amount(bore, None, Kind.LENGTH),
        "wide": Amount(bore * max(value / sure, 1.0) ** 0.21, None, Kind.LENGTH),  # loss goes with D^-4.75
    }
    return rule.finding(
        Amount(
            value,
            fuel_spread(case, lambda p: at(p, there).feed_loss),
            Kind.PRESSURE_DIFFERENCE,
            "taken by filter and feed line",
        ),
        limit.amount,
        limit,
        place=Place(there.speed),
        corner=there.corner,
        cause=Phrase("{flow} pass a bore of {bore} and the filter.", amounts),
        remedy=Phrase(
            "Lay a feed line of at least {wide} and a filter made for this flow, rated for petrol under"
            " pressure.",
            amounts,
        )
        if value > sure
        else Phrase("Leave the line; renew the filter."),
        reading=Reading(
            "Gauge behind the pump and on the rail at the same time, pump running, engine off: the"
            " difference is the loss. Petrol under pressure: goggles, extinguisher in reach.",
            1800.0,
        ),
        assumed=""
        if case.build.is_stated("regulator.line_bore")
        else "The bore of the feed line is not stated; a usual one is assumed.",
        about=("regulator.line_bore", "regulator.line_length", "regulator.filter_loss", "pump.flow"),
    )
