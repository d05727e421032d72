"""What stands in the way, as recorded: a part missing, a stud broken, hours lost, a person gone."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from boostwright.job.records import TaskEvent
from boostwright.planning.calendar import Calendar
from boostwright.planning.moments import MomentError, read_moment, resolved
from boostwright.planning.problem import Window
from boostwright.planning.progress import STUD, STUD_BROKE, moment_of
from boostwright.planning.schedule import Delay
from boostwright.planning.task import Effort, Task
from boostwright.quantity import Dimension, QuantityError, nearest, read

__all__ = ["KINDS", "PASSING", "Troubles", "arrival_of", "misread", "troubles_of", "with_branches"]

KINDS: Final[Mapping[str, str]] = {
    "part missing": "a part is missing; the note ends with when it comes ('gasket, Tuesday 10:00', '2 d')",
    "stud broken": "a stud broke",
    "time lost": "hours were lost; the note says how many ('2 h')",
    "person left": "a person left; the note says who",
    "other": "it stands still for another reason",
}
"""Kinds of problems that a plan knows what to do with; any other stands still until the next morning."""

PASSING: Final = frozenset({"time lost", "person left"})
"""Problems after which the task in hand can be finished all the same."""

UNSURE: Final = "unknown"
"""What stands for the day on which a missing part comes where nobody knows it."""

STUD_EFFORT: Final = Effort(1800.0, 3600.0, 14400.0)
"""One broken stud where the tasks have none: half an hour to four hours (common practice, no source)."""
_UNKNOWN_WAIT: Final = 2 * 86400.0


@dataclass(frozen=True, slots=True)
class Troubles:
    """What the problems that stand mean for the plan.

    waits: earliest start of tasks [s from zero]. studs: how many broke. lost_until: nobody works before
    [s]. gone: who left, and since when [s]. doubts: what was not understood, and what is taken instead.
    """

    waits: Mapping[str, float] = field(default_factory=dict)
    studs: int = 0
    lost_until: float = 0.0
    gone: tuple[tuple[str, float], ...] = ()
    doubts: tuple[str, ...] = ()


def arrival_of(event: TaskEvent, calendar: Calendar, delays: Iterable[Delay] = ()) -> float:
    """When what is missing is there [s from zero]: as the note says, else after the usual wait for it."""
    at = calendar.seconds(moment_of(event.time))
    for told in _endings(event.note):
        try:
            moment = read_moment(told)
            return calendar.seconds(resolved(moment, calendar.moment(at).date(), calendar.zone))
        except MomentError:
            pass
        length = _length(told)
        if length is not None:
            return at + length
    usual = next((delay.wait.likely for delay in delays if delay.task == event.task), _UNKNOWN_WAIT)
    return at + usual


def _says_when(note: str) -> bool:
    for told in _endings(note):
        try:
            read_moment(told)
        except MomentError:
            if _length(told) is None:
                continue
        return True
    return False


def _endings(note: str) -> tuple[str, ...]:
    """The note, and what stands after its last comma: 'turbo gasket, Tuesday 10:00'."""
    whole = note.strip()
    return whole, whole.rpartition(",")[2].strip()


def misread(kind: str, note: str, people: Iterable[str]) -> tuple[str, str]:
    """What of a problem a plan cannot use, and what can stand there; two empty texts where all is clear.

    kind: '' is a problem without one. people: names of those who work on it.
    """
    names, told = tuple(people), note.strip()
    if kind and kind not in KINDS:
        near = nearest(kind, KINDS, 1)
        hint = f"Did you mean '{near[0]}'? " if near else ""
        return f"'{kind}' is no kind of problem", f"{hint}There are: {', '.join(KINDS)}."
    if kind == "time lost" and _length(told) is None:
        return (
            f"'{told}' says no length of time",
            "Write what was lost, like '2 h' (60 days at most).",
        )
    if kind == "part missing" and not _says_when(told) and _endings(told)[1].casefold() != UNSURE:
        return (
            f"'{told}' does not say when the part comes",
            f"End the note with it: 'gasket, Tuesday 10:00', 'gasket, 2 d' or 'gasket, {UNSURE}'.",
        )
    if kind == "person left" and told not in names:
        return f"nobody here is called '{told}'", f"Write the name alone: {', '.join(names)}."
    return "", ""


def _length(text: str) -> float | None:
    try:
        found = read(text, Dimension.TIME).value
    except QuantityError:
        return None
    return found if 0.0 <= found <= 60 * 86400.0 else None


def troubles_of(problems: Sequence[TaskEvent], calendar: Calendar, delays: Sequence[Delay] = ()) -> Troubles:
    """The problems that stand, read. Two hours where lost time is not said."""
    waits: dict[str, float] = {}
    studs, lost = 0, 0.0
    gone: list[tuple[str, float]] = []
    doubts: list[str] = []
    for event in problems:
        wrong, can = misread(event.kind, event.note, [w.name for w in calendar.workers])
        if wrong and event.kind != "part missing":
            taken = {"time lost": "2 h are taken", "person left": "nobody is taken to have left"}
            doubts.append(
                f"{event.task}: {wrong}; {taken.get(event.kind, 'it stands still until the next morning')}."
                f" {can}"
            )
        at = calendar.seconds(moment_of(event.time))
        if event.kind == STUD_BROKE:
            studs += 1
        elif event.kind == "time lost":
            lost = max(lost, at + (_length(event.note.strip()) or 7200.0))
        elif event.kind == "person left":
            gone.append((event.note.strip(), at))
        elif event.kind == "part missing":
            waits[event.task] = arrival_of(event, calendar, delays)
            if wrong:
                doubts.append(f"{event.task}: {wrong}; the usual wait for it is taken. {can}")
        else:
            morning = min((w.start for w in _mornings(calendar) if w.start > at), default=at + 86400.0)
            waits[event.task] = morning
    return Troubles(waits, studs, lost, tuple(gone), tuple(doubts))


def _mornings(calendar: Calendar) -> Iterator[Window]:
    seen: set[object] = set()
    for window in sorted((*calendar.evenings, *calendar.days, *calendar.after)):
        day = calendar.moment(window.start).date()
        if day not in seen:
            seen.add(day)
            yield window


def with_branches(tasks: Sequence[Task], troubles: Troubles) -> tuple[Task, ...]:
    """The tasks with the branch of the broken studs in it: certain now, once for each stud."""
    if not troubles.studs:
        return tuple(tasks)
    count = troubles.studs
    if any(task.key == STUD for task in tasks):
        return tuple(
            dataclasses.replace(
                task,
                odds=1.0,
                effort=_times(task.effort, count),
                amounts=(_happened(count),),
            )
            if task.key == STUD
            else task
            for task in tasks
        )
    after = tuple(task.key for task in tasks if task.key == "strip.nuts")
    branch = Task(
        STUD, "Get the broken stud out, never in a hurry; a new thread where it needs one.",
        "strip", ("lead",), "lift", _times(STUD_EFFORT, count), after, critical=True,
        amounts=(_happened(count),),
    )  # fmt: skip
    found = []
    for task in tasks:
        waits = task.key == "strip.manifold"
        found.append(dataclasses.replace(task, after=(*task.after, STUD)) if waits else task)
    return (*found, branch)


def _happened(count: int) -> str:
    """That it has come to it, in place of the odds that it may."""
    return "One stud has broken." if count == 1 else f"{count} studs have broken."


def _times(effort: Effort, count: int) -> Effort:
    return Effort(effort.low * count, effort.likely * count, effort.high * count)
