"""Pressure that blow-by builds up in a crankcase, and what a catch can keeps back."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.atmosphere import GRAVITY
from boostwright.physics.pipes import darcy_friction, velocity_head

__all__ = ["breather_loss", "settling_speed"]

Array = NDArray[np.float64]


def breather_loss(
    m_dot: float, bore: float, length: float, density: float, viscosity: float, heads: float = 1.5
) -> float:
    """Pressure loss of a breather hose, (f L/D + K) velocity heads [Pa].

    m_dot: blow-by through this hose [kg/s]. bore, length: [m]. density: [kg/m3]. viscosity: dynamic [Pa s].
    heads: K of entrance, exit, bends and whatever else is in the way; 1.5 for a plain hose [-]. Validity:
    losses small against the pressure. Error: 5 % of a smooth hose, more of a bent one.
    """
    if m_dot <= 0.0:
        return 0.0
    reynolds = 4.0 * m_dot / (np.pi * bore * viscosity)
    lost = darcy_friction(float(reynolds)) * length / bore + heads
    return float(lost * velocity_head(m_dot, bore, density))


def settling_speed(
    diameter: ArrayLike, drop_density: ArrayLike, gas_density: ArrayLike, viscosity: ArrayLike
) -> Array:
    """Speed at which a drop of oil falls through still gas [m/s].

    Balance of weight and drag, C_d = 24/Re (1 + 0.15 Re^0.687), by steps from Stokes' law.

    diameter: of the drop [m]. drop_density, gas_density: [kg/m3]. viscosity: of the gas [Pa s]. All
    broadcast. Validity: Re below 800, drops above 1 um. Error: 4 %. Source: schiller1933, from memory.
    """
    d, mu = np.asarray(diameter, dtype=np.float64), np.asarray(viscosity, dtype=np.float64)
    rho = np.asarray(gas_density, dtype=np.float64)
    stokes = (np.asarray(drop_density) - rho) * GRAVITY * d**2 / (18.0 * mu)
    speed = stokes
    for _ in range(60):
        speed = 0.5 * (speed + stokes / (1.0 + 0.15 * (rho * speed * d / mu) ** 0.687))
    return np.asarray(speed)
