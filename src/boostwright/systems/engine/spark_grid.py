"""MBT and knock limit of many points at once: the spark is sought on the closed phase alone.

What a spark changes happens between intake and exhaust closing of one cycle; the charge that the next cycle
starts from hardly feels it. So the state at intake closing is frozen, the search runs compression, burn and
expansion only, the cycle is brought to rest again at the spark that was found, and the search is repeated
once from there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.slider_crank import cylinder_volume
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.spark import EARLIEST, LATEST, KnockModel
from boostwright.systems.engine.types import CycleResult, OperatingPoints

__all__ = ["Counts", "SparkGrid", "best_near", "spark_grid"]

Array = NDArray[np.float64]

BLOW_DOWN_SHARE: Final = 0.75
"""Work of the gas from exhaust opening to bottom dead centre over what it would do at the pressure at which
the valve opens; own cycles: 0.7 to 0.8. A later spark raises that pressure, which moves MBT by a tenth of a degree.
"""
_STEPS: Final = 14  # of the knock search at most
_TOLERANCE: Final = 0.002  # on the logarithm of the knock integral: 0.05 degrees of spark
_USUAL_SLOPE: Final = -2.52  # of that logarithm over the spark [1/rad]
_REACHES: Final = (6.0, 4.0, 3.0, 3.0)  # of the parabola for MBT, first search [degrees]
_CLOSE: Final = (3.0, 3.0)  # the same where a good guess is at hand


class Counts(NamedTuple):
    """What a search cost."""

    full: int  # whole cycles
    closed: int  # closed phases


@dataclass(frozen=True, slots=True)
class SparkGrid:
    """Sparks [rad], negative before TDC, of points (n,), and the cycles at the spark used.

    best: MBT. knock: where the knock integral, as scaled, reaches one; NaN where even 25 degrees after TDC
    knocks, the earliest spark of the search where nothing does. slope: of the integral's logarithm over the
    spark there [1/rad]. used: the later of the two, no later than 25 degrees after TDC. log_knock: logarithm of
    the scaled integral at ``used`` [-]. state: of the cycles at rest, to start a like grid from.
    """

    best: Array
    knock: Array
    slope: Array
    used: Array
    log_knock: Array
    result: CycleResult
    state: Array
    counts: Counts


def spark_grid(
    solver: CycleSolver,
    points: OperatingPoints,
    *,
    model: KnockModel = KnockModel.MIDDLE,
    log_scale: ArrayLike = 0.0,
    start: SparkGrid | None = None,
    earliest: float = EARLIEST,
) -> SparkGrid:
    """MBT and knock-limited spark of every point, and the cycles at the later of the two.

    solver: of the engine. points: (n,), their spark is not read. model: of the ignition delay. log_scale:
    added to the logarithm of the knock integral, for a fuel of another octane or for what the integral may be
    off, one or one each [-]. start: a like grid; then two searches become one. earliest: no spark before it
    [rad]. Within 0.1 degrees of the search with whole cycles; a test and `benchmarks/calibration.py`
    hold it there.
    """
    from boostwright.physics.kernels.cycle import N_STATE, R

    p = points.spread()
    n = np.asarray(p.speed).size
    scale = np.array(np.broadcast_to(np.asarray(log_scale, dtype=np.float64), (n,)))
    search = _Search(solver, p, model, scale, earliest)
    if start is None:
        state, best = np.zeros((n, N_STATE)), _first_guess(p)
        knock, used, rounds = best + np.radians(8.0), best + np.radians(4.0), 2
    else:
        state, best, used, rounds = start.state.copy(), start.best.copy(), start.used.copy(), 1
        knock = np.where(np.isfinite(start.knock), start.knock, LATEST)
    full = 0
    for turn in range(rounds):
        _, columns, _, state, _ = solver.solve(p.with_spark(used), state)
        full += int(columns[:, R.cycles].sum())
        best = search.best(state, best, _REACHES if start is None and turn == 0 else _CLOSE)
        knock, slope = search.knock(state, knock)
        used = np.fmax(best, np.where(np.isfinite(knock), knock, LATEST))
    inputs, columns, status, state, _ = solver.solve(p.with_spark(used), state)
    full += int(columns[:, R.cycles].sum())
    result = solver.figures(inputs, columns, status)
    with np.errstate(divide="ignore", invalid="ignore"):
        log = np.log(model.integral(result)) + scale
    return SparkGrid(best, knock, slope, used, log, result, state, Counts(full, search.closed))


def _first_guess(p: OperatingPoints) -> Array:
    """A usual MBT: 11 degrees at 1000 rpm and 8 more for each doubling, earlier for a thin charge."""
    speed, pressure = np.asarray(p.speed), np.asarray(p.plenum_pressure)
    thin = np.maximum(0.0, np.log2(90.0e3 / pressure))
    return np.asarray(-np.radians(11.0 + 8.2 * np.log2(np.maximum(speed / 104.7, 0.6)) + 7.0 * thin))


def best_near(solver: CycleSolver, points: OperatingPoints, state: Array, guess: Array) -> Array:
    """MBT [rad] of points whose states at intake closing are at hand, from a guess within some degrees."""
    return _Search(solver, points.spread(), KnockModel.MIDDLE, np.zeros(guess.size), EARLIEST).best(
        state, guess, _CLOSE
    )


class _Search:
    """The two searches on frozen states; counts the closed phases that they take."""

    def __init__(
        self,
        solver: CycleSolver,
        points: OperatingPoints,
        model: KnockModel,
        log_scale: Array,
        earliest: float,
    ) -> None:
        self._solver, self._points, self._model = solver, points, model
        self._log_scale, self._earliest = log_scale, earliest
        e = solver.engine
        sizes = (e.bore, e.stroke, e.rod, e.compression_ratio)
        left = float(cylinder_volume(np.pi, *sizes)) - float(cylinder_volume(e.exhaust.opens, *sizes))
        self._after = BLOW_DOWN_SHARE * left
        self.closed = 0

    def _run(
        self, state: Array, spark: Array, where: NDArray[np.int64], copies: int = 1
    ) -> tuple[Array, Array]:
        """Work up to bottom dead centre [J] and logarithm of the knock integral, NaN where nothing burned."""
        from boostwright.physics.kernels.cycle import R

        part = OperatingPoints(*(a[where] for a in self._points.arrays())).with_spark(spark)
        self.closed += spark.size
        inputs, r, end, status = self._solver.closed(part, np.tile(state[where], (copies, 1)))
        a, c = self._solver.knock_integrals(inputs, r)
        bad = status == 2
        if self._model is KnockModel.DOUAUD_EYZAT:
            c = a
        elif self._model is KnockModel.GUIDELINE:
            a = c
        with np.errstate(divide="ignore", invalid="ignore"):
            log = 0.5 * (np.log(a) + np.log(c)) + np.tile(self._log_scale[where], copies)
        work = r[:, R.work] + self._after * end
        return np.where(bad, np.nan, work), np.where(bad, np.nan, log)

    def best(self, state: Array, guess: Array, reaches: tuple[float, ...]) -> Array:
        """MBT [rad] by parabolas through three sparks each."""
        alive = np.flatnonzero(state[:, 0] > 0.0)
        spark = guess.copy()
        for degrees in reaches:
            reach = np.radians(degrees)
            middle = np.clip(spark[alive], self._earliest + reach, LATEST - reach)
            three = np.concatenate([middle - reach, middle, middle + reach])
            work, _ = self._run(state, three, alive, 3)
            early, mid, late = work.reshape(3, -1)
            curve = early - 2.0 * mid + late
            with np.errstate(divide="ignore", invalid="ignore"):
                step = 0.5 * reach * (early - late) / curve
            step = np.where(curve < 0.0, step, np.sign(late - early) * 2.0 * reach)
            spark[alive] = middle + np.clip(np.nan_to_num(step), -2.0 * reach, 2.0 * reach)
        return np.clip(spark, self._earliest, LATEST)

    def knock(self, state: Array, guess: Array) -> tuple[Array, Array]:
        """Spark [rad] at which the integral is one, and the logarithm's slope there; bracketed secant."""
        n = guess.size
        spark = np.clip(np.where(np.isfinite(guess), guess, 0.0), self._earliest, LATEST)
        slope = np.full(n, _USUAL_SLOPE)
        low, high = np.full(n, self._earliest), np.full(n, LATEST)
        last_x, last_f = np.full(n, np.nan), np.full(n, np.nan)
        never = ~(state[:, 0] > 0.0)
        free = never.copy()  # nothing knocks at the earliest spark, or nothing is known
        none = np.zeros(n, dtype=bool)
        todo = np.flatnonzero(~never)
        for _ in range(_STEPS):
            if todo.size == 0:
                break
            x = spark[todo]
            _, f = self._run(state, x, todo)
            f = np.where(np.isfinite(f), f, np.where(x > 0.0, -1.0, 1.0))
            knocks = f > 0.0
            low[todo] = np.where(knocks, x, low[todo])
            high[todo] = np.where(knocks, high[todo], x)
            with np.errstate(divide="ignore", invalid="ignore"):
                measured = (f - last_f[todo]) / (x - last_x[todo])
            good = np.isfinite(measured) & (measured < -0.5)
            slope[todo] = np.where(good, measured, slope[todo])
            last_x[todo], last_f[todo] = x, f
            none[todo] |= knocks & (x >= LATEST - 1e-9)
            free[todo] |= ~knocks & (x <= self._earliest + 1e-9)
            guessed = np.clip(x - f / slope[todo], x - np.radians(20.0), x + np.radians(20.0))
            guessed = np.clip(guessed, self._earliest, LATEST)
            outside = (guessed < low[todo]) | (guessed > high[todo])
            spark[todo] = np.where(
                np.abs(f) < _TOLERANCE, x, np.where(outside, 0.5 * (low[todo] + high[todo]), guessed)
            )
            todo = todo[~((np.abs(f) < _TOLERANCE) | none[todo] | free[todo])]
        return np.where(none, np.nan, np.where(free, self._earliest, spark)), slope
