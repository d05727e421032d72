"""One known point of a compressor narrows the estimate of its map from wheel sizes.

The factors that place a wheel inside the band of the estimate (`WheelFactors`) have a prior spread: the band,
less the part of it that changes from place to place on a map and that no single point can tell (`ShapeBand`).
The reading is compared with what the estimate says of it, and both are weighed by their spreads.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import OutOfRange
from boostwright.physics.compressor import (
    GAMMA_AIR,
    R_AIR,
    blade_mach,
    operating_point,
    pressure_ratio_of_head,
)
from boostwright.physics.compressor_sizes import Band, WheelFactors, WheelMap
from boostwright.physics.roots import bracketed_root

__all__ = [
    "Anchored",
    "KnownPoint",
    "PointPlace",
    "Reading",
    "ShapeBand",
    "Touched",
    "anchored",
]

Array = NDArray[np.float64]

_ROUNDS: Final = 8
_STEP: Final = 1e-4
_LEAST_SPREAD: Final = 1e-6
_SLOWEST: Final = 0.3  # blade Mach number at which a line's end is sought first
_TYPICAL_MACH: Final = 1.0  # where the work coefficient's share in the pressure ratio is taken
_FACTORS: Final = ("choke", "surge", "head", "efficiency")


class PointPlace(Enum):
    """Where on the map a known point lies."""

    LINE = "line"  # on a speed line, between surge and choke
    CHOKE = "choke"  # where a speed line ends to the right
    SURGE = "surge"  # on the surge line


class Reading(NamedTuple):
    """A value and one standard deviation of it."""

    value: float
    sd: float


class KnownPoint(NamedTuple):
    """One point of a compressor that is known from a sheet or a stand, at its reference state."""

    place: PointPlace
    flow: Reading  # corrected [kg/s]
    pressure_ratio: Reading | None = None  # [-]
    speed: Reading | None = None  # corrected [rad/s]
    efficiency: Reading | None = None  # [-]
    T_ref: float = 298.0  # [K]
    p_ref: float = 100.0e3  # [Pa]


class ShapeBand(NamedTuple):
    """The part of a band that changes from place to place on one map, one standard deviation."""

    choke: float  # relative [-]
    surge: float  # relative [-]
    head: float  # relative, on pressure ratio less one [-]
    speed: float  # relative [-]
    efficiency: float  # absolute [-]
    choke_and_surge: float  # correlation of what remains of choke and surge [-]


class Touched(NamedTuple):
    """What the known point did to one factor."""

    factor: str  # "choke", "surge", "head" or "efficiency", as in `WheelFactors`
    moved: float  # relative; absolute for the efficiency [-]
    before: float  # spread of the band [-]
    after: float


class Anchored(NamedTuple):
    """The estimate with the known point in it."""

    factors: WheelFactors
    band: Band
    touched: tuple[Touched, ...]  # factors that moved or narrowed, most narrowed first
    surprise: float  # distance of the reading from the estimate over the spread of both [-]


class _Sight(NamedTuple):
    """One thing that the point tells: what the map says of it, what was read, and the spread of both."""

    model: Callable[[WheelMap, tuple[float, ...]], float]  # of a map and the readings that place the point
    at: tuple[Reading, ...]  # the readings that place the point
    read: float
    sd: float  # of what was read, and of the shape


def anchored(wheel_map: WheelMap, band: Band, shape: ShapeBand, point: KnownPoint) -> Anchored:
    """Weigh one known point against the estimate.

    x = (ln choke, ln surge, ln head, efficiency) has the prior N(0, P), P from band and shape; the point
    tells y = h(x) + e, e of variance R: the reading's own spread, that of where it lies, and the shape's. The
    estimate is x = P H' (H P H' + R)^-1 (y - h + H x), repeated with the slope H = dh/dx where x lies, and
    its covariance P - P H' (H P H' + R)^-1 H P.

    A point on a line tells the head by its speed and pressure ratio, and the efficiency; a point in choke or
    surge tells that flow, and needs its speed or its pressure ratio. wheel_map: the estimate, middle factors.
    band, shape: one standard deviation. Raises OutOfRange when the point tells nothing, or lies where the
    estimate has no such point. Source: the update is the iterated one of bell1993, from memory.
    """
    sights = _sights(wheel_map, shape, point)
    slope, eta = _head_share(wheel_map)
    prior = _prior(band, shape, slope, eta)
    x = np.zeros(4)
    for _ in range(_ROUNDS):
        h, H, R = _seen(wheel_map, sights, x)
        y = np.array([sight.read for sight in sights])
        S = H @ prior @ H.T + R
        if not np.any(x):
            surprise = float(np.sqrt((y - h) @ np.linalg.solve(S, y - h) / y.size))
        gain = prior @ H.T @ np.linalg.inv(S)
        step = gain @ (y - h + H @ x) - x
        x = x + step
        if np.max(np.abs(step)) < _LEAST_SPREAD:
            break
    after = prior - gain @ H @ prior
    narrowed = _band(band, shape, prior, after, slope, eta)
    return Anchored(_factors(x), narrowed, _touched(x, band, narrowed), surprise)


def _factors(x: Array) -> WheelFactors:
    return WheelFactors(float(np.exp(x[0])), float(np.exp(x[1])), float(np.exp(x[2])), float(x[3]))


def _head_share(wheel_map: WheelMap) -> tuple[float, float]:
    """d ln(PR - 1)/d ln(head) and the efficiency in the middle of a typical line."""
    mach = np.asarray(_TYPICAL_MACH)
    limits = wheel_map(np.asarray(0.05), mach)
    at = wheel_map(0.5 * (limits.phi_surge + limits.phi_end), mach)
    ratio = float(pressure_ratio_of_head(at.psi, mach))
    heat = (GAMMA_AIR - 1) * float(mach) ** 2 * float(at.psi)
    return ratio / (ratio - 1) * GAMMA_AIR / (GAMMA_AIR - 1) * heat / (1 + heat), float(at.eta)


def _prior(band: Band, shape: ShapeBand, slope: float, eta: float) -> Array:
    """Covariance of the factors: what is common to a map, the band less its shape.

    The band of the head is on pressure ratio less one, which work and efficiency share.
    """
    common = [
        max(wide**2 - local**2, _LEAST_SPREAD)
        for wide, local in (
            (band.choke, shape.choke),
            (band.surge, shape.surge),
            (band.head, shape.head),
            (band.efficiency, shape.efficiency),
        )
    ]
    work = max(common[2] / slope**2 - common[3] / eta**2, _LEAST_SPREAD)
    cov = np.diag((common[0], common[1], work, common[3]))
    cov[0, 1] = cov[1, 0] = shape.choke_and_surge * np.sqrt(common[0] * common[1])
    return cov


def _band(band: Band, shape: ShapeBand, prior: Array, after: Array, slope: float, eta: float) -> Band:
    """The spreads that remain, the shape's added again."""

    def of_head(cov: Array) -> float:
        return float(slope**2 * (cov[2, 2] + 2 * cov[2, 3] / eta + cov[3, 3] / eta**2))

    left = of_head(after) / of_head(prior)
    speed = max(band.speed**2 - shape.speed**2, 0.0) * left
    return band._replace(
        choke=float(np.hypot(np.sqrt(after[0, 0]), shape.choke)),
        surge=float(np.hypot(np.sqrt(after[1, 1]), shape.surge)),
        surge_old=float(band.surge_old * np.hypot(np.sqrt(after[1, 1]), shape.surge) / band.surge),
        head=float(np.hypot(np.sqrt(max(of_head(after), 0.0)), shape.head)),
        speed=float(np.sqrt(speed + shape.speed**2)),
        efficiency=float(np.hypot(np.sqrt(after[3, 3]), shape.efficiency)),
    )


def _touched(x: Array, before: Band, after: Band) -> tuple[Touched, ...]:
    moved = (*np.expm1(x[:3]), x[3])
    found = [
        Touched(name, float(by), float(getattr(before, name)), float(getattr(after, name)))
        for name, by in zip(_FACTORS, moved, strict=True)
    ]
    found = [one for one in found if one.after < 0.97 * one.before or abs(one.moved) > 0.1 * one.before]
    return tuple(sorted(found, key=lambda one: one.after / one.before))


def _seen(wheel_map: WheelMap, sights: tuple[_Sight, ...], x: Array) -> tuple[Array, Array, Array]:
    """What the map of these factors says of each sight, its slope in the factors, and the variance of the
    reading."""
    n = len(sights)
    h, H, R = np.zeros(n), np.zeros((n, 4)), np.zeros((n, n))
    here = wheel_map.with_factors(_factors(x))
    for i, sight in enumerate(sights):
        places = tuple(reading.value for reading in sight.at)
        h[i] = sight.model(here, places)
        for j in range(4):
            up, down = x.copy(), x.copy()
            up[j] += _STEP
            down[j] -= _STEP
            H[i, j] = (
                sight.model(wheel_map.with_factors(_factors(up)), places)
                - sight.model(wheel_map.with_factors(_factors(down)), places)
            ) / (2 * _STEP)
        variance = sight.sd**2
        for k, reading in enumerate(sight.at):
            moved = list(places)
            moved[k] *= 1 + _STEP
            variance += ((sight.model(here, tuple(moved)) - h[i]) / (places[k] * _STEP) * reading.sd) ** 2
        R[i, i] = variance
    return h, H, R


def _sights(wheel_map: WheelMap, shape: ShapeBand, point: KnownPoint) -> tuple[_Sight, ...]:
    """What this point tells. Raises OutOfRange when that is nothing."""
    D2, flow, ratio, speed = wheel_map.wheel.D2, point.flow, point.pressure_ratio, point.speed
    sound = np.sqrt(GAMMA_AIR * R_AIR * point.T_ref)
    per_flow = point.p_ref / (R_AIR * point.T_ref) * sound * D2**2  # flow over phi M [kg/s]

    def mach_of(omega: float) -> float:
        return float(blade_mach(omega, D2, point.T_ref))

    if point.place is PointPlace.LINE:
        return _line_sights(shape, point, per_flow, mach_of)
    local = shape.choke if point.place is PointPlace.CHOKE else shape.surge
    sd = float(np.hypot(flow.sd / flow.value, local))
    surge = point.place is PointPlace.SURGE
    if speed is not None:

        def by_speed(m: WheelMap, at: tuple[float, ...]) -> float:
            return float(np.log(_limit(m, mach_of(at[0]), surge) * mach_of(at[0]) * per_flow))

        return (_Sight(by_speed, (speed,), float(np.log(flow.value)), sd),)
    if ratio is None:
        raise OutOfRange(
            "The flow of a compressor in choke or at surge says nothing without its speed or its pressure "
            "ratio: state turbo.known_speed or turbo.known_pressure_ratio with it."
        )

    def by_ratio(m: WheelMap, at: tuple[float, ...]) -> float:
        mach = _mach_on_limit(m, at[0], surge)
        return float(np.log(_limit(m, mach, surge) * mach * per_flow))

    return (_Sight(by_ratio, (ratio,), float(np.log(flow.value)), sd),)


def _line_sights(
    shape: ShapeBand, point: KnownPoint, per_flow: float, mach_of: Callable[[float], float]
) -> tuple[_Sight, ...]:
    flow, ratio, speed, eta = point.flow, point.pressure_ratio, point.speed, point.efficiency
    found = []

    def mapped(at: tuple[float, ...]) -> tuple[Array, Array]:
        mach = np.asarray(mach_of(at[1]))
        return np.asarray(at[0] / per_flow / mach), mach

    if speed is not None and ratio is not None:

        def head(m: WheelMap, at: tuple[float, ...]) -> float:
            phi, mach = mapped(at)
            return float(np.log(max(float(pressure_ratio_of_head(m.head(phi, mach), mach)) - 1.0, 1e-6)))

        sd = float(np.hypot(ratio.sd / (ratio.value - 1.0), shape.head))
        found.append(_Sight(head, (flow, speed), float(np.log(ratio.value - 1.0)), sd))
    if eta is not None and speed is not None:

        def by_speed(m: WheelMap, at: tuple[float, ...]) -> float:
            return float(m(*mapped(at)).eta)

        found.append(_Sight(by_speed, (flow, speed), eta.value, float(np.hypot(eta.sd, shape.efficiency))))
    elif eta is not None and ratio is not None:

        def by_ratio(m: WheelMap, at: tuple[float, ...]) -> float:
            there = operating_point(m, m.wheel.D2, at[0], at[1], point.T_ref, point.p_ref)
            return float(there.efficiency)

        found.append(_Sight(by_ratio, (flow, ratio), eta.value, float(np.hypot(eta.sd, shape.efficiency))))
    if not found:
        raise OutOfRange(
            "A known point on a speed line tells the head by its pressure ratio and its speed, or the "
            "efficiency: state turbo.known_speed with turbo.known_flow and turbo.known_pressure_ratio. If "
            "the flow is the largest or the least of its speed, say so: turbo.known_place = choke or surge."
        )
    return tuple(found)


def _limit(m: WheelMap, mach: float, surge: bool) -> float:
    """Flow coefficient of the surge line or of the line's end."""
    at = m(np.asarray(0.05), np.asarray(mach))
    return float(at.phi_surge if surge else at.phi_end)


def _mach_on_limit(m: WheelMap, ratio: float, surge: bool) -> float:
    """Blade Mach number at which the surge line, or the lines' ends, have this pressure ratio."""

    def excess(mach: Array) -> Array:
        at = m(np.full(mach.shape, 0.05), mach)
        phi = at.phi_surge if surge else at.phi_end
        return np.asarray(pressure_ratio_of_head(m.head(phi, mach), mach) - ratio)

    low, high = np.array([_SLOWEST]), np.array([m.mach_range[1]])
    root = bracketed_root(excess, low, high)
    if not root.closed[0]:
        least, most = (float(excess(end)[0]) + ratio for end in (low, high))
        where = "surge line" if surge else "line end"
        raise OutOfRange(
            f"The known pressure ratio {ratio:.2f} does not stand on the {where} of the estimate, which runs "
            f"from {least:.2f} to {most:.2f}. Check that it is absolute over absolute, and where the point "
            "lies (turbo.known_place)."
        )
    return float(root.x[0])
