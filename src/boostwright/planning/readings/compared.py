"""The same reading before and after the conversion: the change against the reading's own scatter."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from boostwright.job.records import Reading
from boostwright.library.measurements import Measurement

__all__ = ["REAL", "Comparison", "compare", "two_sample"]

REAL: Final = 0.05  # a change that chance alone shows more rarely is called real [-]; common practice
_LEAST: Final = 1e-12


@dataclass(frozen=True, slots=True)
class Comparison:
    """A change from before to after, at the place where it is largest against its scatter.

    before, after: means of the readings of each side there [SI]. change: after less before; sd: its standard
    deviation by repeatability. z: the two as a ratio. chance: that an unchanged car shows as much at any of
    its places, either way [-]. place: from 0. counts: readings on each side.
    """

    before: float
    after: float
    change: float
    sd: float
    z: float
    chance: float
    place: int
    places: int
    counts: tuple[int, int]

    @property
    def real(self) -> bool:
        """Whether chance is a poor explanation."""
        return self.chance < REAL


def two_sample(before: ArrayLike, after: ArrayLike, sd: ArrayLike) -> Comparison:
    """Two-sample z test with known spread, the largest of k places.

    z = (mean after - mean before)/(s sqrt(1/n + 1/m)); chance that |z| is as large at one of k places that
    did not change: 1 - (1 - 2 (1 - Phi(|z|)))^k.

    before, after: readings, shape (n, k) and (m, k) [SI]. sd: s of one reading at each place (k,). Raises
    ValueError for sides of different k. Source: montgomery2003, sec. 10-2.1, from memory.
    """
    old, new = np.atleast_2d(np.asarray(before, float)), np.atleast_2d(np.asarray(after, float))
    if old.shape[1] != new.shape[1]:
        raise ValueError(f"{old.shape[1]} places before and {new.shape[1]} after")
    n, m, k = old.shape[0], new.shape[0], old.shape[1]
    spread = np.maximum(np.broadcast_to(np.asarray(sd, float), (k,)), _LEAST) * math.sqrt(1.0 / n + 1.0 / m)
    was, now = old.mean(axis=0), new.mean(axis=0)
    z = (now - was) / spread
    i = int(np.argmax(np.abs(z)))
    once = 2.0 * NormalDist().cdf(-abs(float(z[i])))
    chance = -math.expm1(k * math.log1p(-once)) if once < 1.0 else 1.0
    return Comparison(
        float(was[i]),
        float(now[i]),
        float(now[i] - was[i]),
        float(spread[i]),
        float(z[i]),
        chance,
        i,
        k,
        (n, m),
    )


def compare(one: Measurement, readings: Sequence[Reading], side: str, reading: Reading) -> Comparison | None:
    """A reading after the conversion against those before it; None where nothing can be compared.

    Readings of the same side up to this one count with it, as means.
    """
    if side != "after" or one.repeat is None or not reading.values:
        return None
    k = len(reading.values)
    same = [
        r
        for r in readings
        if r.measurement == one.key and len(r.values) == k and r.step in ("", reading.step)
    ]
    before = [r.values for r in same if (r.when or one.sides[0]) == "before"]
    after = [r.values for r in same if (r.when or one.sides[0]) == "after" and r.time <= reading.time]
    if not before or not after:
        return None
    scale = np.mean(before, axis=0)
    return two_sample(before, after, [one.repeat.at(float(v)) for v in scale])
