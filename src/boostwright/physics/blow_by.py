"""Gas that passes the piston rings."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.nozzle import nozzle_flow

__all__ = ["ring_gap_area", "ring_gap_flow"]

Array = NDArray[np.float64]


def ring_gap_area(
    gap: ArrayLike = 0.30e-3, land_clearance: ArrayLike = 0.35e-3, discharge: ArrayLike = 0.86
) -> Array:
    """Effective area of two ring gaps in series, C_d w s/sqrt(2) [m2].

    gap: hot end gap of a compression ring; 0.15-0.35 mm new, 0.6 worn [m]. land_clearance: crown land to wall
    [m]. discharge: [-]. (From memory; the shape of the edge alone is worth up to 60 %.)
    """
    return np.asarray(np.asarray(discharge) * np.asarray(gap) * np.asarray(land_clearance) / np.sqrt(2.0))


def ring_gap_flow(
    p: ArrayLike,
    area: ArrayLike,
    crankcase_pressure: ArrayLike = 101325.0,
    T_land: ArrayLike = 460.0,
    R: ArrayLike = 287.05,
    gamma: ArrayLike = 1.35,
) -> Array:
    """Mass flow past the rings of one cylinder [kg/s]; zero when the cylinder is at crankcase pressure or
    below.

    p: cylinder pressure [Pa]. area: of :func:`ring_gap_area` [m2]. T_land: gas on the land, at wall
    temperature [K]. The model is at the low end of what engines show (ring lift and bore distortion are left
    out): 1.5-2 times this in service.
    """
    up = np.maximum(np.asarray(p, dtype=np.float64), crankcase_pressure)
    return nozzle_flow(area, up, T_land, crankcase_pressure, R, gamma)
