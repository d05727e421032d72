"""The air of the day as a person writes it."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.errors import OutOfRange
from boostwright.planning.ladder import air_at_corner, read_air
from tests.labels import check
from tests.planning.ladder.made import build


@pytest.mark.parametrize(
    ("text", "celsius", "kilopascal"),
    [
        ("12 degC 101 kPa", 12.0, 101.0),
        ("101 kPa, 12 degC", 12.0, 101.0),
        ("-7,5 degC 0.96 bar", -7.5, 96.0),
        ("54 degF 1013 hPa", 12.222, 101.3),
    ],
)
def test_air_is_read_in_either_order(text: str, celsius: float, kilopascal: float) -> None:
    air = read_air(text, build())
    assert air.temperature == pytest.approx(celsius + 273.15, abs=0.01)
    assert air.pressure == pytest.approx(kilopascal * 1e3)
    assert air.pressure_sd < 500.0


def test_one_of_the_two_may_be_left_out() -> None:
    own = build().number("place.barometer")
    assert read_air("12 degC", build()).pressure == own
    assert read_air("99 kPa", build()).temperature == build().number("place.temperature")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "cannot be read"),
        ("warm", "cannot be read"),
        ("12 degC 14 degC", "one thing twice"),
        ("12 Nm", "neither a temperature nor a pressure"),
        ("12 degC 1 barg", "barometer"),
        ("12 degC 101 bar", "55 kPa"),
        ("80 degC", "weather"),
        ("12 degC 20 kPa", "110 kPa"),
    ],
)
def test_what_is_no_air_is_refused_in_plain_words(text: str, says: str) -> None:
    with pytest.raises(OutOfRange, match=says):
        read_air(text, build())


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        air = read_air(text, build())
    except OutOfRange:
        return
    assert math.isfinite(air.pressure)
    assert math.isfinite(air.temperature)


@check("published", id="LD3", source="iso2533", note="the standard's equation below 11 km, written out again")
def test_a_corner_of_the_file_is_the_standard_air_of_its_height() -> None:
    air = air_at_corner("pass road in August", build())
    assert air.pressure == pytest.approx(101325.0 * (1.0 - 0.0065 * 1750.0 / 288.15) ** 5.25588, rel=3e-4)
    assert air.temperature == pytest.approx(31.0 + 273.15)


def test_an_unknown_corner_is_answered_with_those_there_are() -> None:
    with pytest.raises(OutOfRange, match="Did you mean 'pass road in August'"):
        air_at_corner("pass rod in august", build())
