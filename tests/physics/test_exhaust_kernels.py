"""The compiled exhaust side's inner functions against their plain forms, and the step's linear part."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.physics import gas
from boostwright.physics.blow_down import burned_gas, exhaust_tables
from boostwright.physics.kernels import manifold_rates
from boostwright.physics.turbine import ExhaustGas, smooth_flow_constant, turbine_flow
from boostwright.systems.engine.defaults import four_valve_two_litre
from tests.labels import check

MIX = gas.mixture(0.9)
BURNED = burned_gas(0.9, 0.0, MIX.lhv)
CP, H = BURNED.cp[0], BURNED.cp[0] / np.arange(1, 8)


@settings(max_examples=60, deadline=None)
@given(st.floats(400, 2500), st.floats(-150, 150))
def test_gas(T: float, off: float) -> None:
    h, cp = manifold_rates.sensible(T, CP, H)
    assert cp == pytest.approx(float(gas.cp_burned_frozen(MIX, T)), rel=1e-12)
    assert h == pytest.approx(float(gas.h_burned_frozen(MIX, T)) - MIX.h0_b, abs=1e-3)
    found, h_found, _ = manifold_rates.gas_state(h - MIX.R_b * T, T + off, MIX.R_b, CP, H)
    assert found == pytest.approx(T, abs=1e-4)
    assert h_found == pytest.approx(h, abs=0.5)
    wide = BURNED.near(np.array([T]))
    assert float(BURNED.enthalpy(np.array([T]))[0]) == pytest.approx(h, rel=1e-12)
    assert float(wide.cp(T)[0]) == pytest.approx(cp, rel=1e-12)


@settings(max_examples=80, deadline=None)
@given(st.floats(1.0, 4.0), st.floats(1.6, 2.4))
def test_swallowing(ratio: float, exponent: float) -> None:
    near = ExhaustGas(MIX.R_b, 1300.0, 0.0, 1100.0)
    C = 4e-4 * float(smooth_flow_constant(near, 1100.0, exponent))
    RT, p4 = MIX.R_b * 1100.0, 1.1e5
    m, slope = manifold_rates.swallowing(C, ratio * p4, RT, p4, exponent)
    plain = float(turbine_flow(4e-4, ratio * p4, 1100.0, p4, near, exponent))
    s = 1 - ratio**-exponent
    assert m == pytest.approx(plain * np.sqrt(s / (s + manifold_rates.ROUND)), rel=1e-9)
    if ratio > 1.001:
        up, down = (manifold_rates.swallowing(C, ratio * p4 + d, RT, p4, exponent)[0] for d in (1.0, -1.0))
        assert slope == pytest.approx((up - down) / 2.0, rel=1e-4)


def test_no_flow_against_a_higher_pressure() -> None:
    assert manifold_rates.swallowing(3e-4, 1.0e5, 3.2e5, 1.1e5, 2.0) == (0.0, 0.0)


@check(
    "conservation", note="what the implicit part moves is neither made nor lost, whatever the state; 1e-12"
)
@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from([1, 2]))
def test_the_implicit_part_keeps_mass_and_energy(seed: int, halves: int) -> None:
    draw = np.random.default_rng(seed)
    K = 2
    base = 2 * (K + halves)
    r = draw.normal(size=base + manifold_rates.N_TOTAL)
    before = r.copy()
    W = np.abs(draw.normal(size=(10, K + halves)))
    W[1, :K] *= -1.0
    manifold_rates.implicit(r, 0.3, W, K, halves)
    d = r - before
    X = manifold_rates.X
    scale = np.max(np.abs(r)) + np.max(np.abs(before))
    mass = d[:K].sum() + d[2 * K : 2 * K + halves].sum() + d[base + X.out_mass]
    energy = d[K : 2 * K].sum() + d[2 * K + halves : base].sum() + d[base + X.out_enthalpy] + d[base + X.lost]
    assert abs(mass) < 1e-12 * scale
    assert abs(energy) < 1e-11 * scale
    assert d[base + X.valve_mass] == pytest.approx(-d[:K].sum(), abs=1e-12 * scale)


@check("limit", note="a half is left alone by the other where nothing leaks; rounding")
def test_two_halves_without_leak() -> None:
    draw = np.random.default_rng(1)
    r = draw.normal(size=8 + manifold_rates.N_TOTAL)
    W = np.abs(draw.normal(size=(10, 4)))
    W[3, 2] = 0.0
    other = r.copy()
    other[[1, 3, 5, 7]] += 10.0  # cylinder 1 and half 1
    manifold_rates.implicit(r, 0.3, W.copy(), 2, 2)
    manifold_rates.implicit(other, 0.3, W.copy(), 2, 2)
    np.testing.assert_allclose(other[[0, 2, 4, 6]], r[[0, 2, 4, 6]], rtol=1e-12)


def test_tables_over_the_crank() -> None:
    engine = four_valve_two_litre()
    for entries in (1, 2):
        tables = exhaust_tables(engine, entries)
        assert np.sum(tables.width) == pytest.approx(np.pi)
        assert tables.volume.size == tables.slots * tables.steps + 1
        assert tables.slots % entries == 0
        assert tables.area[0] == pytest.approx(0.0, abs=1e-9)
        assert tables.area[-1] == 0.0
        assert tables.width.max() / tables.width.min() > 2.0  # coarse where no pressures meet
        assert np.all(tables.wall > 0)
