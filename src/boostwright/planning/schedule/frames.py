"""Between which moments each task must lie: chains, hours, and the work of all that goes before or behind.

Whatever a task waits for has to be done before it, by people who have only so many hours: the forerunners
that cannot begin before a moment bring their work into what the people have after that moment. The same read
backwards from a finish gives the latest ends. Both are limits that no order of work can beat (carlier1989).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.planning.problem import Window
from boostwright.planning.schedule.hours import Hours, joined
from boostwright.planning.schedule.model import Model

__all__ = ["Frames", "Span", "Store"]

Array = NDArray[np.float64]
_EPS = 1e-6


class Span(NamedTuple):
    """Of each task: a limit of its start and one of its end [steps]."""

    starts: Array
    ends: Array


@dataclass(frozen=True)
class Store:
    """Hands or places that some tasks must use. load: hand-steps of each task. moments, there: corners of
    the hand-steps that there are before a moment [steps]; at the last corner the hours are used up.
    """

    name: str
    load: Array
    moments: Array
    there: Array

    def until(self, t: Array | float) -> Array:
        """Hand-steps that there are before t [steps]."""
        return np.asarray(np.interp(t, self.moments, self.there))

    def when(self, amount: Array) -> Array:
        """The first moment before which there is so much; inf where there never is [steps]."""
        k = np.minimum(np.searchsorted(self.there, amount - _EPS, side="left"), len(self.there) - 1)
        low = np.maximum(k - 1, 0)
        rise = self.there[k] - self.there[low]
        run = self.moments[k] - self.moments[low]
        part = np.divide(amount - self.there[low], rise, out=np.ones_like(amount), where=rise > _EPS)
        found = self.moments[low] + np.clip(part, 0.0, 1.0) * run
        return np.asarray(np.where(amount > self.there[-1] + _EPS, math.inf, np.ceil(found - _EPS)))

    def mirrored(self, finish: float) -> Store:
        """The same counted backwards from a finish."""
        inside = self.moments < finish
        moments = np.concatenate([self.moments[inside], [finish]])
        there = np.concatenate([self.there[inside], [float(self.until(finish))]])
        return Store(self.name, self.load, finish - moments[::-1], there[-1] - there[::-1])


class Frames:
    """Limits of the starts and ends of all tasks of a problem."""

    def __init__(self, model: Model) -> None:
        self.model = model
        n = len(model.tasks)
        above = np.zeros((n, n), dtype=np.bool_)
        for i, before in enumerate(model.before):
            for j, _ in before:
                above[i] |= above[j]
                above[i, j] = True
        self._above = [np.flatnonzero(row) for row in above]
        self._below = [np.flatnonzero(column) for column in above.T]
        self.stores = tuple(s for s in _stores(model) if s.load.any())
        hours = [tuple(m.hours for m in modes) for modes in model.modes]
        self.earliest = _pass(
            range(n), model.steps, model.earliest, model.before, hours, self._above, self.stores
        )

    def latest(self, finish: float) -> Span | None:
        """The latest start and end of every task if all is to be done by then [steps]; None: it cannot be."""
        model = self.model
        n = len(model.tasks)
        hours = [tuple(_mirrored(m.hours, finish) for m in modes) for modes in model.modes]
        stores = [store.mirrored(finish) for store in self.stores]
        back = _pass(
            range(n - 1, -1, -1), model.steps, (0,) * n, model.behind, hours, self._below, stores
        )  # fmt: skip
        span = Span(finish - back.ends, finish - back.starts)
        if not np.all(np.isfinite(back.ends)) or np.any(span.starts < self.earliest.starts - _EPS):
            return None
        return span


def _pass(
    order: Iterable[int],
    steps: Sequence[int],
    released: Sequence[int],
    before: Sequence[Sequence[tuple[int, int]]],
    hours: Sequence[tuple[Hours, ...]],
    above: Sequence[NDArray[np.intp]],
    stores: Sequence[Store],
) -> Span:
    """The earliest start and end of every task in one direction of time; inf where the hours are used up."""
    n = len(steps)
    starts, ends = np.zeros(n), np.zeros(n)
    for i in order:
        ready = max([float(released[i]), *(float(ends[j]) + lag for j, lag in before[i])])
        if above[i].size:
            ready = max(ready, _work_before(above[i], starts, stores))
        fits = [h.fit(ready, steps[i]) for h in hours[i]]
        starts[i], ends[i] = min(f[0] for f in fits), min(f[1] for f in fits)
    return Span(starts, ends)


def _work_before(above: NDArray[np.intp], starts: Array, stores: Sequence[Store]) -> float:
    """When the people can have done all that goes before, those first that can begin last [steps]."""
    ready = 0.0
    order = above[np.argsort(-starts[above], kind="stable")]
    since = starts[order]
    if not np.isfinite(since[0]):
        return math.inf
    for store in stores:
        load = store.load[order]
        if load.any():
            ready = max(ready, float(store.when(store.until(since) + np.cumsum(load)).max()))
    return ready


def _mirrored(hours: Hours, finish: float) -> Hours:
    """Hours counted backwards from a finish."""
    if not math.isfinite(hours.ends[-1]):
        return hours
    turned = [
        Window(max(0.0, finish - w.end), finish - w.start)
        for w in reversed(hours.windows)
        if w.start < finish
    ]
    return Hours(turned, bridge=hours.bridge, over=hours.over)


def _stores(model: Model) -> Iterator[Store]:
    """Each group of people who alone can do some work, all people together, and each place."""
    steps = np.array(model.steps, float)
    some = [c for c in range(len(model.classes)) if model.classes[c].windows]
    for size in range(1, len(some) + 1):
        for group in combinations(some, size):
            load = steps * np.array(
                [min(sum(m.counts[c] for c in group) for m in modes) for modes in model.modes], float
            )
            people = [model.classes[c] for c in group]
            names = ", ".join(name for c in people for name in c.names)
            yield _store(f"the hours of {names}", load, [(c.windows, len(c.names)) for c in people])
    anyone = joined(Window(*w) for c in model.classes for w in c.windows)
    manned = np.array([bool(task.crew) for task in model.tasks])
    for place, units in model.places.items():
        load = np.array([used.get(place, 0) for used in model.uses]) * steps
        if anyone:
            yield _store(f"room at the {place}", np.where(manned, load, 0.0), [(anyone, units)])
        yield _store(f"room at the {place}", load, [((Window(0.0, _FAR),), units)])


_FAR = 1e7  # steps: beyond any plan


def _store(name: str, load: Array, there: Sequence[tuple[Sequence[Window], int]]) -> Store:
    """Hands by their windows, as a curve of what there is before a moment."""
    moments = np.unique([0.0, *(t for windows, _ in there for w in windows for t in w)])
    total = np.zeros_like(moments)
    for windows, units in there:
        total += units * Hours(windows).worked(moments)
    return Store(name, load, moments, total)
