"""A spark finder for the match: one cycle a round, and the spark moved towards the knock limit by it."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.spark import KnockModel
from boostwright.systems.engine.types import CycleResult, OperatingPoints

__all__ = ["LATEST_SPARK", "KnockLimited"]

Array = NDArray[np.float64]

LATEST_SPARK: Final = math.radians(25.0)  # no spark later than this is tried
_PER_RADIAN: Final = 2.52  # usual fall of the logarithm of the knock integral for each radian of later spark
_FIRST_RETARD: Final = math.radians(12.0)  # behind the best spark without boost
_LONGEST_STEP: Final = 0.2  # of the spark in one round [rad]
_MEASURED_STEP: Final = math.radians(0.3)  # a shorter step tells nothing of the slope


class KnockLimited:
    """Seeks the spark while the match goes on: never earlier than the best one without boost, at the knock
    limit else.

    Each call runs a cycle from where the call before stopped and says, by a secant step on the logarithm of
    the knock integral, which spark it would rather have, so that charge, spark and boost settle together.
    """

    def __init__(
        self,
        solver: CycleSolver,
        best: Array,
        knock_scale: ArrayLike = 1.0,
        model: KnockModel = KnockModel.MIDDLE,
        first: Array | None = None,
        cycles: int = 1,
    ) -> None:
        """solver: of the engine. best: earliest spark, shape (n,) [rad]. knock_scale: on the knock integral,
        one for each point: a fuel of another octane [-]. model: of the ignition delay. first: spark to begin
        with [rad], None for a usual one. cycles: in each call.
        """
        from boostwright.physics.kernels.cycle import N_STATE

        self._solver = solver
        self._best = best
        self._log_scale = np.log(np.broadcast_to(np.asarray(knock_scale, dtype=np.float64), best.shape))
        self._model = model
        self._cycles = cycles
        self._slope = np.full(best.shape, -_PER_RADIAN)
        self._last_spark = np.full(best.shape, np.nan)
        self._last_knock = np.full(best.shape, np.nan)
        self._state = np.zeros((best.size, N_STATE))
        self.first = np.clip(best + _FIRST_RETARD if first is None else first, best, LATEST_SPARK)

    def __call__(
        self, points: OperatingPoints, where: NDArray[np.int64], patience: int = 1
    ) -> tuple[CycleResult, Array]:
        """Cycles at the points, those at places `where`, and the spark that each would rather have."""
        state = self._state[where]
        state[~np.isfinite(state).all(axis=1)] = 0.0
        spark = np.asarray(points.spark, dtype=np.float64)
        inputs, columns, status, state, _ = self._solver.solve(
            points, state, max_cycles=patience * self._cycles
        )
        self._state[where] = state
        cycle = self._solver.figures(inputs, columns, np.where(status == 1, 0, status))
        knock = np.log(np.maximum(self._model.integral(cycle), 1e-12)) + self._log_scale[where]
        knock = np.where(np.isfinite(knock), knock, 0.0)
        moved = spark - self._last_spark[where]
        with np.errstate(divide="ignore", invalid="ignore"):
            measured = (knock - self._last_knock[where]) / moved
            steep = (np.abs(moved) > _MEASURED_STEP) & (measured < -0.8) & (measured > -8.0)
        slope = self._slope[where] = np.where(steep, measured, self._slope[where])
        self._last_spark[where], self._last_knock[where] = spark, knock
        step = np.clip(-knock / slope, -_LONGEST_STEP, _LONGEST_STEP)
        return cycle, np.clip(spark + step, self._best[where], LATEST_SPARK)
