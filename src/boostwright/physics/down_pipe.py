"""How much a hot exhaust pipe grows."""

from __future__ import annotations

from enum import Enum
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["EXPANSION", "PipeSteel", "mean_expansion", "thermal_growth"]

Array = NDArray[np.float64]

_ZERO: Final = 273.15


class PipeSteel(Enum):
    """Steel of an exhaust pipe."""

    AUSTENITIC = "stainless"
    FERRITIC = "ferritic"
    MILD = "mild-steel"


_TABLE: Final = (100.0, 200.0, 300.0, 400.0, 500.0)  # [degC]
# Mean coefficient from 20 degC to those temperatures [1e-6/K], and its rise for each 100 K beyond.
EXPANSION: Final = {
    PipeSteel.AUSTENITIC: ((16.0, 16.5, 17.0, 17.5, 18.0), 0.4),  # en10088, 1.4301, from memory
    PipeSteel.FERRITIC: ((10.5, 11.0, 11.5, 12.0, 12.0), 0.25),  # en10088, 1.4512, from memory
    PipeSteel.MILD: ((12.1, 12.6, 13.1, 13.5, 13.9), 0.3),  # unalloyed steel, handbook values from memory
}


def mean_expansion(steel: PipeSteel, T: ArrayLike) -> Array:
    """Mean coefficient of thermal expansion from 20 degC to T [1/K].

    Straight lines through the standard's table, and on beyond it.

    T: [K]. Validity: 100 to 500 degC printed; straight on to 900 degC. Error: 3 % inside, 6 % beyond. Key
    en10088 for the stainless ones, from memory.
    """
    table, rise = EXPANSION[steel]
    celsius = np.asarray(T, dtype=np.float64) - _ZERO
    beyond = rise * np.maximum(celsius - _TABLE[-1], 0.0) / 100.0
    return np.asarray(1e-6 * (np.interp(celsius, _TABLE, table) + beyond))


def thermal_growth(steel: PipeSteel, length: ArrayLike, T: ArrayLike, T_cold: ArrayLike) -> Array:
    """Growth of a free pipe from cold to hot, a L (T - T_cold) [m].

    length: L, cold [m]. T: mean wall temperature, hot [K]. T_cold: when it was fitted [K]. Broadcast. A pipe
    with a bend grows along the straight line between its ends: take that length where it is known.
    """
    rise = np.asarray(T, dtype=np.float64) - np.asarray(T_cold, dtype=np.float64)
    return np.asarray(mean_expansion(steel, T) * np.asarray(length, dtype=np.float64) * rise)
