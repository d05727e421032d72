"""Valve gear: acceleration of a valve by its cam, and how far its springs keep it on the cam."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.valves import DEFAULT_POWERS, Powers, cam_coefficients

__all__ = ["float_speed", "lift_curvature", "spring_reserve", "valve_acceleration"]

Array = NDArray[np.float64]

_PLACES = np.linspace(0.0, 1.0, 101)  # over half a lobe


def lift_curvature(x: ArrayLike, powers: Powers = DEFAULT_POWERS) -> Array:
    """Second derivative of L/L_max of the five-term cam polynomial with respect to x [-]; 0 beyond |x| = 1.

    2 C_2 + p (p - 1) C_p x^(p-2) + ...

    x: distance from the lobe's middle over half the opening duration [-]. Exact derivative of
    `valves.lift_share`.
    """
    u = np.abs(np.asarray(x, dtype=np.float64))
    inside = np.minimum(u, 1.0)
    value = np.zeros_like(inside)
    for c, k in zip(cam_coefficients(powers), (2, *powers), strict=True):
        value = value + c * k * (k - 1) * inside ** (k - 2)
    return np.asarray(np.where(u < 1.0, value, 0.0))


def valve_acceleration(
    x: ArrayLike, lift: ArrayLike, duration: ArrayLike, omega: ArrayLike, powers: Powers = DEFAULT_POWERS
) -> Array:
    """Acceleration of a valve that follows its cam, L_max s''(x) (2 w/D)^2 [m/s2]; negative towards its seat.

    x: as `lift_curvature`. lift: L_max [m]. duration: D at zero lift [rad of the crank]. omega: w of the
    crank [rad/s]. All broadcast. Rigid gear. Error: 15 % from the shape of the lobe, unknown for hydraulic
    gear.
    """
    half = np.asarray(duration, dtype=np.float64) / 2
    return np.asarray(np.asarray(lift) * lift_curvature(x, powers) * np.square(np.asarray(omega) / half))


def spring_reserve(
    seat_load: ArrayLike,
    open_load: ArrayLike,
    mass: ArrayLike,
    lift: ArrayLike,
    duration: ArrayLike,
    omega: ArrayLike,
    powers: Powers = DEFAULT_POWERS,
) -> Array:
    """Least ratio of spring force to the force that keeps the valve on its cam, over the whole lobe [-].

    min over x with s''(x) < 0 of (F_0 + (F_1 - F_0) s(x)) / (-M a(x)).

    seat_load, open_load: F_0, F_1 of the springs of one valve [N]. mass: M that moves with it [kg]. lift,
    duration, omega: as `valve_acceleration`. All broadcast. Below 1 the valve leaves the cam. Source: balance
    of forces; gas and friction left out.
    """
    shape = np.broadcast(seat_load, open_load, mass, lift, duration, omega).shape
    x = _PLACES.reshape((-1,) + (1,) * len(shape))
    coefficients = cam_coefficients(powers)
    s = 1.0 + sum(c * x**k for c, k in zip(coefficients, (2, *powers), strict=True))
    force = np.asarray(seat_load) + (np.asarray(open_load) - np.asarray(seat_load)) * s
    needed = -np.asarray(mass) * valve_acceleration(x, lift, duration, omega, powers)
    with np.errstate(divide="ignore"):
        ratio = np.where(needed > 0.0, force / np.where(needed > 0.0, needed, 1.0), np.inf)
    return np.asarray(np.min(ratio, axis=0))


def float_speed(reserve: ArrayLike, omega: ArrayLike, wanted: ArrayLike = 1.0) -> Array:
    """Crank speed at which the reserve falls to a wanted one [rad/s]: inertia goes with the square of speed.

    reserve: at omega, `spring_reserve` [-]. omega: [rad/s]. wanted: [-]; 1 where the valve begins to float.
    """
    return np.asarray(np.asarray(omega) * np.sqrt(np.asarray(reserve) / np.asarray(wanted)))
