"""The throttle shuts at full boost: the compressor's air must find a way out before the flow breaks down.

For a moment the shaft keeps its speed and the engine takes next to nothing. Not to surge, the compressor must
pass the flow of its surge line at that speed; what can pass is what the blow-off valve swallows at the
pressure that the compressor makes there.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.atmosphere import R_DRY_AIR
from boostwright.physics.compressor import (
    GAMMA_AIR,
    R_AIR,
    CompressorMap,
    outlet_temperature,
    pressure_ratio_of_head,
)
from boostwright.physics.nozzle import nozzle_flow

__all__ = ["LiftOff", "lift_off", "time_to_surge", "valve_area"]

Array = NDArray[np.float64]

VALVE_COEFFICIENT: Final = 0.65  # of a disc valve, on the lesser of seat and curtain [-]; common practice
VALVE_SPREAD: Final = 0.15  # of it, relative [-]; judgement
_EFFICIENCY: Final = 0.6  # of the compressor at its surge line, for the air's temperature only [-]; judgement


class LiftOff(NamedTuple):
    """The compressor at its surge line, shaft speed as it was; every array has the arguments' shape."""

    surge_flow: Array  # least flow without surge [kg/s]
    surge_pressure: Array  # that the compressor makes there [Pa absolute]
    valve_flow: Array  # that the valve passes at that pressure [kg/s]


def valve_area(diameter: ArrayLike, lift: ArrayLike) -> Array:
    """Effective area of a blow-off valve, C min(pi/4 d^2, pi d h) [m2].

    diameter: d of the seat [m]. lift: h of the disc, fully open [m]. Broadcast. C is `VALVE_COEFFICIENT`.
    """
    d, h = np.asarray(diameter, dtype=np.float64), np.asarray(lift, dtype=np.float64)
    return np.asarray(VALVE_COEFFICIENT * np.minimum(np.pi / 4 * d**2, np.pi * d * h))


def lift_off(
    compressor: CompressorMap,
    area: ArrayLike,
    air_flow: ArrayLike,
    flow_over_surge: ArrayLike,
    tip_speed: ArrayLike,
    inlet_pressure: ArrayLike,
    inlet_temperature: ArrayLike,
    outside: ArrayLike,
) -> LiftOff:
    """Least flow without surge at the shaft speed of each point, and what the valve passes there.

    m_s = m/(m/m_s); p_s = p_1 PR(psi(phi_s, M), M); valve: nozzle law on its effective area from p_s to
    outside.

    compressor: map. area: effective, of the valve [m2]. air_flow: of the point [kg/s]. flow_over_surge: of
    the point [-]. tip_speed: of the compressor wheel [m/s]. inlet_pressure, inlet_temperature: before the
    compressor [Pa], [K]. outside: where the valve lets go [Pa]. Arrays broadcast; NaN stays NaN. The engine's
    own air at shut throttle, a few grams a second, is left out: with it a little less must pass the valve.
    """
    m, ratio, tip, p1, T1, p0 = np.broadcast_arrays(
        *(
            np.asarray(a, dtype=np.float64)
            for a in (air_flow, flow_over_surge, tip_speed, inlet_pressure, inlet_temperature, outside)
        )
    )
    low, high = compressor.mach_range
    mach = np.clip(tip / np.sqrt(GAMMA_AIR * R_AIR * T1), low, high)
    surge_flow = m / ratio
    good = np.isfinite(surge_flow) & np.isfinite(mach)
    at = compressor(np.full(mach.shape, 0.05), np.where(good, mach, low))
    head = compressor.head(at.phi_surge, np.where(good, mach, low))
    pressure_ratio = pressure_ratio_of_head(head, np.where(good, mach, low))
    pressure = np.where(good, p1 * pressure_ratio, np.nan)
    T2 = outlet_temperature(T1, np.maximum(pressure_ratio, 1.0), _EFFICIENCY)
    passed = nozzle_flow(area, np.where(good, np.maximum(pressure, p0), p0), T2, p0, R_DRY_AIR, GAMMA_AIR)
    return LiftOff(surge_flow, pressure, np.where(good, passed, np.nan))


def time_to_surge(
    volume: ArrayLike, flow: ArrayLike, pressure: ArrayLike, surge_pressure: ArrayLike, T: ArrayLike
) -> Array:
    """Time in which a shut throttle and a shut valve bring the pipes to the surge line, V (p_s - p)/(m R T)
    [s].

    volume: of the pipes before the throttle [m3]. flow: that the compressor still delivers [kg/s]. pressure,
    surge_pressure: in the pipes and at the surge line [Pa]. T: of the charge [K]. Broadcast; 0 where the line
    is passed already. The flow falls on the way, so it takes somewhat longer.
    """
    rise = np.maximum(np.asarray(surge_pressure) - np.asarray(pressure), 0.0)
    return np.asarray(np.asarray(volume) * rise / (np.asarray(flow) * R_DRY_AIR * np.asarray(T)))
