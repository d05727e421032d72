"""The search for the shortest plan: a constraint model of people, places, pauses, hours (OR-Tools CP-SAT)."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

import numpy as np

from boostwright.planning.schedule.bounds import Bound
from boostwright.planning.schedule.hours import Hours
from boostwright.planning.schedule.model import Model
from boostwright.planning.schedule.rules import Order, finish

__all__ = ["Found", "searched"]

_RATE: Final = 0.5  # the solver's own count of work in a second on two free cores, about
_PATIENCE: Final = 3.0  # seconds by the clock for each second of the budget, where the machine is busy
_TURNS: Final = ((1, 0.25), (2, 0.55))
"""Threads and share of the budget: one is quick where one way of searching will do, two try more ways. Never
as many as the machine has: with another number it tries other things and may find another plan as long.
"""
_SECOND: Final = 0.2  # the rest is kept for the order at a fixed finish
_EARLY: Final = 4.0  # and no more than this [s]
_WEIGHTS: Final = 100


class Found(NamedTuple):
    """An order and the solver's bound [steps]. by_count: the search ended by its own count."""

    order: Order
    bound: int
    by_count: bool


@dataclass(frozen=True, slots=True)
class _Variables:
    """What stands for a task in the solver's model. manned: a literal for each way to man it."""

    start: Any
    size: Any
    end: Any
    manned: tuple[Any, ...]


def searched(
    model: Model,
    first: Order,
    bound: Bound,
    weights: Sequence[float] | None,
    seconds: float,
    seed: int,
    better: Callable[[Order], None] | None = None,
) -> Found:
    """The best order that the budget finds, never worse than the first.

    weights: of each task's start once the finish stands; None: any order of that finish will do. seconds: of
    two free cores.
    """
    from ortools.sat.python import cp_model

    began = time.perf_counter()
    cp = cp_model.CpModel()
    upper = finish(first)
    variables = [_task(cp, model, i, upper) for i in range(len(model.tasks))]
    end = cp.new_int_var(bound.finish, upper, "finish")
    for i, task in enumerate(variables):
        for j, lag in model.before[i]:
            cp.add(task.start >= variables[j].end + lag)
        if not model.behind[i]:
            cp.add(end >= task.end)
    _people(cp, model, variables)
    _places(cp, model, variables)
    order, least, by_count = first, bound.finish, True
    watch = None if better is None else _watcher(cp_model, model, variables, better)
    for threads, share in _TURNS:
        if finish(order) <= least:
            break
        _hint(cp, model, variables, order, end)
        cp.add(end >= least)
        cp.minimize(end)
        limit = _PATIENCE * seconds * share
        solver = _solver(cp_model, seconds * share, seed, threads, limit=limit)
        status = solver.solve(cp, watch)
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            order = _read(model, variables, solver)
            least = max(least, round(solver.best_objective_bound))
        by_count &= status == cp_model.OPTIMAL or solver.wall_time < limit - 0.05
    left = _PATIENCE * seconds - (time.perf_counter() - began)
    if left > 0.0 and weights is not None:
        cp.add(end <= finish(order))
        _hint(cp, model, variables, order, end)
        whole = [round(w * _WEIGHTS) for w in weights]
        cp.minimize(sum(w * v.start for w, v in zip(whole, variables, strict=True)))
        solver = _solver(cp_model, min(seconds * _SECOND, _EARLY), seed, 1, limit=left)
        status = solver.solve(cp)
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            order = _read(model, variables, solver)
        by_count &= status == cp_model.OPTIMAL or solver.wall_time < left - 0.05
    return Found(order, min(least, finish(order)), by_count)


def _solver(cp_model: Any, count: float, seed: int, threads: int, *, limit: float) -> Any:
    """A solver whose threads wait for each other and whose budget is a count, so that it repeats itself."""
    solver = cp_model.CpSolver()
    solver.parameters.random_seed = seed
    solver.parameters.num_workers = threads
    solver.parameters.interleave_search = True
    solver.parameters.max_deterministic_time = max(count * _RATE, 0.01)
    solver.parameters.max_time_in_seconds = limit
    return solver


def _elongations(hours: Hours, length: int, first: int, last: int) -> dict[int, list[list[int]]]:
    """By how much breaks lengthen work of a length, and for which starts: {steps: [[from, to], ...]}."""
    if not np.isfinite(hours.ends[-1]):
        return {0: [[first, last]]}
    edges = {float(s) for s in hours.starts} | {float(e) for e in hours.ends}
    # the starts from which the work ends just at the end of a window
    marks = hours.worked(hours.ends) - length
    edges |= {hours.fit(t, 0.0)[0] for t in _moments(hours, marks)}
    edges |= {e + 1.0 for e in edges}
    moments = np.array(sorted(e for e in edges | {float(first)} if first <= e <= last))
    starts, ends = hours.place(moments, float(length))
    found: dict[int, list[list[int]]] = {}
    for k, t in enumerate(moments):
        if starts[k] != t or not np.isfinite(ends[k]):
            continue
        until = int(moments[k + 1]) - 1 if k + 1 < len(moments) else last
        found.setdefault(int(ends[k] - t) - length, []).append([int(t), until])
    return found


def _moments(hours: Hours, worked: Any) -> list[float]:
    """The moments at which so much time at work has passed."""
    inside = worked[worked >= 0.0]
    return [float(t) for t in np.interp(inside, *_curve(hours))]


def _curve(hours: Hours) -> tuple[Any, Any]:
    done = hours.worked(hours.ends)
    before = np.concatenate([[0.0], done[:-1]])
    return np.stack([before, done], 1).ravel(), np.stack([hours.starts, hours.ends], 1).ravel()


def _task(cp: Any, model: Model, i: int, upper: int) -> _Variables:
    """Start, end and the ways to man one task, with the starts that the hours leave it."""
    from ortools.sat.python import cp_model

    length, modes = model.steps[i], model.modes[i]
    first, last = model.heads[i], upper - model.tails[i] - length
    start = cp.new_int_var(first, max(first, last), f"start {i}")
    manned = tuple(cp.new_bool_var(f"manned {i} {m}") for m in range(len(modes)))
    cp.add_exactly_one(manned)
    alike: dict[int, list[int]] = {}
    for m, mode in enumerate(modes):
        same = next((k for k in alike if _same(modes[k].hours, mode.hours)), m)
        alike.setdefault(same, []).append(m)
    chosen, longer, extras = [], [], [0]
    for k, group in alike.items():
        options = []
        for extra, spans in _elongations(modes[k].hours, length, first, max(first, last)).items():
            option = cp.new_bool_var(f"rests {i} {k} {extra}")
            domain = cp_model.Domain.from_intervals(spans)
            cp.add_linear_expression_in_domain(start, domain).only_enforce_if(option)
            options.append(option)
            longer.append(extra * option)
            extras.append(extra)
        cp.add(sum(manned[m] for m in group) == sum(options))
        chosen += options
    cp.add_exactly_one(chosen)
    most = max(extras)
    if not most:
        return _Variables(start, length, start + length, manned)
    size = cp.new_int_var(length, length + most, f"size {i}")
    end = cp.new_int_var(first + length, upper - model.tails[i], f"end {i}")
    cp.add(size == length + sum(longer))
    cp.add(end == start + size)
    return _Variables(start, size, end, manned)


def _same(a: Hours, b: Hours) -> bool:
    return a is b or (a.windows == b.windows and a.bridge == b.bridge)


def _people(cp: Any, model: Model, variables: Sequence[_Variables]) -> None:
    """Nobody does two things at once: for each class of people, and for all of them together."""
    every: list[tuple[Any, int]] = []
    for c, people in enumerate(model.classes):
        taken: list[tuple[Any, int]] = []
        for i, (modes, v) in enumerate(zip(model.modes, variables, strict=True)):
            taken += _intervals(cp, f"{c} {i}", v, [m.counts[c] for m in modes])
        _limit(cp, taken, len(people.names))
    if len(model.classes) > 1:
        for i, (modes, v) in enumerate(zip(model.modes, variables, strict=True)):
            every += _intervals(cp, f"all {i}", v, [sum(m.counts) for m in modes])
        _limit(cp, every, model.people)


def _intervals(cp: Any, name: str, v: _Variables, counts: Sequence[int]) -> list[tuple[Any, int]]:
    """Intervals of a task with how many it takes: one if every way takes the same, else one for each way."""
    if len(set(counts)) == 1:
        return [(cp.new_interval_var(v.start, v.size, v.end, name), counts[0])] if counts[0] else []
    return [
        (cp.new_optional_interval_var(v.start, v.size, v.end, v.manned[m], f"{name} {m}"), count)
        for m, count in enumerate(counts)
        if count
    ]


def _limit(cp: Any, taken: Sequence[tuple[Any, int]], capacity: int) -> None:
    if not taken:
        return
    if all(2 * count > capacity for _, count in taken):
        cp.add_no_overlap([interval for interval, _ in taken])
    else:
        cp.add_cumulative([interval for interval, _ in taken], [count for _, count in taken], capacity)


def _places(cp: Any, model: Model, variables: Sequence[_Variables]) -> None:
    for place, capacity in model.places.items():
        taken: list[tuple[Any, int]] = []
        for i, v in enumerate(variables):
            units = model.uses[i].get(place, 0)
            taken += _intervals(cp, f"{place} {i}", v, [units] * len(model.modes[i]))
        _limit(cp, taken, capacity)


def _hint(cp: Any, model: Model, variables: Sequence[_Variables], order: Order, end: Any) -> None:
    cp.clear_hints()
    cp.add_hint(end, finish(order))
    for i, start, _, mode in order:
        cp.add_hint(variables[i].start, start)
        for m, literal in enumerate(variables[i].manned):
            cp.add_hint(literal, model.modes[i][m] == mode)


def _read(model: Model, variables: Sequence[_Variables], solution: Any) -> Order:
    """The order that a solution holds."""
    found: Order = []
    for i, v in enumerate(variables):
        m = next(m for m, literal in enumerate(v.manned) if solution.boolean_value(literal))
        found.append((i, int(solution.value(v.start)), int(solution.value(v.end)), model.modes[i][m]))
    return sorted(found, key=lambda row: (row[1], row[0]))


def _watcher(
    cp_model: Any, model: Model, variables: Sequence[_Variables], better: Callable[[Order], None]
) -> Any:
    class Watch(cp_model.CpSolverSolutionCallback):  # type: ignore[misc]
        def on_solution_callback(self) -> None:
            found: Order = []
            for i, v in enumerate(variables):
                m = next(m for m, literal in enumerate(v.manned) if self.boolean_value(literal))
                found.append((i, int(self.value(v.start)), int(self.value(v.end)), model.modes[i][m]))
            better(sorted(found, key=lambda row: (row[1], row[0])))

    return Watch()
