"""Slider-crank, rod force and the limits they are set against."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.physics import slider_crank as sc
from boostwright.physics import strength
from boostwright.physics.injection import air_per_cylinder
from tests.labels import check

BORE = (4 * 500e-6 / np.pi) ** (1 / 3)  # square, 3.0 L six


@check(
    "published",
    id="I1",
    source="an open textbook's companion, chapter 16, example 16.1; its title was not noted",
    note="3.0 L six, square, 9:1, rod 172 mm, 3000 rev/min, 20 deg after TDC; 0.32 cm, 81.24 cm3, 5.71 m/s "
    "printed there, the rest worked out from it; 0.05 %",
)
def test_worked_example() -> None:
    theta = np.radians(20.0)
    assert pytest.approx(86.03, rel=5e-4) == BORE * 1e3
    assert float(sc.clearance_volume(BORE, BORE, 9.0)) * 1e6 == pytest.approx(62.5, rel=5e-4)
    assert float(sc.piston_travel(theta, BORE, 0.172)) * 1e2 == pytest.approx(0.3224, rel=5e-4)
    assert float(sc.cylinder_volume(theta, BORE, BORE, 0.172, 9.0)) * 1e6 == pytest.approx(81.24, rel=5e-4)
    assert float(sc.mean_piston_speed(BORE, 100 * np.pi)) == pytest.approx(8.60, rel=5e-4)
    assert float(sc.piston_speed(theta, BORE, 0.172, 100 * np.pi)) == pytest.approx(5.712, rel=5e-4)


@check("limit", id="I2", note="1 - r^(1-g); printed digits")
def test_otto_efficiency() -> None:
    np.testing.assert_allclose(sc.otto_efficiency([8, 9, 10], 1.4), [0.56472, 0.58476, 0.60189], atol=5e-6)


@check(
    "limit",
    id="I9",
    note="air of 95 % volumetric efficiency, 2.0 L, 6000 rev/min, 1.184 kg/m3: 112.5 g/s; exact",
)
def test_air_flow_arithmetic() -> None:
    charge = air_per_cylinder(0.95, 101325.0, 298.15, 0.5e-3)  # 1.184 kg/m3
    assert float(charge) * 4 * 6000 / 120 == pytest.approx(0.1125, abs=5e-5)


@given(
    st.floats(-6.3, 12.6), st.floats(0.06, 0.1), st.floats(0.06, 0.1), st.floats(1.4, 2.2), st.floats(7, 14)
)
def test_slopes(theta: float, bore: float, stroke: float, rod_ratio: float, r: float) -> None:
    rod, d = rod_ratio * stroke, 1e-5
    up, down = (sc.cylinder_volume(theta + s * d, bore, stroke, rod, r) for s in (1, -1))
    scale = float(sc.swept_volume(bore, stroke))
    assert float(sc.volume_slope(theta, bore, stroke, rod)) == pytest.approx(
        float(up - down) / (2 * d), abs=1e-7 * scale
    )
    a, b = (sc.piston_speed(theta + s * d, stroke, rod, 1.0) for s in (1, -1))
    acceleration = float(sc.piston_acceleration(theta, stroke, rod, 1.0))
    assert acceleration == pytest.approx(float(a - b) / (2 * d), abs=1e-7 * stroke)


@check(
    "limit",
    note="volumes at the dead centres stand in the compression ratio; round-off",
)
@given(st.floats(0.06, 0.1), st.floats(0.06, 0.1), st.floats(1.4, 2.2), st.floats(7, 14))
def test_dead_centres(bore: float, stroke: float, rod_ratio: float, r: float) -> None:
    at = sc.cylinder_volume(np.array([0.0, np.pi, 2 * np.pi]), bore, stroke, rod_ratio * stroke, r)
    assert float(at[1] / at[0]) == pytest.approx(r, rel=1e-12)
    assert float(at[2]) == pytest.approx(float(at[0]), rel=1e-12)


@check("limit", note="two-term series of the acceleration is exact at the dead centres")
def test_inertia_at_dead_centre() -> None:
    exact = float(sc.piston_acceleration(0.0, 0.086, 0.143, 200 * np.pi))
    assert exact == pytest.approx(0.043 * (200 * np.pi) ** 2 * (1 + 0.043 / 0.143), rel=1e-12)


@check(
    "limit", note="86 x 86 mm, rod 143 mm, 0.55 kg: rod force at TDC from hand figures; printed digits [kN]"
)
@pytest.mark.parametrize(
    ("bar", "rpm", "gas", "inertia"), [(65.7, 6000, 37.6, 12.1), (53.0, 4500, 30.2, 6.8)]
)
def test_rod_force(bar: float, rpm: float, gas: float, inertia: float) -> None:
    force = strength.rod_force(
        bar * 1e5, 0.0, 0.086, 0.086, 0.143, rpm * np.pi / 30, strength.reciprocating_mass(0.086)
    )
    assert float(force.gas) / 1e3 == pytest.approx(gas, abs=0.06)
    assert float(force.inertia) / 1e3 == pytest.approx(inertia, abs=0.06)
    assert float(force.net) == pytest.approx(float(force.gas - force.inertia))


def test_pull_at_gas_exchange_grows_with_speed_squared_and_not_with_boost() -> None:
    pull = strength.rod_force(1.5e5, 2 * np.pi, 0.086, 0.086, 0.143, np.array([300.0, 600.0]), 0.55)
    assert float(pull.inertia[1] / pull.inertia[0]) == pytest.approx(4.0)
    assert float(pull.net[1]) < 0


def test_limits_case_and_metal_temperatures() -> None:
    assert float(strength.peak_pressure_limit_case(60e5)) == pytest.approx(72e5)
    assert float(strength.peak_pressure_limit_case(60e5, 0.08, 20e5)) == pytest.approx(92e5)
    assert float(strength.piston_centre_temperature(500.0)) == 560.0
    valve = float(strength.exhaust_valve_head_temperature(1123.15, 448.15)) - 273.15
    assert valve == pytest.approx(0.62 * 850 + 0.38 * 175, abs=1)
