"""Chances, milestones and the way back, read off runs."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
from numpy.typing import NDArray

from boostwright.planning.calendar import calendar_for, hands_of
from boostwright.planning.outlook import outlook_of
from boostwright.planning.problem import Problem, Window
from boostwright.planning.schedule import sampled, schedule
from boostwright.planning.scope import manned, scope_of
from boostwright.planning.turning import HandClock, Turning, WorkClock, last_safe, turning_of
from tests.labels import check
from tests.planning.small_job import LISBON, MONDAY, build_with, small_job

JOB = small_job()
TWO = '[[people]]\nname = "L"\n[[people]]\nname = "H"\nskill = "helper"\n'


def runs(text: str = TWO) -> tuple[object, ...]:
    build = build_with(text)
    calendar = calendar_for(build, MONDAY, LISBON)
    scope = scope_of(JOB)
    crew = manned(scope.job, calendar)
    problem = Problem(
        crew.tasks, crew.workers, dict(calendar.places), {t.key: calendar.start for t in crew.tasks},
        {t.key: 0.0 for t in scope.desk},
    )  # fmt: skip
    return sampled(problem, schedule(problem, seconds=0.0), samples=2000), calendar, scope, crew


def test_later_milestones_are_less_likely_and_shares_rise() -> None:
    samples, calendar, scope, _ = runs()
    found = outlook_of(samples, calendar, scope.milestones)  # type: ignore[arg-type,attr-defined]
    chances = [m.chance.probability for m in found.milestones]
    assert chances == sorted(chances, reverse=True)
    assert [t for _, t in found.times] == sorted(t for _, t in found.times)
    assert found.milestones[-1].chance == found.chance
    assert found.drivers[0].what == "pace", "the pace that all tasks share moves the end most"


@check("limit", note="work that fits into one window ends at its start plus the work; counted by hand")
def test_working_time_is_counted_through_nights() -> None:
    clock = WorkClock([Window(0.0, 10.0), Window(20.0, 30.0)])
    start = np.array([0.0, 5.0, 12.0, 25.0, 0.0, 0.0])
    work = np.array([4.0, 8.0, 3.0, 6.0, 20.0, 10.0])
    assert clock.after(start, work).tolist() == [4.0, 23.0, 23.0, math.inf, 30.0, 10.0]
    assert clock.worked(np.array([5.0, 15.0, 25.0])).tolist() == [5.0, 10.0, 15.0]


@check("limit", note="two who are there do two hours' work in one; counted by hand")
def test_work_is_shared_only_while_both_are_there() -> None:
    hands = HandClock([[Window(0.0, 10.0), Window(20.0, 30.0)], [Window(0.0, 4.0)]])
    start = np.array([0.0, 0.0, 0.0, 2.0, 12.0, 0.0, 25.0])
    work = np.array([6.0, 8.0, 10.0, 4.0, 3.0, 24.0, 6.0])
    assert hands.after(start, work).tolist() == [3.0, 4.0, 6.0, 4.0, 23.0, 30.0, math.inf]
    assert HandClock([]).after(np.zeros(2), np.array([0.0, 1.0])).tolist() == [0.0, math.inf]


def test_a_second_person_whom_nobody_has_named_puts_nothing_back() -> None:
    samples, calendar, _, crew = runs('[[people]]\nname = "L"\n')
    assert calendar.alone  # type: ignore[attr-defined]
    assert [w.name for w in hands_of(calendar)] == ["L"]  # type: ignore[arg-type]
    both = dataclasses.replace(
        calendar,  # type: ignore[type-var]
        workers=tuple(dataclasses.replace(w, name=w.name[:6]) for w in calendar.workers),  # type: ignore[attr-defined]
    )
    alone, named = (
        turning_of(samples, crew.tasks, one, 0.0, done=["decide.list"])  # type: ignore[arg-type,attr-defined]
        for one in (calendar, both)
    )
    assert np.all(alone.back_odds <= named.back_odds)
    assert np.any(alone.back_odds < named.back_odds - 0.1)


def test_who_has_left_puts_nothing_back() -> None:
    samples, calendar, _, crew = runs()
    gone = calendar.without("H", calendar.start + 8 * 3600.0)  # type: ignore[attr-defined]
    before, after = (
        turning_of(samples, crew.tasks, one, 0.0, done=["decide.list"])  # type: ignore[arg-type,attr-defined]
        for one in (calendar, gone)
    )
    assert np.all(after.back_odds <= before.back_odds)
    assert np.any(after.back_odds < before.back_odds - 0.01)


def back(share: float = 0.8, text: str = TWO) -> Turning:
    samples, calendar, _, crew = runs(text)
    return turning_of(samples, crew.tasks, calendar, 0.0, done=["decide.list"], share=share)  # type: ignore[arg-type,attr-defined]


def test_the_way_back_closes_and_shutting_comes_last() -> None:
    found = back()
    assert found.back is not None
    assert found.shut is not None
    assert found.back < found.shut
    assert found.back_odds[0] == 1.0
    assert found.shut_odds.min() >= 0.0


def test_who_wants_to_be_surer_turns_back_no_later() -> None:
    times = [back(share).back or 0.0 for share in (0.5, 0.8, 0.95)]
    assert times == sorted(times, reverse=True)


def test_it_is_read_off_the_runs_and_no_constant() -> None:
    slow = TWO.replace('name = "L"', 'name = "L"\nfrom = "Saturday 12:00"')
    one, other = back(share=0.3), back(share=0.3, text=slow)
    assert one.back is not None
    assert other.back is not None
    assert one.back < other.back, "who begins later puts the first new part on later"


def test_after_the_first_new_part_there_is_no_way_back() -> None:
    samples, calendar, _, crew = runs()
    found = turning_of(  # type: ignore[call-overload]
        samples,
        crew.tasks,
        calendar,
        0.0,
        done=["fuel.injectors"],  # type: ignore[arg-type,attr-defined]
    )
    finished: NDArray[np.bool_] = samples.finish[:, None] <= found.moments[None, :]  # type: ignore[attr-defined]
    assert np.allclose(found.back_odds, finished.mean(axis=0))


@check("limit", note="read off curves that were written down by hand")
def test_the_way_back_ends_at_the_last_safe_moment_and_not_at_a_dip() -> None:
    moments = np.arange(8.0) * 900.0
    odds = np.array([1.0, 0.9, 0.7, 0.6, 0.85, 0.8, 0.5, 0.1])
    assert last_safe(moments, odds, 0.8) == 5 * 900.0, "safe again after the dip"
    assert last_safe(moments, odds, 0.95) == 0.0
    assert last_safe(moments, odds - 1.0, 0.8) is None
    assert last_safe(moments, np.ones(8), 0.8) == 7 * 900.0
    assert last_safe(np.zeros(0), np.zeros(0), 0.8) is None


def test_who_is_done_has_nothing_to_turn_back_from() -> None:
    moments = np.arange(6.0)
    odds = np.array([1.0, 0.9, 0.3, 0.5, 0.85, 0.95])
    over = np.array([0.0, 0.0, 0.1, 0.5, 0.85, 0.95])
    assert last_safe(moments, odds, 0.8, over) == 1.0
    assert last_safe(moments, odds, 0.8) == 5.0
