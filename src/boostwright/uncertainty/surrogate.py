"""A cheap stand-in for a dear model: a sparse polynomial in normal scores, with its honest error.

From a few hundred draws of a hundred unknowns no full polynomial can be told. Most of them matter little, so
terms are taken up one by one, the one that explains most of what is left first, until draws held out say that
more terms only follow chance.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from boostwright.errors import OutOfRange

__all__ = ["Scale", "Surrogate", "Term", "fit_surrogate"]

Array = NDArray[np.float64]

_FOLDS: Final = 8
_CROSSED: Final = 10  # unknowns whose products are tried where not all can be
_HIGHEST: Final = 14  # degree
_USUAL: Final = 3  # degree of single terms where not all products can be tried
_MOST_TERMS: Final = 80
_PER_TERM: Final = 5  # draws for each term at least
_FEWEST: Final = 16  # draws
_TINY: Final = 1e-10


class Scale(Enum):
    """In which scale of an unknown the polynomials run."""

    NORMAL = "normal"  # Hermite, in its normal score
    EVEN = "even"  # Legendre, in its probability from -1 to 1
    TWO = "two"  # the sign of its score


Term = tuple[tuple[int, int], ...]
"""One term: (unknown, degree) for each factor."""


@dataclass(frozen=True, slots=True)
class Surrogate:
    """A sparse polynomial.

    mean: of the quantity. terms, weights: of its orthonormal terms (k,). variance: of the draws behind it.
    held_out: share of that variance which it does not explain on draws that it has not seen [-]; terms were
    chosen anew without them. scales: of the unknowns (d,).
    """

    mean: float
    terms: tuple[Term, ...]
    weights: Array
    variance: float
    held_out: float
    scales: tuple[Scale, ...]

    def __call__(self, scores: ArrayLike) -> Array:
        """The quantity at independent normal scores (n, d); returns (n,)."""
        z = np.atleast_2d(np.asarray(scores, dtype=np.float64))
        if not self.terms:
            return np.full(z.shape[0], self.mean)
        return np.asarray(self.mean + self.columns(z) @ self.weights)

    def columns(self, scores: ArrayLike) -> Array:
        """The values of its terms at scores (n, d); returns (n, k)."""
        return _columns(np.asarray(scores, dtype=np.float64), self.terms, self.scales)

    @property
    def explained(self) -> float:
        """Share of the variance that its own terms carry, chance included [-]."""
        return float(np.sum(self.weights**2) / self.variance) if self.variance > 0.0 else 0.0


def fit_surrogate(scores: ArrayLike, values: ArrayLike, scales: Sequence[Scale] | None = None) -> Surrogate:
    """A surrogate of values at independent normal scores.

    scores: (n, d) [-]. values: (n,), any unit. scales: (d,) of the unknowns; None: all normal. Terms are
    products of orthonormal polynomials: all up to the highest total degree that has no more terms than half
    the draws, or, for many unknowns, single ones up to degree 3 and products of the strongest. They are taken
    up by orthogonal matching pursuit (pati1993); their number by cross-validation over 8 folds, terms chosen
    anew in each. Raises OutOfRange for fewer than 16 draws or for values that are not finite.
    """
    z = np.asarray(scores, dtype=np.float64)
    y = np.asarray(values, dtype=np.float64)
    if z.ndim != 2 or y.shape != (z.shape[0],) or y.size < _FEWEST:
        raise OutOfRange(f"A surrogate needs {_FEWEST} or more draws, each with its scores; got {y.size}.")
    if not (np.isfinite(z).all() and np.isfinite(y).all()):
        raise OutOfRange("A surrogate needs draws that are all numbers.")
    kinds = (Scale.NORMAL,) * z.shape[1] if scales is None else tuple(scales)
    variance = float(np.var(y))
    if math.sqrt(variance) <= _TINY * max(abs(float(y.mean())), 1e-300):
        return Surrogate(float(y.mean()), (), np.empty(0), 0.0, 0.0, kinds)
    fold = np.arange(y.size) % _FOLDS
    errors = []
    for k in range(_FOLDS):
        seen = fold != k
        terms = _candidates(z[seen], y[seen], kinds)
        table = _columns(z, terms, kinds)
        errors.append(_pursue(table[seen], y[seen], table[~seen], y[~seen])[1])
    shortest = min(len(e) for e in errors)
    total = np.sum([e[:shortest] for e in errors], axis=0) / np.sum((y - y.mean()) ** 2)
    count = int(np.argmin(total))
    terms = _candidates(z, y, kinds)
    chosen = _pursue(_columns(z, terms, kinds), y)[0][:count]
    kept = tuple(terms[i] for i in chosen)
    whole = np.column_stack([np.ones(y.size), _columns(z, kept, kinds)])
    found = np.linalg.lstsq(whole, y, rcond=None)[0]
    weights = np.asarray(found[1:], dtype=np.float64)
    return Surrogate(float(found[0]), kept, weights, variance, float(min(total[count], 1.0)), kinds)


def _pursue(
    table: Array, y: Array, other: Array | None = None, other_y: Array | None = None
) -> tuple[list[int], Array]:
    """Columns in the order in which they are taken up, and the squared error of every model on other draws:
    of none, one, two ... columns.

    Each chosen column is freed of those before it, so that a step costs one product with the table.
    """
    shift, mean = table.mean(axis=0), float(y.mean())
    size = np.linalg.norm(table - shift, axis=0)
    left = y - mean
    base = np.empty((0, y.size))
    away = None if other is None else np.asarray(other_y) - mean
    base_away = np.empty((0, 0 if other is None else other.shape[0]))
    errors = [] if away is None else [float(np.sum(away**2))]
    open_ = size > _TINY
    chosen: list[int] = []
    for _ in range(min(_MOST_TERMS, y.size // _PER_TERM, int(open_.sum()))):
        strength = np.where(open_, np.abs(table.T @ left) / np.where(open_, size, 1.0), -1.0)
        i = int(np.argmax(strength))
        open_[i] = False
        column = table[:, i] - shift[i]
        parts = base @ column
        column = column - parts @ base
        length = float(np.linalg.norm(column))
        if length < 1e-6 * size[i]:
            continue
        column /= length
        step = float(column @ left)
        left = left - step * column
        base = np.vstack([base, column])
        chosen.append(i)
        if other is not None and away is not None:
            beside = (other[:, i] - shift[i] - parts @ base_away) / length
            base_away = np.vstack([base_away, beside])
            away = away - step * beside
            errors.append(float(np.sum(away**2)))
    return chosen, np.array(errors)


def _candidates(z: Array, y: Array, scales: tuple[Scale, ...]) -> tuple[Term, ...]:
    """The terms that are tried."""
    d, most = z.shape[1], y.size // 2
    degree = max((p for p in range(1, _HIGHEST + 1) if math.comb(d + p, p) <= most), default=1)
    if degree >= _USUAL:
        return _all_terms(d, degree, scales)
    singles = _single_terms(d, scales)
    table = _columns(z, singles, scales)
    centred = table - table.mean(axis=0)
    size = np.linalg.norm(centred, axis=0)
    strength = np.abs(centred.T @ (y - y.mean())) / np.where(size > _TINY, size, np.inf)
    return (*singles, *_crossed_terms(_strongest(singles, strength), scales))


def _all_terms(d: int, degree: int, scales: tuple[Scale, ...]) -> tuple[Term, ...]:
    """Every product up to a total degree."""
    found: list[Term] = []
    stack: list[tuple[Term, int, int]] = [((), 0, degree)]
    while stack:
        term, first, room = stack.pop()
        if term:
            found.append(term)
        for i in range(first, d):
            top = min(room, 1 if scales[i] is Scale.TWO else room)
            stack += [((*term, (i, k)), i + 1, room - k) for k in range(1, top + 1)]
    return tuple(sorted(found, key=lambda t: (sum(k for _, k in t), t)))


def _single_terms(d: int, scales: tuple[Scale, ...]) -> tuple[Term, ...]:
    return tuple(((i, k),) for i in range(d) for k in range(1, 2 if scales[i] is Scale.TWO else _USUAL + 1))


def _strongest(singles: tuple[Term, ...], strength: Array) -> list[int]:
    """The unknowns whose own terms explain most."""
    best: dict[int, float] = {}
    for term, value in zip(singles, strength, strict=True):
        best[term[0][0]] = max(best.get(term[0][0], 0.0), float(value))
    return sorted(best, key=lambda i: -best[i])[:_CROSSED]


def _crossed_terms(best: list[int], scales: tuple[Scale, ...]) -> tuple[Term, ...]:
    """Products of two of the strongest, of degrees 1 and 1, and 2 and 1."""
    ordered = sorted(best)
    pairs: list[Term] = [((i, 1), (j, 1)) for k, i in enumerate(ordered) for j in ordered[k + 1 :]]
    bent: list[Term] = [
        ((i, 2), (j, 1)) for i in ordered for j in ordered if i != j and scales[i] is not Scale.TWO
    ]
    return (*pairs, *bent)


def _columns(z: Array, terms: Sequence[Term], scales: tuple[Scale, ...]) -> Array:
    """Values of orthonormal terms, (n, k)."""
    table = np.ones((z.shape[0], len(terms)))
    known: dict[tuple[int, int], Array] = {}
    for k, term in enumerate(terms):
        for i, degree in term:
            if (i, degree) not in known:
                known[i, degree] = _polynomial(z[:, i], degree, scales[i])
            table[:, k] *= known[i, degree]
    return table


def _polynomial(z: Array, degree: int, scale: Scale) -> Array:
    """Orthonormal polynomial of a degree: He_n/sqrt(n!), or sqrt(2n+1) P_n, or the sign."""
    if scale is Scale.TWO:
        return np.where(z < 0.0, -1.0, 1.0)
    if scale is Scale.EVEN:
        x = 2.0 * special.ndtr(z) - 1.0
        return np.asarray(math.sqrt(2.0 * degree + 1.0) * special.eval_legendre(degree, x))
    return np.asarray(special.eval_hermitenorm(degree, z) / math.sqrt(math.factorial(degree)))
