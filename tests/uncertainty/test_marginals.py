"""Distributions of unknowns: moments and ends against another library and against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from boostwright.errors import OutOfRange
from boostwright.uncertainty.marginals import (
    Bounded,
    HeavyTail,
    LogNormal,
    Marginal,
    Normal,
    TwoPoint,
    TwoSided,
)
from tests.labels import check

U = np.linspace(0.001, 0.999, 999)


@check("reference library", source="scipy", note="norm, lognorm, t; to rounding")
@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        (Normal(3.0, 0.4), stats.norm(3.0, 0.4)),
        (
            LogNormal(2.0, 1.0),
            stats.lognorm(math.sqrt(math.log(1.25)), scale=2.0 / math.sqrt(1.25)),
        ),
        (HeavyTail(-1.0, 2.0, 5.0), stats.t(5.0, loc=-1.0, scale=2.0 * math.sqrt(3.0 / 5.0))),
    ],
)
def test_quantiles_shares_and_moments(ours: Marginal, theirs: stats.rv_continuous) -> None:
    assert ours.ppf(U) == pytest.approx(theirs.ppf(U), rel=1e-9)
    x = theirs.ppf(U)
    assert ours.cdf(x) == pytest.approx(theirs.cdf(x), rel=1e-9)
    assert ours.mean == pytest.approx(theirs.mean(), rel=1e-9)
    assert ours.sd == pytest.approx(theirs.std(), rel=1e-9)


@check("reference library", source="scipy", note="truncnorm; moments to the midpoint rule's 4096 nodes")
@pytest.mark.parametrize(("low", "high"), [(-0.5, 2.0), (0.0, math.inf), (-math.inf, 0.3), (1.5, 4.0)])
def test_a_bounded_normal_is_the_truncated_one(low: float, high: float) -> None:
    ours, theirs = Bounded(Normal(0.0, 1.0), low, high), stats.truncnorm(low, high)
    assert ours.ppf(U) == pytest.approx(theirs.ppf(U), abs=1e-7)
    assert ours.mean == pytest.approx(theirs.mean(), abs=2e-4)
    assert ours.sd == pytest.approx(theirs.std(), abs=2e-3)


@check("limit", note="moments of two half normals: integrals in closed form, against a million draws")
def test_a_two_sided_spread_has_the_moments_of_its_halves() -> None:
    ours = TwoSided(98.0, 1.0, 0.5)
    x = ours.ppf((np.arange(1_000_000) + 0.5) / 1e6)
    assert ours.ppf(np.array(0.5)) == pytest.approx(98.0)
    assert ours.mean == pytest.approx(x.mean(), abs=1e-4)
    assert ours.sd == pytest.approx(x.std(), rel=1e-3)
    assert np.mean(x < 98.0) == pytest.approx(0.5)


@check("limit", note="one of two values: p, and sqrt(p (1-p)) of their distance")
def test_one_of_two() -> None:
    ours = TwoPoint(0.0, 4.0, 0.25)
    assert np.mean(ours.ppf(U) == 0.0) == pytest.approx(0.25, abs=2e-3)
    assert (ours.mean, ours.sd) == pytest.approx((3.0, 4.0 * math.sqrt(0.1875)))
    assert ours.cdf(np.array([-1.0, 0.0, 3.9, 4.0])) == pytest.approx([0.0, 0.25, 0.25, 1.0])


@check("limit", note="a quantile's share is the share asked for")
def test_share_of_quantile_is_the_identity_for_random_distributions() -> None:
    rng = np.random.default_rng(7)
    for _ in range(200):
        mean, sd = float(rng.uniform(0.1, 50.0)), float(rng.uniform(0.01, 5.0))
        inner: Marginal = [
            Normal(mean, sd),
            LogNormal(mean, sd),
            HeavyTail(mean, sd, float(rng.uniform(2.5, 30.0))),
            TwoSided(mean, sd, float(rng.uniform(0.01, 5.0))),
        ][rng.integers(4)]
        ours = Bounded(inner, mean - 2 * sd, mean + 3 * sd) if rng.random() < 0.5 else inner
        assert ours.cdf(ours.ppf(U)) == pytest.approx(U, abs=1e-8)
        assert np.all(np.diff(ours.ppf(U)) > 0.0)


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_a_spread_that_is_none_is_refused_with_its_value(bad: float) -> None:
    for make in (
        lambda: Normal(1.0, bad),
        lambda: LogNormal(bad, 1.0),
        lambda: HeavyTail(0.0, bad, 5.0),
        lambda: TwoSided(0.0, 1.0, bad),
    ):
        with pytest.raises(OutOfRange, match=f"{bad:g}"):
            make()
    with pytest.raises(OutOfRange, match="2"):
        HeavyTail(0.0, 1.0, 2.0)
    with pytest.raises(OutOfRange):
        TwoPoint(0.0, 1.0, 1.0)
    with pytest.raises(OutOfRange, match="contradict"):
        Bounded(Normal(0.0, 1.0), 50.0, 60.0)
