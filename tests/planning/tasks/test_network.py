"""The network holds together whatever falls out of it: no circle, nothing left open, no reading missing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from boostwright.library.tasks import task_rows
from boostwright.planning.task import Task
from boostwright.planning.tasks import left_out_for, tasks_for
from boostwright.planning.tasks.conditions import conditions
from boostwright.planning.tasks.network import ancestors, closed, reduced, sorted_keys
from boostwright.verbs import demo_build, demo_builds
from tests.labels import check
from tests.planning.tasks.forced import forced

NAMES = tuple(conditions())
AFTER_FIRE = {"front_off": "run.first_drive"}
"""What may stay open past the first fire, and before what it is closed: the bumper stays off so that leaks
and the cooler's clamps can be seen while the engine is warm for the first time."""

answers = st.fixed_dictionaries({name: st.booleans() for name in NAMES})


def links_of(tasks: Sequence[Task]) -> dict[str, tuple[str, ...]]:
    return {task.key: task.after for task in tasks}


def faults(tasks: Sequence[Task]) -> list[str]:
    """Everything that is wrong with a network of tasks, in words."""
    far = ancestors(links_of(tasks))
    found = []
    for task in tasks:
        for thing in task.opens:
            before = AFTER_FIRE.get(thing, "run.first_fire")
            closers = {other.key for other in tasks if thing in other.closes and task.key in far[other.key]}
            if not closers & far[before]:
                found.append(f"{task.key} opens {thing} and nothing closes it before {before}")
        for thing in task.closes:
            openers = {other.key for other in tasks if thing in other.opens}
            if openers and not openers & far[task.key]:
                found.append(f"{task.key} closes {thing} before anything opened it")
        if task.key != "decide.law" and "decide.law" not in far[task.key]:
            found.append(f"{task.key} hangs in the air")
    return found


@pytest.mark.parametrize("name", demo_builds())
def test_the_demo_builds_have_a_sound_network(name: str) -> None:
    assert not faults(tasks_for(demo_build(name)))


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(said=answers)
def test_any_combination_of_conditions_gives_a_sound_network(said: dict[str, bool]) -> None:
    with forced(said):
        build = demo_build("sound")
        tasks, gone = tasks_for(build), left_out_for(build)
    assert not faults(tasks)
    assert {task.key for task in tasks} | {out.key for out in gone} == set(task_rows())
    assert {task.key for task in tasks} & {out.key for out in gone} == set()


@pytest.mark.parametrize("name", NAMES)
def test_each_condition_changes_something(name: str) -> None:
    """A condition that no task, need, wait or reading names would be dead words."""
    rows = task_rows().values()
    named = {
        condition
        for row in rows
        for when in (
            row.when,
            *(when for _, when in row.says),
            *(need.when for need in row.needs),
            *(lag.when for lag in row.lags),
            *(when for _, when in row.after),
            *(when for _, when in (row.hold.readings if row.hold else ())),
        )
        for condition in (*when.if_all, *when.unless)
    }
    assert name in named
    build = demo_build("sound")
    with forced({name: True}):
        one = tasks_for(build)
    with forced({name: False}):
        other = tasks_for(build)
    assert one != other


def test_a_spoilt_network_is_found_out() -> None:
    """The rules above can fail: take a closing task out, and they say so."""
    tasks = [task for task in tasks_for(demo_build("sound")) if task.key != "prove.fuel_dry"]
    kept = frozenset(task.key for task in tasks)
    links = {task.key: tuple(one for one in task.after if one in kept) for task in tasks}
    spoilt = [replace(task, after=links[task.key]) for task in tasks]
    assert any("fuel_open" in fault for fault in faults(spoilt))


def test_a_circle_is_named() -> None:
    with pytest.raises(ValueError, match="wait for each other"):
        sorted_keys({"a": ("b",), "b": ("a",)})


@check("limit", note="hand-drawn networks; the answer is read off the drawing")
@pytest.mark.parametrize(
    ("kept", "expected"),
    [
        ("abcd", {"a": (), "b": ("a",), "c": ("b",), "d": ("c",)}),
        ("acd", {"a": (), "c": ("a",), "d": ("c",)}),
        ("ad", {"a": (), "d": ("a",)}),
        ("d", {"d": ()}),
    ],
)
def test_who_followed_a_task_that_falls_out_follows_what_came_before_it(
    kept: str, expected: dict[str, tuple[str, ...]]
) -> None:
    chain = {"a": (), "b": ("a",), "c": ("b",), "d": ("c",)}
    assert closed(chain, frozenset(kept)) == expected


@st.composite
def networks(draw: st.DrawFn) -> dict[str, tuple[str, ...]]:
    size = draw(st.integers(1, 9))
    names = [f"t{index}" for index in range(size)]
    return {
        name: tuple(draw(st.lists(st.sampled_from(names[:index]), unique=True)) if index else ())
        for index, name in enumerate(names)
    }


@check("limit", note="the order among the kept tasks is that of the whole network, by definition")
@settings(max_examples=200, deadline=None)
@given(links=networks(), data=st.data())
def test_falling_out_and_reducing_keep_the_order(
    links: dict[str, tuple[str, ...]], data: st.DataObject
) -> None:
    kept = frozenset(data.draw(st.sets(st.sampled_from(sorted(links)))))
    whole = ancestors(links)
    left = reduced(closed(links, kept))
    assert {key: far & kept for key, far in whole.items() if key in kept} == ancestors(left)
    for key, before in left.items():
        implied = [one for one in before if any(one in ancestors(left)[other] for other in before)]
        assert not implied, key
