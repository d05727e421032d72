"""The main fuse of a battery that has moved: it must live through the start, save the cable, sit close."""

from __future__ import annotations

import math

from boostwright.findings.case import Case
from boostwright.findings.fuse_case import SHARE_SD, faults, least_rating, pair, saved, start, sure_rating
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
from boostwright.library.fuses import FuseType
from boostwright.physics.cable_heat import continuous_current
from boostwright.systems.electrics import MainCable, ShortCircuit
from boostwright.systems.stated.electrics import (
    battery_moved,
    cranking_of,
    fuse_of,
    fused,
    main_cable_of,
    main_fuse_type,
)

__all__ = ["fuse_cable", "fuse_distance", "fuse_start", "no_fuse"]

_PAIR = "{rating} in a slow screwed-down fuse with {section} is the thinnest pair that is sure of both."


def _paired(case: Case, fitted: float) -> dict[str, Amount]:
    """The amounts of `_PAIR`; empty where no pair is sold."""
    found = pair(case, fitted)
    if found is None:
        return {}
    return {
        "rating": Amount(found.rating, None, Kind.CURRENT),
        "section": Amount(found.section, None, Kind.SECTION),
    }


@rule(
    "electrics.fuse",
    "A fuse in the battery cable",
    asks="Is the long live cable of a battery that has moved fused at all?",
    demand="fuses in the positive cable, where the file says that there is none",
    capacity="one, next to the battery",
    harm=Harm.SEVERE,
    harm_words="a cable that chafes through on a hole's edge glows in the cabin with near a thousand amperes",
    sense=Sense.AT_LEAST,
)
def no_fuse(rule: Rule, case: Case) -> Finding | None:
    """Breaks where the file says that there is none. A stated fuse is judged by its rating, and one that the
    file is silent about is asked for by `electrics.battery`.
    """
    if not battery_moved(case.build) or fused(case.build) is not False:
        return None
    main = main_cable_of(case.build)
    amounts = {} if main is None else _paired(case, main.section)
    if main is not None:
        arc = electric_constant("fault", "arc_share").value
        amounts["short"] = Amount(faults(main)[0].least / arc, None, Kind.CURRENT)
        choice = sure_rating(saved(case, main), main_fuse_type(case.build))
        if choice is not None:
            amounts["choice"] = Amount(choice, None, Kind.CURRENT)
    return rule.finding(
        Amount(0.0, 0.0, Kind.COUNT, "fuses in the positive cable"),
        Amount(1.0, 0.0, Kind.COUNT, "one fuse"),
        LimitRecord(
            "one",
            "common practice, no source",
            "Every live cable that leaves the bay is fused at the battery; only short starter cables of the"
            " original place go without.",
        ),
        place=Place(words="at the battery"),
        cause=Phrase(
            "A dead short at the far end of this cable draws {short}, and nothing ends it but the cable"
            " itself."
            if main is not None
            else "Between battery and starter nothing melts but the cable itself.",
            amounts,
        ),
        remedy=Phrase(
            "Fit a fuse within 300 mm of the battery. "
            + (
                _PAIR
                if "rating" in amounts
                else "Up to {choice} saves this cable; what lives through the start may need a thicker one:"
                " read the cranking current."
                if "choice" in amounts
                else "State section and length of the cable, and the cranking current: its rating follows."
            ),
            amounts,
        ),
        reading=Reading("Follow the cable from the post with a lamp.", 600.0),
        about=("battery.fused", "battery.position"),
    )


@rule(
    "electrics.fuse_start",
    "Main fuse while cranking",
    asks="Does the main fuse live through the starter's inrush and a long cold crank?",
    demand="use that a start makes of the weakest fuse of its type",
    capacity="share of its opening time that it may use so often",
    harm=Harm.WEAR,
    harm_words="it blows on a cold morning, far from home, and somebody bridges it",
    sense=Sense.AT_MOST,
)
def fuse_start(rule: Rule, case: Case) -> Finding | None:
    """Sum of dt/t_earliest(I) over inrush and cranking, against what that many pulses leave alive."""
    fuse = fuse_of(case.build)
    if fuse is None:
        return None
    warm, warm_sd, told = cranking_of(case.build)
    worst = start(case, fuse, warm, warm_sd)
    demand = Amount(worst.use.use, worst.sd, Kind.SHARE, "used by a start")
    capacity = Amount(worst.use.permitted, SHARE_SD, Kind.SHARE, "may be used so often")
    kind, least = main_fuse_type(case.build), None if case.drawn else least_rating(case)
    amounts = {
        "fitted": Amount(fuse.rating, None, Kind.CURRENT),
        "current": Amount(worst.current, None, Kind.CURRENT),
        "time": Amount(worst.time, None, Kind.DELAY),
    }
    if least is not None:
        amounts["least"] = Amount(least, None, Kind.CURRENT)
    main = main_cable_of(case.build)
    enough = worst.room >= deviations(rule.harm)
    largest = max(kind.ratings)
    if fuse.rating > largest:
        amounts["largest"] = Amount(largest, None, Kind.CURRENT)
    amounts |= {} if enough or main is None else _paired(case, main.section)
    return rule.finding(
        demand,
        capacity,
        LimitRecord(
            "fuses.pulses",
            kind.source,
            f"{kind.standard}: {kind.note}. Heat of each pulse tires the element.",
        ),
        place=Place(words=worst.words),
        cause=Phrase(
            "{current} for {time} through a fuse of {fitted}: each start takes its share of the element's"
            " life."
            + ("" if told else " The current is reckoned from the displacement; nobody has read it."),
            amounts,
        ),
        remedy=Phrase(
            "Read type and rating again: no fuse of this type is sold above {largest}."
            if "largest" in amounts
            else "Keep {fitted}; from {least} on a fuse of this type is sure to live through it."
            if enough and least is not None
            else "Keep {fitted}."
            if enough
            else _PAIR
            if "rating" in amounts
            else "Fit {least} of this type, with a cable that it still saves."
            if least is not None
            else "No fuse of this type lives through {current} for {time}: take a slow one that is screwed"
            " down.",
            amounts,
        ),
        reading=Reading(
            "Clamp meter that keeps the peak round the starter's cable, first start of a cold day.", 900.0
        ),
        about=("battery.fuse", "battery.fuse_type", "battery.cranking_current"),
    )


@rule(
    "electrics.fuse_cable",
    "Main fuse against its cable",
    asks="Does the fuse open before a chafed cable burns its cover, from an arc to a dead short?",
    demand="rating of the main fuse",
    capacity="largest rating that opens in time at every fault current of this cable",
    harm=Harm.SEVERE,
    harm_words="the cable glows under the carpet while the fuse still holds",
    sense=Sense.AT_MOST,
)
def fuse_cable(rule: Rule, case: Case) -> Finding | None:
    """Latest opening time against the cable's withstand, fault by fault, solved for the rating."""
    fuse, main = fuse_of(case.build), main_cable_of(case.build)
    if fuse is None or main is None:
        return None
    kind, capacity = main_fuse_type(case.build), saved(case, main)
    demand = Amount(fuse.rating, 0.0, Kind.CURRENT, "main fuse")
    fault, choice = faults(main)[0], sure_rating(capacity, kind)
    sure = choice is not None and fuse.rating <= choice
    amounts = {
        "fitted": demand,
        "arc": Amount(fault.least, None, Kind.CURRENT),
        "short": Amount(fault.most, None, Kind.CURRENT),
        "area": Amount(main.section, None, Kind.SECTION),
    }
    if choice is not None:
        amounts["choice"] = Amount(choice, None, Kind.CURRENT)
    amounts |= {} if sure else _paired(case, main.section)
    return rule.finding(
        demand,
        capacity,
        LimitRecord(
            "computed",
            kind.source,
            f"Latest opening times of {kind.standard} ({kind.note}) against the cable's heat; weakest fault:"
            f" {electric_constant('fault', 'arc_share').source}.",
        ),
        place=Place(words="from an arc at the far end to a dead short behind the fuse"),
        cause=Phrase(
            "A chafed cable of {area} carries from {arc} in an arc to {short} in a dead short: at each of"
            " them the fuse must be quicker than the cable's cover.",
            amounts,
        ),
        remedy=Phrase(
            "Keep {fitted}; up to {choice} is sure to save this cable."
            if sure
            else _PAIR
            if "rating" in amounts
            else "Fit {choice} or less: that is sure to save this cable."
            if choice is not None
            else "No fuse is sure to save this cable at that length: lay a thicker one.",
            amounts,
        ),
        reading=Reading("Read section and cover off the sheath, the rating off the fuse.", 300.0),
        notes=() if case.drawn else (*_arcs_on(kind, fault), *_lasting(main.continuous, main, fuse.rating)),
        about=("battery.fuse", "battery.cable_area", "battery.cable_length", "battery.cable_cover"),
    )


def _arcs_on(kind: FuseType, fault: ShortCircuit) -> tuple[Phrase, ...]:
    """A word on a dead short that this type of fuse cannot break."""
    if fault.most <= kind.gates.breaking_current:
        return ()
    return (
        Phrase(
            "A dead short of {short} is more than the {breaks} that a fuse of this type can break: it may"
            " arc on and burn. Take a screwed-down one.",
            {
                "short": Amount(fault.most, None, Kind.CURRENT),
                "breaks": Amount(kind.gates.breaking_current, None, Kind.CURRENT),
            },
        ),
    )


def _lasting(limit: float, main: MainCable, rating: float) -> tuple[Phrase, ...]:
    """A word on steady currents between what the cable bears and what the fuse lets pass."""
    bears = float(continuous_current(main.cable, limit, electric_constant("place", "boot").value))
    if bears >= rating:
        return ()
    return (
        Phrase(
            "For good this cable bears {lasting} where it lies, less than the fuse: a starter that hangs on"
            " for minutes must be switched off at the battery.",
            {"lasting": Amount(bears, None, Kind.CURRENT)},
        ),
    )


@rule(
    "electrics.fuse_distance",
    "Cable before the fuse",
    asks="Is the fuse close enough to the battery that little live cable lies before it?",
    demand="length of cable between post and fuse",
    capacity="most that workshops leave unfused",
    harm=Harm.SEVERE,
    harm_words="what chafes before the fuse burns with all that the battery gives",
    sense=Sense.AT_MOST,
    limits=("fuse_distance",),
)
def fuse_distance(rule: Rule, case: Case) -> Finding | None:
    """The stated length against the limit."""
    distance = case.amount("battery.fuse_distance", Kind.LENGTH, "cable before the fuse")
    if distance is None:
        return None
    limit = case.limits["fuse_distance"]
    room = deviations(rule.harm) * math.hypot(distance.sd or 0.0, limit.amount.sd or 0.0)
    amounts = {"distance": distance, "most": Amount(limit.amount.value - room, None, Kind.LENGTH)}
    return rule.finding(
        distance,
        limit.amount,
        limit,
        place=Place(words="at the battery"),
        cause=Phrase("{distance} of cable are live without any fuse; every edge along them counts.", amounts),
        remedy=Phrase(
            "Leave it, and sleeve what lies before it."
            if distance.value <= limit.amount.value - room
            else "Move the fuse to {most} or less from the post, and sleeve what is left before it.",
            amounts,
        ),
        reading=Reading("Tape along the cable from the post to the fuse.", 120.0),
        about=("battery.fuse_distance",),
    )
