"""When draws are enough: the adaptive rule of the Guide's supplement, on independent scrambled nets."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from boostwright.errors import OutOfRange

__all__ = ["Settling", "numerical_tolerance", "settled", "settling"]


class Settling(NamedTuple):
    """Estimates from all nets and what they are still unsure by; order: mean, standard uncertainty, low and
    high end of the interval.
    """

    estimate: tuple[float, float, float, float]
    doubled_error: tuple[float, float, float, float]  # twice the standard deviation of each average
    tolerance: float

    @property
    def enough(self) -> bool:
        """Whether every doubled error is below the tolerance."""
        return all(error < self.tolerance for error in self.doubled_error)


def numerical_tolerance(uncertainty: float, digits: int) -> float:
    """Half a unit in the last of the figures that count of a standard uncertainty [same unit].

    u = c 10^l with c a whole number of that many figures; delta = 10^l / 2 (jcgm101, clause 7.9.2). Raises
    OutOfRange for an uncertainty that is not above zero, or for no figures.
    """
    if not (math.isfinite(uncertainty) and uncertainty > 0.0) or digits < 1:
        raise OutOfRange(
            f"A numerical tolerance needs an uncertainty above zero and one or more figures, not"
            f" {uncertainty:g} and {digits}."
        )
    exponent = math.floor(math.log10(uncertainty)) - digits + 1
    if round(uncertainty / 10.0**exponent) >= 10**digits:  # 9.6 with one figure is 1 of the next ten
        exponent += 1
    return 0.5 * 10.0**exponent


def settling(values: ArrayLike, digits: int = 1, coverage: float = 0.95) -> Settling:
    """How far draws have settled.

    values: (h, m), m draws of each of h independent nets, h two or more. digits: figures of the standard
    uncertainty that must be right. coverage: of the probabilistically symmetric interval [-]. The averages
    over nets and their standard deviations follow clause 7.9.4 of jcgm101, nets in place of its sequences of
    trials. Raises OutOfRange for fewer than two nets or draws.
    """
    table = np.asarray(values, dtype=np.float64)
    if table.ndim != 2 or min(table.shape) < 2 or not np.all(np.isfinite(table)):
        raise OutOfRange("Settling needs two or more nets with two or more finite draws each.")
    ends = (0.5 * (1.0 - coverage), 0.5 * (1.0 + coverage))
    columns = [
        table.mean(axis=1),
        table.std(axis=1, ddof=1),
        *(np.quantile(table, end, axis=1) for end in ends),
    ]
    estimate = tuple(float(c.mean()) for c in columns)
    error = tuple(float(2.0 * c.std(ddof=1) / math.sqrt(c.size)) for c in columns)
    whole = float(table.std(ddof=1))
    if whole == 0.0:
        return Settling(_four(estimate), _four(error), math.inf)
    return Settling(_four(estimate), _four(error), numerical_tolerance(whole, digits))


def settled(values: ArrayLike, digits: int = 1, coverage: float = 0.95) -> bool:
    """Whether `settling` says enough."""
    return settling(values, digits, coverage).enough


def _four(values: tuple[float, ...]) -> tuple[float, float, float, float]:
    a, b, c, d = values
    return a, b, c, d
