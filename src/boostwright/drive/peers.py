"""A pull against its peers: what the other pulls of this drive showed, in the same gear from a like speed.

Nothing outside the drive is needed for it: level and scatter both come from the drive itself, so that a bad
sensor or a cautious table is no fault of one pull.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.pulls import Pull
from boostwright.drive.windows import robust_sd

__all__ = ["Peers", "odd_stretch", "peers_of"]

Array = NDArray[np.float64]

BIN = 10.471975511965978  # rad/s, 100 rev/min: finer than that two pulls do not agree anyway
REACH = 30.0  # rad/s of starting speed over which a pull counts less and less as a peer
OTHER_GEAR = 0.02  # weight of a pull in another gear: it speaks only where no other does
OTHER_START = 0.05  # weight of a pull that began otherwise (after a gear change, or not)
LIKE_PACE = 0.2  # of the logarithm of the pace: two gears differ by twice and more of it
LEVEL = 15.0  # rad/s: peers must differ in starting speed by more than that to tell a slope
ROUNDS = 3
FEWEST = 3  # pulls in a bin without which it has no scatter of its own
MOST_PEERS = 80
FILLS = 0.3  # s after the throttle opens
FILLS_AGAIN = 1.0  # s after a gear change, while boost comes back
LEAVES = 0.25  # s before the throttle closes


@dataclass(frozen=True, slots=True)
class Peers:
    """Means of one channel in bins of engine speed: (pulls, bins), NaN where a pull was not there.

    expected: by the peers, the pull itself left out. scatter: (bins,) what two sound pulls differ by there.
    support: summed weight of the peers, 1 for one pull just like it. first, last: places of the grid in
    each bin. count: readings in each.
    """

    speed: Array  # (bins,) middle of each bin [rad/s]
    mean: Array
    expected: Array
    scatter: Array
    support: Array
    first: NDArray[np.int64]
    last: NDArray[np.int64]
    count: Array

    @property
    def off(self) -> Array:
        """Mean less expected."""
        return self.mean - self.expected


def peers_of(pulls: tuple[Pull, ...], speed: Array, x: Array, floor: float, step: float) -> Peers | None:
    """Each pull's means of x by engine speed, and what its peers make one expect. None below three pulls.

    floor: least scatter of two sound pulls [unit of x]. step: of the grid [s]; the first moments of a pull,
    while the manifold fills, and its last, while the foot comes off, are left out.
    """
    if len(pulls) < FEWEST:
        return None
    skip = np.array([round((FILLS_AGAIN if p.after_shift else FILLS) / step) for p in pulls])
    lengths = np.array([p.last - p.first for p in pulls]) - skip - round(LEAVES / step)
    lengths = np.maximum(lengths, 0)
    if lengths.sum() == 0:
        return None
    starts = np.array([p.first for p in pulls]) + skip
    owner = np.repeat(np.arange(len(pulls)), lengths)
    place = np.repeat(starts - np.concatenate(([0], np.cumsum(lengths)[:-1])), lengths) + np.arange(
        lengths.sum()
    )
    w, value = speed[place], x[place]
    good = np.isfinite(w) & np.isfinite(value)
    owner, place, w, value = owner[good], place[good], w[good], value[good]
    if value.size == 0:
        return None
    bins = np.maximum(np.floor(w / BIN).astype(np.int64), 0)
    low, n = int(bins.min()), int(bins.max() - bins.min()) + 1
    cell = owner * n + bins - low
    size = len(pulls) * n
    count = np.bincount(cell, minlength=size).astype(np.float64)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean: Array = np.asarray(np.bincount(cell, weights=value, minlength=size) / count, dtype=np.float64)
    first = np.full(size, np.iinfo(np.int64).max)
    np.minimum.at(first, cell, place)
    last = np.zeros(size, dtype=np.int64)
    np.maximum.at(last, cell, place)
    shape = (len(pulls), n)
    mean = mean.reshape(shape)
    expected, support = _expected(pulls, mean, floor)
    scatter = _scatter(mean - expected, support, floor)
    middle = np.asarray((low + np.arange(n) + 0.5) * BIN, dtype=np.float64)
    return Peers(
        middle,
        mean,
        expected,
        scatter,
        support,
        first.reshape(shape),
        last.reshape(shape),
        count.reshape(shape),
    )


def _expected(pulls: tuple[Pull, ...], mean: Array, floor: float) -> tuple[Array, Array]:
    """What the peers make one expect in each bin, and their summed weight.

    A line over the speed at which the peers began, weighted by nearness, robust (bisquare) and held level
    where there are too few of them to know a slope.
    """
    start = np.array([p.speed_from for p in pulls])
    gear = np.array([p.stretch.gear for p in pulls])
    later = np.array([p.after_shift for p in pulls])
    pace = np.log(np.maximum([p.pace for p in pulls], 1.0))
    expected = np.full(mean.shape, np.nan)
    support = np.zeros(mean.shape)
    there = np.isfinite(mean)
    for i in range(len(pulls)):
        away = start - start[i]
        weight = np.exp(-0.5 * (away / REACH) ** 2) + 1e-4
        weight *= np.where(gear == gear[i], 1.0, OTHER_GEAR) * np.where(later == later[i], 1.0, OTHER_START)
        if gear[i] == 0:
            weight *= np.exp(-0.5 * ((pace - pace[i]) / LIKE_PACE) ** 2)
        weight[i] = 0.0
        near = np.argsort(-weight)[:MOST_PEERS]
        w = np.where(there[near], weight[near, None], 0.0)
        y = np.where(there[near], mean[near], 0.0)
        support[i] = w.sum(axis=0)
        expected[i] = _robust_line(away[near, None], y, w, floor)
    return np.where(support > 0.0, expected, np.nan), support


def _robust_line(away: Array, y: Array, w: Array, floor: float) -> Array:
    """Height at `away` 0 of a line through y (peers, bins) by weights w that leaves outliers out."""
    level, slope = _weighted_median(y, w), np.zeros(y.shape[1])
    for _ in range(ROUNDS):
        off = np.abs(y - level - slope * away)
        scale = 4.685 * np.maximum(1.4826 * _weighted_median(off, w), floor)
        v = w * np.maximum(1.0 - (off / scale) ** 2, 0.0) ** 2
        s0, s1, s2 = v.sum(axis=0), (v * away).sum(axis=0), (v * away * away).sum(axis=0) + LEVEL * LEVEL
        t0, t1 = (v * y).sum(axis=0), (v * y * away).sum(axis=0)
        with np.errstate(invalid="ignore", divide="ignore"):
            slope = np.where(s0 > 0.0, (t1 * s0 - t0 * s1) / (s2 * s0 - s1 * s1), 0.0)
            level = np.where(s0 > 0.0, (t0 - slope * s1) / s0, level)
    return level


def _weighted_median(values: Array, weight: Array) -> Array:
    """Along the first axis; the middle of the two where half of the weight falls between them."""
    order = np.argsort(np.where(weight > 0.0, values, np.inf), axis=0)
    v = np.take_along_axis(values, order, axis=0)
    total = np.cumsum(np.take_along_axis(weight, order, axis=0), axis=0)
    half = 0.5 * total[-1]
    low = np.argmax(total >= half * (1.0 - 1e-9), axis=0)
    high = np.argmax(total > half * (1.0 + 1e-9), axis=0)
    pick = np.arange(v.shape[1])
    return np.asarray(0.5 * (v[low, pick] + v[high, pick]))


def _scatter(off: Array, support: Array, floor: float) -> Array:
    """Per bin and its two neighbours, from pulls that have a peer there; at least the floor."""
    n = off.shape[1]
    good = np.where(support > 0.1, off, np.nan)
    every = robust_sd(good, 0.0)
    out = np.full(n, max(floor, every if np.isfinite(every) else floor))
    for b in range(n):
        near = good[:, max(0, b - 1) : b + 2]
        if np.isfinite(near).sum() >= 3 * FEWEST:
            out[b] = max(floor, robust_sd(near, 0.0))
    return out


def odd_stretch(
    off: Array, scatter: Array, sign: int, *, near: float = 0.5
) -> tuple[int, int, float, float] | None:
    """The run of bins round the largest deviation of one sign in which at least `near` of it stands.

    off, scatter: (bins,) of one pull. Returns first and last bin, mean deviation there, and that over the
    scatter there; None where there is no deviation of that sign.
    """
    there = np.flatnonzero(np.isfinite(off) & np.isfinite(scatter))
    z = sign * off[there] / scatter[there]
    if not (z > 0.0).any():
        return None
    top = int(np.argmax(z))
    least = near * z[top]
    a = b = top
    while a > 0 and z[a - 1] >= least:
        a -= 1
    while b < z.size - 1 and z[b + 1] >= least:
        b += 1
    size = float(np.mean(off[there[a : b + 1]]))
    return int(there[a]), int(there[b]), size, float(np.mean(z[a : b + 1]))
