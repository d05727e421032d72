"""The engine for a transient: air flow, exhaust temperature and torque over speed and plenum pressure.

The cycle is asked once, on a grid. Between its points the engine is a mean-value surface of quantities that
change little: air over what plenum density and residual gas allow, work of the burn over air, exhaust
temperature. A transient asks the engine some thousand times, which no cycle could follow.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange
from boostwright.physics.compressor import R_AIR
from boostwright.physics.turbine import ExhaustGas, inlet_pressure_for_flow
from boostwright.systems.engine.types import CycleResult, EngineGeometry, OperatingPoints
from boostwright.systems.turbo import NO_PULSES, Ambient, Pulses, TurboParts, unboosted_plenum_pressure

__all__ = [
    "EngineAnswer",
    "EngineSurface",
    "breathing_room",
    "engine_surface",
    "knock_limited_surface",
    "surface_points",
]

Array = NDArray[np.float64]
SparkFinder = Callable[[OperatingPoints, NDArray[np.int64]], tuple[CycleResult, Array]]

RESIDUAL_EXPONENT: Final = 1 / 1.3  # of the burned gas left in the clearance volume
_AIR, _RICHNESS, _HEAT, _WORK, _FRICTION, _PULSE_FLOW, _PULSE_POWER = range(7)
_FILLING: Final = 0.9  # guess of volumetric efficiency, for the exhaust pressure of the grid only
_HOT: Final = 1050.0  # guess of exhaust temperature for the same [K]
_ROUNDS: Final = 16  # of the search for the spark, at most
_SETTLED: Final = np.radians(0.1)  # of the spark [rad]
_RISE: Final = 0.10  # guess of charge warming with boost behind a cooler, on ambient temperature [-]


class EngineAnswer(NamedTuple):
    """What the engine does at some moments; arrays of one shape."""

    air: Array  # [kg/s]
    exhaust_flow: Array  # air and fuel [kg/s]
    exhaust_temperature: Array  # behind warm walls [K]
    torque: Array  # brake torque [N m]; NaN where the cycle gave none


class EngineSurface(NamedTuple):
    """The engine over a grid of speeds (s,) and plenum pressures (p,)."""

    speed: Array  # rising [rad/s]
    pressure: Array  # rising [Pa absolute]
    values: Array  # (7, s, p): see `engine_surface`
    displacement: float  # [m3]
    compression_ratio: float  # [-]

    def at(self, speed: Array, pressure: Array) -> Array:
        """The seven values, straight between grid points and held outside them; shape (7, n)."""
        i, s = _place(self.speed, speed)
        j, t = _place(self.pressure, pressure)
        v = self.values
        low = v[:, i, j] * (1 - t) + v[:, i, j + 1] * t
        high = v[:, i + 1, j] * (1 - t) + v[:, i + 1, j + 1] * t
        return np.asarray(low * (1 - s) + high * s)

    def answer(
        self, values: Array, speed: Array, pressure: Array, temperature: Array, exhaust: Array
    ) -> EngineAnswer:
        """The engine at a moment; values: of `at` there. [rad/s], [Pa], [K], [Pa]; shape (n,)."""
        room = breathing_room(self.compression_ratio, exhaust, pressure)
        air = values[_AIR] * speed * pressure / np.sqrt(temperature) * room
        lost = (values[_FRICTION] + exhaust - pressure) * self.displacement / (4 * np.pi)
        torque = values[_WORK] * air / speed - lost
        return EngineAnswer(air, air * (1 + values[_RICHNESS]), values[_HEAT], torque)

    @staticmethod
    def pulses(values: Array) -> tuple[Array, Array]:
        """Factors of exhaust pulses on turbine flow and power [-] among the values of `at`."""
        return values[_PULSE_FLOW], values[_PULSE_POWER]

    @property
    def has_torque(self) -> bool:
        """Whether the cycle gave torque everywhere on the grid."""
        return bool(np.isfinite(self.values[[_WORK, _FRICTION]]).all())


def breathing_room(compression_ratio: float, exhaust: ArrayLike, plenum: ArrayLike) -> Array:
    """Cylinder volume that fresh charge finds, r - (p3/p)^(1/1.3) [-]; not below a fifth of r.

    Source: heywood1988, section 6.2, from memory.
    """
    room = compression_ratio - (np.asarray(exhaust) / np.asarray(plenum)) ** RESIDUAL_EXPONENT
    return np.asarray(np.maximum(room, 0.2 * compression_ratio))


def surface_points(
    engine: EngineGeometry,
    turbo: TurboParts,
    ambient: Ambient,
    speeds: ArrayLike,
    goal_pressure: float,
    gas: ExhaustGas,
    lam: float = 0.85,
    spark: float = -0.35,
    rows: int = 4,
) -> OperatingPoints:
    """Grid of points that a transient passes: from no boost to the goal, gate shut, all speeds at each
    pressure.

    engine, turbo, ambient, gas: records. speeds: rising, shape (s,) [rad/s]. goal_pressure: plenum [Pa].
    lam, spark: of all points. rows: plenum pressures. Returns points of shape (rows s,), pressure by
    pressure. Charge temperature and exhaust pressure are a fair guess of those that the transient meets; the
    surface corrects for what is left.
    """
    speed = np.atleast_1d(np.asarray(speeds, dtype=np.float64))
    peak_flow = _FILLING * ambient.pressure / (R_AIR * ambient.temperature) * engine.displacement
    lowest = float(unboosted_plenum_pressure(turbo, ambient, peak_flow * speed[-1] / (4 * np.pi)))
    if not (speed.size >= 2 and np.all(np.diff(speed) > 0) and goal_pressure > lowest):
        raise OutOfRange(
            "A transient needs two or more rising engine speeds and a goal above the pressure without boost."
        )
    p, n = (a.ravel() for a in np.meshgrid(np.linspace(lowest, goal_pressure, rows), speed, indexing="ij"))
    T = ambient.temperature * (1 + _RISE * np.maximum(p / ambient.pressure - 1, 0.0))
    flow = 1.08 * _FILLING * p / (R_AIR * T) * engine.displacement * n / (4 * np.pi)
    outlet = np.sqrt(ambient.pressure**2 + 2 * np.asarray(gas.R) * 0.92 * _HOT * turbo.exhaust.at(flow, 1.0))
    exhaust = inlet_pressure_for_flow(flow, turbo.turbine_area, _HOT, outlet, gas)
    # With the gate open the exhaust pressure stays near the plenum's; the cycle is not asked far beyond.
    exhaust = np.minimum(exhaust, ambient.pressure + 2.0 * np.maximum(p - ambient.pressure, 0.3e5))
    return OperatingPoints(n, p, T, exhaust, np.full(n.shape, lam), np.full(n.shape, spark))


def engine_surface(
    engine: EngineGeometry, points: OperatingPoints, cycle: CycleResult, pulses: Pulses = NO_PULSES
) -> EngineSurface:
    """Surface through the cycles at the points of `surface_points`.

    engine: record. points, cycle: shape (rows s,). pulses: factors, one for all, or shape (s,) or (rows s,).
    The values kept are air/(N p T^-1/2 room), fuel/air, exhaust temperature, (torque + losses) N/air,
    friction mean pressure and the two pulse factors. Raises OutOfRange where a cycle gave no finite flow.
    Error: see the points held out in the tests.
    """
    speed, p, T, p3, _, _ = points.arrays()
    air, fuel = np.asarray(cycle.air_flow), np.asarray(cycle.fuel_flow)
    heat = np.asarray(cycle.exhaust_manifold_temperature)
    usable = np.isfinite(air) & np.isfinite(fuel) & np.isfinite(heat) & (air > 0) & (fuel > 0)
    if not usable.all():
        raise OutOfRange(
            f"The engine cycle gave no usable flow at {int(np.sum(~usable))} of {usable.size} points of the "
            "transient's grid, so how soon boost arrives is not computed."
        )
    lost = (np.asarray(cycle.fmep) + p3 - p) * engine.displacement / (4 * np.pi)
    work = (np.asarray(cycle.torque) + lost) * speed / air
    chi = air * np.sqrt(T) / (speed * p * breathing_room(engine.compression_ratio, p3, p))
    axis_n, axis_p = np.unique(speed), np.unique(p)
    shape = (axis_p.size, axis_n.size)
    grid = [column.reshape(shape).T for column in (chi, fuel / air, heat, work, np.asarray(cycle.fmep))]
    for factor in (pulses.flow, pulses.power):
        column = np.asarray(factor, dtype=np.float64)
        if column.ndim == 1:
            column = column.reshape(shape).T if column.size == speed.size else column[:, None]
        grid.append(np.broadcast_to(column, shape[::-1]))
    return EngineSurface(axis_n, axis_p, np.stack(grid), engine.displacement, engine.compression_ratio)


def _place(axis: Array, at: Array) -> tuple[NDArray[np.int64], Array]:
    """Index of the interval and share within it, clamped to the axis."""
    i = np.clip(np.searchsorted(axis, at) - 1, 0, axis.size - 2)
    return i, np.clip((at - axis[i]) / (axis[i + 1] - axis[i]), 0.0, 1.0)


def knock_limited_surface(
    engine: EngineGeometry,
    points: OperatingPoints,
    finder: SparkFinder,
    first: Array,
    pulses: Pulses = NO_PULSES,
) -> EngineSurface:
    """Surface with the spark where the finder wants it, after some rounds of one or few cycles each.

    engine: of the build. points: of `surface_points`, shape (rows s,). finder: runs cycles at points and says
    what spark each would rather have, such as `match.KnockLimited`. first: spark to begin with, shape (rows
    s,) or one for all [rad]. pulses: as in `engine_surface`. Raises OutOfRange as `engine_surface`.
    """
    n = np.asarray(points.speed).size
    spark, every = np.array(np.broadcast_to(first, (n,)), dtype=np.float64), np.arange(n)
    for _ in range(_ROUNDS):
        at = replace(points, spark=spark)
        cycle, wanted = finder(at, every)
        if np.all(np.abs(wanted - spark) < _SETTLED):
            break
        spark = np.asarray(wanted)
    return engine_surface(engine, at, cycle, pulses)
