"""Blow-by along the lines of a case, for the rules on the crankcase."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.systems.engine.baseline import Baseline
from boostwright.systems.engine.blow_by import blow_by_flow
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.types import OperatingPoints

__all__ = ["READ_SPEED", "BlowBy", "blow_by_along"]

Array = NDArray[np.float64]

READ_SPEED: Final = 4000.0 * math.pi / 30.0  # crank speed of the crankcase reading [rad/s]


class BlowBy(NamedTuple):
    """Blow-by at usual ring gaps, all cylinders [kg/s]; service makes it more."""

    before: float  # full load without the turbo, 4000 rpm or the speed limit below it
    along: Mapping[str, Array]  # (n,) by the words of the day


def blow_by_along(
    solver: CycleSolver, base: Baseline, days: Mapping[str, tuple[OperatingPoints, float]]
) -> BlowBy:
    """Blow-by before the turbo and along the operating lines.

    days: words of the day -> its points and outside pressure [Pa]. Runs each point of each line once more, to
    see the pressure in the cylinder over the cycle.
    """
    speeds = base.speeds
    at = min(READ_SPEED, float(speeds[-1]))
    i = int(np.clip(np.searchsorted(speeds, at), 1, speeds.size - 1))
    pair = np.zeros(speeds.size, dtype=bool)
    pair[i - 1 : i + 1] = True
    two = blow_by_flow(solver, base.points.pick(pair), base.ambient_pressure)
    before = float(np.interp(at, speeds[pair], two))
    along = {words: blow_by_flow(solver, points, outside) for words, (points, outside) in days.items()}
    return BlowBy(before, along)
