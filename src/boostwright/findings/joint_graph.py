"""The joints of a case as a graph to draw: parts, what joins them, and the verdict on each joint."""

from __future__ import annotations

from typing import NamedTuple

from boostwright.findings.case import Case
from boostwright.findings.joint_case import Answer, answers_of, pressure_to_test, under_pressure
from boostwright.findings.joint_ratings import RATING_HARM, weakest
from boostwright.findings.judge import probability_holds, verdict_of
from boostwright.findings.model import Amount, Harm, Kind, Sense, Verdict
from boostwright.systems.joints import Carried, End
from boostwright.systems.stated.joints import open_ports

__all__ = ["DrawnJoint", "Part", "drawn_joints", "open_ends"]


class Part(NamedTuple):
    """A part that joints meet at."""

    name: str
    number: int = 0  # tells parts apart that nobody named; 0: the name is its own


class DrawnJoint(NamedTuple):
    """One joint between two parts."""

    name: str
    parts: tuple[Part, Part]
    halves: tuple[str, str]
    seal: str  # '' when nobody said
    carries: Carried | None
    verdict: Verdict
    why: str  # a few words; '' when it holds


def drawn_joints(case: Case) -> tuple[DrawnJoint, ...]:
    """Every joint of the build, in the order of the file."""
    found = []
    for number, answer in enumerate(answers_of(case), 1):
        joint = answer.joint
        verdict, why = _verdict(case, answer)
        found.append(
            DrawnJoint(
                joint.name,
                (_part(joint.a, 2 * number - 1), _part(joint.b, 2 * number)),
                (joint.a.half.name, joint.b.half.name),
                ", ".join(sorted(seal.value for seal in joint.seals)),
                joint.carries,
                verdict,
                why,
            )
        )
    return tuple(found)


def open_ends(case: Case) -> tuple[DrawnJoint, ...]:
    """Every port that nothing is joined to, as a joint with nothing."""
    return tuple(
        DrawnJoint(
            end.port,
            (_part(end, -number), Part("nothing", -number)),
            (end.half.name, ""),
            "",
            None,
            Verdict.UNKNOWN,
            "a hole, or a joint left out",
        )
        for number, end in enumerate(open_ports(case.build), 1)
    )


def _part(end: End, number: int) -> Part:
    """The part; else the port; else a part without a name, which no other joint meets."""
    return Part(end.part or end.port) if end.part or end.port else Part("a part not named", number)


def _verdict(case: Case, answer: Answer) -> tuple[Verdict, str]:
    """The worst of what the four rules say of this joint alone, and why."""
    said: list[tuple[Verdict, str]] = []
    if not answer.mating.mates:
        reason = answer.mating.reasons[0].value if answer.mating.reasons else ""
        said.append((Verdict.BREAKS, f"halves do not mate ({reason})"))
    elif answer.undecided:
        said.append((Verdict.UNKNOWN, "a half is not fully stated"))
    if answer.wrong_seal is not None:
        said.append((Verdict.BREAKS, "wrong seal"))
    elif answer.seal_wanting:
        said.append((Verdict.UNKNOWN, "seal not stated"))
    check = weakest(case, answer.joint)
    if check is not None:
        what = {"temperature": "heat", "fluid": "its material"}.get(check.what, check.what)
        said.append((check.verdict(RATING_HARM), what))
    said.append(_tried(case, answer))
    worst = min(said, key=lambda one: _ORDER[one[0]])
    return worst if worst[0] is not Verdict.HOLDS else (Verdict.HOLDS, "")


_ORDER = {Verdict.BREAKS: 0, Verdict.UNKNOWN: 1, Verdict.TIGHT: 2, Verdict.HOLDS: 3}


def _tried(case: Case, answer: Answer) -> tuple[Verdict, str]:
    joint = answer.joint
    if not joint.tried:
        return Verdict.UNKNOWN, "not tried"
    if not under_pressure(joint):
        return Verdict.HOLDS, ""
    if joint.tested is None:
        return Verdict.UNKNOWN, "not tested"
    asked = pressure_to_test(case, joint)
    if asked is None:
        return Verdict.UNKNOWN, "its pressure is not known"
    tested = Amount(joint.tested.value, joint.tested.sd, Kind.PRESSURE_GAUGE)
    return verdict_of(probability_holds(tested, asked, Sense.AT_LEAST), Harm.DAMAGE), "tested too low"
