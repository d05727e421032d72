"""Temperature of a cable that carries current: at rest by its heat balance, and on the way there."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange
from boostwright.physics.cable import (
    COPPER_COEFFICIENT,
    COPPER_VOLUME_CAPACITY,
    copper_section,
    resistance_at,
)
from boostwright.physics.convection import free_convection_coefficient
from boostwright.physics.heat_transfer import STEFAN_BOLTZMANN

__all__ = [
    "Cable",
    "CableTemperature",
    "continuous_current",
    "cooling_conductance",
    "steady_temperature",
    "surface_coefficient",
    "temperature_after",
    "time_to_temperature",
]

Array = NDArray[np.float64]

HOTTEST: Final = 1358.0  # copper melts [K]
STEPS: Final = 60  # halvings: 1200 K become 1e-15 K


class Cable(NamedTuple):
    """One insulated copper cable in still air. Fields broadcast."""

    resistance_20: ArrayLike  # by length at 20 degC [ohm/m]
    outer_diameter: ArrayLike  # over the insulation [m]
    core_diameter: ArrayLike  # of the conductor, under the insulation [m]
    insulation_conductivity: ArrayLike = 0.17  # of PVC; 0.29 of cross-linked polyethylene [W/(m K)]
    emissivity: ArrayLike = 0.9  # of the outer surface, plastic of any colour [-]
    open_share: ArrayLike = 1.0  # of the surface that gives heat: 1 free, 0.5 on carpet or in a bundle [-]


class CableTemperature(NamedTuple):
    """Temperatures at rest; infinity where the cable finds no rest below the melting point of copper."""

    conductor: Array  # [K]
    surface: Array  # [K]


def _checked(cable: Cable) -> Cable:
    """The cable with arrays in its fields; refuses one whose copper does not fit into it."""
    values = Cable(*(np.asarray(x, dtype=np.float64) for x in cable))
    if np.any(np.asarray(values.core_diameter) > np.asarray(values.outer_diameter)):
        raise OutOfRange(
            f"the conductor is {cable.core_diameter} m wide and the whole cable {cable.outer_diameter} m; "
            "the cable's outer diameter must be the larger: were they exchanged?"
        )
    solid = np.sqrt(4 / np.pi * copper_section(values.resistance_20))
    if np.any(solid > 1.02 * np.asarray(values.core_diameter)):
        raise OutOfRange(
            f"{cable.resistance_20} ohm/m takes a copper bar {np.max(solid):.3g} m wide, more than the "
            f"conductor of {cable.core_diameter} m; the resistance must be that of one metre of one cable"
        )
    return values


def surface_coefficient(
    diameter: ArrayLike,
    T_surface: ArrayLike,
    T_air: ArrayLike,
    emissivity: ArrayLike = 0.9,
    p: ArrayLike = 101325.0,
) -> Array:
    """Heat transfer coefficient of a level cylinder in still air, convection and radiation [W/(m2 K)].

    `free_convection_coefficient` + e sigma (Ts^2 + Ta^2)(Ts + Ta).

    diameter: [m]. T_surface, T_air: [K]; the surroundings radiate at T_air. emissivity: [-]. p: [Pa].
    Validity: Ra to 1e12, still air; a cable of 5 to 20 mm has Ra of 1e2 to 1e5. Error: 10 to 15 % of the
    convection. Source: churchill1975, incropera2007, from memory.
    """
    Ts, Ta = (np.asarray(x, dtype=np.float64) for x in (T_surface, T_air))
    radiation = np.asarray(emissivity) * STEFAN_BOLTZMANN * (Ts**2 + Ta**2) * (Ts + Ta)
    return np.asarray(free_convection_coefficient(diameter, Ts, Ta, p) + radiation)


def _shed(cable: Cable, T_surface: Array, T_air: Array) -> Array:
    """Heat that one metre of surface gives to the air [W/m]."""
    h = surface_coefficient(cable.outer_diameter, T_surface, T_air, cable.emissivity)
    area = np.pi * np.asarray(cable.outer_diameter) * np.asarray(cable.open_share)
    return np.asarray(h * area * (T_surface - T_air))


def _insulation(cable: Cable) -> Array:
    """Resistance of one metre of insulation to heat, ln(D/d)/(2 pi k) [K m/W]."""
    ratio = np.asarray(cable.outer_diameter) / np.asarray(cable.core_diameter)
    return np.asarray(np.log(ratio) / (2 * np.pi * np.asarray(cable.insulation_conductivity)))


def _halving(excess: Callable[[Array], Array], low: Array, high: Array) -> Array:
    """Where ``excess`` of an array falls through zero, element by element; ``low`` is above it."""
    for _ in range(STEPS):
        middle = 0.5 * (low + high)
        above = excess(middle) > 0.0
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return np.asarray(0.5 * (low + high))


def steady_temperature(cable: Cable, current: ArrayLike, T_air: ArrayLike) -> CableTemperature:
    """Temperature at which a cable rests that carries a current for good, alone in still air.

    I^2 R'(Tc) = (Tc - Ts) 2 pi k/ln(D/d) = h pi D s (Ts - Ta): halved down to the surface temperature Ts.
    Own derivation. Copper's resistance grows with heat, so a cable may find no rest: infinity.

    cable: `Cable`. current: [A]. T_air: [K]. Error: 15 % of the rise in free air (currents 4 to 7 % below
    the tables for buildings, iec60364); ducts, bundles, carpet and joints are hotter, moving air and cold
    metal alongside cooler.
    """
    wire = _checked(cable)
    current, T_air, _ = np.broadcast_arrays(
        np.abs(np.asarray(current, dtype=np.float64)), np.asarray(T_air, dtype=np.float64),
        sum(np.asarray(x) for x in wire),
    )  # fmt: skip
    between = _insulation(wire)

    def excess(T_surface: Array) -> Array:
        heat = _shed(wire, T_surface, T_air)
        made = current**2 * resistance_at(wire.resistance_20, T_surface + heat * between)
        return np.asarray(made - heat)

    ceiling = np.full(T_air.shape, HOTTEST)
    surface = _halving(excess, T_air, ceiling)
    conductor = surface + _shed(wire, surface, T_air) * between
    finds = (excess(ceiling) < 0.0) & (conductor < HOTTEST)
    return CableTemperature(np.where(finds, conductor, np.inf), np.where(finds, surface, np.inf))


def _heat_at(cable: Cable, T_conductor: Array, T_air: Array) -> Array:
    """Heat that one metre sheds while its conductor has a temperature [W/m]; 0 where the air is hotter."""
    between = _insulation(cable)
    surface = _halving(
        lambda T: np.asarray(T_conductor - T - _shed(cable, T, T_air) * between),
        T_air,
        np.maximum(T_conductor, T_air),
    )
    return _shed(cable, surface, T_air)


def continuous_current(cable: Cable, T_limit: ArrayLike, T_air: ArrayLike) -> Array:
    """Current that brings the conductor to its insulation's limit in the end [A].

    I = sqrt(Q(T_limit)/R'(T_limit)), with the balance, validity and error of `steady_temperature`, whose
    inverse it is. T_limit: permitted for good [K]. T_air: [K]; at or above the limit the answer is 0.
    """
    wire = _checked(cable)
    limit, air = np.broadcast_arrays(
        np.asarray(T_limit, dtype=np.float64), np.asarray(T_air, dtype=np.float64)
    )
    return np.asarray(np.sqrt(_heat_at(wire, limit, air) / resistance_at(wire.resistance_20, limit)))


def cooling_conductance(cable: Cable, T_conductor: ArrayLike, T_air: ArrayLike) -> Array:
    """Heat shed by one metre for each kelvin between conductor and air, at that temperature [W/(m K)].

    T_conductor: [K], above the air. T_air: [K]. Grows with the rise by about its fourth root.
    """
    wire = _checked(cable)
    hot, air = np.broadcast_arrays(
        np.asarray(T_conductor, dtype=np.float64), np.asarray(T_air, dtype=np.float64)
    )
    hot = np.maximum(hot, air + 1e-3)
    return np.asarray(_heat_at(wire, hot, air) / (hot - air))


def _first_order(
    resistance_20: ArrayLike, current: ArrayLike, T_start: ArrayLike, T_air: ArrayLike, conductance: ArrayLike
) -> tuple[Array, Array]:
    """Rate of heating at the start [K/s] and its growth with temperature [1/s]."""
    capacity = COPPER_VOLUME_CAPACITY * copper_section(resistance_20)
    squared = np.square(np.asarray(current, dtype=np.float64))
    G = np.asarray(conductance)
    rate = squared * resistance_at(resistance_20, T_start) - G * (np.asarray(T_start) - np.asarray(T_air))
    growth = squared * np.asarray(resistance_20) * COPPER_COEFFICIENT - G
    return np.asarray(rate / capacity), np.asarray(growth / capacity)


def temperature_after(
    resistance_20: ArrayLike,
    current: ArrayLike,
    time: ArrayLike,
    T_start: ArrayLike,
    T_air: ArrayLike,
    conductance: ArrayLike = 0.0,
) -> Array:
    """Temperature of a conductor that has carried a current for a time, first order in time [K].

    C dT/dt = I^2 R'(T) - G (T - Ta), C = 3.45e6 J/(m3 K) times `copper_section`, so with a = dT/dt at the
    start and b = (I^2 R'_20 alpha - G)/C: T = T_start + a (exp(b t) - 1)/b.

    resistance_20: [ohm/m]. current: [A]. time: [s]. T_start, T_air: [K]. conductance: G of
    `cooling_conductance` [W/(m K)]; 0 keeps all heat in, as `adiabatic_temperature` does. Taken at
    the end temperature the rise is 0 to 4 % too small, taken half way up 0 to 26 % too large (against the
    full balance, sizes of 1.5 to 50 mm2, up to 1.4 times the continuous current for good). The insulation's
    own heat capacity is left out, one and a half times the copper's in a small wire, half of it in a thick
    one: beyond some ten seconds the truth is cooler.
    """
    rate, growth = _first_order(resistance_20, current, T_start, T_air, conductance)
    t = np.asarray(time, dtype=np.float64)
    x = growth * t
    small = np.abs(x) < 1e-9
    with np.errstate(over="ignore"):
        stretch = np.where(small, 1.0, np.expm1(x) / np.where(small, 1.0, x))
    return np.asarray(np.asarray(T_start, dtype=np.float64) + rate * t * stretch)


def time_to_temperature(
    resistance_20: ArrayLike,
    current: ArrayLike,
    T_end: ArrayLike,
    T_start: ArrayLike,
    T_air: ArrayLike,
    conductance: ArrayLike = 0.0,
) -> Array:
    """Time after which a conductor reaches a temperature, ln(1 + b (T_end - T_start)/a)/b [s].

    Inverse of `temperature_after`, with its arguments and limits; infinity where the temperature is never
    reached, 0 where it is already passed.
    """
    rate, growth = _first_order(resistance_20, current, T_start, T_air, conductance)
    rise = np.asarray(T_end, dtype=np.float64) - np.asarray(T_start)
    with np.errstate(divide="ignore", invalid="ignore"):
        straight = rise / rate
        x = growth * straight
        small = np.abs(x) < 1e-9
        time = np.where(small, straight, np.log1p(x) / np.where(small, 1.0, growth))
    reached = (rate > 0.0) & (x > -1.0)
    return np.where(rise <= 0.0, 0.0, np.where(reached, time, np.inf))
