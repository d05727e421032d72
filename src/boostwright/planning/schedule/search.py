"""The search for the shortest plan: whether a day can be saved, then how early on the last day it ends."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

from boostwright.planning.schedule.bounds import Bound, lower_bound
from boostwright.planning.schedule.frames import Frames
from boostwright.planning.schedule.model import Model
from boostwright.planning.schedule.rules import Order, finish
from boostwright.planning.schedule.solver import Statement, stated

__all__ = ["Found", "searched"]

_RATE: Final = 0.18  # the solver's own count of work in a second on two free cores, about
_PATIENCE: Final = 5.0  # seconds by the clock for each second of the budget, where the machine is busy
_SECOND: Final = 0.2  # of the budget is kept for the order at a fixed finish
_EARLY: Final = 4.0  # and no more than this [s]


class _Try(NamedTuple):
    """One try of the solver. work: its own count, at most; inf: all that is left. ways: of searching, by the
    solver's names, a thread each. seed: on top of the search's own.
    """

    work: float
    ways: tuple[str, ...]
    seed: int = 0


_DAYS: Final = (
    _Try(1.4, ("no_lp",)),
    _Try(1.4, ("no_lp",), 1),
    _Try(math.inf, ("no_lp", "default_lp"), 2),
)
_FINISH: Final = (_Try(1.0, ("default_lp",)), _Try(math.inf, ("default_lp", "no_lp")))
"""A plan is a matter of luck with one way of searching, a proof of another; begun afresh with another seed
most are quick. Never as many threads as the machine has: with another number the solver tries other things
and may find another plan as long.
"""


class Found(NamedTuple):
    """An order and the solver's bound [steps]. by_count: the search ended by its own count."""

    order: Order
    bound: int
    by_count: bool


@dataclass
class _Budget:
    """What is left of the solver's work [its own count] and of the patience with the clock [s]."""

    work: float
    ends: float
    seed: int
    by_count: bool = True

    def solve(self, statement: Statement, trial: _Try, watch: Any = None) -> tuple[Any, Any]:
        """One try, as far as work and patience are left. returns: (solver, status)."""
        from ortools.sat.python import cp_model

        solver = cp_model.CpSolver()
        limit = max(0.01, self.ends - time.perf_counter())
        solver.parameters.random_seed = self.seed + trial.seed
        solver.parameters.num_workers = len(trial.ways)
        solver.parameters.subsolvers.extend(trial.ways)
        solver.parameters.linearization_level = 0 if trial.ways == ("no_lp",) else 1
        solver.parameters.interleave_search = True  # the threads wait for each other, so that it repeats
        solver.parameters.max_deterministic_time = max(min(trial.work, self.work), 0.01)
        solver.parameters.max_time_in_seconds = limit
        status = solver.solve(statement.cp, watch)
        done = status in (cp_model.OPTIMAL, cp_model.INFEASIBLE)
        self.by_count &= done or solver.wall_time < limit - 0.05
        self.work -= solver.response_proto.deterministic_time
        return solver, status

    @property
    def left(self) -> bool:
        """Whether there is work and time left."""
        return self.work > 0.01 and self.ends - time.perf_counter() > 0.05


def searched(
    model: Model,
    frames: Frames,
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
    began = time.perf_counter()
    kept = min(seconds * _SECOND, _EARLY) if weights is not None else 0.0
    budget = _Budget((seconds - kept) * _RATE, began + _PATIENCE * (seconds - kept), seed)
    order, least = _days_saved(model, frames, first, bound.finish, budget, better)
    least = lower_bound(frames, Bound(least, ""), finish(order)).finish
    if least < finish(order) and budget.left:
        order, least = _last_day(model, frames, order, least, budget, better)
    if weights is not None:
        budget.work, budget.ends = kept * _RATE, time.perf_counter() + _PATIENCE * kept
        order = _early(model, frames, order, weights, budget)
    return Found(order, min(least, finish(order)), budget.by_count)


def _days_saved(
    model: Model,
    frames: Frames,
    order: Order,
    least: int,
    budget: _Budget,
    better: Callable[[Order], None] | None,
) -> tuple[Order, int]:
    """Whether all can be done by the end of an earlier day, one day after the other."""
    from ortools.sat.python import cp_model

    while least < finish(order) and budget.left:
        day = _evening_before(model, finish(order))
        if day < least:
            break
        status, solver, statement = cp_model.INFEASIBLE, None, None
        if (latest := frames.latest(float(day))) is not None:
            statement = stated(model, frames.earliest, latest, least, day)
            for trial in _DAYS:
                solver, status = budget.solve(statement, trial)
                if status != cp_model.UNKNOWN or not budget.left:
                    break
        if status == cp_model.INFEASIBLE:
            least = max(least, min(_first_end_after(model, day), finish(order)))
        elif status in (cp_model.OPTIMAL, cp_model.FEASIBLE) and statement is not None:
            order = statement.order(solver)
            if better is not None:
                better(order)
        else:
            break
    return order, least


def _evening_before(model: Model, moment: int) -> int:
    """The end of the last stay before the one in which a moment lies, meals being no end of one; -1 where
    there is none.
    """
    return max((int(stay.end) for stay in model.stays if stay.end < moment), default=-1)


def _first_end_after(model: Model, moment: int) -> int:
    """The first moment after one at which the last task can end: where it lies in hours that go on across
    that moment, the next step.
    """
    found = math.inf
    for i, behind in enumerate(model.behind):
        if behind:
            continue
        for mode in model.modes[i]:
            hours = mode.hours
            across = hours.bridge > 0.0 or any(w.start < moment < w.end for w in hours.windows)
            found = min(found, moment + 1 if across else hours.fit(moment, model.steps[i])[1])
    return int(min(found, 1e12))


def _last_day(
    model: Model,
    frames: Frames,
    order: Order,
    least: int,
    budget: _Budget,
    better: Callable[[Order], None] | None,
) -> tuple[Order, int]:
    """The least finish between the bound and the order."""
    from ortools.sat.python import cp_model

    latest = frames.latest(float(finish(order)))
    if latest is None:  # no order can be: the limits are too tight, which a found order disproves
        raise AssertionError(f"limits that a found order of {finish(order)} steps breaks")
    statement = stated(model, frames.earliest, latest, least, finish(order))
    statement.shortest(least)
    watch = None if better is None else _watcher(cp_model, statement, better)
    for trial in _FINISH:
        statement.hint(order)
        solver, status = budget.solve(statement, trial, watch)
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            order = statement.order(solver)
            least = max(least, round(solver.best_objective_bound))
        if status == cp_model.OPTIMAL or not budget.left:
            break
    return order, least


def _early(model: Model, frames: Frames, order: Order, weights: Sequence[float], budget: _Budget) -> Order:
    """An order of the same finish in which what counts begins early."""
    from ortools.sat.python import cp_model

    latest = frames.latest(float(finish(order)))
    if latest is None:
        return order
    statement = stated(model, frames.earliest, latest, 0, finish(order))
    statement.early(weights, finish(order))
    statement.hint(order)
    solver, status = budget.solve(statement, _Try(math.inf, ("default_lp",)))
    return statement.order(solver) if status in (cp_model.OPTIMAL, cp_model.FEASIBLE) else order


def _watcher(cp_model: Any, statement: Statement, better: Callable[[Order], None]) -> Any:
    class Watch(cp_model.CpSolverSolutionCallback):  # type: ignore[misc]
        def on_solution_callback(self) -> None:
            better(statement.order(self))

    return Watch()
