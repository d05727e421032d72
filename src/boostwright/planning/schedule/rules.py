"""A first order of work by a rule: whoever is free takes the first task of a list that can begin now.

A heuristic: it is quick and never idle without need, and nothing says how far from the best it is. More
people, less work or fewer forerunners can make its plan longer (graham1969).
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from boostwright.errors import NoPlan
from boostwright.planning.schedule.model import Mode, Model, Obstacle

__all__ = ["Order", "by_list", "finish", "kept_stays", "rules"]

Order = list[tuple[int, int, int, Mode]]
"""(number, start, end, mode) of every task, in order of the starts [steps]."""


def rules(model: Model) -> Iterator[Sequence[int]]:
    """Lists to work from, as ranks of the tasks: the lower, the sooner."""
    steps = np.array(model.steps, dtype=float)
    tails = np.array(model.tails, dtype=float) + steps
    after = np.array([len(b) for b in model.behind], dtype=float)
    crews = np.array([sum(m[0].counts) for m in model.modes], dtype=float)
    for key in (
        tails,
        tails + 1e-3 * crews * steps,
        tails * (1.0 + crews),
        after + 1e-6 * tails,
        steps,
        crews * 1e6 + tails,
    ):
        ranks = np.empty(len(steps), dtype=int)
        ranks[np.argsort(-key, kind="stable")] = np.arange(len(steps))
        yield tuple(int(r) for r in ranks)


def by_list(model: Model, ranks: Sequence[int]) -> Order:
    """List scheduling (graham1969): at every moment at which something changes, each task that can begin, by
    its rank, begins if its people are free and there and its places have room. What others follow in the same
    stay begins only where they may still lie in it, and they go before all else.

    Raises NoPlan where the hours are used up before the work is done.
    """
    n = len(model.tasks)
    busy = [0] * len(model.classes)
    room = dict(model.places)
    waits = [len(b) for b in model.before]
    ready = list(model.earliest)
    open_tasks = [i for i in range(n) if not waits[i]]
    running: list[tuple[int, int, Mode]] = []
    ended: dict[int, int] = {}
    needs = _needs(model)
    order_of = [(not model.follows[i] if model.follows else True, ranks[i]) for i in range(n)]
    moments = sorted({ready[i] for i in open_tasks}) or [0]
    found: Order = []
    while len(found) < n:
        if not moments:
            done = {row[0] for row in found}
            left = [task for i, task in enumerate(model.tasks) if i not in done]
            words = (
                f"The hours of the people end before {len(left)} of {n} tasks are done, '{left[0].key}' among"
                " them. Name more hours after the last ones."
            )
            raise NoPlan(words, tuple(Obstacle(t.key, "hours", words, 0.0, t.crew) for t in left))
        now = heapq.heappop(moments)
        while moments and moments[0] == now:
            heapq.heappop(moments)
        again = True
        while again:  # tasks of no length free others at once
            again = False
            for end, i, mode in [r for r in running if r[0] <= now]:
                running.remove((end, i, mode))
                ended[i] = end
                busy = [b - c for b, c in zip(busy, mode.counts, strict=True)]
                for place, units in model.uses[i].items():
                    room[place] += units
                for j, lag in model.behind[i]:
                    waits[j] -= 1
                    ready[j] = max(ready[j], end + lag)
                    if not waits[j]:
                        open_tasks.append(j)
                        if ready[j] > now:
                            heapq.heappush(moments, ready[j])
            for i in sorted((i for i in open_tasks if ready[i] <= now), key=lambda i: order_of[i]):
                if any(room[place] < units for place, units in model.uses[i].items()):
                    continue
                if i in needs and not _stays(model, now, needs[i], ended):
                    if (stay := next((w for w in model.stays if w.start > now), None)) is not None:
                        heapq.heappush(moments, int(stay.start))
                    continue
                chosen, later = _mode(model, i, now, busy)
                if chosen is None:
                    if later < math.inf:
                        heapq.heappush(moments, int(later))
                    continue
                end, mode = chosen
                found.append((i, now, end, mode))
                open_tasks.remove(i)
                running.append((end, i, mode))
                busy = [b + c for b, c in zip(busy, mode.counts, strict=True)]
                for place, units in model.uses[i].items():
                    room[place] -= units
                heapq.heappush(moments, end)
                again |= end == now
    return found


class _Stay(NamedTuple):
    """What a task that others follow in the same stay asks for. need: how long it takes with them, one after
    the other [steps]. waits: what else they wait for, with the pause [steps].
    """

    need: int
    waits: tuple[tuple[int, int], ...]


def _needs(model: Model) -> dict[int, _Stay]:
    """By task, those that others follow in the same stay."""
    found: dict[int, _Stay] = {}
    for j in range(len(model.tasks) - 1, -1, -1):
        if not (model.follows and model.followed[j]):
            continue
        lags = {i: dict(model.before[i]).get(j, 0) for i in model.followed[j]}
        behind = [lag + (found[i].need if i in found else model.steps[i]) for i, lag in lags.items()]
        group = _reached(j, model.followed)
        later = _reached(j, [[i for i, _ in row] for row in model.behind])
        waits = [(k, lag) for i in group - {j} for k, lag in model.before[i] if k not in later]
        found[j] = _Stay(model.steps[j] + max(behind), tuple(waits))
    return found


def _reached(start: int, links: Sequence[Sequence[int]]) -> set[int]:
    found, stack = {start}, [start]
    while stack:
        for i in links[stack.pop()]:
            if i not in found:
                found.add(i)
                stack.append(i)
    return found


def _stays(model: Model, now: int, asked: _Stay, ended: Mapping[int, int]) -> bool:
    """Whether all that follow a task in the same stay may lie in the one that is now: there is time, and what
    else they wait for is done.
    """
    stay = next((w for w in model.stays if w.start <= now < w.end), None)
    if stay is None or now + asked.need > stay.end:
        return False
    return all(k in ended and ended[k] + lag < stay.end for k, lag in asked.waits)


def kept_stays(model: Model, order: Order) -> frozenset[tuple[int, int]]:
    """Which pairs of (task, what it follows) lie in one stay in an order."""
    starts = {i: start for i, start, _, _ in order}
    return frozenset(
        (i, j)
        for i, others in enumerate(model.follows)
        for j in others
        if any(w.start <= starts[i] < w.end and w.start <= starts[j] < w.end for w in model.stays)
    )


def _mode(model: Model, i: int, now: int, busy: Sequence[int]) -> tuple[tuple[int, Mode] | None, float]:
    """The way to man a task now that ends first, with its end; else the next moment at which one opens."""
    best: tuple[int, Mode] | None = None
    later = math.inf
    for mode in model.modes[i]:
        start, end = mode.hours.fit(now, model.steps[i])
        if start > now:
            later = min(later, start)
            continue
        free = all(len(c.names) - b >= k for c, b, k in zip(model.classes, busy, mode.counts, strict=True))
        if free and (best is None or end < best[0]):
            best = int(end), mode
    return best, later


def finish(order: Order) -> int:
    """The end of the last task [steps]."""
    return max((end for _, _, end, _ in order), default=0)
