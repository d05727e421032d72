"""The estimator of linear Gaussian readings: a mean with its covariance, moved by what was read.

    K = P H' (H P H' + R)^-1,  x+ = x + K (r - H x),  P+ = (1 - K H) P (1 - K H)' + K R K'

Repeated about the newest mean with fresh slopes it is the step of Gauss and Newton with a prior (rodgers2000,
section 5.3, from memory). This form of P+ stays symmetric and positive whatever is rounded.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve
from scipy.special import log_ndtr

from boostwright.errors import NotConverged

__all__ = ["Belief", "Update", "below", "smooth_covariance", "update"]

Array = NDArray[np.float64]


class Belief(NamedTuple):
    """Unknowns with what is known of them: mean (k,), covariance (k, k)."""

    mean: Array
    covariance: Array

    @property
    def sd(self) -> Array:
        """Standard deviations (k,)."""
        return np.asarray(np.sqrt(np.maximum(np.diag(self.covariance), 0.0)))


class Update(NamedTuple):
    """A belief after readings.

    chi_square: squares of what was read less expected, by its covariance beforehand, over the number of
    readings; near 1 where belief and readings are what they say. weight: (m,) each reading counted with.
    """

    belief: Belief
    chi_square: float
    weight: Array


def update(belief: Belief, H: Array, read: Array, sd: Array, robust: float = math.inf) -> Update:
    """The belief after readings read = H x + noise.

    H: slopes (m, k). read: (m,). sd: of each reading by itself (m,). robust: readings that stay farther off
    than so many of their own sd count with less weight, as Huber has it (huber1964, from memory); infinite:
    all count fully. No readings leave the belief as it is. Raises NotConverged where a number is none.
    """
    H, read, sd = (np.asarray(x, dtype=np.float64) for x in (H, read, sd))
    if not read.size:
        return Update(belief, math.nan, np.empty(0))
    if not (np.isfinite(H).all() and np.isfinite(read).all() and np.isfinite(sd).all() and np.all(sd > 0.0)):
        raise NotConverged(
            "A reading, a slope or a spread of this drive is no number; nothing can be learned."
        )
    x, P = belief
    forecast = H @ P @ H.T
    off = read - H @ x
    weight = np.ones(read.size)
    rounds = 1 if math.isinf(robust) else 6
    for _ in range(rounds):
        R = sd**2 / weight
        S = cho_factor(forecast + np.diag(R), lower=True)
        K = cho_solve(S, H @ P).T
        left = off - H @ (K @ off)  # of each reading after the update
        if rounds > 1:
            weight = np.minimum(1.0, robust / np.maximum(np.abs(left) / sd, 1e-12))
    chi = float(off @ cho_solve(S, off)) / read.size
    keep = np.eye(x.size) - K @ H
    after = keep @ P @ keep.T + (K * R) @ K.T
    return Update(Belief(x + K @ off, 0.5 * (after + after.T)), chi, weight)


def below(belief: Belief, a: Array, most: float, softness: float = 0.0) -> Belief:
    """The belief after it was seen that a'x stays below a number, which itself is sure to `softness`.

    Mean and covariance of the cut Gaussian, exact for one cut (own derivation; the moments of a truncated
    normal are textbook). a: (k,). Never widens.
    """
    x, P = belief
    a = np.asarray(a, dtype=np.float64)
    Pa = P @ a
    sd = math.sqrt(float(a @ Pa) + softness**2)
    if sd <= 0.0:
        return belief
    alpha = (most - float(a @ x)) / sd
    ratio = math.exp(-0.5 * alpha**2 - 0.5 * math.log(2.0 * math.pi) - float(log_ndtr(alpha)))
    mean = x - Pa / sd * ratio
    covariance = P - np.outer(Pa, Pa) / sd**2 * ratio * (ratio + alpha)
    return Belief(mean, 0.5 * (covariance + covariance.T))


def smooth_covariance(first: Array, second: Array, sd: float, lengths: Array) -> Array:
    """Covariance of a smooth unknown function at places first (n, d) and second (m, d): sd^2 exp(-r^2/2).

    lengths: (d,) over which it stays alike. A Gaussian process of the squared exponential kind
    (rasmussen2006, chapter 4, from memory): far from all readings it goes back to zero with its whole spread.
    """
    gap = (np.asarray(first)[:, None, :] - np.asarray(second)[None, :, :]) / np.asarray(lengths)
    return np.asarray(sd**2 * np.exp(-0.5 * np.sum(gap**2, axis=2)))
