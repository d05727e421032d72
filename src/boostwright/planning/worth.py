"""Where the work does not fit: what is worth doing all the same, before the car is taken apart."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple

from boostwright.planning.problem import Schedule
from boostwright.planning.scope import evening_ready, forerunners
from boostwright.planning.states import no_returns, opened
from boostwright.planning.task import Task

__all__ = ["NIL", "Worth", "worth_doing"]

NIL = 0.05
"""Below these odds nineteen of twenty attempts fail: nobody should begin (judgement, no source)."""


class Worth(NamedTuple):
    """What leaves the car whole.

    last: the last task of it in the order, '' where nothing of it is left; until: when it ends [s from zero].
    tasks: how many, with their hands-on time [s]. first: the first task that takes the car apart, at: when
    [s from zero]. point: the first point of no return, '' where there is none.
    """

    last: str
    until: float
    tasks: int
    seconds: float
    first: str
    at: float
    point: str


def worth_doing(
    tasks: Sequence[Task], order: Schedule, odds: float, begun: Collection[str] = ()
) -> Worth | None:
    """What is worth doing at these odds; None where they are not nil, or the car is apart already.

    Whole leaves the car whatever may be done on an evening before while it is driven by day, waits for no
    point of no return, and leaves nothing open with which the car does not drive. begun: keys of tasks
    that are done or in hand.
    """
    if odds >= NIL:
        return None
    points = [task.key for task, _ in no_returns(tasks)]
    barred = {t.key for t in tasks if forerunners([t.key], tasks) & set(points)}
    whole = _closed(evening_ready(tasks) - barred, tasks)
    planned = {task.key for task in tasks}
    if any(key in planned and key not in whole for key in begun):
        return None
    apart = sorted((s for s in order.slots if s.task not in whole), key=lambda s: s.start)
    if not apart:
        return None
    left = sorted((s for s in order.slots if s.task in whole), key=lambda s: s.end)
    by_key = {task.key: task for task in tasks}
    point = next((s.task for s in apart if s.task in points), "")
    seconds = sum(by_key[s.task].effort.mean * by_key[s.task].odds for s in left)
    last = left[-1] if left else None
    return Worth(
        last.task if last else "", last.end if last else apart[0].start, len(left), seconds, apart[0].task,
        apart[0].start, point,
    )  # fmt: skip


def _closed(keys: frozenset[str], tasks: Sequence[Task]) -> frozenset[str]:
    """Those of the tasks that leave nothing open behind them once all of them are done."""
    while True:
        left = opened([t.key for t in tasks if t.key in keys], (), tasks)
        bad = {thing.key for thing in left if not thing.drives}
        openers = {
            t.key for t in tasks if t.key in keys and {o.key for o in opened([t.key], (), tasks)} & bad
        }
        if not openers:
            return keys
        keys = frozenset(k for k in keys if not forerunners([k], tasks) & openers)
