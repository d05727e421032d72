"""The worth of a reading against the closed form of the normal case."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import special, stats

from boostwright.errors import OutOfRange
from boostwright.uncertainty.worth import Stake, lost, worth_of
from tests.labels import check


def exact(mu: float, slope: float, left: float, reading: float, weight: float, mend: float) -> float:
    """Room = mu + slope x + left e, x and e standard normal; the reading shows x with a spread.

    The mean of x given the reading is normal with variance 1/(1 + reading^2); the integral over it by a fine
    trapezoid.
    """
    known = 1.0 / (1.0 + reading**2)
    after = np.hypot(slope * np.sqrt(1.0 - known), left)
    t = np.linspace(-9.0, 9.0, 40001)
    p = special.ndtr(-(mu + slope * np.sqrt(known) * t) / after)
    mean = np.trapezoid(np.minimum(weight * p, mend) * stats.norm.pdf(t), t)
    before = float(special.ndtr(-mu / np.hypot(slope, left)))
    return min(weight * before, mend) - float(mean)


CASES = [
    (1.0, 1.0, 0.5, 0.3, 30.0, 1.5),
    (1.5, 1.0, 0.5, 0.2, 100.0, 2.5),
    (3.0, 1.0, 1.0, 0.2, 30.0, 1.5),
    (0.5, 1.0, 1.0, 2.0, 3.0, 0.6),
]


@check("limit", note="normal prior and reading: raiffa1961's sample information by quadrature; 2048 draws")
@pytest.mark.parametrize("case", CASES)
def test_the_normal_case(case: tuple[float, ...]) -> None:
    mu, slope, left, reading, weight, mend = case
    found = []
    for seed in range(12):
        rng = np.random.default_rng(seed)
        x = rng.standard_normal(2048)
        stake = Stake(np.asarray(special.ndtr(-(mu + slope * x) / left)), weight, mend)
        worth = worth_of([(x, reading)], [stake], rng)
        found.append((worth.whole, worth.whole_error))
    values, errors = np.array(found).T
    true = exact(*case)
    assert values.mean() == pytest.approx(true, abs=3.0 * values.std() / np.sqrt(12.0) + 0.02 * mend)
    assert np.mean(np.abs(values - true) < 3.0 * errors) > 0.8


@check("limit", note="a reading of what does not matter is worth nothing")
def test_a_reading_of_nothing() -> None:
    rng = np.random.default_rng(2)
    x, other = rng.standard_normal((2, 2048))
    stake = Stake(np.asarray(special.ndtr(-(1.0 + x) / 0.5)), 30.0, 1.5)
    drops = [worth_of([(other, 0.2)], [stake], np.random.default_rng(s)) for s in range(20)]
    assert abs(np.mean([w.whole for w in drops])) < 0.05
    assert np.mean([w.whole > 2.0 * w.whole_error for w in drops]) <= 0.25


def test_a_sharper_reading_is_worth_more() -> None:
    x = np.random.default_rng(3).standard_normal(2048)
    stake = Stake(np.asarray(special.ndtr(-(1.0 + x) / 0.5)), 30.0, 1.5)
    worth = [worth_of([(x, sd)], [stake], np.random.default_rng(4)).whole for sd in (2.0, 0.7, 0.2)]
    assert worth == sorted(worth)


def test_whoever_acts_for_the_best_loses_no_more_than_mending_costs() -> None:
    assert lost([0.0, 0.01, 0.5], 100.0, 2.5) == pytest.approx([0.0, 1.0, 2.5])


def test_bad_readings_are_refused() -> None:
    x = np.zeros(128)
    stake = Stake(np.full(128, 0.1), 1.0, 0.1)
    rng = np.random.default_rng(1)
    for read in ([], [(np.zeros(10), 1.0)], [(x, 0.0)], [(x, float("nan"))]):
        with pytest.raises(OutOfRange):
            worth_of(read, [stake], rng)
