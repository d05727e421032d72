"""Butterfly throttle: open area and flow."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.nozzle import nozzle_flow

__all__ = ["butterfly_area", "throttle_flow"]

Array = NDArray[np.float64]


def butterfly_area(
    plate_angle: ArrayLike, bore: ArrayLike, shaft: ArrayLike = 0.0, closed_angle: ArrayLike = 0.0
) -> Array:
    """Open area [m2] of a round bore with an elliptic plate on a shaft, projected along the bore.

    A = pi D^2/4 (1 - k + 2/pi (a (1 - a^2/k^2)^.5 + k asin(a/k) - a (1 - a^2)^.5 - asin a))
    k = cos psi/cos psi_0,   a = d/D

    plate_angle: psi, between the plate and the plane across the bore [rad]. bore: D [m]. shaft: diameter d
    [m]. closed_angle: psi_0, at which the plate shuts [rad]. They broadcast. Below psi_0 the area is 0; once
    the shaft alone stands in the way (k <= a) the area stays what the shaft leaves. The formula of
    heywood1988 sec. 7.6, here derived anew: bore less plate ellipse less shaft strip.
    """
    psi, D, d, psi0 = np.broadcast_arrays(
        *(np.asarray(x, dtype=np.float64) for x in (plate_angle, bore, shaft, closed_angle))
    )
    a = d / D
    k = np.cos(np.clip(psi, psi0, np.pi / 2)) / np.cos(psi0)
    k = np.maximum(k, np.maximum(a, 1e-12))
    ratio = np.minimum(a / k, 1.0)
    plate = a * np.sqrt(1 - ratio**2) + k * np.arcsin(ratio)
    strip = a * np.sqrt(1 - a**2) + np.arcsin(a)
    shape = 1 - k + 2 / np.pi * (plate - strip)
    return np.asarray(np.pi / 4 * D**2 * np.maximum(shape, 0.0))


def throttle_flow(
    area: ArrayLike,
    p_up: ArrayLike,
    T_up: ArrayLike,
    p_down: ArrayLike,
    discharge: ArrayLike = 0.8,
    R: ArrayLike = 287.05,
    gamma: ArrayLike = 1.4,
) -> Array:
    """Mass flow through a throttle [kg/s].

    area: open area [m2]. p_up, T_up: total state upstream [Pa, K]. p_down: [Pa]. discharge: coefficient,
    0.7-0.9 [-].
    """
    return nozzle_flow(np.asarray(discharge) * area, p_up, T_up, p_down, R, gamma)
