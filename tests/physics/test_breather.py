"""Pressure of a breather, and drops that fall in a can."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.physics.atmosphere import air_viscosity
from boostwright.physics.blow_by import ring_gap_flow
from boostwright.physics.breather import breather_loss, settling_speed
from tests.labels import check

T = 353.15
RHO = 101325.0 / (287.05 * T)


@check(
    "reference library",
    id="O9",
    source="fluids",
    note="friction factor and air of 80 degC from libraries: 60 l/min through 1 m of hose, 1.5 heads; 2 %",
)
def test_breather_hose() -> None:
    flow, mu = 1e-3 * RHO, float(air_viscosity(T))
    ours = [breather_loss(flow, bore, 1.0, RHO, mu) for bore in (9.5e-3, 12.7e-3, 19e-3)]
    assert ours == pytest.approx([515.0, 140.0, 23.3], rel=0.02)
    assert breather_loss(0.0, 9.5e-3, 1.0, RHO, mu) == 0.0


@check("limit", id="O10", note="choked flow by hand: 1 mm2, 0.86, 80 bar, 700 K, gamma 1.35")
def test_ring_gap_while_it_burns() -> None:
    flow = ring_gap_flow(80e5, 0.86e-6, T_land=700.0)
    assert float(flow) * 1e3 == pytest.approx(10.4, rel=0.02)


@check(
    "reference library",
    id="O11",
    source="fluids",
    note="its terminal speed of spheres: drops of 10 and 100 um, 850 kg/m3, air of 60 degC; Stokes alone "
    "0.230 for the larger; 1 % at 10 um, 4 % at 100 um: another law of drag",
)
def test_drops_in_a_can() -> None:
    from fluids import v_terminal

    rho, mu = 101325.0 / (287.05 * 333.15), float(air_viscosity(333.15))
    sizes = np.array([10e-6, 100e-6])
    ours = settling_speed(sizes, 850.0, rho, mu)
    theirs = [v_terminal(D=float(d), rhop=850.0, rho=rho, mu=mu) for d in sizes]
    assert ours[0] == pytest.approx(theirs[0], rel=0.01)
    assert ours[1] == pytest.approx(theirs[1], rel=0.04)
    assert ours[0] * 1e3 == pytest.approx(2.30, rel=0.02)
    stokes = (850.0 - rho) * 9.80665 * sizes[1] ** 2 / (18.0 * mu)
    assert stokes == pytest.approx(0.230, rel=0.02)
    assert ours[1] < stokes
