"""A shim under the relief spring: is it needed, can the valve still open, and what does a cold start show."""

from __future__ import annotations

import math

from boostwright.findings.case import Case
from boostwright.findings.model import (
    Amount,
    Finding,
    Harm,
    Kind,
    Phrase,
    Place,
    Reading,
    Sense,
)
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import deviations
from boostwright.library.oil import oil_constant
from boostwright.systems.stated.oil import Relief, oil_uncertain_of, relief_of

__all__ = ["need", "peak", "travel"]

_SPRING = Reading(
    "Spring out: scale and calliper for its rate and lengths, micrometer for wire and plunger, depth gauge"
    " for the seat and the port. Oil is hot after a run: let it cool.",
    3600.0,
)


def _relief(case: Case) -> Relief | None:
    """The relief valve; None without a shim."""
    return relief_of(case.build) if case.build.number("oil.relief_shim") > 0.0 else None


@rule(
    "oil.shim_need",
    "Is the relief shim needed",
    asks="Is hot oil pressure low at speed for another reason than wear, so that a shim would help at all?",
    demand="hot oil pressure at 3000 rpm as it was read; where hot idle is low, what is missing there",
    capacity="pressure from which no shim is needed; at idle, none may be missing",
    harm=Harm.NUISANCE,
    harm_words="a stiffer valve loads pump, filter and hoses for nothing, or hides worn bearings",
    sense=Sense.AT_MOST,
    limits=("oil_shim_need",),
)
def need(rule: Rule, case: Case) -> Finding | None:
    """A relief valve acts at speed only: low idle is wear, and a good reading at speed needs no shim."""
    valve = _relief(case)
    if valve is None:
        return None
    read = case.amount("engine.oil_pressure_3000", Kind.PRESSURE_GAUGE, "hot at 3000 rpm")
    idle = case.amount("engine.oil_pressure_idle", Kind.PRESSURE_GAUGE, "at hot idle")
    limit = case.limits["oil_shim_need"]
    capacity, source, demand = limit.amount, limit, read
    cause = "A relief valve limits pressure at speed; at {read} it has nothing to add."
    remedy = "Take the shim out."
    amounts = {"shim": Amount(valve.shim, None, Kind.LENGTH)}
    if read is not None:
        amounts["read"] = read
        if read.value <= limit.amount.value:
            cause = "At {read} hot the relief valve may open too early."
            remedy = "Read it again with a mechanical gauge, then look at the valve for wear and dirt first."
    else:
        cause, remedy = "Nobody read the pressure hot at 3000 rpm.", "Read it before you shim anything."
    least = case.limits["oil_pressure_idle"].amount
    if idle is not None and idle.value < least.value:
        demand = Amount(least.value - idle.value, idle.sd, Kind.PRESSURE_GAUGE, "missing at hot idle")
        capacity = Amount(0.0, least.sd, Kind.PRESSURE_GAUGE, "none may be missing")
        amounts |= {"idle": idle, "least": least}
        cause = (
            "Hot idle shows {idle} where {least} is the least. At idle the valve is shut: that is wear, thin"
        )
        cause += " oil or a weak pump, and a shim only hides it at speed."
        remedy = "Find the wear; take the shim out meanwhile."
    return rule.finding(
        demand,
        capacity,
        source,
        place=Place(words="relief valve, oil hot"),
        cause=Phrase(cause, amounts),
        remedy=Phrase(remedy, amounts),
        reading=Reading("Mechanical gauge, oil at 90 degC, idle and 3000 rpm, shim out.", 1800.0),
        about=("oil.relief_shim", "engine.oil_pressure_3000", "engine.oil_pressure_idle"),
    )


@rule(
    "oil.shim_travel",
    "Relief valve's travel with the shim",
    asks="Can the relief valve still open its port before the spring's turns touch?",
    demand="travel until the turns touch, with the shim, less the travel that opens the port",
    capacity="travel kept in reserve",
    harm=Harm.SEVERE,
    harm_words="the valve cannot open: the filter bursts on a cold morning and all the oil is out",
    sense=Sense.AT_LEAST,
    limits=("relief_reserve",),
)
def travel(rule: Rule, case: Case) -> Finding | None:
    """L_fitted - shim - d (n + 2) - port against the reserve; unknown until the spring is measured."""
    valve = _relief(case)
    if valve is None:
        return None
    limit = case.limits["relief_reserve"]
    about = (
        "oil.relief_shim",
        "oil.relief_fitted_length",
        "oil.relief_wire",
        "oil.relief_turns",
        "oil.relief_port_travel",
    )
    shim = Amount(valve.shim, None, Kind.LENGTH)
    if valve.travel_left is None or valve.port is None:
        return rule.finding(
            None,
            limit.amount,
            limit,
            place=Place(words="relief valve"),
            cause=Phrase(
                "A shim of {shim} takes as much of the spring's travel, and nobody measured it.",
                {"shim": shim},
            ),
            remedy=Phrase(
                "Measure wire, active turns, fitted length and port travel before the pan goes on, or take"
                " the shim of {shim} out.",
                {"shim": shim},
            ),
            reading=_SPRING,
            about=about,
        )
    left, sd = valve.travel_left
    port, port_sd = valve.port
    demand = Amount(left - port, math.hypot(sd, port_sd), Kind.LENGTH, "left when the port is open")
    z = deviations(rule.harm)
    most = (
        valve.shim
        + left
        - port
        - limit.amount.value
        - z * math.hypot(demand.sd or 0.0, limit.amount.sd or 0.0)
    )
    amounts = {
        "shim": shim,
        "left": Amount(left, None, Kind.LENGTH),
        "port": Amount(port, None, Kind.LENGTH),
        "most": Amount(most, None, Kind.LENGTH),
    }
    cause = "With {shim} under it the spring has {left} until its turns touch; the port wants {port}."
    if left <= 0.0:
        cause = "With {shim} under it the spring is solid before the valve is even shut."
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(words="relief valve"),
        cause=Phrase(cause, amounts),
        remedy=Phrase(
            "Leave it; shims up to {most} keep the reserve."
            if most >= valve.shim
            else "Take shims out until {most} is left of them."
            if most > 0.0
            else "Take the shim out: even without one the reserve is not sure; measure again.",
            amounts,
        ),
        reading=_SPRING,
        about=about,
    )


@rule(
    "oil.shim_peak",
    "Oil pressure on a cold start",
    asks="Do filter and hoses stand the cold-start pressure with the shim?",
    demand="hot pressure at the top, what thick oil adds, or the cold reading, and the shim's share",
    capacity="most pressure on a cold start",
    harm=Harm.SEVERE,
    harm_words="the filter bursts or the pump's drive shears: all the oil is out in a minute",
    sense=Sense.AT_MOST,
    limits=("oil_cold_peak",),
)
def peak(rule: Rule, case: Case) -> Finding | None:
    """p_cold + k s/A against filter and hose."""
    valve = _relief(case)
    if valve is None:
        return None
    cold, sd, words = _cold(case, valve)
    adds, adds_sd = valve.per_length[0] * valve.shim, valve.per_length[1] * valve.shim
    limit = case.limits["oil_cold_peak"]
    demand = Amount(cold + adds, math.hypot(sd, adds_sd), Kind.PRESSURE_GAUGE, "cold start with the shim")
    z = deviations(rule.harm)
    room = limit.amount.value - cold - z * math.hypot(demand.sd or 0.0, limit.amount.sd or 0.0)
    most = room / valve.per_length[0]
    amounts = {
        "cold": Amount(cold, sd, Kind.PRESSURE_GAUGE),
        "shim": Amount(valve.shim, None, Kind.LENGTH),
        "adds": Amount(adds, adds_sd, Kind.PRESSURE_DIFFERENCE),
        "each": Amount(valve.per_length[0] * 1e-3, valve.per_length[1] * 1e-3, Kind.PRESSURE_DIFFERENCE),
        "most": Amount(most, None, Kind.LENGTH),
        "limit": limit.amount,
    }
    spring = "by spring and plunger" if valve.measured else "usual, for spring and plunger were not measured"
    remedy = "Leave it, and watch a mechanical gauge on the first cold start: stop at {limit}."
    if most < valve.shim:
        remedy = "Take it down to a shim of {most} or less." if most > 0.0 else "Take the shim out."
        remedy += " Thin oil by the vehicle manual and no revs until it is warm."
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(words="cold start"),
        cause=Phrase(
            f"{words} The shim of {{shim}} adds {{adds:band}}: {{each:band}} for each millimetre, {spring}.",
            amounts,
        ),
        remedy=Phrase(remedy, amounts),
        reading=Reading("Mechanical gauge on a cold morning, shim out, 2500 rpm for a moment.", 900.0),
        assumed=_assumed(case, valve),
        about=(
            "oil.relief_shim",
            "oil.relief_rate",
            "oil.relief_plunger",
            "oil.relief_free_length",
            "engine.oil_pressure_cold",
        ),
    )


def _assumed(case: Case, valve: Relief) -> str:
    known = ("engine.oil_pressure_cold", "engine.oil_pressure_3000")
    if valve.open_at is not None or any(case.build.is_stated(path) for path in known):
        return ""
    return "No oil pressure was read; that of a usual engine stands in."


def _cold(case: Case, valve: Relief) -> tuple[float, float, str]:
    """Cold-start pressure without the shim, its standard deviation [Pa], and where it comes from."""
    read = case.amount("engine.oil_pressure_cold", Kind.PRESSURE_GAUGE, "read cold")
    if read is not None and case.build.is_stated("engine.oil_pressure_cold"):
        return read.value, read.sd or 0.0, "Cold it was read at {cold:band} without the shim."
    thick = oil_constant("relief", "cold")
    if valve.open_at is not None:
        value, sd = valve.open_at
        words = (
            "By its spring and plunger the valve is open at a pressure that makes {cold:band} on a cold start"
        )
        return value + thick.value, math.hypot(sd, thick.sd), words + " without the shim."
    rows = oil_uncertain_of(case.build)
    middle, middle_sd = rows["engine.oil_pressure_3000"]
    growth, growth_sd = rows["growth"]
    value = growth * middle + thick.value
    sd = math.hypot(growth * middle_sd, growth_sd * middle, thick.sd)
    return value, sd, "From the hot readings a cold start shows {cold:band} without the shim."
