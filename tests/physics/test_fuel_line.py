"""Fuel lines, regulator and return."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.physics.fuel_line import (
    Reference,
    fuel_viscosity,
    line_loss,
    orifice_loss,
    rail_difference,
    scaled_loss,
)
from tests.labels import check

LPH = 1e-3 / 3600


@check(
    "reference library",
    id="L3",
    source="fluids",
    note="iso-octane at 20 degC, 692.2 kg/m3 and 0.506 mPa s, drawn tube: 24.75 and 6.28 kPa, Re 16 131, f"
    " 0.0278; the Colebrook equation solved another way; 1 %",
)
def test_line_loss_of_iso_octane() -> None:
    from fluids.friction import Colebrook

    loss = line_loss(200 * LPH, np.array([6e-3, 8e-3]), 4.0, 692.2, 0.506e-3, roughness=1.5e-6)
    assert loss == pytest.approx([24.75e3, 6.28e3], rel=1e-2)
    v = 200 * LPH / (np.pi / 4 * 6e-3**2)
    Re = 692.2 * v * 6e-3 / 0.506e-3
    f = Colebrook(Re, 1.5e-6 / 6e-3)
    assert Re == pytest.approx(16131, rel=1e-3)
    assert f == pytest.approx(0.0278, abs=5e-5)
    assert float(loss[0]) == pytest.approx(f * 4.0 / 6e-3 * 0.5 * 692.2 * v**2, rel=1e-6)


@check("limit", note="laminar flow: Hagen and Poiseuille, 128 mu L q/(pi D^4); exact")
@given(st.floats(1, 8), st.floats(4e-3, 10e-3))
@settings(deadline=None)
def test_slow_flow_is_laminar(lph: float, bore: float) -> None:
    exact = 128 * 5e-4 * 4.0 * lph * LPH / (np.pi * bore**4)
    assert float(line_loss(lph * LPH, bore, 4.0, 745.0, 5e-4)) == pytest.approx(exact, rel=1e-6)


@given(st.floats(10, 400), st.floats(3e-3, 12e-3))
@settings(deadline=None)
def test_loss_grows_with_flow_and_falls_with_bore(lph: float, bore: float) -> None:
    here = float(line_loss(lph * LPH, bore, 4.0, 745.0))
    assert float(line_loss(1.2 * lph * LPH, bore, 4.0, 745.0)) > here
    assert float(line_loss(lph * LPH, 1.1 * bore, 4.0, 745.0)) < here
    assert float(line_loss(-lph * LPH, bore, 4.0, 745.0)) == pytest.approx(-here)


def test_no_flow_no_loss() -> None:
    assert float(line_loss(0.0, 6e-3, 4.0, 745.0)) == 0.0
    assert float(orifice_loss(0.0, 1e-6, 745.0)) == 0.0
    assert float(scaled_loss(0.0, 8e3, 1e-4)) == 0.0


@check("limit", id="J5", note="Bernoulli: an opening of 0.3095 mm2 passes 550 cc/min of n-heptane at 3 bar")
def test_orifice() -> None:
    assert float(orifice_loss(550e-6 / 60, 0.3095e-6, 683.8)) == pytest.approx(3e5, rel=1e-3)


def test_a_filter_goes_through_its_known_point() -> None:
    assert float(scaled_loss(100 * LPH, 8e3, 100 * LPH)) == pytest.approx(8e3)
    assert 2 * 8e3 < float(scaled_loss(200 * LPH, 8e3, 100 * LPH)) < 4 * 8e3


@check("limit", id="J9", note="rail less plenum: a referenced rail keeps it, the others lose the boost")
@given(st.floats(2e5, 5e5), st.floats(0.3e5, 2.4e5), st.floats(0.6e5, 1.05e5), st.floats(0, 0.4e5))
def test_what_the_rail_follows(held: float, plenum: float, ambient: float, feed: float) -> None:
    follows = float(rail_difference(Reference.MANIFOLD, held, plenum, ambient, 0.0, feed))
    outside = float(rail_difference(Reference.ATMOSPHERE, held, plenum, ambient, 0.0, feed))
    tank = float(rail_difference(Reference.TANK, held, plenum, ambient, 0.0, feed))
    assert follows == held
    assert outside == pytest.approx(max(held + ambient - plenum, 0.0))
    assert tank == pytest.approx(max(held + ambient - plenum - feed, 0.0))
    drooped = float(rail_difference(Reference.MANIFOLD, held, plenum, ambient, 0.05))
    assert drooped == pytest.approx(0.95 * held)


@check("reference library", source="CoolProp", note="viscosity of ethanol at 20 degC; 5 %")
def test_viscosity_ends() -> None:
    CP = pytest.importorskip("CoolProp.CoolProp")
    ethanol = CP.PropsSI("V", "T", 293.15, "P", 101325, "Ethanol")
    assert float(fuel_viscosity(1.0)) == pytest.approx(ethanol, rel=5e-2)
    assert float(fuel_viscosity(0.0)) < float(fuel_viscosity(0.5)) < float(fuel_viscosity(1.0))
