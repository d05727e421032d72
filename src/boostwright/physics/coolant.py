"""Engine coolant: water and ethylene glycol, boiling under the cap, heat balance, time to a limit."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange
from boostwright.physics.atmosphere import saturation_pressure
from boostwright.physics.roots import bracketed_root

__all__ = [
    "HEAT_BALANCE_BANDS",
    "HeatBalance",
    "boiling_point",
    "coolant_density",
    "coolant_heat_capacity",
    "coolant_temperature_after",
    "coolant_temperature_rise",
    "coolant_viscosity",
    "exhaust_heat_share",
    "freezing_point",
    "heat_into_coolant",
    "mass_fraction",
    "outside_bands",
    "rest_temperature",
    "temperature_slope",
    "time_to_temperature",
    "whole_of",
]

Array = NDArray[np.float64]

CELSIUS_ZERO: Final = 273.15
WATER_MASS, GLYCOL_MASS = 18.015, 62.068  # [g/mol]
GLYCOL_BOILS: Final = 470.5  # at one atmosphere [K], from memory
GLYCOL_SLOPE: Final = 6960.0  # heat of evaporation over R between 370 and 470 K [K], from memory
MOST_GLYCOL: Final = 0.6  # mass fraction to which the fits go [-]
COLDEST, HOTTEST = 263.15, 403.15  # [K]; fitted to 373 K, carried on to 403 K

# Own fits to the values of Melinder's polynomials: sum of c x^i u^j, u = (T - 323.15 K)/50 K; (i, j, c).
_DENSITY = (
    (0, 0, 987.933), (0, 1, -20.0773), (0, 2, -9.45101), (1, 0, 120.767), (1, 1, -28.0422), (1, 2, 10.1785),
    (2, 0, -5.71523), (2, 1, 8.73745),
)  # fmt: skip
_HEAT_CAPACITY = (
    (0, 0, 4176.33), (0, 1, 10.121), (0, 2, 25.0985), (1, 0, -879.046), (1, 1, 338.93), (1, 2, -119.224),
    (2, 0, -1440.83), (2, 1, 361.946), (3, 0, 659.313), (3, 1, -390.402),
)  # fmt: skip
_LOG_VISCOSITY = (
    (0, 0, -7.52752), (0, 1, -0.842217), (0, 2, 0.286622), (0, 3, -0.0643202), (1, 0, 2.12155),
    (1, 1, -0.405059), (1, 2, 0.108118), (1, 3, -0.188464), (2, 0, 0.304134), (2, 1, -0.0448866),
)  # fmt: skip


def _floats(value: ArrayLike) -> Array:
    return np.asarray(value, dtype=np.float64)


def _checked_glycol(glycol: ArrayLike) -> Array:
    x = _floats(glycol)
    if np.any((x < 0) | (x > MOST_GLYCOL)):
        raise OutOfRange(
            f"The glycol's mass fraction is {glycol!r}; the fits go from 0 to {MOST_GLYCOL} (0.5, not 50). "
            "More glycol than that freezes earlier and carries less heat."
        )
    return x


def _fit(terms: tuple[tuple[int, int, float], ...], T: ArrayLike, glycol: ArrayLike) -> Array:
    x, t = _checked_glycol(glycol), _floats(T)
    if np.any((t < COLDEST) | (t > HOTTEST)):
        raise OutOfRange(
            f"The coolant's temperature is {T!r} K; its properties are known from {COLDEST} to {HOTTEST} K. "
            "Was it given in degrees Celsius?"
        )
    u = (t - 323.15) / 50
    return np.asarray(sum(c * x**i * u**j for i, j, c in terms))


def mass_fraction(volume_fraction: ArrayLike) -> Array:
    """Mass fraction of glycol mixed by volume at 20 degC, v rho_g/(v rho_g + (1 - v) rho_w) [-].

    volume_fraction: v of pure glycol, volumes before mixing [-]; concentrate from the shop has 90 to 95 %
    glycol. Densities 1113 and 998 kg/m3 (from memory). Exact but for the densities.
    """
    v = _floats(volume_fraction)
    return np.asarray(v * 1113.0 / (v * 1113.0 + (1 - v) * 998.2))


def coolant_density(T: ArrayLike, glycol: ArrayLike) -> Array:
    """Density of water and ethylene glycol [kg/m3].

    T: 263 (or freezing) to 373 K, carried on to 403 K [K]. glycol: mass fraction, 0 to 0.6 [-]. Broadcast.
    Error: the fit 0.2 % of melinder2010 to 373 K, unknown above (about 0.5 %). Raises OutOfRange.
    """
    return _fit(_DENSITY, T, glycol)


def coolant_heat_capacity(T: ArrayLike, glycol: ArrayLike) -> Array:
    """Heat capacity of water and ethylene glycol [J/(kg K)].

    Error: the fit 0.5 % of melinder2010 to 373 K, unknown above (about 1 %). The rest as `coolant_density`.
    """
    return _fit(_HEAT_CAPACITY, T, glycol)


def coolant_viscosity(T: ArrayLike, glycol: ArrayLike) -> Array:
    """Dynamic viscosity of water and ethylene glycol [Pa s].

    Error: the fit 5 % of melinder2010 to 373 K (1 % at half glycol above 350 K), unknown above. The rest as
    `coolant_density`.
    """
    return np.asarray(np.exp(_fit(_LOG_VISCOSITY, T, glycol)))


def freezing_point(glycol: ArrayLike) -> Array:
    """Temperature at which the first ice forms, 273.15 - 26.70 x - 49.75 x^2 - 80.80 x^3 [K].

    glycol: mass fraction x, 0 to 0.6 [-]. Own fit, 0.2 K, to the values of melinder2010. A wholly solid
    block comes later. Raises OutOfRange.
    """
    x = _checked_glycol(glycol)
    return np.asarray(CELSIUS_ZERO - 26.70 * x - 49.75 * x**2 - 80.80 * x**3)


def boiling_point(cap_gauge: ArrayLike, ambient: ArrayLike = 101325.0, glycol: ArrayLike = 0.0) -> Array:
    """Temperature at which coolant boils under a cap that holds a pressure above the outside's [K].

    xw pw(T) + (1 - xw) pg(T) = p_amb + p_cap, xw the mole fraction of water, ln(pg/1 atm) = 6960 K (1/470.5 K
    - 1/T), solved for T.

    cap_gauge: [Pa]. ambient: outside, falls with altitude [Pa]. glycol: mass fraction, 0 to 0.6 [-]. All
    broadcast. Error: 0.1 K for water (wagner2002), 1.5 K for mixtures (ideal mixing; glycol's two constants
    from memory). Boils first where it is hottest, at the head's walls and in the turbo, not where the sensor
    is. Raises OutOfRange.
    """
    x = _checked_glycol(glycol)
    p = _floats(cap_gauge) + _floats(ambient)
    if np.any(p < 2e4) or np.any(p > 1e6):
        raise OutOfRange(
            f"Cap {cap_gauge!r} Pa and outside {ambient!r} Pa make an absolute pressure that no cooling "
            "system has (0.2 to 10 bar). The cap counts above the outside, "
            "the outside is absolute, both in Pa."
        )
    water = (1 - x) / WATER_MASS / ((1 - x) / WATER_MASS + x / GLYCOL_MASS)
    p, water = np.broadcast_arrays(p, water)

    def excess(T: Array) -> Array:
        glycol_pressure = 101325.0 * np.exp(GLYCOL_SLOPE * (1 / GLYCOL_BOILS - 1 / T))
        return np.asarray(np.log((water * saturation_pressure(T) + (1 - water) * glycol_pressure) / p))

    return bracketed_root(excess, np.full(p.shape, 300.0), np.full(p.shape, 520.0)).x


def coolant_temperature_rise(
    heat: ArrayLike, volume_flow: ArrayLike, density: ArrayLike, heat_capacity: ArrayLike
) -> Array:
    """Temperature rise of a coolant stream, Q/(rho V cp) [K].

    heat: Q [W]. volume_flow: V [m3/s]. density: [kg/m3]. heat_capacity: [J/(kg K)]. All broadcast. Exact.
    """
    return np.asarray(_floats(heat) / (_floats(volume_flow) * _floats(density) * _floats(heat_capacity)))


# ------------------------------------------------------------------------------------ warming by one lump


def temperature_slope(
    heat: ArrayLike, conductance: ArrayLike, capacity: ArrayLike, T: ArrayLike, T_air: ArrayLike
) -> Array:
    """Slope of the coolant's temperature, dT/dt = (Q - UA (T - Ta))/C [K/s].

    heat: Q into the coolant [W]. conductance: UA of the radiator, thermostat wide open [W/K]. capacity: C of
    coolant, radiator and the metal that follows it [J/K]. T, T_air: [K]; the air as it meets the radiator,
    behind any charge cooler. All broadcast. One lump: misses hot spots and the first 20 s.
    """
    loss = _floats(conductance) * (_floats(T) - _floats(T_air))
    return np.asarray((_floats(heat) - loss) / _floats(capacity))


def heat_into_coolant(
    slope: ArrayLike, conductance: ArrayLike, capacity: ArrayLike, T: ArrayLike, T_air: ArrayLike
) -> Array:
    """Heat that a logged slope means, C dT/dt + UA (T - Ta) [W]; inverse of `temperature_slope`."""
    return np.asarray(
        _floats(capacity) * _floats(slope) + _floats(conductance) * (_floats(T) - _floats(T_air))
    )


def rest_temperature(heat: ArrayLike, conductance: ArrayLike, T_air: ArrayLike) -> Array:
    """Temperature at which the coolant comes to rest, Ta + Q/UA [K]; infinity without conductance.

    Arguments as `temperature_slope`.
    """
    Q, UA = np.broadcast_arrays(_floats(heat), _floats(conductance))
    endless = np.where(Q > 0, np.inf, np.where(Q < 0, -np.inf, 0.0))
    rise = np.where(UA > 0, Q / np.where(UA > 0, UA, 1.0), endless)
    return np.asarray(_floats(T_air) + rise)


def coolant_temperature_after(
    seconds: ArrayLike,
    start: ArrayLike,
    heat: ArrayLike,
    conductance: ArrayLike,
    capacity: ArrayLike,
    T_air: ArrayLike,
) -> Array:
    """Temperature after a time of steady load, T0 + (dT/dt)_0 (1 - e^(-k t))/k, k = UA/C [K].

    seconds: t [s]. start: T0 [K]; the rest as `temperature_slope`. All broadcast. Exact for one lump.
    """
    k = _floats(conductance) / _floats(capacity)
    t = _floats(seconds)
    first = temperature_slope(heat, conductance, capacity, start, T_air)
    return np.asarray(_floats(start) + first * np.where(k > 0, -np.expm1(-k * t) / np.where(k > 0, k, 1), t))


def time_to_temperature(
    limit: ArrayLike,
    start: ArrayLike,
    heat: ArrayLike,
    conductance: ArrayLike,
    capacity: ArrayLike,
    T_air: ArrayLike,
) -> Array:
    """Time of steady load until the coolant is at its limit, -ln(1 - k (Tl - T0)/(dT/dt)_0)/k [s].

    Zero where it starts there or above, infinity where it rests below. limit: Tl [K]; the rest as
    `coolant_temperature_after`, whose inverse it is.
    """
    k = _floats(conductance) / _floats(capacity)
    first = temperature_slope(heat, conductance, capacity, start, T_air)
    way = _floats(limit) - _floats(start)
    way, first, k = np.broadcast_arrays(way, first, k)
    warming = first > 0
    straight = way / np.where(warming, first, 1.0)  # time at the first slope
    reached = warming & (k * straight < 1)
    safe = np.where(reached, k * straight, 0.0)
    curved = np.where(k > 0, -np.log1p(-safe) / np.where(k > 0, k, 1.0), straight)
    return np.asarray(np.where(way <= 0, 0.0, np.where(reached, curved, np.inf)))


# ------------------------------------------------------------------------------------------- heat balance


class HeatBalance(NamedTuple):
    """Where the fuel's heat goes, each as a share of the fuel's lower heating value [-]."""

    brake: ArrayLike
    coolant: ArrayLike
    oil_and_rest: ArrayLike
    unburned: ArrayLike  # incomplete combustion
    exhaust: ArrayLike  # sensible heat


# Petrol engines at full power, heywood1988 table 12.1, from memory. A rich one leaves more unburned.
HEAT_BALANCE_BANDS: Final = HeatBalance(
    brake=(0.25, 0.28),
    coolant=(0.17, 0.26),
    oil_and_rest=(0.03, 0.10),
    unburned=(0.02, 0.05),
    exhaust=(0.34, 0.45),
)


def exhaust_heat_share(
    enthalpy_rise: ArrayLike, air_fuel_ratio: ArrayLike, heating_value: ArrayLike
) -> Array:
    """Share of the fuel's heat that leaves as sensible heat of the exhaust, dh (1 + A)/Hu [-].

    enthalpy_rise: h(T) - h(298 K) of burned gas of frozen composition [J/kg]. air_fuel_ratio: A by mass [-].
    heating_value: Hu, lower [J/kg]. All broadcast. Exact. Near the exhaust valve, before the port cools it.
    """
    return np.asarray(_floats(enthalpy_rise) * (1 + _floats(air_fuel_ratio)) / _floats(heating_value))


def whole_of(balance: HeatBalance) -> Array:
    """Sum of a heat balance [-]: 0.95 to 1.03 where its parts were come by apart from each other."""
    return np.asarray(sum((_floats(part) for part in balance), start=np.float64(0.0)))


def outside_bands(balance: HeatBalance, bands: HeatBalance = HEAT_BALANCE_BANDS) -> dict[str, Array]:
    """How far each part lies outside its band: below negative, above positive, inside 0 [-]."""
    found = {}
    for name, part, band in zip(HeatBalance._fields, balance, bands, strict=True):
        low, high = _floats(band)
        value = _floats(part)
        found[name] = np.asarray(np.minimum(value - low, 0.0) + np.maximum(value - high, 0.0))
    return found
