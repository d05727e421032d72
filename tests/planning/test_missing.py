"""Parts that are late or wrong: each counted from when its own task is due, lines of one order together."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from boostwright.planning.missing import delays_of
from boostwright.planning.parts import Group, Lead, Line, PartsList, State, missing_odds
from boostwright.planning.plan import Plan, plan_for
from boostwright.planning.problem import Problem, Window, Worker
from boostwright.planning.schedule import Delay, Draws, Pace, sampled, schedule
from boostwright.planning.setting import Wishes
from boostwright.planning.task import Effort
from boostwright.views.plan_verdict import counted_on
from tests.labels import check
from tests.planning.small_job import LISBON, MONDAY, build_with, small_job
from tests.sample_network import DAY, HOUR, task

ONE = Worker("one", frozenset({"lead", "helper"}), (Window(0.0, 1000 * DAY),))
SAME = Pace(1.0, 0.0)
WAIT = Effort(HOUR, HOUR, HOUR)
BUILD = build_with('[[people]]\nname = "L"\n[[people]]\nname = "H"\n')
TODAY = date(2026, 11, 30)
SATURDAY = date(2026, 12, 5)


def draws(there: list[float], again: list[float]) -> Draws:
    return Draws(np.array(there), np.array(again))


def ordered(key: str, days: float, task: str, sd: float = 0.0) -> Line:
    return Line(
        key, Group.PART, key, tasks=(task,), state=State.ORDERED, ordered_on=TODAY, seller="one seller",
        lead=Lead(days, sd, "judgement"), tried=True,
    )  # fmt: skip


def planned(lines: tuple[Line, ...], samples: int = 400) -> Plan:
    delays = delays_of(PartsList(lines), small_job(), today=TODAY, begin=SATURDAY, zone=LISBON)
    wishes = Wishes(samples=samples, seconds=0.0)
    return plan_for(BUILD, small_job(), MONDAY, LISBON, wishes=wishes, delays=delays, quick=True)


@check("limit", note="one worker, tasks of an hour one after the other: starts are sums and maxima by hand")
def test_a_late_part_costs_only_what_is_left_when_its_task_is_due() -> None:
    tasks = (task("a", 60.0), task("b", 60.0, ("a",)))
    problem = Problem(tasks, (ONE,))
    never = -np.inf
    given = draws([never, 0.5 * HOUR, 3 * HOUR, never, 5 * HOUR], [0.0, 0.0, 0.0, 2 * HOUR, 2 * HOUR])
    run = sampled(
        problem, schedule(problem, seconds=0.0), samples=5, seed=0, pace=SAME,
        delays=(Delay("b", 0.0, WAIT, given),),
    )  # fmt: skip
    hours = run.starts[:, run.tasks.index("b")] / HOUR
    assert hours == pytest.approx([1.0, 1.0, 3.0, 3.0, 5.0])
    assert run.held[1][:, 0] / HOUR == pytest.approx([0.0, 0.0, 2.0, 2.0, 4.0], abs=0.01)


@check(
    "limit", note="the same row says the same of both tasks: they are held up in the same runs, or never both"
)
@pytest.mark.parametrize(("second", "both"), [([1.0, 0.0], 0.5), ([0.0, 1.0], 0.0)])
def test_what_is_drawn_together_stays_together(second: list[float], both: float) -> None:
    tasks = (task("a", 60.0, crew=()), task("b", 60.0, crew=()))
    problem = Problem(tasks, (ONE,))
    rows = ([1.0, 0.0], second)
    delays = tuple(
        Delay(key, 0.5, WAIT, draws([-np.inf] * 2, [HOUR * t for t in row]))
        for key, row in zip("ab", rows, strict=True)
    )
    run = sampled(problem, schedule(problem, seconds=0.0), samples=100, seed=3, pace=SAME, delays=delays)
    assert np.mean((run.held[1] > 0.0).all(axis=1)) == pytest.approx(both)


def test_a_branch_that_does_not_arise_waits_for_no_part() -> None:
    tasks = (task("a", 60.0, odds=0.4), task("b", 60.0, ("a",)))
    problem = Problem(tasks, (ONE,))
    late = Delay("a", 1.0, WAIT, draws([DAY], [0.0]))
    run = sampled(problem, schedule(problem, seconds=0.0), samples=500, pace=SAME, delays=(late,))
    a, b = (run.tasks.index(key) for key in "ab")
    assert np.all(run.starts[~run.arose[:, a], b] == 0.0)
    assert np.all(run.starts[run.arose[:, a], b] >= DAY)


def test_a_part_that_comes_on_saturday_holds_up_no_task_that_is_due_later() -> None:
    """Ordered on Monday, there on Saturday at noon for sure: the full pull is never before that."""
    there, late = (planned((ordered("plugs", days, "run.full_pull"),)) for days in (1.0, 5.5))
    assert late.outlook.times == there.outlook.times
    assert late.hampered < 0.02  # the two in a thousand that are wrong


def test_work_goes_round_a_part_that_is_likely_late() -> None:
    """The bench waits for its part until noon; who would be at the bench does something else meanwhile."""
    late = planned((ordered("turbo", 5.5, "turbo.bench"),))
    noon = late.calendar.start + 4 * HOUR  # five and a half days after Monday's midnight
    start = {slot.task: slot.start for slot in late.schedule.slots}
    assert start["turbo.bench"] >= noon
    assert min(start.values()) < noon
    assert late.hampered < 0.02, "it is planned for when it is there"
    assert late.due == {"turbo.bench": noon}
    assert "the part for turbo.bench there by Sat 5 Dec 12:00, likely but not sure" in list(counted_on(late))
    assert not planned((ordered("turbo", 3.0, "turbo.bench"),)).due


def test_a_part_that_never_comes_still_gives_a_plan() -> None:
    late = planned((ordered("turbo", 400.0, "turbo.on"),))
    assert late.outlook.chance.probability == 0.0
    assert late.hampered == 1.0


@check(
    "published",
    source="vasicek1987",
    note="the share of runs in which a line of one order is wrong, against one common normal factor by"
    " quadrature; four sampling errors",
)
def test_lines_of_one_order_are_wrong_together_over_tasks() -> None:
    keys = [t.key for t in small_job() if t.phase != "decide"][:24]
    lines = tuple(
        Line(key, Group.PART, key, tasks=(key,), state=State.HAVE, seller="one seller") for key in keys
    )
    made = planned(lines, samples=10000)
    odds = missing_odds(PartsList(lines))
    error = 4.0 * np.sqrt(odds.together * (1.0 - odds.together) / 10000)
    assert odds.independent - odds.together > 2.0 * error, "the two laws can be told apart"
    arising = {t.key: t.odds for t in small_job()}
    assert all(arising[key] == 1.0 for key in keys if key != "strip.broken_stud")
    assert made.hampered == pytest.approx(odds.together, abs=error)


def test_seen_from_another_zero_a_part_comes_at_the_same_moment() -> None:
    (delay,) = delays_of(
        PartsList((ordered("x", 3.0, "turbo.on"),)), small_job(), today=TODAY, begin=SATURDAY, zone=LISBON
    )
    assert delay.draws is not None
    shifted = delay.draws.from_zero(MONDAY + timedelta(days=1))
    # MONDAY is noon; midnight of that day plus three days, seen from Tuesday noon
    assert np.median(shifted.there) == pytest.approx(1.5 * DAY)
