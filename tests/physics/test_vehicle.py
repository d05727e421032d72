"""The car at its limits: pull, axle loads, grip, brakes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.errors import OutOfRange
from boostwright.physics import driveline, vehicle
from tests.labels import check

G = 9.80665


@check("limit", note="power in is power out over efficiency: T w eta = F v; exact")
def test_power_passes_through_the_gears() -> None:
    ratios, w, torque, r, eta = np.array([3.5, 2.0, 1.35, 1.0, 0.8]) * 4.1, 500.0, 180.0, 0.29, 0.93
    v = driveline.road_speed_at(w, ratios, r)
    force = vehicle.drive_force(torque, ratios, eta, r)
    assert force * v == pytest.approx(np.full(5, torque * w * eta))
    assert vehicle.engine_torque_at_grip(force, ratios, eta, r) == pytest.approx(np.full(5, torque))
    assert vehicle.wheel_torque(torque, ratios, eta) == pytest.approx(force * r)


@check("conservation", note="vertical forces and moments about the rear contact balance; round-off")
@given(st.floats(0.35, 0.65), st.floats(0.15, 0.3), st.floats(-8, 6), st.floats(-0.2, 0.2))
def test_axle_loads_balance(f: float, h: float, a: float, s: float) -> None:
    m, L = 1200.0, 2.5
    found = vehicle.axle_loads(m, f, h, a, s)
    assert float(found.front + found.rear) == pytest.approx(m * G * np.cos(s))
    if 0 < float(found.front) < m * G * np.cos(s):
        about_rear = m * G * np.cos(s) * f * L - m * (a + G * np.sin(s)) * h * L
        assert float(found.front) * L == pytest.approx(about_rear, rel=1e-9, abs=1e-6)


@check(
    "published",
    source="wong2001",
    note="mu W l2/L/(1 + mu h/L) and its twin, from memory; own example by hand",
)
def test_traction_limits() -> None:
    # 1100 kg, 60 % in front, h/L 0.2, mu 0.9: 0.9 * 10787.3 * 0.6/1.18; 0.9 * 10787.3 * 0.4/0.82
    assert float(vehicle.front_drive_grip(1100, 0.6, 0.2, 0.9)) == pytest.approx(4936.6, abs=0.1)
    assert float(vehicle.rear_drive_grip(1100, 0.6, 0.2, 0.9)) == pytest.approx(4735.9, abs=0.1)


@check("limit", note="the load that the pull leaves on the axle, times mu, is the pull; round-off")
@given(st.floats(0.4, 0.65), st.floats(0.15, 0.3), st.floats(0.1, 1.2))
def test_grip_closes_with_the_axle_loads(f: float, h: float, mu: float) -> None:
    m = 1200.0
    for pull, axle in (
        (vehicle.front_drive_grip(m, f, h, mu), 0),
        (vehicle.rear_drive_grip(m, f, h, mu), 1),
    ):
        load = vehicle.axle_loads(m, f, h, float(pull) / m)[axle]
        assert float(pull) == pytest.approx(mu * float(load), rel=1e-9)


def test_rear_grip_when_the_front_lifts() -> None:
    assert float(vehicle.rear_drive_grip(1000, 0.3, 0.8, 1.0)) == pytest.approx(1000 * G)
    assert float(vehicle.rear_drive_grip(1000, 0.5, 1.0, 1.2)) == pytest.approx(1.2 * 1000 * G)
    lifted = vehicle.axle_loads(1000, 0.3, 0.8, 9.0)
    assert float(lifted.front) == 0.0


def test_place_of_the_weight_is_a_share() -> None:
    for wrong in (0.0, 1.0, 60.0):
        with pytest.raises(OutOfRange, match=r"0\.6 for 60 %"):
            vehicle.axle_loads(1000, wrong, 0.2)


@check("limit", note="kinetic energy by hand: 1200 kg from 30 m/s, and between two speeds; exact")
def test_brake_energy() -> None:
    assert float(vehicle.brake_energy(1200, 30.0)) == pytest.approx(540e3)
    whole = float(vehicle.brake_energy(1200, 30.0, 10.0)) + float(vehicle.brake_energy(1200, 10.0))
    assert whole == pytest.approx(540e3)


@check("conservation", note="heat in both discs of both axles and in the pads is the car's energy; round-off")
def test_brake_heat_is_all_there() -> None:
    energy, q, c = 540e3, 0.95, 480.0
    discs = [(0.7, 5.0), (0.3, 3.5)]
    heat = sum(2 * m * c * float(vehicle.disc_temperature_rise(energy, s, m, c, q)) for s, m in discs)
    assert heat / q == pytest.approx(energy)


@check(
    "limit",
    note="stop by stop: add the rise, cool by e^-x; no cooling n dT; endless dT/(1 - e^-x); round-off",
)
def test_repeated_stops() -> None:
    rise, x, T = 110.0, 0.35, 293.0
    for n in range(1, 12):
        T = 293.0 + (T - 293.0) * (1 if n == 1 else np.exp(-x)) + rise
        assert float(vehicle.repeated_stop_temperature(rise, n, x, 293.0)) == pytest.approx(T)
    assert float(vehicle.repeated_stop_temperature(rise, 7, 0.0, 293.0)) == pytest.approx(293 + 770)
    assert float(vehicle.repeated_stop_temperature(rise, 7, 1e-9, 293.0)) == pytest.approx(293 + 770)
    endless = float(vehicle.repeated_stop_temperature(rise, 1e4, x, 293.0))
    assert endless == pytest.approx(293 + rise / (1 - np.exp(-x)))


@check(
    "limit", id="W13", note="rev per km of the free radius and speed at 6000 rpm, worked by hand; last digit"
)
def test_speed_by_gear_and_tyre() -> None:
    assert driveline.tyre_size("205/55R16").free_radius == pytest.approx(0.31595, abs=5e-6)
    assert 1000 / (2 * np.pi * driveline.tyre_size("205/55R16").free_radius) == pytest.approx(503.7, abs=0.05)
    v = driveline.road_speed_at(6000 * np.pi / 30, 3.9, 0.308)
    assert float(v) * 3.6 == pytest.approx(178.6, abs=0.05)
