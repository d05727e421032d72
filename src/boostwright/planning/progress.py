"""How far the work has come, from what was recorded: done, in hand, paused, at a stand; and how fast."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime

from boostwright.job.records import Record, Step, TaskEvent, standing
from boostwright.planning.calendar import Calendar, overlap
from boostwright.planning.problem import Window
from boostwright.planning.schedule.hours import joined
from boostwright.planning.schedule.sampling import HOME, Pace
from boostwright.planning.task import Task

__all__ = [
    "BACK",
    "Learned",
    "Progress",
    "first_work",
    "last_event",
    "learned_pace",
    "moment_of",
    "progress_of",
]

STUD_BROKE, STUD = "stud broken", "strip.broken_stud"
"""The kind of problem that lasts until this task is done, whatever else is recorded."""

BACK = 3
"""Steps to go back over after an interruption (common practice of aircraft maintenance, no page)."""

_LEAST_SPREAD = 0.4  # of one task's own logarithm, at home; judgement, no source
_SHORTEST = 60.0  # [s] what is booked as shorter was a tap, no time


@dataclass(frozen=True, slots=True)
class Progress:
    """Where the job stands. Times are seconds from the calendar's zero.

    ended: when each task was done, in that order; those not needed among them. running: in hand, with its
    hands-on time so far. paused: likewise, laid down. problems: events that still stand. worked: hands-on
    time of each task that was done with a start on record. repeats: how often a task had to be done again.
    skipped: those not needed.
    """

    ended: Mapping[str, float] = field(default_factory=dict)
    running: Mapping[str, float] = field(default_factory=dict)
    paused: Mapping[str, float] = field(default_factory=dict)
    problems: tuple[TaskEvent, ...] = ()
    worked: Mapping[str, float] = field(default_factory=dict)
    repeats: Mapping[str, int] = field(default_factory=dict)
    skipped: frozenset[str] = frozenset()

    @property
    def begun(self) -> bool:
        """Whether anything was recorded."""
        return bool(self.ended or self.running or self.paused or self.problems)

    @property
    def last(self) -> tuple[str, ...]:
        """The last tasks that were done, newest first: to be looked at again after an interruption."""
        return tuple(key for key in reversed(list(self.ended)) if key not in self.skipped)[:BACK]


def moment_of(time: str) -> datetime:
    """A record's time; one without a zone counts as UTC. Raises ValueError."""
    found = datetime.fromisoformat(time)
    return found if found.tzinfo is not None else found.replace(tzinfo=UTC)


def _events(records: Iterable[Record], until: datetime | None = None) -> list[TaskEvent]:
    found = [r for r in standing(records) if isinstance(r, TaskEvent)]
    if until is not None:
        found = [event for event in found if moment_of(event.time) <= until]
    return sorted(found, key=lambda event: moment_of(event.time))


def first_work(records: Iterable[Record], desk: Iterable[str] = ()) -> datetime | None:
    """When the first task was begun that is none of the desk; None where none was."""
    aside = set(desk)
    return next((moment_of(e.time) for e in _events(records) if e.task not in aside), None)


def last_event(records: Iterable[Record]) -> tuple[datetime, ...]:
    """When the last thing was recorded of a task; empty where nothing was."""
    return tuple(moment_of(e.time) for e in _events(records)[-1:])


def progress_of(records: Iterable[Record], calendar: Calendar, until: datetime | None = None) -> Progress:
    """What the records say, up to a moment. A task that is reopened is to be done again."""
    hours = joined(w for worker in calendar.workers for w in worker.windows)
    ended: dict[str, float] = {}
    running: dict[str, tuple[float, float]] = {}  # hands-on so far, since when it goes on
    paused: dict[str, float] = {}
    problems: dict[tuple[str, str, str], TaskEvent] = {}
    worked: dict[str, float] = {}
    repeats: dict[str, int] = {}
    skipped: set[str] = set()

    def settle(key: str, over: bool) -> None:
        """A problem ends as its task goes on; a broken stud only as the task that gets it out is done."""
        for name in list(problems):
            stud = name[1] == STUD_BROKE
            if (over and key == STUD) if stud else name[0] == key:
                del problems[name]

    def stop(key: str, at: float) -> float | None:
        if key in running:
            before, since = running.pop(key)
            return before + _hands_on(hours, since, at)
        return paused.pop(key, None)

    for event in _events(records, until):
        key, at = event.task, calendar.seconds(moment_of(event.time))
        step = Step(event.what)
        if step is Step.STARTED:
            before = paused.pop(key, 0.0) if key not in running else running[key][0]
            running.setdefault(key, (before, at))
            ended.pop(key, None)
            settle(key, over=False)
        elif step in {Step.DONE, Step.NOT_NEEDED}:
            spent = stop(key, at)
            ended.pop(key, None)
            ended[key] = at
            settle(key, over=True)
            if step is Step.NOT_NEEDED:
                skipped.add(key)
            elif spent is not None and spent >= _SHORTEST:
                worked[key] = spent
        elif step is Step.REOPENED:
            ended.pop(key, None)
            skipped.discard(key)
            repeats[key] = repeats.get(key, 0) + 1
        else:
            spent = stop(key, at)
            if spent is not None:
                paused[key] = spent
            if step is Step.PROBLEM:
                each = event.id if event.kind == STUD_BROKE else ""  # every stud counts for itself
                problems[key, event.kind, each] = event
    now = math.inf if until is None else calendar.seconds(until)
    going = {
        key: before + (_hands_on(hours, since, now) if math.isfinite(now) else 0.0)
        for key, (before, since) in running.items()
    }
    return Progress(ended, going, paused, tuple(problems.values()), worked, repeats, frozenset(skipped))


def _hands_on(hours: Sequence[Window], start: float, end: float) -> float:
    """Time within working hours; where there is none of it, work outside of them [s]."""
    inside = sum(w.end - w.start for w in overlap(hours, (Window(start, max(start, end)),)))
    return inside if inside > 0.0 else max(0.0, end - start)


@dataclass(frozen=True, slots=True)
class Learned:
    """This builder's pace. seen: how many tasks it rests on. plain: mean ratio of booked to planned time."""

    pace: Pace
    seen: int
    plain: float


def learned_pace(progress: Progress, tasks: Iterable[Task], prior: Pace = HOME) -> Learned:
    """The builder's pace from booked times, drawn towards what is known before anything was booked.

    The logarithm of the pace is normal before (median and spread of `prior`); each booked task says
    ln(booked / planned) with a spread of its own from its three points. The answer is the mean weighted by
    precision, the conjugate of a normal mean with known variance (gelman2013, equation 2.12).
    """
    weight = 1.0 / prior.spread**2
    total, weights, plain, seen = math.log(prior.median) * weight, weight, 0.0, 0
    for task in tasks:
        booked = progress.worked.get(task.key)
        if booked is None or task.effort.mean <= 0.0:
            continue
        ratio = math.log(booked / task.effort.mean)
        sd = max(_LEAST_SPREAD, (task.effort.high - task.effort.low) / (6.0 * task.effort.mean))
        total += (ratio + 0.5 * sd**2) / sd**2  # the mean of a logarithm lies below that of what it is of
        weights += 1.0 / sd**2
        plain += ratio
        seen += 1
    pace = Pace(math.exp(total / weights), math.sqrt(1.0 / weights))
    return Learned(pace, seen, math.exp(plain / seen) if seen else 1.0)
