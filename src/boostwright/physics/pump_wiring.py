"""Voltage at the terminals of a pump or another load behind feed wire, relay, connector and return."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "OperatingPoint",
    "SupplyPath",
    "linear_operating_point",
    "measured_resistance",
    "operating_point",
    "path_resistance",
    "permitted_resistance",
]

Array = NDArray[np.float64]

STEPS: Final = 50  # halvings of one scan step: 15 V become 1e-16 V
SCAN: Final = 256  # voltages at which a load is tried, from the source's down to 0


class SupplyPath(NamedTuple):
    """Resistance of each part that a load's current passes [ohm], or its drop [V]. Fields broadcast."""

    feed: ArrayLike = 0.0  # wire from the source to the load
    relay: ArrayLike = 0.0  # its contact
    fuse: ArrayLike = 0.0  # with its holder
    connector: ArrayLike = 0.0  # every plug on the way, tank bulkhead too
    back: ArrayLike = 0.0  # wire or body, with its bolt, back to the source


class OperatingPoint(NamedTuple):
    """Where source, path and load agree; NaN where they cannot: the path does not let the load run."""

    voltage: Array  # at the load's terminals [V]
    current: Array  # [A]
    drop: Array  # lost on the way [V]
    heat: Array  # made on the way [W]
    parts: SupplyPath  # the drop of each part [V]


def path_resistance(path: SupplyPath) -> Array:
    """Sum of all parts [ohm]."""
    return np.asarray(sum(np.asarray(part, dtype=np.float64) for part in path), dtype=np.float64)


def _point(path: SupplyPath, source: Array, current: Array, voltage: Array) -> OperatingPoint:
    """The point with its drops."""
    drop = np.asarray(source - voltage)
    parts = SupplyPath(*(np.asarray(current * np.asarray(part, dtype=np.float64)) for part in path))
    return OperatingPoint(np.asarray(voltage), np.asarray(current), drop, np.asarray(drop * current), parts)


def linear_operating_point(
    source_voltage: ArrayLike, path: SupplyPath, at_no_voltage: ArrayLike, by_voltage: ArrayLike
) -> OperatingPoint:
    """Terminal voltage of a load that draws I = a + b V: V = (V_source - R a)/(1 + R b).

    source_voltage: at the battery or alternator with the load on [V]. path: `SupplyPath` [ohm].
    at_no_voltage: a [A]. by_voltage: b [A/V]; negative for a load that draws more as voltage falls, such as a
    pump held to its power. All broadcast. NaN where no voltage of 0 or more, reached from full voltage
    downwards, agrees. Exact; the load's own line is the error, 10 to 15 % of a pump's current.
    """
    Vs, a, b = (np.asarray(x, dtype=np.float64) for x in (source_voltage, at_no_voltage, by_voltage))
    R = path_resistance(path)
    slope = 1.0 + R * b
    with np.errstate(divide="ignore", invalid="ignore"):
        V = (Vs - R * a) / slope
        V = np.where((slope > 0.0) & (V >= 0.0), V, np.nan)
    return _point(path, Vs, np.asarray(a + b * V), V)


def operating_point(
    source_voltage: ArrayLike, path: SupplyPath, current: Callable[[Array], ArrayLike]
) -> OperatingPoint:
    """Terminal voltage of a load whose current follows its voltage: V_source - V = R I(V), the highest V.

    The highest is the one at which a load that is switched on with full voltage comes to rest. Tried at 256
    voltages from the source's down to 0, then halved; two answers closer than V_source/256 are missed.

    source_voltage: at the battery or alternator with the load on [V]. path: `SupplyPath` [ohm]. current:
    current [A] of an array of voltages [V]; element by element, of any shape that broadcasts with the others.
    NaN where the path does not let the load run.
    """
    Vs, R = np.broadcast_arrays(np.asarray(source_voltage, dtype=np.float64), path_resistance(path))
    shape = np.broadcast_shapes(Vs.shape, np.shape(current(Vs)))
    Vs, R = np.broadcast_to(Vs, shape), np.broadcast_to(R, shape)

    def spare(V: Array) -> Array:  # what the path could still bring above what the load holds, in volts
        return np.asarray(Vs - V - R * np.asarray(current(V)))

    low, high, found = np.zeros(shape), Vs + 0.0, np.zeros(shape, dtype=bool)
    for step in range(1, SCAN + 1):
        tried = Vs * (1.0 - step / SCAN)
        with np.errstate(divide="ignore", invalid="ignore"):
            new = ~found & (spare(tried) >= 0.0)
        low = np.where(new, tried, low)
        high = np.where(new, Vs * (1.0 - (step - 1) / SCAN), high)
        found |= new
    for _ in range(STEPS):
        middle = 0.5 * (low + high)
        with np.errstate(divide="ignore", invalid="ignore"):
            fits = spare(middle) >= 0.0
        low, high = np.where(fits, middle, low), np.where(fits, high, middle)
    V = np.where(found, 0.5 * (low + high), np.nan)
    drawn = np.asarray(current(V), dtype=np.float64)
    return _point(path, Vs, np.where(found, drawn, np.nan), V)


def measured_resistance(source_voltage: ArrayLike, terminal_voltage: ArrayLike, current: ArrayLike) -> Array:
    """Resistance of a path from two voltages and a current read while the load runs, (V_s - V)/I [ohm].

    source_voltage: [V] and terminal_voltage: [V] at the same moment. current: [A], above 0. Error: that of
    the voltage difference, so read each drop by itself (positive to positive, negative to negative).
    """
    difference = np.asarray(source_voltage, dtype=np.float64) - np.asarray(terminal_voltage)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(difference / np.asarray(current))


def permitted_resistance(source_voltage: ArrayLike, wanted_voltage: ArrayLike, current: ArrayLike) -> Array:
    """Most resistance of a path that leaves a load its voltage, (V_s - V_wanted)/I(V_wanted) [ohm].

    source_voltage: [V]. wanted_voltage: [V]. current: at the wanted voltage [A]. Below zero: no wire does it,
    the source is too low.
    """
    return measured_resistance(source_voltage, wanted_voltage, current)
