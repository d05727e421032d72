"""The helpers against plain numpy on small arrays."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.drive.windows import (
    bend_of,
    held,
    lag_between,
    noise_of,
    quantum_of,
    robust_sd,
    running_max,
    running_mean,
    running_median,
    running_sd,
    slope,
    spans,
    swing,
)

RNG = np.random.default_rng(3)


def test_spans_join_and_leave_out() -> None:
    mask = np.array([0, 1, 1, 0, 1, 0, 0, 0, 1, 0], dtype=bool)
    assert spans(mask) == [(1, 3), (4, 5), (8, 9)]
    assert spans(mask, join=1) == [(1, 5), (8, 9)]
    assert spans(mask, join=1, least=2) == [(1, 5)]
    assert spans(np.zeros(4, dtype=bool), join=3) == []


def test_a_reading_is_held_only_so_long() -> None:
    x = np.array([np.nan, 1.0, np.nan, np.nan, np.nan, 2.0])
    assert np.array_equal(held(x, 2), [np.nan, 1.0, 1.0, 1.0, np.nan, 2.0], equal_nan=True)


@pytest.mark.parametrize("window", [1, 4, 5])
def test_running_figures_are_those_of_each_window(window: int) -> None:
    x = RNG.normal(5.0, 2.0, 60)
    x[[3, 4, 40]] = np.nan
    half = window // 2
    parts = [x[max(0, i - half) : i + window - half] for i in range(x.size)]
    mean = running_mean(x, window)
    sd = running_sd(x, window)
    for i, part in enumerate(parts):
        there = part[np.isfinite(part)]
        if there.size == 0:
            assert np.isnan(mean[i])
        else:
            assert mean[i] == pytest.approx(there.mean())
            assert sd[i] == pytest.approx(there.std(), abs=1e-6)  # root of what sums of squares round off


def test_running_median_and_maximum() -> None:
    x = RNG.normal(0.0, 1.0, 50)
    assert running_median(x, 5)[10] == np.median(x[8:13])
    assert running_max(x, 5)[10] == x[8:13].max()


def test_slope_of_a_line() -> None:
    assert slope(3.0 * np.arange(20) * 0.1, 0.1, 2)[5] == pytest.approx(3.0)


def test_lag_is_found_between_the_samples() -> None:
    t = np.arange(0.0, 40.0, 0.02)
    x = np.convolve(RNG.normal(0.0, 1.0, t.size + 50), np.ones(50) / 50, mode="same")[: t.size]
    late = np.interp(t - 0.135, t, x)
    lag, match = lag_between(x, late, 0.02, 1.0)
    assert lag == pytest.approx(0.135, abs=0.004)
    assert match > 0.98


def test_a_channel_that_stands_still_has_no_lag() -> None:
    lag, match = lag_between(np.ones(500), RNG.normal(size=500), 0.1, 1.0)
    assert np.isnan(lag)
    assert match == 0.0


@pytest.mark.parametrize("sd", [0.5, 2.0])
def test_noise_is_told_from_slow_change(sd: float) -> None:
    x = 30.0 * np.sin(np.arange(5000) / 300.0) + RNG.normal(0.0, sd, 5000)
    assert noise_of(x) == pytest.approx(sd, rel=0.05)  # 1/sqrt(2 n) of 5000, and the median's loss, is 2 %


def test_the_step_of_a_channel_is_seen() -> None:
    x = np.round(RNG.normal(100.0, 8.0, 4000) / 0.25) * 0.25
    assert quantum_of(x) == pytest.approx(0.25)
    assert quantum_of(np.ones(10)) == 0.0


def test_one_outlier_does_not_move_the_robust_spread() -> None:
    x = RNG.normal(0.0, 1.0, 4000)
    x[:200] = 1e6
    assert robust_sd(x) == pytest.approx(1.0, rel=0.15)  # 5 % of outliers move the median deviation by 7 %


def test_a_swing_has_two_whole_waves() -> None:
    t = np.arange(0.0, 10.0, 0.02)
    bump = 8.0 * np.exp(-(((t - 5.0) / 0.3) ** 2))
    wave = 3.0 * np.sin(2 * np.pi * 1.6 * t) * (t > 4.0) * (t < 7.0)
    longest = 40
    once = swing(bend_of(bump, 15), 4, longest)
    more = swing(bend_of(wave, 15), 4, longest)
    assert more is not None
    assert more[2] == pytest.approx(3.0, rel=0.25)
    assert once is None or once[2] < 0.3 * more[2]
    assert t[more[0] + 15] == pytest.approx(4.0, abs=0.5)
    assert t[more[1] + 15] == pytest.approx(7.0, abs=0.5)
