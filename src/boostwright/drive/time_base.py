"""The time of a recorded drive, put in order: stamps that stand still, jump back, are missing or broken."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import OutOfRange

__all__ = ["ClockFault", "TimeBase", "repaired_time"]

Array = NDArray[np.float64]

_BLOCK = 20  # rows over which the usual step is taken, so that coarse stamps still give it
_GAP_STEPS = 3.5  # steps without a row that count as a gap: one lost row is everyday
_GAP_SCATTER = 10.0  # robust standard deviations of the step that count as a gap
_COARSE_SHARE = 0.3  # share of equal stamps above which the clock itself is coarse
_FEW_EQUAL = 3  # rows on one stamp that count as a repeat, where the clock is not coarse
_NEAR = 5.0  # steps within which the neighbours of a broken stamp follow one another
_REGULAR = 0.35  # robust scatter of the step, in steps, up to which rows count as evenly spaced


class ClockFault(NamedTuple):
    """One stretch of stamps that was put in order. Positions are those of the clock's arrays.

    kind: "gap", "repeats", "jump-back" or "broken". size: seconds without rows; seconds of standing stamps;
    seconds stepped back; stamps that could not be used.
    """

    kind: str
    first: int
    last: int
    size: float


class TimeBase(NamedTuple):
    """A clock in order: t (n,) [s] rising throughout, its usual step [s], what was repaired."""

    t: Array
    step: float
    even: bool  # rows come evenly but for the gaps
    faults: tuple[ClockFault, ...]


def repaired_time(stamp: Array) -> TimeBase:
    """The time of each row from stamps as they were written.

    Rows that share a stamp are spread evenly up to the next; after a step back the clock goes on with its
    usual step; broken stamps lie between their neighbours; gaps stay gaps.
    stamp: (n,) [s], NaN where unreadable.
    Raises OutOfRange when fewer than two stamps can be read, or none goes forward.
    """
    stamp = np.asarray(stamp, dtype=np.float64)
    step = _usual_step(stamp)
    t, faults = _without_broken(stamp.copy(), step)
    t, back = _without_jumps(t, step)
    t, repeats, coarse = _without_repeats(t, step)
    gaps, even = _gaps(t, step, coarse)
    every = sorted((*faults, *back, *repeats, *gaps), key=lambda f: f.first)
    return TimeBase(t, step, even, tuple(every))


def _usual_step(stamp: Array) -> float:
    finite = stamp[np.isfinite(stamp)]
    if finite.size < 2:
        raise OutOfRange(
            f"{finite.size} time stamps can be read, and a drive needs at least 2: "
            "name the column that holds the time."
        )
    change = np.diff(finite)
    if np.mean(change == 0.0) > _COARSE_SHARE and (change > 0.0).any():  # many rows on each stamp
        return float(np.median(change[change > 0.0]) * np.mean(change > 0.0))
    block = min(_BLOCK, finite.size - 1)
    steps = (finite[block:] - finite[:-block]) / block
    forward = steps[steps > 0.0]
    if forward.size == 0:
        raise OutOfRange(
            f"none of {finite.size} time stamps lies after the one before it: "
            "name the column that holds the time."
        )
    return float(np.median(forward))


def _without_broken(t: Array, step: float) -> tuple[Array, list[ClockFault]]:
    """Stamps that are missing, or stand alone far from two neighbours that follow one another."""
    if t.size > 2:
        into, out = t[1:-1] - t[:-2], t[2:] - t[1:-1]
        across = t[2:] - t[:-2]
        far = _NEAR * step
        alone = (np.abs(into) > far) & (np.abs(out) > far) & (across > 0.0) & (across < far)
        t[1:-1][alone] = np.nan
    bad = ~np.isfinite(t)
    if not bad.any():
        return t, []
    good = np.flatnonzero(~bad)
    t[bad] = np.interp(np.flatnonzero(bad), good, t[good])
    t[: good[0]] = t[good[0]] - step * np.arange(good[0], 0, -1)
    t[good[-1] + 1 :] = t[good[-1]] + step * np.arange(1, t.size - good[-1])
    return t, [ClockFault("broken", int(a), int(b) - 1, float(b - a)) for a, b in _spans(bad)]


def _without_jumps(t: Array, step: float) -> tuple[Array, list[ClockFault]]:
    change = np.diff(t)
    at = np.flatnonzero(change < 0.0)
    if at.size == 0:
        return t, []
    push = np.zeros(t.size)
    push[at + 1] = step - change[at]
    faults = [ClockFault("jump-back", int(i), int(i) + 1, float(step - change[i])) for i in at]
    return t + np.cumsum(push), faults


def _without_repeats(t: Array, step: float) -> tuple[Array, list[ClockFault], float]:
    """Rows on one stamp spread out; the clock's own coarseness [s] is no fault."""
    change = np.diff(t)
    equal = change <= 0.0
    if not equal.any():
        return t, [], 0.0
    forward = change[~equal]
    coarse = float(np.median(forward)) if equal.mean() > _COARSE_SHARE and forward.size else 0.0
    first = np.concatenate(([0], np.flatnonzero(~equal) + 1))
    count = np.diff(np.concatenate((first, [t.size])))
    after = np.concatenate((t[first[1:]], [t[-1] + step * count[-1]]))
    each = np.minimum((after - t[first]) / count, step if coarse == 0.0 else 1.5 * step)
    run = np.repeat(np.arange(first.size), count)
    spread = t[first][run] + (np.arange(t.size) - first[run]) * each[run]
    usual = max(_FEW_EQUAL - 1, int(np.ceil(coarse / step)) + 1)
    long = count > usual
    faults: list[ClockFault] = []
    for i in np.flatnonzero(long):
        a, b = int(first[i]), int(first[i] + count[i]) - 1
        if faults and a - faults[-1].last <= count[i]:
            begun = faults[-1].first
            faults[-1] = ClockFault("repeats", begun, b, float(spread[b] - spread[begun]))
        else:
            faults.append(ClockFault("repeats", a, b, float(spread[b] - spread[a])))
    return spread, faults, coarse


def _gaps(t: Array, step: float, coarse: float) -> tuple[list[ClockFault], bool]:
    change = np.diff(t)
    middle = float(np.median(change))
    scatter = 1.4826 * float(np.median(np.abs(change - middle)))
    least = max(_GAP_STEPS * step, middle + _GAP_SCATTER * scatter, 2.5 * coarse)
    at = np.flatnonzero(change > least)
    faults = [ClockFault("gap", int(i), int(i) + 1, float(change[i])) for i in at]
    return faults, scatter <= _REGULAR * step


def _spans(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    edge = np.diff(np.concatenate(([False], mask, [False])).astype(np.int8))
    return list(zip(np.flatnonzero(edge == 1).tolist(), np.flatnonzero(edge == -1).tolist(), strict=True))
