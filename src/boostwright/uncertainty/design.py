"""Draws of many unknowns: scrambled nets of low discrepancy, with correlation where it is known."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special
from scipy.stats import qmc

from boostwright.errors import OutOfRange
from boostwright.uncertainty.marginals import Marginal

__all__ = ["Design"]

Array = NDArray[np.float64]

_CHUNK: Final = 64  # points of a net made at a time
_EDGE: Final = 2.0**-53
_SINGULAR: Final = 1e-8  # least eigenvalue that is left in a correlation matrix


class Design:
    """Points of several independent scrambled nets (owen1997) in d dimensions, as values of the unknowns.

    Point k of every net makes block k; blocks 0 to n-1 of any n are a sample in which all nets are alike, and
    where n is a power of two each net is whole. Correlation enters through normal scores (a Gaussian copula):
    the unknowns keep their own distributions.
    """

    def __init__(
        self,
        marginals: Sequence[Marginal],
        correlation: ArrayLike | None = None,
        *,
        replicates: int = 8,
        seed: int = 1,
    ) -> None:
        """marginals: of the unknowns, d of them. correlation: (d, d) of their normal scores; None: none.
        replicates: how many nets. seed: all follows from it. Raises OutOfRange for no unknowns, or for a
        matrix that cannot be one of correlations.
        """
        if not marginals or replicates < 1:
            raise OutOfRange("A design needs one or more unknowns and one or more nets.")
        self.marginals = tuple(marginals)
        self.replicates = replicates
        d = len(self.marginals)
        self._factor = np.eye(d) if correlation is None else _factor(np.asarray(correlation, float), d)
        seeds = np.random.SeedSequence(seed).spawn(replicates)
        self._nets = [qmc.Sobol(d, scramble=True, rng=np.random.default_rng(s)) for s in seeds]
        self._points = np.empty((replicates, 0, d))

    def uniforms(self, k: int) -> Array:
        """Point k of every net, before anything else, shape (replicates, d), inside 0 to 1."""
        while self._points.shape[1] <= k:
            more = np.stack([net.random(_CHUNK) for net in self._nets])
            self._points = np.concatenate([self._points, more], axis=1)
        return np.asarray(np.clip(self._points[:, k], _EDGE, 1.0 - _EDGE))

    def scores(self, k: int) -> Array:
        """Independent normal scores of block k, shape (replicates, d)."""
        return np.asarray(special.ndtri(self.uniforms(k)))

    def correlated(self, scores: ArrayLike) -> Array:
        """Independent normal scores (n, d) with the correlation of the design put in, (n, d)."""
        return np.asarray(np.asarray(scores, dtype=np.float64) @ self._factor.T)

    def correlated_scores(self, k: int) -> Array:
        """Normal scores of block k with their correlation, shape (replicates, d)."""
        return self.correlated(self.scores(k))

    def block(self, k: int) -> Array:
        """Values of block k, shape (replicates, d), in the units of the unknowns."""
        u = np.clip(special.ndtr(self.correlated_scores(k)), _EDGE, 1.0 - _EDGE)
        return np.stack([m.ppf(u[:, i]) for i, m in enumerate(self.marginals)], axis=1)


def _factor(matrix: Array, d: int) -> Array:
    """The lower factor of a correlation matrix; one that is nearly singular is moved to the nearest that is
    not.
    """
    alike = matrix.shape == (d, d) and np.allclose(matrix, matrix.T) and np.allclose(np.diag(matrix), 1.0)
    if not alike or not np.all(np.abs(matrix) <= 1.0 + 1e-12):
        raise OutOfRange(
            f"A correlation matrix of {d} unknowns is {d} by {d}, symmetric, with ones on its diagonal and"
            " nothing beyond one beside it."
        )
    values, vectors = np.linalg.eigh(matrix)
    if values[0] < -1e-6:
        raise OutOfRange(
            f"These correlations contradict each other (least eigenvalue {values[0]:.2g}): no unknowns can"
            " move together like that. Make the strongest ones weaker."
        )
    if values[0] < _SINGULAR:
        matrix = (vectors * np.maximum(values, _SINGULAR)) @ vectors.T
        scale = np.sqrt(np.diag(matrix))
        matrix = matrix / np.outer(scale, scale)
    return np.asarray(np.linalg.cholesky(matrix))
