"""Blow-by along the lines of a case, for the rules on the crankcase."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.systems.corners import Day
from boostwright.systems.engine.baseline import Baseline
from boostwright.systems.engine.blow_by import blow_by_flow
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.types import OperatingPoints
from boostwright.systems.match import MatchResult

__all__ = ["READ_SPEED", "BlowBy", "blow_by_along"]

Array = NDArray[np.float64]

READ_SPEED: Final = 4000.0 * math.pi / 30.0  # crank speed of the crankcase reading [rad/s]


class BlowBy(NamedTuple):
    """Blow-by at usual ring gaps, all cylinders [kg/s]; service makes it more."""

    before: float  # full load without the turbo, 4000 rpm or the speed limit below it
    along: Mapping[str, Array]  # (n,) by the words of the day


def blow_by_along(
    build: Build, solver: CycleSolver, base: Baseline, days: Mapping[str, tuple[MatchResult, Day]]
) -> BlowBy | None:
    """Blow-by before the turbo and along the operating lines; None where no breather is stated.

    days: words of the day -> its line. Runs each point of each line once more, to see the pressure in the
    cylinder over the cycle: about a tenth of the time of a check.
    """
    if not any(path.startswith("breather.") for path in build):
        return None
    speeds = base.speeds
    at = min(READ_SPEED, float(speeds[-1]))
    i = int(np.clip(np.searchsorted(speeds, at), 1, speeds.size - 1))
    pair = np.zeros(speeds.size, dtype=bool)
    pair[i - 1 : i + 1] = True
    two = _where(solver, base.points, base.ambient_pressure, pair)[pair]
    known = np.isfinite(two)
    before = float(np.interp(at, speeds[pair][known], two[known])) if known.any() else math.nan
    along = {words: _along(solver, line, day.ambient.pressure) for words, (line, day) in days.items()}
    return BlowBy(before, along)


def _along(solver: CycleSolver, line: MatchResult, outside: float) -> Array:
    """Blow-by of the settled points of a line; NaN at the others (n,)."""
    return _where(solver, line.points, outside, line.settled)


def _where(solver: CycleSolver, points: OperatingPoints, outside: float, asked: NDArray[np.bool_]) -> Array:
    """Blow-by of the points asked for that have a spark; NaN at the others (n,)."""
    spark = points.arrays()[-1]
    there = asked & np.isfinite(spark)
    found = np.full(spark.shape, math.nan)
    if there.any():
        found[there] = blow_by_flow(solver, points.pick(there), outside)
    return found
