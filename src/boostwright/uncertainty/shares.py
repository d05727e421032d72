"""Where a spread comes from: shares of variance, by a surrogate and by the draws alone."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange
from boostwright.uncertainty.surrogate import Surrogate

__all__ = ["Share", "alone_by_draws", "shares_of"]

Array = NDArray[np.float64]

_PARTS: Final = 8  # in which draws are left out in turn


class Share(NamedTuple):
    """Share of one unknown, or of some together, in a variance [-]."""

    columns: tuple[int, ...]
    alone: float  # what would go away if it alone were known, on average
    total: float  # what would be left if all others were known
    error: float  # of `alone`, one standard deviation


def shares_of(
    surrogate: Surrogate,
    scores: ArrayLike,
    values: ArrayLike,
    groups: Sequence[tuple[int, ...]] | None = None,
) -> tuple[Share, ...]:
    """Shares of variance from a surrogate, largest first (sobol1993; sudret2008).

    The square of a term's weight belongs to the unknowns in it. What terms explain by chance is taken out by
    the error on draws held out: alone and total are scaled by (1 - held_out)/explained, so that all shares
    and `held_out` make one, apart from terms that belong to several groups.

    surrogate: of the values. scores: (n, d) independent normal scores. values: (n,). groups: columns taken
    together; None: each alone. The error is that of the weights, by leaving out an eighth of the draws in
    turn.
    """
    z, y = np.asarray(scores, dtype=np.float64), np.asarray(values, dtype=np.float64)
    parts = [(i,) for i in range(z.shape[1])] if groups is None else list(groups)
    if surrogate.variance <= 0.0 or not surrogate.terms:
        return tuple(Share(group, 0.0, 0.0, 0.0) for group in parts)
    squares = surrogate.weights**2 / surrogate.variance
    honest = (1.0 - surrogate.held_out) / max(surrogate.explained, 1e-12)
    inside = [np.array([all(i in g for i, _ in t) for t in surrogate.terms]) for g in map(set, parts)]
    touching = [np.array([any(i in g for i, _ in t) for t in surrogate.terms]) for g in map(set, parts)]
    again = _again(surrogate, z, y)
    found = []
    for group, own, any_ in zip(parts, inside, touching, strict=True):
        alone, total = honest * float(squares[own].sum()), honest * float(squares[any_].sum())
        others = honest * again[:, own].sum(axis=1)
        spread = float(np.sqrt((_PARTS - 1) / _PARTS * np.sum((others - others.mean()) ** 2)))
        found.append(Share(group, alone, total, spread))
    return tuple(sorted(found, key=lambda s: -s.total))


def _again(surrogate: Surrogate, z: Array, y: Array) -> Array:
    """Squares of the weights over the variance, with an eighth of the draws left out in turn, (8, k)."""
    table = surrogate.columns(z)
    rows = []
    for k in range(_PARTS):
        keep = np.arange(y.size) % _PARTS != k
        whole = np.column_stack([np.ones(int(keep.sum())), table[keep]])
        weights = np.linalg.lstsq(whole, y[keep], rcond=None)[0][1:]
        rows.append(weights**2 / float(np.var(y[keep])))
    return np.array(rows)


def alone_by_draws(score: ArrayLike, values: ArrayLike, classes: int | None = None) -> float:
    """The share of one unknown alone, from draws without any model between [-].

    Draws are sorted by the score and cut into classes of equal size; the share is the variance of the class
    means over the whole, less what as many classes of pure chance would show: (m S_b - (c-1) S_w)/total in
    the words of a one-way analysis of variance (plischke2013 for the estimator, fisher1925 for the
    correction). score: (n,). values: (n,). classes: None for about the square root of n, 16 at most. Raises
    OutOfRange for fewer than 16 draws.
    """
    x, y = np.asarray(score, dtype=np.float64), np.asarray(values, dtype=np.float64)
    if x.shape != y.shape or y.size < 16:
        raise OutOfRange(f"A share from draws alone needs 16 or more of them; got {y.size}.")
    total = float(np.sum((y - y.mean()) ** 2))
    if total == 0.0:
        return 0.0
    count = min(16, max(2, round(np.sqrt(y.size)))) if classes is None else classes
    parts = np.array_split(y[np.argsort(x, kind="stable")], count)
    between = sum(p.size * (float(p.mean()) - float(y.mean())) ** 2 for p in parts)
    within = (total - between) / (y.size - count)
    return float((between - (count - 1) * within) / total)
