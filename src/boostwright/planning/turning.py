"""Until when there is a way back: the last moment at which turning back or shutting up still works out.

Both are read off the runs of the plan, moment by moment; neither is a fixed time.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.library.open_things import OpenThing, open_things
from boostwright.planning.calendar import Calendar, hands_of
from boostwright.planning.problem import Window
from boostwright.planning.schedule.draws import drawn, stratified
from boostwright.planning.schedule.hours import joined, shared
from boostwright.planning.schedule.sampling import Samples
from boostwright.planning.scope import AT_THE_CAR
from boostwright.planning.task import Effort, Task

__all__ = ["HandClock", "Turning", "WorkClock", "last_safe", "turning_of"]

Array = NDArray[np.float64]

STEP = 900.0  # moments that are tried [s]
ROWS = 2500  # runs that it is read off; their odds are sure to one in a hundred


class Turning(NamedTuple):
    """back: the last moment at which the car can still be put back as it was before the end, with `share`
    probability [s from zero]; None where there is no such moment. shut: likewise for shutting it up safely.
    moments, back_odds, shut_odds: what they were read off. last_point: the median moment from which there is
    no way back at all [s].
    """

    share: float
    back: float | None
    shut: float | None
    last_point: float
    moments: Array
    back_odds: Array
    shut_odds: Array


class WorkClock:
    """Working time counted through some windows, and back."""

    def __init__(self, windows: Sequence[Window]) -> None:
        rows = joined(windows)
        self._time = np.array([t for w in rows for t in w], dtype=np.float64)
        lengths = np.array([w.end - w.start for w in rows], dtype=np.float64)
        worked = np.concatenate([[0.0], np.cumsum(lengths)])
        self._worked = np.repeat(worked, 2)[1:-1] if rows else np.zeros(0)
        self._starts = np.array([w.start for w in rows], dtype=np.float64)
        self._sums = worked

    def worked(self, t: Array) -> Array:
        """Working time before each moment [s]."""
        return np.interp(t, self._time, self._worked) if self._time.size else np.zeros_like(t)

    def after(self, t: Array, work: Array) -> Array:
        """When some work that begins at t is done [s]; inf where the windows end before."""
        goal = self.worked(t) + work
        if not self._time.size:
            return np.where(work > 0.0, math.inf, t)
        k = np.searchsorted(self._sums, goal - 1e-6, side="left") - 1
        k = np.clip(k, 0, len(self._starts) - 1)
        ends = self._starts[k] + goal - self._sums[k]
        ends = np.where(goal > self._sums[-1] + 1e-6, math.inf, ends)
        return np.where(work <= 0.0, t, ends)


class HandClock:
    """Work of several people counted through the windows of each, and back: two who are there do two hours'
    work in one.
    """

    def __init__(self, people: Sequence[Sequence[Window]]) -> None:
        self._time = np.unique([t for rows in people for w in rows for t in w] or [0.0])
        self._worked = np.zeros_like(self._time)
        for rows in people:
            self._worked += WorkClock(rows).worked(self._time)

    def after(self, t: Array, work: Array) -> Array:
        """When some work that begins at t is done [s]; inf where the windows end before."""
        if len(self._time) < 2:
            return np.where(work > 0.0, math.inf, t)
        goal = np.interp(t, self._time, self._worked) + work
        k = np.clip(np.searchsorted(self._worked, goal - 1e-6, side="left"), 1, len(self._time) - 1)
        rise = self._worked[k] - self._worked[k - 1]
        part = np.divide(goal - self._worked[k - 1], rise, out=np.ones_like(goal), where=rise > 0.0)
        ends = self._time[k - 1] + np.clip(part, 0.0, 1.0) * (self._time[k] - self._time[k - 1])
        ends = np.where(goal > self._worked[-1] + 1e-6, math.inf, ends)
        return np.where(work <= 0.0, t, ends)


def turning_of(
    samples: Samples,
    tasks: Sequence[Task],
    calendar: Calendar,
    now: float,
    *,
    done: Sequence[str] = (),
    share: float = 0.8,
    seed: int = 1,
) -> Turning:
    """The last moments to turn back and to shut the car.

    samples: runs of the plan. tasks: the plan's, done ones among them. done: keys in the order in which they
    were done before `now` [s]. share: with which probability it must work out. The work back is done by the
    people of the calendar while each of them is there; a second person whom nobody has named does not count.
    """
    samples = _thinned(samples)
    column = {key: k for k, key in enumerate(samples.tasks)}
    rows = samples.ends.shape[0]
    moments = np.arange(max(now, calendar.start), calendar.end + 1.0, STEP)
    things = [
        t for t in open_things().things.values() if any(t.opens_at(task.key, task.opens) for task in tasks)
    ]
    openings = {t.key: _spans(t, tasks, column, samples, frozenset(done)) for t in things}
    things = [t for t in things if openings[t.key]]
    u, _ = stratified(rows, 2 * max(1, len(things)), seed + 101)
    undo = [drawn(Effort(*t.undo_time), u[:, 2 * k]) * samples.pace for k, t in enumerate(things)]
    close = [drawn(Effort(*t.close_time), u[:, 2 * k + 1]) * samples.pace for k, t in enumerate(things)]
    no_way = _no_way_back(tasks, column, samples, frozenset(done))
    finish = samples.finish
    hours = joined([*calendar.evenings, *calendar.days])
    clock = WorkClock(hours)
    hands = HandClock([shared(joined(w.windows), hours) for w in hands_of(calendar)] or [hours])
    back_odds, shut_odds = np.zeros(len(moments)), np.zeros(len(moments))
    for i, moment in enumerate(moments):
        work, lag, shutting = np.zeros(rows), np.zeros(rows), np.zeros(rows)
        longest = np.zeros(rows)
        for k, thing in enumerate(things):
            stands = _stands(openings[thing.key], moment)
            work += np.where(stands, undo[k], 0.0)
            longest = np.maximum(longest, np.where(stands, undo[k], 0.0))
            lag = np.maximum(lag, np.where(stands, thing.undo_lag, 0.0))
            shutting += np.where(stands, close[k], 0.0)
        start = np.full(rows, moment)
        whole = np.maximum(hands.after(start, work), clock.after(start, longest)) + lag
        back_odds[i] = np.mean(((whole <= calendar.end) & (no_way > moment)) | (finish <= moment))
        shut_odds[i] = np.mean((moment + shutting <= calendar.end) | (finish <= moment))
    over = np.array([np.mean(finish <= moment) for moment in moments])
    return Turning(
        share, last_safe(moments, back_odds, share, over), last_safe(moments, shut_odds, share, over),
        float(np.quantile(no_way, 0.5, method="higher")), moments, back_odds, shut_odds,
    )  # fmt: skip


def _thinned(samples: Samples) -> Samples:
    """At most `ROWS` of the runs, evenly taken."""
    step = max(1, math.ceil(samples.ends.shape[0] / ROWS))
    return dataclasses.replace(
        samples, starts=samples.starts[::step], ends=samples.ends[::step], arose=samples.arose[::step],
        lengths=samples.lengths[::step], own=samples.own[::step], holder=samples.holder[::step],
        pace=samples.pace[::step], replicate=samples.replicate[::step],
        pauses=(samples.pauses[0], samples.pauses[1][::step]),
        held=(samples.held[0], samples.held[1][::step]),
    )  # fmt: skip


def last_safe(moments: Array, odds: Array, share: float, over: Array | None = None) -> float | None:
    """The last moment at which the odds reach the share, after which they never do again; None for none.

    A dip between does not end it: whoever turns back after the dip is as safe. over: share of the runs that
    are done by then; where that alone reaches the share there is nothing to turn back from, and the moment
    does not count.
    """
    good = odds >= share
    if over is not None:
        good &= over < share
    found = np.flatnonzero(good)
    return float(moments[found[-1]]) if found.size else None


Span = tuple[Array, bool]
"""When something happens in each run [s], and whether it opens."""


def _spans(
    thing: OpenThing, tasks: Sequence[Task], column: dict[str, int], samples: Samples, done: frozenset[str]
) -> list[Span]:
    """When tasks open the thing (as they begin) and close it (as they end)."""
    found: list[Span] = []
    rows = samples.ends.shape[0]
    for task in tasks:
        shuts, begins = thing.closes_at(task.key, task.closes), thing.opens_at(task.key, task.opens)
        for does, opens in ((shuts, False), (begins, True)):
            if not does:
                continue
            if task.key in done:
                found.append((np.full(rows, -math.inf), opens))
            elif task.key in column:
                k = column[task.key]
                times = samples.starts[:, k] if opens else samples.ends[:, k]
                found.append((np.where(samples.arose[:, k], times, math.inf), opens))
    return found


def _stands(spans: Sequence[Span], moment: float) -> NDArray[np.bool_]:
    """Whether it stands open then: it was opened since it was last closed."""
    size = len(spans[0][0]) if spans else 0
    last_open = np.full(size, -math.inf)
    last_shut = np.full(size, -math.inf)
    ever = np.zeros(size, dtype=np.bool_)
    for times, opens in spans:
        came = times <= moment
        if opens:
            ever |= came
            last_open = np.where(came, np.maximum(last_open, times), last_open)
        else:
            last_shut = np.where(came, np.maximum(last_shut, times), last_shut)
            ever &= ~(came & ~np.isfinite(times))  # both done before: in the order of the plan
    return np.asarray(ever & ((last_open > last_shut) | ~np.isfinite(last_shut)))


def _no_way_back(
    tasks: Sequence[Task], column: dict[str, int], samples: Samples, done: frozenset[str]
) -> Array:
    """When the first new part goes onto the car, from which on it cannot be put back in passing [s]."""
    blocked = open_things().states["put_back"].before
    found = np.full(samples.ends.shape[0], math.inf)
    for task in tasks:
        if task.phase not in blocked or task.place not in AT_THE_CAR:
            continue
        if task.key in done:
            return np.full(samples.ends.shape[0], -math.inf)
        if task.key in column:
            k = column[task.key]
            found = np.minimum(found, np.where(samples.arose[:, k], samples.starts[:, k], math.inf))
    return found
