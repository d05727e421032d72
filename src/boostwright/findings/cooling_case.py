"""What the findings on cooling share: heat along the lines of a case, coolant at the end of the load."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Kind
from boostwright.findings.moved import moved_spread
from boostwright.findings.worst import Line, Worst, lines, worst
from boostwright.library.car_parts import car_constant
from boostwright.physics.heat_soak import CP_CHARGE
from boostwright.systems.cooling import Air, Climb, Cooling, Heats, climb, coolant_boils, engine_heats
from boostwright.systems.engine.types import CycleResult
from boostwright.systems.stated.cooling import cooling_of, uncertain_cooling

__all__ = [
    "Cooled",
    "after_at",
    "air_behind",
    "charge_heat",
    "cooled_at",
    "heat_before",
    "heats_of",
    "hottest",
]

Array = NDArray[np.float64]

_LAWS = ("heat/model",)  # which law of wall heat holds is drawn with the rest of the models
_CAP = ("cooling.cap_pressure", "cooling.glycol")


@dataclass(frozen=True, slots=True)
class Cooled:
    """The coolant at the end of the hardest load, where it is worst."""

    there: Worst
    climb: Climb
    before: Climb  # the same load before the conversion
    after: Amount  # at the sensor
    hot: Amount  # at the hottest wall
    boils: Amount


def heats_of(case: Case, line: Line) -> Heats:
    """Heat into coolant and oil along one operating line [W]."""
    return engine_heats(case.engine, line.goal.result, line.goal.speed, cooling_of(case.build).split)


def _at(cycle: CycleResult, i: int) -> CycleResult:
    """The cycle of one point."""
    return CycleResult(*(np.asarray(column)[i] for column in cycle))


def heat_before(case: Case, parts: Cooling) -> Array:
    """Greatest heat into the coolant at full load before the conversion [W]; shape of the parts."""
    base = case.baseline
    middle = engine_heats(case.engine, base.result, base.speeds, cooling_of(case.build).split).coolant
    i = int(np.nanargmax(middle))
    return engine_heats(case.engine, _at(base.result, i), base.speeds[i], parts.split).coolant


def charge_heat(line: Line) -> Array:
    """Heat that the charge leaves in its cooler along one line [W]."""
    goal = line.goal
    fall = np.maximum(goal.compressor_outlet_temperature - goal.plenum_temperature, 0.0)
    return np.asarray(goal.result.air_flow * CP_CHARGE * fall)


def _air(line: Line) -> Air:
    return Air(line.ambient_pressure, line.ambient_temperature)


def cooled_at(case: Case, there: Worst, parts: Cooling, size: float | Array = 1.0) -> Climb:
    """The coolant at one place of one line. parts: may hold arrays (m,). size: of the radiator's face [-]."""
    i, goal = there.place, there.goal
    heat = engine_heats(case.engine, _at(goal.result, i), goal.speed[i], parts.split).coolant
    charge = float(charge_heat(there.line)[i])
    return climb(parts, heat, charge, _air(there.line), heat_before(case, parts), size)


class _Days(NamedTuple):
    """Every operating line under the lasting load, in one piece."""

    unheld: Array  # coolant at the end if no thermostat held it up [K]
    boils: Array  # boiling point under the cap on that day [K]
    behind: Array  # air behind the radiator [K]
    ends: tuple[int, ...]  # of each line in the piece


def _days(case: Case) -> _Days:
    """All lines at once; computed once for each build."""
    kept = case.extra.setdefault("cooling_days", {})
    every = lines(case)
    key = (id(case.build), *(id(line.goal) for line in every))
    if key not in kept:
        parts = cooling_of(case.build)
        sizes = [line.goal.speed.size for line in every]
        outside = np.array([line.ambient_pressure for line in every])
        warm = np.array([line.ambient_temperature for line in every])
        air = Air(np.repeat(outside, sizes), np.repeat(warm, sizes))
        heat = np.concatenate([heats_of(case, line).coolant for line in every])
        charge = np.concatenate([charge_heat(line) for line in every])
        told = np.isfinite(heat) & np.isfinite(charge)
        usable = np.where(told, heat, 1.0), np.where(told, charge, 0.0)
        end = climb(parts, *usable, air, heat_before(case, parts))
        boils = np.repeat(coolant_boils(parts, outside), sizes)
        found = _Days(
            np.where(told, end.unheld, np.nan),
            boils,
            np.where(told, end.behind, np.nan),
            tuple(int(n) for n in np.cumsum(sizes)),
        )
        kept[key] = (found, case.build, every)  # kept alive with their ids
    days: _Days = kept[key][0]
    return days


def _part(case: Case, line: Line, column: Array) -> Array:
    """What belongs to one line of the case."""
    places = [k for k, one in enumerate(lines(case)) if one.goal is line.goal]
    end = _days(case).ends[places[0]]
    return column[end - line.goal.speed.size : end]


def hottest(case: Case, boiling: bool = False) -> Cooled | None:
    """Where the coolant becomes hottest; with `boiling`, where it comes closest to boiling."""
    if not lines(case):
        return None
    days = _days(case)
    room = (days.boils if boiling else np.zeros_like(days.boils)) - days.unheld
    there = worst(case, lambda line: _part(case, line, room))
    if there is None:
        return None
    kept = case.extra.setdefault("cooling", {})
    key = (id(case.build), id(there.goal), there.place)
    if key not in kept:
        kept[key] = (_cooled(case, there), case.build, there.goal)  # kept alive with their ids
    found: Cooled = kept[key][0]
    return found


def _cooled(case: Case, there: Worst) -> Cooled:
    parts = cooling_of(case.build)
    outside = there.line.ambient_pressure
    after = after_at(case, there)
    spot = car_constant("radiator", "hot_spot")
    hot = Amount(
        after.value + spot.value,
        math.hypot(after.sd or 0.0, spot.sd),
        Kind.TEMPERATURE,
        "coolant at the hottest walls",
    )
    caps = [row for row in uncertain_cooling(case.build) if row[0] in _CAP]
    boils, sd = moved_spread(caps, lambda values: coolant_boils(cooling_of(case.build, values), outside))
    before = heat_before(case, parts)
    old_face = parts.area if parts.slope_area is None else parts.slope_area
    stock = replace(parts, in_front=False, area=old_face)
    return Cooled(
        there,
        cooled_at(case, there, parts),
        climb(stock, before, 0.0, _air(there.line), before),
        after,
        hot,
        Amount(boils, sd, Kind.TEMPERATURE, "boiling point under the cap"),
    )


def after_at(case: Case, there: Worst, size: float = 1.0) -> Amount:
    """The coolant at the end of the load at one place, with its spread. size: of the radiator's face [-]."""
    rows = [
        (name, middle, case.left(sd) if name in _LAWS else sd)
        for name, middle, sd in uncertain_cooling(case.build)
    ]
    end, sd = moved_spread(
        rows, lambda values: cooled_at(case, there, cooling_of(case.build, values), size).after
    )
    return Amount(end, sd, Kind.TEMPERATURE, "coolant at the end of it")


def air_behind(case: Case, line: Line) -> float:
    """Air behind the radiator under the lasting load, warmest along one line [K]."""
    behind = np.where(line.goal.settled, _part(case, line, _days(case).behind), np.nan)
    return float(np.nanmax(behind))
