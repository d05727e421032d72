"""One pass through an order of work: each task as soon as all that it waits for lets it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boostwright.planning.schedule.hours import Hours

__all__ = ["Link", "Passed", "passed"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Link:
    """One task in an order of work. before: numbers of the tasks it waits for, of which lags[i] names the
    column of pauses or is -1. who: numbers of the people. uses: units of each place, by its number. stale:
    tasks that are done anew with this one where it begins in another stay than they ended in. there: before
    when it cannot begin in each run, where it comes up; None: as soon as it is free.
    """

    number: int
    before: tuple[int, ...]
    lags: tuple[int, ...]
    who: tuple[int, ...]
    uses: tuple[tuple[int, int], ...]
    hours: Hours
    earliest: float
    stale: tuple[int, ...] = ()
    there: Array | None = None


@dataclass(frozen=True, slots=True)
class Passed:
    """Starts and ends, (samples, tasks), and in each the task that held a task up longest (-1: none)."""

    starts: Array
    ends: Array
    holder: NDArray[np.int16]


def passed(
    links: Sequence[Link],
    lengths: Array,
    pauses: Array,
    late: Array,
    capacities: Sequence[int],
    people: int,
    arose: NDArray[np.bool_] | None = None,
    stays: Array | None = None,
) -> Passed:
    """Carry out the links in their order, each person and each place serving them in that order.

    lengths: (samples, tasks) [any unit of time, the same throughout]. pauses: (samples, columns). late:
    (samples, tasks), what a task is held up by beyond the moment it could begin. capacities: of each place.
    stays: when each begins, for what goes stale between two.
    arose: (samples, tasks); None: all did. What did not arise passes at once and takes nobody's time.
    returns: times of all samples; inf where the hours are used up.
    """
    n = lengths.shape[0]
    starts, ends = np.zeros_like(lengths), np.zeros_like(lengths)
    holder = np.full(lengths.shape, -1, dtype=np.int16)
    free = np.zeros((people, n))
    last = np.full((people, n), -1, dtype=np.int16)
    units = [np.zeros((n, c)) for c in capacities]
    holding = [np.full((n, c), -1, dtype=np.int16) for c in capacities]
    rows = np.arange(n)
    for link in links:
        k = link.number
        ready, by = np.full(n, link.earliest), np.full(n, -1, dtype=np.int16)

        def held(
            until: Array, task: NDArray[np.int16] | int, ready: Array = ready, by: NDArray[np.int16] = by
        ) -> None:
            longer = until > ready
            np.copyto(ready, until, where=longer)
            np.copyto(by, task, where=longer, casting="unsafe")

        for j, column in zip(link.before, link.lags, strict=True):
            held(ends[:, j] if column < 0 else ends[:, j] + pauses[:, column], j)
        came = None if arose is None or arose[:, k].all() else arose[:, k]
        passes = (ready.copy(), by.copy())
        for w in link.who:
            held(free[w], last[w])
        taken: list[tuple[int, NDArray[np.intp]]] = []
        for place, count in link.uses:
            if count == 1:
                chosen = units[place].argmin(axis=1)[:, None]
            else:
                chosen = np.argsort(units[place], axis=1, kind="stable")[:, :count]
            freest = chosen[:, -1]
            held(units[place][rows, freest], holding[place][rows, freest])
            taken.append((place, chosen))
        begin = ready + late[:, k]
        if link.there is not None:
            begin = np.maximum(begin, link.there)
        start, end = link.hours.place(begin, lengths[:, k])
        if stays is not None and link.stale:
            stay, anew = np.searchsorted(stays, start, "right"), lengths[:, k].copy()
            for j in link.stale:
                anew += np.where(stay != np.searchsorted(stays, ends[:, j], "right"), lengths[:, j], 0.0)
            start, end = link.hours.place(begin, anew)
        rows_here = rows
        if came is not None:
            rows_here = np.flatnonzero(came)
            start, end = np.where(came, start, passes[0]), np.where(came, end, passes[0])
            by = np.where(came, by, passes[1])
        starts[:, k], ends[:, k], holder[:, k] = start, end, by
        for w in link.who:
            free[w][rows_here] = end[rows_here]
            last[w][rows_here] = k
        for place, chosen in taken:
            at = rows_here[:, None], chosen[rows_here]
            units[place][at] = end[rows_here, None]
            holding[place][at] = k
    return Passed(starts, ends, holder)
