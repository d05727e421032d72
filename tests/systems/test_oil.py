"""The turbo's oil as a system: feed, drain, breather; and the blow-by that a cycle makes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from boostwright.library.oil import oil_constant, oil_grade
from boostwright.systems.engine.blow_by import blow_by_flow
from boostwright.systems.oil import (
    Breather,
    OilFeed,
    breather_pressure,
    drain_capacity,
    head_of_drain,
    oiled,
)
from tests.labels import check
from tests.systems.engine.cases import at, solver

FEED = OilFeed(85e-6, 14.2e-6, 393.15, 4e5, math.inf, oil_constant("bearing", "plain").value)
HOSE = Breather(16e-3, 0.8, 1, 3.5, 353.15)


@check(
    "common practice",
    note="plain bushes pass 2 to 4 l/min hot at 4 bar; a millimetre before rolling bearings, 1",
)
def test_what_bearings_get() -> None:
    plain = oiled(FEED)
    assert 2.0 < plain.flow * 60e3 < 4.0
    assert plain.behind == pytest.approx(4e5)
    ball = oiled(replace(FEED, restrictor=1e-3, bearing=oil_constant("bearing", "ball").value))
    assert 0.5 < ball.flow * 60e3 < 1.2
    assert ball.behind < 4e5


@check("limit", note="air in the oil makes the column lighter and the drain smaller, in proportion")
def test_air_in_the_oil() -> None:
    fed = oiled(FEED)
    clear, foam = (drain_capacity(fed, 16e-3, 0.7, air) for air in (0.0, 0.4))
    assert foam == pytest.approx(0.6 * clear)
    assert head_of_drain(fed, 0.15, 0.4) == pytest.approx(0.6 * head_of_drain(fed, 0.15, 0.0))


@check(
    "limit",
    note="turbulent: twice the gas, up to four times the pressure; two hoses, between a half and a quarter",
)
def test_breather_by_flow_and_number() -> None:
    gas = np.array([0.8e-3, 1.6e-3, np.nan])
    one = breather_pressure(HOSE, gas, np.zeros(3))
    assert 3.0 < one[1] / one[0] <= 4.0
    assert np.isnan(one[2])
    two = breather_pressure(replace(HOSE, hoses=2), gas, np.zeros(3))
    assert 0.25 <= two[1] / one[1] < 0.35
    sucked = breather_pressure(HOSE, gas[:2], np.full(2, -2e3))
    assert sucked == pytest.approx(one[:2] - 2e3)


@check(
    "common practice",
    note="blow-by is 0.5 to 1 % of the air of an engine in service; boost makes it more",
)
def test_blow_by_follows_the_cycle() -> None:
    points = at(np.array([3000.0, 3000.0]), np.array([98.0, 160.0]))
    s = solver()
    flow, air = blow_by_flow(s, points), s.run(points).air_flow
    share = flow * oil_constant("rings", "service").value / air
    assert np.all((share > 0.004) & (share < 0.014))
    assert 1.3 < flow[1] / flow[0] < 2.2


def test_grades_are_read_as_people_write_them() -> None:
    for words, hot in (
        ("5W-40", "40"),
        ("10w40", "40"),
        ("SAE 30", "30"),
        ("0W-20 long life", "20"),
        ("50", "50"),
    ):
        grade = oil_grade(words)
        assert grade is not None
        assert grade.hot == hot
    for words in ("", "what was in it", "5W", "7W-45"):
        assert oil_grade(words) is None


@check(
    "published",
    source="saej300",
    note="classes at 100 degC in mm2/s, printed in an extract of the revision of April 2013 (sheet 211.0 of"
    " an engineers' handbook on the web; the standard itself was not at hand): 16 6.1-8.2, 20 6.9-9.3, "
    "30 9.3-12.5, 40 12.5-16.3, 50 16.3-21.9, 60 21.9-26.1",
)
def test_grades_lie_in_their_classes() -> None:
    classes = {
        "16": (6.1, 8.2), "20": (6.9, 9.3), "30": (9.3, 12.5), "40": (12.5, 16.3), "50": (16.3, 21.9),
        "60": (21.9, 26.1),
    }  # fmt: skip
    for hot, (low, high) in classes.items():
        grade = oil_grade(f"10W-{hot}")
        assert grade is not None
        assert low <= grade.at_100 * 1e6 < high
        assert grade.at_40 > 4.0 * grade.at_100
