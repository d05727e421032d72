"""Sensors, channels and clock: each fault alone in a drive made by hand, and the same drive without it."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.drive import watch_clock, watch_sensors
from boostwright.drive.runs import beyond, runs_of
from tests.drive.made import RATE, between, everyday, scene
from tests.labels import check


def found(channels, detector=watch_sensors.sensors):
    return [(n.kind, n.channels[0], n.first_row, n.last_row) for n in detector(scene(channels))]


def test_a_sound_drive_says_nothing_of_its_sensors() -> None:
    channels = everyday()
    assert found(channels) == []
    assert found(channels) == []
    assert watch_clock.clock_faults(scene(channels)) == []


@pytest.mark.parametrize("key", ["manifold_pressure", "lambda", "oil_pressure", "road_speed"])
def test_a_sensor_that_stands_still_is_found_with_its_rows(key: str) -> None:
    channels = everyday()
    where = between(53.0, 57.0)
    channels[key][where] = channels[key][where.start]
    kind, of, first, last = found(channels)[0]
    assert (kind, of) == ("sensor-frozen", key)
    assert abs(first - where.start) <= 5
    assert abs(last - where.stop) <= 5


def test_an_open_wire_is_a_sensor_at_its_end() -> None:
    channels = everyday()
    channels["intake_temperature"][between(100.0, 102.0)] = 413.15
    channels["manifold_pressure"][between(140.0, 141.0)] = 10e3
    assert [f[:2] for f in found(channels)] == [
        ("sensor-at-its-end", "manifold_pressure"),
        ("sensor-at-its-end", "intake_temperature"),
    ]


def test_a_channel_that_came_once_a_second_is_slow_and_not_frozen() -> None:
    channels = everyday()
    rows = np.arange(*between(100.0, 106.0).indices(10**6))
    channels["manifold_pressure"][rows] = channels["manifold_pressure"][rows - (rows - rows[0]) % int(RATE)]
    assert {f[0] for f in found(channels)} == {"channel-slow"}


def test_empty_cells_of_a_slow_channel_are_no_fault_and_their_lack_is() -> None:
    channels = everyday()
    every = np.arange(channels["battery_voltage"].size)
    channels["battery_voltage"][every % 5 != 0] = np.nan
    assert found(channels) == []
    hole = (every > 5000) & (every < 5300) & (every % 50 != 0)
    channels["battery_voltage"][hole] = np.nan
    assert [f[:2] for f in found(channels)] == [("channel-slow", "battery_voltage")]


def test_spikes_are_told_as_one_and_only_of_their_channel() -> None:
    channels = everyday()
    for second in (90.0, 90.7, 91.9):
        channels["oil_pressure"][int(second * RATE)] += 120e3
    notices = watch_sensors.sensors(scene(channels))
    assert [(n.kind, n.channels) for n in notices] == [("sensor-spikes", ("oil_pressure",))]
    assert notices[0].size.value == pytest.approx(120e3, abs=20e3)


def test_a_jab_at_the_throttle_is_no_spike_when_the_pressure_follows() -> None:
    channels = everyday()
    at = int(50.0 * RATE)
    channels["throttle"][at] += 0.2
    channels["manifold_pressure"][at : at + 2] += 8e3
    assert found(channels) == []


def test_clock_faults_carry_size_and_rows() -> None:
    channels = everyday()
    stamp = np.arange(channels["throttle"].size) / RATE
    stamp[3000:] += 2.0
    stamp[6000:] -= 5.0
    stamp[8000:8030] = stamp[8000]
    notices = watch_clock.clock_faults(scene(channels, stamp))
    assert [n.kind for n in notices] == ["clock-gap", "clock-jump-back", "clock-repeats"]
    assert [n.first_row for n in notices] == [2999, 5999, 8000]
    assert notices[0].size.value == pytest.approx(2.0 + 1 / RATE)


@check("limit", note="an exponential law: one set in a hundred exceeds what is called beyond its usual")
def test_what_is_beyond_the_usual_is_reached_by_one_in_a_hundred() -> None:
    rng = np.random.default_rng(11)
    trials = 2000
    over = sum(float(x.max()) > beyond(x, 0.0) for x in rng.exponential(1.0, (trials, 1000)))
    # the scale comes from 50 values, sd of its logarithm about 0.2: the share lies near 1 to 4 %
    assert 0.004 < over / trials < 0.05


def test_with_the_engine_off_a_quiet_sensor_is_no_fault_and_one_that_stopped_is() -> None:
    channels = everyday()
    off = between(80.0, 110.0)
    channels["engine_speed"][off] = 0.0
    rng = np.random.default_rng(4)
    channels["manifold_pressure"][off] = np.round(98.0 + rng.normal(0.0, 0.2, off.stop - off.start), 1) * 1e3
    assert found(channels) == []
    channels["manifold_pressure"][between(90.0, 96.0)] = 98e3
    assert [f[:2] for f in found(channels)] == [("sensor-frozen", "manifold_pressure")]


def test_three_lower_spikes_in_a_row_are_spikes_and_one_of_them_is_not() -> None:
    channels = everyday()
    runs = runs_of(scene(channels).signals, "oil_pressure")
    height = watch_sensors.spike_heights(runs)
    usual = beyond(height[height > 0.0], 0.0)

    def add(second: float) -> None:
        at, pressure = int(second * RATE), channels["oil_pressure"]
        pressure[at - 1 : at + 2] = pressure[at - 1] + np.array([0.0, 0.93 * usual, 0.0])

    add(90.0)
    assert found(channels) == []
    for second in (91.0, 92.0, 93.0):
        add(second)
    assert [f[:2] for f in found(channels)] == [("sensor-spikes", "oil_pressure")]


def test_a_lambda_reading_out_and_back_within_40_ms_is_a_spike_even_after_a_cut() -> None:
    channels = everyday()
    for second in (33.0, 33.6, 34.2):
        channels["lambda"][int(second * RATE)] += 0.2
    assert [f[:2] for f in found(channels)] == [("sensor-spikes", "lambda")]


def parked() -> dict[str, np.ndarray]:
    """A drive that begins and ends parked, with stops; the speed sensor sees nothing below 2.2 m/s."""
    channels = everyday()
    t = np.arange(channels["throttle"].size) / RATE
    rolling = 7.0 - 7.0 * np.cos(t / 6.0) + np.random.default_rng(8).normal(0.0, 0.03, t.size)
    rolling = np.where((t < 37.0) | (t > 227.0) | (rolling < 2.2), 0.0, rolling)
    channels["road_speed"] = np.round(rolling / 0.07) * 0.07
    return channels


def test_a_car_that_stands_is_no_sensor_at_its_end_and_a_wire_that_let_go_is() -> None:
    channels = parked()
    assert [f for f in found(channels) if f[1] == "road_speed" and channels["road_speed"][f[2]] == 0] == []
    channels = everyday()
    channels["road_speed"][between(104.0, 106.0)] = 0.0  # in a pull
    assert ("sensor-at-its-end", "road_speed") in [f[:2] for f in found(channels)]


def test_a_foot_that_is_off_is_no_throttle_at_its_end() -> None:
    channels = everyday()
    for first in range(28, 240, 40):  # a stop that is reached exactly, and held for three seconds
        channels["throttle"][between(first + 0.5, first + 3.7)] = 0.0
    channels["throttle"][between(188.0, 194.0)] = 0.0
    assert [f for f in found(channels) if f[1] == "throttle"] == []


def test_a_throttle_that_reads_shut_at_full_boost_stands_at_its_end() -> None:
    channels = everyday()
    channels["throttle"][between(102.5, 104.0)] = 0.0
    assert ("sensor-at-its-end", "throttle") in [f[:2] for f in found(channels)]
