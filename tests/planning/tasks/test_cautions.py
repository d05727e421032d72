"""Cautions: the whole sentence once, where the danger is met first; then a few words."""

from __future__ import annotations

from collections import Counter

import pytest

from boostwright.library.cautions import caution_rows
from boostwright.planning.tasks import tasks_for
from boostwright.planning.tasks.cautions import REST, cautions_along, licences
from boostwright.verbs import demo_build, demo_builds


@pytest.mark.parametrize("name", demo_builds())
def test_each_sentence_stands_once_and_at_the_first_task_that_meets_it(name: str) -> None:
    tasks = tasks_for(demo_build(name))
    shown = cautions_along(tasks)
    counted = Counter(text for one in shown.values() for text in one.full)
    assert set(counted.values()) == {1}
    for key, row in caution_rows().items():
        with_it = [task.key for task in tasks if key in task.cautions]
        if with_it:
            assert row.text in shown[with_it[0]].full
            assert all(row.short in shown[later].short for later in with_it[1:])


def test_another_order_shows_the_sentence_at_another_task() -> None:
    tasks = tasks_for(demo_build("sound"))
    there = [task for task in tasks if "fuel" in task.cautions]
    assert caution_rows()["fuel"].text in cautions_along(reversed(there))[there[-1].key].full


def test_the_first_critical_task_says_that_nobody_goes_on_after_ten_hours() -> None:
    tasks = tasks_for(demo_build("sound"))
    shown = cautions_along(tasks)
    first = next(task for task in tasks if task.critical)
    assert caution_rows()[REST].text in shown[first.key].full
    assert "ten hours" in caution_rows()[REST].text
    assert "midnight" in caution_rows()[REST].text


def test_what_is_for_licensed_people_is_listed_once() -> None:
    found = licences(tasks_for(demo_build("sound")))
    assert len(set(found)) == len(found)
    for word in ("qualified welder", "licensed workshop", "inspection body", "airbags", "gas system"):
        assert any(word in text for text in found), word


def test_dangerous_tasks_carry_their_caution() -> None:
    tasks = {task.key: task for task in tasks_for(demo_build("sound"))}
    for key, caution in {
        "fuel.pump": "tank",
        "strip.fuel_pressure_off": "fuel",
        "strip.stands": "lifting",
        "strip.battery_off": "battery",
        "prove.charge_leak": "pressure",
        "oil.bung": "welding",
        "run.pull_low": "road",
        "run.first_drive": "emissions",
        "breathing.servo": "servo",
        "control.settings": "safety_cuts",
    }.items():
        assert caution in tasks[key].cautions, key
