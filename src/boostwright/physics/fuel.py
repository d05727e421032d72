"""Petrol, ethanol and their blends: composition, stoichiometry, heating value, density, octane.

Symbols, units and signs: ``docs/nomenclature.md``.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "AIR_AR",
    "AIR_MOLAR_MASS",
    "AIR_N2",
    "AIR_O2",
    "ETHANOL",
    "PETROL",
    "BlendOctane",
    "PureFuel",
    "blend_density",
    "blend_heat_of_vaporisation",
    "blend_heating_value",
    "blend_octane",
    "ethanol_energy_share",
    "ethanol_mass_share",
    "ethanol_mole_share",
    "heating_value_from_formation",
    "octane_of_blend",
    "stoichiometric_air_fuel_ratio",
    "stoichiometric_air_fuel_ratio_by_atoms",
]

Array = NDArray[np.float64]

# Molar masses [kg/mol] (IUPAC abridged atomic weights, from memory).
M_C, M_H, M_O = 12.011e-3, 1.008e-3, 15.999e-3

# Dry air as oxygen, nitrogen and argon; the 0.04 % of carbon dioxide is counted with the argon.
AIR_O2, AIR_N2, AIR_AR = 0.20946, 0.78084, 0.00970
AIR_MOLAR_MASS = AIR_O2 * 31.9988e-3 + AIR_N2 * 28.0134e-3 + AIR_AR * 39.948e-3  # 28.964e-3 [kg/mol]


class PureFuel(NamedTuple):
    """One liquid fuel C_c H_h O_o."""

    carbon: float  # atoms per molecule [-]
    hydrogen: float
    oxygen: float
    molar_mass: float  # [kg/mol]
    heating_value: float  # lower heating value of the liquid at 298.15 K [J/kg]
    heat_of_vaporisation: float  # at 298.15 K [J/kg]
    density: float  # liquid at 15 degC [kg/m3]


# Heywood 1988, appendix D (from memory, +-1 %): petrol and ethanol.
PETROL = PureFuel(8.26, 15.5, 0.0, 8.26 * M_C + 15.5 * M_H, 43.0e6, 350.0e3, 745.0)
ETHANOL = PureFuel(2.0, 6.0, 1.0, 2 * M_C + 6 * M_H + M_O, 26.8e6, 904.0e3, 789.0)


def stoichiometric_air_fuel_ratio_by_atoms(carbon: float, hydrogen: float, oxygen: float = 0.0) -> float:
    """Kilograms of dry air that burn one kilogram of C_c H_h O_o completely.

    AFR = (c + h/4 - o/2) M_air / (0.20946 M_fuel).
    """
    molar_mass = carbon * M_C + hydrogen * M_H + oxygen * M_O
    return (carbon + hydrogen / 4 - oxygen / 2) * AIR_MOLAR_MASS / (AIR_O2 * molar_mass)


def ethanol_mass_share(ethanol_share: ArrayLike) -> Array:
    """Mass share of ethanol in a blend of volume share ``ethanol_share`` [-]; volumes add."""
    v = np.asarray(ethanol_share, dtype=np.float64)
    return v * ETHANOL.density / (v * ETHANOL.density + (1 - v) * PETROL.density)


def stoichiometric_air_fuel_ratio(ethanol_share: ArrayLike) -> Array:
    """Stoichiometric air-fuel ratio by mass of a blend of volume share ``ethanol_share`` [-]."""
    w = ethanol_mass_share(ethanol_share)
    petrol = stoichiometric_air_fuel_ratio_by_atoms(*PETROL[:3])
    ethanol = stoichiometric_air_fuel_ratio_by_atoms(*ETHANOL[:3])
    return (1 - w) * petrol + w * ethanol


def blend_heating_value(
    ethanol_share: ArrayLike, petrol_heating_value: float = PETROL.heating_value
) -> Array:
    """Lower heating value of the liquid blend [J/kg], by mass."""
    w = ethanol_mass_share(ethanol_share)
    return (1 - w) * petrol_heating_value + w * ETHANOL.heating_value


def blend_heat_of_vaporisation(ethanol_share: ArrayLike) -> Array:
    """Heat of vaporisation of the blend at 298.15 K [J/kg], by mass."""
    w = ethanol_mass_share(ethanol_share)
    return (1 - w) * PETROL.heat_of_vaporisation + w * ETHANOL.heat_of_vaporisation


def blend_density(ethanol_share: ArrayLike) -> Array:
    """Density of the liquid blend at 15 degC [kg/m3]; volumes add (true to 0.2 %)."""
    v = np.asarray(ethanol_share, dtype=np.float64)
    return np.asarray(v * ETHANOL.density + (1 - v) * PETROL.density)


def ethanol_mole_share(ethanol_share: ArrayLike, petrol_molar_mass: float = PETROL.molar_mass) -> Array:
    """Mole share of ethanol in a blend of volume share ``ethanol_share`` [-].

    petrol_molar_mass: mean molar mass of the petrol [kg/mol]; 0.100..0.115 in the trade, and octane blending
    feels it.
    """
    w = ethanol_mass_share(ethanol_share)
    n_ethanol, n_petrol = w / ETHANOL.molar_mass, (1 - w) / petrol_molar_mass
    return np.asarray(n_ethanol / (n_ethanol + n_petrol))


def ethanol_energy_share(
    ethanol_share: ArrayLike, petrol_heating_value: float = PETROL.heating_value
) -> Array:
    """Share of the blend's lower heating value that its ethanol brings [-]."""
    w = ethanol_mass_share(ethanol_share)
    return np.asarray(w * ETHANOL.heating_value / blend_heating_value(ethanol_share, petrol_heating_value))


def heating_value_from_formation(
    carbon: float, hydrogen: float, oxygen: float, formation_enthalpy: float
) -> float:
    """Lower heating value [J/kg] of C_c H_h O_o at 298.15 K from its molar enthalpy of formation [J/mol].

    Products CO2 -393.51 and water vapour -241.826 kJ/mol (CODATA key values, from memory).
    """
    molar_mass = carbon * M_C + hydrogen * M_H + oxygen * M_O
    return (formation_enthalpy + carbon * 393.51e3 + hydrogen / 2 * 241.826e3) / molar_mass


class BlendOctane(NamedTuple):
    """Research and motor octane number [-]."""

    ron: Array
    mon: Array


# Blending octane numbers of ethanol in petrol (from memory, +-1); not those of neat ethanol in the test
# engine.
ETHANOL_OCTANE = BlendOctane(np.asarray(109.0), np.asarray(90.0))


def octane_of_blend(
    base: ArrayLike, ethanol: ArrayLike, mole_share: ArrayLike, interaction: ArrayLike = 0.0
) -> Array:
    """Octane number of a blend, (1 - x) ON_base + x ON_ethanol + Z x (1 - x) [-] (key anderson2020).

    mole_share: x, mole share of ethanol [-]. interaction: Z [-], from the base fuel's make-up; 0 goes with
    blending octane numbers. Expected error +-1.
    """
    x = np.asarray(mole_share, dtype=np.float64)
    return np.asarray(
        (1 - x) * np.asarray(base) + x * np.asarray(ethanol) + np.asarray(interaction) * x * (1 - x)
    )


def blend_octane(base_ron: ArrayLike, base_mon: ArrayLike, ethanol_share: ArrayLike) -> BlendOctane:
    """RON and MON of petrol of ``base_ron`` and ``base_mon`` [-] with ethanol of volume share
    ``ethanol_share`` [-].
    """
    x = ethanol_mole_share(ethanol_share)
    return BlendOctane(
        octane_of_blend(base_ron, ETHANOL_OCTANE.ron, x), octane_of_blend(base_mon, ETHANOL_OCTANE.mon, x)
    )
