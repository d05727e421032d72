"""Rounding by the spread."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.findings.model import Amount, Kind, Phrase
from boostwright.quantity import COVERAGE, Dimension, read
from boostwright.views.numbers import angle_words, fill, say, say_band, say_number, say_span, spread_step
from tests.labels import check

LITRE_HOUR = 1e-3 / 3600


def flow(value: float, half_width: float) -> Amount:
    """A pump flow in L/h with what stands after ±."""
    return Amount(value * LITRE_HOUR, half_width / COVERAGE * LITRE_HOUR, Kind.VOLUME_FLOW)


@check(
    "published",
    source="pdg2022",
    note="Review of Particle Physics, Introduction 5.3: 0.827 +/- 0.119 is 0.83 +/- 0.12, 0.827 +/- 0.367"
    " is 0.8 +/- 0.4; from memory; exact",
)
@pytest.mark.parametrize(
    ("value", "spread", "text"), [(0.827, 0.119, "0.83 ± 0.12"), (0.827, 0.367, "0.8 ± 0.4")]
)
def test_the_printed_examples(value: float, spread: float, text: str) -> None:
    step = spread_step(spread)
    assert f"{say_number(value, step)} ± {say_number(spread, step)}" == text


@pytest.mark.parametrize(
    ("amount", "text"),
    [
        (flow(157.83, 12.2), "158 ± 12 L/h"),
        (flow(157.83, 3.6), "158 ± 4 L/h"),
        (flow(157.83, 0.0), "158 L/h"),
        (flow(1.5, 97.0), "up to 100 L/h"),  # a flow never lies below zero
        (Amount(2.2, 1.15, Kind.DELAY), "2.2 (0 to 4.5) s"),
        (Amount(2.4, 1.15, Kind.DELAY), "2.4 ± 2.3 s"),
        (Amount(-0.1e5, 0.1e5, Kind.PRESSURE_GAUGE), "-0.10 ± 0.20 bar gauge"),
        (Amount(0.008, 0.0, Kind.LENGTH), "8 mm"),
        (Amount(0.0, 0.0, Kind.SHARE), "0 %"),
        (Amount(0.9913, 0.066, Kind.RATIO), "0.99 ± 0.13"),
        (flow(-0.4, 20.0), "0 ± 20 L/h"),
        (Amount(1.5e6, None, Kind.PRESSURE), "about 15.0 bar"),
        (Amount(math.nan, 0.1, Kind.SHARE), "not known"),
        (Amount(12000.0 * math.pi, 200 * math.pi, Kind.SHAFT_SPEED), "360 000 ± 12 000 rpm"),
        (Amount(0.55e5, 0.03e5, Kind.PRESSURE_GAUGE), "0.55 ± 0.06 bar gauge"),
        (Amount(1.0e5, 2.0e2, Kind.PRESSURE_GAUGE), "1.00 bar gauge"),
    ],
)
def test_bands(amount: Amount, text: str) -> None:
    assert say_band(amount).replace("\u00a0", " ") == text


@given(st.floats(1e-6, 1e6))
def test_a_spread_keeps_one_or_two_digits(spread: float) -> None:
    step = spread_step(spread)
    digits = round(spread / step)
    assert 1 <= digits <= 100 or digits == 0
    assert digits >= 3 or round(spread / step, 6) >= 0.9


@given(st.floats(-1e5, 1e5), st.floats(1e-3, 1e4))
def test_rounding_moves_a_value_by_less_than_a_fifth_of_its_spread(value: float, spread: float) -> None:
    """Half a step, and the step is at most 10/35.5 of the spread."""
    text = say_number(value, spread_step(spread)).replace("\u00a0", "")
    assert abs(float(text) - value) <= 0.5 * spread_step(spread) * (1 + 1e-9)
    assert spread_step(spread) <= spread / 3.5 * 1.01


@given(st.floats(1.0, 1e4), st.floats(0.01, 0.2))
def test_what_is_printed_reads_back(value: float, share: float) -> None:
    """The text of a band, read by the reader of build files, gives the same value and spread."""
    amount = flow(value, value * share)
    text = say_band(amount).replace("\u00a0", " ").replace("±", "+/-")
    thousands = text.replace(" L/h", "").replace(" +/- ", "|").replace(" ", "").replace("|", " +/- ") + " L/h"
    back = read(thousands, Dimension.VOLUME_FLOW)
    step = spread_step(value * share) * LITRE_HOUR
    assert back.value == pytest.approx(amount.value, abs=0.51 * step)
    assert amount.sd is not None
    if "+/-" in thousands:
        assert back.sd == pytest.approx(amount.sd, abs=0.26 * step)


@given(st.floats(allow_nan=True, allow_infinity=True), st.floats(0, 1e300))
def test_no_number_is_too_odd_to_say(value: float, sd: float) -> None:
    for kind in Kind:
        assert say_band(Amount(value, sd, kind))
        assert say(Amount(value, None, kind))


def test_spans_angles_and_phrases() -> None:
    low, high = (Amount(math.radians(a), None, Kind.CRANK_ANGLE) for a in (22.0, 30.0))
    assert say_span(low, high).replace("\u00a0", " ") == "22.0 to 30.0 deg"
    assert angle_words(Amount(math.radians(-12.34), None, Kind.CRANK_ANGLE)).endswith(
        "before top dead centre"
    )
    with pytest.raises(ValueError, match="one kind"):
        say_span(low, flow(1.0, 0.1))
    phrase = Phrase("at least {size}, that is {size:band}", {"size": flow(157.83, 12.2)})
    assert fill(phrase).replace("\u00a0", " ") == "at least 158 L/h, that is 158 ± 12 L/h"
