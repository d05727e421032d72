"""The robust fit to the drive itself, blocks and lags, against exact answers."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.drive.habit import Blocks, habit, late
from tests.drive.made import everyday, scene
from tests.labels import check


@check("limit", note="a straight line with 15 % of its readings far off; four standard errors of the rest")
def test_a_share_of_wild_readings_does_not_move_the_habit() -> None:
    rng = np.random.default_rng(2)
    x = rng.uniform(0.0, 10.0, 4000)
    y = 3.0 + 2.0 * x + rng.normal(0.0, 0.1, x.size)
    y[:600] += 25.0
    fit = habit(np.array([np.ones(x.size), x]).T, y, np.ones(x.size, dtype=bool))
    assert np.abs(fit.usual - (3.0 + 2.0 * x)).max() < 0.02
    # the median of all lies at 0.5/0.85 of the sound ones: 0.8194 sd, 1.4826 times that
    assert fit.sd == pytest.approx(0.1 * 1.4826 * 0.8194, rel=0.04)


def test_too_few_readings_give_their_middle_and_no_fit() -> None:
    y = np.array([1.0, 2.0, 9.0, np.nan])
    fit = habit(np.ones((4, 3)), y, np.ones(4, dtype=bool))
    assert np.all(fit.usual == 2.0)


@check("limit", note="a first-order lag of a step, exact at every sample")
def test_late_follows_a_step_as_a_first_order_lag() -> None:
    x = np.r_[np.zeros(5), np.ones(100)]
    t = np.arange(100) + 1.0
    assert np.allclose(late(x, 7.0, 1.0)[5:], 1.0 - np.exp(-t / 7.0))


def test_blocks_are_means_and_hold_over_empty_places() -> None:
    channels = everyday(40.0)
    channels["battery_voltage"][:] = 14.0
    channels["battery_voltage"][500:1000] = np.nan
    blocks = Blocks(scene(channels).signals, 1.0)
    volts = blocks.get("battery_voltage")
    assert volts is not None
    assert np.all(volts == 14.0)
    assert blocks.get("turbo_speed") is None
