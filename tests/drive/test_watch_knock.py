"""Knock by event and cause, spark late for no recorded reason, and what a broken sensor may not prove."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.drive import watch_knock
from boostwright.drive.records import Notice, Reading
from boostwright.drive.settle import settled
from tests.drive.made import RATE, between, everyday, scene

DEGREE = np.pi / 180


def with_retard(seconds: float = 120.0) -> dict[str, np.ndarray]:
    channels = everyday(seconds)
    for cylinder in range(1, 5):
        channels[f"knock_retard {cylinder}"] = np.zeros(channels["throttle"].size)
    return channels


def add_knock(channels: dict[str, np.ndarray], cylinder: int, at: float, degrees: float) -> None:
    retard = channels[f"knock_retard {cylinder}"]
    t = np.arange(retard.size) / RATE - at
    decay = np.where(t >= 0.0, np.maximum(degrees - 0.5 * t, 0.0), 0.0)
    retard += np.round(decay / 0.25) * 0.25 * DEGREE


def test_no_knock_and_harmless_retard_say_nothing() -> None:
    channels = with_retard()
    assert watch_knock.knock(scene(channels)) == []
    add_knock(channels, 2, 64.0, 0.75)
    assert watch_knock.knock(scene(channels)) == []


def test_a_knock_after_a_tip_in_is_a_transient_with_its_cylinder() -> None:
    channels = with_retard()
    add_knock(channels, 3, 60.6, 2.5)
    (notice,) = watch_knock.knock(scene(channels))
    assert (notice.kind, notice.note) == ("knock-transient", "after a tip-in")
    assert notice.size.value == pytest.approx(2.5 * DEGREE, rel=0.05)
    assert {r.of: r.value for r in notice.also}["cylinder"] == 3.0


def test_knock_that_goes_on_is_sustained() -> None:
    channels = with_retard()
    for k in range(6):
        add_knock(channels, 1, 63.0 + 0.4 * k, 1.0)
    (notice,) = watch_knock.knock(scene(channels))
    assert notice.kind == "knock-sustained"
    assert {r.of: r.value for r in notice.also}["knocks"] == 6.0


def test_the_counter_serves_where_no_retard_is_recorded() -> None:
    channels = everyday(120.0)
    count = np.zeros(channels["throttle"].size)
    for at in (63.0, 63.5, 64.0, 64.4):
        count[int(at * RATE) :] += 1.0
    channels["knock_count"] = count
    (notice,) = watch_knock.knock(scene(channels))
    assert (notice.kind, notice.size.value) == ("knock-sustained", 4.0)


def test_the_level_serves_where_nothing_else_is_recorded() -> None:
    channels = everyday(240.0)
    rng = np.random.default_rng(3)
    channels["knock_level"] = (
        0.1 + channels["engine_speed"] / 3000.0 + rng.normal(0.0, 0.01, channels["throttle"].size)
    )
    assert watch_knock.knock(scene(channels)) == []
    channels["knock_level"][between(65.0, 65.1)] += 0.4
    assert [n.channels for n in watch_knock.knock(scene(channels))] == [("knock_level",)]


def test_late_spark_without_a_reason_is_said_and_knock_is_a_reason() -> None:
    channels = with_retard()
    channels["spark_advance"][between(64.0, 66.0)] -= 6.0 * DEGREE
    assert [n.kind for n in watch_knock.late_spark(scene(channels))] == ["spark-late"]
    channels["knock_retard 1"][between(64.0, 66.0)] = 6.0 * DEGREE
    assert watch_knock.late_spark(scene(channels)) == []


def notice(kind: str, start: float, end: float, channel: str) -> Notice:
    size = Reading("", 1.0, 0.1, "ratio")
    return Notice(kind, True, start, end, int(start), int(end), size, 5.0, (channel,))


def test_what_rests_on_a_broken_sensor_is_left_out() -> None:
    broken = notice("sensor-at-its-end", 10.0, 12.0, "fuel_pressure")
    false = notice("fuel-pressure-low", 10.1, 12.1, "fuel_pressure")
    other = notice("voltage-low", 10.1, 12.1, "battery_voltage")
    later = notice("fuel-pressure-low", 40.0, 42.0, "fuel_pressure")
    assert settled([false, broken, other, later]) == [broken, other, later]
