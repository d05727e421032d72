"""Readings of one drive gathered where the engine was in the same state: many pulls are one place.

What the model is off by at a place is the same in every pull; only noise and luck average out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.beside import Row
from boostwright.drive.points import Points
from boostwright.drive.records import Notice
from boostwright.library.drive_spreads import drive_spread

__all__ = ["Cells", "cells_of", "kept_points"]

Array = NDArray[np.float64]

_TO_SD: Final = 1.4826  # of a median distance
_MEDIAN: Final = 1.2533  # by which a median is less sure than a mean


@dataclass(frozen=True, slots=True)
class Cells:
    """One row over places, arrays (c,). off: reading less expectation, median; sd: of it, form included.

    slopes: (c, k) over the unknowns in their order; charge: over the logarithm of the charge at the place.
    """

    key: str
    speed: Array
    pressure: Array
    off: Array
    sd: Array
    slopes: Array
    charge: Array
    label: tuple[tuple[str, int, int], ...]  # which place each is

    def at(self, where: NDArray[np.int64]) -> Cells:
        """Some of the places."""
        label = tuple(self.label[i] for i in where)
        return Cells(
            self.key,
            self.speed[where],
            self.pressure[where],
            self.off[where],
            self.sd[where],
            self.slopes[where],
            self.charge[where],
            label,
        )


def kept_points(points: Points, faults: Sequence[Notice]) -> NDArray[np.bool_]:
    """Points (n,) outside everything that was noticed as a fault: what is broken teaches nothing."""
    keep = np.ones(len(points), dtype=bool)
    for notice in faults:
        if notice.fault:
            keep &= (points.time < notice.start - 0.5) | (points.time > notice.end + 0.5)
    return keep


def cells_of(row: Row, points: Points, names: Sequence[str], keep: NDArray[np.bool_]) -> Cells | None:
    """The row gathered; None where nothing is left.

    names: of the unknowns, in their order; slopes over pulls' own roads stay with their share of the cell.
    """
    use = keep[row.at] & np.isfinite(row.off)
    if not use.any():
        return None
    at = row.at[use]
    speed, pressure = points.speed[at], points.pressure[at]
    label = np.column_stack(
        [
            np.floor(speed / drive_spread("learning", "cell_speed")),
            np.floor(pressure / drive_spread("learning", "cell_pressure")),
        ]
    )
    places, which = np.unique(label, axis=0, return_inverse=True)
    which = which.ravel()
    off, own, form = row.off[use], row.own_sd[use], row.form_sd[use]
    table = np.column_stack([np.broadcast_to(row.slopes.get(n, 0.0), row.at.shape)[use] for n in names])
    charge = np.broadcast_to(row.slopes.get("model.breathing", 0.0), row.at.shape)[use]
    scatter = drive_spread("learning", "scatter") * np.abs(_size(row)[use])
    found = [
        _one(np.flatnonzero(which == c), speed, pressure, off, np.hypot(own, scatter), form)
        for c in range(which.max() + 1)
    ]
    mean = np.array([np.bincount(which, weights=column) / np.bincount(which) for column in table.T]).T
    columns = [np.array(c) for c in zip(*found, strict=True)]
    weights = np.bincount(which, weights=charge) / np.bincount(which)
    named = tuple((row.key, int(a), int(b)) for a, b in places)
    return Cells(row.key, columns[0], columns[1], columns[2], columns[3], mean, weights, named)


def _size(row: Row) -> Array:
    """What one logarithm of more charge makes of the row: the scale of what two like pulls differ by."""
    return np.asarray(np.broadcast_to(row.slopes.get("model.breathing", 0.0), row.at.shape))


def _one(
    where: NDArray[np.int64], speed: Array, pressure: Array, off: Array, own: Array, form: Array
) -> tuple[float, float, float, float]:
    """Speed, pressure, median and its standard deviation of one place."""
    middle = float(np.median(off[where]))
    noise = float(np.sqrt(np.mean(own[where] ** 2)))
    if where.size > 2:
        noise = max(noise, _TO_SD * float(np.median(np.abs(off[where] - middle))))
    noise *= (_MEDIAN if where.size > 2 else 1.0) / math.sqrt(where.size)
    return (
        float(np.mean(speed[where])),
        float(np.mean(pressure[where])),
        middle,
        math.hypot(noise, float(np.mean(form[where]))),
    )
