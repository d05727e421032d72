"""How one unknown is distributed: even, by factors, with a heavy tail, wider to one side, or one of two."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from boostwright.errors import OutOfRange

__all__ = ["Bounded", "HeavyTail", "LogNormal", "Marginal", "Normal", "TwoPoint", "TwoSided"]

Array = NDArray[np.float64]

_NODES: Final = 4096  # midpoints of the probability over which moments without a formula are taken


class Marginal(Protocol):
    """The distribution of one unknown, in its own unit."""

    def ppf(self, u: ArrayLike) -> Array:
        """The value below which a share u of cases lies; any shape, u from 0 to 1 [-]."""
        ...

    def cdf(self, x: ArrayLike) -> Array:
        """The share of cases at or below x [-]; any shape."""
        ...

    @property
    def mean(self) -> float:
        """Mean."""
        ...

    @property
    def sd(self) -> float:
        """Standard deviation."""
        ...


def _positive(words: str, **numbers: float) -> None:
    for name, number in numbers.items():
        if not (math.isfinite(number) and number > 0.0):
            raise OutOfRange(f"{words} needs a {name} above zero, not {number:g}.")


def _finite(words: str, **numbers: float) -> None:
    for name, number in numbers.items():
        if not math.isfinite(number):
            raise OutOfRange(f"{words} needs a number as its {name}, not {number:g}.")


@dataclass(frozen=True, slots=True)
class Normal:
    """Even to both sides."""

    mean: float
    sd: float

    def __post_init__(self) -> None:
        _finite("A normal distribution", mean=self.mean)
        _positive("A normal distribution", sd=self.sd)

    def ppf(self, u: ArrayLike) -> Array:
        """See `Marginal`."""
        return np.asarray(self.mean + self.sd * special.ndtri(np.asarray(u, dtype=np.float64)))

    def cdf(self, x: ArrayLike) -> Array:
        """See `Marginal`."""
        return np.asarray(special.ndtr((np.asarray(x, dtype=np.float64) - self.mean) / self.sd))


@dataclass(frozen=True, slots=True)
class LogNormal:
    """A positive quantity that is off by factors: its logarithm is normal. mean, sd: of the value itself."""

    mean: float
    sd: float

    def __post_init__(self) -> None:
        _positive("A distribution by factors", mean=self.mean, sd=self.sd)

    @property
    def log_sd(self) -> float:
        """Standard deviation of the logarithm, sqrt(ln(1 + (sd/mean)^2)) [-]."""
        return math.sqrt(math.log1p((self.sd / self.mean) ** 2))

    @property
    def median(self) -> float:
        """The value in the middle."""
        return self.mean * math.exp(-0.5 * self.log_sd**2)

    def ppf(self, u: ArrayLike) -> Array:
        """See `Marginal`."""
        z = special.ndtri(np.asarray(u, dtype=np.float64))
        return np.asarray(self.median * np.exp(self.log_sd * z))

    def cdf(self, x: ArrayLike) -> Array:
        """See `Marginal`."""
        x = np.asarray(x, dtype=np.float64)
        with np.errstate(divide="ignore"):
            z = (np.log(np.maximum(x, 0.0)) - math.log(self.median)) / self.log_sd
        return np.asarray(special.ndtr(z))


@dataclass(frozen=True, slots=True)
class HeavyTail:
    """Student's t, scaled so that its standard deviation is `sd`. freedom: degrees, above 2, finite [-]."""

    mean: float
    sd: float
    freedom: float

    def __post_init__(self) -> None:
        _finite("A heavy tail", mean=self.mean)
        _positive("A heavy tail", sd=self.sd)
        if not self.freedom > 2.0:
            raise OutOfRange(
                f"A heavy tail with {self.freedom:g} degrees of freedom has no standard deviation; it needs"
                " more than 2."
            )
        if math.isinf(self.freedom):
            raise OutOfRange(f"A tail with {self.freedom:g} degrees of freedom is a normal distribution's.")

    @property
    def _scale(self) -> float:
        return self.sd * math.sqrt((self.freedom - 2.0) / self.freedom)

    def ppf(self, u: ArrayLike) -> Array:
        """See `Marginal`."""
        t = special.stdtrit(self.freedom, np.asarray(u, dtype=np.float64))
        return np.asarray(self.mean + self._scale * t)

    def cdf(self, x: ArrayLike) -> Array:
        """See `Marginal`."""
        t = (np.asarray(x, dtype=np.float64) - self.mean) / self._scale
        return np.asarray(special.stdtr(self.freedom, t))


@dataclass(frozen=True, slots=True)
class TwoSided:
    """Half of the cases to each side of the middle, each side with a spread of its own.

    x = middle + sd_below z for z < 0, middle + sd_above z above: the middle is the median; the density steps
    there.
    """

    middle: float
    sd_below: float
    sd_above: float

    def __post_init__(self) -> None:
        _finite("A two-sided spread", middle=self.middle)
        _positive("A two-sided spread", sd_below=self.sd_below, sd_above=self.sd_above)

    @property
    def mean(self) -> float:
        """middle + (sd_above - sd_below)/sqrt(2 pi)."""
        return self.middle + (self.sd_above - self.sd_below) / math.sqrt(2.0 * math.pi)

    @property
    def sd(self) -> float:
        """sqrt((sd_below^2 + sd_above^2)/2 - (mean - middle)^2)."""
        square = 0.5 * (self.sd_below**2 + self.sd_above**2) - (self.mean - self.middle) ** 2
        return math.sqrt(square)

    def ppf(self, u: ArrayLike) -> Array:
        """See `Marginal`."""
        z = special.ndtri(np.asarray(u, dtype=np.float64))
        return np.asarray(self.middle + np.where(z < 0.0, self.sd_below, self.sd_above) * z)

    def cdf(self, x: ArrayLike) -> Array:
        """See `Marginal`."""
        off = np.asarray(x, dtype=np.float64) - self.middle
        return np.asarray(special.ndtr(off / np.where(off < 0.0, self.sd_below, self.sd_above)))


@dataclass(frozen=True, slots=True)
class TwoPoint:
    """One of two values, the lower one first, which has probability `weight` [-]."""

    first: float
    second: float
    weight: float = 0.5

    def __post_init__(self) -> None:
        if not 0.0 < self.weight < 1.0:
            raise OutOfRange(f"One of two needs a probability between 0 and 1, not {self.weight:g}.")
        _finite("One of two", first=self.first, second=self.second)
        if not self.first < self.second:
            raise OutOfRange(
                f"One of two needs the lower value first, so that shares grow with values; {self.first:g} is"
                f" not below {self.second:g}."
            )

    @property
    def mean(self) -> float:
        """Mean."""
        return self.weight * self.first + (1.0 - self.weight) * self.second

    @property
    def sd(self) -> float:
        """|second - first| sqrt(w (1 - w))."""
        return abs(self.second - self.first) * math.sqrt(self.weight * (1.0 - self.weight))

    def ppf(self, u: ArrayLike) -> Array:
        """The first value for u below its weight, then the second."""
        return np.where(np.asarray(u, dtype=np.float64) < self.weight, self.first, self.second)

    def cdf(self, x: ArrayLike) -> Array:
        """See `Marginal`."""
        x = np.asarray(x, dtype=np.float64)
        first = np.where(x >= self.first, self.weight, 0.0)
        return np.asarray(first + np.where(x >= self.second, 1.0 - self.weight, 0.0))


@dataclass(frozen=True, slots=True)
class Bounded:
    """Another distribution, of which only what lies between two bounds can be.

    Bounds beyond some 7 standard deviations on the upper side lose figures: the share above them is the
    difference of two numbers near one.
    """

    inner: Marginal
    low: float
    high: float

    def __post_init__(self) -> None:
        if not self.low < self.high or not self._held > 0.0:
            raise OutOfRange(
                f"Nothing of this distribution lies between {self.low:g} and {self.high:g}: the value, its"
                " spread and its bounds contradict each other."
            )

    @property
    def _ends(self) -> tuple[float, float]:
        low, high = (float(self.inner.cdf(x)) if math.isfinite(x) else float(x > 0) for x in self._both)
        return low, high

    @property
    def _both(self) -> tuple[float, float]:
        return self.low, self.high

    @property
    def _held(self) -> float:
        low, high = self._ends
        return high - low

    def ppf(self, u: ArrayLike) -> Array:
        """See `Marginal`."""
        low, high = self._ends
        x = self.inner.ppf(low + np.asarray(u, dtype=np.float64) * (high - low))
        return np.asarray(np.clip(x, self.low, self.high))

    def cdf(self, x: ArrayLike) -> Array:
        """See `Marginal`."""
        low, high = self._ends
        inside = np.clip(np.asarray(x, dtype=np.float64), self.low, self.high)
        return np.asarray((self.inner.cdf(inside) - low) / (high - low))

    @property
    def _nodes(self) -> Array:
        return self.ppf((np.arange(_NODES) + 0.5) / _NODES)

    @property
    def mean(self) -> float:
        """Mean, by the midpoint rule over the probability."""
        return float(self._nodes.mean())

    @property
    def sd(self) -> float:
        """Standard deviation, likewise."""
        return float(self._nodes.std())
