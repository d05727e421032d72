"""The starter's cable of a battery that has moved: what is lost on the way there and back while it cranks."""

from __future__ import annotations

import math

from boostwright.findings.case import Case
from boostwright.findings.electric_case import coldest
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import sure_loss
from boostwright.library.cables import cables
from boostwright.library.electrics import electric_constant
from boostwright.systems.electrics import MainCable, cold_current, start_circuit
from boostwright.systems.stated.electrics import cranking_of, main_cable_of

__all__ = ["cranking_drop"]


@rule(
    "electrics.cranking_drop",
    "Voltage lost while cranking",
    asks="Does the starter get its voltage through cable, joints and the way back?",
    demand="cranking current times the resistance of both ways, hot restart",
    capacity="most that feed and return together may lose",
    harm=Harm.POOR_RUNNING,
    harm_words="it cranks slowly, the controller loses its place or resets, and sensors lie while it does",
    sense=Sense.AT_MOST,
    limits=("cranking_drop",),
)
def cranking_drop(rule: Rule, case: Case) -> Finding | None:
    """U = I (R_20 (1 + alpha (T - 20)) L + joints), both ways, with hot cables."""
    main = main_cable_of(case.build)
    if main is None:
        return None
    current, current_sd, told = cranking_of(case.build)
    hot, slope = electric_constant("place", "cable"), electric_constant("start", "cold")
    circuit = start_circuit(main, hot.value)
    volts = float(circuit.whole.total) * current
    shares = (current_sd / current, float(circuit.whole.sd / circuit.whole.total))
    demand = Amount(volts, volts * math.hypot(*shares), Kind.VOLTAGE_DROP, "lost there and back")
    limit = case.limits["cranking_drop"]
    sure = sure_loss(limit.amount, demand, rule.sense, rule.harm)
    amounts = {
        "current": Amount(current, None, Kind.CURRENT),
        "feed": Amount(circuit.feed * current, None, Kind.VOLTAGE_DROP),
        "back": Amount(circuit.back * current, None, Kind.VOLTAGE_DROP),
        "area": Amount(main.section, None, Kind.SECTION),
        "frost": Amount(_in_frost(case, main, current, slope.value), None, Kind.VOLTAGE_DROP),
        "most": Amount(sure, None, Kind.VOLTAGE_DROP),
    }
    section = _section(case, current, hot.value, sure)
    if section is not None:
        amounts["section"] = Amount(section, None, Kind.SECTION)
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(words="at a hot restart"),
        cause=Phrase(
            "{current} through {area} lose {feed} on the way to the starter and {back} on the way back;"
            " joints and body count as the cable does."
            + ("" if told else " The current is reckoned from the displacement; nobody has read it."),
            amounts,
        ),
        remedy=Phrase(_remedy(volts <= sure, section, main.section), amounts),
        notes=(Phrase("On the coldest morning thick oil makes that {frost}.", amounts),),
        reading=Reading(
            "Voltmeter from battery post to starter stud, then from engine block to the other post, while a"
            " helper cranks with fuel and ignition off: each reading is one way's loss.",
            900.0,
        ),
        about=("battery.cable_area", "battery.cable_length", "battery.cranking_current", "battery.return"),
    )


def _in_frost(case: Case, main: MainCable, warm: float, slope: float) -> float:
    """The same loss on the coldest day [V]."""
    frost, _ = coldest(case)
    return cold_current(warm, frost, slope) * float(start_circuit(main, frost).whole.total)


def _section(case: Case, current: float, T: float, sure: float) -> float | None:
    """The least section that is sold whose loss is sure to pass [m2]; None where joints lose too much, and in
    a draw, which needs no remedy.
    """
    if case.drawn:
        return None
    for section in sorted(cables()):
        main = main_cable_of(case.build, section)
        assert main is not None
        if current * float(start_circuit(main, T).whole.total) <= sure:
            return section
    return None


def _remedy(enough: bool, section: float | None, fitted: float) -> str:
    if enough:
        return "Leave it; clean joints keep it so. Up to {most} in all is a sure hold."
    if section is not None and section > fitted:
        return "Lay {section} instead of {area}, or move the battery nearer: {most} in all is a sure hold."
    return (
        "A thicker cable alone does not do it: bare the metal under every lug and strap, and lay a return"
        " cable beside the feed; {most} in all is a sure hold."
    )
