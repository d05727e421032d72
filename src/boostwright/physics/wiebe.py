"""The Wiebe burn law and its constants from 0-10 and 10-90 % durations.

Key wiebe1970 (heywood1988 sec. 9.2.3).

x_b(z) = (1 - exp(-a z^(m+1))) / (1 - exp(-a)),  z = (theta - theta_0)/Delta in 0..1

a = 6.908 burns 99.9 % before the division; dividing makes the end exact, so that the law itself leaves no
fuel.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["A_999", "WiebeLaw", "burn_fraction", "burn_rate", "fraction_angle", "law_from_durations"]

Array = NDArray[np.float64]

A_999: Final = 6.907755278982137  # ln 1000: 99.9 % burned at z = 1


class WiebeLaw(NamedTuple):
    """One burn. Angles [rad]."""

    start: Array  # theta_0
    duration: Array  # Delta, 0 to 100 %
    shape: Array  # m [-]
    completeness: float = A_999  # a [-]


def _scaled(z: ArrayLike, shape: ArrayLike, a: float) -> tuple[Array, Array]:
    z_ = np.clip(np.asarray(z, dtype=np.float64), 0.0, 1.0)
    return z_, np.asarray(a * np.power(z_, np.asarray(shape) + 1.0), dtype=np.float64)


def burn_fraction(
    z: ArrayLike, shape: ArrayLike = 2.0, completeness: float = A_999, *, closed: bool = True
) -> Array:
    """Mass share burned [-] at the elapsed share ``z`` of the duration [-].

    shape: m [-], 1.5..3 usual. completeness: a [-]. closed: divide by 1 - exp(-a), so that z = 1 gives 1.
    """
    _, e = _scaled(z, shape, completeness)
    burned = -np.expm1(-e)
    return np.asarray(burned / -np.expm1(-completeness) if closed else burned, dtype=np.float64)


def burn_rate(z: ArrayLike, shape: ArrayLike = 2.0, completeness: float = A_999) -> Array:
    """dx_b/dz [-] of the closed law; zero outside 0..1."""
    z_, e = _scaled(z, shape, completeness)
    inside = (np.asarray(z) >= 0.0) & (np.asarray(z) <= 1.0)
    m = np.asarray(shape)
    rate = completeness * (m + 1.0) * np.power(z_, m) * np.exp(-e) / -np.expm1(-completeness)
    return np.asarray(np.where(inside, rate, 0.0), dtype=np.float64)


def fraction_angle(
    fraction: ArrayLike, shape: ArrayLike = 2.0, completeness: float = A_999, *, closed: bool = True
) -> Array:
    """Elapsed share z [-] of the duration at which ``fraction`` [-] has burned."""
    x = np.asarray(fraction, dtype=np.float64) * (-np.expm1(-completeness) if closed else 1.0)
    return np.asarray(
        np.power(-np.log1p(-x) / completeness, 1.0 / (np.asarray(shape) + 1.0)), dtype=np.float64
    )


def law_from_durations(
    spark: ArrayLike,
    d10: ArrayLike,
    d1090: ArrayLike,
    start_fraction: float = 5.0e-4,
    completeness: float = A_999,
) -> WiebeLaw:
    """The Wiebe law that burns ``start_fraction`` at the spark, 10 % ``d10`` after it and 90 % ``d1090``
    later.

    (z_10 - z_0)/(z_90 - z_10) = d10/d1090 fixes the shape m, where z_0 belongs to the starting fraction;
    leaving z_0 out moves the middle of the burn by several degrees.

    spark: crank angle [rad]. d10: spark to 10 % [rad]. d1090: 10 to 90 % [rad]. They broadcast. Returns the
    :class:`WiebeLaw`. The shape is kept within 0.2..12, which covers d10/d1090 of 0.09..1.26; outside,
    d1090 is kept and d10 is missed.
    """
    s, d, D = np.broadcast_arrays(
        np.asarray(spark, dtype=np.float64),
        np.asarray(d10, dtype=np.float64),
        np.asarray(d1090, dtype=np.float64),
    )
    target = d / D

    def ratio(m: Array) -> tuple[Array, Array, Array]:
        z0 = fraction_angle(start_fraction, m, completeness)
        z10 = fraction_angle(0.1, m, completeness)
        z90 = fraction_angle(0.9, m, completeness)
        return (z10 - z0) / (z90 - z10), z0, z90 - z10

    lo, hi = np.full(target.shape, 0.2), np.full(target.shape, 12.0)
    for _ in range(60):
        mid = (lo + hi) / 2
        above = ratio(mid)[0] > target
        hi, lo = np.where(above, mid, hi), np.where(above, lo, mid)
    m = (lo + hi) / 2
    _, z0, span = ratio(m)
    duration = D / span
    return WiebeLaw(np.asarray(s - z0 * duration), np.asarray(duration), m, completeness)
