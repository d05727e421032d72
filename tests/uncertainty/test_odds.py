"""Probabilities from draws: exact answers of toy models, calibrated errors, bounds."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import special, stats

from boostwright.errors import OutOfRange
from boostwright.uncertainty.design import Design
from boostwright.uncertainty.marginals import LogNormal, Normal
from boostwright.uncertainty.odds import odds
from tests.labels import check

Array = NDArray[np.float64]
_SEEDS = 60
_BLOCKS = 32


def _linear(d: int, beta: float) -> tuple[Design, Callable[[Array], Array], float]:
    weights = np.arange(1.0, d + 1.0)
    weights /= np.linalg.norm(weights)
    return Design([Normal(0.0, 1.0)] * d), lambda x: beta - x @ weights, float(special.ndtr(beta))


def _product() -> tuple[Design, Callable[[Array], Array], float]:
    one, two = LogNormal(2.0, 0.4), LogNormal(3.0, 0.9)
    mean = math.log(one.median) + math.log(two.median)
    sd = math.hypot(one.log_sd, two.log_sd)
    limit = 8.5
    exact = float(special.ndtr((math.log(limit) - mean) / sd))
    return Design([one, two]), lambda x: limit - x[:, 0] * x[:, 1], exact


def _corner() -> tuple[Design, Callable[[Array], Array], float]:
    rho, a, b = 0.6, 0.8, 1.2
    exact = float(stats.multivariate_normal([0, 0], [[1, rho], [rho, 1]]).cdf([a, b]))
    matrix = np.array([[1.0, rho], [rho, 1.0]])
    return (
        Design([Normal(0.0, 1.0)] * 2, matrix),
        lambda x: np.minimum(a - x[:, 0], b - x[:, 1]),
        exact,
    )


TOYS = [_linear(5, 1.0), _linear(60, 1.5), _product(), _corner()]
NAMES = ["five unknowns", "sixty unknowns", "product", "two limits at once"]


@check("limit", note="exact probabilities; three sampling errors, whose share of a t of 7 degrees is 98 %")
@pytest.mark.parametrize(("toy", "name"), list(zip(TOYS, NAMES, strict=True)), ids=NAMES)
def test_toys_come_out_within_three_sampling_errors_and_the_errors_are_honest(
    toy: tuple[Design, Callable[[Array], Array], float], name: str
) -> None:
    of, room, exact = toy
    off = []
    for seed in range(_SEEDS):
        made = Design(of.marginals, of._factor @ of._factor.T, seed=seed)
        x = np.concatenate([made.block(k) for k in range(_BLOCKS)])
        found = odds((room(x) >= 0.0).astype(float), np.tile(np.arange(8), _BLOCKS))
        off.append(abs(found.probability - exact) / max(found.sampling_error, 1e-9))
    for errors in (1.0, 3.0):
        expected = 1.0 - 2.0 * float(stats.t(7).sf(errors))
        seen = int(np.sum(np.array(off) <= errors))
        # the count is binomial; a thousandth on either side
        low, high = stats.binom(_SEEDS, expected).ppf([0.001, 0.999])
        assert low <= seen <= high, (name, errors, seen, expected * _SEEDS)


@check("limit", note="conditional probabilities in place of 0 and 1 keep the mean and shrink the error")
def test_what_is_known_given_a_draw_makes_the_error_smaller() -> None:
    made = Design([Normal(0.0, 1.0)], seed=3)
    x = np.concatenate([made.block(k) for k in range(_BLOCKS)])[:, 0]
    net = np.tile(np.arange(8), _BLOCKS)
    rng = np.random.default_rng(1)
    hard = odds((1.0 - x - 2.0 * rng.standard_normal(x.size) >= 0.0).astype(float), net)
    soft = odds(special.ndtr((1.0 - x) / 2.0), net)
    exact = float(special.ndtr(1.0 / math.sqrt(5.0)))
    assert soft.probability == pytest.approx(exact, abs=3e-3)
    assert soft.sampling_error < 0.3 * hard.sampling_error


@check("reference library", source="scipy", note="one-sided exact binomial limit of no case in n")
@pytest.mark.parametrize(("n", "fewer"), [(64, 21), (128, 43), (256, 85), (1024, 340)])
def test_none_seen_proves_only_a_bound(n: int, fewer: int) -> None:
    limit = stats.binomtest(0, n, alternative="less").proportion_ci(0.95).high
    found = odds(np.ones(n), np.arange(n) % 8)
    assert found.bound == fewer
    assert found.bound <= 1.0 / limit < found.bound * 1.05 + 1.0
    assert odds(np.zeros(n), np.arange(n) % 8).bound == fewer


def test_a_side_that_was_seen_has_no_bound() -> None:
    holds = np.ones(256)
    holds[7] = 0.0
    assert odds(holds, np.arange(256) % 8).bound is None


def test_no_draws_and_no_probabilities_are_refused() -> None:
    for bad in ([], [1.2], [-0.1], [math.nan]):
        with pytest.raises(OutOfRange):
            odds(bad, np.zeros(len(bad)))
    with pytest.raises(OutOfRange):
        odds([1.0, 0.0], [0])
