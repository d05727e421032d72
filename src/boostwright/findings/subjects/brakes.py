"""Brakes at the speed that the car now reaches: heat of the discs, and the age of the fluid."""

from __future__ import annotations

import math

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.moved import moved_spread
from boostwright.findings.registry import Rule, rule
from boostwright.findings.road_case import Fastest, fastest, gearing_assumed, speed_before
from boostwright.findings.sure import sure_demand
from boostwright.systems.on_the_road import disc_after_stops
from boostwright.systems.stated.on_the_road import brakes_of, uncertain_brakes
from boostwright.systems.stated.transient import car_of

__all__ = ["discs", "fluid"]

_PADS = {"standard": "brake_standard", "sport": "brake_sport", "track": "brake_track"}
_DAY = 86400.0
_TESTER = Reading("A boiling-point tester from a workshop, a spoonful from the caliper.", 900.0)
_BIGGER = (1.1, 1.2, 1.3, 1.4, 1.5, 1.6, 1.8, 2.0, 2.25, 2.5)  # times the mass of the disc
_SLOWER = (0.95, 0.9, 0.85, 0.8, 0.75, 0.7, 0.65, 0.6, 0.5)  # times the speed reached
_USES = {
    "road": "one full stop from the speed reached",
    "hills": "two stops of a descent, one after the other",
    "towing": "one stop on a descent",
    "track": "four stops of a lap, one after the other",
}


@rule(
    "brakes.discs",
    "Brakes at the new speed",
    asks="Do the front brakes still bite at the end of the stops that the new speed asks for?",
    demand="front disc after the stops of the car's use, from the speed that the match reaches",
    capacity="disc temperature up to which these pads bite",
    harm=Harm.SEVERE,
    harm_words="the brakes fade, the pedal goes soft, and the car does not stop",
    sense=Sense.AT_MOST,
    limits=("brake_standard", "brake_sport", "brake_track"),
)
def discs(rule: Rule, case: Case) -> Finding | None:
    """m_eff v^2/2, the front's share of it into two discs, stop after stop."""
    fast = fastest(case)
    known = case.build.is_stated("car.mass") or case.build.is_stated("car.brake_disc_mass")
    if fast is None or not known:
        return None
    limit = case.limits[_PADS[case.build.words("car.brake_pads")]]
    demand = _disc(case, fast)
    sure = sure_demand(limit.amount, demand, rule.sense, rule.harm)
    weight = case.build.number("car.brake_disc_mass")
    before = disc_after_stops(brakes_of(case.build), car_of(case.build), speed_before(case), _air(fast))
    unstated = (
        []
        if case.build.is_stated("car.brake_disc_mass")
        else ["The mass of the front discs is not stated; one usual for this car is assumed."]
    )
    if gearing_assumed(case):
        unstated.append(gearing_assumed(case))
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(words=f"from {fast.speed.value * 3.6:.0f} km/h"),
        corner=fast.line.corner,
        cause=Phrase(
            f"The heat of a stop grows with the square of speed: {_USES[case.build.words('build.use')]} took"
            " the discs to {before} before the turbo.",
            {"before": Amount(float(before), None, Kind.TEMPERATURE)},
        ),
        remedy=_remedy(rule, case, fast, demand, sure, weight),
        reading=Reading(
            "Weigh a front disc, and paint its edge with temperature paint before a drive.", 3600.0
        ),
        assumed=" ".join(unstated),
        about=("car.brake_disc_mass", "car.brake_pads", "car.mass", "build.use", "car.drag_area"),
    )


def _air(fast: Fastest) -> float:
    return fast.line.ambient_temperature


def _disc(case: Case, fast: Fastest, bigger: float = 1.0, slower: float = 1.0) -> Amount:
    """The disc after the stops, with its spread. bigger, slower: factors on its mass and the speed [-]."""
    rows = [
        ("speed", slower * fast.speed.value, slower * (fast.speed.sd or 0.0)),
        *uncertain_brakes(case.build),
    ]
    car = car_of(case.build)

    def after(values):  # type: ignore[no-untyped-def]
        moved = dict(values)
        moved["car.brake_disc_mass"] = moved["car.brake_disc_mass"] * bigger
        return disc_after_stops(brakes_of(case.build, moved), car, values["speed"], _air(fast))

    hot, sd = moved_spread(rows, after)
    mass = case.build["car.mass"]
    by_mass = float(mass.sd or 0.0) / float(mass.value) * (hot - _air(fast))
    return Amount(hot, math.hypot(sd, by_mass), Kind.TEMPERATURE, "front disc at the end")


def _remedy(rule: Rule, case: Case, fast: Fastest, demand: Amount, sure: float, weight: float) -> Phrase:
    if demand.value <= sure:
        return Phrase("Leave them; fresh fluid, and look at discs and hoses before the first fast drive.")
    if case.drawn:
        return Phrase("Fit larger discs and better pads, or drive more slowly.")
    limit = case.limits[_PADS[case.build.words("car.brake_pads")]].amount

    def holds(disc: Amount, most: Amount = limit) -> bool:
        return disc.value <= sure_demand(most, disc, rule.sense, rule.harm)

    bigger = next((f for f in _BIGGER if holds(_disc(case, fast, bigger=f))), None)
    slower = next((f for f in _SLOWER if holds(_disc(case, fast, slower=f))), _SLOWER[-1])
    amounts = {"slow": Amount(slower * fast.speed.value, None, Kind.ROAD_SPEED)}
    ways = []
    kind = case.build.words("car.brake_pads")
    better = "brake_sport" if kind == "standard" else "brake_track" if kind == "sport" else ""
    if better and holds(demand, case.limits[better].amount):
        ways.append(f"fit pads for {'hard road use' if better == 'brake_sport' else 'circuits'}")
    if bigger is not None:
        amounts["disc"] = Amount(bigger * weight, None, Kind.MASS)
        ways.append("fit front discs whose ring weighs {disc} or more")
    ways.append("stay below {slow}")
    text = ", or ".join(ways)
    return Phrase(f"{text[0].upper()}{text[1:]}.", amounts)


@rule(
    "brakes.fluid",
    "Age of the brake fluid",
    asks="Is the brake fluid young enough for hotter brakes?",
    demand="age of the fluid on the date of the file",
    capacity="age at which it is changed",
    harm=Harm.SEVERE,
    harm_words="the fluid boils, the pedal goes to the floor, and the car does not stop",
    sense=Sense.AT_MOST,
    limits=("brake_fluid_age",),
)
def fluid(rule: Rule, case: Case) -> Finding | None:
    """Date of the file less that of the last change."""
    changed, today = case.stated("car.brake_fluid_date"), case.stated("build.date")
    if case.goal is None or changed is None:
        return None
    if today is None:
        return rule.finding(
            None,
            case.limits["brake_fluid_age"].amount,
            case.limits["brake_fluid_age"],
            cause=Phrase("The file has no date of its own, so the age of the fluid cannot be told."),
            remedy=Phrase("Write the date of the file into [build], and look when the fluid was changed."),
            reading=_TESTER,
            about=("car.brake_fluid_date", "build.date"),
        )
    age = (today.value - changed.value).days * _DAY
    if age < 0.0:
        return rule.finding(
            None,
            case.limits["brake_fluid_age"].amount,
            case.limits["brake_fluid_age"],
            cause=Phrase(
                "The fluid's last change stands after the date of the file: one of the two is wrong."
            ),
            remedy=Phrase(
                "Set the date of the file in [build] to today's, and look when the fluid was changed."
            ),
            reading=_TESTER,
            about=("car.brake_fluid_date", "build.date"),
        )
    limit = case.limits["brake_fluid_age"]
    demand = Amount(age, 0.0, Kind.AGE, "since the last change")
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(words="on the date of the file"),
        cause=Phrase(
            "Brake fluid draws water from the air through hoses and cap, and boils earlier each year."
        ),
        remedy=Phrase(
            "Change it before the first fast drive, with the class that the lid names, and bleed every wheel."
            if age > sure_demand(limit.amount, demand, rule.sense, rule.harm)
            else "Leave it, and change it when it is two years old."
        ),
        reading=_TESTER,
        about=("car.brake_fluid_date", "build.date"),
    )
