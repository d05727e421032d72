"""When the work may be finished: one order of work carried out many times, with other durations each time."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import special

from boostwright.errors import OutOfRange
from boostwright.planning.problem import Problem, Schedule, Slot
from boostwright.planning.schedule.chain import Link, passed
from boostwright.planning.schedule.draws import drawn, stratified
from boostwright.planning.schedule.hours import SHORT_BREAK, Hours, joined, shared
from boostwright.planning.schedule.model import (
    hours_of,
    planned_seconds,
    stays_of,
    uses_of,
    waits_of,
    when_there,
)
from boostwright.planning.task import Effort, Lag, Task

__all__ = ["HOME", "Delay", "Draws", "Pace", "Samples", "finish_times", "sampled"]

Array = NDArray[np.float64]

_PAUSE: Final = Effort(0.9, 1.0, 1.5)  # of what is stated: cures and cool-downs; common practice, no source


class Pace(NamedTuple):
    """How much longer than the three points somebody takes, in all their work alike.

    median: one half of the builders is quicker [-]. spread: standard deviation of its logarithm [-].
    """

    median: float = 1.0
    spread: float = 0.25


HOME: Final = Pace()
_SHOP: Final = Pace(1.0, 0.10)
_STRIDE: Final = 7919  # rows by which the draws of one seed lie off those of the next


class Draws(NamedTuple):
    """What holds a task up, drawn beforehand together with that of other tasks; a row is one case.

    there: before when it cannot begin [s from `since`, else from the plan's zero; -inf: it can]. again: how
    long it waits on top of the moment at which it could begin [s]; both (rows,).
    """

    there: Array
    again: Array
    since: datetime | None = None

    def from_zero(self, zero: datetime) -> Draws:
        """The same counted from a plan's zero."""
        if self.since is None:
            return self
        return Draws(self.there + (self.since - zero).total_seconds(), self.again)

    def of_runs(self, samples: int, seed: int) -> Draws:
        """The rows of so many runs, in turn; delays with as many rows stay in step with each other."""
        rows = (np.arange(samples) + _STRIDE * seed) % len(self.there)
        return Draws(self.there[rows], self.again[rows])


class Delay(NamedTuple):
    """Something that may hold a task up when it could begin, such as a part that is not there.

    odds: that it does [-]. wait: how long then [s]. draws: taken instead of these two, where there are any.
    """

    task: str
    odds: float
    wait: Effort
    draws: Draws | None = None


@dataclass(frozen=True, slots=True)
class Samples:
    """Many runs of one order of work; times in s from the plan's zero, inf where the hours are used up.

    tasks: keys, one for each column. starts, ends, lengths: (samples, tasks); lengths: hands-on time; own:
    the same before anybody's pace. arose: whether the task came up. holder: the column of the task that held
    it up longest (-1: none). pace: factor of the builder, (samples,). pauses: keys 'earlier > later' with
    their drawn lengths, (samples, pauses). held: what each delay costs where its task could begin as planned,
    (samples, delays), with the tasks' keys. replicate: which set of draws each sample is of; sets are
    independent of each other.
    """

    tasks: tuple[str, ...]
    starts: Array
    ends: Array
    lengths: Array
    own: Array
    arose: NDArray[np.bool_]
    holder: NDArray[np.int16]
    pace: Array
    pauses: tuple[tuple[str, ...], Array]
    held: tuple[tuple[str, ...], Array]
    replicate: NDArray[np.int64]

    @property
    def finish(self) -> Array:
        """The end of the last task, (samples,) [s from zero]."""
        return np.asarray(self.ends.max(axis=1, initial=0.0))


def finish_times(
    problem: Problem,
    order: Schedule,
    *,
    samples: int = 10000,
    seed: int = 1,
    pace: Pace = HOME,
    delays: Sequence[Delay] = (),
) -> Array:
    """When all is done, (samples,) [s from zero]; `sampled` says more and explains the arguments."""
    return sampled(problem, order, samples=samples, seed=seed, pace=pace, delays=delays).finish


def sampled(
    problem: Problem,
    order: Schedule,
    *,
    samples: int = 10000,
    seed: int = 1,
    pace: Pace = HOME,
    delays: Sequence[Delay] = (),
) -> Samples:
    """Carry the order out many times.

    Every task keeps its people, and everybody and every place serve the tasks in the order of the plan;
    nobody looks for other work while something is late, so that it errs towards late. Hands-on time is drawn
    from the three points (`draws.shape_of`) and multiplied by the builder's pace, which all tasks of a run
    share (those at the shop have one of their own, spread 0.10); tasks with odds arise or do not; pauses last
    0.9 to 1.5 times what is stated, 1.0 being the likeliest, or as their own three points say; what a task
    must follow in the same stay is done anew where a night has come between. Hours of work are kept to the
    second.

    pace: of the builder. delays: what may be missing.

    Raises OutOfRange where the order leaves a task out, names somebody who is not among the people, or a
    delay names no task of the order.
    """
    if samples < 1:
        raise OutOfRange(f"{samples} samples are none; ask for one or more.")
    links, tasks, pauses = _links(problem, order)
    column = {task.key: k for k, task in enumerate(tasks)}
    lost = [d.task for d in delays if d.task not in column]
    if lost:
        raise OutOfRange(f"A delay names '{lost[0]}', which is no task of this plan.")
    n, p, d = len(tasks), len(pauses), len(delays)
    u, replicate = stratified(samples, 2 + 2 * n + p + 2 * d, seed)
    home, shop = (q.median * np.exp(q.spread * special.ndtri(u[:, k])) for k, q in enumerate((pace, _SHOP)))
    own, lengths = np.empty((samples, n)), np.empty((samples, n))
    arose = np.empty((samples, n), dtype=np.bool_)
    for k, task in enumerate(tasks):
        arose[:, k] = u[:, 2 + k] < task.odds if task.odds < 1.0 else True
        own[:, k] = np.where(arose[:, k], drawn(task.effort, u[:, 2 + n + k]), 0.0)
        lengths[:, k] = own[:, k] * (shop if task.place == "shop" else home)
    rest = 2 + 2 * n
    lags = np.stack(
        [np.zeros(samples), *(drawn(_pause(p), u[:, rest + k]) for k, (_, _, p) in enumerate(pauses))], axis=1
    )
    rest += p
    held = np.zeros((samples, d))
    late = np.zeros((samples, n))
    planned = {slot.task: slot.start for slot in order.slots}
    for k, delay in enumerate(delays):
        at = column[delay.task]
        if delay.draws is None:
            wait = np.where(u[:, rest + 2 * k] < delay.odds, drawn(delay.wait, u[:, rest + 2 * k + 1]), 0.0)
            held[:, k] = wait
        else:
            there, wait, _ = delay.draws.of_runs(samples, seed)
            links[at] = dataclasses.replace(links[at], there=there)
            held[:, k] = np.maximum(wait, there - planned[delay.task])
        late[:, at] += wait
    capacities, people = list(problem.places.values()), len(problem.workers)
    stays = np.array([stay.start for stay in stays_of(problem.workers)])
    done = passed(links, lengths, lags, late, capacities, people, arose, stays)
    return Samples(
        tuple(column),
        done.starts,
        done.ends,
        lengths,
        own,
        arose,
        done.holder,
        home,
        (tuple(f"{a} > {b}" for a, b, _ in pauses), lags[:, 1:]),
        (tuple(delay.task for delay in delays), held),
        replicate,
    )


def _pause(lag: Lag) -> Effort:
    """How long a pause may be: its own three points, else 0.9 to 1.5 times what is stated."""
    if lag.high > lag.low:
        likely = (6.0 * lag.seconds - lag.low - lag.high) / 4.0
        return Effort(lag.low, min(max(likely, lag.low), lag.high), lag.high)
    return Effort(*(share * lag.seconds for share in (_PAUSE.low, _PAUSE.likely, _PAUSE.high)))


def _links(problem: Problem, order: Schedule) -> tuple[list[Link], list[Task], list[tuple[str, str, Lag]]]:
    """The order as links, its tasks in that order, and the pauses (earlier, later, the pause)."""
    known = {task.key: task for task in problem.tasks if task.key not in problem.done}
    slots = {slot.task: slot for slot in order.slots}
    missing = known.keys() - slots.keys()
    if missing:
        raise OutOfRange(f"The order of work leaves out {', '.join(sorted(missing))}; plan again.")
    keys = _sequence(known, slots)
    number = {key: k for k, key in enumerate(keys)}
    people = {worker.name: k for k, worker in enumerate(problem.workers)}
    places = {name: k for k, name in enumerate(problem.places)}
    pauses: list[tuple[str, str, Lag]] = []
    links = []
    for key in keys:
        task, slot = known[key], slots[key]
        waits = waits_of(task)
        longest = {lag.task: lag for lag in sorted(task.lags, key=lambda g: g.seconds)}
        before, columns, earliest = [], [], max(0.0, problem.released.get(key, 0.0))
        for other, lag in waits.items():
            if other not in number:
                if lag > 0.0:
                    earliest = max(earliest, problem.done.get(other, 0.0) + lag)
                continue
            before.append(number[other])
            if lag > 0.0:
                pauses.append((other, key, longest[other]))
            columns.append(len(pauses) if lag > 0.0 else -1)
        strangers = [name for name in slot.who if name not in people]
        if strangers:
            raise OutOfRange(
                f"The order of work gives '{key}' to {strangers[0]}, who is not among the people."
            )
        links.append(
            Link(
                number[key],
                tuple(before),
                tuple(columns),
                tuple(people[name] for name in slot.who),
                tuple((places[p], units) for p, units in uses_of(problem, task).items()),
                _hours(problem, task, slot),
                earliest,
                tuple(number[k] for k in task.same_stay if k in number),
            )
        )
    return links, [known[key] for key in keys], pauses


def _sequence(tasks: dict[str, Task], slots: dict[str, Slot]) -> list[str]:
    """Keys by their start; those that start together, each behind what it waits for."""
    rank: dict[str, int] = {}

    def visit(key: str) -> None:
        stack = [key]
        while stack:
            top = stack[-1]
            open_ones = [k for k in waits_of(tasks[top]) if k in tasks and k not in rank]
            if top in rank or not open_ones:
                rank.setdefault(top, len(rank))
                stack.pop()
            else:
                stack += open_ones

    for key in sorted(tasks, key=lambda k: (slots[k].start, slots[k].end)):
        visit(key)
    return sorted(tasks, key=lambda k: (slots[k].start, rank[k]))


def _hours(problem: Problem, task: Task, slot: Slot) -> Hours:
    """When the people of a slot can work on it, with its place open."""
    if not slot.who:
        return Hours.always()
    workers = problem.workers
    chosen = [joined(w.windows) for w in workers if w.name in slot.who]
    others = [joined(w.windows) for w in workers if w.name not in slot.who]
    windows = when_there(chosen, others, alone=not task.critical)
    if task.place in problem.open:
        windows = shared(windows, joined(problem.open[task.place]))
    length = planned_seconds(dataclasses.replace(task, odds=1.0))  # where it arises
    hours = hours_of(windows, length, divided=not task.in_one_go, short=SHORT_BREAK, over=True)
    return hours or Hours(windows, bridge=math.inf)
