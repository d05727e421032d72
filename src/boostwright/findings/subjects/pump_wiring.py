"""The wires of the fuel pump: what they take before the current reaches its terminals."""

from __future__ import annotations

import math
from functools import lru_cache

from boostwright.build.catalogue import catalogue
from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, LimitRecord, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import deviations, sure_loss
from boostwright.library.cables import cables, heat_cable, insulation
from boostwright.library.electrics import electric_constant
from boostwright.library.fuses import fuse_practice, fuse_type
from boostwright.physics.cable_heat import continuous_current
from boostwright.systems.stated.fuel_side import wired_pump_of

__all__ = ["pump_feed", "pump_fuse", "pump_wire"]

_COVER = "pvc_85"  # of a thin wire that nobody looked at (judgement)
_WIRE_SD = 0.12  # of the current that a wire bears among others (physics.cable_heat; judgement)

_WIRING = (
    "pump.cable_area",
    "pump.cable_length",
    "pump.relay",
    "pump.earth",
    "pump.connectors",
    "pump.current",
    "pump.fuse",
)
_PARTS = {
    "feed": "wire",
    "relay": "relay or switch",
    "fuse": "fuse",
    "connector": "plugs",
    "back": "way back",
}


@rule(
    "electrics.pump_feed",
    "Wires of the fuel pump",
    asks="Does the pump get its voltage through wire, relay, plugs and the way back?",
    demand="pump current at rail pressure and boost, times the resistance of its whole path",
    capacity="most that feed and return may lose",
    harm=Harm.POOR_RUNNING,
    harm_words="each volt lost is a tenth of the pump's flow, and hot contacts end up losing more",
    sense=Sense.AT_MOST,
    limits=("pump_drop",),
)
def pump_feed(rule: Rule, case: Case) -> Finding | None:
    """U = I (R_wire + R_relay + R_fuse + R_plugs + R_back); unknown where its section or
    its length is missing, silent where nothing is stated of it.
    """
    feed = wired_pump_of(case.build)
    if feed is None:
        return _half_told(rule, case)
    demand = Amount(feed.drop, feed.drop_sd, Kind.VOLTAGE_DROP, "lost on the pump's path")
    limit = case.limits["pump_drop"]
    sure = sure_loss(limit.amount, demand, rule.sense, rule.harm)
    drops = {part: feed.current * float(getattr(feed.path, part)) for part in _PARTS}
    worst = max(drops, key=lambda part: drops[part])
    stated = case.stated("pump.voltage") if case.build.is_stated("pump.voltage") else None
    amounts = {
        "current": Amount(feed.current, None, Kind.CURRENT),
        "volts": Amount(feed.voltage, feed.voltage_sd, Kind.VOLTAGE),
        "source": Amount(feed.source, None, Kind.VOLTAGE),
        "worst": Amount(drops[worst], None, Kind.VOLTAGE_DROP),
        "most": Amount(sure, None, Kind.VOLTAGE_DROP),
    }
    cause = (
        "Of {source} at the battery, {current} leave {volts:band} at the pump; the largest part, {worst},"
        " stays"
        f" in its {_PARTS[worst]}."
    )
    cause += "" if feed.current_stated else " The current is reckoned from flow and pressure."
    if stated is not None:
        amounts["read"] = Amount(float(stated.value), stated.sd, Kind.VOLTAGE)
        cause += " The fuel side goes by the {read} that were read."
        short = feed.voltage - float(stated.value)
        if short > 2.0 * math.hypot(feed.voltage_sd, float(stated.sd or 0.0)):
            amounts["short"] = Amount(short, None, Kind.VOLTAGE_DROP)
    section = None if case.drawn else _section(case, limit.amount, rule.harm)
    if section is not None:
        amounts["section"] = Amount(section, None, Kind.SECTION)
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(words="at the pump, running"),
        cause=Phrase(cause, amounts),
        remedy=Phrase(_remedy(feed.drop <= sure, section, worst), amounts),
        reading=Reading(
            "Engine running, lights on: voltmeter from battery post to the pump's plus, then from its minus"
            " to the other post. Clip on with the ignition off: no spark near the tank.",
            900.0,
        ),
        notes=_unexplained(amounts),
        about=_WIRING[:-1],
    )


def _unexplained(amounts: dict[str, Amount]) -> tuple[Phrase, ...]:
    """A word where the pump gets less than its wires account for."""
    if "short" not in amounts:
        return ()
    return (
        Phrase(
            "That is {short} less than these wires account for: feel for a warm contact, and read the"
            " alternator.",
            amounts,
        ),
    )


def _half_told(rule: Rule, case: Case) -> Finding | None:
    """Something of the wiring is stated, but not enough to reckon with: a question, unless the voltage at the
    pump was read, which is all that the wires could tell.
    """
    if case.build.is_stated("pump.voltage") or not any(case.build.is_stated(path) for path in _WIRING):
        return None
    words = {"pump.cable_area": "section", "pump.cable_length": "length"}
    missing = " and ".join(word for path, word in words.items() if not case.build.is_stated(path))
    return rule.finding(
        None,
        case.limits["pump_drop"].amount,
        case.limits["pump_drop"],
        place=Place(words="at the pump, running"),
        cause=Phrase(f"The file says something of the pump's wiring, but not the {missing} of its feed."),
        remedy=Phrase(f"Write down {missing} of the feed, or the voltage read at the pump's own terminals."),
        reading=Reading("Print on the wire, tape along its way from the battery.", 600.0),
        about=_WIRING,
    )


def _section(case: Case, limit: Amount, harm: Harm) -> float | None:
    """The least section sold, and no pump wants more than its field allows, with which the feed is sure to
    pass [m2]; None where relay, plugs and the way back are too much, or too little known.
    """
    fitted, most = case.build.number("pump.cable_area"), catalogue().fields["pump.cable_area"].high
    assert most is not None
    for section in sorted(cables()):
        if not fitted * (1.0 - 1e-9) <= section <= most * (1.0 + 1e-9):
            continue
        feed = wired_pump_of(case.build, section)
        assert feed is not None
        room = deviations(harm) * math.hypot(feed.drop_sd, limit.sd or 0.0)
        if feed.drop + room <= limit.value:
            return section
    return None


def _remedy(enough: bool, section: float | None, worst: str) -> str:
    if enough:
        return "Leave it; up to {most} in all is a sure hold."
    if section is not None:
        return "Lay {section} from the battery to the pump: {most} in all is a sure hold."
    cure = {
        "relay": "Give it a relay of its own, fed from the battery beside its fuse",
        "back": "Give it a return wire of its own to the battery",
        "connector": "Replace the plugs by crimped joints, the one through the tank's cover too",
        "fuse": "Fit a fuse holder with crimped tails",
        "feed": "Lay a thicker feed, and fewer joints",
    }[worst]
    return f"{cure}; wire alone does not do it. {{most}} in all is a sure hold."


@rule(
    "electrics.pump_fuse",
    "Fuse of the fuel pump",
    asks="Does the pump's fuse carry its current for good in a warm car?",
    demand="pump current at rail pressure and boost",
    capacity="share of its rating that a fuse carries for good",
    harm=Harm.DAMAGE,
    harm_words="it opens in the middle of a long pull, and the engine runs lean before it stops",
    sense=Sense.AT_MOST,
)
def pump_fuse(rule: Rule, case: Case) -> Finding | None:
    """I against 0.75 of the rating; silent without the fuse's rating or the pump's wiring."""
    feed, rating = wired_pump_of(case.build), case.stated("pump.fuse")
    if feed is None or rating is None:
        return None
    share, rated = fuse_practice("lasting"), float(rating.value)
    demand = Amount(feed.current, feed.current_sd, Kind.CURRENT, "drawn by the pump")
    capacity = Amount(share.value * rated, share.sd * rated, Kind.CURRENT, "carried by the fuse for good")
    z = deviations(rule.harm)
    sure = feed.current + z * feed.current_sd
    fits = [r for r in fuse_type("blade").ratings if r * (share.value - z * share.sd) >= sure]
    amounts = {"rating": Amount(rated, None, Kind.CURRENT), "current": demand}
    if fits:
        amounts["fit"] = Amount(min(fits), None, Kind.CURRENT)
    enough = bool(fits) and rated >= min(fits)
    return rule.finding(
        demand,
        capacity,
        LimitRecord(
            "fuses.lasting",
            "common practice, no source",
            f"{share.note}; the rest is lost to warmth and age.",
        ),
        place=Place(words="at full boost, running on"),
        cause=Phrase("The pump draws {current} at full boost through a fuse of {rating}.", amounts),
        remedy=Phrase(
            "Keep {rating}."
            if enough
            else "Fit {fit}, on a wire that stands it."
            if fits
            else "More than {current} want a screwed-down fuse and a relay for it.",
            amounts,
        ),
        reading=Reading("Clamp meter on the pump's feed at rail pressure.", 600.0),
        about=("pump.fuse", "pump.current"),
    )


@rule(
    "electrics.pump_wire",
    "Wire of the fuel pump against its fuse",
    asks="Does the pump's wire bear for good what its fuse lets pass?",
    demand="rating of the pump's fuse",
    capacity="current that its wire bears for good among others, at the cover's limit",
    harm=Harm.SEVERE,
    harm_words="the wire burns in its loom, a hand's breadth from the tank",
    sense=Sense.AT_MOST,
)
def pump_wire(rule: Rule, case: Case) -> Finding | None:
    """I_n <= I_z (iec60364), I_z by the heat balance of a wire of PVC in a bundle."""
    area, rating = case.stated("pump.cable_area"), case.stated("pump.fuse")
    if area is None or rating is None:
        return None
    wire, share_sd = float(area.value), float(area.sd or 0.0) / float(area.value)
    bears = _bears(wire)
    demand = Amount(float(rating.value), 0.0, Kind.CURRENT, "fuse of the pump")
    sd = bears * math.hypot(_WIRE_SD, 0.6 * share_sd)
    capacity = Amount(bears, sd, Kind.CURRENT, "that the wire bears for good")
    room = 1.0 - deviations(rule.harm) * _WIRE_SD
    fits = [s for s in sorted(cables()) if _bears(s) * room >= demand.value]
    amounts = {
        "rating": demand,
        "area": Amount(wire, None, Kind.SECTION),
        "most": Amount(max(capacity.value - deviations(rule.harm) * sd, 0.0), None, Kind.CURRENT),
    }
    if fits:
        amounts["section"] = Amount(fits[0], None, Kind.SECTION)
    return rule.finding(
        demand,
        capacity,
        LimitRecord(
            "computed",
            "iec60364",
            "A fuse is rated no higher than its wire bears for good; heat balance of PVC of 85 degC, taped"
            " to other loaded wires in a warm car.",
        ),
        place=Place(words="along the whole wire"),
        cause=Phrase("A fuse of {rating} lets pass for good what {area} must bear in its loom.", amounts),
        remedy=Phrase(
            "Leave it; up to {most} is a sure hold."
            if demand.value <= amounts["most"].value
            else "Lay {section}, or fit {most} or less if the pump's current lets you."
            if fits
            else "Fit {most} or less.",
            amounts,
        ),
        reading=Reading("Print on wire and fuse.", 300.0),
        about=("pump.fuse", "pump.cable_area"),
    )


@lru_cache(maxsize=64)  # the sizes that are sold come again and again
def _bears(section: float) -> float:
    """Current that a wire bears for good, taped to others in a warm car [A]."""
    T = electric_constant("place", "boot").value
    return float(
        continuous_current(heat_cable(section, _COVER, "in_a_bundle"), insulation(_COVER).continuous, T)
    )
