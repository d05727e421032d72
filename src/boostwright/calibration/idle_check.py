"""Whether the spark is level enough near idle: an engine whose spark moves with load and speed hunts."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from boostwright.calibration.part_checks import listed
from boostwright.calibration.records import Check, Table
from boostwright.calibration.work import Work

__all__ = ["idle_level"]

_SPEED: Final = 1.25  # of idle speed, up to which it is near (judgement)
_PRESSURE: Final = 0.5  # of the outside air's pressure, up to which idle and its loads lie (judgement)
_STEP: Final = math.radians(4.0)  # between two such cells (common practice, no source)


def idle_level(tables: dict[str, Table], work: Work) -> Check:
    """Near idle no cell of the spark table parts from the others by more than a few degrees."""
    words = "Near idle, neither load nor a few revolutions move the spark: within"
    grid, value = work.grid, tables["spark"].value
    slow = grid.speeds <= _SPEED * work.build.number("engine.idle_speed")
    near = slow[:, None] & (grid.pressures <= _PRESSURE * grid.ambient)[None, :]
    told = f"{words} {math.degrees(_STEP):.0f} degrees."
    if near.sum() < 2:
        return Check("idle_level", f"{told} Cannot be told: the grid has no two cells near idle.", None)
    bad = near & (np.abs(value - np.median(value[near])) > _STEP)
    return Check(
        "idle_level",
        told,
        not bad.any(),
        listed("spark", bad),
        "Bring these cells to the spark of the others near idle, the later one if knock asks."
        if bad.any()
        else "",
    )
