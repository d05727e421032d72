"""The spring of an oil relief valve, and what a shim under it does."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["STEEL_SHEAR", "Shimmed", "shimmed", "solid_length", "spring_rate"]

Array = NDArray[np.float64]

STEEL_SHEAR: Final = 79.3e9  # shear modulus of spring steel [Pa] (shigley2015, from memory)


def spring_rate(
    wire: ArrayLike, mean_diameter: ArrayLike, turns: ArrayLike, shear: ArrayLike = STEEL_SHEAR
) -> Array:
    """Rate of a cylindrical spring, G d^4/(8 D^3 n) [N/m].

    wire: d [m]. mean_diameter: D, outside diameter less the wire [m]. turns: n, the active ones: all less
    two where the ends are closed [-]. shear: [Pa]. Error: 5 to 10 %, of the wire's tolerance and the count of
    active turns. Source: shigley2015, from memory.
    """
    d, D = np.asarray(wire, dtype=np.float64), np.asarray(mean_diameter, dtype=np.float64)
    return np.asarray(np.asarray(shear) * d**4 / (8.0 * D**3 * np.asarray(turns)))


def solid_length(wire: ArrayLike, turns: ArrayLike, closed_ends: ArrayLike = 2.0) -> Array:
    """Length of a spring whose turns touch, d (n + closed ends) [m]; wire: d [m]; turns: the active ones."""
    return np.asarray(np.asarray(wire, dtype=np.float64) * (np.asarray(turns) + np.asarray(closed_ends)))


class Shimmed(NamedTuple):
    """What a relief valve does with a shim."""

    cracking: Array  # where it begins to open [Pa]
    per_length: Array  # more of it for each metre of shim [Pa/m]
    travel_left: Array  # from shut until the turns touch [m]; below zero: it cannot even be fitted
    wide_open: Array  # pressure with the port uncovered [Pa]; inf where the turns touch before


def shimmed(
    rate: ArrayLike,
    free_length: ArrayLike,
    fitted_length: ArrayLike,
    solid: ArrayLike,
    plunger: ArrayLike,
    opening: ArrayLike,
    shim: ArrayLike = 0.0,
) -> Shimmed:
    """A relief valve with a shim under its spring: p = k (L_free - L_fitted + s + x)/A.

    rate: k [N/m]. free_length, fitted_length, solid: of the spring by itself, in the shut valve without a
    shim, and with touching turns [m]. plunger: diameter of the plunger [m]. opening: x, travel that uncovers
    the port in full [m]. shim: s [m]. All broadcast. Static: a cold start adds what the oil's own
    resistance in port and passages takes.
    """
    k, s = np.asarray(rate, dtype=np.float64), np.asarray(shim, dtype=np.float64)
    area = 0.25 * np.pi * np.square(np.asarray(plunger, dtype=np.float64))
    pressed = np.asarray(free_length) - np.asarray(fitted_length) + s
    left = np.asarray(fitted_length) - s - np.asarray(solid)
    wide = k * (pressed + np.asarray(opening)) / area
    return Shimmed(
        np.asarray(k * pressed / area),
        np.asarray(k / area),
        np.asarray(left),
        np.where(left >= np.asarray(opening), wide, np.inf),
    )
