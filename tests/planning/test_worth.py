"""At nil odds: what is still worth doing, read off the order, the points of no return and the odds."""

from __future__ import annotations

import dataclasses

from boostwright import verbs
from boostwright.planning.plan import Plan, Wishes, plan_for
from boostwright.planning.scope import forerunners
from boostwright.planning.states import no_returns, opened
from boostwright.planning.tasks import tasks_for
from boostwright.planning.worth import NIL, worth_doing
from tests.planning.small_job import LISBON, MONDAY, build_with, small_job

JOB = small_job()
TWO = '[[people]]\nname = "L"\n[[people]]\nname = "H"\nskill = "helper"\n'


def plan(end: str) -> Plan:
    text = f'{TWO}[hours]\nend = "{end}"\n'
    return plan_for(
        build_with(text), JOB, MONDAY, LISBON, wishes=Wishes(samples=500, seconds=0.0), quick=True
    )


def test_it_is_said_at_nil_odds_and_not_at_good_ones() -> None:
    poor, good = plan("Saturday 12:00"), plan("Sunday 20:00")
    assert poor.outlook.chance.probability < NIL <= good.outlook.chance.probability
    assert poor.worth is not None
    assert good.worth is None


def test_what_is_worth_doing_leaves_the_car_whole() -> None:
    made = plan("Saturday 12:00")
    assert made.worth is not None
    whole = {t.key for t in JOB if t.phase in {"baseline", "battery"}} | {"turbo.bench"}
    assert made.worth.tasks == len(whole)
    assert (
        made.worth.last == max((s for s in made.schedule.slots if s.task in whole), key=lambda s: s.end).task
    )
    assert made.worth.first == "strip.stands"
    points = {t.key for t, _ in no_returns(made.tasks)}
    assert made.worth.point in points
    before = forerunners([made.worth.last], made.tasks)
    assert not before & points
    assert not opened([t.key for t in JOB if t.key in before], (), JOB)


def test_it_moves_with_the_points_of_no_return() -> None:
    """In a build whose battery moves, the boot floor is drilled: from there on it is no evening's work."""
    build = verbs.demo_build("highland")
    tasks = tasks_for(build)
    made = plan_for(build, tasks, MONDAY, LISBON, wishes=Wishes(samples=200, seconds=0.0), quick=True)
    assert made.worth is not None
    whole = forerunners([made.worth.last], tasks)
    assert "battery.tray" in {t.key for t in tasks}
    assert "battery.tray" not in whole
    assert made.worth.last != "battery.out", "a battery that only comes out is worth nothing"
    assert not opened([key for key in (t.key for t in tasks) if key in whole], (), tasks)


def test_nothing_is_said_once_the_car_is_apart() -> None:
    made = plan("Saturday 12:00")
    assert worth_doing(made.tasks, made.schedule, 0.0, {"baseline.compression"}) is not None
    assert worth_doing(made.tasks, made.schedule, 0.0, {"strip.stands"}) is None
    assert worth_doing(made.tasks, made.schedule, NIL) is None
    empty = dataclasses.replace(made.schedule, slots=())
    assert worth_doing(made.tasks, empty, 0.0) is None
