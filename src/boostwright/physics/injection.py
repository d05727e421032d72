"""Port fuel injectors: flow at another pressure or with another fluid, size, pulse width and duty."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "HEPTANE_DENSITY",
    "Pulse",
    "air_per_cylinder",
    "flow_area",
    "flow_at_density",
    "flow_at_pressure",
    "fuel_flow_for_power",
    "injector_size",
    "pulse_for_charge",
    "volumetric_efficiency_of_pulse",
]

Array = NDArray[np.float64]

# n-heptane at 20 degC, the usual calibration fluid (clause of saej1832 from memory) [kg/m3].
HEPTANE_DENSITY: Final = 683.8


def flow_at_pressure(flow: ArrayLike, pressure: ArrayLike, rated_pressure: ArrayLike = 300e3) -> Array:
    """Flow at another pressure difference, q sqrt(dp/dp_rated); any flow unit; pressures are *differences*
    [Pa].

    With no manifold reference on the regulator, boost takes its pressure off the difference.
    """
    return np.asarray(np.asarray(flow) * np.sqrt(np.asarray(pressure) / rated_pressure), dtype=np.float64)


def flow_at_density(
    mass_flow: ArrayLike, density: ArrayLike, rated_density: ArrayLike = HEPTANE_DENSITY
) -> Array:
    """Mass flow [kg/s] of a fluid of ``density``, from that of the calibration fluid: m sqrt(rho/rho_rated).

    The volume flow changes by the inverse root. Densities [kg/m3].
    """
    return np.asarray(np.asarray(mass_flow) * np.sqrt(np.asarray(density) / rated_density), dtype=np.float64)


def flow_area(volume_flow: ArrayLike, pressure: ArrayLike, density: ArrayLike = HEPTANE_DENSITY) -> Array:
    """Effective flow area C_d A = q/sqrt(2 dp/rho) [m2]; ``volume_flow`` [m3/s], ``pressure`` difference
    [Pa].
    """
    return np.asarray(np.asarray(volume_flow) / np.sqrt(2 * np.asarray(pressure) / density), dtype=np.float64)


def fuel_flow_for_power(power: ArrayLike, bsfc: ArrayLike) -> Array:
    """Fuel mass flow P bsfc [kg/s]; ``power`` [W], ``bsfc`` [kg/J] (1 g/kWh is 1/3.6e9 kg/J)."""
    return np.asarray(np.asarray(power) * np.asarray(bsfc), dtype=np.float64)


def injector_size(fuel_flow: ArrayLike, injectors: ArrayLike, duty: ArrayLike, density: ArrayLike) -> Array:
    """Volume flow that each of ``injectors`` needs [m3/s] so that ``fuel_flow`` [kg/s] is met at ``duty``
    [-].
    """
    return np.asarray(
        np.asarray(fuel_flow) / (np.asarray(density) * injectors * np.asarray(duty)), dtype=np.float64
    )


def air_per_cylinder(
    volumetric_efficiency: ArrayLike,
    pressure: ArrayLike,
    T: ArrayLike,
    swept_volume: ArrayLike,
    R: float = 287.05,
) -> Array:
    """Air per cylinder and cycle, VE p V_d/(R T) [kg]; manifold ``pressure`` [Pa absolute] and ``T`` [K]."""
    return np.asarray(
        np.asarray(volumetric_efficiency) * pressure * np.asarray(swept_volume) / (R * np.asarray(T)),
        dtype=np.float64,
    )


class Pulse(NamedTuple):
    """One injection per cycle."""

    fuel: Array  # [kg]
    open_time: Array  # without dead time [s]
    duty: Array  # open time plus dead time over the cycle [-]


def pulse_for_charge(
    air: ArrayLike,
    air_fuel_ratio: ArrayLike,
    injector_flow: ArrayLike,
    omega: ArrayLike,
    dead_time: ArrayLike = 0.0,
) -> Pulse:
    """Injection for a charge of ``air`` [kg] at ``air_fuel_ratio`` [-] by mass.

    injector_flow: mass flow of one open injector [kg/s]. omega: crank speed [rad/s]; a cycle is two turns.
    dead_time: [s], longer at low voltage and high pressure.
    """
    fuel = np.asarray(np.asarray(air) / np.asarray(air_fuel_ratio), dtype=np.float64)
    open_time = np.asarray(fuel / np.asarray(injector_flow))
    return Pulse(fuel, open_time, np.asarray((open_time + dead_time) * np.asarray(omega) / (4 * np.pi)))


def volumetric_efficiency_of_pulse(
    fuel: ArrayLike,
    air_fuel_ratio: ArrayLike,
    pressure: ArrayLike,
    T: ArrayLike,
    swept_volume: ArrayLike,
    R: float = 287.05,
) -> Array:
    """The volumetric efficiency that ``fuel`` [kg] at ``air_fuel_ratio`` shows, m_f AFR R T/(p V_d) [-]."""
    return np.asarray(
        np.asarray(fuel)
        * air_fuel_ratio
        * R
        * np.asarray(T)
        / (np.asarray(pressure) * np.asarray(swept_volume)),
        dtype=np.float64,
    )
