"""What is done with evenly spaced readings: slopes, running figures, stretches, lags, robust spreads.

All windows count samples. Arrays are (n,) and may hold NaN where nothing was read.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

__all__ = [
    "bend_of",
    "held",
    "lag_between",
    "noise_of",
    "quantum_of",
    "robust_sd",
    "running_count",
    "running_max",
    "running_mean",
    "running_median",
    "running_min",
    "running_sd",
    "slope",
    "spans",
    "swing",
]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
_TO_SD = 1.4826  # median absolute deviation of a normal law to its standard deviation
_SAMPLE = 40_000  # readings from which noise and steps are measured: more tells nothing new


def spans(mask: Mask, *, least: int = 1, join: int = 0) -> list[tuple[int, int]]:
    """Runs of True as (first, one past last), after joining those that are at most `join` apart.

    least: runs shorter than this are left out, counted after joining.
    """
    edge = np.diff(np.concatenate(([False], mask, [False])).astype(np.int8))
    first, last = np.flatnonzero(edge == 1), np.flatnonzero(edge == -1)
    if join and first.size:
        apart = first[1:] - last[:-1] > join
        first, last = first[np.concatenate(([True], apart))], last[np.concatenate((apart, [True]))]
    keep = last - first >= least
    return list(zip(first[keep].tolist(), last[keep].tolist(), strict=True))


def held(x: Array, most: int) -> Array:
    """Each empty place filled with the last reading, at most `most` samples old."""
    there = np.isfinite(x)
    if there.all():
        return x
    index = np.arange(x.size)
    last = np.maximum.accumulate(np.where(there, index, -1))
    full = x[np.maximum(last, 0)]
    full[(last < 0) | (index - last > most)] = np.nan
    return full


def slope(x: Array, step: float, half: int = 1) -> Array:
    """Rate of change [1/s] between `half` samples before and after; NaN at the ends."""
    out = np.full(x.size, np.nan)
    if x.size > 2 * half:
        out[half:-half] = (x[2 * half :] - x[: -2 * half]) / (2 * half * step)
    return out


def running_count(mask: Mask, window: int) -> Array:
    """How many are True among the `window` samples around each."""
    total = np.concatenate(([0.0], np.cumsum(mask, dtype=np.float64)))
    low, high = _window(mask.size, window)
    return np.asarray(total[high] - total[low])


def running_mean(x: Array, window: int) -> Array:
    """Mean of the readings among the `window` samples around each; NaN where there is none."""
    there = np.isfinite(x)
    all_there = bool(there.all())
    total = np.concatenate(([0.0], np.cumsum(x if all_there else np.where(there, x, 0.0))))
    low, high = _window(x.size, window)
    count = (high - low).astype(np.float64) if all_there else running_count(there, window)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray((total[high] - total[low]) / count)


def running_sd(x: Array, window: int) -> Array:
    """Standard deviation of the readings among the `window` samples around each."""
    middle = np.nanmedian(x[:: max(1, x.size // 2000)]) if x.size else 0.0
    away = x - (middle if np.isfinite(middle) else 0.0)
    mean = running_mean(away, window)
    return np.sqrt(np.maximum(running_mean(away * away, window) - mean * mean, 0.0))


def running_median(x: Array, window: int) -> Array:
    """Median over `window` samples; empty places are first filled with what stood before them."""
    full = held(x, x.size)
    if not np.isfinite(full).all():
        full = np.where(
            np.isfinite(full), full, full[np.isfinite(full)][0] if np.isfinite(full).any() else 0.0
        )
    out = ndimage.median_filter(full, size=max(1, window) | 1, mode="nearest")
    return np.where(np.isfinite(x), out, np.nan)


def running_max(x: Array, window: int) -> Array:
    """Largest reading among the `window` samples around each; empty places count as nothing."""
    out = ndimage.maximum_filter1d(np.where(np.isfinite(x), x, -np.inf), max(1, window), mode="nearest")
    return np.where(np.isfinite(out), out, np.nan)


def running_min(x: Array, window: int) -> Array:
    """Least reading among the `window` samples around each; empty places count as nothing."""
    return -running_max(-x, window)


def robust_sd(x: Array, about: float | None = None) -> float:
    """Standard deviation by the median absolute deviation; NaN without readings."""
    there = x[np.isfinite(x)]
    if there.size == 0:
        return float("nan")
    middle = float(np.median(there)) if about is None else about
    return _TO_SD * float(np.median(np.abs(there - middle)))


def quantum_of(x: Array) -> float:
    """Step in which a logger wrote a channel: the usual least distance of two values; 0 without two."""
    values = np.unique(_sample(x))
    if values.size < 2:
        return 0.0
    apart = np.diff(values)
    apart = apart[apart > 1e-9 * max(1e-30, float(np.abs(values).max()))]
    return float(np.quantile(apart, 0.1)) if apart.size else 0.0


def noise_of(x: Array, quantum: float = 0.0) -> float:
    """Noise of one reading by the second differences of consecutive ones, at least that of its rounding.

    x: (n,) readings in a row, none held. Second differences take away level and slope: their variance is six
    times that of the noise.
    """
    there = _sample(x)
    bend = there[2:] - 2.0 * there[1:-1] + there[:-2]
    rough = _TO_SD * float(np.median(np.abs(bend))) / np.sqrt(6.0) if bend.size else 0.0
    return float(
        np.hypot(rough, quantum / np.sqrt(12.0)) if rough > quantum else max(rough, quantum / np.sqrt(12.0))
    )


def lag_between(x: Array, y: Array, step: float, most: float) -> tuple[float, float]:
    """How much later y shows what x shows [s], and the correlation there.

    Both are set against each other at every lag from 0 to `most` [s]; a parabola through the best and its
    neighbours gives the part of a step. (nan, 0) where either stands still.
    """
    n = min(x.size, y.size)
    there = np.isfinite(x[:n]) & np.isfinite(y[:n])
    reach = round(most / step)
    if there.sum() < 4 * reach + 8:
        return float("nan"), 0.0
    a = np.where(there, x[:n] - np.mean(x[:n][there]), 0.0)
    b = np.where(there, y[:n] - np.mean(y[:n][there]), 0.0)
    size = float(np.sqrt(np.dot(a, a) * np.dot(b, b)))
    if size == 0.0:
        return float("nan"), 0.0
    match = np.array([np.dot(a[: n - k], b[k:]) for k in range(reach + 1)]) / size
    best = int(np.argmax(np.abs(match)))
    part = 0.0
    if 0 < best < reach:
        left, mid, right = np.abs(match[best - 1 : best + 2])
        bend = left - 2.0 * mid + right
        part = 0.5 * (left - right) / bend if bend < 0.0 else 0.0
    return (best + float(part)) * step, float(match[best])


def bend_of(x: Array, half: int) -> Array:
    """How far each reading lies off the middle of those `half` before and after; (n - 2 half,), smoothed."""
    bend = x[half:-half] - 0.5 * (x[2 * half :] + x[: -2 * half])
    return np.nan_to_num(running_mean(bend, max(1, half // 2)))


def swing(x: Array, halves: int, longest: int) -> tuple[int, int, float] | None:
    """First and last place, and half the height, of the strongest regular swing in a bend of `bend_of`.

    Regular are `halves` half waves in a row, none longer than `longest` samples; the weakest of them is its
    size.
    """
    edge = np.concatenate(([0], np.flatnonzero(np.diff(np.sign(x)) != 0) + 1, [x.size]))
    if edge.size < halves + 1:
        return None
    high = np.maximum.reduceat(np.abs(x), edge[:-1])
    high = np.where(np.diff(edge) <= longest, high, 0.0)
    weakest = np.min(np.lib.stride_tricks.sliding_window_view(high, halves), axis=1)
    top = int(np.argmax(weakest))
    size = float(weakest[top])
    last = top + halves
    while top > 0 and high[top - 1] > 0.5 * size:
        top -= 1
    while last < high.size and high[last] > 0.5 * size:
        last += 1
    return int(edge[top]), int(edge[last]) - 1, 0.5 * size


def _sample(x: Array) -> Array:
    """Readings from blocks all over the drive, in order."""
    there = x[np.isfinite(x)]
    if there.size <= _SAMPLE:
        return there
    block = _SAMPLE // 40
    starts = np.linspace(0, there.size - block, 40).astype(int)
    return np.concatenate([there[s : s + block] for s in starts])


def _window(n: int, window: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    index = np.arange(n)
    half = max(1, window) // 2
    return np.maximum(index - half, 0), np.minimum(index + max(1, window) - half, n)
