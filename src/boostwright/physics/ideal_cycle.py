"""The ideal fuel-air cycle: what no real engine of the same compression ratio can beat.

Fresh gas is compressed without loss, burns to equilibrium at constant volume, and expands without loss in
shifting equilibrium. No heat loss, no residual gas, no gas exchange. Heywood 1988 sec. 5.5 (key heywood1988).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import NotConverged
from boostwright.physics import gas

__all__ = ["FuelAirCycle", "adiabatic_flame_temperature", "fuel_air_cycle"]

Array = NDArray[np.float64]

STEPS = 400  # of each isentrope in ln v; RK4, error below 1e-6


class FuelAirCycle(NamedTuple):
    """States 1 start, 2 compressed, 3 burned, 4 expanded; work and its measures."""

    T: tuple[float, float, float, float]  # [K]
    p: tuple[float, float, float, float]  # [Pa]
    work: float  # per kg of fresh mixture [J/kg]
    efficiency: float  # work over the heating value of the fuel as vapour [-]
    imep: float  # work over swept volume [Pa]


def adiabatic_flame_temperature(
    mix: gas.Mixture, T_fresh: float, p: float, *, constant_volume: bool = False
) -> float:
    """Temperature [K] of equilibrium burned gas made from fresh mixture at ``T_fresh`` [K] without heat loss.

    p: pressure of the fresh mixture [Pa]; kept, or with ``constant_volume`` the volume is kept.
    """
    return _burn(mix, T_fresh, p, constant_volume=constant_volume)[0]


def _burn(mix: gas.Mixture, T_u: float, p: float, *, constant_volume: bool) -> tuple[float, float]:
    """Burned temperature and pressure; Newton on h (constant p) or on u and v (constant v)."""
    v = mix.R_f * T_u / p
    h_u = float(gas.h_fresh(mix, T_u))
    T, p_b = 2600.0, p
    for _ in range(60):
        if constant_volume:
            for _ in range(40):  # p v = R(T, p) T at this T
                s = gas.equilibrium(mix, T, p_b)
                new = float(s.R) * T / v
                done = abs(new / p_b - 1) < 1e-13
                p_b = new
                if done:
                    break
            s = gas.equilibrium(mix, T, p_b)
            p_T = float((s.R + T * s.R_T) / (v - T * s.R_p))
            residual = float(s.h) - p_b * v - (h_u - p * v)
            slope = float(s.h_T + s.h_p * p_T) - p_T * v
        else:
            s = gas.equilibrium(mix, T, p)
            residual, slope = float(s.h) - h_u, float(s.h_T)
        step = residual / slope
        T -= step
        if abs(step) < 1e-8:
            return T, p_b
    raise NotConverged(
        f"burned temperature from {T_u:.1f} K, {p:.4g} Pa did not settle; last step {step:.3g} K"
    )


def _compress(mix: gas.Mixture, T: float, ratio: float) -> float:
    """Temperature after isentropic compression of the fresh gas by the volume ``ratio``."""
    x = math.log(ratio) / STEPS

    def slope(T: float) -> float:  # dT/dln(1/v) = R T/cv
        return T * mix.R_f / (float(gas.cp_fresh(mix, T)) - mix.R_f)

    for _ in range(STEPS):
        a = slope(T)
        b = slope(T + x / 2 * a)
        c = slope(T + x / 2 * b)
        T += x / 6 * (a + 2 * b + 2 * c + slope(T + x * c))
    return T


def _expand(mix: gas.Mixture, T: float, p: float, ratio: float) -> tuple[float, float]:
    """State after isentropic expansion in shifting equilibrium: dh = v dp, p v = R T."""
    x = math.log(ratio) / STEPS

    def slope(state: Array) -> Array:
        T, p = state
        s = gas.equilibrium(mix, T, p)
        v = float(s.R) * T / p
        # h_T dT + (h_p - v) dp = 0;  (R + T R_T) dT + (T R_p - v) dp = p dv, dv = v dln v
        A = np.array([[s.h_T, s.h_p - v], [s.R + T * s.R_T, T * s.R_p - v]], dtype=np.float64)
        return np.asarray(np.linalg.solve(A, np.array([0.0, p * v])))

    y = np.array([T, p])
    for _ in range(STEPS):
        a = slope(y)
        b = slope(y + x / 2 * a)
        c = slope(y + x / 2 * b)
        y = y + x / 6 * (a + 2 * b + 2 * c + slope(y + x * c))
    return float(y[0]), float(y[1])


def fuel_air_cycle(mix: gas.Mixture, compression_ratio: float, T1: float, p1: float) -> FuelAirCycle:
    """The ideal cycle of a mixture from ``T1`` [K], ``p1`` [Pa] at ``compression_ratio`` [-].

    Fuel enters as vapour. Raises NotConverged if the burned state does not settle.
    """
    v1 = mix.R_f * T1 / p1
    v2 = v1 / compression_ratio
    T2 = _compress(mix, T1, compression_ratio)
    p2 = mix.R_f * T2 / v2
    T3, p3 = _burn(mix, T2, p2, constant_volume=True)
    T4, p4 = _expand(mix, T3, p3, compression_ratio)
    u1 = float(gas.h_fresh(mix, T1)) - p1 * v1
    u4 = float(gas.h_equilibrium(mix, T4, p4)) - p4 * v1
    work = u1 - u4
    heat = mix.fuel_fraction * (mix.lhv + mix.h_vap)
    return FuelAirCycle((T1, T2, T3, T4), (p1, p2, p3, p4), work, work / heat, work / (v1 - v2))
