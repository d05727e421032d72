"""Gas that passes the rings of a whole engine, from the pressure in its cylinders over the cycle."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.physics.blow_by import ring_gap_area, ring_gap_flow
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.types import OperatingPoints

__all__ = ["blow_by_flow"]

Array = NDArray[np.float64]

_ROWS: Final = 9000  # more than a cycle has steps
_OVER: Final = 4.0  # phases from here on lie outside the cycle


def blow_by_flow(solver: CycleSolver, points: OperatingPoints, crankcase_pressure: float = 101325.0) -> Array:
    """Mean flow past the rings of all cylinders at operating points (n,) [kg/s]; NaN where no cycle settled.

    The mean over two turns of `ring_gap_flow` at usual gaps; what service makes of it is a factor beside
    (`library.crankcase`). crankcase_pressure: [Pa absolute]. Error: of the shape over speed and boost 20 %
    (judgement), of the level see there.
    """
    _, _, status, _, trace = solver.solve(points, rows=_ROWS)
    area = float(ring_gap_area())
    found = np.full(len(trace), np.nan)
    for i, rows in enumerate(trace):
        if status[i] == 2:
            continue
        end = int(np.argmax(rows[:, 4] == 0.0))
        rows = rows[:end]
        rows = rows[rows[:, 3] < _OVER]
        flow = ring_gap_flow(rows[:, 1], area, crankcase_pressure)
        found[i] = float(np.trapezoid(flow, rows[:, 0])) / (4.0 * np.pi) * solver.engine.cylinders
    return found
