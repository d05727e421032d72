"""What the scheduler is asked and what it answers; all times are seconds from the plan's own zero."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from boostwright.planning.task import Task

__all__ = ["Problem", "Schedule", "Slot", "Window", "Worker"]


class Window(NamedTuple):
    """A stretch of time in which work is possible [s]."""

    start: float
    end: float


@dataclass(frozen=True, slots=True)
class Worker:
    """One person. can: what for, from `task.CREW`. windows: when the person is there."""

    name: str
    can: frozenset[str]
    windows: tuple[Window, ...]


@dataclass(frozen=True, slots=True)
class Problem:
    """Tasks to be put into people's hours.

    places: how many tasks each place holds at once; a place that is not named holds any number. released:
    earliest start of a task [s], for what waits for a delivery or was begun already. done: keys of tasks that
    need no more time; precedence over them is met at time 0 or, with a lag, at the time given. uses: by a
    task's key, what else it takes of the places and how many units, on top of one of its own place. open:
    when a place can be used [s]; one that is not named always can.
    """

    tasks: tuple[Task, ...]
    workers: tuple[Worker, ...]
    places: Mapping[str, int] = field(default_factory=dict)
    released: Mapping[str, float] = field(default_factory=dict)
    done: Mapping[str, float] = field(default_factory=dict)
    uses: Mapping[str, Mapping[str, int]] = field(default_factory=dict)
    open: Mapping[str, tuple[Window, ...]] = field(default_factory=dict)


class Slot(NamedTuple):
    """When one task is done and by whom. pieces: the stretches, where breaks or nights divide it [s]."""

    task: str
    start: float
    end: float
    who: tuple[str, ...]
    pieces: tuple[Window, ...]


@dataclass(frozen=True, slots=True)
class Schedule:
    """An order of the work. finish: of the last task [s]. bound: no order can finish sooner [s]. proven: the
    two are one. gap: what lies between them as a share of the finish. Slots stand in order of their start.
    bound_by: what keeps it from finishing sooner. method: 'heuristic' (a rule's order, not searched) or
    'search'. repeatable: the search ended by its own count and not by the clock, so that the same problem
    gives the same order again.
    """

    slots: tuple[Slot, ...]
    finish: float
    bound: float
    proven: bool
    seconds: float  # spent on the search
    bound_by: str = ""
    method: str = "search"
    repeatable: bool = True

    @property
    def gap(self) -> float:
        """(finish - bound) / finish [-]."""
        return 0.0 if self.finish <= 0.0 else max(0.0, (self.finish - self.bound) / self.finish)
