"""A compressor map fitted to measured points, and where its measured ground ends.

The lines are fitted in flow and head coefficient, where they nearly collapse (`compressor_fit` does the
fitting). Outside the ground the map goes on, so that a solver does not fall off it, but says how far outside
a point lies; the spread grows with that distance (`widened`), and more than 5 % above the highest line it
cannot be asked.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.compressor import (
    CompressorPoint,
    MapPoint,
    head_coefficient,
    pressure_ratio_of_head,
)
from boostwright.physics.compressor_sizes import WheelFactors

if TYPE_CHECKING:
    from scipy.interpolate import PchipInterpolator

__all__ = [
    "HIGHEST_ABOVE",
    "LineForm",
    "MapBand",
    "Outside",
    "PointsMap",
    "SpeedLine",
    "Widening",
    "efficiency_surface",
    "line_head",
    "outside_of",
    "speed_line",
    "surge_side_head",
    "widened",
]

Array = NDArray[np.float64]

HIGHEST_ABOVE: Final = 1.05
"""A fit is never asked above this times its highest speed: higher, the choke flow of a real wheel stops
rising and no fit knows where."""

_LOWEST_MACH: Final = 0.05
_FROZEN_BELOW: Final = 0.5  # of the lowest line: below, a line keeps its shape (incompressible similarity)
_STILL_BELOW: Final = 0.3  # of the lowest line: from here down to rest the wheel turns into a restriction
_STILL_RATIO: Final = 0.9  # pressure ratio of the wheel at rest at the flow that chokes a Mach number of 0.6
_STILL_MACH: Final = 0.6
_PAST_CHOKE: Final = 3.0  # fall of the head past choke, for each share of the choke flow; judgement
_LEAST_RATIO: Final = 0.5  # of pressure, past choke
_EXPONENT: Final = (1.5, 8.0)
_TOP_SHARE: Final = 0.9  # of the choke flow coefficient: the top of a line lies left of it
_REVERSED: Final = 10.0  # rise of head with the square of a reversed flow, k; moore1986
_LEAST_WORK: Final = 0.1  # of the head at the top of the line; far past choke the straight line runs out
_TINY: Final = 1e-9  # keeps a quotient finite while a fit still wanders
_LEAST_EFFICIENCY: Final = 0.05
_MIDDLE: Final = WheelFactors()
_MOST_CORRECTION: Final = 0.30  # of the work, by the efficiency surface


class LineForm(NamedTuple):
    """Coefficients of the fitted lines, each a polynomial in blade Mach number M."""

    top: tuple[float, float, float]  # phi_z = a0 + a1 M + a2 M^2
    zero: tuple[float, float, float]  # phi_c = b0 + b1 M + b2 M^2
    head: tuple[float, float, float]  # psi_z = c0 + c1 M^2 + c2 M^3
    shape: tuple[float, float]  # c = d0 + d1 M^2, kept within 1.5 and 8


class SpeedLine(NamedTuple):
    """One or many speed lines; all dimensionless."""

    top: Array  # flow coefficient where the line is highest, phi_z
    zero: Array  # flow coefficient where the pressure ratio is one, phi_c
    head: Array  # head coefficient at the top, psi_z
    exponent: Array  # c


class Outside(NamedTuple):
    """How far outside the measured ground a point lies; 0 inside [-]."""

    faster: Array  # speed over that of the highest line, less one
    slower: Array  # one less speed over that of the lowest line
    left: Array  # one less flow over surge flow
    right: Array  # flow over line-end flow, less one

    @property
    def inside(self) -> NDArray[np.bool_]:
        """True between the measured lines, and between surge and line end."""
        return np.asarray((self.faster + self.slower + self.left + self.right) <= 0.0)


class MapBand(NamedTuple):
    """One standard deviation of a real compressor about its map."""

    flow: Array | float  # relative, on line-end flow
    surge: Array | float  # relative, on surge flow
    head: Array | float  # relative, on pressure ratio less one at given speed and flow
    speed: Array | float  # relative, on speed at given flow and pressure ratio
    efficiency: Array | float  # absolute


class Widening(NamedTuple):
    """How much each spread grows for each unit of distance outside the measured ground (see `widened`)."""

    flow: tuple[float, float, float, float]  # for Outside.faster, slower, left, right
    surge: tuple[float, float, float, float]
    head: tuple[float, float, float, float]
    speed: tuple[float, float, float, float]
    efficiency: tuple[float, float, float, float]


def speed_line(form: LineForm, mach: ArrayLike) -> SpeedLine:
    """Top, choke, head and exponent of the line at a blade Mach number.

    phi_z, phi_c quadratic in M, psi_z = c0 + c1 M^2 + c2 M^3, c = d0 + d1 M^2 within 1.5 and 8; phi_z is kept
    between 0 and 0.9 phi_c. mach: any shape [-]. Returns arrays of that shape. Source: the ellipse form of
    leufven2013, here with similarity variables; from memory.
    """
    m = np.asarray(mach, dtype=np.float64)
    m2 = m * m
    a, b, h, d = form
    zero = np.maximum(b[0] + b[1] * m + b[2] * m2, _TINY)
    top = np.clip(a[0] + a[1] * m + a[2] * m2, 0.0, _TOP_SHARE * zero)
    head = np.maximum(h[0] + h[1] * m2 + h[2] * m2 * m, _TINY)
    return SpeedLine(top, zero, head, np.clip(d[0] + d[1] * m2, *_EXPONENT))


def line_head(line: SpeedLine, phi: ArrayLike) -> Array:
    """Head coefficient of a speed line, past its choke included [-].

    psi = psi_z (1 - z^c)^(1/c), z = (phi - phi_z)/(phi_c - phi_z), for 0 <= z <= 1; psi_z left of it; past
    choke psi = -3 psi_z (phi/phi_c - 1), for continuity only. phi broadcasts with the line [-].
    """
    phi = np.asarray(phi, dtype=np.float64)
    z = np.clip((phi - line.top) / (line.zero - line.top), 0.0, 1.0)
    on_line = line.head * (1.0 - z**line.exponent) ** (1.0 / line.exponent)
    past = _PAST_CHOKE * line.head * np.maximum(phi / line.zero - 1.0, 0.0)
    return np.asarray(on_line - past)


def surge_side_head(phi: ArrayLike, top: ArrayLike, head_at_top: ArrayLike, rms_ratio: float) -> Array:
    """Head coefficient left of the line's top, for lift-off and filling, not for a steady point [-].

    psi = psi_0 + H (1 + 1.5 (phi/W - 1) - 0.5 (phi/W - 1)^3), W = phi_top/2, 2 H = psi_top - psi_0, with the
    head of the air that turns with the wheel at no flow, psi_0 = (1 - r^2)/2; reversed flow, psi = psi_0 + 10
    phi^2. phi: [-]. top, head_at_top: where the line begins to fall [-]. rms_ratio: r, rms diameter of the
    inducer over the exducer [-]. All broadcast. Source: moore1986 (the cubic), gravdahl1999 (head at no
    flow), from memory.
    """
    phi, top, peak = (np.asarray(a, dtype=np.float64) for a in (phi, top, head_at_top))
    still = np.minimum(0.5 * (1.0 - rms_ratio**2), 0.9 * peak)
    u = np.clip(phi / np.maximum(top / 2.0, 1e-9) - 1.0, -1.0, 1.0)
    cubic = still + (peak - still) / 2.0 * (1.0 + 1.5 * u - 0.5 * u**3)
    return np.asarray(cubic + _REVERSED * np.minimum(phi, 0.0) ** 2)


@dataclass(frozen=True)
class PointsMap:
    """A map fitted to measured points, a `CompressorMap`; `compressor_fit.fit_points` makes it."""

    form: LineForm
    lines: tuple[float, ...]  # blade Mach number of each measured line, rising [-]
    surge_share: tuple[float, ...]  # leftmost measured flow over the choke flow of the fit, line by line [-]
    end_share: tuple[float, ...]  # the same, rightmost
    work: tuple[float, float, float, float, float]  # l0 + l1 M + l2 M^2 + (l3 + l4 M) phi
    surface: (
        tuple[float, ...] | None
    )  # efficiency over (M, x), see `efficiency_surface`; None: from head and work
    best_efficiency: float  # no efficiency of the map is above it [-]
    rms_ratio: float  # rms diameter of the inducer over the exducer [-]
    factors: WheelFactors = _MIDDLE

    @property
    def mach_range(self) -> tuple[float, float]:
        """Lowest and highest blade Mach number at which the map may be asked [-]."""
        return _LOWEST_MACH, HIGHEST_ABOVE * self.lines[-1]

    def with_factors(self, factors: WheelFactors) -> PointsMap:
        """The same map moved inside its band: choke scales every flow but the surge flow, surge that one,
        head the head and the work; a lower efficiency takes more work for the same head."""
        return replace(self, factors=factors)

    def head(self, phi: Array, mach: Array) -> Array:
        """Head coefficient alone; it is what the search for the speed asks for again and again [-]."""
        mach = np.asarray(mach, dtype=np.float64)
        phi = np.asarray(phi, dtype=np.float64) / self.factors.choke
        return self.factors.head * self._head(phi, mach, self._line(mach))

    def __call__(self, phi: Array, mach: Array) -> MapPoint:
        """Head, work, efficiency and limits; phi, mach broadcast [-].

        lam = l0 + l1 M + l2 M^2 + (l3 + l4 M) phi, eta = psi/lam; where a surface of efficiency was fitted,
        it corrects lam inside the ground, and its correction at the edge is kept outside. Source: the linear
        work is the Euler line of dixon2014, from memory.
        """
        f = self.factors
        mach = np.asarray(mach, dtype=np.float64)
        phi = np.asarray(phi, dtype=np.float64) / f.choke
        line = self._line(mach)
        psi = self._head(phi, mach, line)
        surge, end = self.limits(mach)
        straight = np.maximum(self._work(phi, mach), _LEAST_WORK * line.head)
        work = straight * self._correction(phi, mach, surge, end)
        work = np.maximum(work, psi / self.best_efficiency)
        eta = psi / work
        if f.efficiency:
            moved = np.clip(eta + f.efficiency, _LEAST_EFFICIENCY, 1.0)
            work = np.where(eta > _LEAST_EFFICIENCY, work * eta / moved, work)
            eta = psi / work
        eta = np.clip(eta, _LEAST_EFFICIENCY, 1.0)
        phi_surge, phi_end = np.broadcast_arrays(surge * f.surge, end * f.choke)
        return MapPoint(f.head * psi, f.head * work, eta, phi_surge, phi_end)

    def limits(self, mach: ArrayLike) -> tuple[Array, Array]:
        """Flow coefficients of the surge line and of the line's end, the factors left out [-].

        Monotone cubic through the shares of the choke flow that the leftmost and rightmost points hold; the
        outermost lines' shares go on outside.
        """
        m = np.clip(np.asarray(mach, dtype=np.float64), self.lines[0], self.lines[-1])
        zero = self._line(np.asarray(mach, dtype=np.float64)).zero
        surge, end = self._shares
        return surge(m) * zero, end(m) * zero

    def outside(self, phi: ArrayLike, mach: ArrayLike) -> Outside:
        """How far outside the measured ground points lie; phi, mach broadcast [-]."""
        surge, end = self.limits(mach)
        over_surge = np.asarray(phi) / (surge * self.factors.surge)
        over_end = np.asarray(phi) / (end * self.factors.choke)
        return _outside(np.asarray(mach, dtype=np.float64), over_surge, over_end, self.lines)

    @cached_property
    def _shares(self) -> tuple[PchipInterpolator, PchipInterpolator]:
        from scipy.interpolate import PchipInterpolator  # lazily: SciPy is slow to import

        return (
            PchipInterpolator(np.asarray(self.lines), np.asarray(self.surge_share)),
            PchipInterpolator(np.asarray(self.lines), np.asarray(self.end_share)),
        )

    def _line(self, mach: Array) -> SpeedLine:
        """The line at this speed; above the highest one its choke flow phi M neither falls nor rises faster
        than speed, and its shape stays."""
        low, high = _FROZEN_BELOW * self.lines[0], self.lines[-1]
        line = speed_line(self.form, np.clip(mach, low, high))
        if not np.any(mach > high):
            return line
        fitted = speed_line(self.form, np.clip(mach, low, HIGHEST_ABOVE * high)).zero
        zero = np.clip(fitted, line.zero * np.minimum(high / mach, 1.0), line.zero)
        zero = np.where(mach > high, zero, line.zero)
        return SpeedLine(line.top * zero / line.zero, zero, line.head, line.exponent)

    def _head(self, phi: Array, mach: Array, line: SpeedLine) -> Array:
        psi = line_head(line, phi)
        surge = self._shares[0](np.clip(mach, self.lines[0], self.lines[-1])) * line.zero
        top = _line_begin(line.top, surge)
        left = phi < top
        if np.any(left):
            side = surge_side_head(phi, top, line_head(line, top), self.rms_ratio)
            psi = np.where(left, side, psi)
        psi = np.maximum(psi, head_coefficient(_LEAST_RATIO, mach))
        still = mach < _STILL_BELOW * self.lines[0]
        if np.any(still):
            turning = pressure_ratio_of_head(psi, mach)
            share = np.minimum(mach / (_STILL_BELOW * self.lines[0]), 1.0)
            psi = head_coefficient(share * turning + (1.0 - share) * self._at_rest(phi * mach), mach)
        return np.asarray(psi)

    def _at_rest(self, phi_mach: Array) -> Array:
        """Pressure ratio of the wheel at rest, 1/(1 + zeta (phi M)^2)."""
        choked = float(self._line(np.asarray(_STILL_MACH)).zero) * _STILL_MACH
        return np.asarray(1.0 / (1.0 + (1.0 / _STILL_RATIO - 1.0) * (phi_mach / choked) ** 2))

    def _work(self, phi: Array, mach: Array) -> Array:
        l0, l1, l2, l3, l4 = self.work
        m = np.clip(mach, _FROZEN_BELOW * self.lines[0], self.lines[-1])
        return np.asarray(l0 + m * (l1 + l2 * m) + (l3 + l4 * m) * phi)

    def _correction(self, phi: Array, mach: Array, surge: Array, end: Array) -> Array | float:
        """Work that the surface of efficiency asks for over the linear one; that of the ground's edge
        outside."""
        if self.surface is None:
            return 1.0
        m = np.clip(mach, self.lines[0], self.lines[-1])
        inside = np.clip(phi, surge, end)
        line = speed_line(self.form, m)
        eta = efficiency_surface(m, inside / line.zero) @ np.asarray(self.surface)
        work = line_head(line, inside) / np.clip(eta, 0.2, self.best_efficiency)
        ratio = work / np.maximum(self._work(inside, m), _LEAST_WORK * line.head)
        return np.asarray(np.clip(ratio, 1.0 - _MOST_CORRECTION, 1.0 + _MOST_CORRECTION))


def efficiency_surface(mach: ArrayLike, share: ArrayLike) -> Array:
    """Terms of the surface of efficiency, (..., 8): 1, M, M^2, x, x^2, x^3, x M, x^2 M, x the flow over the
    choke flow [-]."""
    m, x = np.broadcast_arrays(np.asarray(mach, dtype=np.float64), np.asarray(share, dtype=np.float64))
    return np.stack((np.ones(m.shape), m, m * m, x, x**2, x**3, x * m, x * x * m), axis=-1)


def outside_of(point: CompressorPoint, lines: tuple[float, ...]) -> Outside:
    """How far outside the measured ground operating points lie.

    point: from `compressor.operating_point`. lines: blade Mach numbers of the measured lines, rising [-].
    """
    return _outside(point.mach, point.surge_ratio, point.choke_ratio, lines)


def widened(band: MapBand, outside: Outside, widening: Widening) -> MapBand:
    """The spread of a map where points lie outside its measured ground.

    sd = sd_0 + sum of k_i d_i over the four distances of `Outside`: it grows from the edge on, and inside it
    is the map's own. Returns arrays of the shape of the distances.
    """
    grown = (
        np.asarray(base + sum(k * np.asarray(d) for k, d in zip(slopes, outside, strict=True)))
        for base, slopes in zip(band, widening, strict=True)
    )
    return MapBand(*grown)


def _outside(mach: Array, over_surge: Array, over_end: Array, lines: tuple[float, ...]) -> Outside:
    slack = 1e-9  # a point on the edge is inside
    zero = np.zeros(np.broadcast_shapes(np.shape(mach), np.shape(over_surge)))
    return Outside(
        *(
            np.asarray(zero + np.where(d > slack, d, 0.0))
            for d in (mach / lines[-1] - 1.0, 1.0 - mach / lines[0], 1.0 - over_surge, over_end - 1.0)
        )
    )


def _line_begin(top: Array, surge: Array) -> Array:
    """Flow coefficient left of which a line is in surge for good: its top, or the surge line where the top
    lies right of it or, as fits have it that fall all the way, far left of it."""
    share = np.clip((top / surge - 0.4) / 0.2, 0.0, 1.0)
    near = share * share * (3.0 - 2.0 * share)
    return np.asarray(near * np.minimum(top, surge) + (1.0 - near) * surge)
