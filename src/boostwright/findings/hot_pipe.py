"""Wall and gas of the pipe behind the turbine along the operating lines of a case."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.case import Case
from boostwright.findings.charge_path import tail
from boostwright.findings.worst import Line
from boostwright.physics.heat_transfer import manifold_outlet
from boostwright.systems.stated.down_pipe import DownPipe

__all__ = ["GAS_SD", "walls"]

Array = NDArray[np.float64]

GAS_SD = 45.0  # of the computed gas temperature behind the turbine [K] (judgement)
_WALL = 1.5e-3  # of the pipe [m]; common practice
_BONNET = 40.0  # air about the pipe over that outside [K]; common practice
_ACROSS = 20.0  # outside coefficient, wind under the car [W/(m2 K)]; common practice
_CP = 1230.0  # of exhaust gas about these temperatures [J/(kg K)]


def walls(case: Case, line: Line, pipe: DownPipe, length: float) -> tuple[Array, Array]:
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
