"""Which tasks the hours are for, crews as the people can make them up, evenings."""

from __future__ import annotations

import pytest

from boostwright import verbs
from boostwright.errors import OutOfRange
from boostwright.planning.calendar import SECOND, Calendar, calendar_for
from boostwright.planning.plan import Wishes, plan_for
from boostwright.planning.problem import Problem
from boostwright.planning.schedule import schedule
from boostwright.planning.scope import evening_ready, forerunners, manned, scope_of
from boostwright.planning.tasks import tasks_for
from tests.planning.small_job import BOTH, LISBON, MONDAY, build_with, small_job, task

JOB = small_job()


def hours(*people: tuple[str, str]) -> Calendar:
    text = "".join(f'[[people]]\nname = "{name}"\nskill = "{skill}"\n' for name, skill in people)
    return calendar_for(build_with(text), MONDAY, LISBON)


def test_the_desk_comes_before_and_the_kilometres_after() -> None:
    late = task("run.tighten_50", 35, ("run.margins",))
    found = scope_of((*JOB, late))
    assert [t.key for t in found.desk] == ["decide.list"]
    assert [t.key for t in found.later] == ["run.tighten_50"]
    assert len(found.desk) + len(found.job) + len(found.later) == len(JOB) + 1


def test_an_earlier_goal_leaves_what_comes_after_it_for_later() -> None:
    found = scope_of(JOB, "run.survey")
    assert {t.key for t in found.later} == {"run.full_pull", "run.heat_soak", "run.margins"}


def test_a_goal_before_the_last_phases_is_all_that_the_hours_are_for() -> None:
    found = scope_of(JOB, "battery.hot_joints")
    assert {t.key for t in found.job} == forerunners(["battery.hot_joints"], JOB) - {"decide.list"}
    assert {"strip.stands", "run.margins", "turbo.bench"} <= {t.key for t in found.later}
    build = build_with('[[people]]\nname = "L"\n[[people]]\nname = "H"\n')
    wishes = Wishes(samples=200, seconds=0.0, goal="battery.hot_joints")
    made = plan_for(build, JOB, MONDAY, LISBON, wishes=wishes, quick=True)
    assert made.schedule.slots[-1].task == "battery.hot_joints"
    assert made.outlook.chance.probability == 1.0, "two hours' work in two days"


def test_a_goal_at_the_desk_is_refused() -> None:
    with pytest.raises(OutOfRange, match="done at the desk"):
        scope_of(JOB, "decide.list")


def test_on_evenings_only_what_leaves_the_car_drivable() -> None:
    early = evening_ready(JOB)
    assert {"baseline.compression", "battery.cable", "turbo.bench"} <= early
    assert not any(key.startswith(("strip", "oil", "fuel", "run", "prove")) for key in early)
    assert evening_ready(JOB, may_stand=True) == {t.key for t in JOB}


def test_what_waits_for_the_strip_down_waits_on_the_bench_too() -> None:
    assert "oil.drill" not in evening_ready(JOB)


def test_where_two_who_know_are_asked_for_one_guides_the_other() -> None:
    two = task("run.timing", 10, crew=("electrician", "lead"))
    found = manned([two], hours(("L", "home"), ("H", "helper")))
    assert set(found.tasks[0].crew) == {"electrician", "helper"}
    assert "under the eye" in found.guided["run.timing"]
    both = manned([two], hours(("L", "home"), ("E", "electrician")))
    assert both.tasks[0].crew == two.crew
    assert not both.guided


def test_one_alone_does_alone_what_one_can_and_gets_a_second_for_the_rest() -> None:
    single, pair = task("a.one", 10, crew=("helper",)), task("a.two", 10, crew=BOTH)
    found = manned([single, pair], hours(("L", "home")))
    assert found.tasks[0].crew == ("lead",)
    assert found.tasks[1].crew == BOTH
    assert SECOND in [w.name for w in found.workers]


def test_a_task_for_three_is_planned_for_two_and_a_second_person() -> None:
    three = task("a.three", 10, crew=("lead", "helper", "observer"))
    calendar = hours(("L", "home"), ("H", "helper"))
    found = manned([three], calendar)
    made = schedule(Problem(found.tasks, found.workers), seconds=0.0)
    assert set(made.slots[0].who) == {"L", "H", SECOND}


@pytest.mark.parametrize("name", ["sound", "highland"])
@pytest.mark.parametrize(
    "people",
    [
        (("L", "home"),),
        (("L", "home"), ("H", "helper")),
        (("M", "mechanic"), ("E", "electrician"), ("H", "helper")),
    ],
)
def test_no_task_of_a_demo_build_is_dropped_whoever_there_is(
    name: str, people: tuple[tuple[str, str], ...]
) -> None:
    tasks = tasks_for(verbs.demo_build(name))
    scope = scope_of(tasks)
    assert {t.key for t in (*scope.desk, *scope.job, *scope.later)} == {t.key for t in tasks}
    calendar = hours(*people)
    found = manned(scope.job, calendar)
    released = {t.key: calendar.start for t in found.tasks}
    done = {t.key: 0.0 for t in scope.desk}
    made = schedule(Problem(found.tasks, found.workers, dict(calendar.places), released, done), seconds=0.0)
    assert {slot.task for slot in made.slots} == {t.key for t in scope.job}


def test_forerunners_include_what_a_pause_follows() -> None:
    assert {"oil.sump_on", "strip.sump", "decide.list"} <= forerunners(["oil.fill"], JOB)
