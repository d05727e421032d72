"""Fuel lines, filter, regulator and return: what pressure they take, and the rail's pressure difference."""

from __future__ import annotations

from enum import Enum
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "Reference",
    "fuel_viscosity",
    "line_loss",
    "orifice_loss",
    "rail_difference",
    "scaled_loss",
]

Array = NDArray[np.float64]

PETROL_VISCOSITY: Final = 0.50e-3  # at 20 degC; iso-octane 0.506 (handbook, from memory) [Pa s]
ETHANOL_VISCOSITY: Final = 1.19e-3  # at 20 degC (handbook, from memory) [Pa s]
SMOOTH: Final = 1.5e-6  # roughness of drawn tube and lined hose (handbook, from memory) [m]


class Reference(Enum):
    """What the regulator's diaphragm feels on its dry side, and where it stands."""

    MANIFOLD = "manifold"  # at the rail's end, dry side on the plenum; surplus returns to the tank
    ATMOSPHERE = "atmosphere"  # at the rail's end, dry side on the outside air
    TANK = "tank"  # in the tank, on the outside air; no return line, the feed line carries the need only


def fuel_viscosity(ethanol_share: ArrayLike) -> Array:
    """Dynamic viscosity of a blend near 20 degC [Pa s], by the logarithms of its parts.

    ethanol_share: by volume [-]. Expected error 15 %; the loss of a line feels it with its power 0.2.
    """
    v = np.asarray(ethanol_share, dtype=np.float64)
    return np.asarray(np.exp(v * np.log(ETHANOL_VISCOSITY) + (1 - v) * np.log(PETROL_VISCOSITY)))


def line_loss(
    flow: ArrayLike,
    bore: ArrayLike,
    length: ArrayLike,
    density: ArrayLike,
    viscosity: ArrayLike = PETROL_VISCOSITY,
    roughness: float = SMOOTH,
) -> Array:
    """Pressure that a line takes [Pa], Darcy: f L/D rho v^2/2.

    flow: [m3/s], of either sign. bore, length: [m]. density: [kg/m3]. viscosity: [Pa s]. roughness: [m]. All
    broadcast. f by the Colebrook equation or 64/Re, as solved in the fluids library (clamond2009). Straight
    line; a fitting adds 0.1 to 0.5 m.
    """
    from fluids.friction import friction_factor

    q, D, L, rho, mu = np.broadcast_arrays(
        *(np.asarray(a, dtype=np.float64) for a in (flow, bore, length, density, viscosity))
    )
    v = np.abs(q) / (0.25 * np.pi * D**2)
    Re = rho * v * D / mu
    relative = roughness / D
    f = np.array(
        [
            friction_factor(Re=float(r), eD=float(e)) if r > 0 else 0.0
            for r, e in zip(Re.ravel(), relative.ravel(), strict=True)
        ]
    ).reshape(Re.shape)
    return np.asarray(np.sign(q) * f * L / D * 0.5 * rho * v**2)


def orifice_loss(flow: ArrayLike, area: ArrayLike, density: ArrayLike) -> Array:
    """Pressure across an opening of effective area C_d A [m2], rho/2 (q/(C_d A))^2 [Pa]; flow [m3/s]."""
    q = np.asarray(flow, dtype=np.float64)
    return np.asarray(0.5 * np.asarray(density) * q * np.abs(q) / np.asarray(area) ** 2)


def scaled_loss(
    flow: ArrayLike, known_loss: ArrayLike, known_flow: ArrayLike, exponent: float = 1.3
) -> Array:
    """Loss of a filter [Pa] from one known point, dp_known (q/q_known)^n.

    Flow through the paper goes with n = 1, through its fittings with 2; 1.3 is our own mixture. known_loss
    [Pa] at known_flow [m3/s].
    """
    over = np.maximum(np.asarray(flow, dtype=np.float64), 0.0) / np.asarray(known_flow)
    return np.asarray(np.asarray(known_loss) * over**exponent)


def rail_difference(
    reference: Reference,
    set_pressure: ArrayLike,
    plenum_pressure: ArrayLike,
    ambient_pressure: ArrayLike,
    droop: ArrayLike = 0.0,
    feed_loss: ArrayLike = 0.0,
) -> Array:
    """Pressure across an injector [Pa], rail less plenum, both absolute.

    manifold: dp = p_set (1 - droop); else dp = p_set (1 - droop) + p_amb - p_plenum, less the feed line's
    loss when the regulator stands in the tank.

    set_pressure: over the dry side, at little flow [Pa]. plenum_pressure, ambient_pressure: [Pa absolute].
    droop: share of the set pressure lost at this flow [-]. feed_loss: of line and filter between tank and
    rail [Pa]. Not below zero.
    """
    held = np.asarray(set_pressure, dtype=np.float64) * (1.0 - np.asarray(droop))
    if reference is not Reference.MANIFOLD:
        held = held + np.asarray(ambient_pressure) - np.asarray(plenum_pressure)
    if reference is Reference.TANK:
        held = held - np.asarray(feed_loss)
    shape = np.broadcast_shapes(
        *(np.shape(a) for a in (set_pressure, plenum_pressure, ambient_pressure, droop, feed_loss))
    )
    return np.array(np.broadcast_to(np.maximum(held, 0.0), shape))
