"""The plan of a build: who does what when, how likely it is done in time, what may be left open."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import NamedTuple
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.job.records import Override, Record, standing
from boostwright.library.open_things import NoReturn
from boostwright.library.working_hours import working_hours
from boostwright.planning.calendar import SECOND, Calendar, Person, calendar_for
from boostwright.planning.outlook import Outlook, outlook_of
from boostwright.planning.problem import Problem, Schedule, Slot, Window, Worker
from boostwright.planning.progress import (
    STUD,
    Learned,
    Progress,
    first_work,
    last_event,
    learned_pace,
    progress_of,
)
from boostwright.planning.schedule import Delay, sampled, schedule
from boostwright.planning.scope import AT_THE_CAR, Scope, evening_ready, forerunners, manned, scope_of
from boostwright.planning.states import (
    MAKE_WHOLE,
    Nearest,
    nearest_safe_state,
    no_returns,
    not_to_run,
    opened,
    runs_engine,
)
from boostwright.planning.task import Effort, Task
from boostwright.planning.troubles import PASSING, troubles_of, with_branches
from boostwright.planning.turning import Turning, turning_of

__all__ = ["Night", "Plan", "Visit", "Wishes", "plan_for"]

Array = NDArray[np.float64]
Say = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Wishes:
    """What a person asks for beyond the build file.

    at: the moment from which on to plan; None for from the start. people, evenings, end, goal: instead of the
    build's. earlier: whole days by which the work starts earlier. samples, seed, seconds: of the runs and of
    the search. may_stand: the car need not drive before the start. gone: who left, and since when. waits:
    tasks that cannot begin before a moment. share: with which probability turning back must work out.
    settled: ids of problems that are taken as solved.
    """

    at: datetime | None = None
    people: tuple[Person, ...] | None = None
    evenings: int | None = None
    end: str = ""
    goal: str = ""
    earlier: int = 0
    samples: int = 10000
    seed: int = 1
    seconds: float = 10.0
    may_stand: bool | None = None
    gone: tuple[tuple[str, datetime], ...] = ()
    waits: tuple[tuple[str, datetime], ...] = ()
    share: float = 0.8
    settled: tuple[str, ...] = ()


class Visit(NamedTuple):
    """A stretch in which a second person is needed [s], and for which tasks."""

    start: float
    end: float
    tasks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Night:
    """An evening on which the work is laid down. at: when [s]. begin: when to begin closing up [s]."""

    at: float
    begin: float
    nearest: Nearest
    in_hand: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """One plan. now: seconds from zero, 0 where the work has not begun. finish: of each run [s from zero].

    tasks: of the job, crews as the people can make them up; done ones among them. held: tasks that cannot go
    on, with the reason, and those behind them. guided: tasks in which somebody acts under another's eye.
    kept_open: said to be done, but their hold point is shut, with the reason. overrides: gates and hold
    points that a person opened against their data.
    """

    name: str
    calendar: Calendar
    scope: Scope
    tasks: tuple[Task, ...]
    problem: Problem
    schedule: Schedule
    outlook: Outlook
    turning: Turning | None
    nights: tuple[Night, ...]
    visits: tuple[Visit, ...]
    points: tuple[tuple[Task, NoReturn], ...]
    guided: Mapping[str, str]
    held: Mapping[str, str]
    progress: Progress
    learned: Learned
    now: float
    finish: Array
    evening_tasks: frozenset[str]
    wishes: Wishes
    delays: tuple[Delay, ...] = ()
    state_now: Nearest | None = None
    kept_open: Mapping[str, str] = field(default_factory=dict)
    overrides: tuple[Override, ...] = ()

    @property
    def by_key(self) -> dict[str, Task]:
        """The tasks of the job by key."""
        return {task.key: task for task in self.tasks}

    @property
    def second_hours(self) -> float:
        """How long a second person is needed in all [s]."""
        return sum(visit.end - visit.start for visit in self.visits)


def plan_for(
    build: Build,
    tasks: Sequence[Task],
    today: datetime,
    zone: ZoneInfo,
    *,
    records: Iterable[Record] = (),
    wishes: Wishes | None = None,
    delays: Sequence[Delay] = (),
    held: Mapping[str, str] | None = None,
    again: Mapping[str, str] | None = None,
    unread: Mapping[str, str] | None = None,
    quick: bool = False,
    say: Say | None = None,
) -> Plan:
    """Plan the job of a build.

    tasks: from `tasks_for`. today: this moment. zone: of the computer. records: what was done so far. delays:
    what may be missing when it is needed. held: tasks that cannot go on, with the reason; what depends on
    them is left out of the plan and said. again: tasks to be done once more, with the reason. unread: done
    but for the readings of their hold points, likewise. quick: without nights and the way back. say: is told
    what is being done. Raises BuildFileError for hours that cannot be read, NoPlan where a
    task cannot be planned at all.
    """
    wishes, tell = wishes or Wishes(), say or _silent
    kept = tuple(records)
    scope = scope_of(tasks, wishes.goal)
    begun = first_work(kept, (task.key for task in scope.desk))
    if begun is None and wishes.at is not None:
        begun = wishes.at
    calendar = calendar_for(
        build,
        today,
        zone,
        begun=begun,
        people=wishes.people,
        evenings=wishes.evenings,
        end=wishes.end,
        earlier=wishes.earlier,
    )
    at = wishes.at or max([today, *last_event(kept)])  # a clock that is ahead loses no record
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
    problem = _waiting(problem, troubles.waits)
    tell("putting the tasks in order")
    order = schedule(
        problem,
        seconds=wishes.seconds,
        seed=wishes.seed,
        progress=lambda better: tell(f"putting the tasks in order; so far {_days(better.finish)}"),
    )
    tell(f"running the plan {wishes.samples} times")
    kept_delays = tuple(d for d in delays if any(slot.task == d.task for slot in order.slots))
    runs = sampled(
        problem,
        order,
        samples=wishes.samples,
        seed=wishes.seed,
        pace=learned.pace._replace(median=1.0),
        delays=kept_delays,
    )
    outlook = outlook_of(runs, calendar, scope.milestones, quick=quick)
    if blocked:
        outlook = dataclasses.replace(outlook, chance=dataclasses.replace(outlook.chance, probability=0.0))
    hands = max(1, sum(1 for w in calendar.workers if w.can & {"lead", "helper"}))
    tell("looking for the way back")
    turning = None if quick else turning_of(
        runs, crew.tasks, ready, now, done=done, share=wishes.share, hands=hands, seed=wishes.seed
    )  # fmt: skip
    return Plan(
        build.name, calendar, scope, crew.tasks, problem, order, outlook, turning,
        () if quick else _nights(order, crew.tasks, calendar, done, now, hands, may_stand, broken),
        _visits(order), no_returns(crew.tasks, done), crew.guided, blocked, progress, learned, now,
        runs.finish, early,
        wishes, kept_delays,
        _state_now(progress, crew.tasks, done, hands, broken) if progress.begun else None,
        kept_open, tuple(r for r in standing(kept) if isinstance(r, Override)),
    )  # fmt: skip


def _once_more(
    progress: Progress, tasks: Sequence[Task], again: Mapping[str, str], unread: Mapping[str, str]
) -> Progress:
    """The progress without what has to be done once more; what lacks only its readings is in hand."""
    ended = {key: at for key, at in progress.ended.items() if key not in again and key not in unread}
    spent = {t.key: t.effort.high for t in tasks if t.key in unread and t.key in progress.ended}
    return dataclasses.replace(progress, ended=ended, paused={**progress.paused, **spent})


def _waiting(problem: Problem, waits: Mapping[str, float]) -> Problem:
    released = {key: max(at, waits.get(key, 0.0)) for key, at in problem.released.items()}
    return dataclasses.replace(problem, released=released)


def _silent(text: str) -> None:
    del text


def _days(seconds: float) -> str:
    return f"{seconds / 86400.0:.1f} days"


def _blocked(tasks: Sequence[Task], held: Mapping[str, str]) -> dict[str, str]:
    """The tasks that are held, and all that wait for them, with the reason."""
    found = {task.key: held[task.key] for task in tasks if task.key in held}
    for task in tasks:
        waits = forerunners([task.key], tasks) & held.keys()
        if waits and task.key not in found:
            found[task.key] = f"waits for {min(waits)}"
    return found


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
    return Problem(tuple(rest), tuple(workers), places, released, done, uses)


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


def _visits(order: Schedule, gap: float = 2700.0) -> tuple[Visit, ...]:
    """When the second person is needed; short gaps belong to a visit."""
    found: list[Visit] = []
    for slot in order.slots:
        if SECOND not in slot.who:
            continue
        for piece in slot.pieces:
            if found and piece.start - found[-1].end <= gap:
                last = found[-1]
                keys = tuple(dict.fromkeys((*last.tasks, slot.task)))
                found[-1] = Visit(last.start, max(last.end, piece.end), keys)
            elif piece.end > piece.start:
                found.append(Visit(piece.start, piece.end, (slot.task,)))
    return tuple(found)


def _days_of(calendar: Calendar) -> list[Window]:
    """The last window of each day on which there is work."""
    last: dict[object, Window] = {}
    for window in (*calendar.evenings, *calendar.days, *calendar.after):
        day = calendar.moment(window.start).date()
        if day not in last or window.end > last[day].end:
            last[day] = window
    return sorted(last.values())


def _nights(
    order: Schedule,
    tasks: Sequence[Task],
    calendar: Calendar,
    done: Sequence[str],
    now: float,
    hands: int,
    may_stand: bool,
    broken: tuple[str, ...] = (),
) -> tuple[Night, ...]:
    """How the car is left on each day of the plan before the last; before the start so that it drives."""
    found = []
    reserve = working_hours().close_down
    for window in _days_of(calendar):
        at = window.end
        if at <= now or at >= order.finish or not any(s.start < at for s in order.slots):
            continue
        behind = [*done, *(s.task for s in sorted(order.slots, key=_by_end) if s.end <= at)]
        in_hand = tuple(s.task for s in order.slots if s.start < at < s.end)
        stuck = [key for key in broken if key not in behind]
        nearest = nearest_safe_state(behind, in_hand, tasks, hands, stuck)
        if not may_stand and at <= calendar.start:
            nearest = _drivable(nearest)
        begin = max(window.start, at + reserve - nearest.way.seconds) if nearest.way.seconds > reserve else at
        found.append(Night(at, begin, nearest, in_hand))
    return tuple(found)


def _drivable(nearest: Nearest) -> Nearest:
    """The nearest state in which the car drives, without going on; the same where there is none."""
    ways = [way for way in (nearest.way, *nearest.others) if way.state.moves and way.by == MAKE_WHOLE]
    if not ways:
        return nearest
    others = tuple(way for way in (nearest.way, *nearest.others) if way is not ways[0])
    return dataclasses.replace(nearest, way=ways[0], others=others)


def _by_end(slot: Slot) -> float:
    return slot.end


def _state_now(
    progress: Progress, tasks: Sequence[Task], done: Sequence[str], hands: int, broken: Sequence[str] = ()
) -> Nearest:
    by_key = {task.key: task for task in tasks}
    shares = {
        key: min(0.95, spent / by_key[key].effort.mean) if by_key[key].effort.mean > 0.0 else 0.0
        for key, spent in {**progress.running, **progress.paused}.items()
        if key in by_key
    }
    stuck = [e.task for e in progress.problems if e.kind not in PASSING and e.task in progress.paused]
    return nearest_safe_state(done, shares, tasks, hands, [*stuck, *broken])
