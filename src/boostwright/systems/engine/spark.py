"""Where to light the charge: spark for best torque, and the spark at which the end gas begins to knock."""

from __future__ import annotations

from enum import Enum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.types import CycleResult, OperatingPoints

__all__ = ["KnockModel", "SparkLimits", "best_spark", "knock_spark", "limited_spark"]

Array = NDArray[np.float64]

EARLIEST = np.radians(-58.0)
LATEST = np.radians(25.0)
FIRST_GUESS = np.radians(-22.0)
MBT_ROUNDS = 12
MBT_TOLERANCE = np.radians(0.05)
KNOCK_TOLERANCE = 0.002  # on the logarithm of the knock integral: 0.05 degrees of spark


class KnockModel(Enum):
    """Ignition delay of the end gas."""

    DOUAUD_EYZAT = 0
    GUIDELINE = 1
    MIDDLE = 2  # the geometric mean of both integrals

    def integral(self, result: CycleResult) -> Array:
        """This model's Livengood-Wu integral of each point [-]."""
        if self is KnockModel.DOUAUD_EYZAT:
            return result.knock_a
        if self is KnockModel.GUIDELINE:
            return result.knock_c
        return np.asarray(np.sqrt(np.maximum(result.knock_a, 0.0) * np.maximum(result.knock_c, 0.0)))


class SparkLimits(NamedTuple):
    """Spark angles [rad], negative before TDC, shape (n,), and the cycles at them."""

    best: Array  # MBT
    knock: Array  # knock-limited, NaN where the charge does not knock at MBT
    used: Array  # the later of the two; NaN where no spark up to 25 degrees after TDC is knock-free
    at_best: CycleResult
    at_used: CycleResult


def _finite(state: Array) -> Array:
    """Forget the states of points that broke, so that they start afresh."""
    state[~np.isfinite(state).all(axis=1), 0] = 0.0
    return state


def best_spark(
    solver: CycleSolver, points: OperatingPoints, start: Array | None = None, rounds: int = MBT_ROUNDS
) -> tuple[Array, CycleResult]:
    """MBT: the spark of greatest indicated work [rad], and the cycles there.

    A parabola through three sparks, moved and narrowed until it settles within 0.05 degrees; all points in
    one batch. ``start``: a first guess (n,) [rad]. ``rounds``: at most; two from a guess within 5 degrees are
    good to half a degree.
    """
    p = points.spread()
    n = np.asarray(p.speed).size
    spark = np.full(n, FIRST_GUESS) if start is None else np.array(start, dtype=float)
    state: Array | None = None
    reach = np.full(n, np.radians(6.0))
    for _ in range(rounds):
        spark = np.clip(spark, EARLIEST + reach, LATEST - reach)
        triple = np.concatenate([spark - reach, spark, spark + reach])
        three = p.with_spark(triple)
        _, results, _, state, _ = solver.solve(three, None if state is None else _finite(state))
        work = results[:, 0].reshape(3, n)
        curve = work[0] - 2 * work[1] + work[2]
        with np.errstate(divide="ignore", invalid="ignore"):
            step = 0.5 * reach * (work[0] - work[2]) / curve
        # a parabola that opens upward says only which way is uphill
        step = np.where(curve < 0, step, np.sign(work[2] - work[0]) * 2 * reach)
        step = np.clip(step, -2.5 * reach, 2.5 * reach)
        spark = spark + step
        if np.all(np.abs(step) < MBT_TOLERANCE):
            break
        reach = np.where(np.abs(step) < reach, np.maximum(0.5 * reach, np.radians(2.0)), reach)
    spark = np.clip(spark, EARLIEST, LATEST)
    middle = None if state is None else _finite(state.reshape(3, n, -1)[1].copy())
    return spark, solver.run(p.with_spark(spark), middle)


def knock_spark(
    solver: CycleSolver,
    points: OperatingPoints,
    model: KnockModel = KnockModel.DOUAUD_EYZAT,
    target: float = 1.0,
    start: Array | None = None,
) -> tuple[Array, CycleResult]:
    """The spark at which the knock integral equals ``target`` [rad], and the cycles there.

    Bracketed secant on the logarithm of the integral, all points in one batch. NaN where even the latest
    spark of 25 degrees after TDC knocks; the earliest spark of the search where nothing knocks at all.
    """
    p = points.spread()
    n = np.asarray(p.speed).size
    low = np.full(n, EARLIEST)
    high = np.full(n, LATEST)
    f_low = np.full(n, np.nan)
    f_high = np.full(n, np.nan)
    spark = np.full(n, FIRST_GUESS) if start is None else np.clip(start, EARLIEST, LATEST)
    state: Array | None = None
    done = np.zeros(n, dtype=bool)
    none = np.zeros(n, dtype=bool)
    result: CycleResult | None = None
    slope = np.full(n, -np.degrees(0.044))
    last_x, last_f = np.full(n, np.nan), np.full(n, np.nan)
    for _ in range(16):
        trial = p.with_spark(spark)
        inputs, columns, status, state, _ = solver.solve(trial, None if state is None else _finite(state))
        result = solver.figures(inputs, columns, status)
        with np.errstate(divide="ignore", invalid="ignore"):
            f = np.log(model.integral(result) / target)
        f = np.where(np.isfinite(f), f, np.where(spark > 0, -1.0, 1.0))
        knocks = f > 0
        low, f_low = np.where(knocks, spark, low), np.where(knocks, f, f_low)
        high, f_high = np.where(~knocks, spark, high), np.where(~knocks, f, f_high)
        none |= knocks & (spark >= LATEST - 1e-9)
        done = (np.abs(f) < KNOCK_TOLERANCE) | none | (~knocks & (spark <= EARLIEST + 1e-9))
        if done.all():
            break
        with np.errstate(divide="ignore", invalid="ignore"):
            measured = (f - last_f) / (spark - last_x)
        slope = np.where(np.isfinite(measured) & (measured < -0.5), measured, slope)
        last_x, last_f = spark, f
        guess = spark - f / slope
        guess = np.clip(guess, spark - np.radians(20.0), spark + np.radians(20.0))
        inside = (guess > low) & (guess < high)
        both = np.isfinite(f_low) & np.isfinite(f_high)
        guess = np.where(inside, guess, np.where(both, 0.5 * (low + high), np.clip(guess, EARLIEST, LATEST)))
        spark = np.where(done, spark, guess)
    assert result is not None
    return np.where(none, np.nan, spark), result


def limited_spark(
    solver: CycleSolver,
    points: OperatingPoints,
    model: KnockModel = KnockModel.DOUAUD_EYZAT,
    start_best: Array | None = None,
    start_knock: Array | None = None,
) -> SparkLimits:
    """The later of MBT and the knock limit for each point, and the cycles at both.

    Where no spark up to 25 degrees after TDC is knock-free, ``used`` is NaN and ``at_used`` holds the cycle
    at the latest spark of the search, so that what it would do can still be shown.
    """
    best, at_best = best_spark(solver, points, start_best)
    p = points.spread()
    knocks = model.integral(at_best) > 1.0
    used, knock = best.copy(), np.full(best.shape, np.nan)
    figures = {name: np.array(value) for name, value in at_best._asdict().items()}
    if knocks.any():
        guess = best + np.log(np.maximum(model.integral(at_best), 1.0)) / np.degrees(0.044)
        if start_knock is not None:
            guess = np.where(np.isfinite(start_knock), start_knock, guess)
        part = p.pick(knocks)
        found, result = knock_spark(solver, part, model, start=guess[knocks])
        knock[knocks] = found
        used[knocks] = found
        for name, value in result._asdict().items():
            figures[name][knocks] = value
    return SparkLimits(best, knock, used, at_best, CycleResult(**figures))
