"""Valve gear and ring gap: acceleration against numeric derivatives, spring reserve, what a ring closes."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.physics.strength import ring_closing, ring_temperature
from boostwright.physics.valve_gear import float_speed, lift_curvature, spring_reserve, valve_acceleration
from boostwright.physics.valves import cam_lift, lift_share
from tests.labels import check

RPM = np.pi / 30
DEG = np.pi / 180
GEAR = {"seat_load": 210.0, "open_load": 520.0, "mass": 0.104, "lift": 9.2e-3, "duration": 240 * DEG}


@check("limit", note="second difference of the lift that the cycle uses, step 1e-4; 1e-5 of the greatest")
def test_the_curvature_is_that_of_the_lift() -> None:
    x, h = np.linspace(-0.97, 0.97, 60), 1e-4
    by_hand = (lift_share(x + h) - 2 * lift_share(x) + lift_share(x - h)) / h**2
    assert lift_curvature(x) == pytest.approx(by_hand, abs=1e-5 * 20)
    assert float(lift_curvature(1.5)) == 0.0


@check("limit", note="second difference over time of the cycle's own cam lift at 6000 rpm; 0.1 %")
def test_the_acceleration_is_that_of_the_valve() -> None:
    omega, opens, closes = 6000 * RPM, 100 * DEG, 340 * DEG
    dt = 1e-6

    def lift(t: float) -> float:
        return float(cam_lift(220 * DEG + omega * t, opens, closes, 9.2e-3))

    found = float(valve_acceleration(0.0, 9.2e-3, closes - opens, omega))
    assert found == pytest.approx((lift(dt) - 2 * lift(0.0) + lift(-dt)) / dt**2, rel=1e-3)
    assert found < 0.0  # towards the seat


@check(
    "conservation",
    note="a valve starts and ends at rest: its acceleration over the lobe sums to nothing; 1e-3",
)
def test_the_lobe_gives_back_what_it_takes() -> None:
    x = np.linspace(-1.0, 1.0, 20001)
    curve = lift_curvature(x)
    assert abs(np.trapezoid(curve, x)) < 1e-3 * np.trapezoid(np.abs(curve), x)


@check("limit", note="at the nose alone the ratio is F1/(m a), and the least is no greater; exact")
def test_reserve_at_the_nose() -> None:
    omega = 6200 * RPM
    nose = -float(valve_acceleration(0.0, GEAR["lift"], GEAR["duration"], omega))
    assert float(spring_reserve(**GEAR, omega=omega)) <= GEAR["open_load"] / (GEAR["mass"] * nose) + 1e-12


@check("limit", note="inertia goes with the square of the speed; 1e-12")
def test_float_speed() -> None:
    found = float(spring_reserve(**GEAR, omega=5000 * RPM))
    at = float(float_speed(found, 5000 * RPM))
    assert float(spring_reserve(**GEAR, omega=at)) == pytest.approx(1.0, rel=1e-12)
    assert float(spring_reserve(**GEAR, omega=10000 * RPM)) == pytest.approx(found / 4, rel=1e-12)


@check("common practice", note="road engines float a fifth to a half above limits of 6000 to 7000 rpm")
def test_usual_springs_float_where_engines_do() -> None:
    at = float(float_speed(spring_reserve(**GEAR, omega=6500 * RPM), 6500 * RPM)) / RPM
    assert 7200 < at < 10000


def test_what_lowers_the_reserve() -> None:
    usual = float(spring_reserve(**GEAR, omega=6500 * RPM))
    for change in ({"mass": 0.13}, {"lift": 11e-3}, {"duration": 220 * DEG}, {"open_load": 400.0}):
        assert float(spring_reserve(**{**GEAR, **change}, omega=6500 * RPM)) < usual, change
    row = spring_reserve(**GEAR, omega=np.array([5000.0, 6000.0, 7000.0]) * RPM)
    assert row.shape == (3,)
    assert np.all(np.diff(row) < 0)


# --- ring


@check("limit", note="ring and bore alike and equally warm: nothing closes; 1e-12")
def test_a_ring_that_grows_with_its_bore_closes_nothing() -> None:
    assert float(ring_closing(0.086, 400.0, 400.0, ring_expansion=11e-6)) == pytest.approx(0.0, abs=1e-12)


@check("limit", note="own sum: pi 86 mm (11.5e-6 200 - 11e-6 110) = 0.2945 mm; last digit")
def test_closing_by_hand() -> None:
    assert 1e3 * float(ring_closing(0.086, 493.15, 403.15)) == pytest.approx(0.2945, abs=1e-4)


@check(
    "common practice",
    note="walls of a naturally aspirated engine at 6000 rpm: the closing lies within the gaps that"
    " engine makers"
    " print, 0.25 to 0.43 % of the bore, so that the ends do not meet",
)
def test_an_engine_without_boost_closes_less_than_its_gap() -> None:
    ring = float(ring_temperature(542.0, 407.0))
    assert 0.0022 < float(ring_closing(0.086, ring, 407.0)) / 0.086 < 0.0043


def test_ring_temperature_lies_between() -> None:
    assert 400.0 < float(ring_temperature(550.0, 400.0)) < 550.0
    assert float(ring_closing(0.086, 520.0, 400.0)) > float(ring_closing(0.086, 480.0, 400.0))
