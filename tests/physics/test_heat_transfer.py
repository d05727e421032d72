"""Heat transfer in cylinder, port and manifold."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.physics import heat_transfer as ht
from tests.labels import check


@check("published", id="I7", source="heywood1988", note="eq. 12.19 from memory; 0.2 %")
def test_woschni() -> None:
    assert float(ht.woschni_coefficient(0.086, 3e6, 1500.0, 20.0)) == pytest.approx(633.9, rel=2e-3)


@check(
    "published",
    id="I7",
    source="woschni1967",
    note="110 d^-0.2 p^0.8 T^-0.53 w^0.8 kcal/m2hK, from memory; 0.2 %: only the T exponent differs",
)
def test_woschni_against_its_first_form() -> None:
    first = 110 * 0.086**-0.2 * (3e6 / 98066.5) ** 0.8 * 1500**-0.53 * 20**0.8 * 1.163
    assert first == pytest.approx(734.6, rel=2e-3)
    ours = float(ht.woschni_coefficient(0.086, 3e6, 1500.0, 20.0))
    assert ours * 1500**0.02 == pytest.approx(first, rel=2e-3)


@check(
    "published",
    id="I7",
    source="hohenberg1979",
    note="130 V^-0.06 p^0.8 T^-0.4 (S_p + 1.4)^0.8 in bar, from memory, by hand at one state; last digit",
)
def test_hohenberg() -> None:
    assert float(ht.hohenberg_coefficient(80e-6, 40e5, 1800.0, 8.6)) == pytest.approx(1378, abs=0.5)


def test_hohenberg_and_woschni_agree_roughly() -> None:
    """Two correlations of one thing, without any factor; says nothing of either."""
    w = ht.woschni_gas_velocity(8.6, 3.0e3)
    a = float(ht.woschni_coefficient(0.086, 40e5, 1800.0, w))
    b = float(ht.hohenberg_coefficient(80e-6, 40e5, 1800.0, 8.6))
    assert 0.6 < a / b < 1.4


def test_woschni_gas_velocity() -> None:
    assert float(ht.woschni_gas_velocity(10.0)) == pytest.approx(22.8)
    assert float(ht.woschni_gas_velocity(10.0, gas_exchange=True)) == pytest.approx(61.8)
    assert float(ht.woschni_gas_velocity(10.0, 1000.0)) == pytest.approx(22.8 + 3.24)
    assert float(ht.motored_pressure(1e5, 5e-4, 5e-5)) == pytest.approx(1e5 * 10**1.32)


@given(st.floats(1e5, 120e5), st.floats(400, 2700), st.floats(2, 25))
def test_coefficient_directions(p: float, T: float, speed: float) -> None:
    for law in (
        lambda p, T, s: ht.woschni_coefficient(0.086, p, T, ht.woschni_gas_velocity(s)),
        lambda p, T, s: ht.hohenberg_coefficient(2e-4, p, T, s),
    ):
        here = float(law(p, T, speed))
        assert float(law(1.1 * p, T, speed)) > here
        assert float(law(p, 1.1 * T, speed)) < here
        assert float(law(p, T, 1.1 * speed)) > here


@check("limit", note="no charge, no heat: every wall is at coolant temperature; more charge, hotter walls")
def test_wall_temperatures() -> None:
    assert all(float(x) == 368.0 for x in ht.wall_temperatures(0.0))
    walls = ht.wall_temperatures(np.array([1.0, 2.5, 4.0]))
    np.testing.assert_allclose([float(x[1]) for x in walls], [478, 448, 393])
    for x in walls:
        assert np.all(np.diff(x) > 0)
    assert np.all(walls.piston > walls.head)
    assert np.all(walls.head > walls.liner)


@check("limit", note="energy: what the gas loses is what the wall gives off; 1e-6")
@given(st.floats(600, 1300), st.floats(0.002, 0.06), st.floats(0.05, 0.6))
def test_manifold_balance(T: float, flow: float, length: float) -> None:
    out = ht.manifold_outlet(T, flow, 0.038, length)
    assert float(out.heat) == pytest.approx(flow * 1230 * (T - float(out.temperature)), rel=1e-6)
    assert 330 < float(out.wall) < float(out.temperature) < T


@check("limit", id="U3", note="a black runner in the dark: sigma T^4, 56 703.7 W/m2 at 1000 K (CODATA); 1e-9")
def test_light_of_a_hot_runner() -> None:
    found = ht.manifold_outlet(
        1100.0, 0.03, 0.04, 0.3, 0.0, outside_coefficient=0.0, emissivity=1.0, wall_thickness=0.0
    )
    surface = np.pi * 0.04 * 0.3
    assert float(found.heat) / surface == pytest.approx(
        56703.74419 * (float(found.wall) / 1e3) ** 4, rel=1e-9
    )


@check(
    "published",
    source="depcik2002",
    note="Nu = 0.07 Re^0.75; port 35 x 85 mm, 1123 K, 14.76 g/s, evaluated apart: 1047 K; 1 K",
)
def test_port_outlet() -> None:
    h = ht.depcik_assanis_coefficient(0.01476, 0.035, 1123.0, pulsation=1.5)
    found = ht.pipe_outlet_temperature(1123.0, 520.0, h * np.pi * 0.035 * 0.085, 0.01476 * 1230)
    assert float(found) == pytest.approx(1047, abs=1)


@check("limit", note="a pipe of no length changes nothing; an endless one ends at the wall")
def test_pipe_limits() -> None:
    assert float(ht.pipe_outlet_temperature(1100.0, 500.0, 0.0, 20.0)) == 1100.0
    assert float(ht.pipe_outlet_temperature(1100.0, 500.0, 1e6, 20.0)) == pytest.approx(500.0)
