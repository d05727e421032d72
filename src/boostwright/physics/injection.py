"""Port fuel injectors: flow at another pressure or with another fluid, size, pulse width and duty."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "DEAD_TIME_VOLTAGE",
    "HEPTANE_DENSITY",
    "Pulse",
    "air_per_cylinder",
    "dead_time",
    "delivered_mass_flow",
    "flow_area",
    "flow_at_density",
    "flow_at_pressure",
    "fuel_flow_for_power",
    "injector_size",
    "pulse_for_charge",
    "unreferenced_share",
    "volumetric_efficiency_of_pulse",
]

Array = NDArray[np.float64]

# n-heptane at 20 degC, the usual calibration fluid (clause of saej1832 from memory) [kg/m3].
HEPTANE_DENSITY: Final = 683.8

DEAD_TIME_VOLTAGE: Final = 13.5  # at which a dead time is usually stated [V] (common practice, no source)
PRESSURE_SHARE: Final = 0.6  # of the force that holds a needle shut, made by 3 bar of fuel [-] (judgement)


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


def delivered_mass_flow(
    flow: ArrayLike,
    difference: ArrayLike,
    density: ArrayLike,
    rated_difference: ArrayLike = 300e3,
    test_density: ArrayLike = HEPTANE_DENSITY,
) -> Array:
    """Mass flow of one open injector [kg/s], q rho_test sqrt(rho/rho_test) sqrt(dp/dp_rated).

    flow: rated volume flow of the test fluid [m3/s]. difference: rail less plenum, both absolute [Pa]; at
    zero or below nothing flows. density: of the fuel [kg/m3]. rated_difference: [Pa]. test_density: of the
    fluid of the rating [kg/m3]. Orifice flow with one discharge coefficient for both fluids; 2 %.
    """
    drive = np.maximum(np.asarray(difference, dtype=np.float64), 0.0) / np.asarray(rated_difference)
    rated = flow_at_density(np.asarray(flow) * np.asarray(test_density), density, test_density)
    return np.asarray(rated * np.sqrt(drive), dtype=np.float64)


def unreferenced_share(base_difference: ArrayLike, boost: ArrayLike) -> Array:
    """Share of its flow that an injector keeps when the rail does not follow the plenum [-].

    sqrt((dp - boost)/dp). base_difference: rail above the outside air [Pa]; boost: plenum above the outside
    air [Pa], negative for vacuum. Bernoulli; zero where boost reaches the rail pressure.
    """
    base = np.asarray(base_difference, dtype=np.float64)
    return np.asarray(np.sqrt(np.maximum(base - np.asarray(boost), 0.0) / base))


def dead_time(
    voltage: ArrayLike,
    difference: ArrayLike,
    known: ArrayLike,
    slope: ArrayLike,
    known_difference: ArrayLike = 300e3,
    known_voltage: float = DEAD_TIME_VOLTAGE,
    pressure_share: float = PRESSURE_SHARE,
) -> Array:
    """Opening lag less closing lag of an injector [s] at a coil voltage and a pressure difference.

    t = t_known + L (f/V - 1/V_known), L = slope 12 13 V, f = sqrt(1 + s (dp/dp_known - 1)).

    The coil must gather a flux before the needle lifts; with little resistance that takes the flux over the
    voltage, and the flux goes with the root of the force on the needle: spring and fuel pressure. The closing
    lag is taken as constant.

    voltage: at the coil and its driver [V]. difference: rail less plenum [Pa]. known: dead time [s] at
    ``known_voltage`` [V] and ``known_difference`` [Pa]. slope: dead time at 12 V less that at 13 V [s].
    pressure_share: s, share of the needle's holding force that fuel pressure makes at the known pressure [-]
    (judgement). Not below zero. Expected error 0.1 ms between 10 and 15 V.
    """
    over = np.asarray(difference, dtype=np.float64) / np.asarray(known_difference)
    force = np.sqrt(np.maximum(1.0 + pressure_share * (np.maximum(over, 0.0) - 1.0), 0.0))
    flux = np.asarray(slope) * 12.0 * 13.0
    lag = np.asarray(known) + flux * (force / np.asarray(voltage, dtype=np.float64) - 1.0 / known_voltage)
    return np.asarray(np.maximum(lag, 0.0), dtype=np.float64)


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
