"""The plan of a problem: an order by rule at once, a search for a shorter one, a bound that nothing beats."""

from __future__ import annotations

import dataclasses
import math
import time
from collections.abc import Callable, Sequence
from typing import Final

import numpy as np

from boostwright.errors import NoPlan
from boostwright.planning.problem import Problem, Schedule, Slot, Window
from boostwright.planning.schedule.bounds import chain_bound, lower_bound
from boostwright.planning.schedule.chain import Link, passed
from boostwright.planning.schedule.frames import Frames
from boostwright.planning.schedule.model import GRID, Class, Model, prepared
from boostwright.planning.schedule.rules import Order, by_list, finish, kept_stays, rules
from boostwright.planning.schedule.search import searched

__all__ = ["schedule"]

_TRIES: Final = 24  # orders by rules with a seeded stir


def schedule(
    problem: Problem,
    *,
    seconds: float = 20.0,
    seed: int = 1,
    progress: Callable[[Schedule], None] | None = None,
    early: bool = True,
    sharp: bool = True,
) -> Schedule:
    """The shortest plan found, with the bound that no plan beats, on whole minutes.

    problem: tasks, people, places; a task lasts the mean of its three points. seconds: the budget of the
    search, on two free cores; it is counted in the solver's own work and not by the clock, so that the same
    problem gives the same plan; only where a slow or busy machine takes five times as long does the clock
    end it (`Schedule.repeatable`). 0: the rule alone. seed: of the search. progress: is handed every better
    plan as it is found, the rule's first. early: once the finish stands, a fifth of the budget goes into an
    order in which what cures, what is critical and what is unsure begins early. sharp: without a search, work
    out the sharp bound all the same; else the bound is that of the longest chain.

    Raises NoPlan where a task can never be manned or the hours are used up, OutOfRange for tasks that wait
    for each other in a circle.
    """
    began = time.perf_counter()
    model = prepared(problem)
    if not model.tasks:
        return Schedule((), 0.0, 0.0, proven=True, seconds=time.perf_counter() - began, method="heuristic")
    first, kept = _first(model, seed)
    if len(kept) < sum(map(len, model.follows)):  # what lies apart in every order is done anew: `sampled`
        rows = tuple(tuple(j for j in row if (i, j) in kept) for i, row in enumerate(model.follows))
        model = dataclasses.replace(model, follows=rows)
    bound = chain_bound(model, finish(first))

    def answer(order: Order, least: int, method: str, *, by_count: bool = True) -> Schedule:
        slots = _slots(model, order)
        ends = max(slot.end for slot in slots)
        why = bound.why if least <= bound.finish else "people, places and hours together, by search"
        return Schedule(
            slots,
            ends,
            min(least * GRID, ends),
            proven=least * GRID >= ends,
            seconds=time.perf_counter() - began,
            bound_by=why,
            method=method,
            repeatable=by_count,
        )

    started = answer(first, bound.finish, "heuristic")
    if progress is not None:
        progress(started)
    if seconds <= 0.0 and not sharp:
        return started
    frames = Frames(model)
    bound = lower_bound(frames, bound, finish(first))
    if seconds <= 0.0:
        return answer(first, bound.finish, "heuristic")
    found = searched(
        model,
        frames,
        first,
        bound,
        _weights(model) if early else None,
        seconds,
        seed,
        None if progress is None else lambda order: progress(answer(order, bound.finish, "search")),
    )
    return answer(found.order, found.bound, "search", by_count=found.by_count)


def _first(model: Model, seed: int) -> tuple[Order, frozenset[tuple[int, int]]]:
    """The best of the orders by rules; some of them stirred. returns: with the pairs that it keeps in one
    stay, of those that should be; the most count first.
    """
    rng = np.random.default_rng(seed)
    lists = [np.array(ranks, float) for ranks in rules(model)]
    size = max(1.0, 0.1 * len(model.tasks))
    tries = [
        *lists,
        *(lists[k % len(lists)] + rng.normal(0.0, size, len(model.tasks)) for k in range(_TRIES)),
    ]
    best: tuple[Order, frozenset[tuple[int, int]]] | None = None
    trouble: NoPlan | None = None
    for ranks in tries:
        try:
            order = by_list(model, ranks.tolist())
        except NoPlan as mishap:
            trouble = mishap
            continue
        kept = kept_stays(model, order)
        if best is None or (-len(kept), finish(order)) < (-len(best[1]), finish(best[0])):
            best = order, kept
    if best is None:
        assert trouble is not None
        raise trouble
    return best


def _weights(model: Model) -> list[float]:
    """How much it counts that a task begins early: what cures after it, safety, and how unsure it is [-]."""
    found = []
    for i, task in enumerate(model.tasks):
        pause = max((lag for _, lag in model.behind[i]), default=0)
        spread = (task.effort.high - task.effort.low) / 3600.0
        found.append(
            0.1 + min(pause * GRID / 3600.0, 8.0) + (2.0 if task.critical else 0.0) + min(spread, 8.0)
        )
    return found


def _slots(model: Model, order: Order) -> tuple[Slot, ...]:
    """The order with people by name, every task moved as early as the order lets it."""
    order = sorted(order, key=lambda row: (row[1], row[0]))
    who = _named(model, order)
    people = [name for c in model.classes for name in c.names]
    place = {name: k for k, name in enumerate(model.places)}
    pauses = [0.0]
    links = []
    for i, begins, _, mode in order:
        columns = []
        for _, lag in model.before[i]:
            columns.append(-1 if not lag else len(pauses))
            if lag:
                pauses.append(float(lag))
        links.append(
            Link(
                i,
                tuple(j for j, _ in model.before[i]),
                tuple(columns),
                () if i in model.crews else tuple(people.index(name) for name in who[i]),
                tuple((place[p], units) for p, units in model.uses[i].items()),
                mode.hours,
                _no_sooner(model, i, begins),
            )
        )
    lengths = np.array([model.steps], float)
    done = passed(
        links, lengths, np.array([pauses]), np.zeros_like(lengths), list(model.places.values()), len(people)
    )
    hours = {i: mode.hours for i, _, _, mode in order}
    slots = []
    for i, task in enumerate(model.tasks):
        start, end = float(done.starts[0, i]), float(done.ends[0, i])
        pieces = tuple(Window(a * GRID, b * GRID) for a, b in hours[i].pieces(start, end))
        slots.append((start, i, Slot(task.key, start * GRID, end * GRID, who[i], pieces)))
    return tuple(slot for _, _, slot in sorted(slots, key=lambda row: row[:2]))


def _no_sooner(model: Model, i: int, start: int) -> float:
    """The earliest start of a task that is moved forward: what others follow keeps to its stay [steps]."""
    stay = next((w.start for w in model.stays if w.start <= start < w.end), 0.0)
    return max(float(model.earliest[i]), stay if model.followed[i] else 0.0)


def _named(model: Model, order: Order) -> list[tuple[str, ...]]:
    """Who does each task: of a class, those who have been free longest, by the crew's entries; what need not
    arise keeps nobody.
    """
    free = [dict.fromkeys(c.names, -math.inf) for c in model.classes]
    found: list[tuple[str, ...]] = [()] * len(model.tasks)
    for i, start, end, mode in order:
        people: list[tuple[str, Class]] = []
        for c, count in enumerate(model.crews.get(i, mode.counts)):
            idle = sorted(free[c], key=lambda name: (free[c][name] > start, free[c][name], name))
            for name in idle[:count]:
                if i not in model.crews:
                    free[c][name] = end
                people.append((name, model.classes[c]))
        found[i] = _by_entry(model.tasks[i].crew, people)
    return found


def _by_entry(crew: Sequence[str], people: Sequence[tuple[str, Class]]) -> tuple[str, ...]:
    """Names in the order of the crew's entries, each able to act as that entry."""
    if not crew:
        return ()
    for k, (name, kind) in enumerate(people):
        if crew[0] in kind.can:
            rest = [*people[:k], *people[k + 1 :]]
            try:
                return (name, *_by_entry(crew[1:], rest))
            except LookupError:
                continue
    raise LookupError(crew[0])
