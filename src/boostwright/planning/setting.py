"""What a plan has to put in order: the rest of the job, the people, and the hours that are left."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from boostwright.build.document import Build
from boostwright.errors import NoPlan, OutOfRange
from boostwright.job.records import Record
from boostwright.library.working_hours import working_hours
from boostwright.planning.calendar import Calendar, Person, calendar_for, hands_of
from boostwright.planning.problem import Problem, Worker
from boostwright.planning.progress import (
    STUD,
    Learned,
    Progress,
    first_work,
    last_event,
    learned_pace,
    progress_of,
)
from boostwright.planning.schedule import Delay
from boostwright.planning.scope import AT_THE_CAR, Manned, Scope, evening_ready, forerunners, manned, scope_of
from boostwright.planning.states import not_to_run, opened, runs_engine
from boostwright.planning.task import Effort, Task
from boostwright.planning.troubles import troubles_of, with_branches

__all__ = ["Setting", "Wishes", "counted_from", "setting_of"]


@dataclass(frozen=True, slots=True)
class Wishes:
    """What a person asks for beyond the build file.

    at: the moment from which on to plan; None for from the start. people, evenings, end, goal: instead of the
    build's. earlier: whole days by which the work starts earlier; weeks: by which it is put off. samples,
    seed, seconds: of the runs and of the search. may_stand: the car need not drive before the start. gone:
    who left, and since when. waits: tasks that cannot begin before a moment. share: with which probability
    turning back must work out. settled: ids of problems that are taken as solved.
    """

    at: datetime | None = None
    people: tuple[Person, ...] | None = None
    evenings: int | None = None
    end: str = ""
    goal: str = ""
    earlier: int = 0
    weeks: int = 0
    samples: int = 10000
    seed: int = 1
    seconds: float = 10.0
    may_stand: bool | None = None
    gone: tuple[tuple[str, datetime], ...] = ()
    waits: tuple[tuple[str, datetime], ...] = ()
    share: float = 0.8
    settled: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Setting:
    """What is to be put in order, with what it comes from. now: seconds from the calendar's zero.

    ready: the calendar with what is left of it. crew: the tasks as the people can man them. problem: for the
    scheduler. early: tasks that can be done on an evening before. blocked: tasks that are held, or wait for
    one that is, with the reason. done: keys of what is done, the desk among them. kept_open: said to be done,
    but their hold point is shut. broken: begun and cannot be finished. may_stand: the car need not drive.
    doubts: what of the records was not understood. due: tasks that are put off until their parts are likely
    there [s].
    """

    calendar: Calendar
    ready: Calendar
    scope: Scope
    crew: Manned
    problem: Problem
    early: frozenset[str]
    blocked: Mapping[str, str]
    progress: Progress
    learned: Learned
    now: float
    done: tuple[str, ...]
    kept_open: Mapping[str, str]
    broken: tuple[str, ...]
    may_stand: bool
    doubts: tuple[str, ...] = ()
    due: Mapping[str, float] = field(default_factory=dict)

    @property
    def hands(self) -> int:
        """How many people of the build are still there, at least one; a second person to be found is none."""
        return max(1, len(hands_of(self.ready)))


def setting_of(
    build: Build,
    tasks: Sequence[Task],
    today: datetime,
    zone: ZoneInfo,
    wishes: Wishes,
    *,
    records: Iterable[Record] = (),
    delays: Sequence[Delay] = (),
    held: Mapping[str, str] | None = None,
    again: Mapping[str, str] | None = None,
    unread: Mapping[str, str] | None = None,
) -> Setting:
    """The rest of the job as a problem; arguments as of `plan_for`.

    Raises BuildFileError for hours that cannot be read, OutOfRange for a goal that the build does not have
    and for a moment from which there is nothing to plan.
    """
    kept = tuple(records)
    scope = scope_of(tasks, wishes.goal)
    begun = first_work(kept, (task.key for task in scope.desk))
    if begun is None and wishes.at is not None:
        begun = wishes.at + timedelta(weeks=wishes.weeks)
    calendar = calendar_for(
        build,
        today + timedelta(weeks=wishes.weeks),
        zone,
        begun=begun,
        people=wishes.people,
        evenings=wishes.evenings,
        end=wishes.end,
        earlier=wishes.earlier,
    )
    at = wishes.at or max([today, *last_event(kept)])  # a clock that is ahead loses no record
    _refuse_moment(wishes, kept, calendar, today)
    _refuse_over(calendar, at, begun is not None)
    now = max(0.0, calendar.seconds(at))  # hours that have passed are gone
    progress = progress_of(kept, calendar, at)
    kept_open = {k: why for k, why in {**(again or {}), **(unread or {})}.items() if k in progress.ended}
    progress = _once_more(progress, tasks, again or {}, unread or {})
    troubles = troubles_of(
        [event for event in progress.problems if event.id not in wishes.settled], calendar, delays
    )
    ready = calendar.from_now(max(now, troubles.lost_until))
    left = [(name, calendar.seconds(since)) for name, since in wishes.gone]
    for name, since in (*left, *troubles.gone):
        ready = ready.without(name, since)
    crew = manned(with_branches(scope.job, troubles), ready)
    done = [task.key for task in scope.desk] + list(progress.ended)
    broken = (STUD,) if troubles.studs else ()
    loose = opened(done, (*progress.running, *progress.paused, *broken), crew.tasks)
    blocked = _blocked(crew.tasks, {**not_to_run(loose, crew.tasks, done), **(held or {})})
    may_stand = build.flag("hours.car_may_stand") if wishes.may_stand is None else wishes.may_stand
    early = evening_ready(crew.tasks, may_stand)
    learned = learned_pace(progress, tasks)
    paced = [_paced(task, learned.pace.median) for task in crew.tasks]
    problem = _problem(paced, crew.workers, scope, ready, progress, early, blocked, now, wishes)
    due = _due(counted_from(delays, calendar), calendar.end + _PUT_OFF)
    problem = _waiting(
        problem, {k: max(due.get(k, 0.0), troubles.waits.get(k, 0.0)) for k in {*due, *troubles.waits}}
    )
    return Setting(
        calendar, ready, scope, crew, problem, early, blocked, progress, learned, now, tuple(done), kept_open,
        broken, may_stand, troubles.doubts,
        {k: at for k, at in due.items() if k in problem.released and at > max(now, calendar.start)},
    )  # fmt: skip


def _refuse_moment(wishes: Wishes, kept: Sequence[Record], calendar: Calendar, today: datetime) -> None:
    """Raises OutOfRange for a moment from which there is nothing to plan on."""
    at = wishes.at
    if at is None:
        return
    place = at.astimezone(calendar.zone)
    said = f"{place:%A} {place.day} {place:%B %Y} {place:%H:%M}"
    if first_work(kept) is None and place.date() < today.astimezone(calendar.zone).date():
        raise OutOfRange(
            f"{said} is past and nothing is on record, so that there is nothing to go on from then. Leave"
            " --at out to plan from the start, or record first what was done."
        )
    last = max((w.end for w in (*calendar.evenings, *calendar.days, *calendar.after)), default=calendar.end)
    if calendar.seconds(at) >= last:
        end = calendar.moment(calendar.end)
        weeks = (calendar.seconds(at) - calendar.end) / (7 * 86400.0)
        raise OutOfRange(
            f"{said} is {weeks:.0f} weeks after the end, {end:%A} {end.day} {end:%B %Y} {end:%H:%M}, and the"
            f" plan looks no further than {working_hours().after_weeks} weeks past it. Name a new end with"
            " --deadline."
        )


def _refuse_over(calendar: Calendar, at: datetime, begun: bool) -> None:
    """Raises NoPlan where the hours of the plan have all gone by: nobody is missing then, the time is."""
    windows = (*calendar.evenings, *calendar.days, *calendar.after)
    last = max((w.end for w in windows), default=calendar.end) if begun else calendar.end
    if calendar.seconds(at) < last:
        return
    end, now = calendar.moment(calendar.end), at.astimezone(calendar.zone)
    raise NoPlan(
        f"The hours of this job are over: they ended on {end:%A} {end.day} {end:%B %Y} at {end:%H:%M},"
        f" and now it is {now:%A} {now.day} {now:%B %Y} {now:%H:%M}. Name new ones in the build file:"
        " hours.start and hours.end.",
        (),
    )


def _once_more(
    progress: Progress, tasks: Sequence[Task], again: Mapping[str, str], unread: Mapping[str, str]
) -> Progress:
    """The progress without what has to be done once more; what lacks only its readings is in hand."""
    ended = {key: at for key, at in progress.ended.items() if key not in again and key not in unread}
    spent = {t.key: t.effort.high for t in tasks if t.key in unread and t.key in progress.ended}
    return dataclasses.replace(progress, ended=ended, paused={**progress.paused, **spent})


def counted_from(delays: Iterable[Delay], calendar: Calendar) -> tuple[Delay, ...]:
    """The delays with their draws counted from the calendar's zero."""
    return tuple(d if d.draws is None else d._replace(draws=d.draws.from_zero(calendar.zero)) for d in delays)


def _due(delays: Iterable[Delay], latest: float) -> dict[str, float]:
    """When what a task waits for is there in one case of two: it is not planned before, but not put off
    beyond `latest`, so that the hours still hold what comes behind it [s from zero].
    """
    found = {}
    for delay in delays:
        if delay.draws is not None:
            middle = float(np.quantile(delay.draws.there, 0.5, method="inverted_cdf"))
            if middle > 0.0:
                found[delay.task] = min(middle, latest)
    return found


def _waiting(problem: Problem, waits: Mapping[str, float]) -> Problem:
    released = {key: max(at, waits.get(key, 0.0)) for key, at in problem.released.items()}
    return dataclasses.replace(problem, released=released)


def _blocked(tasks: Sequence[Task], held: Mapping[str, str]) -> dict[str, str]:
    """The tasks that are held, and all that wait for them, with the reason."""
    found = {task.key: held[task.key] for task in tasks if task.key in held}
    for task in tasks:
        waits = forerunners([task.key], tasks) & held.keys()
        if waits and task.key not in found:
            found[task.key] = f"waits for {min(waits)}"
    return found


_PUT_OFF = 14 * 86400.0  # past the end, as far as a task is put off for a part that is late [s]
_CAR, _HANDS = "the car itself", 8  # as many tasks at most at once; one that runs the engine takes all of it


def _problem(
    tasks: Sequence[Task],
    workers: Sequence[Worker],
    scope: Scope,
    calendar: Calendar,
    progress: Progress,
    early: frozenset[str],
    blocked: Mapping[str, str],
    now: float,
    wishes: Wishes,
) -> Problem:
    """What is left to do: rests of tasks in hand, nothing before `now`, evenings only for what suits them."""
    rest = []
    spent = {**progress.paused, **progress.running}
    for task in tasks:
        if task.key in blocked:
            continue
        rest.append(_rest(task, spent[task.key]) if task.key in spent else task)
    done = {task.key: 0.0 for task in scope.desk}
    done |= dict(progress.ended)
    released = {
        task.key: max(now, 0.0 if task.key in early else calendar.start)
        for task in rest
        if task.key not in done
    }
    for key, since in wishes.waits:
        if key in released:
            released[key] = max(released[key], calendar.seconds(since))
    uses = {  # nobody works at the car while its engine turns
        task.key: {_CAR: _HANDS if runs_engine(task) else 1}
        for task in rest
        if task.place in AT_THE_CAR or runs_engine(task)
    }
    places = {**dict(calendar.places), _CAR: _HANDS}
    light = {"road": calendar.light}
    return Problem(tuple(rest), tuple(workers), places, released, done, uses, light)


def _paced(task: Task, pace: float) -> Task:
    """A task as long as this builder takes for it; a shop has its own pace."""
    if pace == 1.0 or task.place == "shop":
        return task
    effort = task.effort
    return dataclasses.replace(
        task, effort=Effort(pace * effort.low, pace * effort.likely, pace * effort.high)
    )


def _rest(task: Task, spent: float) -> Task:
    """What is left of a task in hand: its three points less what was spent, at least a tenth of each."""
    effort = task.effort
    low, likely, high = (max(t - spent, 0.1 * t) for t in (effort.low, effort.likely, effort.high))
    return dataclasses.replace(task, effort=Effort(low, likely, high), odds=1.0)
