"""Work for two with one of them gone: the plan says so, and what it would be with a second person."""

from __future__ import annotations

import pytest

from boostwright.errors import NoPlan
from boostwright.planning.calendar import SECOND
from boostwright.planning.plan import Plan, Wishes, plan_for
from boostwright.planning.problem import Problem, Window, Worker
from boostwright.planning.stand_in import lent
from tests.planning.small_job import LISBON, MONDAY, build_with, small_job, task

JOB = small_job()
QUICK = Wishes(samples=1000, seconds=0.0)
LEAD = '[[people]]\nname = "L"\n'


def plan(until: str, extra: str = "") -> Plan:
    text = f'{LEAD}[[people]]\nname = "H"\nskill = "helper"\n{until}\n{extra}'
    return plan_for(build_with(text), JOB, MONDAY, LISBON, wishes=QUICK)


@pytest.mark.parametrize("until", ["Saturday 08:30", "Saturday 09:00", "Saturday 13:00", "Saturday 18:00"])
def test_a_helper_who_leaves_early_stops_no_plan(until: str) -> None:
    made = plan(f'until = "{until}"')
    assert {slot.task for slot in made.schedule.slots} == {t.key for t in made.scope.job}
    assert made.lacking
    assert made.outlook.chance.probability == 0.0
    assert made.would_be is not None
    for slot in made.schedule.slots:
        if SECOND in slot.who:
            assert slot.task in made.lacking
            assert "H" not in slot.who
    asked = {key for visit in made.visits for key in visit.tasks}
    assert asked == set(made.lacking)
    assert made.second_hours > 0.0


def test_the_helper_is_not_replaced_while_there() -> None:
    made = plan('until = "Saturday 13:00"')
    gone = next(w for w in made.problem.workers if w.name == "H").windows[0].end
    pairs = [s for s in made.schedule.slots if len(s.who) > 1 and s.end <= gone]
    assert pairs
    assert all("H" in s.who for s in pairs)


def test_a_helper_who_stays_is_no_matter() -> None:
    made = plan("")
    assert made.lacking == ()
    assert made.visits == ()
    assert made.would_be == made.outlook.chance


def test_one_who_comes_late_is_waited_for() -> None:
    made = plan('from = "Sunday 09:00"')
    assert SECOND not in {name for slot in made.schedule.slots for name in slot.who}


def test_who_leaves_sooner_leaves_more_undone() -> None:
    hours = [plan(f'until = "Saturday {t}"').second_hours for t in ("09:00", "13:00", "18:00")]
    assert hours == sorted(hours, reverse=True)


def test_where_nobody_can_lead_a_stand_in_changes_nothing() -> None:
    helper = '[[people]]\nname = "{}"\nskill = "helper"\n'
    build = build_with(helper.format("H") + helper.format("I"))
    with pytest.raises(NoPlan, match="lead"):
        plan_for(build, JOB, MONDAY, LISBON, wishes=QUICK)


def test_a_late_run_does_not_wait_a_week_for_who_has_left() -> None:
    lead = Worker("L", frozenset({"lead", "helper"}), (Window(0.0, 100.0),))
    helper = Worker("H", frozenset({"helper"}), (Window(0.0, 40.0),))
    second = Worker(SECOND, frozenset({"helper"}), (Window(40.0, 100.0),))
    problem = Problem((task("a.b", 1),), (lead, helper, second))
    windows = {w.name: w.windows for w in lent(problem).workers}
    assert windows["L"] == lead.windows
    assert windows["H"] == windows[SECOND] == (Window(0.0, 100.0),)
    assert lent(Problem((task("a.b", 1),), (lead, helper))).workers == (lead, helper)
