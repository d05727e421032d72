"""Odds and marks."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.findings.model import Verdict
from boostwright.views.words import MARKS, headline, odds, plain
from tests.sample import findings


@pytest.mark.parametrize(
    ("probability", "text"),
    [
        (0.83, "holds in 5 of 6 cases (83 %)"),
        (0.5, "holds in 1 of 2 cases (50 %)"),
        (0.951, "holds in 19 of 20 cases (95 %)"),
        (0.999, "holds in more than 99 of 100 cases"),
        (0.001, "holds in fewer than 1 of 100 cases"),
        (None, "cannot be told yet"),
    ],
)
def test_odds_in_plain_words(probability: float | None, text: str) -> None:
    assert odds(probability).replace("\u00a0", " ") == text


@given(st.floats(0.005, 0.9949))
def test_the_fraction_agrees_with_the_number(probability: float) -> None:
    match = re.match(r"holds in (\d+) of (\d+) cases", odds(probability))
    assert match
    said = int(match[1]) / int(match[2])
    assert 0.0 < said < 1.0
    assert abs(said - probability) <= 0.06 * min(probability, 1 - probability) + 0.005 + 1e-9


def test_a_probability_outside_is_refused() -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        odds(1.2)


def test_marks_differ_and_survive_ascii() -> None:
    assert len(set(MARKS.values())) == len(Verdict)
    assert len({plain(m) for m in MARKS.values()}) == len(Verdict)
    assert all(plain(m).isascii() for m in MARKS.values())


def test_the_headline_counts() -> None:
    text = headline(findings(), Verdict.BREAKS)
    assert text == "It does not hold as it stands. Of 5 findings: 1 breaks, 1 is unknown, 1 is tight, 2 hold."


def test_the_headline_says_when_all_together_rarely_hold() -> None:
    some = tuple(f for f in findings() if f.verdict in (Verdict.TIGHT, Verdict.HOLDS))
    assert headline(some, Verdict.TIGHT, 0.8).startswith("It holds, but not with room everywhere.")
    assert headline(some, Verdict.TIGHT, 0.06).startswith(
        "One by one the findings hold more often than not, all together in 6\u00a0% of cases. Of 3 findings:"
    )
    assert "less than 1\u00a0%" in headline(some, Verdict.TIGHT, 0.001)
    assert headline(findings(), Verdict.BREAKS, 0.01).startswith("It does not hold")
