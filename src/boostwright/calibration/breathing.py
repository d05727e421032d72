"""What a recorded drive read of the engine's charge, put into the cells that the cycle filled."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RegularGridInterpolator

from boostwright.calibration.grid import Grid
from boostwright.calibration.records import Calibration, Origin, Table
from boostwright.systems.engine.types import CycleResult

__all__ = ["Breathing", "breathed", "with_drive"]

Array = NDArray[np.float64]

_OF_THE_CHARGE: Final = ("volumetric_efficiency", "cylinder_air", "injector_pulse")


@dataclass(frozen=True, slots=True)
class Breathing:
    """Factor on the charge of the model as it is handed in, over speed (n,) [rad/s] and manifold pressure
    (m,) [Pa absolute], both rising.

    factor: (n, m) [-]. log_sd: of the charge's logarithm where it is covered (n, m) [-]. covered: (n, m)
    whether readings of the drive stand near; elsewhere the factor is a smooth continuation.
    """

    speed: Array
    pressure: Array
    factor: Array
    log_sd: Array
    covered: NDArray[np.bool_]

    def at(self, grid: Grid) -> tuple[Array, Array, NDArray[np.bool_]]:
        """Factor, standard deviation of its logarithm and whether it is covered in each cell, flat.

        Between the places of the map straight lines; beyond its edges what stands at the edge, not covered.
        """
        ends = ((self.speed[0], self.speed[-1]), (self.pressure[0], self.pressure[-1]))
        n = np.clip(grid.speed, *ends[0])
        p = np.clip(grid.pressure, *ends[1])
        places = np.column_stack([n, p])
        axes = (self.speed, self.pressure)
        factor, log_sd, near = (
            RegularGridInterpolator(axes, values.astype(np.float64))(places)
            for values in (self.factor, self.log_sd, self.covered)
        )
        inside = (n == grid.speed) & (p == grid.pressure)
        return np.asarray(factor), np.asarray(log_sd), np.asarray(inside & (near > 0.5))


def breathed(
    result: CycleResult, air_sd: Array, grid: Grid, breathing: Breathing
) -> tuple[CycleResult, Array]:
    """Cycles of the cells with the charge that a drive read, air and fuel by its factor, and the relative
    spread of that charge, the drive's own where it is covered [-]. Knock and MBT stay, as manifold pressure
    and temperature do.
    """
    factor, log_sd, covered = breathing.at(grid)
    charged = result._replace(
        volumetric_efficiency=result.volumetric_efficiency * factor,
        air_flow=result.air_flow * factor,
        fuel_flow=result.fuel_flow * factor,
    )
    return charged, np.where(covered, log_sd, air_sd)


def with_drive(calibration: Calibration, grid: Grid, breathing: Breathing) -> Calibration:
    """The calibration with the cells of the charge marked that a drive has read."""
    covered = breathing.at(grid)[2].reshape(grid.shape)

    def marked(table: Table) -> Table:
        if table.key not in _OF_THE_CHARGE:
            return table
        origin = table.origin.copy()
        read = covered & (origin != Origin.RULE)
        origin[read] = Origin.LOG
        count = int(np.count_nonzero(read))
        note = (
            f"A recorded drive read {count} of the cells; between and beyond them stands a smooth"
            " continuation of what it read."
        )
        return replace(table, origin=origin, notes=(*table.notes, note))

    return replace(calibration, tables=tuple(marked(table) for table in calibration.tables))
