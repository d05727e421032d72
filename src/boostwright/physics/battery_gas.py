"""Hydrogen that a full battery gives off while current goes on through it."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["EXPLOSIVE_SHARE", "hydrogen_flow", "time_to_share"]

Array = NDArray[np.float64]

FARADAY: Final = 96485.33  # charge of a mole of electrons [C/mol]
GAS_CONSTANT: Final = 8.314463  # [J/(mol K)]
EXPLOSIVE_SHARE: Final = 0.04  # of hydrogen in air by volume, from which it explodes [-] (iec62485)


def hydrogen_flow(
    current: ArrayLike, cells: int = 6, T: ArrayLike = 273.15, p: ArrayLike = 101325.0
) -> Array:
    """Hydrogen given off by a lead battery that takes no more charge, n I R T/(2 F p) [m3/s].

    current: I that goes into gas [A]. cells: n in series. T: of the gas [K]. p: [Pa]. Two electrons make a
    molecule. Validity: flooded cells, full. Sealed ones recombine most of it until their valve opens. Error:
    1 %; the current is the unknown. Source: iec62485.
    """
    moles = cells * np.asarray(current, dtype=np.float64) / (2.0 * FARADAY)
    return np.asarray(moles * GAS_CONSTANT * np.asarray(T) / np.asarray(p))


def time_to_share(flow: ArrayLike, volume: ArrayLike, share: ArrayLike = EXPLOSIVE_SHARE) -> Array:
    """Time until a closed room without draught holds a share of the gas, evenly mixed, s V/Q [s].

    flow: Q [m3/s]. volume: V [m3]. share: s [-], small against 1. Under a lid or in a box it comes sooner.
    """
    with np.errstate(divide="ignore"):
        return np.asarray(np.asarray(share) * np.asarray(volume) / np.asarray(flow, dtype=np.float64))
