"""Heat transfer coefficients between a round part and the air around or in it."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.atmosphere import GRAVITY, R_DRY_AIR, air_conductivity, air_viscosity

__all__ = [
    "PRANDTL_AIR",
    "cross_flow_coefficient",
    "cross_flow_nusselt",
    "free_convection_coefficient",
    "free_convection_nusselt",
    "pipe_nusselt",
]

Array = NDArray[np.float64]

PRANDTL_AIR: Final = 0.70  # of air, 300 to 900 K, within 0.02 [-]


def _floats(value: ArrayLike) -> Array:
    return np.asarray(value, dtype=np.float64)


def free_convection_nusselt(rayleigh: ArrayLike, prandtl: ArrayLike = PRANDTL_AIR) -> Array:
    """Mean Nusselt number of a level cylinder in still fluid [-].

    Nu = (0.60 + 0.387 Ra^(1/6)/(1 + (0.559/Pr)^(9/16))^(8/27))^2

    rayleigh: on the diameter [-]. prandtl: [-]. Broadcast. Validity: Ra 1e-5 to 1e12. Error: 10 to 15 %.
    Source: churchill1975, from memory.
    """
    shape = (1 + (0.559 / _floats(prandtl)) ** (9 / 16)) ** (8 / 27)
    return np.asarray((0.60 + 0.387 * _floats(rayleigh) ** (1 / 6) / shape) ** 2)


def free_convection_coefficient(
    diameter: ArrayLike, T_surface: ArrayLike, T_air: ArrayLike, p: ArrayLike = 101325.0
) -> Array:
    """Heat transfer coefficient of a level cylinder in still air, without radiation [W/(m2 K)].

    diameter: [m]. T_surface, T_air: [K]. p: [Pa]. All broadcast. Air at the mean of both temperatures; the
    rest as `free_convection_nusselt`.
    """
    d, Ts, Ta = _floats(diameter), _floats(T_surface), _floats(T_air)
    film = (Ts + Ta) / 2
    nu = air_viscosity(film) * R_DRY_AIR * film / _floats(p)
    rayleigh = GRAVITY * np.abs(Ts - Ta) / film * d**3 / nu**2 * PRANDTL_AIR
    return np.asarray(free_convection_nusselt(rayleigh) * air_conductivity(film) / d)


def cross_flow_nusselt(reynolds: ArrayLike, prandtl: ArrayLike = PRANDTL_AIR) -> Array:
    """Mean Nusselt number of a cylinder across a stream [-].

    Nu = 0.3 + 0.62 Re^(1/2) Pr^(1/3)/(1 + (0.4/Pr)^(2/3))^(1/4) (1 + (Re/282000)^(5/8))^(4/5)

    reynolds: on the diameter [-]. prandtl: [-]. Broadcast. Validity: Re Pr above 0.2. Error: 20 %. Source:
    churchill1977, from memory.
    """
    re, pr = _floats(reynolds), _floats(prandtl)
    laminar = 0.62 * np.sqrt(re) * np.cbrt(pr) / (1 + (0.4 / pr) ** (2 / 3)) ** 0.25
    return np.asarray(0.3 + laminar * (1 + (re / 282000) ** 0.625) ** 0.8)


def cross_flow_coefficient(
    speed: ArrayLike,
    diameter: ArrayLike,
    T_surface: ArrayLike,
    T_air: ArrayLike,
    p: ArrayLike = 101325.0,
) -> Array:
    """Heat transfer coefficient of a round part across an air stream [W/(m2 K)].

    speed: [m/s]. diameter: [m]. T_surface, T_air: [K]. p: [Pa]. All broadcast. Air at the mean of both
    temperatures; the rest as `cross_flow_nusselt`. Under a bonnet the speed is known to a factor of two at
    best: give a low one.
    """
    d, film = _floats(diameter), (_floats(T_surface) + _floats(T_air)) / 2
    reynolds = _floats(speed) * d * _floats(p) / (R_DRY_AIR * film * air_viscosity(film))
    return np.asarray(cross_flow_nusselt(reynolds) * air_conductivity(film) / d)


def pipe_nusselt(reynolds: ArrayLike, prandtl: ArrayLike = PRANDTL_AIR) -> Array:
    """Nusselt number of turbulent flow in a smooth pipe [-].

    Nu = (f/8)(Re - 1000) Pr/(1 + 12.7 sqrt(f/8)(Pr^(2/3) - 1)), f = (0.790 ln Re - 1.64)^-2

    reynolds, prandtl: [-]. Broadcast. Validity: Re 3000 to 5e6, Pr 0.5 to 2000, away from the inlet. Error:
    10 %. Source: gnielinski1976, from memory.
    """
    re, pr = _floats(reynolds), _floats(prandtl)
    f8 = (0.790 * np.log(re) - 1.64) ** -2 / 8
    return np.asarray(f8 * (re - 1000) * pr / (1 + 12.7 * np.sqrt(f8) * (np.cbrt(pr) ** 2 - 1)))
