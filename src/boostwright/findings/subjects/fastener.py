"""Bolted joints: whether each has a torque with its source, and what that torque does to bolt and hole."""

from __future__ import annotations

import math
from collections.abc import Iterable

from boostwright.findings.case import Case
from boostwright.findings.fastener_case import middle, sheet_of
from boostwright.findings.judge import probability_holds
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
from boostwright.library.bolts import shaking
from boostwright.systems.fasteners import Fastener, engagement_needed, stress_share

__all__ = ["engagement", "overstress", "stated"]

_MOST_NAMED = 5
_RULER = 2.5e-4  # of a length that is named [m]; it rounds it to tenths of a millimetre
_PAGE = 300.0  # to look a figure up [s]
_ABOUT = "fasteners[]."


def plain(text: str) -> str:
    """A name from the file may hold braces; in a phrase they would be gaps."""
    return text.replace("{", "(").replace("}", ")")


def named(bolts: Iterable[Fastener]) -> str:
    """The names of some joints, the first five and how many more."""
    names = [plain(bolt.name) for bolt in bolts]
    more = [f"{len(names) - _MOST_NAMED} more"] if len(names) > _MOST_NAMED else []
    return ", ".join(names[:_MOST_NAMED] + more)


def left_out(bolts: list[Fastener], why: str) -> tuple[Phrase, ...]:
    """A note that names the joints which could not be judged; nothing where there are none."""
    return (Phrase(f"Not judged here: {named(bolts)} ({why})."),) if bolts else ()


def taken_as_usual(bolt: Fastener, *fields: str) -> tuple[Phrase, ...]:
    """A note that names what nobody stated of a joint and what stands in; nothing where all is stated."""
    there = {
        "opening": bolt.opening is not None,
        "hangs_on": bolt.hangs_on is not None or shaking(bolt.clamps).mass[0] <= 0.0,
        "tool": bool(bolt.tool),
    }
    words = {
        "opening": "an opening as wide as port, wheel or pipe",
        "hangs_on": f"{shaking(bolt.clamps).mass[0]:.0f} kg that hang on it",
        "tool": "a wrench that nobody checked",
    }
    named = [words[field] for field in fields if not there[field]]
    return (Phrase(f"Not stated, so taken as usual: {', '.join(named)}."),) if named else ()


@rule(
    "fastener.stated",
    "Torque of every joint",
    asks="Does every joint that you tighten have a torque with its source?",
    demand="joints that the file lists with a printed torque and its page, or as your own with all that it"
    " takes to work one out",
    capacity="all of them",
    harm=Harm.DAMAGE,
    harm_words="a joint tightened by guess leaks, works loose or tears its thread",
    sense=Sense.AT_LEAST,
    of_the_file=True,
)
def stated(rule: Rule, case: Case) -> Finding | None:
    """Unknown as long as a joint is a hold point, or none is listed; silent once all have their torque."""
    rows = sheet_of(case)
    if not rows:
        if case.goal is None:
            return None
        return _unknown(
            rule,
            "The file lists no joint that is tightened, though bolts hold turbo, exhaust and charge pipes.",
            "List each joint under [[fasteners]] with its printed torque and page; 'boostwright torque' then"
            " makes the sheet.",
        )
    blank = [row for row in rows if row.blank]
    if not blank:
        return None
    first, of_all = blank[0], "1 joint" if len(rows) == 1 else f"{len(rows)} joints"
    return _unknown(
        rule,
        f"Of {of_all} {len(blank)} {'has' if len(blank) == 1 else 'have'} no torque with its source:"
        f" {named(row.bolt for row in blank)}.",
        f"Hold point, {plain(first.bolt.name)}: {_lower(plain(first.blank))}",
        len(blank),
    )


def _lower(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]


def _unknown(rule: Rule, cause: str, remedy: str, count: int = 1) -> Finding:
    return rule.finding(
        None,
        None,
        LimitRecord("torques", "the build file", "The printed figure of car or part is made for that joint."),
        place=Place(words="with the wrench in hand"),
        cause=Phrase(cause),
        remedy=Phrase(remedy),
        reading=Reading(
            "Look the torque up in the vehicle manual or on the part's sheet, and write it with its page.",
            _PAGE * count,
        ),
        about=(f"{_ABOUT}manual_torque", f"{_ABOUT}page"),
    )


@rule(
    "fastener.overstress",
    "Stress of the bolts when tightened",
    asks="Does the stated torque, with the stated state of the thread, stretch the bolt?",
    demand="tension and twist at the torque of the sheet over the yield stress of the class, by VDI 2230 with"
    " the friction of the stated state and the spread of the wrench",
    capacity="stress at which bolts of the class stretch for good",
    harm=Harm.DAMAGE,
    harm_words="the bolt stretches or snaps; it clamps less after the first heat, or the stud stays in"
    " the head",
    sense=Sense.AT_MOST,
    limits=("bolt_yield",),
)
def overstress(rule: Rule, case: Case) -> Finding | None:
    """The joint most likely to be stretched; unknown where the state of the thread is not stated."""
    limit = case.limits["bolt_yield"]
    worst: tuple[float, Fastener, float, Amount] | None = None
    unjudged: list[Fastener] = []
    for row in sheet_of(case):
        torque = middle(row)
        if torque is None:
            continue
        share = stress_share(row.bolt, torque)
        if share is None:
            unjudged.append(row.bolt)
            continue
        demand = Amount(share.value, share.sd, Kind.SHARE, f"stress over yield, {row.bolt.name}")
        holds = probability_holds(demand, limit.amount, rule.sense) or 0.0
        if worst is None or holds < worst[0]:
            worst = (holds, row.bolt, torque, demand)
    why = "size, class or lubricant not stated"
    if worst is None:
        return _state_asked(rule, unjudged) if unjudged else None
    _, bolt, torque, demand = worst
    sure = torque * sure_demand(limit.amount, demand, rule.sense, rule.harm, relative=True) / demand.value
    amounts = {
        "torque": Amount(torque, None, Kind.TORQUE),
        "sure": Amount(sure, None, Kind.TORQUE),
        "share": demand,
    }
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(words=plain(bolt.name)),
        cause=Phrase(
            f"At {{torque}} with {bolt.thread_words} tension and twist together come to {{share:band}} of"
            " yield; the slipperier the thread, the more of the torque becomes tension.",
            amounts,
        ),
        remedy=Phrase(
            "Leave it; in this state of the thread up to {sure} is sure."
            if torque <= sure
            else "Ask the maker for which state of the thread the torque is printed, and tighten in that"
            " state only; in the stated one no more than {sure} is sure, or a bolt of a higher class is"
            " needed.",
            amounts,
        ),
        reading=Reading(
            "Read in the manual whether the thread is to be dry, oiled or pasted, and the class on the head.",
            _PAGE,
        ),
        notes=(*taken_as_usual(bolt, "tool"), *left_out(unjudged, why)),
        about=(f"{_ABOUT}manual_torque", f"{_ABOUT}lubricant", f"{_ABOUT}class"),
    )


def _state_asked(rule: Rule, bolts: list[Fastener]) -> Finding:
    return rule.finding(
        None,
        None,
        LimitRecord("torques", "the build file", "A torque holds for one state of the thread only."),
        place=Place(words=plain(bolts[0].name)),
        cause=Phrase(
            f"Size, class or lubricant is not stated of {named(bolts)}; a torque says nothing alone."
        ),
        remedy=Phrase(
            "State size, class and lubricant of each joint, the lubricant as the manual asks for it."
        ),
        reading=Reading(
            "Class on the head, pitch gauge on the thread, and what the manual says of oil or paste.",
            _PAGE * len(bolts),
        ),
        about=(f"{_ABOUT}lubricant", f"{_ABOUT}class", f"{_ABOUT}size"),
    )


@rule(
    "fastener.engagement",
    "Thread engaged in tapped holes",
    asks="Is enough thread engaged that the bolt would break before the hole strips?",
    demand="thread engaged",
    capacity="stripping length of this hole for this bolt, with a fifth for play and chamfer",
    harm=Harm.DAMAGE,
    harm_words="the thread comes out of the hole while you tighten, or in the first heat",
    sense=Sense.AT_LEAST,
)
def engagement(rule: Rule, case: Case) -> Finding | None:
    """The hole most likely to strip. Silent where bolts go into nuts or nothing is stated of holes."""
    worst: tuple[float, Fastener, Amount, Amount] | None = None
    unjudged: list[Fastener] = []
    for row in sheet_of(case):
        bolt = row.bolt
        if bolt.parent is None:
            continue
        needed = engagement_needed(bolt)
        if needed is None or bolt.engaged is None:
            unjudged.append(bolt)
            continue
        demand = Amount(bolt.engaged.value, bolt.engaged.sd, Kind.LENGTH, f"engaged, {bolt.name}")
        capacity = Amount(needed.value, needed.sd, Kind.LENGTH, "thread needed")
        holds = probability_holds(demand, capacity, rule.sense) or 0.0
        if worst is None or holds < worst[0]:
            worst = (holds, bolt, demand, capacity)
    if worst is None:
        return None
    _, bolt, demand, capacity = worst
    assert bolt.parent is not None
    assert bolt.strength is not None
    least = sure_demand(capacity, demand, rule.sense, rule.harm)
    wanted = Amount(
        math.ceil(1e4 * least - 1e-6) / 1e4, _RULER, Kind.LENGTH
    )  # never rounded to the weak side
    hole = bolt.parent.name.replace("-", " ")
    return rule.finding(
        demand,
        capacity,
        LimitRecord(
            "computed",
            "asmeb11",
            "Bolt and thread take the same force at the stripping length; from memory, with the strength of"
            f" {hole} as common practice has it.",
        ),
        place=Place(words=plain(bolt.name)),
        cause=Phrase(
            f"A bolt of class {bolt.strength.name} in {hole} must have {{needed:band}} of thread engaged"
            " for the bolt to be the weaker part.",
            {"needed": capacity},
        ),
        remedy=Phrase(
            "Leave it; down to {wanted} it is sure. Blow the hole clean before you measure."
            if demand.value >= wanted.value
            else "Engage {wanted} or more: a longer stud, a deeper hole, or a steel wire insert.",
            {"wanted": wanted},
        ),
        reading=Reading(
            "Depth gauge in the clean hole, less what the bolt leaves free; count the turns by hand.", 600.0
        ),
        notes=left_out(unjudged, "size, class or engaged_length not stated"),
        about=(f"{_ABOUT}engaged_length", f"{_ABOUT}parent_material", f"{_ABOUT}class"),
    )
