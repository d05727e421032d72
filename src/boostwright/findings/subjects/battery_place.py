"""A battery in boot or cabin: what nobody has stated of it, its gas, and what ties it down."""

from __future__ import annotations

import math

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
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import deviations
from boostwright.library.electrics import electric_constant
from boostwright.physics.battery_gas import hydrogen_flow, time_to_share
from boostwright.systems.stated.electrics import battery_moved, fused

__all__ = ["hold_down", "moved_battery", "venting"]

_WANTED = {
    "battery.cable_area": "section of the positive cable",
    "battery.cable_length": "its length",
    "battery.fuse": "rating of the main fuse",
    "battery.fuse_distance": "cable between post and fuse",
    "battery.vented": "whether a tube leads its gas outside",
    "battery.hold_down": "what ties it down",
}
_FUSE = ("battery.fuse", "battery.fuse_distance")
_GRAVITY = 9.80665  # [m/s2]


_CABLE = ("battery.cable_area", "battery.cable_length")


def _missing(case: Case) -> dict[str, str]:
    """What is not stated: of everything where the battery has moved, else of a cable that is half told."""
    if not battery_moved(case.build):
        told = [case.build.is_stated(path) for path in _CABLE]
        return {p: _WANTED[p] for p in _CABLE if any(told) and not case.build.is_stated(p)}
    without = _FUSE if fused(case.build) is False else ()
    return {p: w for p, w in _WANTED.items() if p not in without and not case.build.is_stated(p)}


@rule(
    "electrics.battery",
    "Battery that has moved",
    asks="Is all stated that a battery away from its place must be judged by?",
    demand="what the build file states of battery, cable and fuse",
    capacity="cable, fuse, distance, vent and hold-down",
    harm=Harm.DAMAGE,
    harm_words="a long live cable, gas in a closed room and twenty kilos loose in a hit",
    sense=Sense.AT_LEAST,
)
def moved_battery(rule: Rule, case: Case) -> Finding | None:
    """Unknown as long as something is missing; silent for a battery in the bay without a word on its
    cable, and once all is stated.
    """
    missing = _missing(case)
    if not missing:
        return None
    words = list(missing.values())
    moved = "The battery has left its place" if battery_moved(case.build) else "Its cable is half told"
    listed = ", ".join(words[:-1]) + (" and " if len(words) > 1 else "") + words[-1]
    return rule.finding(
        None,
        None,
        LimitRecord(
            "readings", "the build file", "What is not stated cannot be judged, and here it can burn."
        ),
        place=Place(words="at the battery"),
        cause=Phrase(f"{moved}; the file does not state: {listed}."),
        remedy=Phrase(f"Look and write down: {listed}."),
        reading=Reading("Lamp, tape and calliper along the cable from the post to the starter.", 1800.0),
        about=("battery.position", *missing),
    )


@rule(
    "electrics.venting",
    "Gas of the battery",
    asks="Does a tube lead the battery's gas outside when it shares the air with people or luggage?",
    demand="tubes to the outside that the file states",
    capacity="one",
    harm=Harm.SEVERE,
    harm_words="hydrogen collects under the lid, and the next relay that clicks sets it off",
    sense=Sense.AT_LEAST,
)
def venting(rule: Rule, case: Case) -> Finding | None:
    """A tube or none, with the time that a stuck regulator needs to make boot air explosive."""
    stated = case.stated("battery.vented")
    if stated is None or not battery_moved(case.build):
        return None
    vented = stated.value is True
    current, room = electric_constant("gas", "overcharge"), electric_constant("gas", "boot")
    flow = float(hydrogen_flow(current.value, T=case.ambient_temperature, p=case.ambient_pressure))
    amounts = {
        "current": Amount(current.value, None, Kind.CURRENT),
        "room": Amount(room.value, None, Kind.VOLUME),
        "flow": Amount(flow, None, Kind.VOLUME_FLOW),
        "time": Amount(float(time_to_share(flow, room.value)), None, Kind.TIME),
    }
    return rule.finding(
        Amount(1.0 if vented else 0.0, 0.0, Kind.COUNT, "tubes to the outside"),
        Amount(1.0, 0.0, Kind.COUNT, "one tube"),
        LimitRecord(
            "one",
            "iec62485",
            "Hydrogen explodes from 4 % of the air on, and every ampere hour of overcharge makes 2.5 L of"
            " it in six cells. That cars get a tube is common practice, no source.",
        ),
        place=Place(words="at the battery"),
        cause=Phrase(
            "A full battery that a stuck regulator overcharges with {current} gives off {flow} of hydrogen;"
            " a closed boot of {room} is explosive after {time}, a box round the battery far sooner.",
            amounts,
        ),
        remedy=Phrase(
            "Keep the tube free and its end outside, low, away from exhaust and sparks."
            if vented
            else "Put it into a closed box with a tube of 8 mm or more through the floor, or fit a sealed"
            " type with a vent and lead that outside; charge at no more than 14.5 V.",
            amounts,
        ),
        reading=Reading("Follow the tube from the battery's cover to its end under the car.", 300.0),
        about=("battery.vented", "battery.position"),
    )


@rule(
    "electrics.hold_down",
    "Hold-down of the battery",
    asks="Does the battery stay where it is in a hit?",
    demand="force that its fastening stands, points that pull when it tips forward",
    capacity="its mass times the load of a hit",
    harm=Harm.SEVERE,
    harm_words="it breaks loose, shorts on the body and flies at the people in front",
    sense=Sense.AT_LEAST,
    limits=("battery_load",),
)
def hold_down(rule: Rule, case: Case) -> Finding | None:
    """n f F_point against m g a."""
    kind = case.word("battery.hold_down")
    if kind is None:
        return None
    weighed, count = case.build["battery.mass"], case.stated("battery.hold_points")
    mass, mass_sd = float(weighed.value), float(weighed.sd or 0.0)
    points = electric_constant("hold", "points").value if count is None else float(count.value)
    one, sharing = electric_constant("hold", kind), electric_constant("hold", "sharing")
    load = case.limits["battery_load"]
    force = points * sharing.value * one.value
    shares = (0.0 if one.value == 0.0 else one.sd / one.value, sharing.sd / sharing.value)
    demand = Amount(force, force * math.hypot(*shares), Kind.FORCE, "what the fastening stands")
    hit = mass * _GRAVITY * load.amount.value
    relative = math.hypot(mass_sd / mass, (load.amount.sd or 0.0) / load.amount.value)
    capacity = Amount(hit, hit * relative, Kind.FORCE, "load of a hit")
    needed = hit + deviations(rule.harm) * math.hypot(demand.sd or 0.0, capacity.sd or 0.0)
    good = electric_constant("hold", "plates")
    r = deviations(rule.harm) * math.hypot(good.sd / good.value, sharing.sd / sharing.value)
    fit = max(2, math.ceil(hit * (1.0 + 2.0 * relative) / (sharing.value * good.value * max(1.0 - r, 0.1))))
    amounts = {
        "mass": Amount(mass, None, Kind.COUNT),
        "hit": capacity,
        "force": demand,
        "points": Amount(points, 0.0, Kind.COUNT),
        "fit": Amount(float(fit), 0.0, Kind.COUNT),
    }
    return rule.finding(
        demand,
        capacity,
        load,
        place=Place(words="at the battery"),
        cause=Phrase(
            "In a hit {mass} kg pull with {hit}; half of {points} points take it as the battery tips, and"
            " stand {force}."
            + (
                ""
                if case.build.is_stated("battery.mass")
                else " Its mass is that of a usual one; nobody has weighed it."
            ),
            amounts,
        ),
        remedy=Phrase(
            "Leave it, and see that it does not move when pulled by hand."
            if force >= needed
            else "Steel frame over the battery, {fit} bolts M8 through spreader plates under the floor;"
            " look underneath for tank and lines before you drill.",
            amounts,
        ),
        reading=Reading("Weigh the battery; count bolts and plates from below.", 900.0),
        about=("battery.hold_down", "battery.hold_points", "battery.mass"),
    )
