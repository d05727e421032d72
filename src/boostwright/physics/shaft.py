"""The turning parts of a turbo: moment of inertia from wheel sizes, and how fast a surplus of power spins
them up."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["InertiaRecipe", "charge_volume_rate", "inertia_of_wheels", "shaft_acceleration", "spin_up_time"]

Array = NDArray[np.float64]


class InertiaRecipe(NamedTuple):
    """Constants of the estimate of inertia from sizes."""

    compressor: float  # inertia of a compressor wheel, with its share of the shaft, at the diameter [kg m2]
    turbine: float  # of a turbine wheel at the diameter [kg m2]
    diameter: float  # of both [m]
    exponent: float  # of similar wheels of one material [-]
    spread: float  # one standard deviation of real turbos, relative [-]


def inertia_of_wheels(
    D2: ArrayLike, Dt: ArrayLike, recipe: InertiaRecipe, turbine_factor: ArrayLike = 1.0
) -> Array:
    """Moment of inertia of a turbo's rotor from its wheel diameters.

    I = (D2/D)^5 I_c + (Dt/D)^5 I_t f: similar bodies of one material have m ~ D^3, hence I ~ D^5.

    D2: compressor exducer diameter [m]. Dt: turbine wheel inlet diameter [m]. recipe: constants.
    turbine_factor: of the turbine wheel's material and shape against a nickel alloy with a full back [-]. All
    broadcast. Returns [kg m2]. Error: the recipe's spread. Source: the power of five is similarity
    (dixon2014, from memory); the constants are our own judgement on usual published values.
    """
    compressor = recipe.compressor * (np.asarray(D2, dtype=np.float64) / recipe.diameter) ** recipe.exponent
    turbine = recipe.turbine * (np.asarray(Dt, dtype=np.float64) / recipe.diameter) ** recipe.exponent
    return np.asarray(compressor + turbine * np.asarray(turbine_factor))


def shaft_acceleration(surplus: ArrayLike, omega: ArrayLike, inertia: ArrayLike) -> Array:
    """Angular acceleration of the shaft, d omega/dt = (P_t - P_c - P_f) / (I omega) [rad/s2].

    surplus: turbine power less compressor power less bearing loss [W]. omega: shaft speed [rad/s], above
    zero: at rest a power gives no finite acceleration. inertia: [kg m2]. All broadcast. Exact. Source:
    watson1982, from memory.
    """
    return np.asarray(np.asarray(surplus) / (np.asarray(inertia) * np.asarray(omega)), dtype=np.float64)


def spin_up_time(start: ArrayLike, end: ArrayLike, surplus: ArrayLike, inertia: ArrayLike) -> Array:
    """Time that a constant surplus of power takes from one shaft speed to another [s].

    t = I (end^2 - start^2) / (2 P), the closed form of `shaft_acceleration`.

    start, end: [rad/s]. surplus: [W], above zero. inertia: [kg m2]. All broadcast. Exact.
    """
    energy = np.asarray(inertia) / 2 * (np.square(np.asarray(end)) - np.square(np.asarray(start)))
    return np.asarray(energy / np.asarray(surplus), dtype=np.float64)


def charge_volume_rate(
    flow_in: ArrayLike, flow_out: ArrayLike, T: ArrayLike, volume: ArrayLike, R: float = 287.05
) -> Array:
    """Rise of pressure in a volume whose temperature is held, dp/dt = R T/V (m_in - m_out) [Pa/s].

    flow_in, flow_out: [kg/s]. T: of the charge [K]. volume: [m3]. R: [J/(kg K)]. All broadcast. The cooler
    and the walls hold the temperature; without them the pressure would rise 1.4 times as fast. Source:
    eriksson2014, from memory.
    """
    rate = R * np.asarray(T) / np.asarray(volume) * (np.asarray(flow_in) - np.asarray(flow_out))
    return np.asarray(rate, dtype=np.float64)
