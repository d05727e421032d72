"""The clock put in order: each fault alone, with what the true time was."""

import numpy as np
import pytest

from boostwright.drive.time_base import repaired_time
from boostwright.errors import OutOfRange

STEP = 0.02


def true_time(n: int = 2000) -> np.ndarray:
    return STEP * np.arange(n)


def kinds(base):
    return [(f.kind, f.first, f.last) for f in base.faults]


def test_a_sound_clock_is_left_alone() -> None:
    t = true_time()
    jitter = np.round(t + 0.02 * STEP * np.sin(np.arange(t.size)), 3)
    base = repaired_time(jitter)
    assert base.faults == ()
    assert base.even
    assert np.array_equal(base.t, jitter)
    assert base.step == pytest.approx(STEP, rel=1e-3)


def test_a_gap_stays_a_gap() -> None:
    t = np.delete(true_time(), slice(700, 750))
    base = repaired_time(t)
    assert kinds(base) == [("gap", 699, 700)]
    assert base.faults[0].size == pytest.approx(51 * STEP)
    assert np.array_equal(base.t, t)


def test_one_lost_row_is_no_gap() -> None:
    assert repaired_time(np.delete(true_time(), 700)).faults == ()


def test_standing_stamps_are_spread() -> None:
    t = true_time()
    stamp = t.copy()
    stamp[500:540] = np.repeat(t[500:540:5], 5)
    base = repaired_time(stamp)
    assert [f.kind for f in base.faults] == ["repeats"]
    assert base.faults[0].first == 500
    assert base.faults[0].last == 539
    assert np.allclose(base.t, t, atol=1e-9)


def test_a_step_back_goes_on() -> None:
    t = true_time()
    stamp = t.copy()
    stamp[1200:] -= 3.3
    base = repaired_time(stamp)
    assert kinds(base) == [("jump-back", 1199, 1200)]
    assert base.faults[0].size == pytest.approx(3.3)
    assert np.allclose(base.t, t, atol=1e-9)


def test_broken_stamps_lie_between_their_neighbours() -> None:
    t = true_time()
    stamp = t.copy()
    stamp[300] = 9.9e9
    stamp[400:403] = np.nan
    stamp[0] = np.nan
    base = repaired_time(stamp)
    assert [f.kind for f in base.faults] == ["broken", "broken", "broken"]
    assert np.allclose(base.t, t, atol=1e-9)


def test_a_coarse_clock_is_no_fault() -> None:
    t = true_time()
    base = repaired_time(np.floor(t))
    assert base.faults == ()
    assert np.abs(base.t - t).max() < 1.5 * STEP
    assert (np.diff(base.t) > 0).all()


def test_time_always_rises() -> None:
    rng = np.random.default_rng(5)
    for _ in range(20):
        stamp = true_time(400)
        for _ in range(4):
            i = int(rng.integers(5, 390))
            stamp[i:] += rng.choice([-2.0, 1.7, -0.03])
            stamp[i : i + int(rng.integers(1, 9))] = stamp[i]
        stamp[rng.integers(0, 400, 5)] = np.nan
        base = repaired_time(stamp)
        assert (np.diff(base.t) > 0).all()


@pytest.mark.parametrize("stamp", [[1.0], [np.nan, np.nan, 2.0], [3.0, 2.0, 1.0], [5.0, 5.0, 5.0]])
def test_no_time_at_all_is_refused(stamp: list[float]) -> None:
    with pytest.raises(OutOfRange, match="name the column that holds the time"):
        repaired_time(np.array(stamp))
