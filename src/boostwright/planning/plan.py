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
from boostwright.planning.calendar import SECOND, Calendar, hands_of, overlap
from boostwright.planning.outlook import Outlook, outlook_of
from boostwright.planning.problem import Problem, Schedule, Slot, Window
from boostwright.planning.progress import Learned, Progress
from boostwright.planning.schedule import Delay, sampled
from boostwright.planning.scope import Scope
from boostwright.planning.setting import Setting, Wishes, counted_from, setting_of
from boostwright.planning.stand_in import company, lent, ordered
from boostwright.planning.states import MAKE_WHOLE, Nearest, nearest_safe_state, no_returns
from boostwright.planning.task import Task
from boostwright.planning.troubles import PASSING
from boostwright.planning.turning import Turning, turning_of
from boostwright.planning.worth import Worth, worth_doing
from boostwright.uncertainty.odds import Odds

__all__ = ["Night", "Plan", "Visit", "Wishes", "plan_for"]

Array = NDArray[np.float64]
Say = Callable[[str], None]


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
    points that a person opened against their data. lacking: tasks for two at hours at which nobody of the
    build can be the second; the chance is none then. would_be: the chance all the same, with a second person
    whenever one is needed, and with what is held left out. worth: what is worth doing where it does not fit.
    doubts: what of the records was not understood, and what is taken instead. hampered: share of the runs in
    which a part is missing or wrong when it is needed [-]. due: tasks that are put off until their parts are
    there in one case of two [s].
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
    lacking: tuple[str, ...] = ()
    would_be: Odds | None = None
    worth: Worth | None = None
    doubts: tuple[str, ...] = ()
    hampered: float = 0.0
    due: Mapping[str, float] = field(default_factory=dict)

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
    at = setting_of(
        build, tasks, today, zone, wishes,
        records=kept, delays=delays, held=held, again=again, unread=unread,
    )  # fmt: skip
    tell("putting the tasks in order")
    at, order = ordered(
        at,
        seconds=wishes.seconds,
        seed=wishes.seed,
        quick=quick,
        progress=lambda better: tell(f"putting the tasks in order; so far {_days(better.finish)}"),
    )
    calendar, beside = at.calendar, company(order, at)
    tell(f"running the plan {wishes.samples} times")
    kept_delays = tuple(
        d for d in counted_from(delays, calendar) if any(slot.task == d.task for slot in order.slots)
    )
    runs = sampled(
        lent(at.problem),
        order,
        samples=wishes.samples,
        seed=wishes.seed,
        pace=at.learned.pace._replace(median=1.0),
        delays=kept_delays,
    )
    outlook = outlook_of(runs, calendar, at.scope.milestones, quick=quick)
    would_be = outlook.chance
    lacking = (
        () if calendar.alone else tuple(s.task for s in order.slots if SECOND in s.who or s.task in beside)
    )
    if at.blocked or lacking:
        outlook = dataclasses.replace(outlook, chance=dataclasses.replace(outlook.chance, probability=0.0))
    worth = None if at.blocked else worth_doing(
        at.crew.tasks, order, 0.0 if lacking else would_be.probability,
        {*at.progress.ended, *at.progress.running, *at.progress.paused} - at.progress.skipped,
    )  # fmt: skip
    tell("looking for the way back")
    turning = None if quick else turning_of(
        runs, at.crew.tasks, at.ready, at.now, done=at.done, share=wishes.share, seed=wishes.seed,
    )  # fmt: skip
    return Plan(
        build.name, calendar, at.scope, at.crew.tasks, at.problem, order, outlook, turning,
        () if quick else _nights(order, at),
        _visits(order, beside), no_returns(at.crew.tasks, at.done), at.crew.guided, at.blocked, at.progress,
        at.learned, at.now, runs.finish, at.early, wishes, kept_delays,
        _state_now(at) if at.progress.begun else None,
        at.kept_open, tuple(r for r in standing(kept) if isinstance(r, Override)), lacking, would_be,
        worth,
        at.doubts,
        float(np.mean((runs.held[1] > 0.0).any(axis=1))), at.due,
    )  # fmt: skip


def _silent(text: str) -> None:
    del text


def _days(seconds: float) -> str:
    return f"{seconds / 86400.0:.1f} days"


def _visits(order: Schedule, beside: frozenset[str], gap: float = 2700.0) -> tuple[Visit, ...]:
    """When the second person is needed, at work or `beside` it; short gaps belong to a visit."""
    found: list[Visit] = []
    for slot in order.slots:
        if SECOND not in slot.who and slot.task not in beside:
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


def _nights(order: Schedule, at: Setting) -> tuple[Night, ...]:
    """How the car is left on each day of the plan before the last; before the start so that it drives."""
    found = []
    reserve = working_hours().close_down
    for window in _days_of(at.calendar):
        end = window.end
        if end <= at.now or end >= order.finish or not any(s.start < end for s in order.slots):
            continue
        behind = [*at.done, *(s.task for s in sorted(order.slots, key=_by_end) if s.end <= end)]
        in_hand = tuple(s.task for s in order.slots if s.start < end < s.end)
        stuck = [key for key in at.broken if key not in behind]
        hands = sum(1 for w in hands_of(at.ready) if overlap(w.windows, (window,)))
        nearest = nearest_safe_state(behind, in_hand, at.crew.tasks, max(1, hands), stuck)
        if not at.may_stand and end <= at.calendar.start:
            nearest = _drivable(nearest)
        seconds = nearest.way.seconds
        begin = max(window.start, end + reserve - seconds) if seconds > reserve else end
        found.append(Night(end, begin, nearest, in_hand))
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


def _state_now(at: Setting) -> Nearest:
    progress = at.progress
    by_key = {task.key: task for task in at.crew.tasks}
    shares = {
        key: min(0.95, spent / by_key[key].effort.mean) if by_key[key].effort.mean > 0.0 else 0.0
        for key, spent in {**progress.running, **progress.paused}.items()
        if key in by_key
    }
    stuck = [e.task for e in progress.problems if e.kind not in PASSING and e.task in progress.paused]
    unread = [key for key in at.kept_open if key in shares]  # done, and not to be done again: only not read
    return nearest_safe_state(at.done, shares, at.crew.tasks, at.hands, [*stuck, *at.broken, *unread])
