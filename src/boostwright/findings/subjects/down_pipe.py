"""The down pipe: room to grow when it is hot, weight that hangs on the turbine, place of the lambda"
" sensor."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.charge_path import tail
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import sure_demand
from boostwright.findings.worst import Line, Worst, worst_number
from boostwright.physics.down_pipe import thermal_growth
from boostwright.physics.heat_transfer import manifold_outlet
from boostwright.systems.stated.down_pipe import FLEX_FIELDS, DownPipe, down_pipe_of

__all__ = ["bracing", "growth", "sensor_heat", "sensor_pressure", "sensor_tilt"]

_GAS_SD = 45.0  # of the computed gas temperature behind the turbine [K] (judgement)
_WALL_SD = 40.0  # of the wall below it: scale, wrap, wind [K] (judgement)
_EXPANSION_SD = 0.04  # relative, of the steel's expansion [-]
_WALL = 1.5e-3  # of the pipe [m]; common practice
_BONNET = 40.0  # air about the pipe over that outside [K]; common practice
_ACROSS = 20.0  # outside coefficient, wind under the car [W/(m2 K)]; common practice
_CP = 1230.0  # of exhaust gas about these temperatures [J/(kg K)]
_CAPACITY = {"none": "stiff_exhaust", "ball": "ball_joint_travel", "bellows": "flex_travel"}


class _Hot(NamedTuple):
    """The pipe at the hottest place of the match."""

    there: Worst
    gas: float  # behind the turbine [K]
    wall: float  # mean of the length [K]


def _walls(case: Case, line: Line, pipe: DownPipe, length: float) -> tuple[np.ndarray, np.ndarray]:
    """Wall and gas temperature at the end of a length of pipe, over the speeds of a line [K]."""
    goal = line.goal
    gas = tail(case, line).temperature
    good = np.isfinite(gas) & np.isfinite(goal.result.air_flow)
    flow = np.where(good, goal.result.air_flow + goal.result.fuel_flow, 0.1)
    out = manifold_outlet(
        np.where(good, gas, 1000.0),
        flow,
        pipe.bore,
        max(length, 1e-3),
        line.ambient_temperature + _BONNET,
        _CP,
        _WALL,
        _ACROSS,
    )
    return np.where(good, out.wall, np.nan), np.where(good, out.temperature, np.nan)


def _hottest(case: Case, pipe: DownPipe, length: float) -> _Hot | None:
    found = worst_number(case, lambda line: _walls(case, line, pipe, length)[0])
    if found is None:
        return None
    wall, there = found
    return _Hot(there, float(tail(case, there.line).temperature[there.place]), wall)


@rule(
    "exhaust.flex",
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
    """a L (T_w - T_cold) against the joint's travel; a bracket to the body before the joint holds the"
    " pipe."""
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
        math.hypot(_GAS_SD, _WALL_SD) / (hot.wall - cold),
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
    )


@rule(
    "exhaust.sensor_heat",
    "Heat at the lambda sensor",
    asks="Is the gas at the lambda sensor cool enough for it at full load?",
    demand="gas temperature of the match at the sensor's place, worst over speeds and corners",
    capacity="lasting gas temperature that wideband sensors stand",
    harm=Harm.WEAR,
    harm_words="the sensor ages in hours and reads wrong before it dies, and the mixture follows it",
    sense=Sense.AT_MOST,
    limits=("sensor_gas",),
)
def sensor_heat(rule: Rule, case: Case) -> Finding | None:
    """T_4 cooled along the pipe to the sensor; before the turbine, T_3. Silent where its place is"
    " unstated."""
    stated = case.stated("exhaust.sensor_distance")
    if case.goal is None or stated is None:
        return None
    pipe = down_pipe_of(case.build)
    distance = float(stated.value)
    before = distance < 0.0

    def gas(line: Line) -> np.ndarray:
        if before:
            return line.goal.turbine_inlet_temperature
        return _walls(case, line, pipe, distance)[1]

    found = worst_number(case, gas)
    if found is None:
        return None
    hot, there = found
    limit = case.limits["sensor_gas"]
    demand = Amount(hot, _GAS_SD, Kind.TEMPERATURE, "gas at the sensor")
    wanted = sure_demand(limit.amount, demand, rule.sense, rule.harm)
    amounts = {
        "gas": Amount(hot, None, Kind.TEMPERATURE),
        "wanted": Amount(wanted, None, Kind.TEMPERATURE),
        "distance": Amount(abs(distance), None, Kind.LENGTH),
    }
    further = None if hot <= wanted else _far_enough(case, there, pipe, wanted)
    if further is not None:
        amounts["further"] = Amount(further, None, Kind.LENGTH)
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(there.speed),
        corner=there.corner,
        cause=Phrase(
            "{distance} before the turbine the sensor sees the whole heat of the manifold."
            if before
            else "{distance} behind the turbine the gas is still at {gas}.",
            amounts,
        ),
        remedy=_sensor_remedy(hot <= wanted, further is not None, amounts),
        reading=Reading("A thermocouple in a second boss beside the sensor, one graded pull.", 3600.0),
        about=("exhaust.sensor_distance", "exhaust.downpipe_bore"),
    )


_FURTHEST = 3.0  # from the turbine; beyond it a sensor answers too late [m] (judgement)


def _far_enough(case: Case, there: Worst, pipe: DownPipe, wanted: float) -> float | None:
    """Distance from which the gas is cool enough at that place [m]; None beyond `_FURTHEST`."""
    for distance in np.arange(0.1, _FURTHEST, 0.1):
        if float(_walls(case, there.line, pipe, float(distance))[1][there.place]) <= wanted:
            return float(distance)
    return None


def _sensor_remedy(enough: bool, possible: bool, amounts: dict[str, Amount]) -> Phrase:
    if enough:
        return Phrase("Leave it there.")
    if possible:
        return Phrase("Weld the boss {further} or more behind the turbine.", amounts)
    return Phrase(
        "No place in the down pipe is cool enough: richer mixture or earlier spark at the top, until the"
        " gas there is at {wanted}, or a sensor boss with a cooling collar.",
        amounts,
    )


@rule(
    "exhaust.sensor_pressure",
    "Pressure at the lambda sensor",
    asks="Does pressure in the exhaust falsify what the lambda sensor reads?",
    demand="exhaust pressure of the match at the sensor's place, worst over speeds and corners",
    capacity="pressure up to which a wideband sensor's reading needs no correction",
    harm=Harm.POOR_RUNNING,
    harm_words="rich mixture reads richer and lean reads leaner than it is, most at full boost",
    sense=Sense.AT_MOST,
    limits=("sensor_pressure",),
)
def sensor_pressure(rule: Rule, case: Case) -> Finding | None:
    """Back pressure behind the turbine, or the manifold's before it; silent where its place is unstated."""
    stated = case.stated("exhaust.sensor_distance")
    if case.goal is None or stated is None:
        return None
    before = float(stated.value) < 0.0

    def gauge(line: Line) -> np.ndarray:
        goal = line.goal
        there = goal.exhaust_pressure if before else goal.turbine_outlet_pressure
        return np.asarray(there - line.ambient_pressure)

    found = worst_number(case, gauge)
    if found is None:
        return None
    value, there = found
    limit = case.limits["sensor_pressure"]
    sd = case.left(_PRESSURE_SHARE) * max(value, 0.0)
    demand = Amount(value, sd, Kind.PRESSURE_GAUGE, "exhaust pressure at the sensor")
    wanted = sure_demand(limit.amount, demand, rule.sense, rule.harm)
    amounts = {"wanted": Amount(wanted, None, Kind.PRESSURE_GAUGE)}
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(there.speed),
        corner=there.corner,
        cause=Phrase("A wideband sensor counts what diffuses into it, and pressure drives more of it in."),
        remedy=Phrase(
            "Leave it there."
            if value <= wanted
            else "Move it behind the turbine."
            if before
            else "Widen the exhaust until less than {wanted} stands at the sensor, or correct the reading.",
            amounts,
        ),
        reading=Reading("A gauge on the lambda boss with a length of cooled pipe, one pull.", 3600.0),
        about=("exhaust.sensor_distance", "exhaust.back_pressure"),
    )


_PRESSURE_SHARE = 0.15  # relative, of the computed exhaust pressure [-] (judgement)


@rule(
    "exhaust.sensor_tilt",
    "Lie of the lambda sensor",
    asks="Does water run off the lambda sensor?",
    demand="angle of the sensor above the horizontal, as measured",
    capacity="least angle at which water stays out of it",
    harm=Harm.WEAR,
    harm_words="water from the cold start cracks the heated ceramic, and the sensor reads lean or nothing",
    sense=Sense.AT_LEAST,
    limits=("sensor_tilt",),
)
def sensor_tilt(rule: Rule, case: Case) -> Finding | None:
    """The reading against the limit; silent when it was not read."""
    read = case.amount("exhaust.sensor_tilt", Kind.ANGLE, "sensor above the horizontal")
    if read is None:
        return None
    limit = case.limits["sensor_tilt"]
    least = Amount(sure_demand(limit.amount, read, rule.sense, rule.harm), None, Kind.ANGLE)
    return rule.finding(
        read,
        limit.amount,
        limit,
        cause=Phrase("Water gathers in the cold pipe; it must drip off the sensor's tip, not run into it."),
        remedy=Phrase(
            "Leave it as it is."
            if read.value >= least.value
            else "Turn the pipe or weld a new boss, so that the sensor stands {least} or more above the"
            " horizontal, wires up.",
            {"least": least},
        ),
        reading=Reading("Protractor on the sensor, car level.", 300.0),
        about=("exhaust.sensor_tilt",),
    )
