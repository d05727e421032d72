"""Work for two for which the build has one: somebody who is not named yet stands in, and it is said."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterable, Sequence

from boostwright.errors import NoPlan
from boostwright.planning.calendar import SECOND, cut
from boostwright.planning.problem import Problem, Schedule, Window, Worker
from boostwright.planning.schedule import schedule
from boostwright.planning.schedule.hours import joined
from boostwright.planning.setting import Setting

__all__ = ["by_rule", "company", "lent", "ordered", "stood_in"]

ROLES = frozenset({"helper", "observer"})
"""What somebody who is called for a task can act as."""

HANDS = frozenset({"lead", "helper"})


def by_rule(problem: Problem, seed: int) -> Schedule:
    """The order by a quick rule, without the work that a sharp bound takes. Raises NoPlan."""
    return schedule(problem, seconds=0.0, seed=seed, sharp=False)


def ordered(
    at: Setting,
    *,
    seconds: float,
    seed: int,
    progress: Callable[[Schedule], None] | None = None,
    quick: bool = False,
) -> tuple[Setting, Schedule]:
    """The setting in order; with a stand-in where the people's hours end before the work for two is done.

    The stand-in is there when one who can lead would be alone, and only from the end of the first one's hours
    on; if that is not enough, whenever one who can lead is there. quick: with a budget of nothing, without a
    sharp bound. Raises NoPlan, the one about the people as
    they are, where a stand-in changes nothing.
    """

    def put(problem: Problem) -> Schedule:
        if quick and seconds <= 0.0:
            return by_rule(problem, seed)
        return schedule(problem, seconds=seconds, seed=seed, progress=progress)

    leaving = _leaving(at)
    try:
        if math.isfinite(leaving) and by_rule(at.problem, seed).finish > at.calendar.end:
            raise NoPlan("The work for two goes on past the hours of one of them.", ())
        return at, put(at.problem)
    except NoPlan as trouble:
        if any(worker.name == SECOND for worker in at.problem.workers):
            raise
        since = leaving if math.isfinite(leaving) else 0.0
        for other in (stood_in(at, since), stood_in(at, since, always=True), stood_in(at, 0.0, always=True)):
            try:
                return other, put(other.problem)
            except NoPlan:
                continue
        if trouble.obstacles or not math.isfinite(leaving):
            raise
        return at, put(at.problem)


def stood_in(at: Setting, since: float = 0.0, *, always: bool = False) -> Setting:
    """The setting with a stand-in from a moment on [s]; always: beside two who are there as well."""
    windows = cut(_alone(at.problem.workers, always=always), since)
    second = Worker(SECOND, ROLES, windows)
    workers = (*(w for w in at.problem.workers if w.name != SECOND), second)
    return dataclasses.replace(
        at,
        problem=dataclasses.replace(at.problem, workers=workers),
        crew=dataclasses.replace(at.crew, workers=workers),
    )


def lent(problem: Problem, name: str = SECOND) -> Problem:
    """The problem with the stand-in ready to take the place of whoever has left when a run is late.

    Without it a run that is an hour late would wait a week for the one who left. The one with the most hours
    who can lead is nobody's substitute; all others are there whenever one of them is.
    """
    second = next((w for w in problem.workers if w.name == name), None)
    hands = [w for w in _hands(problem.workers) if w is not second]
    if second is None or len(hands) < 2:
        return problem
    main = max((w for w in hands if "lead" in w.can), key=_length, default=hands[0])
    others = [w for w in (*hands, second) if w is not main]
    windows = joined(window for w in others for window in w.windows)
    workers = tuple(dataclasses.replace(w, windows=windows) if w in others else w for w in problem.workers)
    return dataclasses.replace(problem, workers=workers)


def _length(worker: Worker) -> float:
    return sum(w.end - w.start for w in worker.windows)


def company(order: Schedule, at: Setting) -> frozenset[str]:
    """Tasks for one that are never done alone, at hours at which nobody but the second person is there."""
    workers = at.problem.workers
    if not any(w.name == SECOND for w in workers):
        return frozenset()
    critical = {task.key for task in at.problem.tasks if task.critical}
    rows = {w.name: joined(w.windows) for w in workers if w.name != SECOND and w.can & HANDS}
    found = set()
    for slot in order.slots:
        if slot.task not in critical or len(slot.who) != 1:
            continue
        others = [row for name, row in rows.items() if name not in slot.who]
        if not all(any(_inside(piece, row) for row in others) for piece in slot.pieces):
            found.add(slot.task)
    return frozenset(found)


def _inside(piece: Window, rows: Sequence[Window]) -> bool:
    return any(w.start <= piece.start and piece.end <= w.end for w in rows)


def _hands(workers: Iterable[Worker]) -> list[Worker]:
    return [w for w in workers if w.name != SECOND and w.can & HANDS and w.windows]


def _leaving(at: Setting) -> float:
    """When the hours of the first one end before the end of the work; inf where nobody's do [s]."""
    last: list[float] = []
    for worker in _hands(at.problem.workers):
        before = [min(w.end, at.calendar.end) for w in worker.windows if w.start < at.calendar.end]
        last.append(max(before, default=0.0))
    latest = max(last, default=0.0)
    return min((t for t in last if t < latest - 60.0), default=math.inf)


def _alone(workers: Sequence[Worker], *, always: bool) -> tuple[Window, ...]:
    """When one who can lead is there, and (not always) no other pair of hands is."""
    found: list[Window] = []
    hands = _hands(workers)
    for one in hands:
        if "lead" not in one.can:
            continue
        others = joined(w for other in hands if other is not one for w in other.windows)
        found += joined(one.windows) if always else _without(joined(one.windows), others)
    return joined(found)


def _without(rows: Sequence[Window], others: Sequence[Window]) -> list[Window]:
    """What is left of some windows outside of others; both joined and in order."""
    found = []
    for row in rows:
        start = row.start
        for other in others:
            if other.end <= start or other.start >= row.end:
                continue
            if other.start > start:
                found.append(Window(start, other.start))
            start = max(start, other.end)
        if start < row.end:
            found.append(Window(start, row.end))
    return found
