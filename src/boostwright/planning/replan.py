"""Where something stands still: the ways on, each with what it costs in time."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

from boostwright.build.document import Build
from boostwright.job.records import Record, TaskEvent
from boostwright.planning.plan import Plan, plan_for
from boostwright.planning.schedule import Delay
from boostwright.planning.scope import forerunners
from boostwright.planning.task import Task
from boostwright.planning.troubles import arrival_of
from boostwright.uncertainty.odds import Odds

__all__ = ["ROUND", "STOP", "SUBSTITUTE", "Choice", "choices_for"]

SUBSTITUTE, ROUND, STOP = "take something else", "work round it", "stop here"
FETCH = 3600.0
"""To find, look at and fetch what takes its place [s]; common practice, no source."""


class Choice(NamedTuple):
    """One way on.

    likely, late: end in one case of two, in four of five. cost: by how much later in one case of two than
    with the part at hand [s]. steps: what it means. open: how many tasks can go on meanwhile.
    """

    task: str
    by: str
    words: str
    chance: Odds
    likely: datetime | None
    late: datetime | None
    cost: float
    steps: tuple[str, ...]
    open: int


def choices_for(
    plan: Plan,
    build: Build,
    tasks: Sequence[Task],
    today: datetime,
    zone: ZoneInfo,
    records: Sequence[Record],
    *,
    delays: Sequence[Delay] = (),
    others: Callable[[str], Iterable[str]] | None = None,
    say: Callable[[str], None] | None = None,
) -> tuple[Choice, ...]:
    """For each part that is missing the three ways on: something else in its place, the rest first, or stop.

    others: for a task, the rules that say what may take the place of its parts. Raises what `plan_for` does.
    """
    found: list[Choice] = []
    for event in plan.progress.problems:
        if event.kind in {"stud broken", "time lost", "person left"} or event.task not in plan.by_key:
            continue
        if say is not None:
            say(f"ways on without {event.task}")
        found += _ways(plan, build, tasks, today, zone, records, event, delays, others)
    return tuple(found)


def _ways(
    plan: Plan,
    build: Build,
    tasks: Sequence[Task],
    today: datetime,
    zone: ZoneInfo,
    records: Sequence[Record],
    event: TaskEvent,
    delays: Sequence[Delay],
    others: Callable[[str], Iterable[str]] | None,
) -> list[Choice]:
    calendar = plan.calendar
    arrives = max(plan.now, arrival_of(event, calendar, delays))
    quick = dataclasses.replace(plan.wishes, seconds=0.0, samples=4000)
    waiting = dataclasses.replace(quick, at=plan.wishes.at or calendar.moment(plan.now))

    def planned(waits: dict[str, float]) -> Plan:
        moments = tuple((key, calendar.moment(at)) for key, at in waits.items())
        return plan_for(
            build, tasks, today, zone, records=records, delays=delays, quick=True,
            wishes=dataclasses.replace(waiting, waits=(*waiting.waits, *moments), settled=(event.id,)),
        )  # fmt: skip

    left = [task.key for task in plan.tasks if task.key not in plan.progress.ended]
    behind = {key for key in left if event.task in forerunners([key], plan.tasks)} | {event.task, *plan.held}
    had = planned({})
    rules = tuple(others(event.task)) if others is not None else ()
    options = [
        (
            SUBSTITUTE, planned({event.task: plan.now + FETCH}),
            "another part is fetched that meets the rule", rules,
        ),
        (
            ROUND, planned({event.task: arrives}), "what does not hang on it goes on",
            tuple(key for key in left if key not in behind)[:12],
        ),
        (
            STOP, planned(dict.fromkeys(left, arrives)), "the car is shut up safely until it is there",
            plan.state_now.way.steps if plan.state_now is not None else (),
        ),
    ]  # fmt: skip
    free = sum(1 for key in left if key not in behind)
    return [_choice(event.task, by, words, made, had, steps, free) for by, made, words, steps in options]


def _choice(
    task: str, by: str, words: str, made: Plan, had: Plan, steps: tuple[str, ...], count: int
) -> Choice:
    times, before = dict(made.outlook.times), dict(had.outlook.times)

    def moment(seconds: float) -> datetime | None:
        return made.calendar.moment(seconds) if seconds < 1e9 else None

    cost = made.calendar.zero - had.calendar.zero + timedelta(seconds=0.0)
    later = times[0.5] - before[0.5] + cost.total_seconds()
    return Choice(
        task, by, words, made.outlook.chance, moment(times[0.5]), moment(times[0.8]), later, steps, count
    )
