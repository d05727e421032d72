"""What a single channel says of its own sensor: runs of equal readings, and what is beyond its usual."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.signal import Signals

__all__ = ["Runs", "beyond", "runs_of"]

Array = NDArray[np.float64]
Index = NDArray[np.int64]

_MOST = 50  # largest values from which a usual largest is concluded
_CHANCE = 0.01  # that a sound drive reaches what counts as beyond its usual


class Runs:
    """A channel as runs of equal readings, as they really came.

    value: (m,) SI. first, after: (m,) places of the grid where the run begins and where the next one does.
    seconds: (m,) rows of the run times the step, so that a gap in the recording is no long run.
    own: [s] between two readings of this channel.
    """

    __slots__ = ("after", "first", "own", "seconds", "value")

    def __init__(self, value: Array, first: Index, after: Index, seconds: Array, own: float) -> None:
        self.value, self.first, self.after, self.seconds, self.own = value, first, after, seconds, own


def runs_of(signals: Signals, key: str, cylinder: int = 0) -> Runs | None:
    """The runs of one channel; None where it is not recorded or has fewer than three readings."""
    x = signals.get(key, cylinder)
    if x is None:
        return None
    at = np.flatnonzero(signals.read(key, cylinder) & np.isfinite(x))
    if at.size < 3:
        return None
    value = x[at]
    new = np.flatnonzero(np.r_[True, value[1:] != value[:-1]])
    first = at[new]
    after = np.r_[first[1:], len(signals)]
    rows = np.r_[0, np.cumsum(signals.real)]
    seconds = (rows[after] - rows[first]) * signals.step
    return Runs(value[new], first, after, seconds, max(1.0 / signals.rate(key, cylinder), signals.step))


def beyond(x: Array, least: float) -> float:
    """What a sound drive does not reach, by its own largest values; inf with fewer than eight.

    The largest of a channel's everyday steps or runs fall off like an exponential law, or quicker. Its scale
    is the median by which the largest exceed the least of them, which faults do not move while they are few;
    what one such drive in a hundred reaches is the answer.
    x: (n,) values of one kind. least: smallest scale that is believed (a step of writing, one reading).
    """
    k = int(np.clip(0.05 * x.size, 8, _MOST))
    if x.size < 8:
        return float("inf")
    if x.size > 100 * k:  # the largest alone, without sorting all: what exceeds nine of ten of a sample
        large = x[x > np.quantile(x[:: x.size // 2000], 0.9)]
        x = large if large.size >= k else x
    top = np.partition(x, x.size - k)[-k:]
    low = float(top.min())
    scale = max(float(np.median(top - low)) / math.log(2.0), least)
    return low + scale * math.log(k / _CHANCE)
