"""Boost of a pull against that of like pulls at the same time since they began, beside that at like speed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.pulls import Pull

__all__ = ["behind_in_time"]

Array = NDArray[np.float64]

NEAREST = 5  # pulls that began at the nearest speeds
FEWEST = 2
ABOVE = 5.0  # rad/s by which a peer may have begun higher and still count as no quicker
LIKE_PACE = 0.2  # of the logarithm of the pace, where nobody knows the gear


def behind_in_time(pulls: tuple[Pull, ...], i: int, pressure: Array, first: int, last: int) -> float:
    """Mean pressure by which a pull lies below its peers at the same time since they began [Pa].

    A pull that begins at a higher engine speed passes each speed sooner, with a turbo that had less time, and
    has less boost there; but in time it gains boost no slower than those that began lower, for it has more
    gas. Whoever is short at like speed and not in time has begun late, and lacks nothing.

    pressure: (n,) [Pa]. first, last: places of the part of pull i that is judged. inf with fewer than two
    peers that began no higher.
    """
    me = pulls[i]
    like = [
        p
        for k, p in enumerate(pulls)
        if k != i
        and p.stretch.gear == me.stretch.gear
        and p.after_shift == me.after_shift
        and p.speed_from <= me.speed_from + ABOVE
        and p.last - p.first > last - me.first
        and (me.stretch.gear or abs(np.log(max(p.pace, 1.0) / max(me.pace, 1.0))) < LIKE_PACE)
    ]
    like = sorted(like, key=lambda p: -p.speed_from)[:NEAREST]
    if len(like) < FEWEST:
        return float("inf")
    theirs = np.stack([pressure[p.first + first - me.first : p.first + last - me.first + 1] for p in like])
    off = np.median(theirs, axis=0) - pressure[first : last + 1]
    off = off[np.isfinite(off)]
    return float(np.mean(off)) if off.size else float("inf")
