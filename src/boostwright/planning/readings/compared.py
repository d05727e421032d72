"""The same reading before and after the conversion: the change against the reading's own scatter."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.job.records import Reading
from boostwright.library.measurements import Measurement, measurements

__all__ = ["REAL", "Comparer", "Comparison", "two_sample"]

Array = NDArray[np.float64]

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
    return _changed(old.mean(axis=0), new.mean(axis=0), np.asarray(sd, float), (old.shape[0], new.shape[0]))


def _changed(was: Array, now: Array, sd: Array, counts: tuple[int, int]) -> Comparison:
    """The same from the means of both sides."""
    k = was.size
    spread = np.maximum(np.broadcast_to(sd, (k,)), _LEAST) * math.sqrt(1.0 / counts[0] + 1.0 / counts[1])
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
        counts,
    )


@dataclass(slots=True)
class _Sum:
    """Readings of one kind, added up."""

    count: int = 0
    total: Array | float = 0.0

    def add(self, values: tuple[float, ...]) -> None:
        self.count += 1
        self.total = self.total + np.asarray(values, dtype=np.float64)


class Comparer:
    """Readings after the conversion against all of those before it, one by one in their order.

    Only readings of as many places count together; those that were taken for a step, with those of that step
    and of none.
    """

    def __init__(self, readings: Sequence[Reading]) -> None:
        """readings: every standing one, whichever their order."""
        self._before: dict[tuple[str, int, str], _Sum] = {}
        self._after: dict[tuple[str, int, str], _Sum] = {}
        for reading in readings:
            one = measurements().get(reading.measurement)
            if one is not None and reading.values and (reading.when or one.sides[0]) == "before":
                key = (one.key, len(reading.values), reading.step)
                self._before.setdefault(key, _Sum()).add(reading.values)

    def next(self, one: Measurement, side: str, reading: Reading, shown: bool = True) -> Comparison | None:
        """The change with this reading and those after the conversion that came before it.

        shown: whether anyone looks at it; what is not shown counts all the same in those that follow. None
        where there is nothing to compare.
        """
        if side != "after" or one.repeat is None or not reading.values:
            return None
        k = len(reading.values)
        self._after.setdefault((one.key, k, reading.step), _Sum()).add(reading.values)
        if not shown:
            return None
        steps = {"", reading.step}
        before = [s for step in steps if (s := self._before.get((one.key, k, step)))]
        after = [s for step in steps if (s := self._after.get((one.key, k, step)))]
        if not before or not after:
            return None
        n, m = sum(s.count for s in before), sum(s.count for s in after)
        was = np.asarray(sum((s.total for s in before), np.zeros(k)) / n)
        now = np.asarray(sum((s.total for s in after), np.zeros(k)) / m)
        return _changed(was, now, np.array([one.repeat.at(float(v)) for v in was]), (n, m))
