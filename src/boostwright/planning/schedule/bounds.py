"""What no order of work can beat: the longest chain, and work that has to go through few hands.

For a finish on trial, every task gets the earliest start and the latest end that its chains and hours leave
it. Where the tasks that must lie between two moments bring more work than the people who can do it, or the
place that holds it, have hours there, the trial fails and the finish is later (energetic reasoning,
baptiste1999).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.planning.problem import Window
from boostwright.planning.schedule.hours import Hours, joined
from boostwright.planning.schedule.model import Model

__all__ = ["Bound", "lower_bound"]

Array = NDArray[np.float64]


class Bound(NamedTuple):
    """A finish that nothing beats [steps], and what keeps it there."""

    finish: int
    why: str


class _Store(NamedTuple):
    """Hands or places that some tasks must use. load: hand-steps of each task. open: (hours, units) that
    there are.
    """

    name: str
    load: Array
    open: tuple[tuple[Hours, int], ...]

    def until(self, t: Array) -> Array:
        """Hand-steps that there are before t [steps]."""
        total = np.zeros_like(t)
        for hours, units in self.open:
            total += units * hours.worked(t)
        return total


def lower_bound(model: Model, upper: int) -> Bound:
    """The best bound found below a finish that is already reached [steps]."""
    ends = _ends(model)
    chain = max((int(e) for e in ends), default=0)
    heads = np.array(model.heads, float)
    backwards = [_backwards(model, i) for i in range(len(model.tasks))]
    best = Bound(min(chain, upper), "the longest chain of tasks")
    for store in _stores(model):
        if not store.load.any():
            continue
        low, high = best.finish, upper
        while low < high:
            trial = (low + high) // 2
            if _overfull(model, store, heads, backwards, float(trial)):
                low = trial + 1
            else:
                high = trial
        if low > best.finish:
            best = Bound(low, store.name)
    return best


def _ends(model: Model) -> list[float]:
    """The earliest end of every task [steps]."""
    return [
        min(m.hours.fit(head, step)[1] for m in modes)
        for head, step, modes in zip(model.heads, model.steps, model.modes, strict=True)
    ]


def _stores(model: Model) -> Iterator[_Store]:
    """Each group of people who alone can do some work, all people together, and each place."""
    steps = np.array(model.steps, float)
    open_to = [Hours(c.windows) for c in model.classes]
    some = [c for c in range(len(model.classes)) if model.classes[c].windows]
    for size in range(1, len(some) + 1):
        for group in combinations(some, size):
            load = (
                np.array([min(sum(m.counts[c] for c in group) for m in modes) for modes in model.modes])
                * steps
            )
            hands = tuple((open_to[c], len(model.classes[c].names)) for c in group)
            names = [name for c in group for name in model.classes[c].names]
            yield _Store(f"the hours of {', '.join(names)}", load, hands)
    anyone = joined(Window(*w) for c in model.classes for w in c.windows)
    manned = np.array([bool(task.crew) for task in model.tasks])
    for place, units in model.places.items():
        load = np.array([used.get(place, 0) for used in model.uses]) * steps
        if anyone:
            yield _Store(f"room at the {place}", np.where(manned, load, 0.0), ((Hours(anyone), units),))
        yield _Store(f"room at the {place}", load, ((Hours.always(), units),))


def _backwards(model: Model, i: int) -> tuple[Hours, ...]:
    """The hours of each way to man a task, run backwards in time."""
    return tuple(_mirrored(m.hours) for m in model.modes[i])


_FAR = 1e7  # steps: beyond any plan


def _mirrored(hours: Hours) -> Hours:
    if not math.isfinite(hours.ends[-1]):
        return hours
    return Hours(
        [Window(_FAR - w.end, _FAR - w.start) for w in reversed(hours.windows)],
        bridge=hours.bridge,
        over=hours.over,
    )


def _latest(model: Model, backwards: list[tuple[Hours, ...]], finish: float) -> tuple[Array, Array] | None:
    """The latest start and end of every task for a finish on trial [steps]; None where it cannot be met."""
    n = len(model.tasks)
    starts, ends = np.zeros(n), np.zeros(n)
    for i in range(n - 1, -1, -1):
        limit = min([finish, *(starts[j] - lag for j, lag in model.behind[i])])
        best = (-math.inf, -math.inf)
        for hours in backwards[i]:
            if not math.isfinite(hours.ends[-1]):
                fit = (limit - model.steps[i], limit)
            else:
                turned, start = hours.fit(_FAR - limit, model.steps[i])
                fit = (_FAR - start, _FAR - turned)
            best = max(best, fit)
        starts[i], ends[i] = best
        if not math.isfinite(best[0]):
            return None
    return starts, ends


def _overfull(
    model: Model, store: _Store, heads: Array, backwards: list[tuple[Hours, ...]], finish: float
) -> bool:
    """Whether the tasks that must lie between some two moments bring more than there is, for this finish."""
    latest = _latest(model, backwards, finish)
    if latest is None or np.any(latest[0] < heads - 1e-6):
        return True
    used = store.load > 0.0
    load, head, end = store.load[used], heads[used], latest[1][used]
    moments = np.unique(end)
    by_end = np.searchsorted(moments, end)
    there = store.until(moments)
    for start in np.unique(head):
        inside = head >= start
        demand = np.cumsum(np.bincount(by_end[inside], load[inside], len(moments)))
        supply = np.maximum(there - store.until(np.array(start)), 0.0)
        if np.any((demand > supply + 1e-6) & (moments >= start)):
            return True
    return False
