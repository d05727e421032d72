"""Clutch: disc torque, clamp load, engagement."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate

from boostwright.errors import OutOfRange
from boostwright.physics import clutch
from tests.labels import check


@check(
    "published", id="S1", source="shigley2015", note="forms of ch. 16, from memory; one example, last digit"
)
def test_disc_torque() -> None:
    found = clutch.disc_torque(6e3, 0.3, 0.120, 0.075)
    assert float(found.uniform_wear) == pytest.approx(351.0, abs=0.05)
    assert float(found.uniform_pressure) == pytest.approx(357.2, abs=0.05)


@check("limit", id="S1", note="integral of mu p r over the lining with p = const and p ~ 1/r; 1e-10")
def test_disc_torque_against_its_integral() -> None:
    ro, ri, mu, F = 0.11, 0.06, 0.28, 5e3

    def torque(pressure: object) -> float:
        load, _ = integrate.quad(lambda r: pressure(r) * 2 * np.pi * r, ri, ro)  # type: ignore[operator]
        moment, _ = integrate.quad(lambda r: mu * pressure(r) * r * 2 * np.pi * r, ri, ro)  # type: ignore[operator]
        return 2 * F * moment / load

    found = clutch.disc_torque(F, mu, ro, ri)
    assert float(found.uniform_pressure) == pytest.approx(torque(lambda r: 1.0), rel=1e-10)
    assert float(found.uniform_wear) == pytest.approx(torque(lambda r: 1.0 / r), rel=1e-10)


@check("limit", id="S1", note="wear never above pressure; both mu F R N for a thin ring")
@given(st.floats(0.05, 0.2), st.floats(0.3, 0.999))
def test_wear_is_the_smaller(ro: float, share: float) -> None:
    found = clutch.disc_torque(5e3, 0.3, ro, share * ro)
    assert float(found.uniform_wear) <= float(found.uniform_pressure)
    thin = clutch.disc_torque(5e3, 0.3, ro, 0.99999 * ro)
    for value in thin:
        assert float(value) == pytest.approx(2 * 0.3 * 5e3 * ro, rel=1e-4)


def test_clamp_load_is_the_inverse() -> None:
    load = clutch.clamp_load_for_torque([200.0, 300.0], 0.3, 0.12, 0.075)
    assert clutch.disc_torque(load, 0.3, 0.12, 0.075).uniform_wear == pytest.approx([200.0, 300.0])
    assert float(clutch.lining_pressure(6e3, 0.12, 0.075)) == pytest.approx(
        6e3 / (np.pi * (0.0144 - 0.005625))
    )


def test_refuses_exchanged_radii() -> None:
    with pytest.raises(OutOfRange, match="radii, not diameters"):
        clutch.disc_torque(6e3, 0.3, 0.075, 0.12)
    with pytest.raises(OutOfRange):
        clutch.lining_pressure(6e3, 0.12, 0.12)


def test_scaled_capacity() -> None:
    assert float(clutch.scaled_capacity(150.0, 1.3)) == pytest.approx(195.0)
    assert float(clutch.scaled_capacity(150.0, 1.3, 1.2, 1.1, 0.95)) == pytest.approx(195 * 1.2 * 1.1 * 0.95)


@check(
    "published",
    source="shigley2015",
    note="I1 I2 w^2/(2 (I1 + I2)) without outer torques, from memory; exact",
)
@pytest.mark.parametrize("capacity", [50.0, 200.0, 900.0])
def test_engagement_heat_without_outer_torque(capacity: float) -> None:
    found = clutch.engagement(capacity, 0.0, 0.0, 0.2, 1.5, 300.0)
    assert float(found.heat) == pytest.approx(0.2 * 1.5 * 300.0**2 / (2 * 1.7))


@check(
    "conservation", note="work of engine less work on load less kinetic energy gained, by an ODE solver; 1e-6"
)
def test_engagement_against_the_equations_of_motion() -> None:
    Tc, Te, Tl, I1, I2, w1, w2 = 300.0, 180.0, 20.0, 0.2, 1.5, 420.0, 250.0
    found = clutch.engagement(Tc, Te, Tl, I1, I2, w1 - w2)

    def motion(t: float, y: np.ndarray) -> list[float]:
        return [(Te - Tc) / I1, (Tc - Tl) / I2, Te * y[0], Tl * y[1]]

    end = integrate.solve_ivp(motion, (0, float(found.time)), [w1, w2, 0, 0], rtol=1e-10, atol=1e-10).y[:, -1]
    assert end[0] == pytest.approx(end[1], rel=1e-6)
    kinetic = (I1 * end[0] ** 2 + I2 * end[1] ** 2 - I1 * w1**2 - I2 * w2**2) / 2
    assert float(found.heat) == pytest.approx(end[2] - end[3] - kinetic, rel=1e-6)


def test_a_clutch_that_is_too_weak_never_closes() -> None:
    found = clutch.engagement([150.0, 250.0], 200.0, 150.0, 0.2, 1e9, 100.0)
    assert found.time[0] == np.inf
    assert found.heat[0] == np.inf
    assert np.isfinite(found.time[1])
    still = clutch.engagement(150.0, 200.0, 150.0, 0.2, 1.5, 0.0)
    assert float(still.heat) == 0.0
    assert float(still.time) == 0.0
