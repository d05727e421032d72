"""Ranges of the ladder in words: decimals by the spread, limits rounded to their safe side, the air said."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.library.measurements import measurements
from boostwright.planning.ladder import Air, Expected, Limit
from boostwright.views.ladder_page import card, ladder_report
from boostwright.views.ladder_words import air_lines, expected_words, stop_words
from tests.planning.ladder.made import ladder


def test_two_digits_of_what_is_not_sure_and_a_zero_is_one_of_them() -> None:
    rail = Expected("pull_rail_minus_manifold", 2.796e5, 3.131e5, 2.9635e5, 8.375e3)
    assert expected_words(rail) == "2.80 to 3.13 bar"
    duty = Expected("pull_duty", 0.296, 0.36, 0.328, 0.016)
    assert expected_words(duty) == "29.6 to 36.0 %"
    volts = Expected("battery_key_on", 12.2, 12.9)
    assert expected_words(volts) == "12.2 to 12.9 V"  # the trade's range has no such digits


def test_answers_are_words_to_type() -> None:
    assert expected_words(Expected("rail_dry", good=("dry",))).startswith("'dry'")
    assert stop_words(Expected("rail_dry", good=("dry",))) == "STOP at any other answer"


@pytest.mark.parametrize(("limit", "says"), [(143.62e3, "143"), (144.0e3, "144"), (143.9999999e3, "144")])
def test_an_upper_limit_is_rounded_down(limit: float, says: str) -> None:
    peak = Expected("pull_peak", 108e3, 133e3, 120.5e3, 6.2e3, stop_high=Limit(limit, "", ""))
    assert stop_words(peak) == f"STOP above {says} kPa absolute"


@given(st.floats(50e3, 400e3), st.floats(10.0, 2e4))
def test_nothing_printed_lies_beyond_a_limit(limit: float, sd: float) -> None:
    both = Expected(
        "pull_peak", limit - 2 * sd, limit + 2 * sd, limit, sd,
        stop_low=Limit(limit, "", ""), stop_high=Limit(limit, "", ""),
    )  # fmt: skip
    found = re.fullmatch(r"STOP below ([0-9.]+) or above ([0-9.]+) kPa absolute", stop_words(both))
    assert found is not None
    low, high = (float(one) * 1e3 for one in found.groups())
    assert low >= limit - 1.0
    assert high <= limit + 1.0
    assert low - high <= 2.0 * sd + 1.0  # and not far inside it


def test_air_that_nobody_gave_is_said_first() -> None:
    assumed = Air(98.2e3, 298.15, "on an ordinary warm day", 500.0, 5.0, given=False)
    assert air_lines(assumed).startswith("AIR NOT GIVEN: ranges are for 25 degC, 98.2 kPa")
    assert "--air" in air_lines(assumed)
    said = air_lines(assumed._replace(given=True, words="on the day 'pass road in August'"))
    assert "NOT GIVEN" not in said
    assert "98.2 kPa" in said
    assert "AIR NOT GIVEN" in ladder_report(ladder()).splitlines()[3]


def test_every_reading_has_its_key_and_every_number_its_unit() -> None:
    made = ladder()
    for rung in made.rungs:
        lines = card(made, rung, 80)
        text = " ".join(" ".join(lines).split())
        assert max(map(len, lines)) <= 80
        for expected in rung.expected:
            one = measurements()[expected.measurement]
            assert re.search(rf" {expected.measurement}  ?\S", text), expected.measurement
            assert one.dimension is None or one.unit in text
        assert f"--step {rung.key} --who NAME" in text
        assert text.index("STOP at once") < text.index("readings, each by its key")


def test_what_is_not_read_yet_is_counted_and_the_rest_is_said() -> None:
    made = ladder()
    text = " ".join(" ".join(card(made, made.rungs[0], 80)).split())
    asked = [e for e in made.rungs[0].expected if not e.optional]
    assert f"{len(asked)} readings are not read yet" in text
    assert "not done yet: prove.fuel_dry" in text
