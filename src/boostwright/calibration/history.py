"""What an engine's own past says of its knock: it ran full load for years without, at the spark it was sold
with.

That is a reading of one point at each speed: there the knock integral lies below one. It cuts off the part
of the spread in which this engine would have knocked long before anyone thought of a turbo, and by what
cells have in common with that point it narrows them too.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.calibration.grid import Grid
from boostwright.library.calibration import rule_of
from boostwright.physics.knock import RUSS_GUIDELINES
from boostwright.systems.engine.spark_grid import SparkGrid

__all__ = ["History", "history_of"]

Array = NDArray[np.float64]

_SOLD_FOR: Final = 100.0e3  # full load at sea level, for which engines are sold [Pa absolute]
_NEAR: Final = 0.15  # of that, within which a column of the grid stands for it [-]
_LEAST: Final = 1.0e-6  # chance of such a past by the model, below which nothing can be learnt from it [-]


class History(NamedTuple):
    """What is left of the knock integral's logarithm in each cell (n,): its shift and standard deviation
    [-].
    """

    shift: Array
    sd: Array
    told: bool  # whether the past says anything


def history_of(
    build: Build,
    grid: Grid,
    middle: SparkGrid,
    scale: float,
    changes: Array,
    together: Array,
    own: Array,
    sd: Array,
) -> History:
    """Shift and spread of ln I in every cell, given that the engine has lived.

    The error e of ln I at full load without boost is normal with what is not known of the model; the past
    says L + e < 0 there, L by the model at the spark that engines are sold with, which is itself known to
    its spread only. With u = e/S: E u = -h, var u = 1 - b h - h^2, h = phi(b)/Phi(b), b = -L/S. A cell with
    covariance c S follows by c E u and c^2 (var u - 1).

    middle: the cells on the poorest fuel, ``scale`` what that adds to ln I. changes (k, n), together (k,
    k): what each unknown does to ln I and which move together. own: of ln I by the computed spark itself
    (n,), alike in all cells of a speed. sd: of ln I in all (n,). Nothing is said where the file states no
    torque from before: then nobody knows that this engine ran as it stands.
    """
    from scipy.special import ndtr

    nothing = History(np.zeros(sd.size), sd, False)
    near = np.flatnonzero(np.abs(grid.pressures / _SOLD_FOR - 1.0) <= _NEAR)
    if near.size == 0 or build.get("baseline.torque") is None:
        return nothing
    column = int(near[np.argmin(np.abs(grid.pressures[near] - _SOLD_FOR))])
    width = grid.pressures.size
    at = np.arange(grid.speeds.size) * width + column  # the flat place of each speed's own past
    rule = rule_of("sold_spark")
    spark = np.radians(np.interp(grid.speeds * 30.0 / np.pi, rule.at, rule.value))
    thinner = grid.pressures[column] - _SOLD_FOR  # Russ: as many octane numbers, and a degree each
    spark = spark + thinner * RUSS_GUIDELINES.intake_pressure / RUSS_GUIDELINES.spark
    slope = np.abs(middle.slope[at])
    L = middle.log_knock[at] - scale - slope * (spark - middle.used[at])
    there = changes[:, at]
    S = np.sqrt(
        np.einsum("in,ij,jn->n", there, together, there)
        + own[at] ** 2
        + (slope * np.radians(rule.spread)) ** 2
    )
    b = -L / S
    chance = ndtr(b)
    good = np.isfinite(b) & (chance > _LEAST) & (middle.result.status[at] == 0)
    b = np.where(good, b, 0.0)
    h = np.exp(-0.5 * b**2) / np.sqrt(2.0 * np.pi) / ndtr(b)
    row = np.repeat(np.arange(grid.speeds.size), width)
    covariance = np.einsum("in,ij,jn->n", changes, together, there[:, row]) + own * own[at][row]
    c = np.where(good[row], covariance / S[row], 0.0)
    variance = sd**2 - c**2 * (b * h + h**2)[row]
    return History(-c * h[row], np.sqrt(np.maximum(variance, 0.0)), bool(good.any()))
