"""The plan of a job: who does what when, how likely it is done in time, what would help."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from datetime import datetime
from typing import TYPE_CHECKING, NamedTuple
from zoneinfo import ZoneInfo

if TYPE_CHECKING:
    from boostwright.findings.result import CheckResult
    from boostwright.planning.holds import HoldPoint
    from boostwright.planning.levers import Lever
    from boostwright.planning.plan import Plan, Wishes
    from boostwright.planning.replan import Choice
    from boostwright.planning.task import Task
    from boostwright.planning.tasks import LeftOut
    from boostwright.verbs.readings import LoadedJob

__all__ = ["Holds", "Planned", "first_answer", "hold_points_of", "holds_of", "plan"]


class Planned(NamedTuple):
    """A plan with what belongs to it: tasks of the build, those left out, what would help, and the ways on
    where something stands still.
    """

    plan: Plan
    tasks: tuple[Task, ...]
    left_out: tuple[LeftOut, ...]
    levers: tuple[Lever, ...]
    choices: tuple[Choice, ...]


def plan(
    job: LoadedJob,
    today: datetime,
    zone: ZoneInfo,
    *,
    wishes: Wishes | None = None,
    result: CheckResult | None = None,
    what_if: bool = True,
    say: Callable[[str], None] | None = None,
    first: Callable[[Plan], None] | None = None,
) -> Planned:
    """Plan a job from its build file and all that was recorded.

    job: from `load_job`. today: this moment, with its zone. zone: where the car stands, if the build does not
    say. wishes: other hours, people, seeds. result: of `check`; without it tasks that hang on findings follow
    the file alone. what_if: look for what would help, too. say: is told what is being done. first: is handed
    the plan before it is asked what would help. Raises BuildFileError for hours that cannot be read, NoPlan
    where a task cannot be planned at all.
    """
    from boostwright.planning.levers import levers_for
    from boostwright.planning.missing import delays_of, first_day
    from boostwright.planning.parts import parts_for
    from boostwright.planning.plan import plan_for
    from boostwright.planning.replan import choices_for
    from boostwright.planning.tasks import left_out_for, tasks_for
    from boostwright.verbs.parts import parts_events

    tasks = tasks_for(job.build, result)
    parts = parts_for(job.build, tasks, parts_events(job.records))
    begin = first_day(job.build, tasks, today, zone, job.records, wishes)
    delays, sure = (
        delays_of(parts, tasks, tried, today=today.astimezone(zone).date(), begin=begin, zone=zone)
        for tried in (False, True)
    )
    holds = holds_of(job, tasks, result)
    records = tuple(r for r in job.records)
    made = plan_for(
        job.build, tasks, today, zone, records=records, wishes=wishes, delays=delays,
        held=holds.held, again=holds.again, unread=holds.unread, say=say,
    )  # fmt: skip

    if first is not None:
        first(made)

    def others(task: str) -> list[str]:
        """What may take the place of the parts of a task, by the rules of the parts list."""
        return [f"{line.what}: {line.other}" for line in parts.lines if task in line.tasks and line.other]

    levers = (
        levers_for(made, job.build, tasks, today, zone, delays=delays, sure=sure, say=say)
        if what_if and not made.progress.begun
        else ()
    )
    choices = choices_for(made, job.build, tasks, today, zone, records, delays=delays, others=others, say=say)
    return Planned(made, tasks, left_out_for(job.build, result), levers, choices)


def first_answer(job: LoadedJob, today: datetime, zone: ZoneInfo, *, wishes: Wishes | None = None) -> Plan:
    """The plan by a quick rule, before the build is checked and an order is searched: an answer in seconds.

    Arguments and errors as of `plan`.
    """
    from boostwright.planning.missing import delays_of, first_day
    from boostwright.planning.parts import parts_for
    from boostwright.planning.plan import Wishes, plan_for
    from boostwright.planning.tasks import tasks_for
    from boostwright.verbs.parts import parts_events

    tasks = tasks_for(job.build)
    begin = first_day(job.build, tasks, today, zone, job.records, wishes)
    parts = parts_for(job.build, tasks, parts_events(job.records))
    delays = delays_of(parts, tasks, today=today.astimezone(zone).date(), begin=begin, zone=zone)
    holds = holds_of(job, tasks)
    return plan_for(
        job.build, tasks, today, zone, records=job.records, delays=delays, held=holds.held, again=holds.again,
        unread=holds.unread, quick=True,
        wishes=dataclasses.replace(wishes or Wishes(), seconds=0.0, samples=1000),
    )  # fmt: skip


class Holds(NamedTuple):
    """Tasks that their hold points keep from counting as done, each with the reason in words.

    held: they cannot go on. again: to be done once more. unread: done but for their readings.
    """

    held: Mapping[str, str]
    again: Mapping[str, str]
    unread: Mapping[str, str]


def hold_points_of(
    job: LoadedJob, tasks: tuple[Task, ...], result: CheckResult | None = None
) -> Mapping[str, HoldPoint]:
    """How the hold points of a job stand, by task."""
    from boostwright.planning.holds import hold_points
    from boostwright.verbs.readings import judged_of

    return hold_points(tasks, judged_of(job, result), job.records)


def holds_of(job: LoadedJob, tasks: tuple[Task, ...], result: CheckResult | None = None) -> Holds:
    """What the hold points of a job keep open.

    A reading outside its range has its task done once more; a second one outside holds the work. A task that
    was said to be done without its readings stays open until they are on record, or a person answers for it.
    """
    held: dict[str, str] = {}
    again: dict[str, str] = {}
    unread: dict[str, str] = {}
    for key, point in hold_points_of(job, tasks, result).items():
        if point.open:
            continue
        if point.twice:
            held[key] = point.why
        elif point.outside:
            again[key] = point.why
        elif point.done:
            unread[key] = point.why
    return Holds(held, again, unread)
