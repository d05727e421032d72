"""Cooling under lasting load: how warm the coolant becomes, and whether it stays liquid."""

from __future__ import annotations

import math

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.cooling_case import Cooled, after_at, charge_heat, heats_of, hottest
from boostwright.findings.judge import HOLDS_FROM, probability_holds
from boostwright.findings.model import Amount, Finding, Harm, Kind, LimitRecord, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import sure_demand
from boostwright.systems.cooling import coolant_boils
from boostwright.systems.stated.cooling import cooling_of, cooling_stated, duty_of

__all__ = ["boil", "climb"]

_SIZES = (1.1, 1.2, 1.3, 1.4, 1.5, 1.7, 2.0, 2.5, 3.0)  # times the radiator's face; no car has room for more
_WORTH = 1.5  # by which the air must be warmer for a word [K]
_USES = {
    "road": "a long motorway climb",
    "hills": "a pass road",
    "towing": "a climb with the trailer",
    "track": "a session on a circuit",
}
_NOTHING = "Nothing is stated of the cooling system; one of usual size is assumed."
_NO_FACE = "No radiator is stated; one of usual size is assumed."


def _assumed(case: Case) -> str:
    if not cooling_stated(case.build):
        return _NOTHING
    known = case.build.is_stated("cooling.radiator_area") or case.build.is_stated("cooling.slope_before")
    return "" if known else _NO_FACE


@rule(
    "cooling.climb",
    "Coolant under lasting load",
    asks="Does the radiator carry the heat of lasting load with the turbo?",
    demand="coolant at the end of the hardest load that the car's use asks for, on the hottest day",
    capacity="warmest coolant that is driven on with",
    harm=Harm.DAMAGE,
    harm_words="the head warps, its gasket leaks, and knock comes early before that",
    sense=Sense.AT_MOST,
    limits=("coolant_hot",),
)
def climb(rule: Rule, case: Case) -> Finding | None:
    """T(t) of one lump of coolant and metal: heat of the cycle in, what the radiator sheds out."""
    seen = hottest(case)
    if seen is None:
        return None
    limit = case.limits["coolant_hot"]
    sure = sure_demand(limit.amount, seen.after, rule.sense, rule.harm)
    load = (
        "Under the load that you state"
        if duty_of(case.build).stated
        else f"On {_USES[case.build.words('build.use')]}"
    )
    amounts = {
        "heat": Amount(float(seen.climb.heat.flat[0]), None, Kind.POWER),
        "warmer": Amount(float(seen.climb.air_warmer.flat[0]), None, Kind.TEMPERATURE_DIFFERENCE),
        "before": Amount(float(seen.before.heat.flat[0]), None, Kind.POWER),
        "was": Amount(float(seen.before.after.flat[0]), None, Kind.TEMPERATURE),
    }
    text = (
        f"{load} the coolant takes {{heat}} on average, {{before}} before the turbo, when it would"
        " have come to {was} there"
    )
    text += (
        "; the charge cooler in front warms the radiator's air by {warmer} and slows it."
        if amounts["warmer"].value > _WORTH
        else "."
    )
    return rule.finding(
        seen.after,
        limit.amount,
        limit,
        place=Place(seen.there.speed),
        corner=seen.there.corner,
        cause=Phrase(text, amounts),
        remedy=_remedy(rule, case, seen, sure),
        reading=Reading(
            "Before the conversion, log the coolant under that same load, thermostat open: its rise in a"
            " minute tells what radiator, fan and air ways can do. A closed road, a second person at the"
            " screen.",
            3600.0,
        )
        if not case.build.is_stated("cooling.slope_before")
        else Reading(
            "Log the coolant on the first climbs with the turbo, and lift when it passes the limit.", 3600.0
        ),
        notes=(_minutes(seen, limit.amount.value), _heat_note(case, seen)),
        assumed=_assumed(case),
        about=(
            "cooling.radiator_area",
            "cooling.slope_before",
            "cooling.slope_area",
            "cooling.volume",
            "engine.coolant_temperature",
            "build.use",
            "cooling.load_share",
            "cooling.load_time",
            "cooling.load_speed",
            "cooler.position",
        ),
    )


def _minutes(seen: Cooled, limit: float) -> Phrase:
    """How long such a load may last by the middle figures."""
    time = float(seen.climb.time_to(limit).flat[0])
    if not math.isfinite(time):
        rest = Amount(float(seen.climb.rest.flat[0]), None, Kind.TEMPERATURE)
        return Phrase(
            "By the middle figures it would come to rest at {rest}, however long it lasts.", {"rest": rest}
        )
    return Phrase(
        "By the middle figures it is at the limit after {time} of such load.",
        {"time": Amount(time, None, Kind.TIME if time >= 120.0 else Kind.DELAY)},
    )


def _remedy(rule: Rule, case: Case, seen: Cooled, sure: float) -> Phrase:
    """A radiator with the face that holds, or minutes to lift after, or both."""
    minutes = float(seen.climb.time_to(sure).flat[0])
    if seen.after.value <= sure:
        return Phrase(
            "Leave it; keep the gaps beside the core closed, so that the air takes its way through it."
        )
    size = 0.0 if case.drawn else _holding_size(rule, case, seen)
    area = Amount(case.build.number("cooling.radiator_area"), None, Kind.AREA)
    wait = Amount(minutes, None, Kind.TIME)
    lift = "lift after {wait} of it" if minutes >= 60.0 else "no lasting full load on such a day"
    if size > 0.0:
        wider = Amount(area.value * size, None, Kind.AREA)
        first = "Fit a radiator with {wider} of face instead of {area} and lead all the air through it."
        if _assumed(case):
            first = (
                "Read it first, as said below; unread, only {wider} of face is sure where {area} is usual."
            )
        elif case.build.is_stated("cooling.slope_before") and not case.build.is_stated("cooling.slope_area"):
            first += " Write the old face into the file as slope_area: the rise was read with it."
        return Phrase(f"{first} Until then {lift}.", {"wider": wider, "area": area, "wait": wait})
    return Phrase(
        "As little as is known of it, no radiator up to three times this face is sure. Read it first as said"
        f" below; seal the ducts and keep the charge cooler from before it. Until then {lift}.",
        {"wait": wait},
    )


def _holding_size(rule: Rule, case: Case, seen: Cooled) -> float:
    """Factor on the radiator's face from which it holds [-]; 0 where none does."""
    limit = case.limits["coolant_hot"].amount
    for size in _SIZES:
        chance = probability_holds(after_at(case, seen.there, size), limit, rule.sense)
        if chance is not None and chance >= HOLDS_FROM[rule.harm]:
            return size
    return 0.0


def _heat_note(case: Case, seen: Cooled) -> Phrase:
    """Where the heat of full load goes, at the place that is judged."""
    here, i = heats_of(case, seen.there.line), seen.there.place
    fuel = float(
        seen.there.goal.result.fuel_energy[i] * case.engine.cylinders * seen.there.speed / (4 * math.pi)
    )
    return Phrase(
        "At full load {coolant} go into the coolant ({share} of the fuel's heat), {oil} into the oil, and"
        " {charge} through the charge cooler.",
        {
            "coolant": Amount(float(here.coolant[i]), None, Kind.POWER),
            "share": Amount(float(here.coolant[i]) / fuel, None, Kind.SHARE),
            "oil": Amount(float(here.oil[i]), None, Kind.POWER),
            "charge": Amount(float(charge_heat(seen.there.line)[i]), None, Kind.POWER),
        },
    )


@rule(
    "cooling.boil",
    "Boiling under the cap",
    asks="Does the coolant stay liquid at the hottest walls, under this cap and at this height?",
    demand="coolant between the exhaust valves at the end of the hardest load",
    capacity="boiling point of this mixture under cap and outside pressure",
    harm=Harm.DAMAGE,
    harm_words="steam pockets uncover the head, coolant is thrown out, and the head cracks or warps",
    sense=Sense.AT_MOST,
)
def boil(rule: Rule, case: Case) -> Finding | None:
    """T(t) + hot spot against the boiling point at p_cap + p_ambient, over every day."""
    if not cooling_stated(case.build):
        return None
    seen = hottest(case, boiling=True)
    if seen is None:
        return None
    there = seen.there
    boils = seen.boils
    hot = seen.hot
    most = sure_demand(boils, hot, rule.sense, rule.harm)
    cap = case.build.number("cooling.cap_pressure")
    return rule.finding(
        hot,
        boils,
        LimitRecord("computed", "wagner2002", "Water's vapour pressure, glycol mixed in as an ideal liquid."),
        place=Place(there.speed),
        corner=there.corner,
        cause=Phrase(
            "Outside {outside} and the cap's {cap} lie on the coolant; height takes from it what weather and"
            " an old cap cannot give back.",
            {
                "outside": Amount(there.line.ambient_pressure, None, Kind.PRESSURE_ABSOLUTE),
                "cap": Amount(cap, None, Kind.PRESSURE_GAUGE),
            },
        ),
        remedy=_boil_remedy(case, seen, most),
        reading=Reading(
            "Test cap and system at the cap's pressure with a hand pump for ten minutes, cold; read the"
            " glycol with a refractometer.",
            1500.0,
        ),
        assumed=_assumed(case)
        or (
            ""
            if case.build.is_stated("cooling.cap_pressure")
            else "No cap is stated; a usual one is assumed."
        ),
        about=("cooling.cap_pressure", "cooling.glycol", "cooling.radiator_area", "cooling.slope_before"),
    )


_HIGHEST_CAP = 1.6e5  # that radiators and hoses of road cars are made for [Pa gauge] (common practice)


def _boil_remedy(case: Case, seen: Cooled, most: float) -> Phrase:
    """A cap that holds more, where one may; else less heat. most: coolant at the hottest walls [K]."""
    over = seen.hot.value - most
    if over <= 0.0:
        return Phrase("Keep the cap; test it cold with a hand pump, and fit a new one if it opens early.")
    caps = np.arange(case.build.number("cooling.cap_pressure"), _HIGHEST_CAP + 1.0, 0.05e5)
    with_each = coolant_boils(
        cooling_of(case.build, {"cooling.cap_pressure": caps}), seen.there.line.ambient_pressure
    )
    fits = np.flatnonzero(with_each - (seen.boils.value - most) >= seen.hot.value)
    cap = float(caps[fits[0]]) if fits.size else 0.0
    shown = most - (seen.hot.value - seen.after.value)
    lift = (
        "lift when the gauge shows {lift}"
        if shown > float(seen.climb.begin.flat[0])
        else "no lasting full load on such a day"
    )
    first = (
        "A cap of {cap} would do, if radiator and hoses are made for it; else a larger radiator; until then"
        if fits.size
        else "No cap mends that alone: a larger radiator, as the coolant's own finding says; until then"
    )
    return Phrase(
        f"{first} {lift}.",
        {"cap": Amount(cap, None, Kind.PRESSURE_GAUGE), "lift": Amount(shown, None, Kind.TEMPERATURE)},
    )
