"""The car with the new torque: grip by gear, top speed, discs."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from boostwright.build.document import Build
from boostwright.library.transient import road
from boostwright.physics.atmosphere import GRAVITY
from boostwright.readers.build_file import read_build
from boostwright.systems.on_the_road import (
    Brakes,
    Chassis,
    disc_after_stops,
    grip_torque,
    moved_share,
    speed_reached,
)
from boostwright.systems.stated.on_the_road import brakes_of, chassis_of, clutch_of, uncertain_brakes
from boostwright.systems.transient.records import Car
from tests.findings.test_subjects import MINIMAL, build
from tests.labels import check

RPM = np.pi / 30
CAR = Car(
    mass=1150.0, drag_area=0.68, gears=(3.45, 1.95, 1.30, 0.97, 0.80), final_drive=4.0, radius=0.29,
    rolling=0.012, efficiency=0.92, rotating=road().rotating,
)  # fmt: skip
CHASSIS = Chassis(1150.0, 0.6, 0.21, 0.9, "front")
ONE_STOP = Brakes(4.6, 0.72, 0.95, 460.0, 0.0, 0.0, 30.0, 1.0, 1.0, 60.0)
OMEGA = np.linspace(1000, 6500, 12) * RPM


@check("limit", note="all four driven: the whole weight times the grip, T = mu m g r/(i eta)")
def test_all_wheels_hold_the_whole_weight() -> None:
    held = grip_torque(CAR, replace(CHASSIS, driven="all"))
    by_hand = 0.9 * 1150.0 * GRAVITY * 0.29 / (np.array(CAR.gears) * 4.0 * 0.92)
    assert held == pytest.approx(by_hand, rel=1e-9)


@check(
    "conservation",
    note="front and rear axle at the pull that each holds: load times grip, moments about a contact",
)
def test_grip_of_either_axle() -> None:
    m, f, h, mu = 1150.0, 0.6, 0.21, 0.9
    for driven, sign in (("front", -1.0), ("rear", 1.0)):
        torque = float(grip_torque(CAR, replace(CHASSIS, driven=driven))[0])
        pull = torque * 3.45 * 4.0 * 0.92 / 0.29
        share = f if driven == "front" else 1 - f
        assert pull == pytest.approx(mu * (m * GRAVITY * share + sign * pull * h), rel=1e-9)


def test_the_battery_at_the_back_takes_grip_from_driven_front_wheels() -> None:
    there = moved_share(0.6, 1150.0, 15.0, 2.9, 2.5)
    assert there == pytest.approx(0.6 - 15 * 2.9 / (1150 * 2.5))
    held = [grip_torque(CAR, replace(CHASSIS, front_share=f))[0] for f in (0.6, there)]
    assert held[1] < held[0]
    bay = chassis_of(build(rest='[battery]\nposition = "bay"\n'))
    boot = chassis_of(build(rest='[battery]\nposition = "boot"\n'))
    assert boot.front_share < bay.front_share
    weighed = chassis_of(build(rest='[battery]\nposition = "boot"\n[car]\nfront_share = "60 %"\n'))
    assert weighed.front_share == pytest.approx(0.6)


@check(
    "limit",
    note="P eta = (rho cdA/2 v^2 + cr m g) v, solved apart; straight between the line's speeds: 0.5 %",
)
def test_top_speed_by_drag() -> None:
    power = np.full(OMEGA.shape, 80e3)  # alike at every speed: then the gear does not matter
    found = speed_reached(CAR, OMEGA, power / OMEGA, 1.18)
    v = 40.0
    for _ in range(50):
        v = (80e3 * 0.92 / (1.18 * 0.34 * v + 0.012 * 1150 * GRAVITY / v)) ** 0.5
    assert found.speed == pytest.approx(v, rel=5e-3)
    assert not found.by_gearing


@check("limit", note="far more torque than needed: the end of the revs in the longest gear, w r/(i_g i_f)")
def test_top_speed_by_gearing() -> None:
    found = speed_reached(CAR, OMEGA, np.full(OMEGA.shape, 600.0), 1.18)
    assert found == (pytest.approx(6500 * RPM * 0.29 / (0.80 * 4.0)), 5, True)
    assert speed_reached(CAR, OMEGA, np.full(OMEGA.shape, np.nan), 1.18).speed == 0.0
    assert speed_reached(CAR, OMEGA, np.full(OMEGA.shape, 2.0), 1.18).speed == 0.0


@check("limit", note="one stop of discs that start warm: m_eff v^2/2 s q/(2 m c), by hand")
def test_one_stop() -> None:
    turning = 1150.0 * (1 + road().rotating.wheels)
    rise = turning * 50.0**2 / 2 * 0.72 * 0.95 / (2 * 4.6 * 460.0)
    assert disc_after_stops(ONE_STOP, CAR, 50.0, 300.0) == pytest.approx(300 + 60 + rise, rel=1e-9)


@check("limit", note="stops without cooling add up; with endless cooling each is the first again")
def test_stops_in_a_row() -> None:
    once = disc_after_stops(ONE_STOP, CAR, 40.0, 300.0) - 360.0
    three = disc_after_stops(replace(ONE_STOP, stops=3.0), CAR, 40.0, 300.0)
    assert three == pytest.approx(360.0 + 3 * once, rel=1e-9)
    cold = disc_after_stops(replace(ONE_STOP, stops=3.0, cooling=9.0), CAR, 40.0, 300.0)
    assert cold == pytest.approx(300.0 + once, rel=1e-9)


@check(
    "common practice",
    note="reprinted by brake shops: 1690 kg from 134 km/h, 70 % in front, ring of 6 kg: 125 K warmer; 15 %",
)
def test_a_stop_that_the_trade_quotes() -> None:
    car = replace(CAR, mass=1690.0)
    front = replace(ONE_STOP, disc_mass=6.0, front_share=0.70, heat_rise=0.24, warm=0.0)
    rise = float(disc_after_stops(front, car, 134 / 3.6, 293.15)) - 293.15
    assert rise == pytest.approx(125.0, rel=0.15)


def test_what_makes_discs_hotter() -> None:
    base = disc_after_stops(replace(ONE_STOP, stops=2.0, cooling=2e-3), CAR, 50.0, 300.0)
    for change in (
        {"disc_mass": 5.5},
        {"front_share": 0.65},
        {"share": 0.8},
        {"cooling": 4e-3},
        {"warm": 20.0},
    ):
        cooler = replace(ONE_STOP, stops=2.0, **{"cooling": 2e-3, **change})
        assert disc_after_stops(cooler, CAR, 50.0, 300.0) < base
    assert disc_after_stops(replace(ONE_STOP, stops=2.0, cooling=2e-3), CAR, 55.0, 300.0) > base


def test_a_clutch_by_plate_and_disc_or_by_its_figure() -> None:
    plate = (
        '[clutch]\nclamp_load = { value = "5000 N", source = "measured" }\ndisc_outer = "215 mm"\n'
        'disc_inner = "145 mm"\n'
    )
    found = clutch_of(build(rest=plate))
    assert found.how == "plate"
    assert found.torque == pytest.approx(2 * 0.29 * 5000 * (0.1075 + 0.0725) / 2)
    assert found.sd / found.torque == pytest.approx(math.hypot(0.04, 0.03 / 0.29))
    ceramic = clutch_of(build(rest=plate + 'lining = "ceramic"\ndiscs = 2\n'))
    assert ceramic.torque == pytest.approx(found.torque * 2 * 0.38 / 0.29)
    assert clutch_of(build(rest=plate + 'torque = "240 Nm"\n')).torque == pytest.approx(240.0)
    assert clutch_of(build()).how == ""


def test_brakes_follow_the_use_of_the_car() -> None:
    road_car, track = brakes_of(build()), brakes_of(_track())
    assert track.stops > road_car.stops
    assert {name for name, *_ in uncertain_brakes(_track())} >= {"stops_track/warm", "car.brake_disc_mass"}


def _track() -> Build:
    text = MINIMAL.format(engine="", fuel="", rest="").replace("[build]", '[build]\nuse = "track"')
    return read_build(text.encode())
