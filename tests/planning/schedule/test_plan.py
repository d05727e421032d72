"""The plan against rules that must hold, and refusals in words."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from boostwright.errors import NoPlan, OutOfRange
from boostwright.planning.problem import Problem, Schedule, Window, Worker
from boostwright.planning.schedule import Pace, planned_seconds, sampled, schedule
from boostwright.planning.schedule.model import stays_of
from boostwright.planning.task import Lag
from tests.sample_network import DAY, HOUR, MINUTE, network, task, weekend

ALL = (Window(0.0, 30 * DAY),)


def worker(name: str, *can: str, windows: tuple[Window, ...] = ALL) -> Worker:
    return Worker(name, frozenset(can or ("lead", "helper")), windows)


def hold(problem: Problem, plan: Schedule) -> None:
    """Every rule that the problem states, looked up in the plan by itself."""
    slots = {slot.task: slot for slot in plan.slots}
    tasks = {t.key: t for t in problem.tasks if t.key not in problem.done}
    assert slots.keys() == tasks.keys()
    people = {w.name: w for w in problem.workers}
    for key, t in tasks.items():
        slot = slots[key]
        assert sum(p.end - p.start for p in slot.pieces) == pytest.approx(planned_seconds(t))
        assert slot.start >= problem.released.get(key, 0.0)
        for other in t.after:
            assert other in problem.done or slot.start >= slots[other].end
        for lag in t.lags:
            ended = problem.done[lag.task] if lag.task in problem.done else slots[lag.task].end
            assert slot.start >= ended + lag.seconds
        assert len(set(slot.who)) == len(t.crew)
        for name, role in zip(slot.who, t.crew, strict=True):
            assert role in people[name].can
            for piece in slot.pieces:
                assert any(w.start <= piece.start and piece.end <= w.end for w in people[name].windows)
        if t.critical and len(slot.who) == 1:
            others = [w for name, p in people.items() if name not in slot.who for w in p.windows]
            for piece in slot.pieces:
                assert any(w.start <= piece.start and piece.end <= w.end for w in others)
        if t.in_one_go and slot.pieces:
            for before, behind in pairwise(slot.pieces):
                assert behind.start - before.end <= 1.5 * HOUR
        for piece in slot.pieces if t.place in problem.open else ():
            assert any(w.start <= piece.start and piece.end <= w.end for w in problem.open[t.place])
        for other in t.same_stay:
            assert any(
                w.start <= slots[other].start and slot.end <= w.end for w in stays_of(problem.workers)
            ), (key, other)
    for name in people:
        mine = sorted((s.start, s.end) for s in plan.slots if name in s.who and s.end > s.start)
        assert all(a[1] <= b[0] for a, b in pairwise(mine)), name
    for place, capacity in problem.places.items():
        here = [s for s in plan.slots if tasks[s.task].place == place and s.end > s.start]
        for slot in here:
            assert sum(o.start <= slot.start < o.end for o in here) <= capacity
    assert plan.finish == max(s.end for s in plan.slots)
    assert plan.bound <= plan.finish


@pytest.mark.parametrize("seed", range(6))
def test_a_rules_order_keeps_every_rule(seed: int) -> None:
    problem = network(60, seed=seed, people=2 + seed % 2)
    hold(problem, schedule(problem, seconds=0.0, seed=seed))


def staying(problem: Problem) -> Problem:
    """Some short tasks at one go go stale over a night; the bench is lit by day only."""
    kept = {t.key: t for t in problem.tasks}
    tasks, taken = [], set[str]()
    for t in problem.tasks:
        others = [
            k
            for k in t.after
            if kept[k].in_one_go and t.in_one_go and kept[k].odds == t.odds == 1.0
            if planned_seconds(kept[k]) + planned_seconds(t) < 1.5 * HOUR and k not in taken
        ]
        if others and len(taken) < 8:
            taken |= {others[0], t.key}
            t = replace(t, same_stay=(others[0],))
        tasks.append(t)
    assert len(taken) >= 6
    light = tuple(Window(k * DAY + 9 * HOUR, k * DAY + 20 * HOUR) for k in range(70))
    return replace(problem, tasks=tuple(tasks), open={"bench": light})


@pytest.mark.parametrize("seed", range(4))
def test_what_goes_stale_over_a_night_is_followed_in_the_same_stay(seed: int) -> None:
    problem = staying(network(60, seed=seed))
    plain = schedule(network(60, seed=seed), seconds=0.0)
    first = schedule(problem, seconds=0.0)
    hold(problem, first)
    assert first.finish >= plain.bound
    hold(problem, schedule(problem, seconds=2.0))


def test_a_task_waits_for_the_next_stay_with_the_one_that_must_follow_it() -> None:
    """Two hours are left of the first evening; one hour with two behind it begins on the next."""
    evenings = tuple(Window(k * DAY, k * DAY + 4 * HOUR) for k in range(4))
    first = task("first", 120.0)
    stale = task("stale", 60.0, ("first",))
    behind = replace(task("behind", 120.0, ("stale",)), same_stay=("stale",))
    people = (worker("one", windows=evenings),)
    apart = schedule(Problem((first, stale, replace(behind, same_stay=())), people), seconds=1.0)
    slots = {s.task: s for s in apart.slots}
    assert (slots["stale"].start, slots["behind"].start) == (2 * HOUR, DAY)
    together = schedule(Problem((first, stale, behind), people), seconds=1.0)
    slots = {s.task: s for s in together.slots}
    assert (slots["stale"].start, slots["behind"].start) == (DAY, DAY + HOUR)


def test_what_no_stay_can_hold_is_planned_apart_and_done_anew_in_the_runs() -> None:
    evenings = tuple(Window(k * DAY, k * DAY + 2 * HOUR) for k in range(6))
    stale = task("stale", 60.0)
    behind = replace(task("behind", 90.0, ("stale",)), same_stay=("stale",))
    problem = Problem((stale, behind), (worker("one", windows=evenings),))
    plan = schedule(problem, seconds=0.5)
    assert plan.finish == DAY + 1.5 * HOUR
    sure = sampled(problem, plan, samples=8, pace=Pace(1.0, 0.0))
    assert sure.finish == pytest.approx(2 * DAY + 0.5 * HOUR)  # 60 + 90 min do not fit two hours, so run over


def test_a_road_that_is_dark_is_not_driven_and_one_that_never_opens_is_told() -> None:
    evenings = tuple(Window(k * DAY + 18 * HOUR, k * DAY + 21 * HOUR) for k in range(3))
    day = Window(3 * DAY + 8 * HOUR, 3 * DAY + 16 * HOUR)
    light = tuple(Window(k * DAY + 8.5 * HOUR, k * DAY + 16.5 * HOUR) for k in range(7))
    drive = task("drive", 60.0, place="road")
    people = (worker("one", windows=(*evenings, day)),)
    plan = schedule(Problem((drive,), people, open={"road": light}), seconds=0.5)
    assert plan.slots[0].start == 3 * DAY + 8.5 * HOUR
    with pytest.raises(NoPlan, match=r"'drive' .* at the road, which is never open"):
        schedule(Problem((drive,), (worker("one", windows=evenings),), open={"road": light}), seconds=0.5)
    dusk = (Window(light[3].start, light[3].start + 0.5 * HOUR),)
    with pytest.raises(NoPlan, match=r"can work at the road is 0\.5 h\. Make its hours or a day longer"):
        schedule(Problem((drive,), people, open={"road": dusk}), seconds=0.5)


@pytest.mark.parametrize("seed", range(2))
def test_a_searched_plan_keeps_every_rule_and_is_no_longer(seed: int) -> None:
    problem = network(40, seed=seed)
    first = schedule(problem, seconds=0.0)
    plan = schedule(problem, seconds=1.0)
    hold(problem, plan)
    assert plan.finish <= first.finish
    assert plan.bound >= first.bound


def test_the_same_problem_gives_the_same_plan() -> None:
    problem = network(30, seed=5)
    plans = [schedule(problem, seconds=1.0) for _ in range(2)]
    assert all(plan.repeatable for plan in plans)
    assert plans[0].slots == plans[1].slots


def test_the_plan_is_its_own_sample_when_nothing_is_unsure() -> None:
    problem = network(50, seed=3)
    sure = tuple(
        replace(t, effort=replace(t.effort, low=(d := planned_seconds(t)), likely=d, high=d))
        for t in problem.tasks
        if t.odds == 1.0
    )
    kept = {t.key for t in sure}
    sure = tuple(replace(t, after=tuple(k for k in t.after if k in kept), lags=()) for t in sure)
    problem = replace(problem, tasks=sure)
    plan = schedule(problem, seconds=0.0)
    from boostwright.planning.schedule import Pace

    run = sampled(problem, plan, samples=8, pace=Pace(1.0, 0.0))
    for slot in plan.slots:
        column = run.tasks.index(slot.task)
        assert run.starts[:, column] == pytest.approx(slot.start)
        assert run.ends[:, column] == pytest.approx(slot.end)


def test_divided_work_goes_on_after_the_night_and_whole_work_waits() -> None:
    windows = (Window(8 * HOUR, 12 * HOUR), Window(32 * HOUR, 40 * HOUR))
    tasks = (
        task("a", 180.0, crew=("lead",)),
        task("b", 120.0, ("a",), crew=("lead",), in_one_go=False),
        task("c", 120.0, ("a",), crew=("helper",)),
    )
    people = (worker("one", "lead", windows=windows), worker("two", "helper", windows=windows))
    plan = schedule(Problem(tasks, people), seconds=1.0)
    by_key = {slot.task: slot for slot in plan.slots}
    assert by_key["b"].pieces == (Window(11 * HOUR, 12 * HOUR), Window(32 * HOUR, 33 * HOUR))
    assert by_key["c"].pieces == (Window(32 * HOUR, 34 * HOUR),)
    assert plan.proven
    assert plan.finish == 34 * HOUR


def test_a_pause_passes_while_other_work_goes_on() -> None:
    tasks = (
        task("seal", 60.0),
        task("fill", 30.0, lags=(Lag("seal", 2 * HOUR, "cures"),)),
        task("other", 120.0),
    )
    plan = schedule(Problem(tasks, (worker("one"),)), seconds=1.0)
    assert plan.proven
    assert plan.finish == 3.5 * HOUR


def test_what_is_done_holds_up_only_by_its_pause() -> None:
    tasks = (
        task("seal", 60.0),
        task("fill", 30.0, lags=(Lag("seal", 2 * HOUR, "cures"),)),
        task("go", 10.0, ("seal",)),
    )
    problem = Problem(tasks, (worker("one"),), done={"seal": -HOUR})
    slots = {slot.task: slot for slot in schedule(problem, seconds=0.5).slots}
    assert slots.keys() == {"fill", "go"}
    assert slots["fill"].start == HOUR
    assert slots["go"].start == 0.0


def test_what_seldom_arises_has_no_length_but_a_place_in_the_order() -> None:
    tasks = (task("nuts", 60.0), task("stud", 120.0, ("nuts",), odds=0.2), task("lift off", 30.0, ("stud",)))
    plan = schedule(Problem(tasks, (worker("one"),)), seconds=0.5)
    assert [(slot.task, slot.start, slot.end) for slot in plan.slots] == [
        ("nuts", 0.0, HOUR),
        ("stud", HOUR, HOUR),
        ("lift off", HOUR, 1.5 * HOUR),
    ]


def test_what_seldom_arises_waits_for_nobody_and_for_no_room() -> None:
    """A stud that most likely does not break kept everybody waiting for days until the welder was there."""
    days = 86400.0
    welder = worker("shop", "welder", windows=(Window(5 * days, 5 * days + 8 * HOUR),))
    tasks = (
        task("nuts", 60.0),
        task("stud", 120.0, ("nuts",), crew=("helper", "welder"), place="lift", odds=0.2),
        task("lift off", 30.0, ("stud",)),
    )
    problem = Problem(tasks, (worker("one"), welder), {"lift": 1})
    for seconds in (0.0, 0.5):
        plan = schedule(problem, seconds=seconds)
        slots = {slot.task: slot for slot in plan.slots}
        assert plan.finish == 1.5 * HOUR
        assert plan.proven
        assert slots["stud"].who == ("one", "shop")  # who it takes where it does arise
    run = sampled(problem, plan, samples=4000, pace=Pace(1.0, 1e-9))
    ends, came = run.finish, run.arose[:, run.tasks.index("stud")]
    assert came.mean() == pytest.approx(0.2, abs=1e-3)
    assert np.all(ends[~came] < 2.5 * HOUR)  # as if there were no such task
    assert np.all(ends[came] > 5 * days + HOUR)


ONE = worker("one")
REFUSED = {
    "nobody can": (
        Problem((task("weld", 30.0, crew=("welder",)),), (ONE,)),
        "needs somebody who can act as welder",
    ),
    "two at once": (
        Problem((task("lift", 30.0, crew=("lead", "helper")),), (ONE,)),
        r"needs 2 people at once \(lead and helper\)",
    ),
    "alone": (Problem((task("fuel", 30.0, critical=True),), (ONE,)), "never done alone"),
    "too long": (
        Problem((task("paint", 300.0),), (worker("one", windows=weekend(evenings=1)[:1]),)),
        "takes 5.0 h at one go, and the longest stretch in which helper can work is 3.5 h",
    ),
    "place": (
        Problem((task("a", 30.0),), (ONE,), {"lift": 1}, uses={"a": {"lift": 2}}),
        "takes 2 of 'lift', and there are 1",
    ),
    "hours": (
        Problem(tuple(task(f"t{i}", 180.0) for i in range(9)), (worker("one", windows=weekend(1, 1)),)),
        "Name more hours",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_planned_is_refused_in_words(name: str) -> None:
    problem, words = REFUSED[name]
    with pytest.raises(NoPlan, match=words) as refused:
        schedule(problem, seconds=0.0)
    assert refused.value.obstacles


def test_all_that_hinders_is_said_at_once() -> None:
    tasks = (task("weld", 30.0, crew=("welder",)), task("fuel", 30.0, critical=True), task("x", 5.0))
    with pytest.raises(NoPlan) as refused:
        schedule(Problem(tasks, (ONE,)), seconds=0.0)
    assert [(o.task, o.kind) for o in refused.value.obstacles] == [("weld", "nobody"), ("fuel", "alone")]


def test_a_circle_a_stranger_and_a_double_are_refused() -> None:
    loop = (task("a", 1.0, ("c",)), task("b", 1.0, ("a",)), task("c", 1.0, ("b",)))
    with pytest.raises(OutOfRange, match=re.escape("in a circle: a -> c -> b -> a")):
        schedule(Problem(loop, (ONE,)), seconds=0.0)
    with pytest.raises(OutOfRange, match="waits for 'z'"):
        schedule(Problem((task("a", 1.0, ("z",)),), (ONE,)), seconds=0.0)
    with pytest.raises(OutOfRange, match="stand twice: a"):
        schedule(Problem((task("a", 1.0), task("a", 2.0)), (ONE,)), seconds=0.0)


def test_work_too_long_for_a_window_rests_over_a_meal_but_not_over_a_night() -> None:
    windows = (Window(8 * HOUR, 12 * HOUR), Window(13 * HOUR, 18 * HOUR), Window(32 * HOUR, 36 * HOUR))
    plan = schedule(Problem((task("a", 8 * 60.0),), (worker("one", windows=windows),)), seconds=0.5)
    assert plan.slots[0].pieces == (Window(8 * HOUR, 12 * HOUR), Window(13 * HOUR, 17 * HOUR))
    with pytest.raises(NoPlan, match="at one go"):
        schedule(Problem((task("a", 10 * 60.0),), (worker("one", windows=windows),)), seconds=0.5)


def test_nothing_to_do_is_a_plan() -> None:
    plan = schedule(Problem((), ()))
    assert plan.slots == ()
    assert plan.proven
    assert plan.finish == 0.0 * MINUTE
