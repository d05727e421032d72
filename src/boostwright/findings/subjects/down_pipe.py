"""The down pipe: room to grow when it is hot, and the weight that hangs on the turbine."""

from __future__ import annotations

import math
from typing import NamedTuple

from boostwright.findings.case import Case
from boostwright.findings.charge_path import tail
from boostwright.findings.hot_pipe import GAS_SD, walls
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import sure_demand
from boostwright.findings.worst import Worst, worst_number
from boostwright.physics.down_pipe import thermal_growth
from boostwright.systems.stated.down_pipe import FLEX_FIELDS, DownPipe, down_pipe_of

__all__ = ["bracing", "growth"]

_WALL_SD = 40.0  # of the wall below it: scale, wrap, wind [K] (judgement)
_EXPANSION_SD = 0.04  # relative, of the steel's expansion [-]
_CAPACITY = {"none": "stiff_exhaust", "ball": "ball_joint_travel", "bellows": "flex_travel"}


class _Hot(NamedTuple):
    """The pipe at the hottest place of the match."""

    there: Worst
    gas: float  # behind the turbine [K]
    wall: float  # mean of the length [K]


def _hottest(case: Case, pipe: DownPipe, length: float) -> _Hot | None:
    found = worst_number(case, lambda line: walls(case, line, pipe, length)[0])
    if found is None:
        return None
    wall, there = found
    return _Hot(there, float(tail(case, there.line).temperature[there.place]), wall)


@rule(
    "exhaust.pipe_growth",
    "Room for the down pipe to grow",
    asks="Can the hot down pipe grow without bending the turbine's flange and the manifold?",
    demand="growth of the pipe up to where it is held, at the wall temperature of the match's hottest gas",
    capacity="what the flexible joint takes along its axis; without one, what pipe and hangers give",
    harm=Harm.DAMAGE,
    harm_words="the manifold cracks beside the turbine's flange, the gasket blows, and hot gas finds the"
    " hoses",
    sense=Sense.AT_MOST,
    limits=("flex_travel", "ball_joint_travel", "stiff_exhaust"),
)
def growth(rule: Rule, case: Case) -> Finding | None:
    """a L (T_w - T_cold) against the joint's travel; a bracket to the body before the joint holds it."""
    if case.goal is None:
        return None
    pipe = down_pipe_of(case.build)
    blocked = pipe.bracket == "body" and pipe.flex != "none"
    length, length_sd = pipe.to_flex if blocked and pipe.to_flex is not None else pipe.held
    hot = _hottest(case, pipe, length)
    if hot is None:
        return None
    cold = case.ambient_temperature
    grows = float(thermal_growth(pipe.steel, length, hot.wall, cold))
    relative = math.hypot(
        length_sd / length,
        math.hypot(case.left(GAS_SD), _WALL_SD) / (hot.wall - cold),
        _EXPANSION_SD,
    )
    demand = Amount(grows, relative * grows, Kind.LENGTH, "growth of the hot pipe")
    kind = "none" if blocked else pipe.flex
    limit = case.limits[_CAPACITY[kind]]
    capacity = _travel(case, pipe, kind)
    wanted = sure_demand(capacity, demand, rule.sense, rule.harm, relative=True)
    amounts = {
        "length": Amount(length, None, Kind.LENGTH),
        "gas": Amount(hot.gas, None, Kind.TEMPERATURE),
        "wall": Amount(hot.wall, None, Kind.TEMPERATURE),
        "grows": demand,
        "bellows": Amount(_bellows(case, demand), None, Kind.LENGTH),
    }
    return rule.finding(
        demand,
        capacity,
        limit,
        place=Place(hot.there.speed),
        corner=hot.there.corner,
        cause=Phrase(_growth_cause(blocked), amounts),
        remedy=_growth_remedy(pipe, blocked, grows <= wanted, amounts),
        reading=Reading(
            "Cold, measure along the pipe from the turbine to the first hanger that holds it lengthways,"
            " and the flexible part; rock the engine and see that nothing touches.",
            1200.0,
        ),
        about=(*FLEX_FIELDS, "exhaust.flex_length", "exhaust.fixed_length", "exhaust.material"),
        assumed=""
        if pipe.flex_stated
        else "The file does not say what gives way in the down pipe; a usual flexible joint is assumed.",
    )


def _travel(case: Case, pipe: DownPipe, kind: str) -> Amount:
    """What joint, pipe and hangers take together [m]."""
    give, own = case.limits["stiff_exhaust"].amount, case.limits[_CAPACITY[kind]].amount
    if kind == "none":
        return give
    value, sd = own.value, own.sd or 0.0
    if kind == "bellows":
        long, long_sd = pipe.flex_length
        value, sd = value * long, math.hypot(sd * long, value * long_sd)
    return Amount(
        value + give.value, math.hypot(sd, give.sd or 0.0), Kind.LENGTH, "what joint and hangers take"
    )


def _bellows(case: Case, demand: Amount) -> float:
    """Length of bellows that surely take the growth, hangers left out [m]."""
    share = case.limits["flex_travel"].amount
    sure = sure_demand(
        Amount(share.value, share.sd, Kind.SHARE), Amount(0.0, 0.0, Kind.SHARE), Sense.AT_MOST, Harm.DAMAGE
    )
    return (demand.value + 1.645 * (demand.sd or 0.0)) / max(sure, 0.01)


def _growth_cause(blocked: bool) -> str:
    text = (
        "Gas of {gas} behind the turbine brings {length} of pipe to {wall}; it grows by {grows:band}, and"
        " pushes at the turbine what nothing else takes."
    )
    if blocked:
        text += " The bracket to the body stands before the flexible joint, which therefore takes nothing."
    return text


def _growth_remedy(pipe: DownPipe, blocked: bool, enough: bool, amounts: dict[str, Amount]) -> Phrase:
    if blocked:
        return Phrase(
            "Move the bracket from the body to the engine or gearbox, which rock with the turbo, and leave"
            " the joint behind it free.",
            amounts,
        )
    if enough:
        return Phrase(
            "Leave it. Fit the pipe so that its bolts go in by hand, joint neither pulled nor pressed."
        )
    words = "Weld in" if pipe.flex == "none" else "Take"
    return Phrase(
        f"{words} bellows of {{bellows}} or longer, close behind the turbine and in line with the longest"
        " straight run, or hold the exhaust lengthways nearer to the engine.",
        amounts,
    )


@rule(
    "exhaust.bracing",
    "What hangs on the turbine's flange",
    asks="How much stiff pipe hangs on the turbine before something carries it?",
    demand="length of stiff pipe to the flexible joint or the first bracket on the engine, as measured",
    capacity="length that flange and manifold carry without a bracket",
    harm=Harm.DAMAGE,
    harm_words="weight and engine shake crack the manifold beside the turbine's flange",
    sense=Sense.AT_MOST,
    limits=("stiff_pipe",),
)
def bracing(rule: Rule, case: Case) -> Finding | None:
    """The stated length; without joint and bracket the whole pipe to the first hanger. Silent unstated."""
    pipe = down_pipe_of(case.build)
    free = pipe.flex == "none" and pipe.bracket in ("none", "")
    hangs = pipe.held if free else pipe.to_flex
    if hangs is None:
        return None
    limit = case.limits["stiff_pipe"]
    demand = Amount(hangs[0], hangs[1], Kind.LENGTH, "stiff pipe that hangs on the turbine")
    most = Amount(sure_demand(limit.amount, demand, rule.sense, rule.harm), None, Kind.LENGTH)
    return rule.finding(
        demand,
        limit.amount,
        limit,
        cause=Phrase(
            "Turbo and pipe stand out from the head like a flag; each bump bends the manifold's end."
        ),
        remedy=Phrase(
            "Leave it as it is."
            if demand.value <= most.value
            else "Carry the pipe with a bracket to the engine or gearbox, never to the body, or bring the"
            " flexible joint to within {most} of the turbine.",
            {"most": most},
        ),
        reading=Reading("Tape along the pipe from the turbine's flange to the joint or the bracket.", 300.0),
        about=("exhaust.flex_distance", "exhaust.flex", "exhaust.bracket", "exhaust.fixed_length"),
        assumed="The file does not say whether a bracket carries the pipe; none is assumed."
        if free and not pipe.bracket
        else "",
    )
