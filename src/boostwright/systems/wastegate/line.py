"""The line of plenum pressures along which a gate is set against turbine and compressor."""

from __future__ import annotations

from typing import Final, NamedTuple, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.turbine import ExhaustGas
from boostwright.physics.wastegate import area_for_flow
from boostwright.systems.wastegate.gate import Pressures

__all__ = ["GateLine", "TurboSide", "between", "gate_line", "line_at"]

Array = NDArray[np.float64]

_SHORT_SLOPE: Final = 0.45  # flow wanted over power wanting, relative, near an expansion ratio of 1.5 [-]
_SLACK: Final = 1e-9  # of a step of the line by which a pressure may lie outside it


class TurboSide(Pressures, Protocol):
    """What is read of the turbo's operating points; arrays of one shape."""

    @property
    def exhaust_flow(self) -> Array:
        """[kg/s]."""

    @property
    def gate_flow(self) -> Array:
        """That must pass the gate [kg/s]."""

    @property
    def turbine_power(self) -> Array:
        """[W]."""


class GateLine(NamedTuple):
    """Operating points along rising plenum pressures, shape (k, n): k pressures at each of n engine
    speeds.
    """

    plenum: Array  # [Pa], never falling along the first axis
    outlet: Array  # after the compressor [Pa]
    exhaust: Array  # [Pa]
    turbine_outlet: Array  # [Pa]
    needed: Array  # effective area at which the power balances; below 0 where the turbine falls short [m2]
    pulse: Array  # highest exhaust pressure of a cycle above its mean [Pa]


def gate_line(
    point: TurboSide,
    surplus: ArrayLike,
    exhaust_temperature: ArrayLike,
    gas: ExhaustGas,
    pulse: ArrayLike = 0.0,
) -> GateLine:
    """The line that a gate is set against, from points of the turbo side.

    point: of shape (k, n), plenum pressures rising along the first axis. surplus: turbine power with the gate
    shut less what the shaft takes, made negative too where the compressor map ends [W]. exhaust_temperature:
    at the turbine's inlet [K]. gas: exhaust gas about it. pulse: highest exhaust pressure of a cycle above
    its mean [Pa]. All broadcast to (k, n).

    Where the turbine falls short no area balances; there the area needed goes on below zero with about the
    slope it had, so that a root search finds the end of the boost without a jump.
    """
    plenum = np.asarray(point.plenum_pressure, dtype=np.float64)
    p3, p4 = np.asarray(point.exhaust_pressure), np.asarray(point.turbine_outlet_pressure)
    T3 = np.broadcast_to(np.asarray(exhaust_temperature, dtype=np.float64), plenum.shape)
    short = np.broadcast_to(np.asarray(surplus, dtype=np.float64), plenum.shape)
    power = np.asarray(point.turbine_power)
    wanted = np.maximum(power - np.minimum(short, 0.0), 1.0)
    missing = _SHORT_SLOPE * short / wanted * np.asarray(point.exhaust_flow)
    needed = area_for_flow(np.where(short < 0, missing, point.gate_flow), p3, T3, p4, gas.R, gas.gamma(T3))
    return GateLine(
        plenum=plenum,
        outlet=np.asarray(point.outlet_pressure, dtype=np.float64),
        exhaust=p3,
        turbine_outlet=p4,
        needed=needed,
        pulse=np.broadcast_to(np.asarray(pulse, dtype=np.float64), plenum.shape),
    )


def between(line: GateLine, first: NDArray[np.int64], share: Array) -> GateLine:
    """The line at a share of the way from entry `first` to the next, in each column, shape (n,)."""
    columns = np.arange(first.size)
    return GateLine(*(v[first, columns] + share * (v[first + 1, columns] - v[first, columns]) for v in line))


def line_at(line: GateLine, pressure: ArrayLike) -> GateLine:
    """The line at a plenum pressure, one or one for each column [Pa], shape (n,); NaN outside the line."""
    k, n = line.plenum.shape
    pressure = np.broadcast_to(np.asarray(pressure, dtype=np.float64), (n,))
    first = np.clip(np.sum(line.plenum <= pressure, axis=0) - 1, 0, k - 2)
    columns = np.arange(n)
    low, high = line.plenum[first, columns], line.plenum[first + 1, columns]
    share = (pressure - low) / np.where(high > low, high - low, 1.0)
    share = np.where((share >= -_SLACK) & (share <= 1 + _SLACK), share, np.nan)
    return between(line, first, share)
