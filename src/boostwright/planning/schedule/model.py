"""A problem made ready: checked, numbered, in whole steps of the clock, with every way to man each task."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final, NamedTuple

from boostwright.errors import NoPlan, OutOfRange
from boostwright.planning.problem import Problem, Window, Worker
from boostwright.planning.schedule.hours import SHORT_BREAK, Hours, joined, shared
from boostwright.planning.task import Task

__all__ = [
    "GRID",
    "Class",
    "Mode",
    "Model",
    "Obstacle",
    "hours_of",
    "planned_seconds",
    "prepared",
    "stays_of",
    "uses_of",
    "waits_of",
    "when_there",
]

GRID: Final = 60.0
"""The step of the plan's clock [s]."""

_COUNTS: Final = 0.5  # a task that arises less often than this has no length in the plan


class Obstacle(NamedTuple):
    """Why a task cannot be planned. kind: 'nobody', 'alone', 'too long', 'place', 'hours' or 'order'.
    seconds: how long the task is planned to take [s]. crew: whom it needs.
    """

    task: str
    kind: str
    words: str
    seconds: float = 0.0
    crew: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Class:
    """People who can stand in for each other: they may act as the same and are there at the same times."""

    names: tuple[str, ...]
    can: frozenset[str]
    windows: tuple[Window, ...]


class Mode(NamedTuple):
    """One way to man a task. counts: how many of each class. hours: when they are all there."""

    counts: tuple[int, ...]
    hours: Hours


def planned_seconds(task: Task) -> float:
    """How long the plan takes a task to be [s]: the mean of its three points, on whole minutes upwards;
    nothing where it arises in fewer than one case of two: its slot then has no length, holds its place in
    the order and waits for nobody.
    """
    if task.odds < _COUNTS:
        return 0.0
    return _up(task.effort.mean) * GRID


def _up(seconds: float) -> int:
    return math.ceil(seconds / GRID - 1e-9)


@dataclass(frozen=True, eq=False)
class Model:
    """A problem in whole steps of `GRID`. Tasks stand so that each comes after those it waits for.

    before: of each task, the tasks it waits for and the pause after each [steps]. earliest: [steps]. uses:
    units of each place. modes: the ways to man it, never none; one with nobody where the task is not
    expected to arise. crews: how many of each class it takes where it arises. stays: the stretches in which
    somebody is there, short breaks within. follows: of each task, those that it follows in the same stay.
    """

    tasks: tuple[Task, ...]
    steps: tuple[int, ...]
    before: tuple[tuple[tuple[int, int], ...], ...]
    earliest: tuple[int, ...]
    uses: tuple[Mapping[str, int], ...]
    modes: tuple[tuple[Mode, ...], ...]
    classes: tuple[Class, ...]
    places: Mapping[str, int]
    crews: Mapping[int, tuple[int, ...]] = field(default_factory=dict)
    stays: tuple[Window, ...] = ()
    follows: tuple[tuple[int, ...], ...] = ()

    @cached_property
    def followed(self) -> tuple[tuple[int, ...], ...]:
        """Of each task, those that follow it in the same stay."""
        found: list[list[int]] = [[] for _ in self.tasks]
        for i, others in enumerate(self.follows):
            for j in others:
                found[j].append(i)
        return tuple(tuple(f) for f in found)

    @property
    def people(self) -> int:
        """How many people there are."""
        return sum(len(c.names) for c in self.classes)

    @cached_property
    def number(self) -> Mapping[str, int]:
        """The number of each task by its key."""
        return {task.key: i for i, task in enumerate(self.tasks)}

    @cached_property
    def behind(self) -> tuple[tuple[tuple[int, int], ...], ...]:
        """Of each task, the tasks that wait for it and the pause before each [steps]."""
        found: list[list[tuple[int, int]]] = [[] for _ in self.tasks]
        for i, before in enumerate(self.before):
            for j, lag in before:
                found[j].append((i, lag))
        return tuple(tuple(f) for f in found)

    @cached_property
    def heads(self) -> tuple[int, ...]:
        """The earliest start of each task if there were people and places without number [steps]."""
        ends, starts = [0.0] * len(self.tasks), [0] * len(self.tasks)
        for i in range(len(self.tasks)):
            ready = max([self.earliest[i], *(ends[j] + lag for j, lag in self.before[i])])
            fits = [m.hours.fit(ready, self.steps[i]) for m in self.modes[i]]
            start, ends[i] = min(f[0] for f in fits), min(f[1] for f in fits)
            if not math.isfinite(ends[i]):
                raise NoPlan(*_used_up(self.tasks[i], self.steps[i] * GRID))
            starts[i] = int(start)
        return tuple(starts)

    @cached_property
    def tails(self) -> tuple[int, ...]:
        """The least time from the end of each task to the end of all [steps]."""
        tails = [0] * len(self.tasks)
        for i in range(len(self.tasks) - 1, -1, -1):
            tails[i] = max((lag + self.steps[j] + tails[j] for j, lag in self.behind[i]), default=0)
        return tuple(tails)


def _used_up(task: Task, seconds: float) -> tuple[str, tuple[Obstacle, ...]]:
    words = (
        f"The hours of the people end before '{task.key}' ({seconds / 3600.0:.1f} h, needs {_crew(task)}) can"
        " be done. Name more hours after the last ones."
    )
    return words, (Obstacle(task.key, "hours", words, seconds, task.crew),)


def prepared(problem: Problem) -> Model:
    """The problem checked and made ready.

    Raises NoPlan, with every obstacle found, where a task can never be manned or never fits; OutOfRange for
    tasks that wait for each other in a circle or for a task that there is not, and for a key that stands
    twice.
    """
    tasks = _in_order(problem)
    number = {task.key: i for i, task in enumerate(tasks)}
    classes = _classes(problem.workers)
    steps = tuple(round(planned_seconds(task) / GRID) for task in tasks)
    uses = [uses_of(problem, task) for task in tasks]
    obstacles = [o for task, used in zip(tasks, uses, strict=True) for o in _crowded(problem, task, used)]
    modes: list[tuple[Mode, ...]] = []
    crews: dict[int, tuple[int, ...]] = {}
    for i, (task, length) in enumerate(zip(tasks, steps, strict=True)):
        found, hindrance = _modes(task, length, classes, problem.open.get(task.place))
        obstacles += hindrance
        if found and task.odds < _COUNTS:  # whoever it would take is not waited for
            crews[i], uses[i] = found[0].counts, {}
            found = (Mode((0,) * len(classes), Hours.always()),)
        modes.append(found)
    if obstacles:
        raise NoPlan("\n".join(o.words for o in obstacles), tuple(obstacles))
    before, earliest = [], []
    for task in tasks:
        lags = waits_of(task)
        before.append(tuple((number[k], _up(lag)) for k, lag in lags.items() if k in number))
        known = [problem.done[k] + lag for k, lag in lags.items() if k in problem.done and lag > 0.0]
        earliest.append(max(0, *(_up(t) for t in (problem.released.get(task.key, 0.0), *known))))
    stays = stays_of(problem.workers, GRID)
    return Model(
        tasks, steps, tuple(before), tuple(earliest), tuple(uses), tuple(modes), classes,
        dict(problem.places), crews, stays, _follows(tasks, steps, number, stays),
    )  # fmt: skip


def stays_of(workers: Sequence[Worker], unit: float = 1.0) -> tuple[Window, ...]:
    """The stretches in which somebody is there, who is more than a welder; breaks of a meal lie within.

    unit: of the times returned [s].
    """
    here = joined(w for worker in workers if worker.can - {"welder"} for w in worker.windows)
    found: list[Window] = []
    for start, end in here:
        if found and start / unit - found[-1].end <= SHORT_BREAK / unit:
            found[-1] = Window(found[-1].start, end / unit)
        else:
            found.append(Window(start / unit, end / unit))
    return tuple(found)


def _follows(
    tasks: Sequence[Task], steps: Sequence[int], number: Mapping[str, int], stays: Sequence[Window]
) -> tuple[tuple[int, ...], ...]:
    """Of each task at one go, the tasks at one go that it follows in the same stay, where a stay can hold
    the two and all that they follow in turn.
    """
    longest = max((w.end - w.start for w in stays), default=0.0)
    chain = [float(s) for s in steps]
    found: list[tuple[int, ...]] = []
    for i, task in enumerate(tasks):
        own = []
        for key in task.same_stay:
            j = number.get(key)
            if j is None or not (task.in_one_go and tasks[j].in_one_go and steps[i] and steps[j]):
                continue
            lag = _up(waits_of(task).get(key, 0.0))
            if task.crew and tasks[j].crew and chain[j] + lag + steps[i] <= longest:
                chain[i] = max(chain[i], chain[j] + lag + steps[i])
                own.append(j)
        found.append(tuple(own))
    return tuple(found)


def waits_of(task: Task) -> dict[str, float]:
    """What a task waits for, with the longest pause after each [s]."""
    found = dict.fromkeys(task.after, 0.0)
    for lag in task.lags:
        found[lag.task] = max(found.get(lag.task, 0.0), lag.seconds)
    return found


def _in_order(problem: Problem) -> tuple[Task, ...]:
    """The tasks still to do, each behind those it waits for, otherwise as they stand in the problem."""
    todo = [task for task in problem.tasks if task.key not in problem.done]
    known = {task.key: task for task in todo}
    if len(known) < len(todo):
        twice = sorted({t.key for t in todo if sum(o.key == t.key for o in todo) > 1})
        raise OutOfRange(f"Every task has a key of its own, but these stand twice: {', '.join(twice)}.")
    waits = {key: [k for k in waits_of(task) if k not in problem.done] for key, task in known.items()}
    for key, others in waits.items():
        lost = [k for k in others if k not in known]
        if lost:
            raise OutOfRange(f"Task '{key}' waits for '{lost[0]}', which is neither in the plan nor done.")
    placed: dict[str, Task] = {}
    rest = list(known)
    while rest:
        free = [key for key in rest if all(k in placed for k in waits[key])]
        if not free:
            raise OutOfRange(
                f"These tasks wait for each other in a circle: {' -> '.join(_circle(waits, rest))}."
            )
        for key in free:
            placed[key] = known[key]
        rest = [key for key in rest if key not in placed]
    return tuple(placed.values())


def _circle(waits: Mapping[str, Sequence[str]], rest: Sequence[str]) -> list[str]:
    stuck, path = set(rest), [rest[0]]
    while path.count(path[-1]) < 2:
        path.append(next(k for k in waits[path[-1]] if k in stuck))
    return path[path.index(path[-1]) :]


def _classes(workers: Sequence[Worker]) -> tuple[Class, ...]:
    """People by what they can and when they are there; windows on whole steps, inwards."""
    found: dict[tuple[frozenset[str], tuple[Window, ...]], list[str]] = {}
    names = [w.name for w in workers]
    if len(set(names)) < len(names):
        raise OutOfRange(f"Every person has a name of their own, but here are {', '.join(sorted(names))}.")
    for worker in workers:
        windows = joined(
            Window(max(0, _up(w.start)), math.floor(w.end / GRID + 1e-9)) for w in joined(worker.windows)
        )
        found.setdefault((worker.can, windows), []).append(worker.name)
    return tuple(Class(tuple(who), can, windows) for (can, windows), who in found.items())


def uses_of(problem: Problem, task: Task) -> dict[str, int]:
    """How many units of which named places a task takes."""
    named = {task.place: 1} if task.place in problem.places else {}
    return {
        **named,
        **{k: u for k, u in problem.uses.get(task.key, {}).items() if k in problem.places and u > 0},
    }


def _crowded(problem: Problem, task: Task, used: Mapping[str, int]) -> Iterator[Obstacle]:
    for place, units in used.items():
        if units > problem.places[place]:
            words = f"Task '{task.key}' takes {units} of '{place}', and there are {problem.places[place]}."
            yield Obstacle(task.key, "place", words, planned_seconds(task), task.crew)


def _crew(task: Task) -> str:
    return " and ".join(task.crew) or "nobody"


def _modes(
    task: Task, length: int, classes: Sequence[Class], opened: Sequence[Window] | None = None
) -> tuple[tuple[Mode, ...], list[Obstacle]]:
    """The ways to man a task, or why there is none. opened: when its place can be used [s]; None: always."""
    seconds = length * GRID
    long, who = f"{seconds / 3600.0:.1f} h", _crew(task)

    def hindered(kind: str, words: str) -> tuple[tuple[Mode, ...], list[Obstacle]]:
        return (), [Obstacle(task.key, kind, words, seconds, task.crew)]

    if not task.crew:
        return (Mode((0,) * len(classes), Hours.always()),), []
    manned = sorted(_manned(task.crew, classes, (0,) * len(classes)), reverse=True)
    if not manned:
        return hindered("nobody", _nobody(task, classes, seconds))
    windows = {counts: _together(counts, classes, alone=not task.critical) for counts in manned}
    if not any(windows.values()):
        if task.critical and len(task.crew) == 1:
            words = (
                f"Task '{task.key}' ({long}) is never done alone, and nobody else is there at the hours of"
                f" whoever can do it as {who}. Name a second person with hours that overlap."
            )
            return hindered("alone", words)
        words = f"Task '{task.key}' needs {who} at once, and they are never there at the same time."
        return hindered("nobody", words)
    if opened is not None:
        inside = joined(Window(_up(w.start), math.floor(w.end / GRID + 1e-9)) for w in opened)
        windows = {counts: shared(own, inside) for counts, own in windows.items()}
        if not any(windows.values()):
            words = (
                f"Task '{task.key}' ({long}) is done at the {task.place}, which is never open while its"
                " people are there. Name hours in which it is."
            )
            return hindered("place", words)
    found = [Mode(c, h) for c in manned if (h := hours_of(windows[c], length, divided=not task.in_one_go))]
    if not found:
        longest = max(Hours(w, bridge=SHORT_BREAK / GRID).longest for w in windows.values()) * GRID
        where, longer = ("", "a day") if opened is None else (f" at the {task.place}", "its hours or a day")
        words = (
            f"Task '{task.key}' takes {long} at one go, and the longest stretch in which"
            f" {who} can work{where} is {longest / 3600.0:.1f} h. Make {longer} longer, or divide the task."
        )
        return hindered("too long", words)
    return tuple(found), []


def hours_of(
    windows: Sequence[Window],
    length: float,
    *,
    divided: bool,
    short: float = SHORT_BREAK / GRID,
    over: bool = False,
) -> Hours | None:
    """The hours for work of a planned length: in one window; if none is long enough, in one run of windows
    with short breaks between; None if that is too short, too. divided: over all windows. All in steps, or all
    in the unit of `short`, which is the longest of the short breaks. over: see `Hours`.
    """
    if divided:
        return Hours(windows, bridge=math.inf, over=over) if windows else None
    for bridge in (0.0, short):
        hours = Hours(windows, bridge=bridge, over=over)
        if windows and hours.longest >= length:
            return hours
    return None


def _nobody(task: Task, classes: Sequence[Class], seconds: float) -> str:
    for role in dict.fromkeys(task.crew):
        if not any(role in c.can for c in classes):
            return (
                f"Task '{task.key}' ({seconds / 3600.0:.1f} h) needs somebody who can act as {role}, and"
                " nobody can. Name one among the people."
            )
    return (
        f"Task '{task.key}' ({seconds / 3600.0:.1f} h) needs {len(task.crew)} people at once ({_crew(task)}),"
        " and there are not as many who can. Name one more among the people."
    )


def _manned(crew: Sequence[str], classes: Sequence[Class], counts: tuple[int, ...]) -> set[tuple[int, ...]]:
    """How many of each class there can be so that every entry of the crew is somebody else."""
    if not crew:
        return {counts}
    found: set[tuple[int, ...]] = set()
    for c, people in enumerate(classes):
        if crew[0] in people.can and counts[c] < len(people.names):
            more = (*counts[:c], counts[c] + 1, *counts[c + 1 :])
            found |= _manned(crew[1:], classes, more)
    return found


def _together(counts: Sequence[int], classes: Sequence[Class], *, alone: bool) -> tuple[Window, ...]:
    """When people of some classes are all there."""
    chosen = [people.windows for people, count in zip(classes, counts, strict=True) for _ in range(count)]
    others = [
        people.windows
        for people, count in zip(classes, counts, strict=True)
        for _ in range(len(people.names) - count)
    ]
    return when_there(chosen, others, alone=alone)


def when_there(
    chosen: Sequence[tuple[Window, ...]], others: Sequence[tuple[Window, ...]], *, alone: bool
) -> tuple[Window, ...]:
    """When all the chosen are there; where one may not be alone, when anybody else is there as well."""
    windows = chosen[0]
    for more in chosen[1:]:
        windows = shared(windows, more)
    if alone or len(chosen) != 1:
        return windows
    return shared(windows, joined(w for other in others for w in other))
