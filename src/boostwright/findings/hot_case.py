"""What the findings on neighbours share: the hot side along the lines of a case, and the part beside it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.case import Case
from boostwright.findings.charge_path import tail
from boostwright.findings.cooling_case import air_behind
from boostwright.findings.model import Amount, Kind
from boostwright.findings.moved import moved_spread
from boostwright.findings.worst import Line, lines
from boostwright.library.car_parts import car_constant, car_value
from boostwright.systems.hot_zone import Bay, Warmed, warmed
from boostwright.systems.stated.cooling import duty_of
from boostwright.systems.stated.hot_zone import (
    Gas,
    StatedNeighbour,
    briefly_more,
    hot_part_of,
    hot_wall,
    part_of,
    uncertain_hot,
)

__all__ = ["FARTHEST", "NEAREST", "Exposed", "clearance", "exposed", "wall_of"]

Array = NDArray[np.float64]

FARTHEST: Final = 0.6  # that a clearance is looked for [m]
NEAREST: Final = 0.025  # that one is named, however cool it is [m]
_WALL_SD = 40.0  # of a computed wall: the gas, its heat transfer and its pulses [K] (judgement)


@dataclass(frozen=True, slots=True)
class Exposed:
    """One neighbour on its worst day, in the worse of two states: on the road, or standing after it."""

    stated: StatedNeighbour
    line: Line
    warm: Amount
    most: Amount  # what its material stands in that state
    wall: Amount  # of the hot part beside it
    standing: bool


def _gas(case: Case, line: Line) -> Gas:
    goal, cycle = line.goal, line.goal.result
    flow = np.where(goal.settled, cycle.air_flow + cycle.fuel_flow, np.nan)
    behind = tail(case, line).temperature  # what bypasses the wheel is mixed in
    keep = np.isfinite(flow) & np.isfinite(goal.turbine_inlet_temperature) & np.isfinite(behind)
    return Gas(
        flow[keep], cycle.exhaust_port_temperature[keep], goal.turbine_inlet_temperature[keep], behind[keep]
    )


def _middle() -> dict[str, Any]:
    return {name: value for name, value, _ in uncertain_hot()} | {"wall": 0.0}


class _Day(NamedTuple):
    """One operating line with what its hot side comes to."""

    line: Line
    gas: Gas
    around: float  # air about the hot side, moving [K]
    walls: dict[str, float]  # by hot part [K]


def _days(case: Case) -> tuple[_Day, ...]:
    """Every line on which something settled; computed once."""
    kept = case.extra.setdefault("hot_days", {})
    every = lines(case)
    key = (id(case.build), *(id(line.goal) for line in every))
    if key not in kept:
        rise = car_value("hot", "bay_rise")
        found = []
        for line in every:
            gas = _gas(case, line)
            if gas.flow.size:
                found.append(_Day(line, gas, air_behind(case, line) + rise, {}))
        kept[key] = (tuple(found), case.build, every)  # kept alive with their ids
    days: tuple[_Day, ...] = kept[key][0]
    return days


def _wall(case: Case, day: _Day, beside: str) -> float:
    if beside not in day.walls:
        day.walls[beside] = hot_wall(case.build, case.engine, beside, day.gas, day.around)
    return day.walls[beside]


def wall_of(case: Case, beside: str) -> float | None:
    """Wall of a hot part under steady full load on the ordinary day [K]; None without an operating line."""
    days = _days(case)
    return _wall(case, days[0], beside) if days else None


def _warm(case: Case, days: tuple[_Day, ...], stated: StatedNeighbour, values: Mapping[str, Any]) -> Warmed:
    """On some days side by side, or on one with values that may be arrays."""
    duty = duty_of(case.build)
    wall, around, outside = (
        np.array([of(day) for day in days]) if len(days) > 1 else of(days[0])
        for of in (
            lambda day: _wall(case, day, stated.beside),
            lambda day: day.around - car_value("hot", "bay_rise"),
            lambda day: day.line.ambient_temperature,
        )
    )
    bay = Bay(
        moving=around + values["bay_rise"],
        standing=outside + values["bay_soak"],
        speed=values["bay_speed"] * duty.speed[0],
        pressure=min(day.line.ambient_pressure for day in days),
        lasting=duty.time,
        outside=outside,
    )
    hot = hot_part_of(case.build, stated.beside, wall + values["wall"], values)
    return warmed(part_of(stated, values), hot, bay)


def _rows(case: Case, stated: StatedNeighbour) -> list[tuple[str, float, float]]:
    return [
        *uncertain_hot(),
        ("distance", stated.distance, stated.distance_sd),
        ("wall", 0.0, case.left(_WALL_SD)),
    ]


def exposed(case: Case, stated: StatedNeighbour, limit: Amount) -> Exposed | None:
    """A neighbour on the day and in the state in which it comes closest to its limit, with its spread.

    limit: that of its material, lasting. For minutes a polymer stands more. None without an operating line.
    """
    days = _days(case)
    if not days:
        return None
    brief = replace(
        limit,
        value=limit.value + briefly_more(stated.kind),
        name=f"{limit.name}, for minutes" if briefly_more(stated.kind) else limit.name,
    )
    here = _warm(case, days, stated, _middle() | {"distance": stated.distance})
    states = (
        (limit.value - np.atleast_1d(here.driving), limit, False),
        (brief.value - np.atleast_1d(here.standing), brief, True),
    )
    room, most, standing = min(states, key=lambda one: float(np.min(one[0])))
    day = days[int(np.argmin(room))]
    value, sd = moved_spread(
        _rows(case, stated), lambda values: _warm(case, (day,), stated, values)[standing]
    )
    return Exposed(
        stated,
        day.line,
        Amount(value, math.hypot(sd, car_constant("hot", "model").sd), Kind.TEMPERATURE, stated.what),
        most,
        Amount(_wall(case, day, stated.beside), _WALL_SD, Kind.TEMPERATURE, "wall beside it"),
        standing,
    )


def clearance(case: Case, of: Exposed, stated: StatedNeighbour, z: float) -> float:
    """Least distance at which a neighbour, changed as asked, is sure on the same day in both states [m].

    z: deviations of room from which it is sure [-]. Infinity where no distance is enough.
    """
    day = next(one for one in _days(case) if one.line is of.line or one.line.goal is of.line.goal)
    rows = _rows(case, stated)
    distances = np.geomspace(NEAREST, FARTHEST, 24)
    size = 1 + 2 * sum(1 for row in rows if row[2] > 0.0)
    made: list[Warmed] = []

    def every(values: Mapping[str, Array]) -> Array:
        wide = {name: np.tile(np.asarray(column), distances.size) for name, column in values.items()}
        wide["distance"] = np.repeat(distances, size) + (wide["distance"] - stated.distance)
        made.append(_warm(case, (day,), stated, wide))
        return np.asarray(values["wall"])

    moved_spread(rows, every)
    lasting = of.most.value - (briefly_more(stated.kind) if of.standing else 0.0)
    model = car_constant("hot", "model").sd
    fits = np.ones(distances.size, dtype=bool)
    for state, more in ((made[0].driving, 0.0), (made[0].standing, briefly_more(stated.kind))):
        table = np.asarray(state).reshape(distances.size, size)
        spread = np.sqrt(
            0.5 * np.sum((table - table[:, :1]) ** 2, axis=1) + model**2 + (of.most.sd or 0.0) ** 2
        )
        fits &= table[:, 0] + z * spread <= lasting + more
    found = np.flatnonzero(fits)
    return float(distances[found[0]]) if found.size else math.inf
