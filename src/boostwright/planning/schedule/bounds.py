"""What no order of work can beat: the longest chain, and work that has to go through few hands.

For a finish on trial, every task gets the earliest start and the latest end that it can have (`frames`).
Where the tasks that must lie between two moments bring more work than the people who can do it, or the place
that holds it, have hours there, the trial fails and the finish is later (energetic reasoning,
baptiste1999).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.planning.schedule.frames import Frames, Store
from boostwright.planning.schedule.model import Model

__all__ = ["Bound", "chain_bound", "lower_bound"]

Array = NDArray[np.float64]


class Bound(NamedTuple):
    """A finish that nothing beats [steps], and what keeps it there."""

    finish: int
    why: str


def chain_bound(model: Model, upper: int) -> Bound:
    """The end of the longest chain, with people and places without number [steps]."""
    ends = (
        min(m.hours.fit(head, step)[1] for m in modes)
        for head, step, modes in zip(model.heads, model.steps, model.modes, strict=True)
    )
    return Bound(min(max((int(e) for e in ends), default=0), upper), "the longest chain of tasks")


def lower_bound(frames: Frames, least: Bound, upper: int) -> Bound:
    """The best bound found between one that is known and a finish that is already reached [steps]."""
    low = least.finish
    early = min(upper, int(np.max(frames.earliest.ends, initial=0.0)))
    best = Bound(early, "the hours of people and places, with all that goes before") if early > low else least
    low, high, last = best.finish, upper, ""
    while low < high:
        trial = (low + high) // 2
        full = _overfull(frames, float(trial))
        if full:
            low, last = trial + 1, full
        else:
            high = trial
    return Bound(low, last or best.why) if low > best.finish else best


def _overfull(frames: Frames, finish: float) -> str:
    """What there is too little of for this finish: by a store's name, '' where nothing is."""
    latest = frames.latest(finish)
    if latest is None:
        return "the hours of people and places, with all that goes before and behind"
    return next((s.name for s in frames.stores if _too_much(s, frames.earliest.starts, latest.ends)), "")


def _too_much(store: Store, earliest: Array, latest: Array) -> bool:
    """Whether the tasks that must lie between some two moments bring more than there is."""
    used = store.load > 0.0
    load, head, end = store.load[used], earliest[used], latest[used]
    moments = np.unique(end)
    by_end = np.searchsorted(moments, end)
    there = store.until(moments)
    for start in np.unique(head):
        inside = head >= start
        demand = np.cumsum(np.bincount(by_end[inside], load[inside], len(moments)))
        supply = np.maximum(there - store.until(start), 0.0)
        if np.any((demand > supply + 1e-6) & (moments >= start)):
            return True
    return False
