"""Do hoses, fittings and seals stand the pressure, the heat and the fuel that go through the joint."""

from __future__ import annotations

import math

from boostwright.findings.case import Case
from boostwright.findings.joint_case import answers_of, plain, pressure_to_test, under_pressure
from boostwright.findings.joint_ratings import RATING_HARM, Check, weakest_of_each
from boostwright.findings.joint_words import names_of, place_of
from boostwright.findings.model import (
    Amount,
    Finding,
    Kind,
    LimitRecord,
    Phrase,
    Place,
    Reading,
    Sense,
    Verdict,
)
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import sure_demand
from boostwright.library.joint_materials import materials

__all__ = ["rating"]

_ABOUT = {
    "oil": ("engine.oil_pressure_cold", "engine.oil_pressure_3000", "engine.coolant_temperature"),
    "oil-drain": ("engine.coolant_temperature",),
    "coolant": ("cooling.cap_pressure", "engine.coolant_temperature"),
    "fuel": ("regulator.pressure", "fuel.ethanol", "engine.coolant_temperature"),
    "air": ("goal.boost", "wastegate.spike"),
    "cooled-air": ("goal.boost", "wastegate.spike"),
    "exhaust": ("fuel.lambda_boost",),
    "exhaust-out": ("fuel.lambda_boost", "exhaust.back_pressure"),
    "crankcase": ("engine.coolant_temperature",),
    "vacuum": ("goal.boost", "engine.coolant_temperature"),
}
_SHEET = Reading(
    "The print on the hose and its maker's sheet: working pressure, lasting temperature, ethanol.", 900.0
)


@rule(
    "joint.rating",
    "What the joints stand",
    asks="Does every hose, fitting and seal stand the pressure, the heat and the fuel that go through it?",
    demand="highest pressure, temperature or ethanol share at the joint that is nearest to its end: boost and"
    " heat from the match, fuel pressure from the pump's line, oil and coolant from readings",
    capacity="its maker's figure, or that of its material",
    harm=RATING_HARM,
    harm_words="a hose bursts or drips beside a hot exhaust, and the car burns",
    sense=Sense.AT_MOST,
    limits=("exhaust_mild_steel", "exhaust_stainless", "exhaust_iron", "exhaust_unknown"),
)
def rating(rule: Rule, case: Case) -> Finding | None:
    """The weakest of all ends and seals, by probability; the others that do not hold stand in the notes."""
    answers = answers_of(case)
    if not answers:
        return None
    silent = [a.joint for a in answers if a.joint.carries is None]
    found = weakest_of_each(case)
    if not found:
        return _nothing_said(rule, len(answers)) if silent else None
    worst = found[0]
    others = [check for check in found[1:] if check.verdict(rule.harm) is not Verdict.HOLDS]
    notes = [Phrase(_also(check), {"asked": check.demand, "stands": check.capacity}) for check in others[:4]]
    if len(others) > 4:
        notes.append(Phrase(f"The same is to be asked of: {names_of([c.joint for c in others[4:]])}."))
    if silent:
        notes.append(Phrase(f"Not judged, as nobody said what goes through: {names_of(silent)}."))
    unknown = [
        a.joint for a in answers if under_pressure(a.joint) and pressure_to_test(case, a.joint) is None
    ]
    if unknown:
        notes.append(Phrase(f"Pressure not judged, as nothing tells how much it is: {names_of(unknown)}."))
    place = place_of(worst.joint)
    words = f"{place.words}: {plain(worst.part)}" if worst.part != worst.joint.name else place.words
    carries = worst.joint.carries
    return rule.finding(
        worst.demand,
        worst.capacity,
        worst.record,
        place=Place(speed=worst.duty.speed if worst.what == "pressure" else None, words=words),
        corner=worst.duty.corner,
        cause=_cause(worst),
        remedy=_remedy(rule, worst),
        reading=_SHEET,
        notes=tuple(notes),
        about=() if carries is None else _ABOUT.get(carries.value, ()),
        assumed="Nobody said what it is made of; a weak sort is assumed." if worst.assumed else "",
    )


def _also(check: Check) -> str:
    if check.what == "fluid":
        return f"{plain(check.joint.name)}: {plain(check.part)} does not stand what goes through it."
    return f"{plain(check.joint.name)}: {plain(check.part)} stands {{stands:band}}, asked are {{asked:band}}."


def _cause(check: Check) -> Phrase:
    amounts = {"asked": check.demand, "stands": check.capacity}
    name, who = plain(check.demand.name), plain(check.who)
    if check.what == "fluid":
        return Phrase(f"{who[:1].upper()}{who[1:]}: it swells, softens or burns, and lets go.")
    if check.what == "pressure":
        return Phrase(f"Here {name} comes to {{asked}}; {who} {{stands:band}}.", amounts)
    if check.what == "temperature":
        return Phrase(f"Here {name} comes to {{asked}}, and heat ages it; {who} {{stands:band}}.", amounts)
    return Phrase(
        f"With {{asked}} of ethanol the fuel attacks what petrol leaves alone; {who} {{stands:band}}.",
        amounts,
    )


_MAKERS = {"pressure": (0.05, 0.0), "temperature": (0.0, 5.0), "ethanol": (0.0, 0.02)}
"""Spread of a maker's figure in a build file by what it is of: share of it, and besides [SI]."""


def _stood(rule: Rule, what: str, asked: Amount) -> Amount:
    """What a part must stand for a sure hold, its maker's figure as well known as in a build file."""
    share, besides = _MAKERS[what]
    demand = Amount(asked.value, math.hypot(asked.sd or 0.0, besides), asked.kind)
    value = sure_demand(demand, Amount(1.0, share, asked.kind), Sense.AT_LEAST, rule.harm, relative=True)
    return Amount(min(value, 1.0) if what == "ethanol" else value, None, asked.kind)


def _remedy(rule: Rule, check: Check) -> Phrase:
    carries = check.joint.carries
    if check.what == "fluid":
        assert carries is not None
        hot = check.duty.temperature
        if hot is None:
            return Phrase(f"Fit {_other(carries.value)} there.")
        warmth = _stood(rule, "temperature", hot)
        return Phrase(
            f"Fit {_other(carries.value)} there, of a sort whose maker permits {{warmth}} or more.",
            {"warmth": warmth},
        )
    needed = _stood(rule, check.what, check.demand)
    amounts = {"needed": needed, "stands": check.capacity}
    if check.verdict(rule.harm) is Verdict.HOLDS:
        return Phrase(
            "Leave it, and change it for one whose maker permits {needed} or more when it is old.", amounts
        )
    if check.assumed:
        return Phrase(
            "Say under [[ports]] what it is made of, or what its maker permits; it takes {needed} or more.",
            amounts,
        )
    return Phrase(
        "Fit one whose maker permits {needed} or more, or read what the maker of this one permits and write"
        " it into the file.",
        amounts,
    )


def _other(carries: str) -> str:
    """What stands it: two hoses, or for exhaust gas a metal."""
    named = ("stainless", "cast-iron") if carries.startswith("exhaust") else _HOSES
    known = materials()
    fit = [known[name].words.partition(",")[0] for name in named if carries not in known[name].bad_for]
    return " or ".join(fit[:2])


_HOSES = ("fluoro-rubber", "ptfe", "lined-silicone", "nitrile", "epdm", "silicone")


def _nothing_said(rule: Rule, number: int) -> Finding:
    return rule.finding(
        None,
        None,
        LimitRecord("joints", "the build file", "What goes through a joint decides what it must stand."),
        place=Place(words=f"all {number} of them"),
        cause=Phrase("The file does not say what goes through any joint."),
        remedy=Phrase(
            "Write carries beside each of the {all} joints, and material beside each port.",
            {"all": Amount(float(number), None, Kind.COUNT)},
        ),
        reading=_SHEET,
        about=("joints[].carries",),
    )
