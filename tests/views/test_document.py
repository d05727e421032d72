"""The JSON document."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import jsonschema
import numpy as np
import pytest

from boostwright.findings.model import Amount, Kind
from boostwright.systems.corners import Threshold
from boostwright.views.document import document, to_json
from boostwright.views.numbers import say_band
from boostwright.views.schema import results_schema
from boostwright.views.series import CYCLE_UNITS, GATE_UNITS, GOAL_UNITS, PULL_UNITS
from tests.sample import changed, result


@pytest.mark.parametrize("with_goal", [True, False])
def test_it_follows_its_schema(with_goal: bool) -> None:
    schema = results_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.Draft202012Validator(schema).validate(json.loads(to_json(result(with_goal))))


def test_the_round_trip_keeps_every_number() -> None:
    given = result()
    back = json.loads(to_json(given))
    assert back == document(given)
    assert back["baseline"]["speed"] == given.baseline.speeds.tolist()
    assert back["baseline"]["torque"] == given.baseline.result.torque.tolist()
    assert given.goal is not None
    assert back["goal"]["boost"] == given.goal.boost.tolist()
    first = given.findings[0]
    assert first.demand is not None
    assert back["findings"][0]["demand"]["value"] == first.demand.value
    assert back["findings"][0]["demand"]["text"] == say_band(first.demand).replace("\u00a0", " ")


def test_texts_hold_ordinary_spaces_only() -> None:
    assert "\u00a0" not in to_json(result())


def test_what_is_not_a_number_is_null() -> None:
    given = result()
    assert np.isnan(given.baseline.knock_spark).any()
    worst = changed(given.findings[0], demand=Amount(math.nan, math.inf, Kind.SHARE))
    text = to_json(replace(given, findings=(worst,)))
    back = json.loads(text, parse_constant=lambda word: pytest.fail(f"{word} is no JSON"))
    assert back["findings"][0]["demand"]["value"] is None
    assert back["findings"][0]["demand"]["sd"] is None
    assert back["baseline"]["knock_spark"][-1] is None


def test_version_data_and_inputs_are_on_it() -> None:
    made_by = document(result())["made_by"]
    assert made_by["version"]
    assert made_by["data"]
    assert made_by["inputs"] == "fedcba9876543210"


def test_every_array_is_there_with_its_unit() -> None:
    made = document(result())
    for name in CYCLE_UNITS:
        assert len(made["baseline"][name]) == 12
        assert name in made["baseline"]["units"]
    for name in GOAL_UNITS:
        assert len(made["goal"][name]) == 12
        assert name in made["goal"]["units"]


def test_corners_threshold_arrival_and_gate_are_there() -> None:
    given = result()
    made = document(given)
    assert [c["name"] for c in made["corners"]] == [c.name for c in given.corners]
    assert made["corners"][0]["line"]["boost"] == given.corners[0].goal.boost.tolist()
    assert made["gate_shut"]["units"]["boost"] == "Pa"
    assert given.threshold is not None
    assert given.arrival is not None
    assert made["threshold"]["coming_up"] == given.threshold.coming_up
    assert made["threshold"]["sd"] == given.threshold.deviation
    assert "2250 \u00b1 310 rpm on the way up" in made["threshold"]["text"]
    assert "2100 rpm on the way down" in made["threshold"]["text"]
    for pull, ours in zip(made["arrival"]["pulls"], given.arrival.pulls, strict=True):
        assert pull["gear"] == (ours.gear or None)
        assert all(len(pull[name]) == ours.time.size for name in PULL_UNITS)
    assert all(name in made["gate"]["units"] and len(made["gate"][name]) == 12 for name in GATE_UNITS)
    alone = document(result(with_goal=False))
    assert alone["corners"] == []
    assert [alone[k] for k in ("gate_shut", "threshold", "arrival", "gate")] == [None] * 4


def test_boost_that_comes_nowhere_is_said() -> None:
    never = Threshold(math.nan, math.nan, math.nan)
    made = document(replace(result(), threshold=never))["threshold"]
    assert made["coming_up"] is None
    assert "nowhere" in made["text"]


def test_one_speed_for_both_branches_is_said_once() -> None:
    one = Threshold(2249.0 * math.pi / 30, 2250.0 * math.pi / 30, 12.0)
    text = document(replace(result(), threshold=one))["threshold"]["text"]
    assert "2249" not in text
    assert "the same on the way up and on the way down" in text
