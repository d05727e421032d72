"""Correction of measured full-load power to a reference atmosphere.

Every function returns the factor by which a measured power is multiplied. Ambient air is meant, never
manifold air. The same pull differs by 4 % between labels, so a corrected power without its standard's name
says nothing.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "HORSEPOWER",
    "METRIC_HORSEPOWER",
    "Correction",
    "din_70020",
    "iso_1585",
    "sae_j607",
    "sae_j1349",
]

Array = NDArray[np.float64]

HORSEPOWER: Final = 745.69987158  # mechanical, 550 ft lbf/s [W]
METRIC_HORSEPOWER: Final = 735.49875  # 75 kgf m/s [W]
WINDOW: Final = (0.93, 1.07)  # outside, a test by ISO 1585 does not count (window from memory)


class Correction(NamedTuple):
    """A power correction."""

    factor: Array  # [-]
    out_of_range: NDArray[np.bool_]  # the factor is outside the standard's window: test again on a better day


def _correction(factor: ArrayLike, boost_held: ArrayLike) -> Correction:
    f, held = np.broadcast_arrays(
        np.asarray(factor, dtype=np.float64), np.asarray(boost_held, dtype=np.bool_)
    )
    return Correction(np.where(held, 1.0, f), ~held & ((f < WINDOW[0]) | (f > WINDOW[1])))


def sae_j1349(dry_pressure: ArrayLike, T: ArrayLike, boost_held: ArrayLike = False) -> Correction:
    """SAE J1349 (June 1990 wording): 1.180 (99/p_d) sqrt(T/298) - 0.180, T = degC + 273.

    dry_pressure: ambient pressure less vapour pressure [Pa]. T: intake air [K]. boost_held: the engine held
    an absolute boost target, so that the ambient was already corrected for: factor 1 (key grpe7002, purpose
    read, clause not). Key saej1349. Based on a mechanical efficiency of 85 %. The window is that of ISO 1585.
    """
    T_rounded = np.asarray(T, dtype=np.float64) - 0.15  # the standard counts kelvin from 273
    return _correction(
        1.180 * (99e3 / np.asarray(dry_pressure)) * np.sqrt(T_rounded / 298.0) - 0.180, boost_held
    )


def iso_1585(dry_pressure: ArrayLike, T: ArrayLike, boost_held: ArrayLike = False) -> Correction:
    """ISO 1585 / UN R85, spark ignition: (99/p_d)^1.2 (T/298)^0.6, T = degC + 273.

    Arguments as in :func:`sae_j1349`. Key iso1585, from memory; window 0.93..1.07 from memory.
    """
    T_rounded = np.asarray(T, dtype=np.float64) - 0.15
    return _correction((99e3 / np.asarray(dry_pressure)) ** 1.2 * (T_rounded / 298.0) ** 0.6, boost_held)


def din_70020(pressure: ArrayLike, T: ArrayLike) -> Array:
    """DIN 70020: (1013 mbar/p) sqrt((273 + t)/293), with the *total* pressure [Pa]; ``T`` [K]. din70020."""
    return np.asarray(
        101300.0 / np.asarray(pressure) * np.sqrt((np.asarray(T) - 0.15) / 293.0), dtype=np.float64
    )


def sae_j607(dry_pressure: ArrayLike, T: ArrayLike) -> Array:
    """SAE J607: (101.325 kPa/p_d) sqrt(T/288.7); ``dry_pressure`` [Pa], ``T`` [K]. Key saej607; withdrawn,
    optimistic.
    """
    return np.asarray(101325.0 / np.asarray(dry_pressure) * np.sqrt(np.asarray(T) / 288.7), dtype=np.float64)
