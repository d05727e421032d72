"""Odds from draws: a probability with its sampling error, and the bound that a one-sided sample proves."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from boostwright.errors import OutOfRange

__all__ = ["Odds", "odds"]

Array = NDArray[np.float64]

_CONFIDENCE: Final = 0.95
_NONE: Final = 0.5  # fewer expected cases than this among all draws count as none seen


@dataclass(frozen=True, slots=True)
class Odds:
    """A probability from draws.

    probability: that it holds [-]. sampling_error: one standard deviation [-]. draws: how many. bound: where
    all draws but a trace fell to one side, the other side happens in fewer than 1 of `bound` cases; else
    None.
    """

    probability: float
    sampling_error: float
    draws: int
    bound: int | None = None


def odds(holds: ArrayLike, replicate: ArrayLike) -> Odds:
    """The probability that something holds, from draws in a few independent scrambled nets.

    holds: (n,) probability that it holds given each draw, or 0 and 1 [-]. replicate: (n,) number of the net
    that each draw belongs to. returns: the mean; its error from the scatter of the nets' own means, one
    standard deviation; and, where less than half a case of one side is in all draws, the bound that as many
    independent draws without a case prove: 1 - (1 - 0.95)^(1/n), turned into whole cases and rounded down to
    two figures (clopper1934, one-sided). Nets are taken to be no worse than independent draws for that.

    Raises OutOfRange for no draws, or for values that are no probabilities.
    """
    p = np.atleast_1d(np.asarray(holds, dtype=np.float64))
    net = np.atleast_1d(np.asarray(replicate))
    if p.size == 0 or p.shape != net.shape or not np.all((p >= 0.0) & (p <= 1.0)):
        raise OutOfRange("Odds need one or more draws, each a probability from 0 to 1, and the net of each.")
    mean = float(p.mean())
    means = np.array([p[net == k].mean() for k in np.unique(net)])
    error = float(means.std(ddof=1) / math.sqrt(means.size)) if means.size > 1 else math.nan
    bound = None
    if min(mean, 1.0 - mean) * p.size < _NONE:
        bound = _two_figures(1.0 / float(stats.beta.ppf(_CONFIDENCE, 1, p.size)))
    return Odds(mean, error, int(p.size), bound)


def _two_figures(number: float) -> int:
    """A whole number not above the given one, with two figures that count."""
    if number < 100.0:
        return int(number)
    step = 10.0 ** (math.floor(math.log10(number)) - 1)
    return int(math.floor(number / step) * step)
