"""MBT and knock limit of many points at once: the spark is sought on the closed phase alone.

What a spark changes happens between intake and exhaust closing of one cycle; the charge that the next cycle
starts from hardly feels it. So the state at intake closing is frozen, the search runs compression, burn and
expansion only, the cycle is brought to rest again at the spark that was found, and the search is repeated
once from there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, NamedTuple

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
the valve opens; own cycles: 0.7 to 0.8. Only a beginning: what a later spark does to the rest of the cycle,
the next charge included, is then measured by whole cycles at two sparks. At 800 rpm that moves MBT by a
degree.
"""
_COLD: Final = 3  # cycles from nothing at the first guess, before a search
_WARM: Final = 3  # cycles from MBT's state at the knock limit, before it is sought again
_APART: Final = np.radians(4.0)  # those two sparks [rad]
_STEPS: Final = 14  # of the knock search at most
_TOLERANCE: Final = 0.002  # on the logarithm of the knock integral: 0.05 degrees of spark
_MEASURED_STEP: Final = np.radians(0.3)
_SLOPE_STEP: Final = np.radians(1.5)  # to either side, to measure that slope [rad]
_LEAST_SLOPE: Final = -0.3  # less steep than that, the charge does not burn out there [1/rad]
_USUAL_SLOPE: Final = -2.52  # of that logarithm over the spark [1/rad]
_REACHES: Final = (6.0, 4.0, 3.0)  # of the parabola for MBT, first search [degrees]
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
    spark at ``used`` [1/rad]. used: the later of the two, no later than 25 degrees after TDC. log_knock:
    logarithm of the scaled integral at ``used`` [-]. after: work that the rest of the cycle gains for each
    pascal at exhaust opening [m3]. state: of the cycles at rest, to start a like grid from.
    """

    best: Array
    knock: Array
    slope: Array
    used: Array
    log_knock: Array
    after: Array
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
    from boostwright.physics.kernels.cycle import N_STATE

    p = points.spread()
    n = np.asarray(p.speed).size
    scale = np.array(np.broadcast_to(np.asarray(log_scale, dtype=np.float64), (n,)))
    search = _Search(solver, p, model, scale, earliest)
    if start is None:
        guess = _first_guess(p)
        state = search.whole(guess, np.zeros((n, N_STATE)), _COLD).state
        best = search.best(state, guess, _REACHES)
        at_best = search.whole(best, state)
        search.measure(at_best, best, search.whole(best + _APART, at_best.state))
        best = search.best(at_best.state, best, _CLOSE)
        knock = search.knock(at_best.state, best + np.radians(4.0))
        state = search.whole(_later(best, knock), at_best.state, _WARM).state
    else:
        search.after = start.after.copy()
        state = search.whole(start.used, start.state).state
        best = search.best(state, start.best, _CLOSE)
        knock = np.where(np.isfinite(start.knock), start.knock, LATEST)
    knock = search.knock(state, knock)
    used = _later(best, knock)
    last = search.whole(used, state)
    slope = search.slope(last.state, used)
    result = solver.figures(*last.solved)
    with np.errstate(divide="ignore", invalid="ignore"):
        log = np.log(model.integral(result)) + scale
    counts = Counts(search.full, search.closed)
    return SparkGrid(best, knock, slope, used, log, search.after, result, last.state, counts)


def _later(best: Array, knock: Array) -> Array:
    """The later of MBT and knock limit, the latest spark of the search where there is none [rad]."""
    return np.asarray(np.fmax(best, np.where(np.isfinite(knock), knock, LATEST)))


def _first_guess(p: OperatingPoints) -> Array:
    """A usual MBT: 11 degrees at 1000 rpm and 8 more for each doubling, earlier for a thin charge."""
    speed, pressure = np.asarray(p.speed), np.asarray(p.plenum_pressure)
    thin = np.maximum(0.0, np.log2(90.0e3 / pressure))
    return np.asarray(-np.radians(11.0 + 8.2 * np.log2(np.maximum(speed / 104.7, 0.6)) + 7.0 * thin))


def best_near(
    solver: CycleSolver, points: OperatingPoints, state: Array, guess: Array, after: Array
) -> Array:
    """MBT [rad] of points whose states at intake closing are at hand, from a guess within some degrees.

    after: as `SparkGrid` has it, of a like grid.
    """
    search = _Search(solver, points.spread(), KnockModel.MIDDLE, np.zeros(guess.size), EARLIEST)
    search.after = after
    return search.best(state, guess, _CLOSE)


class _Whole(NamedTuple):
    """Cycles at rest: what `CycleSolver.figures` takes, their work [J] and their state."""

    solved: tuple[Any, Array, NDArray[np.int64]]
    work: Array
    state: Array


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
        self.after = np.full(log_scale.size, BLOW_DOWN_SHARE * left)
        self.closed, self.full = 0, 0

    def whole(self, spark: Array, state: Array, patience: int | None = None) -> _Whole:
        """Whole cycles at a spark from a state that is left as it is: to rest, or ``patience`` cycles."""
        from boostwright.physics.kernels.cycle import R

        points = self._points.with_spark(spark)
        inputs, columns, status, after, _ = self._solver.solve(points, state.copy(), max_cycles=patience)
        self.full += int(columns[:, R.cycles].sum())
        return _Whole((inputs, columns, status), columns[:, R.work].copy(), after)

    def measure(self, here: _Whole, spark: Array, later: _Whole) -> None:
        """See how the rest of the cycle answers a later spark: cycles at rest at ``spark`` and `_APART`
        later.
        """
        every = np.arange(spark.size)
        two = np.concatenate([spark, spark + _APART])
        closed, end = self._closed(here.state, two, every, 2)
        closed, end = closed.reshape(2, -1), end.reshape(2, -1)
        with np.errstate(divide="ignore", invalid="ignore"):
            found = (later.work - here.work - (closed[1] - closed[0])) / (end[1] - end[0])
        usual = self.after
        good = np.isfinite(found) & (here.solved[2] == 0) & (later.solved[2] == 0)
        self.after = np.where(good, np.clip(found, -usual, 3.0 * usual), usual)

    def _closed(
        self, state: Array, spark: Array, where: NDArray[np.int64], copies: int
    ) -> tuple[Array, Array]:
        """Work of the closed phase [J] and pressure at its end [Pa]; NaN where nothing burned."""
        from boostwright.physics.kernels.cycle import R

        part = OperatingPoints(*(a[where] for a in self._points.arrays())).with_spark(spark)
        self.closed += spark.size
        _, r, end, status = self._solver.closed(part, np.tile(state[where], (copies, 1)))
        return np.where(status == 2, np.nan, r[:, R.work]), np.where(status == 2, np.nan, end)

    def _log_integral(self, state: Array, spark: Array, where: NDArray[np.int64]) -> Array:
        """Logarithm of the knock integral, as scaled; NaN where nothing burned."""
        part = OperatingPoints(*(a[where] for a in self._points.arrays())).with_spark(spark)
        self.closed += spark.size
        inputs, r, _, status = self._solver.closed(part, state[where])
        a, c = self._solver.knock_integrals(inputs, r)
        if self._model is KnockModel.DOUAUD_EYZAT:
            c = a
        elif self._model is KnockModel.GUIDELINE:
            a = c
        with np.errstate(divide="ignore", invalid="ignore"):
            log = 0.5 * (np.log(a) + np.log(c)) + self._log_scale[where]
        return np.where(status == 2, np.nan, log)

    def best(self, state: Array, guess: Array, reaches: tuple[float, ...]) -> Array:
        """MBT [rad] by parabolas through three sparks each."""
        alive = np.flatnonzero(state[:, 0] > 0.0)
        spark = guess.copy()
        for degrees in reaches:
            reach = np.radians(degrees)
            middle = np.clip(spark[alive], self._earliest + reach, LATEST - reach)
            three = np.concatenate([middle - reach, middle, middle + reach])
            closed, end = self._closed(state, three, alive, 3)
            early, mid, late = (closed + np.tile(self.after[alive], 3) * end).reshape(3, -1)
            curve = early - 2.0 * mid + late
            with np.errstate(divide="ignore", invalid="ignore"):
                step = 0.5 * reach * (early - late) / curve
            step = np.where(curve < 0.0, step, np.sign(late - early) * 2.0 * reach)
            spark[alive] = middle + np.clip(np.nan_to_num(step), -2.0 * reach, 2.0 * reach)
        return np.clip(spark, self._earliest, LATEST)

    def knock(self, state: Array, guess: Array) -> Array:
        """Spark [rad] at which the integral is one, by a bracketed secant on its logarithm."""
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
            f = self._log_integral(state, x, todo)
            f = np.where(np.isfinite(f), f, np.where(x > 0.0, -1.0, 1.0))
            knocks = f > 0.0
            low[todo] = np.where(knocks, x, low[todo])
            high[todo] = np.where(knocks, high[todo], x)
            with np.errstate(divide="ignore", invalid="ignore"):
                measured = (f - last_f[todo]) / (x - last_x[todo])
            far = np.abs(x - last_x[todo]) > _MEASURED_STEP  # a shorter step tells nothing of the slope
            good = far & (measured < -0.5) & (measured > -8.0)
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
        return np.where(none, np.nan, np.where(free, self._earliest, spark))

    def slope(self, state: Array, spark: Array) -> Array:
        """Slope of the integral's logarithm over the spark [1/rad], between sparks two steps apart about
        it.
        """
        every = np.flatnonzero(state[:, 0] > 0.0)
        middle = np.clip(spark[every], self._earliest, LATEST - _SLOPE_STEP)
        early = self._log_integral(state, middle - _SLOPE_STEP, every)
        late = self._log_integral(state, middle + _SLOPE_STEP, every)
        found = np.full(spark.size, _USUAL_SLOPE)
        measured = (late - early) / (2.0 * _SLOPE_STEP)
        found[every] = np.where(np.isfinite(measured) & (measured < _LEAST_SLOPE), measured, _USUAL_SLOPE)
        return found
