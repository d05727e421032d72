"""Working hours as one running count of time at work, and where a piece of work fits into them."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.planning.problem import Window

__all__ = ["SHORT_BREAK", "Hours", "joined", "repeated", "shared"]

Array = NDArray[np.float64]

SHORT_BREAK: Final = 5400.0
"""The longest break [s] over which work that is too long for any window may rest: a meal, not a night."""

_EPS: Final = 1e-6


def joined(windows: Iterable[Window]) -> tuple[Window, ...]:
    """Windows in order of time, with those that touch or overlap made one; empty ones drop out [s]."""
    found: list[Window] = []
    for window in sorted(w for w in windows if w.end > w.start):
        if found and window.start <= found[-1].end:
            found[-1] = Window(found[-1].start, max(found[-1].end, window.end))
        else:
            found.append(window)
    return tuple(found)


def shared(first: Sequence[Window], second: Sequence[Window]) -> tuple[Window, ...]:
    """The stretches that lie in both; each of the two as `joined` makes it [s]."""
    found, i, j = [], 0, 0
    while i < len(first) and j < len(second):
        start, end = max(first[i].start, second[j].start), min(first[i].end, second[j].end)
        if end > start:
            found.append(Window(start, end))
        if first[i].end <= second[j].end:
            i += 1
        else:
            j += 1
    return tuple(found)


def repeated(windows: Sequence[Window], times: int, period: float = 7 * 86400.0) -> tuple[Window, ...]:
    """The windows, and the same again `times` times, each `period` [s] later: the weeks that follow."""
    return joined(Window(w.start + k * period, w.end + k * period) for k in range(times + 1) for w in windows)


class Hours:
    """Windows cut into blocks; one piece of work lies in one block and rests between the windows in it.

    Time at work is counted through: the first second of the first window is 0, breaks and nights count
    nothing. Work that may be divided has one block of all windows; what must be done at one go has a block
    for each window, or for each run of windows with short breaks between.
    """

    def __init__(self, windows: Sequence[Window], *, bridge: float = 0.0, over: bool = True) -> None:
        """windows: in order, apart from each other [s]. bridge: breaks up to this long lie inside a block
        [s]; inf: everything is one block. over: whether work for which no block is left that is long enough
        starts in the longest and runs over into the next; else it has no place.
        """
        self.windows = tuple(windows)
        self.bridge = bridge
        self.over = over
        self.starts = np.array([w.start for w in windows], dtype=np.float64)
        self.ends = np.array([w.end for w in windows], dtype=np.float64)
        self._until = np.cumsum(self.ends - self.starts)  # time at work at the end of each window
        self._from = np.concatenate([[0.0], self._until[:-1]]) if windows else self._until
        breaks = self.starts[1:] - self.ends[:-1]
        self._block = (
            np.concatenate([[0], np.cumsum(breaks > bridge + _EPS)]) if windows else np.array([], int)
        )
        first = np.flatnonzero(np.diff(self._block, prepend=-1))
        last = np.flatnonzero(np.diff(self._block, append=len(windows)))
        self._low, self._high = self._from[first], self._until[last]
        self._length = self._high - self._low
        # the longest block at or after each, the first of them where several are alike
        self._best: NDArray[np.int64] = np.arange(len(first))
        for k in range(len(first) - 2, -1, -1):
            if self._length[self._best[k + 1]] > self._length[k] + _EPS:
                self._best[k] = self._best[k + 1]

        self._lists: tuple[list[float], ...] = tuple(
            a.tolist()
            for a in (self.starts, self.ends, self._from, self._until, self._low, self._high, self._length)
        )
        self._block_list: list[int] = self._block.tolist()

    @classmethod
    def always(cls) -> Hours:
        """Hours without an end, for what needs nobody."""
        return cls((Window(0.0, np.inf),))

    @property
    def longest(self) -> float:
        """Time at work in the longest block [s]."""
        return float(self._length.max()) if self._length.size else 0.0

    @property
    def total(self) -> float:
        """Time at work in all [s]."""
        return float(self._until[-1]) if self._until.size else 0.0

    def worked(self, t: ArrayLike) -> Array:
        """Time at work before the moment t [s]."""
        t = np.asarray(t, dtype=np.float64)
        i = np.minimum(np.searchsorted(self.ends, t, side="right"), len(self.windows) - 1)
        inside = np.clip(t - self.starts[i], 0.0, self.ends[i] - self.starts[i])
        return np.asarray(self._from[i] + inside)

    def place(self, t: ArrayLike, d: ArrayLike) -> tuple[Array, Array]:
        """Start and end [s] of work of d [s] that can begin at t [s] or later; arrays broadcast.

        It starts in the first block that has room. Where no block that is left is long enough, it starts in
        the longest and runs over into what follows, or has no place. Where the hours are used up, both are
        inf. The later t and the longer d, the later the end, always.
        """
        t, d = (np.array(x, dtype=np.float64) for x in np.broadcast_arrays(t, d))
        shape, t, d = t.shape, t.ravel(), d.ravel()
        start, end = np.full(t.size, np.inf), np.full(t.size, np.inf)
        n = len(self.windows)
        i = np.searchsorted(self.ends, t, side="right")
        here = np.flatnonzero((i < n) & np.isfinite(t))
        if here.size:
            i, d = i[here], d[here]
            s = self._from[i] + np.maximum(t[here] - self.starts[i], 0.0)
            s = self._moved(s, self._block[i], d)
            e = s + d
            ok = e <= self._until[-1] + _EPS
            k = np.minimum(np.searchsorted(self._until, s + _EPS, side="right"), n - 1)
            j = np.minimum(np.searchsorted(self._until, e - _EPS, side="left"), n - 1)
            j = np.where(d > 0.0, j, k)
            found = self.starts[k] + (np.where(ok, s, 0.0) - self._from[k])
            start[here] = np.where(ok, found, np.inf)
            end[here] = np.where(ok, np.maximum(found, self.starts[j] + (e - self._from[j])), np.inf)
        return start.reshape(shape), end.reshape(shape)

    def fit(self, t: float, d: float) -> tuple[float, float]:
        """`place` for one piece of work, in plain Python, which is quicker for one [s]."""
        starts, ends, since, until, low, high, length = self._lists
        i = bisect_right(ends, t)
        if i >= len(ends) or t == math.inf:
            return math.inf, math.inf
        s = since[i] + max(t - starts[i], 0.0)
        block = self._block_list[i]
        if d > high[block] - s + _EPS:
            best = int(self._best[min(block + 1, len(low) - 1)])
            behind = block + 1 < len(low)
            if behind and length[best] >= d - _EPS:
                block += 1
                while length[block] < d - _EPS:
                    block += 1
                s = low[block]
            elif not self.over:
                return math.inf, math.inf
            elif behind and length[best] > high[block] - s + _EPS:
                s = low[best]
        e = s + d
        if e > until[-1] + _EPS:
            return math.inf, math.inf
        k = min(bisect_right(until, s + _EPS), len(ends) - 1)
        start = starts[k] + (s - since[k])
        if d <= 0.0:
            return start, start
        j = min(bisect_left(until, e - _EPS), len(ends) - 1)
        return start, max(start, starts[j] + (e - since[j]))

    def _moved(self, s: Array, block: NDArray[np.int64], d: Array) -> Array:
        """The time at work s at which work of d can begin, from the first that it could begin in `block`."""
        room = self._high[block] - s
        late = np.flatnonzero(d > room + _EPS)
        if not late.size:
            return s
        s, last = s.copy(), len(self._low) - 1
        following = np.minimum(block[late] + 1, last)
        best = self._best[following]
        behind = block[late] < last
        fits = behind & (self._length[best] >= d[late] - _EPS)
        while True:
            short = np.flatnonzero(fits & (self._length[following] < d[late] - _EPS))
            if not short.size:
                break
            following[short] += 1
        longer = behind & (self._length[best] > room[late] + _EPS)
        otherwise = np.where(longer, self._low[best], s[late]) if self.over else np.inf
        s[late] = np.where(fits, self._low[following], otherwise)
        return s

    def pieces(self, start: float, end: float) -> tuple[Window, ...]:
        """The stretches of work between a start and an end that `place` gave [s]."""
        if end <= start:
            return ()
        if not np.isfinite(self.ends[-1]):
            return (Window(start, end),)
        found = shared(self.windows, (Window(start, end),))
        return found or (Window(start, end),)
