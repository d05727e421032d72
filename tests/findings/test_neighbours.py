"""Parts near the hot side: what each finding rests on, limits by kind, remedies taken at their word."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from boostwright.findings.charge_path import tail
from boostwright.findings.hot_case import _days
from boostwright.findings.model import Verdict
from boostwright.findings.worst import lines
from boostwright.views.numbers import fill
from tests.findings.test_cooling_and_car import near, of, value
from tests.findings.test_subjects import case, found, maybe
from tests.labels import check
from tests.sample import goal


def test_the_worst_neighbour_for_its_material_is_named_and_the_others_stand_beside() -> None:
    rest = near(distance=260) + near("loom", "wiring", 40, "downpipe") + near("cable", "wiring-hot", 300)
    one = found("neighbours.heat", of(rest))
    assert one.verdict is Verdict.BREAKS
    assert "loom" in one.place.words
    assert len(one.notes) == 2
    assert "Brake hose" in fill(one.notes[0]) + fill(one.notes[1])


def test_nearer_is_hotter_and_shield_and_sleeve_help() -> None:
    def at(distance: float, more: str = "") -> float:
        return value(found("neighbours.heat", of(near(distance=distance, more=more))))

    assert at(60) > at(120) > at(300)
    assert at(120, 'shield = "sheet"') < at(120)
    assert at(120, 'shield = "double"') < at(120, 'shield = "sheet"')
    assert at(120, "sleeve = true") < at(120)


@pytest.mark.parametrize("way", ["away", "sheet", "sleeve"])
def test_the_clearance_and_the_shield_that_it_names_hold(way: str) -> None:
    one = found("neighbours.heat", of(near(distance=55)))
    assert one.verdict is Verdict.BREAKS
    if way not in one.remedy.amounts:
        pytest.fail(f"{way} is not named: {fill(one.remedy)}")
    distance = max(55.0, 1000 * one.remedy.amounts[way].value + 1.0)
    more = {"away": "", "sheet": 'shield = "sheet"', "sleeve": "sleeve = true"}[way]
    again = found("neighbours.heat", of(near(distance=math.ceil(distance), more=more)))
    assert again.verdict is Verdict.HOLDS


def test_a_hotter_turbine_heats_its_neighbours() -> None:
    line = goal()
    hot = replace(line, turbine_inlet_temperature=line.turbine_inlet_temperature + 120.0)
    assert value(found("neighbours.heat", of(near(), hot))) > value(found("neighbours.heat", of(near()))) + 3


def test_the_limit_follows_the_kind_and_the_fluid() -> None:
    dot4 = found("neighbours.heat", of(near()))
    dot3 = found("neighbours.heat", of(near() + '[car]\nbrake_fluid = "dot3"\n'))
    assert dot4.capacity is not None
    assert dot3.capacity is not None
    assert dot4.capacity.value - dot3.capacity.value == pytest.approx(15.0)
    paint = found("neighbours.heat", of(near("wing", "paint")))
    assert paint.limit.key == "near_paint"


@check(
    "published",
    source="fmvss116",
    note="least wet boiling points of brake fluids: DOT 3 140, DOT 4 155 degC; as reprinted, exact",
)
def test_brake_fluids_by_the_law() -> None:
    limits = case().limits
    assert limits["near_brake_dot3"].amount.value - 273.15 == pytest.approx(140.0)
    assert limits["near_brake_dot4"].amount.value - 273.15 == pytest.approx(155.0)
    assert limits["near_brake_dot51"].amount.value - 273.15 <= 180.0


def test_a_neighbour_that_touches_is_said_to() -> None:
    touching = found("neighbours.room", of(near(distance=12)))
    assert touching.verdict is Verdict.BREAKS
    least = touching.remedy.amounts["least"].value
    assert found("neighbours.room", of(near(distance=math.ceil(1000 * least)))).verdict is Verdict.HOLDS


def test_without_a_list_the_survey_is_asked_for_with_clearances() -> None:
    one = found("neighbours.survey", case())
    assert one.verdict is Verdict.UNKNOWN
    assert "keep brake lines" in fill(one.remedy)
    assert maybe("neighbours.survey", of(near())) is None
    assert maybe("neighbours.heat", case()) is None
    assert maybe("neighbours.room", case()) is None


@pytest.mark.parametrize(("kind", "distance"), [("wiring", 30), ("wiring", 80)])
def test_easy_minutes_before_a_stop_are_not_the_whole_remedy(kind: str, distance: float) -> None:
    """Where no distance, sheet or sleeve is sure, it says so, and how far the best of them goes."""
    said = fill(found("neighbours.heat", of(near(kind=kind, distance=distance))).remedy)
    assert not said.startswith("Drive the last minutes")
    assert "degC" in said


def test_gas_behind_the_turbine_is_the_same_in_every_finding() -> None:
    given = of(near(beside="downpipe"))
    at = lines(given)[0]
    assert np.array_equal(_days(given)[0].gas.downpipe, tail(given, at).temperature)


def test_a_battery_in_the_bay_warms_through_in_an_hour_and_not_in_minutes() -> None:
    """Heavy as it is, it ends a climb far below the loom beside it; far enough away it holds."""
    beside = found("neighbours.heat", of(near(kind="battery", distance=250)))
    loom = found("neighbours.heat", of(near(kind="wiring", distance=250)))
    assert beside.demand is not None
    assert loom.demand is not None
    assert beside.demand.value < loom.demand.value - 20.0
