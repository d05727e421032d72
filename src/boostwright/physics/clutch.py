"""Dry disc clutch: the torque that it holds, the clamp load that it needs, the heat of one engagement."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange

__all__ = [
    "ClutchTorque",
    "Engagement",
    "clamp_load_for_torque",
    "disc_torque",
    "engagement",
    "lining_pressure",
    "scaled_capacity",
]

Array = NDArray[np.float64]


def _floats(value: ArrayLike) -> Array:
    return np.asarray(value, dtype=np.float64)


class ClutchTorque(NamedTuple):
    """Torque at which a clutch slips, by two ideas of how the lining wears [N m]."""

    uniform_wear: Array  # a run-in lining; never the larger
    uniform_pressure: Array  # a new, stiff lining


def _checked_radii(outer: ArrayLike, inner: ArrayLike) -> tuple[Array, Array]:
    ro, ri = _floats(outer), _floats(inner)
    if np.any(ri < 0) or np.any(ro <= ri):
        raise OutOfRange(
            f"The lining's outer radius ({outer!r} m) must be larger than its inner one ({inner!r} m), and "
            "both are radii, not diameters."
        )
    return ro, ri


def disc_torque(
    clamp_load: ArrayLike, friction: ArrayLike, outer: ArrayLike, inner: ArrayLike, faces: ArrayLike = 2
) -> ClutchTorque:
    """Torque at which a disc slips.

    uniform wear: N mu F (ro + ri)/2; uniform pressure: N mu F (2/3)(ro^3 - ri^3)/(ro^2 - ri^2)

    clamp_load: F of the pressure plate [N]. friction: mu; organic lining 0.25 to 0.35, less when hot or oily
    [-]. outer, inner: radii of the lining [m]. faces: N, two for each disc. All broadcast. Raises OutOfRange
    for exchanged radii. Error: exact forms; friction and clamp load are known to 10 to 15 %. Source:
    shigley2015 ch. 16, from memory.
    """
    ro, ri = _checked_radii(outer, inner)
    grip = _floats(faces) * _floats(friction) * _floats(clamp_load)
    pressure_radius = 2 / 3 * (ro**2 + ro * ri + ri**2) / (ro + ri)  # the same, without the difference
    return ClutchTorque(np.asarray(grip * (ro + ri) / 2), np.asarray(grip * pressure_radius))


def clamp_load_for_torque(
    torque: ArrayLike, friction: ArrayLike, outer: ArrayLike, inner: ArrayLike, faces: ArrayLike = 2
) -> Array:
    """Clamp load at which a run-in disc holds a torque [N]; inverse of the uniform wear of `disc_torque`."""
    ro, ri = _checked_radii(outer, inner)
    return np.asarray(2 * _floats(torque) / (_floats(faces) * _floats(friction) * (ro + ri)))


def lining_pressure(clamp_load: ArrayLike, outer: ArrayLike, inner: ArrayLike) -> Array:
    """Mean pressure on the lining F/(pi (ro^2 - ri^2)) [Pa]; exact. Arguments as `disc_torque`."""
    ro, ri = _checked_radii(outer, inner)
    return np.asarray(_floats(clamp_load) / (np.pi * (ro**2 - ri**2)))


def scaled_capacity(
    stock_torque: ArrayLike,
    reserve: ArrayLike = 1.35,
    clamp_ratio: ArrayLike = 1.0,
    friction_ratio: ArrayLike = 1.0,
    radius_ratio: ArrayLike = 1.0,
) -> Array:
    """Capacity of a clutch known only by the engine that it came with, T r (F/F0)(mu/mu0)(R/R0) [N m].

    stock_torque: largest torque of the engine as delivered [N m]. reserve: r, 1.2 to 1.5 when new [-]. The
    ratios: of another plate or lining over the stock one [-]. All broadcast. Error: 15 %; common practice, no
    source.
    """
    factors = _floats(clamp_ratio) * _floats(friction_ratio) * _floats(radius_ratio)
    return np.asarray(_floats(stock_torque) * _floats(reserve) * factors)


class Engagement(NamedTuple):
    """One engagement of a clutch under constant torque."""

    time: Array  # until both sides turn alike; infinity where they never do [s]
    heat: Array  # made in the clutch [J]


def engagement(
    capacity: ArrayLike,
    engine_torque: ArrayLike,
    load_torque: ArrayLike,
    engine_inertia: ArrayLike,
    car_inertia: ArrayLike,
    slip_speed: ArrayLike,
) -> Engagement:
    """Time and heat of an engagement while the clutch carries its whole capacity.

    w' = -(Tc - Te)/I1 - (Tc - Tl)/I2;  t = w0/|w'|;  heat = Tc w0 t/2.

    capacity: Tc [N m]. engine_torque: Te at the crank [N m]. load_torque: Tl, road load at the clutch [N m].
    engine_inertia: I1 with flywheel; car_inertia: I2 = m_eff (r/i)^2 [kg m2]. slip_speed: w0 at the start
    [rad/s]. All broadcast. With no outer torques it is I1 I2 w0^2/(2 (I1 + I2)), whatever the capacity. Exact
    for constant torques. Source: shigley2015 ch. 16, from memory, with outer torques added (own derivation).
    """
    Tc, w0 = _floats(capacity), np.abs(_floats(slip_speed))
    fall = (Tc - _floats(engine_torque)) / _floats(engine_inertia) + (Tc - _floats(load_torque)) / _floats(
        car_inertia
    )
    closing = fall > 0
    time = np.where(closing, w0 / np.where(closing, fall, 1.0), np.inf)
    with np.errstate(invalid="ignore"):
        heat = np.where(w0 > 0, Tc * w0 * time / 2, 0.0)
    return Engagement(np.asarray(np.where(w0 > 0, time, 0.0)), np.asarray(heat))
