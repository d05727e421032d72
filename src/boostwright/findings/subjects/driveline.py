"""Clutch, gearbox, grip and tyres under the torque and the speed of the match."""

from __future__ import annotations

import math

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, LimitRecord, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.road_case import Fastest, fastest, gearing_assumed, speed_before, strongest
from boostwright.findings.sure import sure_demand
from boostwright.library.car_parts import car_constant
from boostwright.physics.clutch import scaled_capacity
from boostwright.physics.driveline import engine_speed_at, road_speed_at
from boostwright.physics.vehicle import axle_loads, wheel_torque
from boostwright.systems.on_the_road import grip_torque
from boostwright.systems.stated.on_the_road import chassis_of, clutch_of
from boostwright.systems.stated.transient import car_of

__all__ = ["clutch", "gearbox", "stated", "traction", "tyres"]

_WANTED = {
    "car.gears": "gear ratios",
    "car.final_drive": "final drive",
    "car.tyre": "tyre size",
    "car.tyre_speed": "speed that the tyres are rated for",
    "car.brake_fluid_date": "date of the brake fluid",
}
_WEIGHED = ("car.mass", "car.brake_disc_mass")  # with either of them the brakes are judged
_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")


def _listed(parts: list[str]) -> str:
    return ", ".join(parts[:-1]) + (" and " if len(parts) > 1 else "") + parts[-1]


@rule(
    "driveline.stated",
    "Clutch, gears, tyres and brakes",
    asks="Does the file say what carries the new torque and speed, and what stops them?",
    demand="torque and speed of the match",
    capacity="clutch, gears and tyres as stated",
    harm=Harm.WEAR,
    harm_words="the clutch slips or a tyre runs faster than it may, and nobody looked beforehand",
    sense=Sense.AT_MOST,
)
def stated(rule: Rule, case: Case) -> Finding | None:
    """Unknown as long as clutch, gearing or tyres are not stated; silent once they are."""
    strong = strongest(case)
    if strong is None:
        return None
    clutch_stated = bool(clutch_of(case.build).how)
    missing = [] if clutch_stated else ["clutch"]
    missing += [words for path, words in _WANTED.items() if not case.build.is_stated(path)]
    if not any(case.build.is_stated(path) for path in _WEIGHED):
        missing.append("mass of the car, without which the brakes are not judged")
    if not missing:
        return None
    speed = fastest(case)
    return rule.finding(
        None,
        None,
        LimitRecord("readings", "the build file", "What is not stated cannot be set against the match."),
        cause=Phrase(
            f"The file does not state: {_listed(missing)}."
            + (
                ""
                if clutch_stated
                else " The clutch of the engine as delivered would carry {usual:band} or so."
            ),
            {} if clutch_stated else {"usual": _as_delivered(case)},
        ),
        remedy=Phrase(
            "Write them into the file. The match asks {torque:band} of the clutch"
            + (", and the car reaches {speed} or so." if speed is not None else "."),
            {"torque": strong.torque}
            | ({} if speed is None else {"speed": Amount(speed.speed.value, None, Kind.ROAD_SPEED)}),
        ),
        reading=Reading(
            "Handbook for gears and axle, side wall for the tyres, seller for the clutch; then fourth gear,"
            " 2000 rpm, full throttle on a closed road: a clutch that slips shows by revs that rise alone.",
            1800.0,
        ),
        about=("clutch.torque", *_WANTED, "car.mass"),
    )


def _as_delivered(case: Case) -> Amount:
    """Torque that a clutch as delivered carries, by the engine that it came with."""
    reserve = car_constant("clutch", "reserve")
    stock = float(np.nanmax(case.baseline.result.torque))
    carries = float(scaled_capacity(stock, reserve.value))
    return Amount(carries, carries * reserve.sd / reserve.value, Kind.TORQUE)


@rule(
    "driveline.clutch",
    "Clutch",
    asks="Does the clutch carry the torque with the turbo?",
    demand="greatest torque of the match, over every speed and day",
    capacity="torque at which the clutch slips: as stated, or from clamp load, lining and its radii",
    harm=Harm.WEAR,
    harm_words="it slips in the high gears, revs rise without speed, and lining and flywheel burn",
    sense=Sense.AT_MOST,
)
def clutch(rule: Rule, case: Case) -> Finding | None:
    """Torque of the match against the stated one, or N mu F (ro + ri)/2 of a run-in disc."""
    strong, holds = strongest(case), clutch_of(case.build)
    if strong is None or not holds.how:
        return None
    capacity = Amount(holds.torque, holds.sd, Kind.TORQUE, "the clutch slips")
    z_room = sure_demand(
        strong.torque, capacity, Sense.AT_LEAST, rule.harm, relative=True
    )  # capacity that is sure
    least = Amount(z_room, None, Kind.TORQUE)
    more = Amount(z_room / holds.torque, None, Kind.RATIO)
    before = float(np.nanmax(case.baseline.result.torque))
    goal, i = strong.there.goal, strong.there.place
    most = sure_demand(capacity, strong.torque, rule.sense, rule.harm, relative=True)
    keep = max(
        float(goal.plenum_pressure[i]) * most / strong.torque.value - strong.there.line.ambient_pressure, 0.0
    )
    amounts = {"least": least, "more": more, "keep": Amount(keep, None, Kind.PRESSURE_GAUGE)}
    if strong.torque.value <= most:
        remedy = Phrase("Leave it; up to {most} is sure.", {"most": Amount(most, None, Kind.TORQUE)})
    else:
        text = "Fit a clutch for {least} or more"
        if holds.how == "plate":
            text += ", or a plate with {more} times the clamp load"
        if keep > 0.1e5:
            text += "; until then keep boost near {keep} where the torque is greatest"
        remedy = Phrase(text + ".", amounts)
    return rule.finding(
        strong.torque,
        capacity,
        LimitRecord(
            "clutch",
            f"the build file, line {case.build['clutch.torque'].line}"
            if holds.how == "stated"
            else "shigley2015",
            "The torque that you state, with the spread of its source."
            if holds.how == "stated"
            else "Clamp load times friction times mean radius of a run-in lining; friction is known to 10 %.",
        ),
        place=Place(strong.there.speed),
        corner=strong.there.corner,
        cause=Phrase(
            "The engine gave {before} before the turbo; a clutch as delivered is made for a fifth to a half"
            " more than that.",
            {"before": Amount(before, None, Kind.TORQUE)},
        ),
        remedy=remedy,
        reading=Reading(
            "Before the conversion: highest gear, 2000 rpm, full throttle on a closed road uphill; log revs"
            " over road speed. The ratio must stay within 1.5 %.",
            1200.0,
        ),
        notes=_wheel_notes(case, strong.torque),
        about=("clutch.torque", "clutch.clamp_load", "clutch.lining"),
    )


def _wheel_notes(case: Case, torque: Amount) -> tuple[Phrase, ...]:
    """Torque at the wheels by gear, and how much of it the tyres let through in the lowest."""
    if gearing_assumed(case):
        return ()
    car = car_of(case.build)
    at_wheels = wheel_torque(torque.value, np.asarray(car.gears) * car.final_drive, car.efficiency)
    names = [f"g{k}" for k in range(len(car.gears))]
    listed = ", ".join(f"{{{name}}}" for name in names)
    return (
        Phrase(
            f"At the driven wheels, gear by gear from first: {listed}, as far as the tyres hold it.",
            {name: Amount(float(t), None, Kind.TORQUE) for name, t in zip(names, at_wheels, strict=True)},
        ),
    )


@rule(
    "driveline.gearbox",
    "Gearbox",
    asks="Does the gearbox stand the torque at its input?",
    demand="greatest torque of the match, over every speed and day",
    capacity="torque that the gearbox is rated for",
    harm=Harm.WEAR,
    harm_words="bearings and teeth of the low gears pit and break, and the car stands",
    sense=Sense.AT_MOST,
)
def gearbox(rule: Rule, case: Case) -> Finding | None:
    """Torque of the match against the stated rating; in the low gears no more than the tyres hold."""
    strong, rated = (
        strongest(case),
        case.amount("car.gearbox_torque", Kind.TORQUE, "the gearbox is rated for"),
    )
    if strong is None or rated is None:
        return None
    over = strong.torque.value > rated.value
    spared = _spared(case, rated.value)
    most = sure_demand(rated, strong.torque, rule.sense, rule.harm, relative=True)
    return rule.finding(
        strong.torque,
        rated,
        LimitRecord(
            "gearbox",
            f"the build file, line {case.build['car.gearbox_torque'].line}",
            "The rating that you state; it leaves room for shocks, and none for missed shifts.",
        ),
        place=Place(strong.there.speed),
        corner=strong.there.corner,
        cause=Phrase(f"The gears pass on what the clutch does.{spared}"),
        remedy=Phrase(
            "Keep the torque at {most} or below: boost by gear, or full boost only where the curve falls; no"
            " launches, no full throttle in a shift."
            if over or strong.torque.value > most
            else "Leave it; up to {most} is sure. Fresh oil of the maker's grade, no dropped clutches.",
            {"most": Amount(most, None, Kind.TORQUE)},
        ),
        reading=Reading("Code on the gearbox; ask a gearbox rebuilder what it is rated for.", 900.0),
        about=("car.gearbox_torque",),
    )


def _spared(case: Case, rated: float) -> str:
    """In which low gears the tyres spin below a torque; '' where gears or driven wheels are not stated."""
    if gearing_assumed(case) or not case.build.is_stated("car.driven_wheels"):
        return ""
    held = grip_torque(car_of(case.build), chassis_of(case.build))
    free = [k for k, most in enumerate(held) if float(most) > rated]
    return "" if not free or free[0] == 0 else f" In {_gears(range(free[0]))} the tyres spin before that."


def _gears(numbers: range | list[int]) -> str:
    return _listed([_ORDINALS[k] if k < len(_ORDINALS) else f"gear {k + 1}" for k in numbers])


@rule(
    "driveline.tyre_speed",
    "Speed of the tyres",
    asks="Are the tyres rated for the speed that the car now reaches?",
    demand="greatest speed on a level road by torque, gears and drag, over every day",
    capacity="speed that the tyres are rated for",
    harm=Harm.SEVERE,
    harm_words="a tyre overheats and comes apart at speed",
    sense=Sense.AT_MOST,
    limits=("tyre_speed",),
)
def tyres(rule: Rule, case: Case) -> Finding | None:
    """The highest speed at which the pull meets the road load, or the gears end, against the rating."""
    fast, rated = fastest(case), case.stated("car.tyre_speed")
    if fast is None or rated is None:
        return None
    limit = case.limits["tyre_speed"]
    capacity = Amount(
        float(rated.value) * limit.amount.value,
        float(rated.value) * (limit.amount.sd or 0.0),
        Kind.ROAD_SPEED,
        "speed that the tyres are rated for",
    )
    reached = fast.reached
    sure = Amount(sure_demand(fast.speed, capacity, Sense.AT_LEAST, rule.harm), None, Kind.ROAD_SPEED)
    gear = _gears([reached.gear - 1])
    cuts, cut_at = _cuts(case, fast, capacity)
    return rule.finding(
        fast.speed,
        capacity,
        limit,
        place=Place(words=f"in {gear} gear, level road"),
        corner=fast.line.corner,
        cause=Phrase(
            f"In {gear} gear the "
            + ("engine's end of revs" if reached.by_gearing else "air")
            + " ends it; before the turbo it was {before}.",
            {"before": Amount(speed_before(case), None, Kind.ROAD_SPEED)},
        ),
        remedy=Phrase(
            f"Fit tyres rated for {{sure}} or more, or cut revs {cuts}; until then stay below the rating."
            if fast.speed.value > sure_demand(capacity, fast.speed, rule.sense, rule.harm)
            else "Leave them; mind their age and pressure: an old or soft tyre does not carry its rating.",
            {"sure": sure, **cut_at},
        ),
        reading=Reading("Letter after the load number on every side wall, and the date beside it.", 300.0),
        assumed=gearing_assumed(case),
        about=("car.tyre_speed", "car.gears", "car.final_drive", "car.tyre", "car.drag_area"),
    )


def _cuts(case: Case, fast: Fastest, capacity: Amount) -> tuple[str, dict[str, Amount]]:
    """In which gears revs must be cut so that no gear passes the tyres' speed, and where, each by its name.

    Every gear counts that passes that speed below the engine's speed limit: the one below the fastest, too.
    """
    car = car_of(case.build)
    share = car_constant("road", "gearing").sd
    by_gears = Amount(capacity.value, share * capacity.value, Kind.ROAD_SPEED)
    most = sure_demand(capacity, by_gears, Sense.AT_MOST, Harm.SEVERE)
    limit = case.build.number("engine.speed_limit")
    said, amounts = [], {}
    for k, gear in enumerate(car.gears):
        ratio = gear * car.final_drive
        if float(road_speed_at(limit, ratio, car.radius)) > most or k == fast.reached.gear - 1:
            said.append(f"in {_gears([k])} gear at {{cut{k}}}")
            cut = float(engine_speed_at(most, ratio, car.radius))
            amounts[f"cut{k}"] = Amount(cut, None, Kind.ENGINE_SPEED)
    return _listed(said), amounts


@rule(
    "driveline.traction",
    "Grip in the gear of a pull",
    asks="Do the driven tyres hold the torque in the gear of a full-load pull?",
    demand="greatest torque of the match",
    capacity="torque at the crank at which the driven tyres spin in that gear, dry road",
    harm=Harm.NUISANCE,
    harm_words="the tyres spin instead of pulling, and a log of that pull tells nothing",
    sense=Sense.AT_MOST,
)
def traction(rule: Rule, case: Case) -> Finding | None:
    """Grip of the driven axle with its shift of load, through gear and axle to the crank."""
    strong = strongest(case)
    if strong is None or gearing_assumed(case) or not case.build.is_stated("car.driven_wheels"):
        return None
    build, car = case.build, car_of(case.build)
    held = grip_torque(car, chassis_of(build))
    wet = grip_torque(car, chassis_of(build, "grip_wet"))
    gear = min(build.count("car.test_gear"), len(car.gears)) - 1
    mu, front, mass = car_constant("road", "grip"), build["car.front_share"], build["car.mass"]
    share = math.hypot(
        mu.sd / mu.value,
        float(front.sd or 0.0) / float(front.value),
        float(mass.sd or 0.0) / float(mass.value),
    )
    capacity = Amount(float(held[gear]), float(held[gear]) * share, Kind.TORQUE, "the tyres spin")
    dry_spins = [k for k, most in enumerate(held) if strong.torque.value > float(most)]
    wet_spins = [k for k, most in enumerate(wet) if strong.torque.value > float(most)]
    return rule.finding(
        strong.torque,
        capacity,
        LimitRecord("computed", "wong2001", "Load on the driven axle times the grip of tyre and road."),
        place=Place(strong.there.speed, f"in {_gears([gear])} gear"),
        corner=strong.there.corner,
        cause=_spins(case, dry_spins, wet_spins),
        remedy=Phrase(
            f"Less boost in {_gears(dry_spins)} gear, by controller or right foot; pull in a higher gear for"
            " logs."
            if gear in dry_spins
            else "Nothing for logs in this gear; in the wet, feed it in."
        ),
        reading=Reading("One pull in the dry: revs over road speed, driven and free wheels.", 900.0),
        notes=_axle_note(case),
        about=("car.driven_wheels", "car.front_share", "car.mass", "battery.position"),
        at_worst_tight=True,
    )


def _axle_note(case: Case) -> tuple[Phrase, ...]:
    """Axle loads at rest where the battery has moved."""
    if case.word("battery.position") in (None, "bay"):
        return ()
    chassis = chassis_of(case.build)
    now = axle_loads(chassis.mass, chassis.front_share, chassis.height)
    where = "as weighed" if case.build.is_stated("car.front_share") else "with the battery at the back"
    return (
        Phrase(
            f"Axle loads at rest, {where}: {{front}} in front and {{rear}} behind, {{share}} in front.",
            {
                "front": Amount(float(now.front), None, Kind.FORCE),
                "rear": Amount(float(now.rear), None, Kind.FORCE),
                "share": Amount(float(chassis.front_share), None, Kind.SHARE),
            },
        ),
    )


def _spins(case: Case, dry: list[int], wet: list[int]) -> Phrase:
    """In which gears the tyres spin, and up to which road speed."""
    car, strong = car_of(case.build), strongest(case)
    assert strong is not None
    if not dry and not wet:
        return Phrase("The tyres hold full torque in every gear, wet and dry.")
    amounts: dict[str, Amount] = {}
    text = "On a dry road they hold it in every gear"
    if dry:
        goal = strong.there.goal
        held = float(grip_torque(car, chassis_of(case.build))[dry[-1]])
        spinning = np.flatnonzero(np.nan_to_num(goal.result.torque) > held)
        speed = road_speed_at(goal.speed[spinning[-1]], car.gears[dry[-1]] * car.final_drive, car.radius)
        amounts["until"] = Amount(float(speed), None, Kind.ROAD_SPEED)
        text = f"On a dry road they spin in {_gears(dry)} gear, up to {{until}}"
    more = [k for k in wet if k not in dry]
    text += f"; on a wet one in {_gears(more)} too." if more else "."
    return Phrase(text, amounts)
