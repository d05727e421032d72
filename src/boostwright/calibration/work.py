"""What the makers of tables share: the build, its judged case, the grid and the engine in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.build.document import Build
from boostwright.calibration.cells import Cells
from boostwright.calibration.grid import RPM, Grid
from boostwright.calibration.records import Axis, Origin, Table
from boostwright.calibration.sparks import Sparks
from boostwright.findings.case import Case
from boostwright.fitting.fitted import FITTED
from boostwright.physics.fuel import stoichiometric_air_fuel_ratio
from boostwright.physics.injection import air_per_cylinder
from boostwright.quantity import Dimension, PressureKind
from boostwright.systems.engine.types import CycleResult
from boostwright.systems.fuel_side import FuelParts
from boostwright.systems.sensing import Controller, PressureSensor

__all__ = ["Work", "coolant_axis", "origins", "pressure_axis", "speed_axis"]

Array = NDArray[np.float64]

_REACH_PRESSURE: Final = 0.20  # of the pressure of full load, within which a fit speaks for a cell [-]
_REACH_SPEED: Final = 1000.0 * RPM  # the same, of speed beyond its first and last reading [rad/s]


@dataclass(frozen=True, slots=True)
class Work:
    """One calibration in the making. score: standard deviations that stand for ``probability``."""

    build: Build
    case: Case
    grid: Grid
    cells: Cells
    sparks: Sparks
    driven: CycleResult  # the cycles at the table's sparks
    parts: FuelParts
    controller: Controller
    sensor: PressureSensor
    cut: float  # boost cut [Pa absolute]; NaN where none fits
    probability: float
    score: float

    @property
    def visited(self) -> NDArray[np.bool_]:
        """Of the cells, shape of the grid."""
        return self.grid.visited.reshape(self.grid.shape)

    def square(self, flat: ArrayLike) -> Array:
        """A flat array of cells in the shape of the grid."""
        return np.asarray(flat, dtype=np.float64).reshape(self.grid.shape)

    def flags(self, flat: ArrayLike) -> NDArray[np.bool_]:
        """The same for what is true or false."""
        return np.asarray(flat, dtype=bool).reshape(self.grid.shape)

    @property
    def efficiency(self) -> Array:
        """Volumetric efficiency of each cell (n,) [-]; where the cycle broke, that of the next cell."""
        value = self.square(self.driven.volumetric_efficiency).copy()
        for j in range(value.shape[1] - 2, -1, -1):
            value[:, j] = np.where(np.isfinite(value[:, j]), value[:, j], value[:, j + 1])
        for j in range(1, value.shape[1]):
            value[:, j] = np.where(np.isfinite(value[:, j]), value[:, j], value[:, j - 1])
        return value.ravel()

    @property
    def air(self) -> Array:
        """Air that one cylinder draws in one cycle of each cell (n,) [kg]: VE p V_d/(R T)."""
        grid = self.grid
        return air_per_cylinder(
            self.efficiency, grid.pressure, grid.temperature, self.case.engine.swept_volume
        )

    @property
    def fuel_flow(self) -> Array:
        """Fuel of the whole engine in each cell (n,) [kg/s]: air over lambda and the blend's own ratio."""
        ratio = self.cells.lam * float(stoichiometric_air_fuel_ratio(self.case.fuel.ethanol_share))
        rate = self.grid.speed / (4.0 * np.pi) * self.case.engine.cylinders
        return np.asarray(self.air / ratio * rate)

    @property
    def fitted(self) -> bool:
        """Whether the build carries factors that a fit has found."""
        value = self.build.get("model.breathing")
        return value is not None and getattr(value, "note", "") == FITTED

    def ground(self) -> NDArray[np.bool_]:
        """Cells that a fit's own readings reach: near full load without boost, at the speeds of the
        readings.
        """
        rows = self.build.get("baseline.speed")
        if not self.fitted or rows is None:
            return np.zeros(self.grid.shape, dtype=bool)
        speeds = np.asarray(rows.value, dtype=np.float64)
        near = np.abs(self.grid.pressures / self.case.ambient_pressure - 1.0) <= _REACH_PRESSURE
        n = self.grid.speeds
        inside = (n >= speeds.min() - _REACH_SPEED) & (n <= speeds.max() + _REACH_SPEED)
        return np.asarray(inside[:, None] & near[None, :], dtype=bool)

    def engine_origins(self) -> NDArray[np.object_]:
        """Where the engine's own cells come from: the cycle, or the cycle as this engine's readings fitted
        it.
        """
        return origins(self.grid.shape, Origin.MODEL, Origin.BASELINE, self.ground())

    def engine_table(
        self,
        key: str,
        words: str,
        dimension: Dimension,
        value: Array,
        sd: Array,
        notes: tuple[str, ...],
        origin: NDArray[np.object_] | None = None,
        low: tuple[Array, str] | None = None,
        high: tuple[Array, str] | None = None,
    ) -> Table:
        """A table over speed and pressure; arrays flat or in the shape of the grid. low, high: `Table`."""
        return Table(
            key,
            words,
            dimension,
            (speed_axis(self.grid.speeds), pressure_axis(self.grid.pressures)),
            self.square(value),
            self.square(np.broadcast_to(sd, np.shape(value))),
            self.engine_origins() if origin is None else origin,
            self.visited.copy(),
            notes,
            low=None if low is None else self.square(low[0]),
            low_why="" if low is None else low[1],
            high=None if high is None else self.square(high[0]),
            high_why="" if high is None else high[1],
        )


def origins(
    shape: tuple[int, ...], usual: Origin, other: Origin | None = None, where: ArrayLike = False
) -> NDArray[np.object_]:
    """An array of origins: ``usual``, and ``other`` where ``where`` holds."""
    found = np.full(shape, usual, dtype=object)
    if other is not None:
        found[np.broadcast_to(np.asarray(where, dtype=bool), shape)] = other
    return found


def speed_axis(speeds: Array) -> Axis:
    """Breakpoints of engine speed."""
    return Axis("engine_speed", "engine speed", Dimension.ROTATION, speeds)


def pressure_axis(pressures: Array) -> Axis:
    """Breakpoints of manifold pressure."""
    return Axis(
        "manifold_pressure", "manifold pressure", Dimension.PRESSURE, pressures, PressureKind.ABSOLUTE
    )


def coolant_axis(temperature: Array) -> Axis:
    """Breakpoints of coolant temperature."""
    return Axis("coolant_temperature", "coolant temperature", Dimension.TEMPERATURE, temperature)
