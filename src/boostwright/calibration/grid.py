"""Breakpoints of the tables over speed and manifold pressure, and the state of the engine's gas in each cell.

The breakpoints follow the predicted trajectory of the build: close together where the match runs and where
boost comes in, wide apart elsewhere; idle, the outside air and what lies above the boost cut are always
there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.errors import OutOfRange
from boostwright.findings.case import Case, GoalLine
from boostwright.findings.worst import lines
from boostwright.systems.engine.types import OperatingPoints

__all__ = ["Grid", "breakpoints", "cells_visited", "grid_of"]

Array = NDArray[np.float64]

RPM: Final = np.pi / 30.0
SPEEDS: Final = 16  # breakpoints unless a person asks for others
PRESSURES: Final = 16
SPEED_STEP: Final = 50.0 * RPM  # to which breakpoints are rounded [rad/s]
PRESSURE_STEP: Final = 1.0e3  # the same [Pa]
PAST_CUT: Final = 8.0e3  # that tables reach above the highest pressure of interest, at least [Pa]
LIGHT_RISE: Final = 12.0  # of the plenum over the outside air at little flow [K] (judgement)
LIGHT_SHARE: Final = 0.35  # of the outside pressure, at which that holds [-] (judgement)
WARMEST: Final = 420.0  # plenum, beyond which the cycle has no ground [K]
STEEPEST: Final = 2.5  # of the exhaust's gauge pressure, each time over the one at the trajectory [-]
GROUND: Final = (20.0e3, 395.0e3)  # of the cycle's plenum pressure [Pa]


@dataclass(frozen=True, slots=True)
class Grid:
    """Cells of speed and pressure: flat arrays (n m,), the pressure running fastest."""

    speeds: Array  # (n,) [rad/s]
    pressures: Array  # (m,) [Pa absolute]
    temperature: Array  # plenum [K]
    exhaust: Array  # manifold [Pa absolute]
    visited: NDArray[np.bool_]
    ambient: float  # outside air [Pa]

    @property
    def shape(self) -> tuple[int, int]:
        """Rows of speed and columns of pressure."""
        return self.speeds.size, self.pressures.size

    @property
    def speed(self) -> Array:
        """Of each cell [rad/s]."""
        return np.repeat(self.speeds, self.pressures.size)

    @property
    def pressure(self) -> Array:
        """Of each cell [Pa absolute]."""
        return np.tile(self.pressures, self.speeds.size)

    def points(self, lam: Array, spark: Array | float = -0.35) -> OperatingPoints:
        """The cells as the cycle takes them; lam (n m,) [-]."""
        return OperatingPoints(self.speed, self.pressure, self.temperature, self.exhaust, lam, spark)


def breakpoints(density: Array, at: Array, count: int, always: tuple[float, ...], step: float) -> Array:
    """Places that share a density evenly, rounded to ``step``, with some that are always among them.

    density: (k,) at places ``at`` (k,), rising. Returns at most ``count`` rising places; one that must be
    there replaces the nearest shared one.
    """
    way = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(at))])
    even = np.interp(np.linspace(0.0, way[-1], count), way, at)
    taken = np.zeros(count, dtype=bool)
    for value in always:
        nearest = int(np.argmin(np.where(taken, np.inf, np.abs(even - value))))
        even[nearest], taken[nearest] = value, True
    return np.unique(np.round(even / step)) * step


def grid_of(
    build: Build, case: Case, top: float, speeds: Array | None = None, pressures: Array | None = None
) -> Grid:
    """The grid of a build.

    case: with the matched trajectory where there is one. top: highest pressure that the tables must reach
    [Pa absolute]. speeds [rad/s], pressures [Pa absolute]: a person's own breakpoints, rising; None to choose
    them. Raises OutOfRange for breakpoints that the cycle cannot run.
    """
    n = _checked(speeds, "speed", "rpm", 1.0 / RPM, (500.0 * RPM, 12000.0 * RPM))
    p = _checked(pressures, "pressure", "kPa", 1.0e-3, GROUND)
    n = _speeds(build, case) if n is None else n
    p = _pressures(case, top) if p is None else p
    temperature, exhaust = _state(case, np.repeat(n, p.size), np.tile(p, n.size))
    return Grid(n, p, temperature, exhaust, cells_visited(case, n, p), case.ambient_pressure)


def _checked(
    given: Array | None, name: str, unit: str, factor: float, ground: tuple[float, float]
) -> Array | None:
    if given is None:
        return None
    values = np.asarray(given, dtype=np.float64)
    low, high = ground
    if values.ndim != 1 or values.size < 2 or not np.all(np.diff(values) > 0.0):
        shown = ", ".join(f"{v * factor:g}" for v in values.ravel()[:8])
        raise OutOfRange(
            f"breakpoints of {name} {shown} {unit}: at least two are needed, each above the one before it"
        )
    if not (values[0] >= low and values[-1] <= high):
        worst = values[0] if values[0] < low else values[-1]
        raise OutOfRange(
            f"breakpoint of {name} {worst * factor:g} {unit}: the engine cycle holds from {low * factor:g} to"
            f" {high * factor:g} {unit}; choose breakpoints within that"
        )
    return values


def _speeds(build: Build, case: Case) -> Array:
    idle, top = build.number("engine.idle_speed"), build.number("engine.speed_limit")
    low = max(0.8 * idle, 550.0 * RPM)
    at = np.linspace(low, top, 200)
    density = np.ones(at.size)
    if case.goal is not None and np.count_nonzero(case.goal.settled) > 1:
        keep = case.goal.settled
        boost = np.interp(at, case.goal.speed[keep], case.goal.plenum_pressure[keep])
        rise = np.abs(np.gradient(boost, at))
        if rise.max() > 0.0:  # boost comes in there: cells half as wide
            density += rise / rise.max()
    density += np.exp(-(((at - idle) / (250.0 * RPM)) ** 2))
    return breakpoints(density, at, SPEEDS, (idle, top), SPEED_STEP)


def _pressures(case: Case, top: float) -> Array:
    light = case.extra.get("light_loads")
    idle = 0.4 * case.ambient_pressure if light is None else float(np.min(light.plenum_pressure))
    low = max(0.8 * idle, GROUND[0])
    at = np.linspace(low, min(top, GROUND[1]), 400)
    density = np.ones(at.size)
    always = [idle, case.ambient_pressure, float(at[-1])]
    for line in lines(case):
        goal = line.goal
        for p in goal.plenum_pressure[goal.settled]:
            density += 2.0 / goal.speed.size * np.exp(-(((at - p) / 12.0e3) ** 2))
    if case.goal is not None and case.goal.settled.any():
        always.insert(2, float(np.nanmax(case.goal.plenum_pressure)))
    return breakpoints(density, at, PRESSURES, tuple(always), PRESSURE_STEP)


class _Line:
    """A line over speed, held at its ends; only points that settled."""

    def __init__(self, goal: GoalLine, ambient: float) -> None:
        keep = goal.settled
        self._speed = goal.speed[keep]
        self._columns = (
            goal.plenum_pressure[keep],
            goal.plenum_temperature[keep],
            goal.exhaust_pressure[keep] - ambient,
        )

    def at(self, speed: Array) -> tuple[Array, Array, Array]:
        """Plenum pressure [Pa], its temperature [K], exhaust above the outside air [Pa]."""
        pressure, T, gauge = (np.interp(speed, self._speed, column) for column in self._columns)
        return pressure, T, gauge


def _state(case: Case, speed: Array, pressure: Array) -> tuple[Array, Array]:
    """Plenum temperature [K] and exhaust pressure [Pa] of cells.

    On the trajectory they are the match's. Below it the exhaust's gauge pressure falls with the square of
    the charge, as through a fixed opening, and the plenum's temperature goes to that of light load. Above it
    they go to the line with the gate held shut, which is how an engine comes to stand there.
    """
    ambient, T_air = case.ambient_pressure, case.ambient_temperature
    if case.goal is not None and case.goal.settled.any():
        p_run, T_run, x_run = _Line(case.goal, ambient).at(speed)
    else:
        base = case.baseline
        points = base.points  # type: ignore[attr-defined]
        p_run = np.interp(speed, base.speeds, points.plenum_pressure)
        T_run = np.full(speed.shape, T_air)
        x_run = np.interp(speed, base.speeds, np.asarray(points.exhaust_pressure) - ambient)
    ratio = pressure / p_run
    gauge = x_run * np.minimum(ratio**2, STEEPEST)
    p_light = np.minimum(LIGHT_SHARE * ambient, 0.9 * p_run)
    way = np.clip((pressure - p_light) / (p_run - p_light), 0.0, None)
    T = T_air + LIGHT_RISE + (T_run - T_air - LIGHT_RISE) * np.minimum(way, 1.0)
    shut = case.gate_shut
    if shut is not None and shut.settled.any():
        p_shut, T_shut, x_shut = _Line(shut, ambient).at(speed)
        beyond = (pressure > p_run) & (p_shut > 1.03 * p_run)
        share = np.clip((pressure - p_run) / np.where(beyond, p_shut - p_run, 1.0), 0.0, 1.5)
        gauge = np.where(beyond, x_run + share * (x_shut - x_run), gauge)
        T = np.where(beyond, T_run + share * (T_shut - T_run), T)
    exhaust = np.clip(ambient + np.maximum(gauge, 0.0), 51.0e3, 590.0e3)
    return np.minimum(T, WARMEST), exhaust


def cells_visited(case: Case, speeds: Array, pressures: Array) -> NDArray[np.bool_]:
    """Whether full load on any of the build's days, or everyday driving below it, comes within a cell, flat.

    A controller reads the four cells around where it stands, so those of every point of the trajectory count,
    and all below it down to warm idle: a throttle can stand anywhere between.
    """
    found = np.zeros((speeds.size, pressures.size), dtype=bool)
    light = case.extra.get("light_loads")
    low = pressures[0] if light is None else float(np.min(light.plenum_pressure))
    floor = max(int(np.searchsorted(pressures, low, side="right")) - 1, 0)
    highest = np.full(speeds.size, case.ambient_pressure)
    for line in lines(case):
        goal = line.goal
        if goal.settled.any():
            p, _, _ = _Line(goal, line.ambient_pressure).at(speeds)
            highest = np.maximum(highest, p)
    for i in range(speeds.size):
        near = highest[max(i - 1, 0) : i + 2].max()
        last = int(np.searchsorted(pressures, near, side="left"))
        found[i, floor : last + 1] = True
    return found.ravel()
