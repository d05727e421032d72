"""Piston position, speed and cylinder volume of an in-line slider-crank.

Crank angle theta [rad], 0 at top dead centre. Heywood 1988, sec. 2.2 (key heywood1988).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "clearance_volume",
    "cylinder_volume",
    "mean_piston_speed",
    "otto_efficiency",
    "piston_acceleration",
    "piston_speed",
    "piston_travel",
    "swept_volume",
    "volume_slope",
]

Array = NDArray[np.float64]


def swept_volume(bore: ArrayLike, stroke: ArrayLike) -> Array:
    """Volume swept by one piston, pi/4 B^2 S [m3]; ``bore``, ``stroke`` [m]."""
    return np.asarray(np.pi / 4 * np.square(bore) * np.asarray(stroke), dtype=np.float64)


def clearance_volume(bore: ArrayLike, stroke: ArrayLike, compression_ratio: ArrayLike) -> Array:
    """Volume at top dead centre, V_d/(r_c - 1) [m3]; ``bore``, ``stroke`` [m], ``compression_ratio`` [-]."""
    return np.asarray(swept_volume(bore, stroke) / (np.asarray(compression_ratio) - 1.0), dtype=np.float64)


def piston_travel(theta: ArrayLike, stroke: ArrayLike, rod: ArrayLike) -> Array:
    """Distance of the piston from top dead centre [m].

    x = a (1 - cos theta) + l - sqrt(l^2 - a^2 sin^2 theta), a = S/2.

    theta: crank angle [rad]. stroke, rod: [m], rod > stroke/2. Exact for a pin without offset.
    """
    a, l = np.asarray(stroke) / 2, np.asarray(rod)  # noqa: E741
    return np.asarray(
        a * (1 - np.cos(theta)) + l - np.sqrt(l**2 - (a * np.sin(theta)) ** 2), dtype=np.float64
    )


def _travel_slope(theta: ArrayLike, stroke: ArrayLike, rod: ArrayLike) -> Array:
    """dx/dtheta [m/rad]."""
    a, l = np.asarray(stroke) / 2, np.asarray(rod)  # noqa: E741
    s, c = np.sin(theta), np.cos(theta)
    return np.asarray(a * s * (1 + a * c / np.sqrt(l**2 - (a * s) ** 2)), dtype=np.float64)


def piston_speed(theta: ArrayLike, stroke: ArrayLike, rod: ArrayLike, omega: ArrayLike) -> Array:
    """Speed of the piston [m/s], positive away from the head; ``omega`` crank speed [rad/s]."""
    return np.asarray(_travel_slope(theta, stroke, rod) * np.asarray(omega), dtype=np.float64)


def piston_acceleration(theta: ArrayLike, stroke: ArrayLike, rod: ArrayLike, omega: ArrayLike) -> Array:
    """Acceleration of the piston at steady crank speed [m/s2], positive away from the head; exact.

    Its two-term series is a omega^2 (cos theta + a/l cos 2 theta).
    """
    a, l = np.asarray(stroke) / 2, np.asarray(rod)  # noqa: E741
    s, c = np.sin(theta), np.cos(theta)
    root = np.sqrt(l**2 - (a * s) ** 2)
    second = a * c + a**2 * (c**2 - s**2) / root + (a**2 * s * c) ** 2 / root**3
    return np.asarray(second * np.square(omega), dtype=np.float64)


def mean_piston_speed(stroke: ArrayLike, omega: ArrayLike) -> Array:
    """Mean piston speed, S omega/pi [m/s]."""
    return np.asarray(np.asarray(stroke) * omega / np.pi, dtype=np.float64)


def cylinder_volume(
    theta: ArrayLike, bore: ArrayLike, stroke: ArrayLike, rod: ArrayLike, compression_ratio: ArrayLike
) -> Array:
    """Cylinder volume [m3] at crank angle ``theta`` [rad]: clearance plus pi/4 B^2 x."""
    return np.asarray(
        clearance_volume(bore, stroke, compression_ratio)
        + np.pi / 4 * np.square(bore) * piston_travel(theta, stroke, rod),
        dtype=np.float64,
    )


def volume_slope(theta: ArrayLike, bore: ArrayLike, stroke: ArrayLike, rod: ArrayLike) -> Array:
    """dV/dtheta [m3/rad] at crank angle ``theta`` [rad]."""
    return np.asarray(np.pi / 4 * np.square(bore) * _travel_slope(theta, stroke, rod), dtype=np.float64)


def otto_efficiency(compression_ratio: ArrayLike, gamma: ArrayLike) -> Array:
    """Efficiency of the air-standard constant-volume cycle, 1 - r_c^(1 - gamma) [-]: a bound."""
    return np.asarray(1.0 - np.power(compression_ratio, 1.0 - np.asarray(gamma)), dtype=np.float64)
