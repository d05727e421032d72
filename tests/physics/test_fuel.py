"""Fuel blends: stoichiometry, heating value, octane."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.physics import fuel
from tests.labels import check

# Formula, stoichiometric air-fuel ratio, lower heating value [MJ/kg], CAS number.
FUELS = {
    "iso-octane": ((8, 18, 0), 15.13, 44.34, "540-84-1"),
    "n-heptane": ((7, 16, 0), 15.18, 44.56, "142-82-5"),
    "toluene": ((7, 8, 0), 13.50, 40.53, "108-88-3"),
    "ethanol": ((2, 6, 1), 9.00, 26.82, "64-17-5"),
    "methanol": ((1, 4, 1), 6.47, 19.93, "67-56-1"),
}


@check(
    "published",
    id="J1",
    source="heywood1988",
    note="eq. 3.6 evaluated; +-0.02 as the constants of air differ",
)
@pytest.mark.parametrize("name", FUELS)
def test_stoichiometric_air_fuel_ratio(name: str) -> None:
    atoms, afr, _, _ = FUELS[name]
    assert fuel.stoichiometric_air_fuel_ratio_by_atoms(*atoms) == pytest.approx(afr, abs=0.02)


@check("published", id="J1", source="heywood1988", note="CH1.87 14.60, E10 14.01, E85 9.80; +-0.02")
def test_stoichiometric_ratio_of_blends() -> None:
    assert fuel.stoichiometric_air_fuel_ratio_by_atoms(1, 1.87) == pytest.approx(14.60, abs=0.02)
    assert float(fuel.stoichiometric_air_fuel_ratio(0.10)) == pytest.approx(14.01, abs=0.02)
    assert float(fuel.stoichiometric_air_fuel_ratio(0.85)) == pytest.approx(9.80, abs=0.02)


@check("published", id="X4", source="heywood1988", note="lambda 0.80 as an air-fuel ratio; +-0.02")
def test_lambda_to_air_fuel_ratio() -> None:
    assert 0.8 * fuel.stoichiometric_air_fuel_ratio_by_atoms(8, 18) == pytest.approx(12.10, abs=0.02)
    assert 0.8 * float(fuel.stoichiometric_air_fuel_ratio(0.10)) == pytest.approx(11.21, abs=0.02)
    assert 0.8 * float(fuel.stoichiometric_air_fuel_ratio(0.85)) == pytest.approx(7.84, abs=0.02)


@check("reference library", id="J2", source="chemicals", note="liquid formation enthalpies (CRC); 0.3 %")
@pytest.mark.parametrize("name", FUELS)
def test_heating_value_from_formation_enthalpy(name: str) -> None:
    chemicals = pytest.importorskip("chemicals")
    atoms, _, lhv, cas = FUELS[name]
    found = fuel.heating_value_from_formation(*atoms, chemicals.Hfl(cas))
    assert found == pytest.approx(lhv * 1e6, rel=3e-3)


@check(
    "reference library",
    id="J2",
    source="chemicals",
    note="our ethanol figure against formation enthalpies; 0.3 %",
)
def test_ethanol_constants() -> None:
    chemicals = pytest.importorskip("chemicals")
    liquid = fuel.heating_value_from_formation(2, 6, 1, chemicals.Hfl("64-17-5"))
    vapour = fuel.heating_value_from_formation(2, 6, 1, chemicals.Hfg("64-17-5"))
    assert fuel.ETHANOL.heating_value == pytest.approx(liquid, rel=3e-3)
    both = fuel.ETHANOL.heating_value + fuel.ETHANOL.heat_of_vaporisation
    assert both == pytest.approx(vapour, rel=3e-3)
    assert fuel.ETHANOL.molar_mass * 1e3 == pytest.approx(chemicals.MW("64-17-5"), rel=1e-4)


@check(
    "limit",
    id="J2",
    note="blends of our own petrol and ethanol by mass, volumes adding, by hand; 1 %, density 0.2 %",
)
def test_blend_properties() -> None:
    assert float(fuel.blend_heating_value(0.10)) == pytest.approx(41.3e6, rel=0.01)
    assert float(fuel.blend_heating_value(0.85)) == pytest.approx(29.1e6, rel=0.01)
    assert float(fuel.blend_heat_of_vaporisation(0.10)) == pytest.approx(408e3, rel=0.01)
    assert float(fuel.blend_heat_of_vaporisation(0.85)) == pytest.approx(825e3, rel=0.01)
    assert float(fuel.blend_density(0.10)) == pytest.approx(749, rel=0.002)
    assert float(fuel.blend_density(0.85)) == pytest.approx(782, rel=0.002)
    assert float(fuel.ethanol_mole_share(0.10)) == pytest.approx(0.227, abs=0.001)
    assert float(fuel.ethanol_mole_share(0.85)) == pytest.approx(0.937, abs=0.001)


@check(
    "published",
    source="anderson2020",
    note="form read in the abstract; blending octane of ethanol from memory, +-1",
)
def test_octane_of_blends() -> None:
    e10, e85 = fuel.blend_octane(95, 85, 0.10), fuel.blend_octane(95, 85, 0.85)
    assert float(e10.ron) == pytest.approx(98.2, abs=1)
    assert float(e85.ron) == pytest.approx(108.1, abs=1)
    assert float(e10.mon) == pytest.approx(86.0, abs=1)
    assert float(e85.mon) == pytest.approx(89.6, abs=1)


@check(
    "reference library",
    id="K3",
    source="chemicals",
    note="ASTM ratings; defining fuels exact, others as tabulated",
)
def test_octane_scale() -> None:
    octane = pytest.importorskip("chemicals")
    assert octane.RON("540-84-1") == octane.MON("540-84-1") == 100
    assert octane.RON("142-82-5") == octane.MON("142-82-5") == 0
    # Blending numbers of ethanol in petrol are those of the pure fuel to a point or so.
    assert float(fuel.ETHANOL_OCTANE.ron) == pytest.approx(octane.RON("64-17-5"), abs=1)
    assert float(fuel.ETHANOL_OCTANE.mon) == pytest.approx(octane.MON("64-17-5"), abs=1)


@check(
    "limit", note="energy per kilogram of stoichiometric mixture hardly depends on the ethanol share: 2.5 %"
)
@given(st.floats(0, 1))
def test_mixture_energy_is_nearly_the_same(v: float) -> None:
    energy = float(fuel.blend_heating_value(v) / (1 + fuel.stoichiometric_air_fuel_ratio(v)))
    assert energy == pytest.approx(2.755e6, rel=0.03)


@given(st.floats(0, 1), st.floats(0, 1))
def test_more_ethanol_needs_more_fuel(a: float, b: float) -> None:
    low, high = sorted((a, b))
    assert fuel.stoichiometric_air_fuel_ratio(high) <= fuel.stoichiometric_air_fuel_ratio(low)
    assert fuel.blend_octane(95, 85, high).ron >= fuel.blend_octane(95, 85, low).ron - 1e-12
    assert 0 <= fuel.ethanol_mass_share(low) <= 1
