"""What may have happened between two readings: said for a log that is too slow, and only for that."""

from __future__ import annotations

import numpy as np

from boostwright.drive.rates import missed_between
from tests.drive.made import RATE, everyday, scene


def test_a_quick_log_of_slow_things_misses_nothing() -> None:
    channels = everyday(240.0)
    channels["manifold_pressure"] = np.round(channels["manifold_pressure"] * 0.0 + 120e3, -2)
    channels["lambda"] = channels["lambda"] * 0.0 + 0.8
    channels["fuel_pressure"] = channels["fuel_pressure"] * 0.0 + 320e3
    channels["oil_pressure"] = channels["oil_pressure"] * 0.0 + 300e3
    assert missed_between(scene(channels)) == []


def test_pressure_that_swings_between_its_readings_is_said_with_rate_and_size() -> None:
    channels = everyday(240.0)
    t = np.arange(channels["throttle"].size) / RATE
    channels["manifold_pressure"] += 12e3 * np.sin(2 * np.pi * 5.0 * t)
    said = {m.kinds[0]: m.reason for m in missed_between(scene(channels))}
    assert "50 times a second" in said["boost-over-target"]
    # the steepest step of that sine: 2 pi 5/s 12 kPa / 50/s = 7.5 kPa, and a little of the pulls' own rise
    assert "kPa from one reading to the next" in said["boost-over-target"]


def test_nothing_is_said_of_a_channel_that_is_not_there() -> None:
    channels = everyday(240.0)
    for key in ("lambda", "fuel_pressure", "oil_pressure", "manifold_pressure"):
        del channels[key]
    assert missed_between(scene(channels)) == []
