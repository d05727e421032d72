"""Heat from the gas to cylinder walls, port and manifold, and the wall temperatures that follow."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "STEFAN_BOLTZMANN",
    "PipeOutlet",
    "WallTemperatures",
    "depcik_assanis_coefficient",
    "exhaust_gas_viscosity",
    "hohenberg_coefficient",
    "manifold_outlet",
    "motored_pressure",
    "pipe_outlet_temperature",
    "wall_temperatures",
    "woschni_coefficient",
    "woschni_gas_velocity",
]

Array = NDArray[np.float64]

STEFAN_BOLTZMANN: Final = 5.670374419e-8  # [W/m2/K4], CODATA
COMBUSTION_EXPONENT: Final = 1.32  # of the motored pressure in Woschni's combustion term [-]


def woschni_gas_velocity(
    mean_piston_speed: ArrayLike,
    combustion_term: ArrayLike = 0.0,
    *,
    gas_exchange: ArrayLike = False,
) -> Array:
    """Woschni's characteristic gas velocity w = c1 S_p + c2 (V_d T_r/(p_r V_r)) (p - p_mot) [m/s].

    mean_piston_speed: [m/s]. combustion_term: (V_d T_r/(p_r V_r)) (p - p_mot) [K], zero before the spark; r
    is intake closing. gas_exchange: c1 is 6.18 with open valves, 2.28 with closed ones; c2 = 3.24e-3 m/s/K.
    Keys woschni1967, heywood1988 eq. 12.19; constants from memory.
    """
    c1 = np.where(gas_exchange, 6.18, 2.28)
    return np.asarray(c1 * mean_piston_speed + 3.24e-3 * np.asarray(combustion_term), dtype=np.float64)


def motored_pressure(p_reference: ArrayLike, V_reference: ArrayLike, V: ArrayLike) -> Array:
    """Pressure [Pa] without burning, p_r (V_r/V)^1.32, for Woschni's combustion term."""
    return np.asarray(
        p_reference * np.power(np.asarray(V_reference) / V, COMBUSTION_EXPONENT), dtype=np.float64
    )


def woschni_coefficient(bore: ArrayLike, p: ArrayLike, T: ArrayLike, w: ArrayLike) -> Array:
    """Heat transfer coefficient h = 3.26 B^-0.2 p^0.8 T^-0.55 w^0.8 [W/m2/K], p in kPa inside.

    bore: [m]. p: [Pa]. T: mean gas temperature [K]. w: gas velocity of :func:`woschni_gas_velocity` [m/s].
    Key heywood1988 eq. 12.19, from memory; the exponent -0.55 belongs to 3.26 and kPa (Woschni's own -0.53
    goes with another constant and reads 16 % higher at 1500 K). Expected error: petrol engines need 1.0..1.4
    times this value.
    """
    return np.asarray(
        3.26
        * np.power(bore, -0.2)
        * np.power(np.asarray(p) / 1000.0, 0.8)
        * np.power(T, -0.55)
        * np.power(w, 0.8),
        dtype=np.float64,
    )


def hohenberg_coefficient(V: ArrayLike, p: ArrayLike, T: ArrayLike, mean_piston_speed: ArrayLike) -> Array:
    """Heat transfer coefficient h = 130 V^-0.06 p^0.8 T^-0.4 (S_p + 1.4)^0.8 [W/m2/K], p in bar inside.

    V: cylinder volume [m3]. p: [Pa]. T: mean gas temperature [K]. mean_piston_speed: [m/s].
    Key hohenberg1979, from memory. Expected error +-20 % without any factor.
    """
    return np.asarray(
        130.0
        * np.power(V, -0.06)
        * np.power(np.asarray(p) / 1.0e5, 0.8)
        * np.power(T, -0.4)
        * np.power(np.asarray(mean_piston_speed) + 1.4, 0.8),
        dtype=np.float64,
    )


class WallTemperatures(NamedTuple):
    """Mean gas-side wall temperatures [K]."""

    piston: Array
    head: Array
    liner: Array


def wall_temperatures(charge_flux: ArrayLike, coolant_temperature: ArrayLike = 368.0) -> WallTemperatures:
    """Mean wall temperatures: coolant plus 110, 80, 25 K times g, g = (flux/2.5)^0.66.

    charge_flux: charge mass flow of one cylinder over its bore area [kg/s/m2]. coolant_temperature: [K]. Our
    own closure between the gas side (flow^0.75) and the coolant side (flow^0.5), in the manner of Taylor &
    Toong (key taylor1985); expected error +-25 K. Zero flux gives the coolant temperature.
    """
    g = np.power(np.asarray(charge_flux, dtype=np.float64) / 2.5, 0.66)
    c = np.asarray(coolant_temperature, dtype=np.float64)
    return WallTemperatures(c + 110 * g, c + 80 * g, c + 25 * g)


def exhaust_gas_viscosity(T: ArrayLike) -> Array:
    """Dynamic viscosity of burned gas, 3.3e-7 T^0.7 [Pa s]; ``T`` [K] (heywood1988 sec. 4.8, from memory)."""
    return np.asarray(3.3e-7 * np.power(T, 0.7), dtype=np.float64)


def depcik_assanis_coefficient(
    m_dot: ArrayLike, diameter: ArrayLike, T: ArrayLike, cp: ArrayLike = 1230.0, pulsation: ArrayLike = 1.0
) -> Array:
    """Heat transfer coefficient in an intake or exhaust pipe from Nu = 0.07 Re^0.75 [W/m2/K].

    m_dot: mean flow in the pipe [kg/s]. diameter: bore of the pipe [m]. T: gas temperature [K]. cp: [J/kg/K].
    pulsation: factor, 1.5 in an exhaust port [-] (malchow1979). Prandtl number 0.72.
    Key depcik2002 (one law for all intake and exhaust data; correlation 0.80 on the exhaust side).
    """
    mu = exhaust_gas_viscosity(T)
    reynolds = 4 * np.asarray(m_dot) / (np.pi * np.asarray(diameter) * mu)
    conductivity = mu * np.asarray(cp) / 0.72
    nusselt = np.asarray(pulsation) * 0.07 * np.power(reynolds, 0.75)
    return np.asarray(nusselt * conductivity / np.asarray(diameter), dtype=np.float64)


def pipe_outlet_temperature(
    T_in: ArrayLike, T_wall: ArrayLike, conductance: ArrayLike, capacity: ArrayLike
) -> Array:
    """Outlet temperature T_w + (T_in - T_w) exp(-h A/(m_dot cp)) [K] of a pipe with a wall of one
    temperature.

    conductance: h A [W/K]. capacity: m_dot cp [W/K].
    """
    T_w = np.asarray(T_wall, dtype=np.float64)
    return np.asarray(T_w + (np.asarray(T_in) - T_w) * np.exp(-np.asarray(conductance) / capacity))


class PipeOutlet(NamedTuple):
    """State behind an exhaust pipe that cools to its surroundings."""

    temperature: Array  # of the gas at the outlet [K]
    wall: Array  # of the pipe wall [K]
    heat: Array  # given to the surroundings [W]


def manifold_outlet(
    T_in: ArrayLike,
    m_dot: ArrayLike,
    diameter: ArrayLike,
    length: ArrayLike,
    T_surroundings: ArrayLike = 330.0,
    cp: ArrayLike = 1230.0,
    wall_thickness: ArrayLike = 5.0e-3,
    outside_coefficient: ArrayLike = 30.0,
    emissivity: ArrayLike = 0.8,
) -> PipeOutlet:
    """Gas temperature behind a hot exhaust runner whose wall floats between gas and surroundings.

    m_dot cp (T_in - T_out) = A_out (h_o (T_w - T_a) + eps sigma (T_w^4 - T_a^4)), T_out from
    :func:`pipe_outlet_temperature`.

    T_in: [K]. m_dot: mean flow in the runner [kg/s]. diameter, length, wall_thickness: [m]. T_surroundings:
    under the bonnet [K]. outside_coefficient: [W/m2/K]. emissivity: [-]. They broadcast. Expected error +-30
    K on the outlet, from the outside coefficient and the pulsation.
    """
    T1, Ta = np.asarray(T_in, dtype=np.float64), np.asarray(T_surroundings, dtype=np.float64)
    inside = np.pi * np.asarray(diameter) * np.asarray(length)
    outside = np.pi * (np.asarray(diameter) + 2 * np.asarray(wall_thickness)) * np.asarray(length)
    capacity = np.asarray(np.asarray(m_dot) * np.asarray(cp), dtype=np.float64)
    given = depcik_assanis_coefficient(m_dot, diameter, T1, cp) * inside
    exchange = capacity * -np.expm1(-given / capacity)  # W per kelvin between inlet gas and wall

    by_air = outside * np.asarray(outside_coefficient)
    by_light = outside * np.asarray(emissivity) * STEFAN_BOLTZMANN
    # the difference grows with T_w, ever steeper: Newton from above comes down to the root, not across it
    T_w = np.maximum(Ta, T1) + 0 * exchange
    both, still = by_air + exchange, by_air * Ta + by_light * Ta**4 + exchange * T1
    for _ in range(40):
        cube = by_light * T_w * T_w * T_w
        step = ((both + cube) * T_w - still) / (both + 4 * cube)
        going = step > 1.0e-6  # the next step would be its square; one that rests does so whoever goes on
        if not np.any(going):
            break
        T_w = T_w - np.where(going, step, 0.0)
    heat = np.asarray(by_air * (T_w - Ta) + by_light * (T_w**4 - Ta**4))
    return PipeOutlet(pipe_outlet_temperature(T1, T_w, given, capacity), T_w, heat)
