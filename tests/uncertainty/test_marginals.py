"""Distributions of unknowns: moments and ends against another library and against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
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


@check("reference library", source="scipy", note="halfnorm on either side; to rounding")
@pytest.mark.parametrize(("below", "above"), [(1.0, 0.5), (0.2, 3.0), (2.0, 2.0)])
def test_a_two_sided_spread_is_two_half_normals(below: float, above: float) -> None:
    ours, lower, upper = (
        TwoSided(98.0, below, above),
        stats.halfnorm(scale=below),
        stats.halfnorm(scale=above),
    )
    mean = 0.5 * (upper.mean() - lower.mean())
    square = 0.5 * (upper.moment(2) + lower.moment(2))
    assert ours.mean == pytest.approx(98.0 + mean, rel=1e-12)
    assert ours.sd == pytest.approx(math.sqrt(square - mean**2), rel=1e-12)
    assert ours.ppf([0.5]) == pytest.approx([98.0])
    share = np.linspace(0.001, 0.999, 499)  # of either side
    assert ours.ppf(0.5 + 0.5 * share) == pytest.approx(98.0 + upper.ppf(share), rel=1e-9)
    assert ours.ppf(0.5 - 0.5 * share) == pytest.approx(98.0 - lower.ppf(share), rel=1e-9)
    assert ours.cdf(98.0 - lower.ppf(share)) == pytest.approx(0.5 - 0.5 * share, abs=1e-12)


@check("reference library", source="scipy", note="lognorm and t cut at two bounds, by quadrature of density")
@pytest.mark.parametrize(
    ("inner", "theirs", "low", "high"),
    [
        (
            LogNormal(2.0, 1.0),
            stats.lognorm(math.sqrt(math.log(1.25)), scale=2.0 / math.sqrt(1.25)),
            1.0,
            5.0,
        ),
        (HeavyTail(-1.0, 2.0, 5.0), stats.t(5.0, loc=-1.0, scale=2.0 * math.sqrt(0.6)), -4.0, 1.0),
    ],
    ids=["by factors", "heavy tail"],
)
def test_what_is_cut_keeps_its_shape(
    inner: Marginal, theirs: stats.rv_continuous, low: float, high: float
) -> None:
    ours = Bounded(inner, low, high)
    mean = theirs.expect(lb=low, ub=high, conditional=True)
    square = theirs.expect(lambda x: (x - mean) ** 2, lb=low, ub=high, conditional=True)
    # the midpoint rule errs by (1/4096)^2/24 of the slope of the quantiles, which is below 1e2 here
    assert ours.mean == pytest.approx(mean, abs=1e-6)
    assert ours.sd == pytest.approx(math.sqrt(square), abs=1e-6)
    x = np.linspace(low, high, 99)
    share = (theirs.cdf(x) - theirs.cdf(low)) / (theirs.cdf(high) - theirs.cdf(low))
    assert ours.cdf(x) == pytest.approx(share, abs=1e-12)
    assert ours.cdf([low - 1.0, high + 1.0]) == pytest.approx([0.0, 1.0])


@check("limit", note="freedom without end is the normal distribution; to 1e7")
def test_a_heavy_tail_of_great_freedom_is_normal_and_one_of_little_is_heavier() -> None:
    far = np.array([1e-4, 0.01, 0.99, 0.9999])
    assert HeavyTail(3.0, 0.4, 1e7).ppf(far) == pytest.approx(Normal(3.0, 0.4).ppf(far), rel=1e-6)
    assert np.all(HeavyTail(0.0, 1.0, 4.0).ppf(far[2:] + 0.00009) > Normal(0.0, 1.0).ppf(far[2:] + 0.00009))


@check("limit", note="one of two values: p, and sqrt(p (1-p)) of their distance")
def test_one_of_two() -> None:
    ours = TwoPoint(0.0, 4.0, 0.25)
    assert np.mean(ours.ppf(U) == 0.0) == pytest.approx(0.25, abs=2e-3)
    assert (ours.mean, ours.sd) == pytest.approx((3.0, 4.0 * math.sqrt(0.1875)))
    assert ours.cdf(np.array([-1.0, 0.0, 3.9, 4.0])) == pytest.approx([0.0, 0.25, 0.25, 1.0])
    assert ours.ppf([0.0, 0.2499, 0.25, 1.0]) == pytest.approx([0.0, 0.0, 4.0, 4.0])


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
        lambda: LogNormal(1.0, bad),
        lambda: HeavyTail(0.0, bad, 5.0),
        lambda: TwoSided(0.0, bad, 1.0),
        lambda: TwoSided(0.0, 1.0, bad),
    ):
        with pytest.raises(OutOfRange, match=rf"above zero, not {bad:g}\.$"):
            make()


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_a_middle_that_is_no_number_is_refused_with_its_value(bad: float) -> None:
    for make in (
        lambda: Normal(bad, 1.0),
        lambda: HeavyTail(bad, 1.0, 5.0),
        lambda: TwoSided(bad, 1.0, 1.0),
        lambda: TwoPoint(bad, 1.0),
        lambda: TwoPoint(0.0, bad),
    ):
        with pytest.raises(OutOfRange, match=rf"number as its \w+, not {bad:g}\.$"):
            make()


@given(
    st.floats(max_value=2.0) | st.just(math.nan) | st.just(math.inf),
    st.floats(max_value=0.0) | st.floats(min_value=1.0) | st.just(math.nan),
    st.floats(-1e6, 1e6),
    st.floats(0.0, 1e6),
)
def test_what_cannot_be_is_refused_with_its_value(
    freedom: float, weight: float, value: float, back: float
) -> None:
    with pytest.raises(OutOfRange) as said:
        HeavyTail(0.0, 1.0, freedom)
    assert f"{freedom:g} degrees of freedom" in str(said.value)
    with pytest.raises(OutOfRange) as said:
        TwoPoint(0.0, 1.0, weight)
    assert str(said.value).endswith(f"not {weight:g}.")
    with pytest.raises(OutOfRange) as said:
        TwoPoint(value, value - back)
    assert f"{value:g} is not below {value - back:g}" in str(said.value)
    with pytest.raises(OutOfRange) as said:
        Bounded(Normal(0.0, 1.0), value, value - back)
    assert f"between {value:g} and {value - back:g}" in str(said.value)


def test_bounds_that_hold_nothing_are_refused() -> None:
    for low, high in ((50.0, 60.0), (-60.0, -50.0), (math.nan, 1.0), (0.0, math.nan)):
        with pytest.raises(OutOfRange, match=rf"between {low:g} and {high:g}: .*contradict"):
            Bounded(Normal(0.0, 1.0), low, high)
