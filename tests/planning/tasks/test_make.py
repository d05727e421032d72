"""The tasks of the demo builds: keys, order, links."""

from __future__ import annotations

import pytest

from boostwright.planning.task import CREW, PLACES
from boostwright.planning.tasks import left_out_for, tasks_for
from boostwright.verbs import demo_build, demo_builds


@pytest.mark.parametrize("name", demo_builds())
def test_each_task_follows_only_tasks_that_stand_before_it(name: str) -> None:
    seen: set[str] = set()
    for task in tasks_for(demo_build(name)):
        assert seen.issuperset(task.after), task.key
        assert {lag.task for lag in task.lags} <= set(task.after)
        seen.add(task.key)


@pytest.mark.parametrize("name", demo_builds())
def test_who_and_where_are_those_of_the_contract(name: str) -> None:
    for task in tasks_for(demo_build(name)):
        assert task.crew
        assert set(task.crew) <= set(CREW)
        assert task.place in PLACES


@pytest.mark.parametrize("name", demo_builds())
def test_what_is_left_out_is_not_in_the_plan_and_says_why(name: str) -> None:
    build = demo_build(name)
    keys = {task.key for task in tasks_for(build)}
    for gone in left_out_for(build):
        assert gone.key not in keys
        assert len(gone.because) > 20
