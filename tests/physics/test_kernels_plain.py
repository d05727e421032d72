"""The compiled inner functions against their plain forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.physics import gas, heat_transfer, valves
from boostwright.physics.kernels import flow, heat
from boostwright.physics.kernels import gas as gas_kernel
from boostwright.systems.engine.tables import gas_tables
from boostwright.systems.engine.types import Fuel

MIXTURES = [gas.mixture(0.88, 0.85), gas.mixture(1.05, 0.85)]
TABLES = gas_tables(Fuel(ethanol_share=0.85), (0.88, 1.05))


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 1), st.floats(255, 3450), st.floats(math.log(0.21e5), math.log(390e5)))
def test_equilibrium(k: int, T: float, ln_p: float) -> None:
    h, h_T, h_l, R, R_T, R_l = gas_kernel.equilibrium(T, ln_p, k, TABLES)
    p = math.exp(ln_p)
    s = gas.equilibrium(MIXTURES[k], T, p)
    found = (h, h_T, h_l / p, R, R_T, R_l / p)
    plain = (s.h, s.h_T, s.h_p, s.R, s.R_T, s.R_p)
    scale = (1e6, 1e3, 1e6 / p, 300.0, 0.1, 100.0 / p)
    for a, b, c in zip(found, plain, scale, strict=True):
        assert a == pytest.approx(float(b), abs=1e-10 * c)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 1), st.floats(250, 3000), st.floats(0, 1))
def test_frozen(k: int, T: float, y: float) -> None:
    h_f, h_b, cp = gas_kernel.frozen(T, y, k, TABLES)
    mix = MIXTURES[k]
    assert h_f == pytest.approx(float(gas.h_fresh(mix, T)), abs=1e-3)
    assert h_b == pytest.approx(float(gas.h_burned_frozen(mix, T)), abs=1e-3)
    both = (1 - y) * float(gas.cp_fresh(mix, T)) + y * float(gas.cp_burned_frozen(mix, T))
    assert cp == pytest.approx(both, rel=1e-12)


@settings(max_examples=80, deadline=None)
@given(st.floats(1.18, 1.42), st.floats(0.05, 1.0))
def test_nozzle(gamma: float, x: float) -> None:
    psi, slope = flow.nozzle(x, gamma)
    assert flow.EPSILON == valves.SMOOTHING
    assert psi == pytest.approx(
        float(valves.smooth_flow_function(x, gamma)), abs=3e-5
    )  # at choking smoothing ends
    critical = (2 / (gamma + 1)) ** (gamma / (gamma - 1))
    if critical + 1e-3 < x < 1 - 1e-6:
        d = 1e-7
        up, down = (float(valves.smooth_flow_function(x + s * d, gamma)) for s in (1, -1))
        assert slope == pytest.approx((up - down) / (2 * d), rel=1e-4, abs=1e-5)


@pytest.mark.parametrize("back", [False, True])
def test_valve_flow(back: bool) -> None:
    pa, pb = (0.9e5, 1.1e5) if back else (1.1e5, 0.9e5)
    found, by_a, by_b = flow.valve_flow(1e-3, pa, 290.0 * 320, 1.38, pb, 288.0 * 900, 1.30, 0.92)
    if back:
        plain = -0.92 * float(valves.valve_flow(1e-3, pb, 900.0, pa, 288.0, 1.30))
    else:
        plain = float(valves.valve_flow(1e-3, pa, 320.0, pb, 290.0, 1.38))
    assert found == pytest.approx(plain, rel=1e-6)
    for slope, da, db in ((by_a, 1.0, 0.0), (by_b, 0.0, 1.0)):
        up = flow.valve_flow(1e-3, pa + da, 290.0 * 320, 1.38, pb + db, 288.0 * 900, 1.30, 0.92)[0]
        down = flow.valve_flow(1e-3, pa - da, 290.0 * 320, 1.38, pb - db, 288.0 * 900, 1.30, 0.92)[0]
        assert slope == pytest.approx((up - down) / 2, rel=1e-4)


@pytest.mark.parametrize("law", [0, 1])
def test_heat_transfer_coefficient(law: int) -> None:
    bore, p, T, V, w, s = 0.086, 35e5, 1700.0, 90e-6, 22.0, 9.0
    found = heat.coefficient(
        law,
        heat.constant(law, bore, 1.4),
        *(float(np.log(x)) for x in (p, T)),
        V,
        *(float(np.log(x)) for x in (w, s + 1.4)),
    )
    if law == 0:
        plain = heat_transfer.woschni_coefficient(bore, p, T, w)
    else:
        plain = heat_transfer.hohenberg_coefficient(V, p, T, s)
    assert found == pytest.approx(1.4 * float(plain), rel=1e-12)
