"""Port injectors: pressure, density, size, pulse."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.physics import injection
from tests.labels import check

CC_PER_MIN = 1e-6 / 60


@check("limit", id="J3", note="Bernoulli, rated at a difference of 300 kPa; printed digits")
def test_pressure_scaling() -> None:
    for p, factor in ((200e3, 0.8165), (350e3, 1.0801), (400e3, 1.1547), (500e3, 1.2910)):
        assert float(injection.flow_at_pressure(1.0, p)) == pytest.approx(factor, abs=1e-4)


@check(
    "limit",
    id="J9",
    note="3 bar base pressure against 0.8 bar of boost, regulator not referenced; printed digits",
)
def test_unreferenced_regulator() -> None:
    assert float(injection.flow_at_pressure(1.0, 300e3 - 80e3)) == pytest.approx(0.8563, abs=1e-4)


@check("reference library", id="J4", source="CoolProp", note="density of n-heptane at 20 degC, 1 atm; 0.1 %")
def test_calibration_fluid() -> None:
    CP = pytest.importorskip("CoolProp.CoolProp")
    assert CP.PropsSI("D", "T", 293.15, "P", 101325, "Heptane") == pytest.approx(
        injection.HEPTANE_DENSITY, rel=1e-3
    )
    assert float(injection.flow_at_density(1.0, 745)) == pytest.approx(1.0438, abs=1e-4)
    volume = float(injection.flow_at_density(1.0, 745)) * injection.HEPTANE_DENSITY / 745
    assert volume == pytest.approx(0.9581, abs=1e-4)


@check("limit", id="J5", note="Bernoulli; printed digits")
def test_flow_area() -> None:
    assert float(injection.flow_area(550 * CC_PER_MIN, 300e3)) * 1e6 == pytest.approx(0.3095, abs=5e-5)


@check(
    "limit", id="J6", note="unit arithmetic: the rule '10.5 cc/min per lb/h' hides a density; printed digits"
)
@pytest.mark.parametrize(("density", "cc"), [(720, 10.50), (745, 10.15), (684, 11.05)])
def test_pounds_per_hour(density: float, cc: float) -> None:
    flow = 0.45359237 / 3600  # 1 lb/h [kg/s]
    assert flow / density / CC_PER_MIN == pytest.approx(cc, abs=0.005)


@check("limit", id="J7", note="arithmetic; printed digits")
def test_injector_size() -> None:
    flow = injection.fuel_flow_for_power(150e3, 300 / 3.6e9)
    assert float(flow) == pytest.approx(12.5e-3, rel=1e-9)
    assert float(injection.injector_size(flow, 1, 1.0, 745)) / CC_PER_MIN == pytest.approx(1006.7, abs=0.05)
    assert float(injection.injector_size(flow, 4, 0.85, 745)) / CC_PER_MIN == pytest.approx(296, abs=0.5)


@check("limit", id="J8", note="speed-density arithmetic; 0.1 %")
def test_pulse_width() -> None:
    air = injection.air_per_cylinder(0.95, 180e3, 320, 0.5e-3)
    pulse = injection.pulse_for_charge(air, 11.8, 550 * CC_PER_MIN * 745, 6500 * np.pi / 30)
    assert float(air) == pytest.approx(930.8e-6, rel=1e-3)
    assert float(pulse.fuel) == pytest.approx(78.88e-6, rel=1e-3)
    assert float(pulse.open_time) == pytest.approx(11.55e-3, rel=1e-3)
    assert float(pulse.duty) == pytest.approx(0.626, rel=1e-3)


@check("limit", id="X1", note="J8 read backwards; 0.01 %")
def test_volumetric_efficiency_of_a_pulse() -> None:
    found = injection.volumetric_efficiency_of_pulse(78.88e-6, 11.8, 180e3, 320, 0.5e-3)
    assert float(found) == pytest.approx(0.9500, rel=1e-4)


@given(st.floats(0.3, 1.3), st.floats(30e3, 300e3), st.floats(250, 400), st.floats(8, 16))
def test_pulse_and_volumetric_efficiency_are_inverse(ve: float, p: float, T: float, afr: float) -> None:
    air = injection.air_per_cylinder(ve, p, T, 0.5e-3)
    pulse = injection.pulse_for_charge(air, afr, 5e-3, 300.0)
    back = injection.volumetric_efficiency_of_pulse(pulse.fuel, afr, p, T, 0.5e-3)
    assert float(back) == pytest.approx(ve, rel=1e-12)
