"""What is left of a joint's clamp after settling and heat, against what pries it open."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from boostwright.findings.case import Case
from boostwright.findings.fastener_case import Gas, area_of, gas_in, heat_in, hottest_gas, middle, sheet_of
from boostwright.findings.judge import HOLDS_FROM, probability_holds
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
from boostwright.findings.subjects.fastener import left_out, plain, taken_as_usual
from boostwright.library.bolts import bolt_material, bolt_strength
from boostwright.systems.fasteners import Fastener, Known, Missing
from boostwright.systems.fasteners.clamp import ClampLeft, Heat, clamp_left, longer, opening_force

__all__ = ["clamp"]

_ABOUT = "fasteners[]."
_SLEEVED = 2.0  # times as long as it is, what sleeves under the heads make of a grip


class _Judged(NamedTuple):
    """One joint with its two sides."""

    bolt: Fastener
    torque: float  # [N m]
    gas: Gas
    heat: Heat | None
    left: ClampLeft
    needed: Known  # [N], all bolts together
    demand: Amount
    capacity: Amount
    holds: float


@rule(
    "fastener.clamp",
    "Clamp left in hot and pressed joints",
    asks="Does each joint keep enough clamp, hot and after settling, for the gas in it and what hangs on it?",
    demand="share of its clamp as tightened that it needs: gas pressure of the match on the opening"
    " and the gasket, and the shaken mass that pries at"
    " the joint",
    capacity="share of its clamp that is left after settling, the gasket's set, heat and creep, by VDI 2230",
    harm=Harm.DAMAGE,
    harm_words="the joint leaks, burns its gasket and works loose; hot gas reaches what is near",
    sense=Sense.AT_MOST,
)
def clamp(rule: Rule, case: Case) -> Finding | None:
    """The joint most likely to open. Silent where the file lists no joint with gas of the match in it."""
    judged: list[_Judged] = []
    hottest = hottest_gas(case)
    unjudged: list[Fastener] = []
    for row in sheet_of(case):
        gas, torque = gas_in(case, row.bolt), middle(row)
        if gas is None or torque is None:
            continue  # no gas in it; or blank, which `fastener.stated` says; or turned by angle
        one = _judge(rule, case, row.bolt, torque, gas, hottest)
        if one is None:
            unjudged.append(row.bolt)
        else:
            judged.append(one)
    if not judged:
        return _asked(rule, unjudged) if unjudged else None
    worst = min(judged, key=lambda one: one.holds)
    return rule.finding(
        worst.demand,
        worst.capacity,
        _source(),
        place=Place(worst.gas.found.speed, plain(worst.bolt.name)),
        corner=worst.gas.found.corner,
        cause=_cause(worst),
        remedy=_remedy(rule, worst),
        reading=Reading(
            "Paint a mark over nut and face; after the first heat, cold, see what torque moves each nut on.",
            1200.0,
        ),
        notes=(
            *taken_as_usual(worst.bolt, "opening", "hangs_on", "tool"),
            *left_out(unjudged, "size, class, count, grip_length, lubricant or clamped_material not stated"),
        ),
        about=(f"{_ABOUT}manual_torque", f"{_ABOUT}grip_length", f"{_ABOUT}clamped_material", "goal.boost"),
    )


def _source() -> LimitRecord:
    return LimitRecord(
        "computed",
        "vdi2230",
        "Compliance, settling and expansion by VDI 2230, from memory; how warm the metal gets, creep and the"
        " shaking are judgement, and wide.",
    )


def _judge(
    rule: Rule, case: Case, bolt: Fastener, torque: float, gas: Gas, hottest: Known | None
) -> _Judged | None:
    """One joint; None where the file does not state what it takes."""
    heat = heat_in(case, bolt, hottest)
    left = clamp_left(bolt, torque, heat)
    if isinstance(left, Missing) or bolt.count is None:
        return None
    area, ports = area_of(case, bolt)
    needed = opening_force(bolt, gas.pressure, area, ports)
    whole = bolt.count * left.tightened.value
    demand = Amount(needed.value / whole, needed.sd / whole, Kind.SHARE, f"clamp needed, {bolt.name}")
    capacity = _capacity(left, left.tightened)
    holds = probability_holds(demand, capacity, rule.sense) or 0.0
    return _Judged(bolt, torque, gas, heat, left, needed, demand, capacity, holds)


def _capacity(left: ClampLeft, tightened: Known) -> Amount:
    """Share of the clamp as tightened; friction, heat and gasket are common to all bolts of a joint."""
    return Amount(
        left.least.value / tightened.value, left.least.sd / tightened.value, Kind.SHARE, "clamp left"
    )


def _asked(rule: Rule, bolts: list[Fastener]) -> Finding:
    return rule.finding(
        None,
        None,
        _source(),
        place=Place(words=plain(bolts[0].name)),
        cause=Phrase(
            "What settling and heat leave of the clamp cannot be worked out: size, class, count, grip_length,"
            " lubricant or clamped_material of the joints with gas in them is not stated."
        ),
        remedy=Phrase(
            "State these of each joint on the exhaust and of each flange with charge pressure in it."
        ),
        reading=Reading(
            "Calliper over the stack, pitch gauge, marking on the head, magnet on the flange.", 900.0
        ),
        about=(f"{_ABOUT}grip_length", f"{_ABOUT}clamped_material"),
    )


def _cause(one: _Judged) -> Phrase:
    bolt, left = one.bolt, one.left
    amounts = {
        "torque": Amount(one.torque, None, Kind.TORQUE),
        "tight": Amount(left.tightened.value, left.tightened.sd, Kind.FORCE),
        "settled": Amount(left.settled.value, left.settled.sd, Kind.FORCE),
        "least": Amount(left.least.value, left.least.sd, Kind.FORCE),
        "gas": Amount(one.gas.pressure.value, None, Kind.PRESSURE_GAUGE),
    }
    text = "{torque} clamps with {tight:band} a bolt; once faces and gasket have settled {settled} is left"
    if one.heat is not None:
        amounts["bolt"] = Amount(one.heat.bolt.value, None, Kind.TEMPERATURE)
        amounts["part"] = Amount(one.heat.part.value, None, Kind.TEMPERATURE)
        text += ", and with the bolt near {bolt} in a flange near {part} it comes down to {least:band}"
        assert bolt.material is not None
        assert bolt.clamped is not None
        if bolt.material.expansion > bolt.clamped.expansion:
            text += ": the bolt grows more than what it clamps"
    return Phrase(f"{text}. Gas of {{gas}} and the shaken mass pry at it.", amounts)


def _remedy(rule: Rule, one: _Judged) -> Phrase:
    """The first single change after which it surely holds, tried in the order of effort."""
    if one.holds >= HOLDS_FROM[rule.harm]:
        return Phrase(
            "Leave it as it is, and tighten again cold after the first heat: {need} of clamp in all is"
            " enough.",
            {"need": Amount(one.needed.value, one.needed.sd, Kind.FORCE)},
        )
    amounts: dict[str, Amount] = {}
    for text, changed, again in _changes(one.bolt, amounts):
        left = clamp_left(changed, one.torque, one.heat, settled_before=again)
        if isinstance(left, Missing):
            continue
        capacity = _capacity(left, one.left.tightened)
        if (probability_holds(one.demand, capacity, rule.sense) or 0.0) >= HOLDS_FROM[rule.harm]:
            amounts["left"] = capacity
            return Phrase(f"{text}: {{left}} of the clamp is then left.", amounts)
    amounts["need"] = Amount(one.needed.value, one.needed.sd, Kind.FORCE)
    return Phrase(
        "No single change makes it sure: it needs {need} of clamp left. Fit studs of an alloy made for"
        " heat that grows as the flange does, sleeves under the nuts, more or thicker bolts, and a stay"
        " for what hangs on it.",
        amounts,
    )


def _changes(bolt: Fastener, amounts: dict[str, Amount]) -> list[tuple[str, Fastener, bool]]:
    """Single changes in words, the joint as it would be, and whether it is tightened again after a heat."""
    assert bolt.grip is not None
    assert bolt.thread is not None
    amounts["grip"] = Amount(_SLEEVED * bolt.grip.value, None, Kind.LENGTH)
    ways = [
        ("Tighten again cold after the first heat, and look at it at 50 and 500 km", bolt, True),
        (
            "Fit sleeves under the nuts for a grip of {grip}, and tighten again cold after the first heat",
            longer(bolt, _SLEEVED),
            True,
        ),
    ]
    for name, words in (
        ("21CrMoV5-7", "studs of heat-resisting steel 21CrMoV5-7"),
        ("660", "studs of alloy 660"),
    ):
        stud = replace(
            bolt,
            strength=bolt_strength(name, bolt.thread.major),
            material=bolt_material("alloy 660" if name == "660" else "steel"),
        )
        ways.append((f"Fit {words}, and tighten again cold after the first heat", stud, True))
        ways.append(
            (
                f"Fit {words} with sleeves for a grip of {{grip}}, and tighten again cold after a heat",
                longer(stud, _SLEEVED),
                True,
            )
        )
    return ways
