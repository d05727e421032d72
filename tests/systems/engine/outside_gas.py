"""The charge in Cantera: its own thermodynamic data, and a petrol vapour of the stated heating value."""

from __future__ import annotations

from typing import Any

import numpy as np

from boostwright.physics import fuel as fuels
from boostwright.systems.engine.types import Fuel

SPECIES = ("N2", "O2", "CO2", "H2O", "CO", "H2", "OH", "H", "O", "NO", "N", "Ar")
# cp of petrol vapour in cal/(mol K), t = T/1000: heywood1988 table 4.11, from memory; a Shomate equation
PETROL_CP = (-24.078, 256.63, -201.68, 64.75, 0.5808)
C, H = 8.26, 15.5


def petrol_vapour(ct: Any, lhv: float, h_vap: float, known: dict[str, Any]) -> Any:
    """C8.26H15.5 whose complete burning at 298.15 K gives out ``lhv`` + ``h_vap`` [J/kg]."""
    a, b, c, d, e = (4.184 * x for x in PETROL_CP)
    t = 0.29815
    molar_mass = C * 12.011 + H * 1.008  # [g/mol]
    products = C * known["CO2"].thermo.h(298.15) + H / 2 * known["H2O"].thermo.h(298.15)  # [J/kmol]
    formation = molar_mass * (lhv + h_vap) * 1e-6 + products * 1e-6  # [kJ/mol]
    f = formation - (a * t + b * t**2 / 2 + c * t**3 / 3 + d * t**4 / 4 - e / t)
    thermo = {"model": "Shomate", "temperature-ranges": [200, 6000], "data": [[a, b, c, d, e, f, 0.0]]}
    return ct.Species.from_dict({"name": "petrol", "composition": {"C": C, "H": H}, "thermo": thermo})


def charge(ct: Any, tank: Fuel, lam: float, residual: float = 0.0) -> Any:
    """A Cantera phase: fresh mixture with a mass share ``residual`` of burned gas frozen at 1700 K."""
    known = {s.name: s for s in ct.Species.list_from_file("nasa_gas.yaml")}
    h_vap = float(fuels.blend_heat_of_vaporisation(tank.ethanol_share))
    petrol = petrol_vapour(ct, tank.petrol_heating_value, h_vap, known)
    gas = ct.Solution(thermo="ideal-gas", species=[*(known[n] for n in SPECIES), petrol])
    oxygen = lam * (C + H / 4)
    fresh = {
        "petrol": 1.0,
        "O2": oxygen,
        "N2": oxygen * 0.78084 / 0.20946,
        "Ar": oxygen * 0.0097 / 0.20946,
    }
    gas.TPX = 1000.0, 1e5, fresh
    unburned = np.array(gas.Y)
    gas.TP = 2000.0, 20e5
    gas.equilibrate("TP")
    gas.TP = 1700.0, 20e5
    gas.equilibrate("TP", rtol=1e-10)
    gas.TPY = 350.0, 1e5, (1 - residual) * unburned + residual * np.array(gas.Y)
    return gas
