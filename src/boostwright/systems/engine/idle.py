"""The engine at idle and in slow cruise: the least fuel that an injector must meter."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import NotConverged
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.types import OperatingPoints

__all__ = ["LightLoad", "light_loads"]

Array = NDArray[np.float64]

_IDLE_LOAD: Final = 0.15e5  # brake mean effective pressure that alternator and pumps take [Pa] (judgement)
_CRUISE_LOAD: Final = 1.0e5  # of a gentle cruise on the level [Pa] (judgement)
_CRUISE_SPEED: Final = 2000.0 * np.pi / 30.0  # [rad/s] (judgement)
_IDLE_SPARK: Final = np.radians(-12.0)  # as idle is set, later than MBT (common practice, no source) [rad]
_CRUISE_SPARK: Final = np.radians(-30.0)  # (common practice, no source) [rad]
_TRIED: Final = np.array([20.5, 23.0, 25.5, 28.0, 30.5, 33.0, 35.5, 38.0, 42.0, 47.0, 54.0, 64.0]) * 1e3
"""Plenum pressures that are run [Pa]: close where idle lies, for below it the charge does not burn."""
_EXHAUST_RISE: Final = 1.0e3  # of the exhaust manifold at so little flow [Pa] (judgement)
_PLENUM_RISE: Final = 12.0  # of the plenum over the outside air at little flow [K] (judgement)
_BEYOND: Final = 1.0  # of the lowest step, by which idle may lie below the last pressure that burnt [-]


class LightLoad(NamedTuple):
    """Steady points of little load; index 0 is warm idle, 1 is slow cruise. Arrays (2,), whole engine."""

    speed: Array  # [rad/s]
    plenum_pressure: Array  # [Pa absolute]
    air_flow: Array  # [kg/s]
    fuel_flow: Array  # at lambda 1 [kg/s]


def light_loads(
    solver: CycleSolver, ambient_pressure: float, ambient_temperature: float, idle_speed: float
) -> LightLoad:
    """Plenum pressure and fuel flow at which the engine's own cycle just carries itself, and a slow cruise.

    The cycle runs at a dozen plenum pressures; between those that burnt, the load is read off as a straight
    line, and on below the lowest for less than a step. ambient_pressure [Pa], ambient_temperature [K],
    idle_speed [rad/s]. Raises NotConverged when the load lies outside the pressures at which the cycle burns.
    Expected error of the fuel flow at idle: 20 %, for the scatter of residual and spark from cycle to cycle
    is not in it.
    """
    n = _TRIED.size
    speed = np.repeat([idle_speed, _CRUISE_SPEED], n)
    tried = np.tile(np.minimum(_TRIED, 0.95 * ambient_pressure), 2)
    cycle = solver.run(
        OperatingPoints(
            speed=speed,
            plenum_pressure=tried,
            plenum_temperature=ambient_temperature + _PLENUM_RISE,
            exhaust_pressure=ambient_pressure + _EXHAUST_RISE,
            lam=1.0,
            spark=np.repeat([_IDLE_SPARK, _CRUISE_SPARK], n),
        )
    )
    rows = []
    for k, (load, words) in enumerate(((_IDLE_LOAD, "idle"), (_CRUISE_LOAD, "slow cruise"))):
        own = np.arange(k * n, (k + 1) * n)
        own = own[(cycle.status[own] == 0) & np.isfinite(cycle.bmep[own])]
        bmep = cycle.bmep[own]
        lowest = bmep.min() - _BEYOND * (bmep[1] - bmep[0]) if bmep.size > 1 else np.inf
        if bmep.size < 2 or not lowest <= load <= bmep.max():
            reached = f"{bmep.min() / 1e5:.2f} to {bmep.max() / 1e5:.2f} bar" if bmep.size else "none"
            raise NotConverged(
                f"No plenum pressure was found for {words}: it takes a mean effective pressure of"
                f" {load / 1e5:.2f} bar, and the cycles that burnt reached {reached}."
            )
        rows.append([_at(load, bmep, values[own]) for values in (tried, cycle.air_flow, cycle.fuel_flow)])
    plenum, air, fuel = np.array(rows, dtype=np.float64).T
    return LightLoad(np.array([idle_speed, _CRUISE_SPEED]), plenum, air, fuel)


def _at(load: float, bmep: Array, values: Array) -> float:
    """Straight line between the cycles, and on from the lowest two where the next one did not burn."""
    if load >= bmep[0]:
        return float(np.interp(load, bmep, values))
    return float(values[0] + (load - bmep[0]) / (bmep[1] - bmep[0]) * (values[1] - values[0]))
