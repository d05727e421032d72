"""Probability, verdict and order."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from boostwright.findings.judge import (
    BREAKS_BELOW,
    HOLDS_FROM,
    probability_holds,
    sort_findings,
    verdict_of,
)
from boostwright.findings.model import Amount, Harm, Kind, Sense, Verdict
from tests.labels import check
from tests.sample import changed, finding

VALUES = st.floats(-1e3, 1e3)
SPREADS = st.floats(0.1, 1e2)


def amount(value: float, sd: float | None) -> Amount:
    return Amount(value, sd, Kind.RATIO)


@check("reference library", source="scipy", note="scipy.stats.norm.cdf; both sides in double precision")
@given(VALUES, SPREADS, VALUES, SPREADS)
def test_probability_is_the_normal_one(d: float, sd_d: float, c: float, sd_c: float) -> None:
    expected = norm.cdf((c - d) / math.hypot(sd_d, sd_c))
    found = probability_holds(amount(d, sd_d), amount(c, sd_c), Sense.AT_MOST)
    assert found == pytest.approx(expected, rel=1e-9, abs=1e-300)


@check(
    "published", source="normal distribution tables", note="one-sided 1.645 sd = 5 %, from memory; 3 digits"
)
def test_a_room_of_1645_sd_fails_once_in_twenty() -> None:
    assert probability_holds(amount(0.0, 0.6), amount(1.645, 0.8), Sense.AT_MOST) == pytest.approx(
        0.95, abs=5e-5
    )


@given(VALUES, SPREADS, VALUES, SPREADS)
def test_the_two_senses_are_mirrors(d: float, sd_d: float, c: float, sd_c: float) -> None:
    below = probability_holds(amount(d, sd_d), amount(c, sd_c), Sense.AT_MOST)
    above = probability_holds(amount(d, sd_d), amount(c, sd_c), Sense.AT_LEAST)
    assert below is not None
    assert above is not None
    assert below + above == pytest.approx(1.0, abs=1e-12)


@given(VALUES, SPREADS, st.floats(0.01, 100.0))
def test_more_capacity_is_never_worse(d: float, sd: float, more: float) -> None:
    less = probability_holds(amount(d, sd), amount(1.0, 1.0), Sense.AT_MOST)
    better = probability_holds(amount(d, sd), amount(1.0 + more, 1.0), Sense.AT_MOST)
    assert less is not None
    assert better is not None
    assert better >= less


def test_without_spreads_it_is_all_or_nothing() -> None:
    assert probability_holds(amount(1.0, 0.0), amount(1.0, 0.0), Sense.AT_MOST) == 1.0
    assert probability_holds(amount(1.01, 0.0), amount(1.0, 0.0), Sense.AT_MOST) == 0.0


@pytest.mark.parametrize(
    "sides",
    [
        (None, amount(1.0, 0.1)),
        (amount(1.0, 0.1), None),
        (amount(1.0, None), amount(1.0, 0.1)),
        (amount(1.0, 0.1), amount(1.0, None)),
        (amount(math.nan, 0.1), amount(1.0, 0.1)),
    ],
)
def test_what_is_missing_makes_it_unknown(sides: tuple[Amount | None, Amount | None]) -> None:
    assert probability_holds(*sides, Sense.AT_MOST) is None
    assert verdict_of(None, Harm.SEVERE) is Verdict.UNKNOWN


def test_two_kinds_cannot_be_compared() -> None:
    with pytest.raises(ValueError, match="cannot set"):
        probability_holds(Amount(1.0, 0.1, Kind.PRESSURE), amount(1.0, 0.1), Sense.AT_MOST)


def test_a_negative_spread_is_refused() -> None:
    with pytest.raises(ValueError, match="is not a spread"):
        amount(1.0, -0.1)


@pytest.mark.parametrize("harm", list(Harm))
def test_verdict_words_follow_probability_and_harm(harm: Harm) -> None:
    assert verdict_of(HOLDS_FROM[harm], harm) is Verdict.HOLDS
    assert verdict_of(HOLDS_FROM[harm] - 1e-9, harm) is Verdict.TIGHT
    assert verdict_of(BREAKS_BELOW[harm], harm) is Verdict.TIGHT
    assert verdict_of(BREAKS_BELOW[harm] - 1e-9, harm) is Verdict.BREAKS


def test_worse_harm_asks_for_more_certainty() -> None:
    for lower, higher in zip(list(Harm), list(Harm)[1:], strict=False):
        assert HOLDS_FROM[higher] > HOLDS_FROM[lower]
        assert BREAKS_BELOW[higher] >= BREAKS_BELOW[lower]
        assert higher.weight > lower.weight
    assert verdict_of(0.9, Harm.NUISANCE) is Verdict.HOLDS
    assert verdict_of(0.9, Harm.SEVERE) is Verdict.TIGHT


def test_order_is_harm_times_probability() -> None:
    likely_nuisance = changed(finding("a.a"), probability=0.0, harm=Harm.NUISANCE)
    rare_severe = changed(finding("b.b"), probability=0.9, harm=Harm.SEVERE)
    unknown = changed(finding("c.c"), probability=None, verdict=Verdict.UNKNOWN, harm=Harm.DAMAGE)
    ordered = sort_findings((likely_nuisance, rare_severe, unknown))
    assert [f.code for f in ordered] == ["c.c", "b.b", "a.a"]  # 15, 10, 1
    assert [f.weight for f in ordered] == sorted((f.weight for f in ordered), reverse=True)


def test_margin_has_sign_and_spread() -> None:
    tight = finding(demand=amount(3.0, 3.0), capacity=amount(8.0, 4.0))
    assert tight.margin is not None
    assert tight.margin.value == pytest.approx(5.0)
    assert tight.margin.sd == pytest.approx(5.0)
    above = changed(tight, sense=Sense.AT_LEAST)
    assert above.margin is not None
    assert above.margin.value == pytest.approx(-5.0)
    hot = finding(
        demand=Amount(1000.0, 1.0, Kind.TEMPERATURE), capacity=Amount(1100.0, 1.0, Kind.TEMPERATURE)
    )
    assert hot.margin is not None
    assert hot.margin.kind is Kind.TEMPERATURE_DIFFERENCE
    assert finding(capacity=None).margin is None
