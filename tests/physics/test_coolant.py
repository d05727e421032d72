"""Coolant: properties, boiling, heat balance, time to a limit."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate

from boostwright.errors import OutOfRange
from boostwright.physics import coolant
from boostwright.physics.atmosphere import standard_atmosphere
from tests.labels import check

C0 = 273.15


@pytest.fixture(scope="module")
def props() -> Any:
    return pytest.importorskip("CoolProp.CoolProp").PropsSI


@check("reference library", id="T1", source="melinder2010", note="half glycol by mass at 80 and 90 degC; 1 %")
@pytest.mark.parametrize(
    ("celsius", "density", "capacity", "viscosity"),
    [(90, 1019.0, 3615.8, 0.820e-3), (80, 1026.4, 3581.6, 0.968e-3)],
)
def test_properties(celsius: float, density: float, capacity: float, viscosity: float) -> None:
    T = celsius + C0
    assert float(coolant.coolant_density(T, 0.5)) == pytest.approx(density, rel=0.01)
    assert float(coolant.coolant_heat_capacity(T, 0.5)) == pytest.approx(capacity, rel=0.01)
    assert float(coolant.coolant_viscosity(T, 0.5)) == pytest.approx(viscosity, rel=0.01)


@check(
    "reference library",
    id="T1",
    source="melinder2010",
    note="freezing at half glycol -36.0 degC; 0.2 K, the fit's",
)
def test_freezing() -> None:
    assert float(coolant.freezing_point(0.5)) - C0 == pytest.approx(-36.0, abs=0.2)
    assert float(coolant.freezing_point(0.0)) == pytest.approx(C0)


@check(
    "reference library",
    id="T1",
    source="CoolProp",
    note="whole field of the fit; the errors that the docstrings state",
)
def test_fits_over_their_field(props: Any) -> None:
    for x in np.arange(0, 0.601, 0.04):
        freezing = props("T_FREEZE", "T", 300, "P", 1e5, f"INCOMP::MEG[{x}]")
        assert float(coolant.freezing_point(x)) == pytest.approx(freezing, abs=0.2)
        for T in np.arange(max(263.15, freezing + 1), 373.1, 5.0):
            theirs = [props(k, "T", T, "P", 4e5, f"INCOMP::MEG[{x}]") for k in "DCV"]
            assert float(coolant.coolant_density(T, x)) == pytest.approx(theirs[0], rel=2e-3)
            assert float(coolant.coolant_heat_capacity(T, x)) == pytest.approx(theirs[1], rel=5e-3)
            assert float(coolant.coolant_viscosity(T, x)) == pytest.approx(theirs[2], rel=5e-2)


@check(
    "reference library",
    source="CoolProp",
    note="plain water under pressure, beyond the fit's 373 K, to 403 K",
)
@pytest.mark.parametrize("T", [383.15, 393.15, 402.0])
def test_carried_on_to_hot_water(props: Any, T: float) -> None:
    assert float(coolant.coolant_density(T, 0.0)) == pytest.approx(
        props("D", "T", T, "P", 4e5, "Water"), rel=5e-3
    )
    assert float(coolant.coolant_heat_capacity(T, 0.0)) == pytest.approx(
        props("C", "T", T, "P", 4e5, "Water"), rel=0.01
    )


@check("common practice", id="T1", note="50 % by volume is about 53 % by mass; half a per cent point")
def test_volume_and_mass() -> None:
    assert float(coolant.mass_fraction(0.5)) == pytest.approx(0.53, abs=0.005)
    assert coolant.mass_fraction([0.0, 1.0]) == pytest.approx([0.0, 1.0])


def test_directions_of_the_properties() -> None:
    x = np.linspace(0, 0.6, 13)
    assert np.all(np.diff(coolant.coolant_density(353.0, x)) > 0)
    assert np.all(np.diff(coolant.coolant_heat_capacity(353.0, x)) < 0)
    assert np.all(np.diff(coolant.coolant_viscosity(353.0, x)) > 0)
    assert np.all(np.diff(coolant.freezing_point(x)) < 0)
    T = np.linspace(275.0, 400.0, 26)
    assert np.all(np.diff(coolant.coolant_viscosity(T, 0.5)) < 0)
    assert np.all(np.diff(coolant.coolant_density(T, 0.5)) < 0)


def test_percent_and_celsius_are_refused() -> None:
    with pytest.raises(OutOfRange, match="not 50"):
        coolant.coolant_density(353.0, 50.0)
    with pytest.raises(OutOfRange, match="Celsius"):
        coolant.coolant_density(90.0, 0.5)
    with pytest.raises(OutOfRange, match="counts above the outside"):
        coolant.boiling_point(1.1, 1.0)


@check(
    "reference library",
    id="T5",
    source="CoolProp",
    note="water under a 1.1 bar cap at sea level, 121.96 degC; 0.1 K",
)
def test_boiling_under_the_cap() -> None:
    assert float(coolant.boiling_point(1.1e5)) - C0 == pytest.approx(121.96, abs=0.1)


@check("reference library", id="T5", source="CoolProp", note="water from no cap at 4000 m to 2 bar; 0.1 K")
@pytest.mark.parametrize(("cap", "altitude"), [(0.0, 0.0), (0.0, 4000.0), (0.9e5, 2000.0), (2e5, 0.0)])
def test_boiling_at_altitude(props: Any, cap: float, altitude: float) -> None:
    p = float(standard_atmosphere(altitude).pressure)
    assert float(coolant.boiling_point(cap, p)) == pytest.approx(
        props("T", "P", p + cap, "Q", 0, "Water"), abs=0.1
    )


@check(
    "common practice", id="T5", note="half and half by volume boils near 107 to 108 degC in the open; 1.5 K"
)
def test_boiling_of_a_mixture() -> None:
    assert float(coolant.boiling_point(0.0, glycol=coolant.mass_fraction(0.5))) - C0 == pytest.approx(
        107.5, abs=1.5
    )
    found = coolant.boiling_point(1e5, glycol=np.linspace(0, 0.6, 13))
    assert np.all(np.diff(found) > 0)
    assert np.all(np.diff(coolant.boiling_point(np.linspace(0, 2e5, 9), glycol=0.5)) > 0)


@check(
    "reference library",
    id="T5",
    source="chemicals",
    note="glycol's vapour pressure by its own law; 15 % from 100 to 197 degC",
)
@pytest.mark.parametrize("celsius", [110.0, 130.0, 160.0])
def test_vapour_pressure_of_glycol(celsius: float) -> None:
    pytest.importorskip("chemicals")
    from thermo import VaporPressure

    theirs = VaporPressure(CASRN="107-21-1")(celsius + C0)
    ours = 101325.0 * np.exp(coolant.GLYCOL_SLOPE * (1 / coolant.GLYCOL_BOILS - 1 / (celsius + C0)))
    assert ours == pytest.approx(theirs, rel=0.15)


@check("limit", id="T2", note="75 kW into 2 L/s of T1's half glycol at 90 degC: 10.18 K; last digit")
def test_temperature_rise() -> None:
    assert float(coolant.coolant_temperature_rise(75e3, 2e-3, 1019.0, 3615.8)) == pytest.approx(
        10.18, abs=0.005
    )


# ------------------------------------------------------------------------------------ warming by one lump

LUMP = {"heat": 60e3, "conductance": 900.0, "capacity": 60e3, "T_air": 308.15}


@check("limit", note="the differential equation by an ODE solver; 1e-7")
@pytest.mark.parametrize("seconds", [5.0, 60.0, 600.0])
def test_temperature_after(seconds: float) -> None:
    run = integrate.solve_ivp(
        lambda t, T: coolant.temperature_slope(T=T, **LUMP), (0, seconds), [358.15], rtol=1e-10, atol=1e-9
    )
    ours = float(coolant.coolant_temperature_after(seconds, 358.15, **LUMP))
    assert ours == pytest.approx(run.y[0, -1], rel=1e-7)


@check(
    "limit", note="time put back gives the limit; no radiator: straight line; long time: Ta + Q/UA; round-off"
)
def test_time_to_a_limit() -> None:
    t = float(coolant.time_to_temperature(373.15, 358.15, **LUMP))
    assert float(coolant.coolant_temperature_after(t, 358.15, **LUMP)) == pytest.approx(373.15)
    bare = {**LUMP, "conductance": 0.0}
    assert float(coolant.time_to_temperature(373.15, 358.15, **bare)) == pytest.approx(15.0)
    assert float(coolant.coolant_temperature_after(15.0, 358.15, **bare)) == pytest.approx(373.15)
    rest = float(coolant.rest_temperature(60e3, 900.0, 308.15))
    assert rest == pytest.approx(308.15 + 66.6667)
    assert float(coolant.coolant_temperature_after(1e5, 358.15, **LUMP)) == pytest.approx(rest)
    assert float(coolant.rest_temperature(60e3, 0.0, 308.15)) == np.inf


def test_time_to_a_limit_at_its_ends() -> None:
    assert float(coolant.time_to_temperature(380.0, 358.15, **LUMP)) == np.inf  # rests at 374.8 K
    assert float(coolant.time_to_temperature(350.0, 358.15, **LUMP)) == 0.0
    assert float(coolant.time_to_temperature(370.0, 358.15, **{**LUMP, "heat": 0.0})) == np.inf
    heats = np.array([60e3, 80e3, 120e3])
    assert np.all(np.diff(coolant.time_to_temperature(373.15, 358.15, **{**LUMP, "heat": heats})) < 0)


@given(st.floats(10e3, 200e3), st.floats(0, 2000), st.floats(320, 400))
def test_slope_and_heat_are_inverse(heat: float, conductance: float, T: float) -> None:
    slope = coolant.temperature_slope(heat, conductance, 5e4, T, 305.0)
    assert float(coolant.heat_into_coolant(slope, conductance, 5e4, T, 305.0)) == pytest.approx(
        heat, rel=1e-9
    )


# ------------------------------------------------------------------------------------------- heat balance


@check(
    "reference library",
    id="T3",
    source="Cantera",
    note="equilibrium gas at T, frozen; half a per cent point as given",
)
@pytest.mark.parametrize(
    ("phi", "T", "percent"),
    [
        (1.0, 1000, 29.8),
        (1.0, 1150, 36.8),
        (1.0, 1250, 41.6),
        (1.2, 1000, 25.7),
        (1.2, 1150, 31.7),
        (1.2, 1250, 35.8),
    ],
)
def test_exhaust_share(
    burned: Any, elements: Callable[..., dict[str, float]], phi: float, T: float, percent: float
) -> None:
    burned.TPX = T, 101325.0, elements(8, 18, 0, 1 / phi)
    burned.equilibrate("TP")
    hot = burned.enthalpy_mass
    burned.TP = 298.15, 101325.0
    air = 12.5 / phi * (31.998 + 0.78084 / 0.20946 * 28.0134 + 0.0097 / 0.20946 * 39.948) / 114.23
    found = float(coolant.exhaust_heat_share(hot - burned.enthalpy_mass, air, 44.38e6))
    assert found * 100 == pytest.approx(percent, abs=0.5)


@check(
    "published",
    id="T4",
    source="heywood1988",
    note="bands of table 12.1, from memory: their middles sum to 0.95 to 1.03",
)
def test_bands_close() -> None:
    middle = coolant.HeatBalance(*(sum(band) / 2 for band in coolant.HEAT_BALANCE_BANDS))
    assert 0.95 <= float(coolant.whole_of(middle)) <= 1.03
    assert all(float(x) == 0.0 for x in coolant.outside_bands(middle).values())


@check(
    "published",
    id="T4",
    source="heywood1988",
    note="exhaust at phi 1, 1150 K (T3's 36.8 %) lies in the band of 34 to 45 %",
)
def test_exhaust_share_lies_in_its_band() -> None:
    low, high = coolant.HEAT_BALANCE_BANDS.exhaust
    assert low <= 0.368 <= high


def test_outside_bands() -> None:
    wrong = coolant.HeatBalance(0.30, 0.10, 0.05, 0.03, 0.40)
    found = coolant.outside_bands(wrong)
    assert float(found["brake"]) == pytest.approx(0.02)
    assert float(found["coolant"]) == pytest.approx(-0.07)
    assert float(found["exhaust"]) == 0.0
    assert float(coolant.whole_of(wrong)) == pytest.approx(0.88)
