"""Couplers: pull-off, band, bead; leak area from pressure decay."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate

from boostwright.errors import OutOfRange
from boostwright.physics import coupler
from boostwright.physics.nozzle import choked_flow_constant, nozzle_flow
from tests.labels import check

R, G, PA = 287.05, 1.4, 101325.0


@check(
    "limit",
    note="p pi/4 D^2 by hand: 1 bar on 60 mm is 282.7 N; a right-angle bend sqrt 2 of it, none straight",
)
def test_pull_off() -> None:
    assert float(coupler.bend_thrust(1e5, 0.06, 0.0)) == 0.0
    assert float(coupler.pull_off_force(1e5, 0.06)) == pytest.approx(282.743, abs=1e-3)
    assert float(coupler.bend_thrust(1e5, 0.06, np.pi / 2)) == pytest.approx(282.743 * np.sqrt(2), abs=1e-3)
    assert float(coupler.bend_thrust(1e5, 0.06, np.pi)) == pytest.approx(2 * 282.743, abs=2e-3)


@check(
    "limit", note="contact pressure T/r over the circle summed in 720 pieces: 2 pi T mu whatever the radius"
)
@pytest.mark.parametrize("radius", [0.02, 0.05])
def test_band_friction(radius: float) -> None:
    T, mu, n = 800.0, 0.5, 720
    # each piece of band: two tensions that meet at a small angle press 2 T sin(angle/2) inward
    inward = n * 2 * T * np.sin(np.pi / n)
    assert float(coupler.band_friction(T, mu)) == pytest.approx(mu * inward, rel=1e-5)
    creeping = float(coupler.band_friction(T, mu, 1e5, 2 * radius, 0.012))
    assert creeping == pytest.approx(mu * (inward - 1e5 * 2 * np.pi * radius * 0.012), rel=1e-5)
    assert float(coupler.band_friction(1.0, mu, 1e5, 2 * radius, 0.012)) == 0.0


def test_band_tension_is_the_inverse() -> None:
    T = coupler.band_tension_for([100.0, 400.0], 0.5)
    assert coupler.band_friction(T, 0.5) == pytest.approx([100.0, 400.0])


@check("limit", note="no flank: plain band; no friction: slope of a wedge; round-off")
def test_bead() -> None:
    assert float(coupler.bead_resistance(500.0, 0.4, 0.0)) == pytest.approx(
        float(coupler.band_friction(500.0, 0.4))
    )
    assert float(coupler.bead_resistance(500.0, 0.0, 0.3)) == pytest.approx(2 * np.pi * 500 * np.tan(0.3))
    # the block on a slope: forces along and across it
    mu, b = 0.4, 0.6
    push = float(coupler.bead_resistance(500.0, mu, b))
    press = 2 * np.pi * 500.0
    normal = press * np.cos(b) + push * np.sin(b)
    assert push * np.cos(b) - press * np.sin(b) == pytest.approx(mu * normal)
    assert float(coupler.bead_resistance(500.0, 0.5, np.arctan(2.1))) == np.inf
    found = coupler.bead_resistance(500.0, 0.4, np.linspace(0, 1.1, 12))
    assert np.all(np.diff(found) > 0)


# --------------------------------------------------------------------------------------- leak


@check("limit", note="choked isothermal: p0 e^(-t A C sqrt(R T)/V); the whole fall above choking; round-off")
def test_choked_isothermal() -> None:
    A, V, T, C = 2e-6, 0.02, 295.0, float(choked_flow_constant(G))
    seconds = 20.0
    end = 500e3 * np.exp(-seconds * A * C * np.sqrt(R * T) / V)
    assert end > PA / 0.528
    assert float(coupler.leak_area(seconds, V, 500e3, end, T).isothermal) == pytest.approx(A)
    assert float(coupler.leak_pressure_after(seconds, A, V, 500e3, T).isothermal) == pytest.approx(end)


@check("limit", note="choked adiabatic: p0 (1 + (g-1)/2 t A C sqrt(R T0)/V)^(-2g/(g-1)); round-off")
def test_choked_adiabatic() -> None:
    A, V, T, C = 2e-6, 0.02, 295.0, float(choked_flow_constant(G))
    seconds = 15.0
    end = 500e3 * (1 + 0.2 * seconds * A * C * np.sqrt(R * T) / V) ** -7
    assert end > PA / 0.528
    assert float(coupler.leak_area(seconds, V, 500e3, end, T).adiabatic) == pytest.approx(A)
    assert float(coupler.leak_pressure_after(seconds, A, V, 500e3, T).adiabatic) == pytest.approx(end)


def psi(x: float) -> float:
    """The nozzle's flow function, written out again."""
    x = max(x, (2 / (G + 1)) ** (G / (G - 1)))
    return float(np.sqrt(2 * G / (G - 1) * (x ** (2 / G) - x ** ((G + 1) / G))))


@check("conservation", note="mass and energy of the gas in the pipe, by an ODE solver; 1e-6")
@pytest.mark.parametrize("start", [130e3, 175e3, 400e3])
@pytest.mark.parametrize("adiabatic", [False, True])
def test_decay_against_the_balances(start: float, adiabatic: bool) -> None:
    A, V, T0, seconds = 3e-6, 0.015, 300.0, 8.0
    cv = R / (G - 1)

    def balance(t: float, y: np.ndarray) -> list[float]:
        mass, energy = y
        T = energy / (mass * cv) if adiabatic else T0
        p = mass * R * T / V
        out = A * p / np.sqrt(R * T) * psi(min(PA / p, 1.0))
        return [-out, -out * (cv + R) * T if adiabatic else 0.0]

    mass = start * V / (R * T0)
    run = integrate.solve_ivp(balance, (0, seconds), [mass, mass * cv * T0], rtol=1e-11, atol=1e-13)
    m, e = run.y[:, -1]
    end = m * R * (e / (m * cv) if adiabatic else T0) / V
    assert end > PA
    found = coupler.leak_pressure_after(seconds, A, V, start, T0)
    assert float(found[int(adiabatic)]) == pytest.approx(end, rel=1e-6)
    area = coupler.leak_area(seconds, V, start, end, T0)
    assert float(area[int(adiabatic)]) == pytest.approx(A, rel=1e-6)


@check(
    "limit", note="small fall: V dp/dt = R T m (isothermal) with the nozzle's own flow; 0.2 % for the step"
)
def test_small_fall_is_the_flow_itself() -> None:
    A, V, T, p = 4e-6, 0.02, 300.0, 160e3
    flow = float(nozzle_flow(A, p, T, PA, R, G))
    fall = 2e-3 * (p - PA)
    seconds = fall * V / (R * T * flow)
    found = coupler.leak_area(seconds, V, p, p - fall, T)
    assert float(found.isothermal) == pytest.approx(A, rel=2e-3)
    assert float(found.adiabatic) == pytest.approx(A / G, rel=2e-3)


@check("limit", note="bounds: isothermal above adiabatic by at most gamma; no fall, no area")
@given(st.floats(1.02, 6.0), st.floats(0.0, 0.99))
def test_bounds(ratio: float, left: float) -> None:
    start = PA * ratio
    end = PA + left * (start - PA)
    found = coupler.leak_area(10.0, 0.02, start, end, 300.0)
    assert 0 < float(found.adiabatic) < float(found.isothermal) <= G * (1 + 1e-9) * float(found.adiabatic)
    none = coupler.leak_area(10.0, 0.02, start, start, 300.0)
    assert float(none.isothermal) == 0.0
    assert float(none.adiabatic) == 0.0


@settings(max_examples=30)
@given(st.floats(1.05, 5.0), st.floats(0.05, 0.95))
def test_time_area_and_pressure_are_inverse(ratio: float, left: float) -> None:
    start = PA * ratio
    end = PA + left * (start - PA)
    time = coupler.decay_time(2e-6, 0.02, start, end, 300.0)
    for i in (0, 1):
        assert float(coupler.leak_area(time[i], 0.02, start, end, 300.0)[i]) == pytest.approx(2e-6)
        assert float(coupler.leak_pressure_after(time[i], 2e-6, 0.02, start, 300.0)[i]) == pytest.approx(
            end, rel=1e-8
        )


def test_arrays_and_ends() -> None:
    found = coupler.leak_area([5.0, 10.0, 20.0], 0.02, 170e3, 135e3, 295.0)
    assert found.isothermal[0] == pytest.approx(2 * found.isothermal[1])
    assert found.isothermal.shape == (3,)
    left = coupler.leak_pressure_after(np.array([0.0, 5.0, 1e6]), 3e-6, 0.02, 170e3, 295.0)
    assert left.isothermal[0] == pytest.approx(170e3)
    assert 110e3 < left.isothermal[1] < 170e3
    assert left.isothermal[2] == PA
    assert left.adiabatic[1] < left.isothermal[1]
    assert np.isfinite(float(coupler.decay_time(3e-6, 0.02, 170e3, PA, 295.0).isothermal))


def test_gauge_or_exchanged_pressures_are_refused() -> None:
    for start, end in ((70e3, 35e3), (135e3, 170e3), (170e3, 90e3)):
        with pytest.raises(OutOfRange, match="absolute"):
            coupler.leak_area(6.0, 0.02, start, end, 295.0)
    with pytest.raises(OutOfRange):
        coupler.leak_pressure_after(6.0, 3e-6, 0.02, 70e3, 295.0)
