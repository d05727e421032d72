"""What a reading is worth before it is taken: how much less is lost when one may act on what it shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from boostwright.errors import OutOfRange

__all__ = ["Stake", "Worth", "lost", "worth_of"]

Array = NDArray[np.float64]

_SHOWN: Final = 256  # things that the reading may show, that are tried
_NULLS: Final = 4  # readings of nothing, whose worth is what chance alone makes
_FEWEST: Final = 64  # draws


@dataclass(frozen=True, slots=True)
class Stake:
    """What hangs on one question.

    fails: (n,) probability that it fails given each draw [-]. weight: what is lost if it does. mend: what it
    costs to make it safe beforehand, in the same unit.
    """

    fails: Array
    weight: float
    mend: float


class Worth(NamedTuple):
    """Expected fall of what is lost, in the unit of the weights; of each stake (k,), with its error."""

    drop: Array
    error: Array

    @property
    def whole(self) -> float:
        """Of all stakes together."""
        return float(self.drop.sum())

    @property
    def whole_error(self) -> float:
        """One standard deviation of `whole`, stakes taken as going together."""
        return float(self.error.sum())


def lost(fails: ArrayLike, weight: float, mend: float) -> Array:
    """What is lost by whoever acts for the best: min(weight p, mend); any shape."""
    return np.asarray(np.minimum(weight * np.asarray(fails, dtype=np.float64), mend))


def worth_of(
    read: Sequence[tuple[ArrayLike, float]], stakes: Sequence[Stake], rng: np.random.Generator
) -> Worth:
    """The worth of one reading, for every stake.

    V = min(w E p, m) - E_y min(w E[p|y], m), y = what the reading shows: the expected value of sample
    information of a choice between taking the risk and mending (raiffa1961). E[p|y] weighs every draw by the
    likelihood of y, normal about what the draw has.

    read: what is read, each with the values of the draws (n,) and the standard deviation of the reading, in
    its own unit. stakes: each over the same draws. rng: chooses what is shown. Readings of shuffled draws,
    which tell nothing, give what chance alone makes of it; that is taken off, and its scatter is the error.
    Raises OutOfRange for fewer than 64 draws, or a reading without a spread.
    """
    columns = [(np.asarray(x, dtype=np.float64), float(sd)) for x, sd in read]
    n = columns[0][0].size if columns else 0
    if n < _FEWEST or any(x.size != n for x, _ in columns) or any(s.fails.size != n for s in stakes):
        raise OutOfRange(f"The worth of a reading needs {_FEWEST} or more draws, alike for all; got {n}.")
    if not all(np.isfinite(sd) and sd > 0.0 for _, sd in columns):
        raise OutOfRange("A reading needs a standard deviation above zero.")
    p = np.stack([s.fails for s in stakes], axis=1)
    weight = np.array([s.weight for s in stakes])
    mend = np.array([s.mend for s in stakes])
    before = np.minimum(weight * p.mean(axis=0), mend)
    shown = rng.choice(n, size=min(_SHOWN, n), replace=False)
    noise = [rng.standard_normal(shown.size) for _ in columns]
    chance = _likelihood(columns, shown, noise)

    def drop(of: Array) -> tuple[Array, Array]:
        each = before - np.minimum(weight * (chance @ of), mend)
        return each.mean(axis=0), each.std(axis=0) / np.sqrt(shown.size)

    found, scatter = drop(p)
    nulls = np.array([drop(p[rng.permutation(n)])[0] for _ in range(_NULLS)])
    error = np.hypot(scatter, nulls.std(axis=0, ddof=1))
    return Worth(found - nulls.mean(axis=0), error)


def _likelihood(
    columns: Sequence[tuple[Array, float]], shown: NDArray[np.int64], noise: Sequence[Array]
) -> Array:
    """Weights of all draws for each thing shown, (k, n), rows summing to one."""
    square = np.zeros((shown.size, columns[0][0].size))
    for (x, sd), off in zip(columns, noise, strict=True):
        y = x[shown] + sd * off
        square += ((y[:, None] - x[None, :]) / sd) ** 2
    return np.asarray(special.softmax(-0.5 * square, axis=1))
