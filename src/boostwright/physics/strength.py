"""Loads and temperatures of the parts that boost can break: rod force, mean piston speed, piston, exhaust
valve.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.slider_crank import piston_acceleration

__all__ = [
    "RodForce",
    "exhaust_valve_head_temperature",
    "gas_force",
    "peak_pressure_limit_case",
    "piston_centre_temperature",
    "reciprocating_mass",
    "ring_closing",
    "ring_temperature",
    "rod_force",
]

Array = NDArray[np.float64]

CELSIUS_ZERO: Final = 273.15


def reciprocating_mass(bore: ArrayLike) -> Array:
    """Piston, pin, rings and the rod's small end [kg] usual for a bore [m]: 0.55 kg at 86 mm, with B^2.7 (our
    own).
    """
    return np.asarray(0.55 * (np.asarray(bore, dtype=np.float64) / 0.086) ** 2.7)


def gas_force(p: ArrayLike, bore: ArrayLike, crankcase_pressure: ArrayLike = 101325.0) -> Array:
    """Force of the gas on the piston (p - p_cc) pi/4 B^2 [N], positive pushes it away from the head."""
    return np.asarray((np.asarray(p) - crankcase_pressure) * np.pi / 4 * np.square(bore), dtype=np.float64)


class RodForce(NamedTuple):
    """Forces along the cylinder axis on the rod [N]; compression positive, tension negative."""

    gas: Array
    inertia: Array  # that the piston's inertia takes off the rod at TDC, positive there
    net: Array  # gas less inertia


def rod_force(
    p: ArrayLike,
    theta: ArrayLike,
    bore: ArrayLike,
    stroke: ArrayLike,
    rod: ArrayLike,
    omega: ArrayLike,
    mass: ArrayLike,
    crankcase_pressure: ArrayLike = 101325.0,
) -> RodForce:
    """Force that the small end passes to the rod, along the cylinder axis [N].

    F = (p - p_cc) pi/4 B^2 - m x''   with the exact acceleration of the slider-crank.

    p: cylinder pressure [Pa]. theta: crank angle [rad]. bore, stroke, rod: [m]. omega: [rad/s]. mass: [kg].
    The rod's tilt (up to 4 % on the rod's own axis) is left out.
    """
    gas = gas_force(p, bore, crankcase_pressure)
    inertia = np.asarray(np.asarray(mass) * piston_acceleration(theta, stroke, rod, omega))
    return RodForce(gas, inertia, np.asarray(gas - inertia))


def peak_pressure_limit_case(
    mean_peak: ArrayLike, coefficient_of_variation: ArrayLike = 0.08, knock_allowance: ArrayLike = 0.0
) -> Array:
    """Peak pressure [Pa] against which parts are judged: mean (1 + 2.5 COV) + knock allowance (20 bar where
    it knocks).

    coefficient_of_variation: of peak pressure from cycle to cycle, 0.06-0.10 [-]. knock_allowance: [Pa]. (Our
    own rule.)
    """
    return np.asarray(
        np.asarray(mean_peak) * (1 + 2.5 * np.asarray(coefficient_of_variation))
        + np.asarray(knock_allowance),
        dtype=np.float64,
    )


def piston_centre_temperature(mean_crown_temperature: ArrayLike) -> Array:
    """Temperature of the middle of the crown [K], 60 K above its mean (our own estimate, +-20 K)."""
    return np.asarray(np.asarray(mean_crown_temperature, dtype=np.float64) + 60.0)


def exhaust_valve_head_temperature(gas_temperature: ArrayLike, head_temperature: ArrayLike) -> Array:
    """Temperature of the exhaust valve's head [K], 0.62 gas + 0.38 cylinder head (our own, +-40 K)."""
    return np.asarray(
        0.62 * np.asarray(gas_temperature, dtype=np.float64) + 0.38 * np.asarray(head_temperature)
    )


def ring_temperature(crown: ArrayLike, liner: ArrayLike, share: ArrayLike = 0.6) -> Array:
    """Temperature of the top ring, liner + share (crown - liner) [K].

    crown, liner: mean wall temperatures of the cycle [K]. share: [-]; our own estimate, +-0.15.
    """
    T_l = np.asarray(liner, dtype=np.float64)
    return np.asarray(T_l + np.asarray(share) * (np.asarray(crown) - T_l))


def ring_closing(
    bore: ArrayLike,
    ring: ArrayLike,
    liner: ArrayLike,
    cold: ArrayLike = 293.15,
    ring_expansion: ArrayLike = 11.5e-6,
    bore_expansion: ArrayLike = 11.0e-6,
) -> Array:
    """How far the end gap of a ring closes from cold, pi B (a_r (T_r - T_0) - a_b (T_l - T_0)) [m].

    bore: B [m]. ring, liner, cold: temperatures [K]. ring_expansion, bore_expansion: of cast iron or steel
    rings in cast iron [1/K]; common practice. Exact for free growth of both.
    """
    T_r, T_l, T_0 = (np.asarray(T, dtype=np.float64) for T in (ring, liner, cold))
    grows, opens = np.asarray(ring_expansion) * (T_r - T_0), np.asarray(bore_expansion) * (T_l - T_0)
    return np.asarray(np.pi * np.asarray(bore) * (grows - opens))
