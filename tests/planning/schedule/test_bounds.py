"""Bounds and searches against every order that there is, tried one by one in a way of its own."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostwright.errors import NoPlan
from boostwright.planning.problem import Problem, Window, Worker
from boostwright.planning.schedule import schedule
from boostwright.planning.schedule.bounds import chain_bound, lower_bound
from boostwright.planning.schedule.frames import Frames
from boostwright.planning.schedule.model import GRID, prepared
from boostwright.planning.schedule.search import _first_end_after
from boostwright.planning.task import Lag, Task
from tests.sample_network import DAY, HOUR, network, task

UNIT = 30  # minutes: breaks are longer than a meal, so that work at one go lies in one window
FAR = 80  # units

Place = tuple[int, int]
Placed = dict[str, tuple[int, int, tuple[str, ...]]]


def days(lengths: list[int], gap: int) -> tuple[Window, ...]:
    found, at = [], 0
    for length in lengths:
        found.append(Window(at * UNIT * 60.0, (at + length) * UNIT * 60.0))
        at += length + gap
    return tuple(found)


@st.composite
def problems(draw: st.DrawFn) -> Problem:
    """Up to five tasks for one or two people with days of a few half hours."""
    longest = draw(st.integers(2, 5))
    windows = days([longest, *(draw(st.integers(1, 4)) for _ in range(2)), *[longest] * 6], 4)
    later = tuple(w for w in windows if draw(st.booleans())) or windows
    workers = [Worker("one", frozenset({"lead", "helper"}), windows)]
    if draw(st.booleans()):
        workers.append(Worker("two", frozenset({"helper"}), draw(st.sampled_from([windows, later]))))
    tasks: list[Task] = []
    for i in range(draw(st.integers(2, 5))):
        both = len(workers) > 1 and draw(st.integers(0, 3)) == 0
        length = draw(st.integers(1, longest))
        before = [t.key for t in tasks if draw(st.integers(0, 2)) == 0]
        lags = tuple(Lag(k, draw(st.integers(0, 6)) * UNIT * 60.0, "cures") for k in before[:1])
        tasks.append(
            task(
                f"t{i}",
                float(length * UNIT),
                tuple(before[1:]),
                crew=("lead", "helper") if both else (draw(st.sampled_from(["lead", "helper"])),),
                place=draw(st.sampled_from(["bay", "bench"])),
                lags=lags,
                in_one_go=draw(st.integers(0, 3)) > 0,
            )
        )
    return Problem(tuple(tasks), tuple(workers), {"bay": draw(st.integers(1, 2))})


def best_by_trying(problem: Problem) -> int | None:
    """The least finish [units] over all orders and all people, each task as soon as it then can."""
    ways = {t.key: list(_crews(problem, t)) for t in problem.tasks}
    ends = []
    for order in itertools.permutations(problem.tasks):
        if not _in_order(order):
            continue
        for crews in itertools.product(*(ways[t.key] for t in order)):
            placed: Placed = {}
            for t, crew in zip(order, crews, strict=True):
                if (found := _soonest(problem, t, crew, placed)) is None:
                    break
                placed[t.key] = (*found, crew)
            else:
                ends.append(max(end for _, end, _ in placed.values()))
    return min(ends, default=None)


def _in_order(order: tuple[Task, ...]) -> bool:
    seen: set[str] = set()
    for t in order:
        if not {*t.after, *(lag.task for lag in t.lags)} <= seen:
            return False
        seen.add(t.key)
    return True


def _crews(problem: Problem, t: Task) -> Iterator[tuple[str, ...]]:
    for people in itertools.permutations(problem.workers, len(t.crew)):
        if all(role in person.can for role, person in zip(t.crew, people, strict=True)):
            yield tuple(person.name for person in people)


def _soonest(problem: Problem, t: Task, crew: tuple[str, ...], placed: Placed) -> Place | None:
    by_name = {w.name: w for w in problem.workers}
    length = round(t.effort.likely / 60.0 / UNIT)
    ready = max(
        [
            0,
            *(placed[k][1] for k in t.after),
            *(placed[g.task][1] + round(g.seconds / 60.0 / UNIT) for g in t.lags),
        ]
    )

    def at_work(u: int) -> bool:
        moment = u * UNIT * 60.0
        return all(any(w.start <= moment < w.end for w in by_name[n].windows) for n in crew)

    for start in range(ready, FAR):
        if not at_work(start):
            continue
        end, done = start, 0
        while done < length and end < FAR:
            if at_work(end):
                done += 1
            elif t.in_one_go:
                break
            end += 1
        if done < length:
            continue
        busy = [p for p in placed.values() if p[0] < end and start < p[1]]
        if any(set(p[2]) & set(crew) for p in busy):
            continue
        if t.place in problem.places:
            there = [p for k, p in placed.items() if _place(problem, k) == t.place]
            most = max(sum(p[0] <= u < p[1] for p in there) for u in range(start, end))
            if most >= problem.places[t.place]:
                continue
        return start, end
    return None


def _place(problem: Problem, key: str) -> str:
    return next(t.place for t in problem.tasks if t.key == key)


@settings(max_examples=120)
@given(problems())
def test_no_bound_is_above_the_best_of_all_orders_and_the_search_finds_it(problem: Problem) -> None:
    best = best_by_trying(problem)
    try:
        plan = schedule(problem, seconds=5.0, early=False)
    except NoPlan:
        assert best is None
        return
    assert best is not None
    steps = best * UNIT
    model = prepared(problem)
    frames = Frames(model)
    assert lower_bound(frames, chain_bound(model, steps), steps).finish <= steps
    assert frames.latest(float(steps)) is not None
    assert plan.bound <= steps * GRID
    assert plan.proven
    assert plan.finish == steps * GRID


def test_what_must_go_before_a_task_keeps_it_late_although_no_chain_does() -> None:
    """Six hours for one person before the task: two evenings of three hours, so it begins on the third."""
    evenings = tuple(Window(k * DAY, k * DAY + 3 * HOUR) for k in range(5))
    before = tuple(task(f"a{k}", 60.0) for k in range(6))
    last = task("last", 30.0, tuple(t.key for t in before))
    model = prepared(Problem((*before, last), (Worker("one", frozenset({"helper"}), evenings),)))
    frames = Frames(model)
    assert frames.earliest.starts[model.number["last"]] * GRID == 2 * DAY
    assert model.heads[model.number["last"]] * GRID == HOUR  # by chains alone
    latest = frames.latest(2 * DAY / GRID + 30.0)
    assert latest is not None
    assert latest.starts[model.number["last"]] * GRID == 2 * DAY
    assert latest.ends[model.number["a0"]] * GRID == DAY + 3 * HOUR
    assert frames.latest((2 * DAY - HOUR) / GRID) is None


@pytest.mark.parametrize("seed", [1, 2, 5])
def test_a_job_as_large_as_a_conversion_is_proven_by_the_bound_alone(seed: int) -> None:
    plan = schedule(network(140, seed=seed), seconds=0.0)
    assert plan.proven
    assert plan.method == "heuristic"


def test_a_day_is_saved_or_shown_not_to_be() -> None:
    """Pieces of 120, 90, 90, 60, 60, 60 and 60 minutes fill two evenings of four and a half hours only if
    they are put together well; with two minutes more each, no evening can be saved.
    """
    evenings = tuple(Window(k * DAY, k * DAY + 4.5 * HOUR) for k in range(4))
    people = (Worker("one", frozenset({"helper"}), evenings),)
    minutes = [60.0, 60.0, 60.0, 60.0, 90.0, 90.0, 120.0]
    plan = schedule(Problem(tuple(task(f"t{k}", m) for k, m in enumerate(minutes)), people), seconds=5.0)
    assert plan.proven
    assert plan.finish == DAY + 4.5 * HOUR
    more = schedule(
        Problem(tuple(task(f"t{k}", m + 2.0) for k, m in enumerate(minutes)), people), seconds=5.0
    )
    assert more.proven
    assert more.finish > 2 * DAY


def test_a_no_to_an_earlier_day_lifts_the_bound_only_to_where_the_last_task_can_end() -> None:
    """What needs nobody may end at night, and a shop's hours go on when nobody is at the car."""
    evenings = tuple(Window(k * DAY, k * DAY + 2 * HOUR) for k in range(4))
    shop = Worker("shop", frozenset({"welder"}), (Window(0.0, 4 * HOUR), Window(DAY, DAY + 4 * HOUR)))
    one = Worker("one", frozenset({"helper"}), evenings)
    night = task("night", 600.0, crew=())
    end = round(2 * HOUR / GRID)
    assert _first_end_after(prepared(Problem((task("a", 90.0), night), (one, shop))), end) == end + 1
    welded = task("welded", 90.0, crew=("welder",))
    assert _first_end_after(prepared(Problem((welded,), (one, shop))), end) == end + 1
    assert (
        _first_end_after(prepared(Problem((task("a", 90.0),), (one, shop))), end) * GRID == DAY + 1.5 * HOUR
    )
