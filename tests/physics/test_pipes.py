"""Pressure loss of pipes, bends, fittings and honeycombs, and the speed in them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from boostwright.physics import pipes
from boostwright.physics.atmosphere import air_viscosity
from tests.labels import check


def colebrook(reynolds: float, roughness: float) -> float:
    """The implicit equation of 1939, solved anew by bracketing."""

    def rest(f: float) -> float:
        return 1 / math.sqrt(f) + 2 * math.log10(roughness / 3.7 + 2.51 / (reynolds * math.sqrt(f)))

    return float(brentq(rest, 1e-4, 1.0, xtol=1e-15))


@check(
    "published",
    id="F1",
    source="colebrook1939",
    note="the implicit equation, from memory, solved anew; 64/Re below; 0.1 %",
)
@pytest.mark.parametrize(
    ("reynolds", "roughness", "expected"),
    [(1e5, 1e-3, 0.022175), (2e5, 0.0, 0.015637), (1e6, 1e-4, 0.013441), (2000.0, 0.0, 0.032)],
)
def test_friction_factor(reynolds: float, roughness: float, expected: float) -> None:
    ours = pipes.darcy_friction(reynolds, roughness)
    assert ours == pytest.approx(expected, rel=1e-3)
    if reynolds > 2040:
        assert ours == pytest.approx(colebrook(reynolds, roughness), rel=1e-9)


DRAWN = 1.5e-6  # roughness of drawn tube [m]


@check(
    "reference library",
    id="F2",
    source="CoolProp",
    note="straight 50 mm drawn tube, 0.15 kg/s, 180 kPa, 320 K: density and viscosity of air by "
    "CoolProp; ours by the gas law and Sutherland; 1 %",
)
def test_straight_pipe() -> None:
    CP = pytest.importorskip("CoolProp.CoolProp")
    rho = CP.PropsSI("D", "P", 180e3, "T", 320.0, "Air")
    mu = CP.PropsSI("V", "P", 180e3, "T", 320.0, "Air")
    speed = 0.15 / (rho * math.pi / 4 * 0.05**2)
    reynolds = rho * speed * 0.05 / mu
    drop = colebrook(reynolds, DRAWN / 0.05) / 0.05 * rho * speed**2 / 2
    ours_re = float(pipes.pipe_reynolds(0.15, 0.05, air_viscosity(320.0)))
    head = float(pipes.velocity_head(0.15, 0.05, 180e3 / (287.05 * 320.0)))
    ours = pipes.darcy_friction(ours_re, DRAWN / 0.05) / 0.05 * head
    assert ours == pytest.approx(drop, rel=1e-2)
    assert ours == pytest.approx(474.7, rel=1e-2)
    mach = speed / math.sqrt(1.4 * 287.05 * 320)
    assert float(pipes.mach_number(0.15, 0.05, 180e3, 320.0)) == pytest.approx(mach, rel=1e-2)


@check(
    "reference library",
    id="F2",
    source="fluids",
    note="3 m of it, compressible and isothermal: fluids gives the static pressure, so what the gas "
    "takes to speed up is added to ours; 0.1 %, and 1 % of 1454 Pa",
)
def test_mean_density_is_the_compressible_pipe() -> None:
    from fluids.compressible import isothermal_gas

    rho = 180e3 / (287.05 * 320.0)
    f = pipes.darcy_friction(float(pipes.pipe_reynolds(0.15, 0.05, air_viscosity(320.0))), DRAWN / 0.05)
    out = isothermal_gas(rho=rho, fd=f, P1=180e3, L=3.0, D=0.05, m=0.15)
    product = f * 3.0 / 0.05 * float(pipes.velocity_head(0.15, 0.05, 1.0))
    ours = float(pipes.mean_density_loss(product, 180e3, 320.0, 287.05, p_is_outlet=False))
    flux = 0.15 / (math.pi / 4 * 0.05**2)
    faster = flux**2 * 287.05 * 320.0 * (1 / out - 1 / 180e3)
    assert ours + faster == pytest.approx(180e3 - out, rel=1e-3)
    assert ours + faster == pytest.approx(1454.0, rel=1e-2)


@check(
    "reference library",
    id="F3",
    source="fluids",
    note="right angle, r/D 1.5, Re 2e5, drawn tube: ours is Rennels by that library, which shows nothing, so "
    "Miller and Ito stand against it: 0.208, 0.215, 0.202, last digit, and 4 % between them",
)
def test_bend() -> None:
    from fluids.fittings import bend_rounded

    ours = pipes.bend_loss(0.05, 1.959e5, roughness=DRAWN)
    others = [bend_rounded(0.05, 90.0, bend_diameters=1.5, Re=1.959e5, method=m) for m in ("Miller", "Ito")]
    assert ours == pytest.approx(0.208, abs=5e-4)
    assert others == pytest.approx([0.215, 0.202], abs=5e-4)
    assert others == pytest.approx([ours, ours], rel=0.04)
    assert pipes.bend_loss(0.05, 1.959e5, 0.7, roughness=DRAWN) > 1.5 * ours  # a tight one costs far more


@check(
    "published",
    id="F4",
    source="rennels2012",
    note="sharp entrance 0.57, exit 1.0, 60 to 50 mm 0.185; from memory; last digit",
)
def test_fittings() -> None:
    assert pipes.entrance_loss() == pytest.approx(0.57, abs=0.005)
    assert pipes.enlargement_loss(0.05, math.inf) == 1.0
    assert pipes.contraction_loss(0.06, 0.05) == pytest.approx(0.185, abs=0.0005)


@check(
    "limit",
    id="F4",
    note="sudden enlargement: momentum balance (1 - A1/A2)^2, derived by hand; nothing where the bore "
    "does not change",
)
@pytest.mark.parametrize("wide", [0.06, 0.08, 0.2])
def test_enlargement(wide: float) -> None:
    assert pipes.enlargement_loss(0.05, wide) == pytest.approx((1 - (0.05 / wide) ** 2) ** 2, rel=1e-9)
    from fluids.fittings import diffuser_sharp

    assert pipes.enlargement_loss(0.05, wide) == pytest.approx(diffuser_sharp(0.05, wide), rel=1e-9)
    assert pipes.enlargement_loss(wide, 0.05) == 0.0
    assert pipes.contraction_loss(0.05, wide) == 0.0


@check(
    "common practice",
    id="F5",
    note="velocity heads of charge pipes at 0.15 kg/s, 1.8 bar, 330 K: 2.3, 1.4, 0.9, 0.6 kPa; exhaust"
    " at 0.18 kg/s, 900 K: 9.8, 4.0, 1.9 kPa and 4.8, 1.6, 0.63 kPa a metre; printed digits, and "
    "20 % on the friction, as roughness is a guess",
)
def test_worked_heads() -> None:
    charge = pipes.velocity_head(0.15, np.array([45.0, 50.8, 57.0, 63.5]) * 1e-3, 180e3 / (287.05 * 330.0))
    np.testing.assert_allclose(charge, [2.3e3, 1.4e3, 0.9e3, 0.6e3], atol=60.0)
    bores = np.array([50.8, 63.5, 76.2]) * 1e-3
    rho, mu = 105e3 / (288.5 * 900.0), float(air_viscosity(900.0))
    exhaust = pipes.velocity_head(0.18, bores, rho)
    np.testing.assert_allclose(exhaust, [9.8e3, 4.0e3, 1.9e3], rtol=0.03)
    per_metre = [
        pipes.darcy_friction(float(pipes.pipe_reynolds(0.18, d, mu)), 0.15e-3 / d) / d * h
        for d, h in zip(bores, exhaust, strict=True)
    ]
    np.testing.assert_allclose(per_metre, [4.8e3, 1.6e3, 0.63e3], rtol=0.2)


@check("common practice", id="F6", note="a 1.2 litre catalyst brick costs 3 to 8 kPa at 0.15 kg/s")
def test_catalyst() -> None:
    rho, mu = 106e3 / (288.5 * 1000.0), float(air_viscosity(1000.0))
    loss = float(pipes.channel_loss(0.15, rho, mu, 0.0109, 0.110, 1.1e-3, 0.75))
    assert 3e3 < loss < 8e3


@check(
    "limit",
    note="laminar plane flow through a wide slit is 96/Re, through a square 56.9/Re: the channel's "
    "loss is that of Hagen and Poiseuille with the square's factor; exact",
)
def test_channels_at_creeping_flow() -> None:
    slow = pipes.channel_loss(1e-4, 1.0, 2e-5, 1e-2, 0.1, 1e-3, 1.0)
    v = 1e-4 / 1e-2
    reynolds = v * 1e-3 / 2e-5
    assert float(slow) == pytest.approx(56.91 / reynolds * 0.1 / 1e-3 * v**2 / 2, rel=1e-12)


flows = st.floats(0.001, 0.5)


@given(flow=flows, p=st.floats(8e4, 4e5), factor=st.floats(1.05, 3.0))
def test_loss_goes_with_flow_squared_over_density(flow: float, p: float, factor: float) -> None:
    rho = p / (287.05 * 330)
    head = pipes.velocity_head(flow, 0.05, rho)
    assert float(pipes.velocity_head(flow * factor, 0.05, rho)) == pytest.approx(float(head) * factor**2)
    assert float(pipes.velocity_head(flow, 0.05, 2 * rho)) == pytest.approx(float(head) / 2)


@given(product=st.floats(0.0, 2e4), p=st.floats(8e4, 4e5), T=st.floats(250.0, 1200.0))
def test_mean_density_loss_closes_on_itself(product: float, p: float, T: float) -> None:
    loss = float(pipes.mean_density_loss(product, p, T, 287.05, p_is_outlet=True))
    mean_rho = (p + loss / 2) / (287.05 * T)
    assert loss * mean_rho == pytest.approx(product, rel=1e-9, abs=1e-9)
    back = float(pipes.mean_density_loss(product, p + loss, T, 287.05, p_is_outlet=False))
    assert back == pytest.approx(loss, rel=1e-6, abs=1e-6)


def test_more_than_the_inlet_can_drive_takes_all_of_it() -> None:
    assert float(pipes.mean_density_loss(1e6, 1e5, 300.0, 287.05, p_is_outlet=False)) >= 1e5


@check("limit", note="M from flow against the nozzle's static relations, isentropic; 1e-12")
@pytest.mark.parametrize("mach", [0.01, 0.3, 0.5, 0.9])
def test_mach_number(mach: float) -> None:
    T = 330.0 / (1 + 0.2 * mach**2)
    flow = 180e3 / (287.05 * T) * mach * math.sqrt(1.4 * 287.05 * T) * math.pi / 4 * 0.05**2
    assert float(pipes.mach_number(flow, 0.05, 180e3, 330.0)) == pytest.approx(mach, rel=1e-12)
