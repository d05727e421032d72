"""What a reading usually is in this very drive, from what it depends on: a robust fit to the drive itself."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from boostwright.drive.signal import Signals
from boostwright.drive.windows import held, robust_sd

__all__ = ["Blocks", "Habit", "habit", "late"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_ROUNDS = 6
_ENOUGH = 4000  # readings for a fit: more of one drive tell no more
_NEAR = 1.5  # robust standard deviations up to which a reading has its full weight (Huber)
_FAR = 6.0  # beyond it a reading says nothing of the habit
_HOLD_BACK = 1e-3  # pull of every coefficient towards nothing, in units of the features' own size


class Habit(NamedTuple):
    """usual: (n,) what the reading would be. sd: robust standard deviation of the readings about it."""

    usual: Array
    sd: float


def habit(features: Array, y: Array, use: Mask, thin: int = 1) -> Habit:
    """The usual course of y by a weighted linear fit on its features; what is far off loses its weight.

    Iterated weights after Huber (huber1964, from memory), with none beyond six standard deviations; a slight
    pull to nothing keeps features that this drive does not tell apart from running away.
    features: (n, k), any units. y: (n,) any unit. use: (n,) readings to learn from. thin: every how many.
    """
    at = np.flatnonzero(use & np.isfinite(y) & np.isfinite(features).all(axis=1))[::thin]
    at = at[:: max(1, at.size // _ENOUGH)]
    if at.size < 3 * features.shape[1]:
        middle = float(np.median(y[at])) if at.size else float("nan")
        return Habit(np.full(y.size, middle), robust_sd(y[at]) if at.size else float("nan"))
    size = np.abs(features[at]).max(axis=0) + 1e-30
    a, middle = features[at] / size, float(np.median(y[at]))
    target = y[at] - middle
    weight = np.ones(at.size)
    pull = _HOLD_BACK * at.size * 1e-3 * np.eye(a.shape[1])
    coefficients, sd = np.zeros(a.shape[1]), 0.0
    for _ in range(_ROUNDS):
        weighted = a * weight[:, None]
        coefficients = np.linalg.solve(weighted.T @ a + pull, weighted.T @ target)
        off = np.abs(target - a @ coefficients)
        sd = 1.4826 * float(np.median(off)) + 1e-30
        weight = np.where(off < _FAR * sd, 1.0 / np.maximum(1.0, off / (_NEAR * sd)), 1e-6)
    return Habit(middle + (features / size) @ coefficients, sd)


class Blocks:
    """Means of every channel over equal blocks of the grid, for what changes slowly.

    t: (m,) [s] at the start of each. place: (m,) of the grid. step: [s].
    """

    def __init__(self, signals: Signals, seconds: float) -> None:
        self._signals = signals
        self._known: dict[str, Array | None] = {}
        self.samples = min(signals.samples(seconds), len(signals))
        self.count = max(1, len(signals) // self.samples)
        self.step = self.samples * signals.step
        self.place = np.arange(self.count) * self.samples
        self.t = signals.t[self.place]

    def of(self, x: Array) -> Array:
        """(m,) mean of (n,) readings over each block, the last known one where a block has none."""
        n = min(self.count * self.samples, x.size)
        there = np.isfinite(x[:n])
        if there.all():
            return _sums(x[:n], self.samples) / self.samples
        count = _sums(there.astype(np.float64), self.samples)
        total = _sums(np.where(there, x[:n], 0.0), self.samples)
        with np.errstate(invalid="ignore"):
            mean = np.where(count > 0.0, total / np.maximum(count, 1.0), np.nan)
        mean = held(mean, mean.size)
        known = np.isfinite(mean)
        return np.where(known, mean, mean[known][0]) if known.any() else mean

    def get(self, key: str) -> Array | None:
        """(m,) SI of one channel, None where it is not recorded or nowhere known."""
        if key not in self._known:
            x = self._signals.get(key)
            mean = None if x is None else self.of(x)
            self._known[key] = mean if mean is not None and np.isfinite(mean).all() else None
        return self._known[key]

    def blocks(self, seconds: float) -> int:
        """A time in blocks, at least 1."""
        return max(1, round(seconds / self.step))


def _sums(x: Array, each: int) -> Array:
    """Sums of equal parts; part by part where they are short, which goes along the memory."""
    if each > 64:
        return np.asarray(x.reshape(-1, each).sum(axis=1))
    total = x[::each].copy()
    for i in range(1, each):
        total += x[i::each]
    return total


def late(x: Array, seconds: float, step: float) -> Array:
    """x as a thing of that time constant would follow it, which started in balance."""
    if seconds <= 0.0:
        return x
    a = float(np.exp(-step / seconds))
    out, _ = lfilter([1.0 - a], [1.0, -a], x, zi=[a * x[0]])
    return np.asarray(out)
