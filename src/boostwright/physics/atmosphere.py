"""Outside air: standard atmosphere, humid air, transport properties of dry air."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "GRAVITY",
    "HUMIDITY_MOLAR_RATIO",
    "R_DRY_AIR",
    "R_WATER_VAPOUR",
    "StandardAir",
    "air_conductivity",
    "air_viscosity",
    "dry_pressure",
    "humid_air_density",
    "humidity_ratio",
    "saturation_pressure",
    "standard_atmosphere",
    "vapour_pressure",
]

Array = NDArray[np.float64]

GRAVITY: Final = 9.80665  # standard [m/s2]
R_DRY_AIR: Final = 287.05  # [J/kg/K]
R_WATER_VAPOUR: Final = 461.52  # [J/kg/K]
HUMIDITY_MOLAR_RATIO: Final = R_DRY_AIR / R_WATER_VAPOUR  # 0.62197 [-]


class StandardAir(NamedTuple):
    """Air of the standard atmosphere."""

    pressure: Array  # [Pa]
    temperature: Array  # [K]
    density: Array  # [kg/m3]


def standard_atmosphere(altitude: ArrayLike) -> StandardAir:
    """Pressure, temperature and density at geometric ``altitude`` [m], by ISO 2533 as coded in the fluids
    library.

    Below 20 km it is the U.S. Standard Atmosphere 1976. Keys iso2533, usstd1976. This is the standard day:
    the barometer of a real one is up to 3 % off. A weather service's 'sea level' pressure is not the pressure
    at the place.
    """
    from fluids.atmosphere import ATMOSPHERE_1976  # lazily: half a second to import

    z = np.asarray(altitude, dtype=np.float64)
    states = [ATMOSPHERE_1976(float(h)) for h in z.ravel()]

    def column(name: str) -> Array:
        return np.array([getattr(s, name) for s in states], dtype=np.float64).reshape(z.shape)

    return StandardAir(column("P"), column("T"), column("rho"))


# Saturation line of water, Wagner & Pruss 2002 eq. 2.5 (IAPWS SR1-86); of ice, IAPWS R14-08(2011). From
# memory, tested against two libraries.
_T_CRITICAL, _P_CRITICAL = 647.096, 22.064e6
_WATER: Final = (
    (-7.85951783, 1.0),
    (1.84408259, 1.5),
    (-11.7866497, 3.0),
    (22.6807411, 3.5),
    (-15.9618719, 4.0),
    (1.80122502, 7.5),
)
_T_TRIPLE, _P_TRIPLE = 273.16, 611.657
_ICE: Final = ((-21.2144006, 0.00333333333), (27.3203819, 1.20666667), (-6.10598130, 1.70333333))


def saturation_pressure(T: ArrayLike) -> Array:
    """Saturation pressure of water vapour [Pa] over water, below the triple point over ice.

    T: 200..640 [K]. Key wagner2002; within 0.1 % of the full formulation.
    """
    t = np.asarray(T, dtype=np.float64)
    tau = np.maximum(1 - t / _T_CRITICAL, 0.0)
    water = _P_CRITICAL * np.exp(_T_CRITICAL / t * sum(a * tau**b for a, b in _WATER))
    theta = t / _T_TRIPLE
    ice = _P_TRIPLE * np.exp(sum(a * theta**b for a, b in _ICE) / theta)
    return np.asarray(np.where(t < _T_TRIPLE, ice, water))


def vapour_pressure(T: ArrayLike, relative_humidity: ArrayLike) -> Array:
    """Partial pressure of water vapour [Pa]; ``relative_humidity`` 0..1 [-], not percent. Ideal mixing (0.4 %
    low).
    """
    return np.asarray(np.asarray(relative_humidity) * saturation_pressure(T))


def dry_pressure(p: ArrayLike, T: ArrayLike, relative_humidity: ArrayLike) -> Array:
    """Partial pressure of the dry air [Pa]: what power corrections are set against."""
    return np.asarray(np.asarray(p) - vapour_pressure(T, relative_humidity))


def humidity_ratio(p: ArrayLike, T: ArrayLike, relative_humidity: ArrayLike) -> Array:
    """Water vapour per dry air by mass, 0.622 p_v/(p - p_v) [-]."""
    pv = vapour_pressure(T, relative_humidity)
    return np.asarray(HUMIDITY_MOLAR_RATIO * pv / (np.asarray(p) - pv))


def humid_air_density(p: ArrayLike, T: ArrayLike, relative_humidity: ArrayLike = 0.0) -> Array:
    """Density of humid air p_d/(R_d T) + p_v/(R_v T) [kg/m3]; ``p`` [Pa], ``T`` [K], ``relative_humidity``
    0..1 [-].
    """
    pv = vapour_pressure(T, relative_humidity)
    return np.asarray(((np.asarray(p) - pv) / R_DRY_AIR + pv / R_WATER_VAPOUR) / np.asarray(T))


def air_viscosity(T: ArrayLike) -> Array:
    """Dynamic viscosity of air by Sutherland's law, 1.458e-6 T^1.5/(T + 110.4) [Pa s]; ``T`` [K].

    Key usstd1976. Against lemmon2000: -0.4 % at 300 K, -1.4 % at 500 K, -4.1 % at 1000 K.
    """
    t = np.asarray(T, dtype=np.float64)
    return np.asarray(1.458e-6 * t**1.5 / (t + 110.4))


def air_conductivity(T: ArrayLike) -> Array:
    """Thermal conductivity of air, 2.64638e-3 T^1.5/(T + 245.4 10^(-12/T)) [W/m/K]; ``T`` [K] (usstd1976,
    memory).
    """
    t = np.asarray(T, dtype=np.float64)
    return np.asarray(2.64638e-3 * t**1.5 / (t + 245.4 * 10 ** (-12 / t)))
