"""Gas mixtures against Cantera, and the properties that the cycle stands on."""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.errors import OutOfRange
from boostwright.physics import fuel, gas, ideal_cycle
from tests.labels import check

R0 = 8.31446261815324
ISO_OCTANE = (8, 18, 0)

lams = st.floats(0.6, 1.6)
shares = st.floats(0.0, 1.0)


def formula(ethanol_share: float) -> tuple[float, float, float]:
    """C, H, O of one kilogram of blend [mol]."""
    w = float(fuel.ethanol_mass_share(ethanol_share))
    a, b = (1 - w) / fuel.PETROL.molar_mass, w / fuel.ETHANOL.molar_mass
    return a * 8.26 + b * 2, a * 15.5 + b * 6, b


def set_equilibrium(
    g: Any, elements: Callable[..., dict[str, float]], lam: float, v: float, T: float, p: float
) -> None:
    g.TPX = T, p, elements(*formula(v), lam)
    g.equilibrate("TP", rtol=1e-10)


# --- Against Cantera ---

POINTS = [
    (0.71, 0.0),
    (0.88, 0.0),
    (0.88, 0.85),
    (0.955, 0.1),
    (1.0, 0.0),
    (1.0, 0.5),
    (1.003, 1.0),
    (1.1, 0.2),
    (1.38, 0.0),
]


@check(
    "reference library", source="Cantera", note="tolerance: table interpolation, 3 kJ/kg is 2 K; 1 % in cp"
)
@pytest.mark.parametrize(("lam", "v"), POINTS)
def test_equilibrium_table(
    burned: Any, elements: Callable[..., dict[str, float]], lam: float, v: float
) -> None:
    mix = gas.mixture(lam, v)
    rng = np.random.default_rng(7)
    for _ in range(40):
        T, p = rng.uniform(1800, 3100), np.exp(rng.uniform(np.log(0.5e5), np.log(200e5)))
        set_equilibrium(burned, elements, lam, v, T, p)
        h, R = burned.enthalpy_mass, R0 * 1e3 / burned.mean_molecular_weight
        set_equilibrium(burned, elements, lam, v, T + 1, p)
        h_up = burned.enthalpy_mass
        set_equilibrium(burned, elements, lam, v, T - 1, p)
        h_T = (h_up - burned.enthalpy_mass) / 2
        s = gas.equilibrium(mix, T, p)
        assert float(s.h) == pytest.approx(h, abs=3e3)
        assert float(s.R) == pytest.approx(R, rel=2e-4)
        assert float(s.h_T) == pytest.approx(h_T, rel=0.01)


@check("reference library", source="Cantera", note="composition frozen at 1700 K, 20 bar; 3 kJ/kg is 2 K")
@pytest.mark.parametrize(("lam", "v"), POINTS)
def test_frozen_burned_gas(
    burned: Any, elements: Callable[..., dict[str, float]], lam: float, v: float
) -> None:
    mix = gas.mixture(lam, v)
    set_equilibrium(burned, elements, lam, v, 1700.0, 20e5)
    Y = burned.Y
    assert mix.R_b == pytest.approx(R0 * 1e3 / burned.mean_molecular_weight, rel=5e-5)
    for T in np.linspace(300, 3300, 31):
        burned.TPY = T, 1e5, Y
        assert float(gas.h_burned_frozen(mix, T)) == pytest.approx(burned.enthalpy_mass, abs=1.5e3)
        assert float(gas.cp_burned_frozen(mix, T)) == pytest.approx(burned.cp_mass, rel=3e-3)
        if T < 1600:  # there the equilibrium table is the frozen gas
            assert float(gas.h_equilibrium(mix, T, 5e5)) == pytest.approx(burned.enthalpy_mass, abs=1.5e3)


@check(
    "reference library",
    source="Cantera",
    note="where the gas freezes: the smooth step is at most 3.5 kJ/kg off a sharp one",
)
@pytest.mark.parametrize("lam", [0.8, 1.0, 1.1])
def test_freezing_step(burned: Any, elements: Callable[..., dict[str, float]], lam: float) -> None:
    mix = gas.mixture(lam)
    set_equilibrium(burned, elements, lam, 0.0, 1700.0, 20e5)
    Y = burned.Y
    for p in (0.5e5, 5e5, 50e5):
        for T in np.arange(1550.0, 1851.0, 12.5):
            if T >= 1700:
                set_equilibrium(burned, elements, lam, 0.0, T, p)
            else:
                burned.TPY = T, p, Y
            assert float(gas.h_equilibrium(mix, T, p)) == pytest.approx(burned.enthalpy_mass, abs=3.5e3)


@check(
    "reference library", id="A4", source="Cantera", note="fresh ethanol and air; cp within the fit's 0.3 %"
)
def test_fresh_gas(ct: Any) -> None:
    known = {s.name: s for s in ct.Species.list_from_file("nasa_gas.yaml")}
    g = ct.Solution(thermo="ideal-gas", species=[known[n] for n in ("N2", "O2", "Ar", "C2H5OH")])
    mix = gas.mixture(0.9, 1.0)
    x = {"N2": fuel.AIR_N2, "O2": fuel.AIR_O2, "Ar": fuel.AIR_AR}
    x["C2H5OH"] = 1 / (0.9 * mix.afr_stoich) * fuel.AIR_MOLAR_MASS / fuel.ETHANOL.molar_mass
    g.TPX = 298.15, 1e5, x
    assert mix.R_f == pytest.approx(R0 * 1e3 / g.mean_molecular_weight, rel=5e-5)
    h0 = g.enthalpy_mass
    for T in np.linspace(260, 1500, 25):
        g.TP = T, 1e5
        assert float(gas.cp_fresh(mix, T)) == pytest.approx(g.cp_mass, rel=3e-3)
        rise = float(gas.h_fresh(mix, T) - gas.h_fresh(mix, 298.15))
        assert rise == pytest.approx(g.enthalpy_mass - h0, abs=300)


@check(
    "reference library",
    id="I4",
    source="Cantera",
    note="3 K; the fuel's enthalpy is ours, the equilibrium is Cantera's",
)
@pytest.mark.parametrize("phi", [0.8, 1.0, 1.2])
@pytest.mark.parametrize("constant_volume", [False, True])
def test_adiabatic_flame_temperature(
    burned: Any, elements: Callable[..., dict[str, float]], phi: float, constant_volume: bool
) -> None:
    mix = gas.mixture(1 / phi)
    burned.TPX = 1000.0, 101325.0, elements(*formula(0.0), 1 / phi)
    h = float(gas.h_fresh(mix, 298.15))
    if constant_volume:
        v = mix.R_f * 298.15 / 101325.0
        burned.UV = h - 101325.0 * v, v
        burned.equilibrate("UV")
    else:
        burned.HP = h, 101325.0
        burned.equilibrate("HP")
    found = ideal_cycle.adiabatic_flame_temperature(mix, 298.15, 101325.0, constant_volume=constant_volume)
    assert found == pytest.approx(burned.T, abs=3.0)


@check("reference library", id="I4", source="NASA CEA", note="2046.5, 2270.3, 2207.1 K; +-3 K between codes")
@pytest.mark.parametrize(("phi", "T"), [(0.8, 2046.5), (1.0, 2270.3), (1.2, 2207.1)])
def test_species_data_against_another_equilibrium_code(
    ct: Any, burned: Any, elements: Callable[..., dict[str, float]], phi: float, T: float
) -> None:
    """Iso-octane vapour at 298.15 K, 1 atm: the species data that our tables stand on."""
    known = {s.name: s for s in ct.Species.list_from_file("nasa_gas.yaml")}
    h_fuel = known["C8H18,isooctane"].thermo.h(298.15) / 114.229
    afr = fuel.stoichiometric_air_fuel_ratio_by_atoms(*ISO_OCTANE) / phi
    burned.TPX = 1500.0, 101325.0, elements(*ISO_OCTANE, 1 / phi)
    burned.HP = h_fuel / (1 + afr), 101325.0
    burned.equilibrate("HP")
    assert pytest.approx(T, abs=3.0) == burned.T


@check(
    "reference library",
    id="I5",
    source="Cantera",
    note="2500 K, 2 bar, phi 1: shifting 2720, frozen 1463 J/(kg K), iso-octane by NASA's program; 1 %; ours "
    "is petrol's, frozen at 1700 K: 1.5 %",
)
def test_shifting_heat_capacity(burned: Any, elements: Callable[..., dict[str, float]]) -> None:
    def h(T: float, f: tuple[float, float, float]) -> float:
        burned.TPX = T, 2e5, elements(*f, 1.0)
        burned.equilibrate("TP", rtol=1e-10)
        return float(burned.enthalpy_mass)

    octane = (h(2501.0, ISO_OCTANE) - h(2499.0, ISO_OCTANE)) / 2
    assert octane == pytest.approx(2720, rel=0.01)  # NASA's program prints 2720 for iso-octane
    burned.TPX = 2500.0, 2e5, elements(*ISO_OCTANE, 1.0)
    burned.equilibrate("TP")
    assert burned.cp_mass == pytest.approx(1463, rel=0.01)
    petrol = (h(2501.0, formula(0)) - h(2499.0, formula(0))) / 2
    s = gas.equilibrium(gas.mixture(1.0), 2500.0, 2e5)
    assert float(s.h_T) == pytest.approx(petrol, rel=0.01)
    assert float(gas.cp_burned_frozen(gas.mixture(1.0), 2500.0)) == pytest.approx(1463, rel=0.015)


@check(
    "reference library", id="D3", source="Cantera", note="figures of two codes for iso-octane at phi 1; 0.3 %"
)
@pytest.mark.parametrize(
    ("T", "cp", "gamma"), [(1000, 1271, 1.2952), (1150, 1305, 1.2852), (1500, 1370, 1.2681)]
)
def test_exhaust_gas_of_iso_octane(
    burned: Any, elements: Callable[..., dict[str, float]], T: float, cp: float, gamma: float
) -> None:
    """Our species polynomials, on the composition that Cantera gives for iso-octane in air with argon."""
    burned.TPX = T, 101325.0, elements(*ISO_OCTANE, 1.0)
    burned.equilibrate("TP")
    found = float(burned.Y @ [gas._cp_polynomial(c, T) for c in gas._data().burned_cp])
    assert burned.mean_molecular_weight == pytest.approx(28.71, rel=3e-3)
    assert found == pytest.approx(cp, rel=3e-3)
    R = R0 * 1e3 / burned.mean_molecular_weight
    assert found / (found - R) == pytest.approx(gamma, rel=3e-3)


@check(
    "reference library",
    id="A4",
    source="CoolProp",
    note="lemmon2000 at 1 bar; 0.5 %, of which real gas is 0.15 % at 300 K",
)
@pytest.mark.parametrize("T", [300.0, 400.0, 500.0, 1000.0])
def test_air_heat_capacity(T: float) -> None:
    CP = pytest.importorskip("CoolProp.CoolProp")
    cp = CP.PropsSI("C", "T", T, "P", 1e5, "Air")
    gamma = cp / CP.PropsSI("O", "T", T, "P", 1e5, "Air")
    ours = float(gas.cp_air(T))
    assert ours == pytest.approx(cp, rel=5e-3)
    R = R0 / fuel.AIR_MOLAR_MASS
    assert ours / (ours - R) == pytest.approx(gamma, rel=5e-3)


# --- Properties ---


@check("conservation", note="complete burning at 298.15 K gives lhv + h_vap; round-off")
@pytest.mark.parametrize("v", [0.0, 0.1, 0.85, 1.0])
@pytest.mark.parametrize("petrol", [42.5e6, 43.0e6])
def test_heat_release_is_the_stated_one(v: float, petrol: float) -> None:
    """Lean mixture to CO2 and H2O vapour: counted from CODATA formation enthalpies, not from our tables."""
    mix = gas.mixture(1.3, v, petrol)
    c, h, _ = formula(v)
    products = c * -393.51e3 + h / 2 * -241.826e3  # [J/kg fuel]
    release = float(gas.h_fresh(mix, 298.15)) / mix.fuel_fraction - products
    assert release == pytest.approx(mix.lhv + mix.h_vap, rel=2e-5)  # CODATA against NASA: 2e-5


@check("limit", note="air is zero at 298.15 K by definition")
def test_enthalpy_reference() -> None:
    assert float(gas.h_air(298.15)) == pytest.approx(0.0, abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(lam=lams, v=shares, T=st.floats(300, 3400), ln_p=st.floats(np.log(0.25e5), np.log(380e5)))
def test_derivatives_belong_to_the_interpolant(lam: float, v: float, T: float, ln_p: float) -> None:
    mix = gas.mixture(round(lam, 2), round(v, 1))
    p = float(np.exp(ln_p))
    s = gas.equilibrium(mix, T, p)
    dT, dp = 1e-2, 1e-5 * p
    up, down = gas.equilibrium(mix, T + dT, p), gas.equilibrium(mix, T - dT, p)
    assert float(s.h_T) == pytest.approx(float(up.h - down.h) / (2 * dT), rel=1e-5)
    assert float(s.R_T) == pytest.approx(float(up.R - down.R) / (2 * dT), rel=1e-4, abs=1e-8)
    up, down = gas.equilibrium(mix, T, p + dp), gas.equilibrium(mix, T, p - dp)
    assert float(s.h_p * p) == pytest.approx(float(up.h - down.h) / (2e-5), rel=1e-4, abs=2.0)
    assert float(s.R_p * p) == pytest.approx(float(up.R - down.R) / (2e-5), rel=1e-4, abs=1e-6)


@check(
    "limit",
    note="dissociation takes heat up: h_eq >= h_frozen; 60 J/kg is ringing of the spline below 1600 K",
)
@settings(max_examples=60, deadline=None)
@given(lam=lams, v=shares, T=st.floats(300, 3400), ln_p=st.floats(np.log(0.25e5), np.log(380e5)))
def test_equilibrium_lies_above_frozen(lam: float, v: float, T: float, ln_p: float) -> None:
    mix = gas.mixture(lam, v)
    h_eq = float(gas.h_equilibrium(mix, T, np.exp(ln_p)))
    h_fr = float(gas.h_burned_frozen(mix, T))
    slack = 60.0 if T < 1600 else 1.2e3 if T < 1850 else 0.0  # 1600-1850 K: the composition froze at 20 bar
    assert h_eq >= h_fr - slack
    if T < 1550:
        assert h_eq == pytest.approx(h_fr, abs=60.0)


@settings(max_examples=40, deadline=None)
@given(lam=lams, v=shares)
def test_heat_capacities_stay_sane(lam: float, v: float) -> None:
    mix = gas.mixture(lam, v)
    T = np.linspace(250, 3200, 400)
    assert np.all((gas.cp_fresh(mix, T) > 950) & (gas.cp_fresh(mix, T) < 2300))
    assert np.all((gas.cp_burned_frozen(mix, T) > 950) & (gas.cp_burned_frozen(mix, T) < 1800))
    for p in (0.3e5, 10e5, 300e5):
        assert np.all(gas.equilibrium(mix, T, p).h_T > 950)


@check("limit", note="the mass fractions of the elements are kept by the interpolation: exact")
@settings(max_examples=40, deadline=None)
@given(lam=lams, v=shares)
def test_interpolation_keeps_the_elements(lam: float, v: float) -> None:
    d, w = gas._data(), float(fuel.ethanol_mass_share(v))
    Y = sum(weights @ d.composition[k] for k, weights in gas._node_weights(lam, w))
    moles = np.asarray(Y) / d.burned_molar_mass
    carbon, hydrogen = moles[2] + moles[4], 2 * moles[3] + 2 * moles[5] + moles[6] + moles[7]
    c, h, _ = formula(v)
    x = gas.mixture(lam, v).fuel_fraction
    assert np.sum(Y) == pytest.approx(1.0, abs=1e-9)
    assert carbon == pytest.approx(c * x, rel=1e-4)  # atomic weights: ours against Cantera's
    assert hydrogen == pytest.approx(h * x, rel=1e-4)


def test_the_flame_is_hottest_slightly_rich() -> None:
    lam = np.arange(0.80, 1.15, 0.01)
    T = [ideal_cycle.adiabatic_flame_temperature(gas.mixture(round(float(x), 2)), 750.0, 30e5) for x in lam]
    assert 0.92 <= lam[int(np.argmax(T))] <= 0.99


def test_a_mixture_outside_the_tables_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"0\.6\.\.1\.6"):
        gas.mixture(0.55)
    with pytest.raises(OutOfRange, match="volume share"):
        gas.mixture(1.0, 10.0)


def test_a_cached_mixture_is_the_same_object() -> None:
    assert gas.mixture(0.9, 0.1) is gas.mixture(0.9, 0.1)


# --- The data file ---


@check(
    "reference library",
    source="Cantera",
    note="the shipped file made anew at three of its nodes; 32-bit storage",
)
def test_the_recipe_makes_the_shipped_tables(ct: Any) -> None:
    tools = Path(__file__).resolve().parents[2] / "tools"
    sys.path.insert(0, str(tools))
    try:
        import make_gas_tables as recipe
    finally:
        sys.path.remove(str(tools))
    d = gas._data()
    g = recipe.burned_gas()
    T, ln_p = recipe.temperatures()[recipe.FIRST_EXCESS :], recipe.log_pressures()
    assert tuple(d.lam_nodes) == recipe.LAM_NODES
    for k, j in ((3, 0), (23, 1), (35, 2)):
        lam, share = float(d.lam_nodes[k]), float(d.s_nodes[j])
        Y = recipe.frozen_composition(g, lam, share)
        np.testing.assert_allclose(d.composition[k, j], Y, atol=1e-9)
        made = recipe.excess(g, lam, share, Y, T[::6], ln_p[::6]) * recipe.switch(T[::6])[None, :, None]
        np.testing.assert_allclose(d.h_excess[k, j][::6, ::6], made[0], rtol=2e-6, atol=2.0)
        np.testing.assert_allclose(d.R_excess[k, j][::6, ::6], made[1], rtol=2e-6, atol=1e-4)


def test_the_sidecar_says_where_the_data_come_from() -> None:
    folder = files("boostwright.library") / "gas"
    card = tomllib.loads((folder / "burned_gas.toml").read_text(encoding="utf-8"))
    assert card["excess_shape"] == list(gas._data().h_excess.shape)
    assert card["lambda_nodes"] == list(gas._data().lam_nodes)
    assert {"made_with", "date", "cantera", "species_data", "recipe"} <= card.keys()
