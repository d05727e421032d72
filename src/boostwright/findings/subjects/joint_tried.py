"""Was every joint put together by hand, and tested tight for what it will carry."""

from __future__ import annotations

import math
from collections.abc import Sequence

from boostwright.findings.case import Case
from boostwright.findings.joint_case import answers_of, duty_of, pressure_to_test, under_pressure
from boostwright.findings.joint_words import FULL_TURNS, count_of, names_of, place_of
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
from boostwright.findings.sure import sure_demand
from boostwright.systems.joints import Joint

__all__ = ["tried"]


@rule(
    "joint.tried",
    "Joints put together and tested",
    asks="Was every joint put together by hand, and everyone under pressure tested tight?",
    demand="pressure at which the joint was tested, or nothing where it was not",
    capacity="pressure that it will see",
    harm=Harm.DAMAGE,
    harm_words="the missing fitting shows on the day, and the leak on the road",
    sense=Sense.AT_LEAST,
)
def tried(rule: Rule, case: Case) -> Finding | None:
    """Unknown while a joint is untried or untested; then the least test pressure less the working one."""
    joints = [a.joint for a in answers_of(case)]
    if not joints:
        return None
    loose = [joint for joint in joints if not joint.tried]
    asked = {joint: pressure for joint in joints if (pressure := pressure_to_test(case, joint)) is not None}
    untested = [joint for joint in joints if under_pressure(joint) and joint.tested is None]
    record = LimitRecord("computed", "common practice, no source", "A joint is tight once it was seen tight.")
    if loose or untested:
        return _untried(rule, record, joints, loose, untested)
    if not asked:
        return _all_tried(rule, record, joints, any(under_pressure(joint) for joint in joints))
    worst = min(asked, key=lambda joint: _room(joint, asked[joint]))  # the least sure
    pressure = asked[worst]
    assert worst.tested is not None
    tested = Amount(worst.tested.value, worst.tested.sd, Kind.PRESSURE_GAUGE, "tested tight at")
    return rule.finding(
        tested,
        pressure,
        record,
        place=place_of(worst),
        corner=duty_of(case, worst.carries).corner,
        cause=Phrase(
            "It was seen tight at {tested}; {asked} is what goes through it.",
            {"tested": tested, "asked": pressure},
        ),
        remedy=Phrase(
            "Test it at {test}, no higher than its maker permits.",
            {"test": Amount(_test_pressure(rule, tested, pressure), None, Kind.PRESSURE_GAUGE)},
        ),
        reading=_TEST,
        about=("joints[].tested", "joints[].tried"),
    )


_TEST = Reading(
    "Ten minutes at that pressure, paper under the joint, everybody clear of it; then bleed to zero.", 1800.0
)


def _all_tried(rule: Rule, record: LimitRecord, joints: Sequence[Joint], pressed: bool) -> Finding:
    """Every joint was put together, and none of them carries pressure, or nobody can say how much.

    pressed: some were tested, for a pressure that is not known.
    """
    number = count_of(len(joints), "joints put together by hand")
    return rule.finding(
        number,
        count_of(len(joints), "joints in the file"),
        record,
        place=Place(words=f"all {len(joints)} of them"),
        cause=Phrase(
            "Each was put together by hand and tested; how much pressure comes through it cannot be told yet."
            if pressed
            else "Each was put together by hand, and none of them carries pressure."
        ),
        remedy=Phrase("Look at each of the {all} again after the first drive, cold.", {"all": number}),
        reading=_TEST,
        about=("joints[].tried",),
        undecided=pressed,
    )


def _room(joint: Joint, asked: Amount) -> float:
    """Room of a test over the pressure asked for, in standard deviations of both."""
    assert joint.tested is not None
    spread = math.hypot(joint.tested.sd, asked.sd or 0.0, 1.0)
    return (joint.tested.value - asked.value) / spread


def _test_pressure(rule: Rule, tested: Amount, asked: Amount) -> float:
    """A test a little above what will be asked, and surely so with the gauge at hand [Pa]; rounded up
    to the two digits that are said of it.
    """
    sure = sure_demand(asked, tested, rule.sense, rule.harm, relative=True)
    least = asked.value + 2.0 * (asked.sd or 0.0)
    wanted = max(least, sure) if math.isfinite(sure) else least
    step = 10.0 ** max(math.floor(math.log10(max(wanted, 1.0))) - 1, 3)
    return step * math.ceil(wanted / step - 1e-9)


def _untried(
    rule: Rule, record: LimitRecord, joints: list[Joint], loose: list[Joint], untested: list[Joint]
) -> Finding:
    first = (loose or untested)[0]
    parts = []
    if loose:
        parts.append(f"Never put together by hand: {names_of(loose)}.")
    if untested:
        parts.append(f"Never tested under pressure: {names_of(untested)}.")
    done = len(joints) - len({*loose, *untested})
    return rule.finding(
        count_of(max(done, 0), "joints tried and tested"),
        count_of(len(joints), "joints in the file"),
        record,
        place=place_of(first),
        cause=Phrase(" ".join(parts)),
        remedy=Phrase(
            "Put each pair together by hand before the car comes apart, {turns} full turns, hoses over their"
            " bead; test what carries pressure before the engine runs, and write tried and tested into the"
            " file.",
            {"turns": Amount(float(FULL_TURNS), None, Kind.COUNT)},
        ),
        reading=_TEST,
        about=("joints[].tried", "joints[].tested"),
        undecided=True,
    )
