"""Slopes of logged speeds with their error, coast-down fits, power at wheels and crank."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.errors import OutOfRange
from boostwright.physics.driveline import (
    RotatingMass,
    acceleration,
    coast_down_speed,
    effective_mass,
    road_load,
)
from boostwright.physics.road_power import (
    acceleration_step,
    coast_down_fit,
    crank_power,
    fresh_rows,
    local_slope,
    quantum_of,
    wheel_power,
)
from tests.labels import check

KMH = 1 / 3.6


@check("limit", id="W9", note="1 km/h counts at 1, 5, 10 Hz: acceleration in steps of 0.28, 1.39, 2.78 m/s2")
def test_steps_of_a_quantised_speed() -> None:
    assert acceleration_step(KMH, [1, 5, 10]) == pytest.approx([0.28, 1.39, 2.78], abs=0.005)


@check("limit", note="a parabola without noise comes back with value and slope exactly; round-off")
def test_slope_of_a_parabola() -> None:
    t = np.linspace(0.0, 4.0, 201)
    found = local_slope(t, 3.0 + 2.0 * t - 0.3 * t**2, [1.0, 2.5], 0.5)
    assert found.value == pytest.approx([4.7, 6.125], rel=1e-12)
    assert found.slope == pytest.approx([1.4, 0.5], rel=1e-9)
    assert np.all(np.isnan(local_slope(t, 2 * t, [-3.0, 0.0], 0.3).slope))  # nothing there, or one side only


@check("limit", note="white noise: the slope is off by its own standard deviation, 3 sigma of 300 draws")
def test_error_of_a_slope_by_noise() -> None:
    rng = np.random.default_rng(5)
    t = np.arange(0.0, 2.0, 0.02)
    off = []
    for _ in range(300):
        one = local_slope(t, 10 + 3 * t + rng.normal(0, 0.05, t.size), [1.0], 0.5)
        off.append(float((one.slope[0] - 3.0) / one.slope_sd[0]))
    assert np.mean(off) == pytest.approx(0.0, abs=3 / np.sqrt(300))
    assert np.std(off) == pytest.approx(1.0, abs=0.15)  # 3/sqrt(600), and Student's tails of 47 readings


@check(
    "limit", note="a staircase of known quantum: at most 5 % of 400 slopes off by more than two deviations"
)
@pytest.mark.parametrize(("rate", "quantum"), [(10.0, KMH), (50.0, KMH), (10.0, 0.1 * KMH), (100.0, 0.01)])
def test_error_of_a_slope_by_quantisation(rate: float, quantum: float) -> None:
    rng = np.random.default_rng(8)
    off = []
    for _ in range(400):
        t = np.arange(0.0, 4.0, 1 / rate) + rng.uniform(0, 1 / rate)
        a = rng.uniform(1.0, 5.0)
        v = np.round((rng.uniform(5, 20) + a * t) / quantum) * quantum
        one = local_slope(t, v, [2.0], 1.0)
        off.append(float((one.slope[0] - a) / one.slope_sd[0]))
    assert np.mean(np.abs(off) > 2) <= 0.05


def test_fresh_rows_and_quantum() -> None:
    held = np.repeat(np.arange(10.0), 5)
    assert int(fresh_rows(held).sum()) == 9
    assert fresh_rows(np.arange(10.0)).all()
    assert quantum_of(held) == 1.0
    assert quantum_of([3.0, 3.0, np.nan]) == 0.0
    assert quantum_of(np.round(np.linspace(0, 9, 400) / 0.25) * 0.25) == pytest.approx(0.25)


@check("limit", id="W3", note="the coast-down in closed form gives its forces back within 0.5 %")
@pytest.mark.parametrize("quantum", [0.0, 0.01, 0.1 * KMH])
def test_coast_down_fit(quantum: float) -> None:
    m, F0, F2 = 1560.0, 176.52, 0.39
    t = np.arange(0.0, 118.0, 0.1)
    v = coast_down_speed(t, 33.3, m, F0, F2)
    if quantum:
        v = np.round(v / quantum) * quantum
    found = coast_down_fit(t, v, m)
    assert pytest.approx(F0, rel=5e-3) == found.F0
    assert pytest.approx(F2, rel=5e-3) == found.F2


@check("limit", note="noise of known size: forces off by no more than their covariance says, 60 draws")
def test_coast_down_covariance() -> None:
    rng = np.random.default_rng(1)
    m, F0, F2 = 1300.0, 160.0, 0.4
    t = np.arange(0.0, 30.0, 0.1)
    off = []
    for _ in range(60):
        v = coast_down_speed(t, 30.0, m, F0, F2) + rng.normal(0, 0.1, t.size)
        found = coast_down_fit(t, v, m)
        d = np.array([found.F0 - F0, found.F2 - F2])
        off.append(d @ np.linalg.solve(found.covariance, d))
    assert np.mean(off) == pytest.approx(2.0, abs=3 * np.sqrt(4 / 60))  # chi-square of two


def test_prior_holds_what_a_short_log_does_not_tell() -> None:
    t = np.arange(0.0, 4.0, 0.1)
    v = np.round(coast_down_speed(t, 20.0, 1300.0, 160.0, 0.4), 1)
    alone = coast_down_fit(t, v, 1300.0)
    held = coast_down_fit(t, v, 1300.0, (160.0, 0.4), (20.0, 0.04))
    assert np.sqrt(held.covariance[1, 1]) < 0.041 < np.sqrt(alone.covariance[1, 1])


def test_no_coast_down_in_a_pull() -> None:
    with pytest.raises(OutOfRange, match="that fall"):
        coast_down_fit(np.arange(9.0), np.arange(9.0), 1300.0)


@check(
    "limit", id="W4", note="1500 kg, 5 % rotating, 3 m/s2 at 27.78 m/s: 144.5 kW at the wheels; last digit"
)
def test_wheel_and_crank_power() -> None:
    v, load = 27.78, float(road_load(27.78, 1500.0, 0.65, 0.012, 1.2))
    m = float(effective_mass(1500.0, 0.0, RotatingMass(0.05, 0.0)))
    assert float(wheel_power(v, 3.0, m, load)) == pytest.approx(144.5e3, abs=50)
    power, ratio, radius = 150e3, 5.2, 0.3
    m_eff = float(effective_mass(1500.0, ratio, RotatingMass(0.04, 0.0025)))
    torque = power * radius / (v * ratio)
    a = acceleration(torque, ratio, radius, 0.92, load, m_eff)
    assert float(crank_power(v, a, m_eff, load, 0.92)) == pytest.approx(power, rel=1e-12)
