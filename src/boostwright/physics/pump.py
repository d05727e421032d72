"""Electric fuel pumps: flow by pressure and by the voltage at the terminals, relief valve, power."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "MOST_EFFICIENCY",
    "STALL_PRESSURE",
    "VOLTAGE_EXPONENT",
    "PumpCurve",
    "curve_through",
    "hydraulic_power",
    "pump_current",
    "pump_flow",
    "pump_pressure",
]

Array = NDArray[np.float64]

STALL_PRESSURE: Final = 12.5e5
"""Pressure at which leakage and slip take the whole flow of a pump of this kind, at its rated voltage [Pa].

Loses 8 % of free flow for each bar (common practice, no source); +-4 bar.
"""
VOLTAGE_EXPONENT: Final = 1.5
"""Power of the voltage with which that pressure falls [-]: 1 of a tight displacement pump on a direct-current
motor, 2 of the affinity laws; our middle, +-0.5.
"""
RELIEF_OVERRIDE: Final = 0.15  # over its opening pressure at which a relief valve passes all [-] (judgement)
MOST_EFFICIENCY: Final = 0.60  # hydraulic over electric; a figure above is a mistake (common practice) [-]
USUAL_EFFICIENCY: Final = 0.30  # (common practice, no source) [-]


class PumpCurve(NamedTuple):
    """A pump at its rated voltage. Pressures over that at its inlet."""

    free_flow: ArrayLike  # at no pressure [m3/s]
    rated_voltage: ArrayLike  # [V]
    stall_pressure: ArrayLike = STALL_PRESSURE  # at which it gives nothing [Pa]
    relief_pressure: ArrayLike = np.inf  # at which its relief valve opens [Pa]
    voltage_exponent: ArrayLike = VOLTAGE_EXPONENT  # [-]


def curve_through(
    flow: ArrayLike,
    pressure: ArrayLike,
    voltage: ArrayLike,
    stall_pressure: ArrayLike = STALL_PRESSURE,
    relief_pressure: ArrayLike = np.inf,
    voltage_exponent: ArrayLike = VOLTAGE_EXPONENT,
) -> PumpCurve:
    """The curve of usual slope through one known point: flow [m3/s] at pressure [Pa] and voltage [V].

    A figure without pressure is free flow: pressure 0. The known point must lie below the stall pressure.
    """
    share = np.maximum(1.0 - np.asarray(pressure, dtype=np.float64) / np.asarray(stall_pressure), 1.0e-3)
    free = np.asarray(flow) / share
    return PumpCurve(free, voltage, stall_pressure, relief_pressure, voltage_exponent)


def pump_flow(curve: PumpCurve, pressure: ArrayLike, voltage: ArrayLike) -> Array:
    """Flow [m3/s] at a pressure over the inlet [Pa] and a voltage at the terminals [V].

    Q = Q_0 x (1 - p/(p_s x^m)), x = V/V_rated, times what the relief valve leaves; never below zero.

    A direct-current motor turns with its voltage, less what torque costs; leakage grows with pressure: both
    take flow in proportion to pressure. m between 1 (tight displacement pump) and 2 (affinity). Falls with
    pressure, rises with voltage. Expected error 8 % between 2 and 6 bar and 11 and 14.5 V, from one known
    point.
    """
    p = np.maximum(np.asarray(pressure, dtype=np.float64), 0.0)
    x = np.maximum(np.asarray(voltage, dtype=np.float64), 0.0) / np.asarray(curve.rated_voltage)
    m = np.asarray(curve.voltage_exponent)
    with np.errstate(divide="ignore", invalid="ignore"):
        slip = np.where(x > 0.0, p / (np.asarray(curve.stall_pressure) * x**m), np.inf)
    flow = np.asarray(curve.free_flow) * x * np.maximum(1.0 - slip, 0.0)
    relief = np.asarray(curve.relief_pressure, dtype=np.float64)
    with np.errstate(invalid="ignore"):
        spilt = np.where(np.isfinite(relief), (p - relief) / (RELIEF_OVERRIDE * relief), 0.0)
    left = 1.0 - np.clip(spilt, 0.0, 1.0)
    return np.asarray(np.nan_to_num(flow, nan=0.0) * left, dtype=np.float64)


def pump_pressure(curve: PumpCurve, flow: ArrayLike, voltage: ArrayLike) -> Array:
    """Pressure over the inlet [Pa] at which the pump gives ``flow`` [m3/s]; zero where it cannot even there.

    The inverse of `pump_flow`; above the relief valve's opening the valve's own pressure.
    """
    x = np.maximum(np.asarray(voltage, dtype=np.float64), 1.0e-9) / np.asarray(curve.rated_voltage)
    most = np.asarray(curve.stall_pressure) * x ** np.asarray(curve.voltage_exponent)
    share = np.asarray(flow, dtype=np.float64) / (np.asarray(curve.free_flow) * x)
    bare = np.maximum(most * (1.0 - share), 0.0)
    relief = np.asarray(curve.relief_pressure, dtype=np.float64)
    if not np.any(np.isfinite(relief)):
        return np.asarray(bare)
    # on the relief ramp: Q_0 x (1 - p/most) (1 - (p - relief)/(o relief)) = flow, the smaller root
    o = RELIEF_OVERRIDE * relief
    b, c = -(most + relief + o), most * (relief + o) - share * most * o
    with np.errstate(invalid="ignore"):
        ramp = 0.5 * (-b - np.sqrt(np.maximum(b * b - 4.0 * c, 0.0)))
    return np.asarray(np.where(bare > relief, np.maximum(ramp, relief), bare))


def hydraulic_power(flow: ArrayLike, pressure: ArrayLike) -> Array:
    """Power that the pump puts into the fuel, p Q [W]; flow [m3/s], pressure [Pa]."""
    return np.asarray(np.asarray(flow, dtype=np.float64) * np.asarray(pressure))


def pump_current(
    flow: ArrayLike, pressure: ArrayLike, voltage: ArrayLike, efficiency: ArrayLike = USUAL_EFFICIENCY
) -> Array:
    """Current that a pump draws [A], p Q/(eta V).

    flow [m3/s], pressure [Pa], voltage at the terminals [V], efficiency: hydraulic over electric [-]. An
    energy bound: a stated point that needs more than `MOST_EFFICIENCY` is a mistake.
    """
    return np.asarray(hydraulic_power(flow, pressure) / (np.asarray(efficiency) * np.asarray(voltage)))
