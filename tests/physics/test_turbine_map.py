"""A turbine fitted to the points of a map, and the heat that its housing takes."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.errors import OutOfRange
from boostwright.library import turbo_sizes
from boostwright.physics.gas import cp_air, cp_burned_frozen, mixture
from boostwright.physics.turbine import ExhaustGas, inlet_pressure_for_flow, isentropic_drop, turbine_flow
from boostwright.physics.turbine_map import TurbineFit, fit_turbine
from boostwright.physics.turbine_unit import flow_through, pressure_before, work_of
from boostwright.physics.turbo_heat import compressor_heating, housing_loss
from tests.labels import check

RECIPE = turbo_sizes.turbine_recipe()
AIR = ExhaustGas(287.05, float(cp_air(288.15)), 0.0, 288.15)
MIX = mixture(0.85)
PETROL = ExhaustGas(MIX.R_b, float(cp_burned_frozen(MIX, 1150.0)), 0.2, 1150.0)
DIAMETER = 0.050
RATIO = np.array([1.2, 1.4, 1.7, 2.0, 2.4, 2.8])


def fitted(
    flow: Any, efficiency: Any = np.nan, speed: Any = np.nan, ratio: Any = RATIO, **more: Any
) -> TurbineFit:
    usual: dict[str, Any] = {"usual_peak": 0.70, "efficiency_sd": 0.03, "reference": (288.15, 101325.0)}
    return fit_turbine(ratio, flow, efficiency, speed, DIAMETER, RECIPE, **(usual | more))


@check("limit", note="a known area and exponent come back; 1e-4 of the area, 0.01 of the exponent")
@pytest.mark.parametrize(("area", "exponent"), [(3e-4, 2.0), (5e-4, 1.75), (9e-4, 2.3)])
def test_known_swallowing_comes_back(area: float, exponent: float) -> None:
    flow = turbine_flow(area, 101325.0, 288.15, 101325.0 / RATIO, AIR, exponent)
    found = fitted(flow)
    assert found.turbine.area == pytest.approx(area, rel=1e-4)
    assert found.turbine.exponent == pytest.approx(exponent, abs=0.01)
    assert found.flow_rms < 1e-4
    assert found.expansion == (1.2, 2.8)


@check("limit", note="one point 30 % wrong moves the area by less than 3 % (soft loss)")
def test_one_wrong_point() -> None:
    flow = turbine_flow(5e-4, 101325.0, 288.15, 101325.0 / RATIO, AIR)
    wrong = np.where(np.arange(6) == 3, 1.3 * flow, flow)
    assert fitted(wrong).turbine.area == pytest.approx(5e-4, rel=0.03)


@check("limit", note="efficiencies on a parabola over the speed ratio give its top and place back; 2e-3")
def test_known_efficiency_comes_back() -> None:
    flow = turbine_flow(5e-4, 101325.0, 288.15, 101325.0 / RATIO, AIR)
    ratio = np.array([0.50, 0.55, 0.62, 0.66, 0.71, 0.78])
    drop = isentropic_drop(AIR, 288.15, RATIO)
    speed = ratio * np.sqrt(2 * drop) / (DIAMETER / 2)
    eta = 0.68 * (2 * ratio / 0.63 - (ratio / 0.63) ** 2)
    found = fitted(flow, eta, speed)
    assert found.turbine.peak == pytest.approx(0.68, abs=2e-3)
    assert found.turbine.best_speed_ratio == pytest.approx(0.63, abs=2e-3)
    assert found.speed_ratio == pytest.approx((0.50, 0.78), abs=1e-3)
    assert float(found.turbine.efficiency(0.63)) == pytest.approx(0.68, abs=2e-3)
    assert found.taken == ()


def test_what_is_taken_for_granted_is_said() -> None:
    flow = turbine_flow(5e-4, 101325.0, 288.15, 101325.0 / RATIO, AIR)
    bare = fitted(flow, reference=(None, None))
    assert any("reference state" in text for text in bare.taken)
    assert any("no efficiency" in text for text in bare.taken)
    assert bare.turbine.peak == 0.70
    assert bare.efficiency_sd == 0.03
    assert bare.area_sd > fitted(flow).area_sd
    slow = fitted(flow, 0.65)
    assert any("no speeds" in text for text in slow.taken)
    assert slow.turbine.peak == pytest.approx(0.65)
    few = fitted(flow[:2], ratio=RATIO[:2])
    assert few.turbine.exponent == 2.0
    assert any("too few points" in text for text in few.taken)


def test_points_of_no_turbine_are_refused() -> None:
    with pytest.raises(OutOfRange, match="scatter"):
        fitted(np.array([0.02, 0.2, 0.03, 0.15, 0.02, 0.2]))
    with pytest.raises(OutOfRange, match="no point"):
        fitted(0.1, ratio=np.array([1.0, 1.01]))


@check("limit", note="flow and pressure are inverse to each other for any exponent; 1e-9")
@settings(max_examples=60, deadline=None)
@given(st.floats(1.6, 2.4), st.floats(1.002, 4.0), st.floats(80e3, 160e3))
def test_swallowing_and_its_inverse(exponent: float, ratio: float, p4: float) -> None:
    flow = turbine_flow(4e-4, ratio * p4, 1150.0, p4, PETROL, exponent)
    back = inlet_pressure_for_flow(flow, 4e-4, 1150.0, p4, PETROL, exponent)
    assert float(back) == pytest.approx(ratio * p4, rel=1e-9)


@check(
    "conservation",
    note="power is flow times drop times efficiency, of a mapped turbine too; 1e-12",
)
def test_work_of_a_mapped_turbine() -> None:
    flow = turbine_flow(5e-4, 101325.0, 288.15, 101325.0 / RATIO, AIR, 1.8)
    turbine = fitted(flow).turbine
    m = flow_through(turbine, 2e5, 1150.0, 1.1e5, PETROL)
    assert float(pressure_before(turbine, m, 1150.0, 1.1e5, PETROL)) == pytest.approx(2e5, rel=1e-9)
    work = work_of(turbine, m, 2 / 1.1, 1150.0, 1.1e4, PETROL)
    drop = float(isentropic_drop(PETROL, 1150.0, 2 / 1.1))
    assert float(work.power) == pytest.approx(
        float(m) * drop * float(turbine.efficiency(work.speed_ratio)), rel=1e-12
    )


@check(
    "common practice",
    note="the housing takes 10 to 40 K and 2 to 5 kW at full load of two litres, 40 to 100 K at part load",
)
def test_heat_of_the_turbine_housing() -> None:
    m, T3 = np.array([0.06, 0.12, 0.17]), np.array([1040.0, 1150.0, 1210.0])
    full = housing_loss(m, T3, 1300.0, 0.050)
    assert np.all((full > 10.0) & (full < 40.0))
    assert 2e3 < m[-1] * 1300.0 * full[-1] < 5e3
    slow = housing_loss(0.012, 900.0, 1230.0, 0.050)
    assert 40.0 < float(slow) < 100.0


@check(
    "common practice",
    note="air picks up 20 to 37 K behind the compressor at 0.03 kg/s with hot gas, 4 to 7 K at 0.15 kg/s",
)
def test_heat_that_the_air_picks_up() -> None:
    for sds in (-0.7, 0.0, 0.7):
        rise = compressor_heating(np.array([0.03, 0.15]), 370.0, 1100.0, sds=sds)
        assert 19.5 < rise[0] < 37.5  # half of the last digit
        assert 3.5 < rise[1] < 7.5


@check("limit", note="no heat without a difference or without a conductance; never past the other side")
@settings(max_examples=40, deadline=None)
@given(st.floats(1e-4, 0.5), st.floats(300, 1300))
def test_limits_of_heat(m: float, T3: float) -> None:
    assert float(housing_loss(m, T3, 1250.0, 0.05, T_outside=T3)) == pytest.approx(0.0, abs=1e-9)
    assert (
        0.0 <= float(housing_loss(m, T3, 1250.0, 0.05, T_outside=300.0)) <= (T3 - 300.0) * (1 + 1e-12) + 1e-9
    )
    assert float(housing_loss(m, T3, 1250.0, 0.05, sds=-10.0)) == 0.0
    assert 0.0 <= float(compressor_heating(m, 300.0, T3)) <= T3 - 300.0 + 1e-9
    assert float(compressor_heating(m, T3, T3)) == 0.0
