"""Channels on one grid: rows, gaps, slower channels, other clocks."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.drive.signal import Signals
from boostwright.errors import OutOfRange
from boostwright.readers.drive_log.recording import Channel, Clock, Recording

RNG = np.random.default_rng(8)


def channel(key: str, value: np.ndarray, clock: int = 0) -> Channel:
    return Channel(key, value, clock, key, "SI", True, 1.0)


def clock(stamp: np.ndarray) -> Clock:
    return Clock(stamp, np.arange(stamp.size, dtype=np.int64))


def test_each_row_has_one_place_and_a_gap_has_empty_ones() -> None:
    t = np.delete(np.arange(0.0, 20.0, 0.02), slice(400, 500))
    s = Signals(Recording("x", (clock(t),), (channel("engine_speed", np.arange(t.size) * 1.0),)))
    assert s.real.sum() == t.size
    assert len(s) == t.size + 100
    assert np.array_equal(s.row[s.real], np.arange(t.size))
    assert np.array_equal(s.t[s.real], t)
    assert np.isnan(s["engine_speed"][450])


def test_a_long_gap_costs_ten_seconds_of_grid() -> None:
    t = np.concatenate((np.arange(0.0, 5.0, 0.02), np.arange(5000.0, 5005.0, 0.02)))
    s = Signals(Recording("x", (clock(t),), (channel("engine_speed", t),)))
    assert len(s) < t.size + 510
    assert (np.diff(s.t) > 0).all()


@pytest.mark.parametrize("leaves_cells_empty", [True, False])
def test_a_slower_channel_tells_its_rate(leaves_cells_empty: bool) -> None:
    t = np.arange(0.0, 60.0, 0.02)
    own = RNG.normal(100.0, 5.0, t.size // 5)
    value = np.repeat(own, 5)
    if leaves_cells_empty:
        value[np.arange(t.size) % 5 != 0] = np.nan
    s = Signals(Recording("x", (clock(t),), (channel("engine_speed", t), channel("oil_pressure", value))))
    assert s.rate("oil_pressure") == pytest.approx(10.0, rel=0.01)
    assert np.array_equal(s["oil_pressure"], np.repeat(own, 5))
    assert s.noise("oil_pressure") == pytest.approx(5.0, rel=0.15)
    assert s.read("oil_pressure").sum() == pytest.approx(own.size, rel=0.01)


def test_a_second_clock_is_brought_to_the_first() -> None:
    quick, slow = np.arange(0.0, 30.0, 0.02), np.arange(0.011, 30.0, 0.25)
    s = Signals(
        Recording(
            "x",
            (clock(slow), clock(quick)),
            (channel("engine_speed", quick, 1), channel("coolant_temperature", slow, 0)),
        )
    )
    assert s.step == pytest.approx(0.02)
    late = s.t - s["coolant_temperature"]
    assert np.nanmax(late) < 0.3
    assert np.nanmin(late) > -0.011


def test_uneven_rows_get_an_even_grid() -> None:
    t = np.cumsum(RNG.exponential(0.1, 3000))
    s = Signals(Recording("x", (clock(t),), (channel("engine_speed", t),)))
    assert np.nanmax(np.abs(s["engine_speed"] - s.t)) < 1.0
    assert np.isfinite(s["engine_speed"]).mean() > 0.8


def test_what_is_not_recorded_is_nan() -> None:
    t = np.arange(0.0, 5.0, 0.1)
    s = Signals(Recording("x", (clock(t),), (channel("engine_speed", t),)))
    assert "lambda" not in s
    assert s.get("lambda") is None
    assert np.isnan(s["lambda"]).all()


def test_no_rows_are_refused() -> None:
    with pytest.raises(OutOfRange, match="two of them"):
        Signals(Recording("x", (clock(np.array([1.0])),), ()))
