"""What the findings on clutch, gears, tyres and brakes share: torque of the match, speed that it reaches."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Kind
from boostwright.findings.worst import Line, Worst, lines, worst_number
from boostwright.library.car_parts import car_constant
from boostwright.physics.atmosphere import R_DRY_AIR
from boostwright.systems.on_the_road import Reached, speed_reached
from boostwright.systems.stated.transient import assumed_of, car_of

__all__ = ["Fastest", "Strongest", "fastest", "gearing_assumed", "speed_before", "strongest"]

Array = NDArray[np.float64]


class Strongest(NamedTuple):
    """The greatest torque of the match."""

    there: Worst
    torque: Amount


def strongest(case: Case) -> Strongest | None:
    """The greatest torque at the crank over every speed and day; its spread from boost and model."""
    seen = worst_number(case, lambda line: line.goal.result.torque)
    if seen is None:
        return None
    torque, there = seen
    i, goal = there.place, there.goal
    boost = float(goal.boost_sd[i] / goal.plenum_pressure[i])
    sd = torque * math.hypot(boost, case.left(car_constant("road", "torque").sd))
    return Strongest(there, Amount(torque, sd, Kind.TORQUE, "greatest torque with the turbo"))


class Fastest(NamedTuple):
    """The greatest road speed."""

    line: Line
    reached: Reached
    speed: Amount


def fastest(case: Case) -> Fastest | None:
    """The greatest speed on a level road over every day.

    By gearing it is known as well as the rolling radius; by drag with the cube root of power over drag.
    """
    car = car_of(case.build)
    best: tuple[Line, Reached] | None = None
    for line in lines(case):
        torque = np.where(line.goal.settled, line.goal.result.torque, np.nan)
        density = line.ambient_pressure / (R_DRY_AIR * line.ambient_temperature)
        found = speed_reached(car, *_to_the_end(case, line.goal.speed, torque), density)
        if found.speed > 0.0 and (best is None or found.speed > best[1].speed):
            best = (line, found)
    if best is None:
        return None
    found = best[1]
    share = car_constant("road", "gearing").sd
    if not found.by_gearing:
        drag = case.stated("car.drag_area")
        of_drag = 0.0 if drag is None else float(drag.sd or 0.0) / float(drag.value)
        power = case.left(car_constant("road", "torque").sd)
        share = math.hypot(share, car_constant("road", "speed").sd, of_drag / 3, power / 3)
    return Fastest(
        best[0], found, Amount(found.speed, found.speed * share, Kind.ROAD_SPEED, "reached with the turbo")
    )


def speed_before(case: Case) -> float:
    """The greatest speed before the turbo [m/s]."""
    base = case.baseline
    density = case.ambient_pressure / (R_DRY_AIR * case.ambient_temperature)
    line = _to_the_end(case, base.speeds, base.result.torque)
    return speed_reached(car_of(case.build), *line, density).speed


def _to_the_end(case: Case, omega: Array, torque: Array) -> tuple[Array, Array]:
    """A full-load line up to the engine's speed limit [rad/s], [N m]; (n,) or (n + 1,) each.

    Where a speed was not computed or did not settle, the torque of the nearest that did stands in: an engine
    does not stop to pull there, and torque falls towards the limit, so that the car counts as no slower.
    """
    limit = case.build.number("engine.speed_limit")
    ends = np.append(omega, limit) if limit > omega[-1] else omega
    known = np.isfinite(torque)
    if not known.any():
        return omega, torque
    return ends, np.interp(ends, omega[known], torque[known])


def gearing_assumed(case: Case) -> str:
    """A sentence that names what of the gearing nobody stated; '' when all is."""
    missing = [what for what in assumed_of(case.build) if what != "mass of the car"]
    if not missing:
        return ""
    return f"Not stated: {', '.join(missing)}; usual ones are assumed."
