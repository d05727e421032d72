"""Odds and marks."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.findings.judge import with_probability
from boostwright.findings.model import Harm, Verdict
from boostwright.views.words import MARKS, even_words, headline, odds, odds_of, plain
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


@pytest.mark.parametrize(
    ("probability", "said"),
    [
        (0.001, "fails in more than 99 of 100 cases"),
        (0.01, "fails in 99 of 100 cases (99 %)"),
        (0.42, "fails in 3 of 5 cases (58 %)"),
        (0.60, "fails in 2 of 5 cases (40 %)"),
    ],
)
def test_what_breaks_says_how_often_it_fails(probability: float, said: str) -> None:
    one = with_probability(replace(findings()[0], harm=Harm.SEVERE), probability)
    assert one.verdict is Verdict.BREAKS
    assert odds_of(one).replace("\u00a0", " ") == said
    drawn = with_probability(one, probability, 0.01)
    assert odds_of(drawn).replace("\u00a0", " ") == f"fails in {100 * (1 - probability):.0f} ± 2 % of cases"
    assert odds_of(with_probability(one, 0.001, 0.0, 80)) == "fails in more than 79 of 80 cases"


def test_what_is_tight_or_holds_says_how_often_it_holds() -> None:
    for probability in (0.7, 0.99):
        one = with_probability(replace(findings()[0], harm=Harm.SEVERE), probability)
        assert odds_of(one).startswith("holds in ")


def test_what_breaks_at_even_odds_says_why_it_is_called_so() -> None:
    severe = replace(findings()[0], harm=Harm.SEVERE, code="x")
    words = even_words(with_probability(severe, 0.6)).replace("\u00a0", " ")
    assert "holds oftener than it fails" in words
    assert "less than 67 % of cases" in words
    assert "from 97.5 % on" in words
    assert "a better figure" in even_words(with_probability(severe, 0.42))
    for clear in (0.1, 0.8, 0.99, None):
        assert even_words(with_probability(severe, clear)) == ""
    even = with_probability(severe, 0.45)
    assert headline((even,), Verdict.BREAKS).startswith("It may hold or not, at about even odds.")
    sure = with_probability(severe, 0.1)
    assert headline((even, sure), Verdict.BREAKS).startswith("It does not hold as it stands.")
    worn = replace(even, code="engine.leak_down")
    assert worn.bars_all
    assert headline((worn, sure), Verdict.BREAKS).startswith("Whether the engine itself is fit")


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
