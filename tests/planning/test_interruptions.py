"""Fifty interruptions at random moments of demo builds: every state must reach a safe one."""

from __future__ import annotations

import random
from datetime import timedelta
from functools import cache

import pytest

from boostwright import verbs
from boostwright.job.records import Record, Step, TaskEvent
from boostwright.planning.plan import Plan, Wishes, plan_for
from boostwright.planning.states import MAKE_WHOLE, SHUT, nearest_safe_state, state_of
from boostwright.planning.tasks import tasks_for
from boostwright.planning.troubles import KINDS, PASSING
from tests.planning.small_job import LISBON, MONDAY

NAMES = ("sound", "highland")
COUNT = 25  # of each build
QUICK = Wishes(samples=200, seconds=0.0, evenings=2)
REPLANNED = 4  # of each build are planned anew as well, which takes a second each
NEVER_LONGER = 4 * 3600.0  # to shut a car up, whatever happened


@cache
def planned(name: str) -> Plan:
    build = verbs.demo_build(name)
    return plan_for(build, tasks_for(build), MONDAY, LISBON, wishes=QUICK, quick=True)


def interrupted(name: str, seed: int) -> tuple[tuple[Record, ...], float]:
    """What is on record when the plan is broken off at a random moment of work, and the moment."""
    plan, rng = planned(name), random.Random(1000 * NAMES.index(name) + seed)
    slots = [slot for slot in plan.schedule.slots if slot.end > slot.start]
    slot = rng.choice(slots)
    piece = rng.choice(slot.pieces)
    now = piece.start + rng.random() * (piece.end - piece.start)

    def said(key: str, step: Step, at: float, kind: str = "", note: str = "") -> TaskEvent:
        time = plan.calendar.moment(at).isoformat()
        return TaskEvent(f"{key}.{step.value}", "L", time, key, step.value, kind=kind, note=note)

    records: list[Record] = []
    for one in plan.schedule.slots:
        if one.start <= now:
            records.append(said(one.task, Step.STARTED, one.start))
        if one.end <= now:
            records.append(said(one.task, Step.DONE, one.end))
    kind = rng.choice(sorted(KINDS))
    note = {"part missing": "1 d", "time lost": "2 h", "person left": plan.calendar.people[-1].name}.get(
        kind, ""
    )
    if kind == "person left" and len(plan.calendar.people) == 1:
        kind, note = "other", ""
    records.append(said(slot.task, Step.PROBLEM, now, kind, note))
    return tuple(records), now


@pytest.mark.parametrize("seed", range(COUNT))
@pytest.mark.parametrize("name", NAMES)
def test_every_state_reaches_a_safe_one(name: str, seed: int) -> None:
    records, now = interrupted(name, seed)
    plan = planned(name)
    events = [r for r in records if isinstance(r, TaskEvent)]
    done = [t.key for t in plan.scope.desk] + [e.task for e in events if e.what == Step.DONE.value]
    begun = [e.task for e in events if e.what == Step.STARTED.value and e.task not in done]
    stuck = [e.task for e in events if e.what == Step.PROBLEM.value and e.kind not in PASSING]
    near = nearest_safe_state(done, begun, plan.tasks, stuck=stuck)
    shut = _closed_by(plan, [key for key in begun if key not in stuck and plan.by_key[key].in_one_go])
    assert near.way.seconds + near.way.wait <= NEVER_LONGER
    for way in (near.way, *near.others):
        if way.by == SHUT:
            for thing in near.open:
                if thing.key in shut:
                    continue  # by what is in hand, which is finished first
                assert thing.overnight or thing.close[0] in way.steps, f"{thing.key} is left open"
        if way.by == MAKE_WHOLE and way.state.moves:
            left = [thing for thing in near.open if thing.key not in shut]
            assert all(any(thing.words in step for step in way.steps) for thing in left)
    assert any(way.by == SHUT for way in (near.way, *near.others)), "shutting up is always a way"
    assert now > 0.0


def _closed_by(plan: Plan, running: list[str]) -> set[str]:
    return {key for one in running for key in plan.by_key[one].closes}


@pytest.mark.parametrize("seed", range(REPLANNED))
@pytest.mark.parametrize("name", NAMES)
def test_the_plan_goes_on_from_there_and_ends_well(name: str, seed: int) -> None:
    records, now = interrupted(name, seed)
    build, plan = verbs.demo_build(name), planned(name)
    at = plan.calendar.moment(now) + timedelta(minutes=1)
    made = plan_for(
        build, tasks_for(build), at, LISBON, records=records, quick=True,
        wishes=Wishes(samples=200, seconds=0.0, evenings=2, at=at),
    )  # fmt: skip
    assert made.state_now is not None
    left = {t.key for t in made.tasks} - made.progress.ended.keys()
    assert {slot.task for slot in made.schedule.slots} == left - made.held.keys()
    stud = any(isinstance(r, TaskEvent) and r.kind == "stud broken" for r in records)
    assert stud or not made.held, "only a stud that broke keeps tasks back"
    assert min((slot.start for slot in made.schedule.slots), default=now) >= now
    order = [*(t.key for t in made.scope.desk), *made.progress.ended, *(s.task for s in made.schedule.slots)]
    state = state_of(order, (), made.tasks)
    if made.held:
        assert "exhaust_loose" in {thing.key for thing in made.state_now.open}
        assert made.state_now.way.steps, "with a broken stud the car is not left just so"
    else:
        assert state is not None
        assert state.key == "spring_boost"
    waits = {t.key: t.after for t in made.tasks}
    ends = {**dict.fromkeys(order, 0.0), **{s.task: s.end for s in made.schedule.slots}}
    for slot in made.schedule.slots:
        assert all(ends[key] <= slot.start + 1e-6 for key in waits[slot.task] if key in ends)
