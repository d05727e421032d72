"""A rail that is held in the tank has no hose from the plenum, and nothing in the plan speaks of one."""

from __future__ import annotations

import dataclasses
import re
from functools import cache

import pytest

from boostwright.planning.ladder import ladder_for
from boostwright.planning.parts import parts_for
from boostwright.planning.readings.due import due_now
from boostwright.planning.tasks import tasks_for
from tests.labels import check
from tests.planning.ladder.made import condition
from tests.planning.tasks.builds import changed

HOSE = re.compile(
    r"regulator's (vacuum )?hose|reference hose|vacuum hose|idle, hose (on|off)|hose off and plugged"
    r"|its hose leads"
    r"|nipples?[^.]{0,40}regulator|return hose",
    re.IGNORECASE,
)
"""Words that send somebody to look for a hose that is not there."""


def said(thing: object) -> str:
    """All texts of a record, its rows and what they hold."""
    if isinstance(thing, str):
        return thing + "\n"
    if dataclasses.is_dataclass(thing) and not isinstance(thing, type):
        return "".join(said(getattr(thing, field.name)) for field in dataclasses.fields(thing))
    if isinstance(thing, dict):
        return "".join(said(value) for value in thing.values())
    if isinstance(thing, (tuple, list)):
        return "".join(said(one) for one in thing)
    return ""


@cache
def everything(reference: str) -> dict[str, str]:
    build = changed({"regulator.reference": f'"{reference}"'})
    tasks = tasks_for(build)
    return {
        "tasks": said(tasks),
        "parts": said(parts_for(build, tasks)),
        "readings": "".join(said(due_now(build, (), side)) for side in ("before", "during", "after")),
        "ladder": said(ladder_for(build, None, (), conditions=(condition(of=build), None))),
    }


@check("common practice", note="a rail without a return line is held in the tank: no hose, no nipple for it")
@pytest.mark.parametrize("where", ["tasks", "parts", "readings", "ladder"])
def test_nothing_speaks_of_a_hose_that_is_not_there(where: str) -> None:
    text = everything("tank")[where]
    assert len(text) > 1000
    found = HOSE.search(text)
    assert found is None, text[max(0, found.start() - 80) : found.end() + 80]


@pytest.mark.parametrize("where", ["tasks", "readings", "ladder"])
def test_where_there_is_one_it_is_spoken_of(where: str) -> None:
    """The words that the test before looks for are those that are used."""
    assert HOSE.search(everything("manifold")[where])


def test_what_can_be_read_stands_in_its_place() -> None:
    build = changed({"regulator.reference": '"tank"'})
    task = next(task for task in tasks_for(build) if task.key == "baseline.fuel_pressure")
    assert task.hold is not None
    assert "rail_pressure_hose_off" not in task.hold.readings
    assert {"rail_pressure_static", "rail_pressure_idle", "rail_pressure_dip"} <= set(task.hold.readings)
    assert "all loads on" in task.words
    due = {due.measurement.key: due for due in due_now(build, (), "before")}
    assert "rail_pressure_hose_off" not in due
    dip, idle = due["rail_pressure_dip"].expected, due["rail_pressure_idle"].expected
    assert dip is not None
    assert idle is not None
    assert dip.low is not None
    assert idle.middle is not None
    assert 0.85 * idle.middle < dip.low < idle.middle


def test_a_rail_that_follows_the_manifold_is_not_read_at_a_blip() -> None:
    due = {
        one.measurement.key for one in due_now(changed({"regulator.reference": '"manifold"'}), (), "before")
    }
    assert "rail_pressure_hose_off" in due
    assert "rail_pressure_dip" not in due


@pytest.mark.parametrize(
    ("fields", "count"),
    [
        ({"regulator.reference": '"manifold"', "blow_off.fitted": "true"}, 3.0),
        ({"regulator.reference": '"tank"', "blow_off.fitted": "true"}, 2.0),
        ({"regulator.reference": '"tank"', "blow_off.fitted": "false"}, 1.0),
    ],
)
def test_nipples_are_counted(fields: dict[str, str | None], count: float) -> None:
    task = next(task for task in tasks_for(changed(fields)) if task.key == "charge.ports")
    assert [need.quantity for need in task.needs if need.item == "nipples"] == [count]
