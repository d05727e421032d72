"""The examples of the Guide's supplement on distributions, clause 9, through our own draws."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange
from boostwright.uncertainty.design import Design
from boostwright.uncertainty.marginals import HeavyTail, Normal
from boostwright.uncertainty.stopping import numerical_tolerance, settled, settling
from tests.labels import check

Array = NDArray[np.float64]
_BLOCKS = 8192  # draws of each of 8 nets


class Even:
    """Rectangular between two ends; only the examples need it."""

    def __init__(self, low: float, high: float) -> None:
        self.low, self.high = low, high
        self.mean, self.sd = 0.5 * (low + high), (high - low) / math.sqrt(12.0)

    def ppf(self, u: ArrayLike) -> Array:
        return np.asarray(self.low + (self.high - self.low) * np.asarray(u))

    def cdf(self, x: ArrayLike) -> Array:
        return np.clip((np.asarray(x) - self.low) / (self.high - self.low), 0.0, 1.0)


def of_sd(sd: float) -> Even:
    return Even(-math.sqrt(3.0) * sd, math.sqrt(3.0) * sd)


def draws(*marginals: object, together: float = 0.0) -> Array:
    matrix = None if not together else np.array([[1.0, together], [together, 1.0]])
    made = Design(marginals, matrix, seed=4)  # type: ignore[arg-type]
    return np.stack([made.block(k) for k in range(_BLOCKS)], axis=1)  # nets, draws, unknowns


@check("published", id="V21", source="jcgm101", note="tables 2 to 4, from memory; half of the last figure")
@pytest.mark.parametrize(
    ("unknowns", "u", "end", "u_half", "end_half"),
    [
        ([Normal(0.0, 1.0)] * 4, 2.00, 3.92, 0.005, 0.005),
        ([of_sd(1.0)] * 4, 2.00, 3.88, 0.005, 0.005),
        ([of_sd(1.0)] * 3 + [of_sd(10.0)], 10.1, 17.0, 0.05, 0.05),
    ],
    ids=["9.2.2 normal", "9.2.3 rectangular", "9.2.4 one ten times as wide"],
)
def test_additive_model(unknowns: list[object], u: float, end: float, u_half: float, end_half: float) -> None:
    found = settling(draws(*unknowns).sum(axis=2))
    mean, sd, low, high = found.estimate
    error = found.doubled_error
    assert abs(mean) <= 0.005 + 1.5 * error[0]
    assert sd == pytest.approx(u, abs=u_half + 1.5 * error[1])
    assert low == pytest.approx(-end, abs=end_half + 1.5 * error[2])
    assert high == pytest.approx(end, abs=end_half + 1.5 * error[3])


@check("published", id="V22", source="jcgm101", note="9.3, mass calibration, table 6, from memory")
def test_mass_calibration() -> None:
    rc, dm = Normal(100_000.0, 0.050), Normal(1.234, 0.020)
    air, weight, reference = Even(1.10, 1.30), Even(7000.0, 9000.0), Even(7950.0, 8050.0)
    x = draws(rc, dm, air, weight, reference)
    m, d, a, w, r = (x[:, :, i] for i in range(5))
    y = (m + d) * (1.0 + (a - 1.2) * (1.0 / w - 1.0 / r)) - 100_000.0
    mean, sd, low, high = settling(y).estimate
    assert mean == pytest.approx(1.2341, abs=3e-4)
    assert sd == pytest.approx(0.0754, abs=3e-4)
    # the table's interval is the shortest one; this law is even to both sides, so ours is that one too
    assert (low, high) == pytest.approx((1.0834, 1.3825), abs=3e-3)


@check("published", id="V23", source="jcgm101", note="9.4, comparison loss, tables 7 and 8, from memory")
@check("limit", note="mean x1^2 + 2 u^2, variance 4 u^2 x1^2 + 4 u^4")
@pytest.mark.parametrize(
    ("x1", "mean", "u"), [(0.0, 50e-6, 50e-6), (0.010, 150e-6, 112e-6), (0.050, 2551e-6, 502e-6)]
)
def test_comparison_loss(x1: float, mean: float, u: float) -> None:
    x = draws(Normal(x1, 0.005), Normal(0.0, 0.005)) if x1 else draws(Normal(0, 0.005), Normal(0, 0.005))
    found = settling((x**2).sum(axis=2))
    assert found.estimate[0] == pytest.approx(mean, abs=1.5e-6)
    assert found.estimate[1] == pytest.approx(u, abs=1.0e-6)
    exact = math.sqrt(4 * 25e-6 * x1**2 + 4 * 25e-6**2)
    assert found.estimate[1] == pytest.approx(exact, rel=4e-3)


@check("published", id="V23", source="jcgm101", note="9.4.3, the same with correlation 0.9, from memory")
@check("limit", note="variance 4 u^2 x1^2 + 4 u^4 (1 + r^2)")
@pytest.mark.parametrize(
    ("x1", "mean", "u"), [(0.0, 50e-6, 67e-6), (0.010, 150e-6, 121e-6), (0.050, 2551e-6, 505e-6)]
)
def test_comparison_loss_with_correlation(x1: float, mean: float, u: float) -> None:
    x = draws(Normal(x1, 0.005), Normal(0.0, 0.005), together=0.9)
    found = settling((x**2).sum(axis=2))
    assert found.estimate[0] == pytest.approx(mean, abs=1.5e-6)
    assert found.estimate[1] == pytest.approx(u, abs=1.0e-6)
    exact = math.sqrt(4 * 25e-6 * x1**2 + 4 * 25e-6**2 * (1.0 + 0.9**2))
    assert found.estimate[1] == pytest.approx(exact, rel=6e-3)


class Swinging(Even):
    """Arc sine: a temperature that swings between two ends."""

    def ppf(self, u: ArrayLike) -> Array:
        return np.asarray(self.mean + 0.5 * (self.high - self.low) * np.sin(np.pi * (np.asarray(u) - 0.5)))


def student(mean: float, scale: float, freedom: float) -> HeavyTail:
    return HeavyTail(mean, scale * math.sqrt(freedom / (freedom - 2.0)), freedom)


@check("published", id="V25", source="jcgm101", note="9.5, gauge block, tables 9 and 10, from memory; nm")
def test_gauge_block() -> None:
    """The block's length over 50 mm; a trapezoid with unsure ends is drawn by two even numbers."""
    share = Even(0.0, 1.0)
    x = draws(
        student(50_000_623.0, 25.0, 18.0),
        student(215.0, 6.0, 24.0),
        student(0.0, 4.0, 5.0),
        student(0.0, 7.0, 8.0),
        Even(9.5e-6, 13.5e-6),
        Normal(-0.1, 0.2),
        Swinging(-0.5, 0.5),
        *(share,) * 4,
    )
    standard, found, random, systematic, expansion, room, swing, *ends = (x[:, :, i] for i in range(11))

    def unsure(half: float, blur: float, first: Array, second: Array) -> Array:
        low = -half - blur + 2.0 * blur * first
        return low + (-low - low) * second

    more, warmer = unsure(1e-6, 0.1e-6, *ends[:2]), unsure(0.050, 0.025, *ends[2:])
    off = room + swing
    above = found + random + systematic
    length = (standard * (1.0 + expansion * (off - warmer)) + above) / (1.0 + (expansion + more) * off)
    y = length - 50_000_000.0
    assert np.mean(y) == pytest.approx(838.0, abs=0.5)
    assert np.std(y) == pytest.approx(36.0, abs=0.5)
    low, high = np.quantile(y, (0.005, 0.995))
    assert (low, high) == pytest.approx((745.0, 932.0), abs=1.5)


@check("published", id="V24", source="jcgm101", note="7.9.2, numerical tolerance; examples from memory")
@pytest.mark.parametrize(
    ("u", "digits", "delta"),
    [(0.000_35, 2, 0.000_005), (0.8, 1, 0.05), (10.1, 2, 0.5), (2.0, 1, 0.5), (9.96, 1, 5.0)],
)
def test_numerical_tolerance(u: float, digits: int, delta: float) -> None:
    assert numerical_tolerance(u, digits) == pytest.approx(delta)


@check("limit", note="means of m draws scatter by 1/sqrt(m): enough draws settle, few do not")
def test_the_rule_stops_when_figures_stand_and_not_before() -> None:
    rng = np.random.default_rng(5)
    few = sum(settled(rng.normal(0.0, 2.0, (8, 8)), digits=1) for _ in range(50))
    many = sum(settled(rng.normal(0.0, 2.0, (8, 4096)), digits=1) for _ in range(50))
    assert few < 10
    assert many == 50
    assert not settled(rng.normal(0.0, 2.0, (8, 4096)), digits=3)


def test_nothing_to_settle_is_refused() -> None:
    for bad in (np.zeros(5), np.zeros((1, 8)), np.zeros((8, 1)), np.full((8, 8), np.nan)):
        with pytest.raises(OutOfRange):
            settling(bad)
    for u, digits in ((0.0, 1), (-1.0, 1), (math.nan, 1), (1.0, 0)):
        with pytest.raises(OutOfRange):
            numerical_tolerance(u, digits)
    assert settled(np.ones((8, 8)))  # what never moves is settled
