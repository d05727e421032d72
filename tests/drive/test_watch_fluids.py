"""Oil, fuel, injectors and voltage: each fault alone in a drive made by hand, and the drive without it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from boostwright.drive import watch_fluids
from tests.drive.made import RATE, between, everyday, scene

ALL = (
    watch_fluids.oil_pressure,
    watch_fluids.fuel_pressure,
    watch_fluids.pulse_at_its_end,
    watch_fluids.voltage,
)


def test_a_sound_drive_says_nothing_of_its_fluids() -> None:
    whole = scene(everyday(400.0))
    assert [n.kind for find in ALL for n in find(whole)] == []


def test_lost_oil_pressure_is_found_by_its_share() -> None:
    channels = everyday(600.0)
    channels["oil_pressure"][between(300.0, 400.0)] *= 0.85
    (notice,) = watch_fluids.oil_pressure(scene(channels))
    assert notice.kind == "oil-pressure-low"
    assert notice.start == pytest.approx(300.0, abs=12.0)
    assert notice.end == pytest.approx(400.0, abs=12.0)
    assert notice.also[0].value == pytest.approx(0.15, abs=0.03)


def test_a_dip_of_the_oil_pressure_is_a_dip() -> None:
    channels = everyday(400.0)
    channels["oil_pressure"][between(215.0, 216.0)] -= 60e3
    (notice,) = watch_fluids.oil_pressure(scene(channels))
    assert notice.kind == "oil-pressure-dip"
    assert notice.start == pytest.approx(215.0, abs=0.5)
    assert notice.size.value == pytest.approx(-60e3, rel=0.25)


def test_oil_pressure_that_falls_with_the_oils_heat_is_no_fault() -> None:
    channels = everyday(600.0)
    heat = np.clip(np.arange(channels["oil_pressure"].size) / RATE / 600.0, 0.0, 1.0) * 60.0
    channels["oil_temperature"] = np.round(330.0 + heat)
    channels["oil_pressure"] *= np.exp(-(heat - 30.0) / 100.0)
    assert watch_fluids.oil_pressure(scene(channels)) == []


def test_a_rail_that_sags_under_boost_is_found_and_one_that_follows_is_not() -> None:
    channels = everyday(400.0)
    channels["fuel_pressure"][between(303.0, 307.0)] -= 25e3
    (notice,) = watch_fluids.fuel_pressure(scene(channels))
    assert notice.kind == "fuel-pressure-low"
    assert 302.0 < notice.start < notice.end < 308.5
    assert notice.size.value == pytest.approx(-25e3, rel=0.25)


def test_injectors_open_all_the_time_are_at_their_end() -> None:
    channels = everyday()
    channels["injector_duty"][between(62.0, 66.0)] = 1.0
    (notice,) = watch_fluids.pulse_at_its_end(scene(channels))
    assert notice.kind == "pulse-at-its-end"
    assert notice.size.value == pytest.approx(1.0, abs=0.01)


def test_duty_is_worked_out_from_the_pulse_where_it_is_not_recorded() -> None:
    channels = everyday()
    del channels["injector_duty"]
    speed = channels["engine_speed"][between(62.0, 66.0)]
    channels["injector_pulse"][between(62.0, 66.0)] = 4.0 * np.pi / speed  # open for the whole cycle
    assert [n.kind for n in watch_fluids.pulse_at_its_end(scene(channels))] == ["pulse-at-its-end"]


def test_a_sag_of_the_voltage_is_found_and_a_fans_inrush_is_not() -> None:
    channels = everyday()
    channels["battery_voltage"][between(100.0, 100.25)] -= 0.9
    assert watch_fluids.voltage(scene(channels)) == []
    channels["battery_voltage"][between(130.0, 132.0)] -= 0.9
    (notice,) = watch_fluids.voltage(scene(channels))
    assert notice.size.value == pytest.approx(-0.9, abs=0.1)
    assert notice.start == pytest.approx(130.0, abs=0.3)


def test_a_voltage_that_dips_but_still_charges_is_no_sag() -> None:
    channels = everyday()
    here = between(130.0, 132.0)
    assert np.median(channels["battery_voltage"][here]) > 13.8
    channels["battery_voltage"][here] -= 0.45
    assert channels["battery_voltage"][here].min() > 13.2
    (notice,) = watch_fluids.voltage(scene(channels))
    assert not notice.fault
    assert "still feeds" in notice.note
    channels["battery_voltage"] -= 0.5  # the same dip where the battery has to help
    (notice,) = watch_fluids.voltage(scene(channels))
    assert notice.fault


def test_a_rail_without_a_hose_to_the_manifold_does_not_follow() -> None:
    channels = everyday(400.0)
    assert watch_fluids.rail_follows(scene(channels)) == []
    channels["fuel_pressure"] -= channels["manifold_pressure"] - 98e3
    (notice,) = watch_fluids.rail_follows(scene(channels))
    assert notice.kind == "rail-not-following"
    assert notice.size.value == pytest.approx(0.0, abs=0.05)


def test_hot_idle_is_held_against_the_reading_before_the_work() -> None:
    channels = everyday(400.0)  # 120 kPa + 700 Pa s of 89 rad/s: some 182 kPa at idle
    whole = scene(channels)
    as_it_was = replace(whole, facts=whole.facts._replace(oil_pressure_idle=190e3))
    assert watch_fluids.oil_pressure(as_it_was) == []
    far_below = replace(whole, facts=whole.facts._replace(oil_pressure_idle=270e3))
    (notice,) = watch_fluids.oil_pressure(far_below)
    assert notice.kind == "oil-pressure-low"
    assert notice.size.value == pytest.approx(182e3, rel=0.03)
    assert "before the work" in notice.note


def test_a_battery_that_nothing_charges_is_said() -> None:
    channels = everyday()
    channels["battery_voltage"] -= 1.7
    (notice,) = watch_fluids.voltage(scene(channels))
    assert notice.size.value == pytest.approx(12.3, abs=0.05)
    assert "not charged" in notice.note
