"""The lambda sensor in the exhaust: heat, pressure and water where it sits."""

from __future__ import annotations

from bisect import bisect_left

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.hot_pipe import GAS_SD, walls
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import sure_demand
from boostwright.findings.worst import Line, worst_number
from boostwright.systems.stated.down_pipe import DownPipe, down_pipe_of

__all__ = ["sensor_heat", "sensor_pressure", "sensor_tilt"]


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
    """T_4 cooled along the pipe to the sensor; before the turbine, T_3. Silent where it is not stated."""
    stated = case.stated("exhaust.sensor_distance")
    if case.goal is None or stated is None:
        return None
    pipe = down_pipe_of(case.build)
    distance = float(stated.value)
    before = distance < 0.0

    def gas(line: Line) -> np.ndarray:
        if before:
            return line.goal.turbine_inlet_temperature
        return walls(case, line, pipe, distance)[1]

    found = worst_number(case, gas)
    if found is None:
        return None
    hot, there = found
    limit = case.limits["sensor_gas"]
    demand = Amount(hot, case.left(GAS_SD), Kind.TEMPERATURE, "gas at the sensor")
    wanted = sure_demand(limit.amount, demand, rule.sense, rule.harm)
    amounts = {
        "gas": Amount(hot, None, Kind.TEMPERATURE),
        "wanted": Amount(wanted, None, Kind.TEMPERATURE),
        "distance": Amount(abs(distance), None, Kind.LENGTH),
    }
    further = None if hot <= wanted else _far_enough(case, pipe, wanted)
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


def _far_enough(case: Case, pipe: DownPipe, wanted: float) -> float | None:
    """Distance from which the gas is cool enough at every speed and corner [m]; None beyond `_FURTHEST`.

    Where it is hottest behind a length of pipe need not be where it is before the turbine: a turbine that
    works takes more out of it, and a small flow cools more on its way.
    """
    places = np.arange(0.1, _FURTHEST, 0.1)

    def cool(distance: float) -> bool:
        found = worst_number(case, lambda line: walls(case, line, pipe, distance)[1])
        return found is not None and found[0] <= wanted

    first = bisect_left(places, True, key=lambda distance: cool(float(distance)))  # it only cools on its way
    return float(places[first]) if first < places.size else None


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
