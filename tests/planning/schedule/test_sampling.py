"""Finish times by sampling: against published estimates, exact limits, and what every run must keep."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from boostwright.errors import OutOfRange
from boostwright.planning.problem import Problem, Window, Worker
from boostwright.planning.schedule import (
    Delay,
    Pace,
    criticality,
    drivers,
    finish_times,
    probability_by,
    sampled,
    schedule,
    textbook,
    time_for,
)
from boostwright.planning.schedule.draws import drawn, shape_of
from boostwright.planning.task import Effort, Lag, Task
from tests.labels import check
from tests.sample_network import DAY, HOUR, network, task

EVER = (Window(0.0, 1000 * DAY),)
ONE = Worker("one", frozenset({"lead", "helper"}), EVER)
SAME = Pace(1.0, 0.0)
N = 20000


def lone(tasks: tuple[Task, ...]) -> Problem:
    """Tasks that need nobody and no place."""
    return Problem(tuple(replace(t, crew=()) for t in tasks), ())


# --- The three points


@check("limit", id="V7", note="beta distribution of a + b = 6 in closed form; printed digits, 1e-5")
def test_three_points_as_a_beta_distribution() -> None:
    shape = shape_of(Effort(1.0, 2.0, 4.0))
    assert shape.mean == pytest.approx(2.16667, abs=1e-5)
    assert shape.sd == pytest.approx(0.55277, abs=1e-5)


@check(
    "reference library",
    id="V7",
    source="scipy",
    note="beta quantiles; 2e-5 of the range, stated for the table",
)
@pytest.mark.parametrize("points", [(1.0, 2.0, 4.0), (0.0, 0.0, 1.0), (0.0, 1.0, 1.0), (2.0, 2.5, 20.0)])
def test_quantiles_of_the_three_points(points: tuple[float, float, float]) -> None:
    low, likely, high = points
    share = (likely - low) / (high - low)
    u = np.linspace(0.0, 1.0, 2001)
    expected = low + (high - low) * stats.beta.ppf(u, 1.0 + 4.0 * share, 5.0 - 4.0 * share)
    assert drawn(Effort(*points), u) == pytest.approx(expected, abs=2e-5 * (high - low))


def test_three_points_that_are_one_are_that_one() -> None:
    assert np.all(drawn(Effort(7.0, 7.0, 7.0), np.linspace(0, 1, 5)) == 7.0)


# --- Published estimates

BUILDING = {  # task: (three durations in weeks, after)
    "A": ((1, 2, 3), ""),
    "B": ((2, 3.5, 8), "A"),
    "C": ((6, 9, 18), "B"),
    "D": ((4, 5.5, 10), "C"),
    "E": ((1, 4.5, 5), "C"),
    "F": ((4, 4, 10), "E"),
    "G": ((5, 6.5, 11), "D"),
    "H": ((5, 8, 17), "EG"),
    "I": ((3, 7.5, 9), "C"),
    "J": ((3, 9, 9), "FI"),
    "K": ((4, 4, 4), "J"),
    "L": ((1, 5.5, 7), "J"),
    "M": ((1, 2, 3), "H"),
    "N": ((5, 5.5, 9), "KL"),
}
WEEK = 7 * DAY


def building() -> Problem:
    tasks = []
    for key, ((low, likely, high), after) in BUILDING.items():
        minutes = (low * WEEK / 60.0, likely * WEEK / 60.0, high * WEEK / 60.0)
        tasks.append(task(key, minutes, tuple(after)))
    return lone(tuple(tasks))


@check(
    "published",
    id="V5",
    source="hillier2001",
    note="mean 44, variance 9, P(<= 47) 0.84134; from memory; 1e-5",
)
def test_the_classical_estimate_of_a_building() -> None:
    found = textbook(building(), 47 * WEEK)
    assert found.mean == pytest.approx(44 * WEEK, abs=1e-5 * WEEK)
    assert (found.sd / WEEK) ** 2 == pytest.approx(9.0, abs=1e-5)
    assert found.probability == pytest.approx(0.84134, abs=1e-5)
    assert found.chain == tuple("ABCEFJLN")
    plan = schedule(building(), seconds=0.0)
    assert plan.proven
    assert plan.finish == pytest.approx(44 * WEEK, abs=10 * 60)  # whole minutes upwards, eight times at most


@check(
    "limit",
    id="V5b",
    note="of chains that merge the later counts, so the runs promise less; 4 sampling errors",
)
def test_the_runs_promise_less_than_the_classical_estimate() -> None:
    problem = building()
    run = sampled(problem, schedule(problem, seconds=0.0), samples=N, pace=SAME)
    odds = probability_by(run, 47 * WEEK)
    assert odds.probability < textbook(problem, 47 * WEEK).probability - 4.0 * odds.sampling_error
    assert run.finish.mean() > 44 * WEEK


PARTS = 24  # tasks of a strand, whose sum is nearly normal


def strand(name: str, mean: float, sd: float) -> tuple[Task, ...]:
    """Tasks one after the other, whose sum has this mean and standard deviation [h]: a symmetric beta
    distribution with a = b = 3 has the variance range^2 / 28.
    """
    half = 0.5 * sd * math.sqrt(28.0 / PARTS)
    one = tuple(60.0 * (mean / PARTS + side) for side in (-half, 0.0, half))
    return tuple(task(f"{name}{k}", one, (f"{name}{k - 1}",) if k else ()) for k in range(PARTS))


@check(
    "published",
    id="V6",
    source="clark1961",
    note="greater of two normals; 4 sigma / sqrt(n), and 0.002 as sums of 24 are nearly normal",
)
@pytest.mark.parametrize(
    ("first", "second", "mean", "sd"),
    [((10.0, 2.0), (10.0, 2.0), 11.12838, 1.6513), ((10.0, 2.0), (9.0, 3.0), 10.9934, 1.9934)],
)
def test_where_two_strands_merge_the_later_counts(
    first: tuple[float, float], second: tuple[float, float], mean: float, sd: float
) -> None:
    base = 90.0  # both strands are that much longer, so that no task has a negative duration
    tasks = strand("a", base + first[0], first[1]) + strand("b", base + second[0], second[1])
    problem = lone(tasks)
    finish = finish_times(problem, schedule(problem, seconds=0.0), samples=N, pace=SAME) / HOUR - base
    assert finish.mean() == pytest.approx(mean, abs=4.0 * sd / math.sqrt(N) + 0.002)
    assert finish.std() == pytest.approx(sd, abs=4.0 * sd / math.sqrt(2.0 * N) + 0.002 * sd)


# --- Exact limits


@check("limit", id="V9", note="one person, no pauses, hours without end: the sum of the durations; 1e-9")
def test_one_person_takes_the_sum() -> None:
    tasks = tuple(task(f"t{k}", (10.0, 20.0 + k, 70.0)) for k in range(30))
    problem = Problem(tasks, (ONE,))
    run = sampled(problem, schedule(problem, seconds=0.0), samples=500)
    assert run.finish == pytest.approx(run.lengths.sum(axis=1), rel=1e-9)


@check(
    "limit", id="V10", note="independent tasks one after the other: variances add; 4 sigma of a sample's sd"
)
def test_variances_of_independent_tasks_add() -> None:
    tasks = tuple(task(f"t{k}", (10.0, 20.0, 70.0)) for k in range(25))
    problem = Problem(tasks, (ONE,))
    finish = finish_times(problem, schedule(problem, seconds=0.0), samples=N, pace=SAME)
    expected = math.sqrt(25) * shape_of(tasks[0].effort).sd
    assert finish.std() == pytest.approx(expected, rel=4.0 / math.sqrt(2.0 * N))
    assert finish.mean() == pytest.approx(25 * tasks[0].effort.mean, rel=1e-4)


@check(
    "limit", id="V11", note="a lognormal pace moves all tasks together: its quantiles are the finish's; 1 %"
)
def test_a_shared_pace_does_not_average_out() -> None:
    tasks = tuple(task(f"t{k}", 30.0) for k in range(25))
    problem = Problem(tasks, (ONE,))
    run = sampled(problem, schedule(problem, seconds=0.0), samples=N, pace=Pace(1.1, 0.25))
    expected = 25 * 1800.0 * 1.1 * np.exp(0.25 * stats.norm.ppf([0.1, 0.5, 0.9]))
    assert time_for(run, [0.1, 0.5, 0.9]) == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize("seed", range(4))
def test_a_slower_pace_never_ends_sooner(seed: int) -> None:
    problem = network(60, seed=seed, people=2 + seed % 2)
    plan = schedule(problem, seconds=0.0)
    before = finish_times(problem, plan, samples=400, pace=Pace(0.8, 0.2))
    for median in (1.0, 1.3, 1.7):
        now = finish_times(problem, plan, samples=400, pace=Pace(median, 0.2))
        assert np.all(now >= before - 1e-6)
        before = now


def test_what_seldom_arises_does_so_as_often_as_its_odds() -> None:
    tasks = (task("nuts", 60.0), task("stud", 120.0, ("nuts",), odds=0.2))
    problem = Problem(tasks, (ONE,))
    run = sampled(problem, schedule(problem, seconds=0.0), samples=N, pace=SAME)
    assert run.arose[:, run.tasks.index("stud")].mean() == pytest.approx(0.2, abs=1e-3)
    assert set(np.round(run.finish)) == {3600.0, 10800.0}


def test_a_part_that_is_missing_holds_up_its_task_alone() -> None:
    tasks = (task("a", 60.0), task("b", 60.0, crew=()))
    problem = Problem(tasks, (ONE,))
    wait = Effort(DAY, DAY, DAY)
    run = sampled(
        problem, schedule(problem, seconds=0.0), samples=800, pace=SAME, delays=(Delay("a", 0.25, wait),)
    )
    late = run.starts[:, run.tasks.index("a")] > 0.0
    assert late.mean() == pytest.approx(0.25, abs=0.01)
    assert np.all(run.starts[late, run.tasks.index("a")] == DAY)
    assert np.all(run.starts[:, run.tasks.index("b")] == 0.0)


# --- What every run must keep


def keeps(problem: Problem, samples: int = 24, seed: int = 1) -> None:
    plan = schedule(problem, seconds=0.0, seed=seed)
    run = sampled(problem, plan, samples=samples, seed=seed)
    tasks = {t.key: t for t in problem.tasks}
    column = {key: k for k, key in enumerate(run.tasks)}
    windows = {w.name: w.windows for w in problem.workers}
    who = {slot.task: slot.who for slot in plan.slots}
    there = np.isfinite(run.finish)
    starts, ends, lengths = run.starts[there], run.ends[there], run.lengths[there]
    assert np.all(ends - starts >= lengths - 1e-3)
    for key, t in tasks.items():
        for other in t.after:
            assert np.all(starts[:, column[key]] >= ends[:, column[other]] - 1e-6)
        for lag in t.lags:
            assert np.all(starts[:, column[key]] >= ends[:, column[lag.task]] + 0.9 * lag.seconds - 1e-6)
    for s, e, d in zip(starts, ends, lengths, strict=True):
        for name in windows:
            mine = sorted(
                (s[column[k]], e[column[k]], k) for k in tasks if name in who[k] and d[column[k]] > 0.0
            )
            assert all(a[1] <= b[0] + 1e-6 for a, b in pairwise(mine))
            for start, end, key in mine:
                if len(who[key]) == 1 and not tasks[key].critical:
                    at_work = sum(max(0.0, min(end, w.end) - max(start, w.start)) for w in windows[name])
                    assert at_work == pytest.approx(d[column[key]], abs=1e-3)
        for place, capacity in problem.places.items():
            here = [
                (s[column[k]], e[column[k]])
                for k, t in tasks.items()
                if t.place == place and d[column[k]] > 0
            ]
            for start, _ in here:
                assert sum(a <= start < b - 1e-6 for a, b in here) <= capacity


@check(
    "conservation", id="V12", note="in every run nobody does two things at once, no place is overfull; exact"
)
@given(st.integers(0, 10**6), st.integers(8, 40), st.integers(1, 3))
@settings(max_examples=15, deadline=None)
def test_every_run_keeps_people_places_and_hours(seed: int, tasks: int, people: int) -> None:
    problem = network(tasks, seed=seed, people=max(people, 2))
    if people == 1:
        alone = tuple(replace(t, crew=t.crew[:1], critical=False) for t in problem.tasks)
        problem = replace(problem, tasks=alone, workers=problem.workers[:1])
    keeps(problem, seed=seed)


def test_the_same_seed_gives_the_same_runs() -> None:
    problem = network(30)
    plan = schedule(problem, seconds=0.0)
    a, b, c = (finish_times(problem, plan, samples=64, seed=seed) for seed in (7, 7, 8))
    assert np.array_equal(a, b)
    assert not np.array_equal(a, c)


# --- What the runs say


def test_the_odds_come_with_an_error_that_holds() -> None:
    tasks = tuple(task(f"t{k}", (10.0, 20.0, 70.0)) for k in range(10))
    problem = Problem(tasks, (ONE,))
    plan = schedule(problem, seconds=0.0)
    deadline = float(np.median(finish_times(problem, plan, samples=100000, seed=99)))
    found = [probability_by(sampled(problem, plan, samples=1000, seed=k), deadline) for k in range(12)]
    scatter = np.std([o.probability for o in found], ddof=1)
    told = math.sqrt(np.mean([o.sampling_error**2 for o in found]))
    assert np.mean([o.probability for o in found]) == pytest.approx(
        0.5, abs=4.0 * told / math.sqrt(12) + 0.005
    )
    assert 0.4 < told / scatter < 2.5


def test_the_chain_that_ends_last_is_found() -> None:
    tasks = (
        task("long", (100.0, 110.0, 120.0), crew=()),
        task("short", (10.0, 20.0, 30.0), crew=()),
        task("end", 30.0, ("long", "short"), crew=()),
    )
    problem = Problem(tasks, ())
    run = sampled(problem, schedule(problem, seconds=0.0), samples=400, pace=SAME)
    assert criticality(run) == {"long": 1.0, "end": 1.0, "short": 0.0}
    first = drivers(run)[0]
    assert (first.what, first.name) == ("task", "long")
    assert first.correlation == pytest.approx(1.0)


def test_work_at_the_shop_does_not_follow_the_builders_pace() -> None:
    tasks = (task("shop", (50.0, 60.0, 90.0), crew=(), place="shop"), task("home", 300.0, ("shop",)))
    problem = Problem(tasks, (ONE,))
    run = sampled(problem, schedule(problem, seconds=0.0), samples=4000)
    found = {(d.what, d.name): d.correlation for d in drivers(run)}
    assert found["pace", ""] > 0.9
    assert 0.0 < found["task", "shop"] < 0.3
    factor = run.lengths[:, run.tasks.index("shop")] / run.own[:, run.tasks.index("shop")]
    assert np.log(factor).std() == pytest.approx(0.10, rel=0.05)


def test_the_chain_runs_over_the_person_who_was_busy() -> None:
    tasks = (task("a", 60.0), task("b", 60.0), task("c", 10.0, ("b",)))
    problem = Problem(tasks, (ONE,))
    run = sampled(problem, schedule(problem, seconds=0.0), samples=16)
    assert set(criticality(run).values()) == {1.0}


def test_hours_that_end_leave_the_work_undone() -> None:
    windows = (Window(0.0, 2 * HOUR),)
    tasks = (task("a", (50.0, 55.0, 90.0)), task("b", (50.0, 55.0, 90.0)))
    problem = Problem(tasks, (Worker("one", frozenset({"helper"}), windows),))
    run = sampled(problem, schedule(problem, seconds=0.0), samples=400)
    assert 0.0 < probability_by(run, 10 * DAY).probability < 1.0
    assert np.isinf(time_for(run, 0.99))


def test_what_does_not_fit_together_is_refused() -> None:
    problem = Problem((task("a", 60.0), task("b", 30.0, lags=(Lag("a", 60.0, "cures"),))), (ONE,))
    plan = schedule(problem, seconds=0.0)
    with pytest.raises(OutOfRange, match="leaves out b"):
        sampled(problem, replace(plan, slots=plan.slots[:1]))
    with pytest.raises(OutOfRange, match="who is not among the people"):
        sampled(replace(problem, workers=(replace(ONE, name="two"),)), plan)
    with pytest.raises(OutOfRange, match="names 'z'"):
        sampled(problem, plan, delays=(Delay("z", 0.5, Effort(1.0, 2.0, 3.0)),))
    with pytest.raises(OutOfRange, match="0 samples"):
        sampled(problem, plan, samples=0)
    with pytest.raises(OutOfRange, match="'z' is no task"):
        probability_by(sampled(problem, plan, samples=8), 0.0, tasks=("z",))


def test_a_pause_with_three_points_of_its_own_is_drawn_from_them() -> None:
    hour = 3600.0
    queue = Lag("a", (4.8 + 4.0 * 48.0 + 120.0) / 6.0 * hour, "queue", low=4.8 * hour, high=120.0 * hour)
    problem = Problem((task("a", 60.0), task("b", 60.0, lags=(queue,))), (ONE,))
    run = sampled(problem, schedule(problem, seconds=0.0), samples=N, pace=SAME)
    pause = run.pauses[1][:, 0] / hour
    assert pause.min() > 4.8
    assert pause.max() < 120.0
    share = (48.0 - 4.8) / (120.0 - 4.8)
    exact = stats.beta(1.0 + 4.0 * share, 5.0 - 4.0 * share, loc=4.8, scale=120.0 - 4.8)
    assert np.mean(pause) == pytest.approx(exact.mean(), abs=4.0 * exact.std() / np.sqrt(N))
    assert np.quantile(pause, 0.9) == pytest.approx(exact.ppf(0.9), rel=0.03)
