"""Engines, solvers and operating points that the tests of the cycle share."""

from __future__ import annotations

import dataclasses
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from boostwright.systems.engine.baseline import Baseline, baseline
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.defaults import four_valve_two_litre
from boostwright.systems.engine.types import (
    BurnLaw,
    EngineGeometry,
    Fuel,
    HeatLaw,
    ModelFactors,
    OperatingPoints,
)

DEG = np.pi / 180.0
RPM = np.pi / 30.0  # [rad/s]
PETROL = Fuel()
SPEEDS = np.array([1000.0, 2000.0, 2500.0, 3000.0, 3500.0, 4000.0, 4500.0, 5000.0, 6000.0])


def at(
    rpm: ArrayLike = 3000.0,
    kpa: ArrayLike = 100.0,
    *,
    T: ArrayLike = 298.15,
    back: ArrayLike | None = None,
    lam: ArrayLike = 0.88,
    btdc: ArrayLike | None = None,
) -> OperatingPoints:
    """Operating points in the units of the bench: rev/min, kPa absolute, K, degrees before TDC.

    ``back``: exhaust manifold [kPa], as the plenum if left out. ``btdc``: spark; near MBT if left out.
    """
    rpm = np.asarray(rpm, dtype=float)
    spark = 11.0 + 8.2 * np.log2(rpm / 1000.0) if btdc is None else np.asarray(btdc, dtype=float)
    return OperatingPoints(
        rpm * RPM,
        np.asarray(kpa, dtype=float) * 1e3,
        T,
        np.asarray(kpa if back is None else back, dtype=float) * 1e3,
        lam,
        -np.asarray(spark) * DEG,
    )


def engine(**changes: object) -> EngineGeometry:
    """The class-default engine with some of it changed."""
    return dataclasses.replace(four_valve_two_litre(), **changes)  # type: ignore[arg-type]


WITHOUT_RUNNER = engine(runner_length=0.0)


@lru_cache(maxsize=64)
def solver(
    geometry: EngineGeometry = four_valve_two_litre(),  # noqa: B008
    fuel: Fuel = PETROL,
    factors: ModelFactors = ModelFactors(),  # noqa: B008
    burn_law: BurnLaw = BurnLaw.ENTRAINMENT,
    heat_law: HeatLaw = HeatLaw.WOSCHNI,
    refine: float = 1.0,
    tolerance: float = 1e-6,
) -> CycleSolver:
    """One solver for each set of choices, kept for the whole run."""
    return CycleSolver(
        geometry,
        fuel,
        factors=factors,
        burn_law=burn_law,
        heat_law=heat_law,
        refine=refine,
        tolerance=tolerance,
    )


@lru_cache(maxsize=8)
def full_load(geometry: EngineGeometry = four_valve_two_litre(), fuel: Fuel = PETROL) -> Baseline:  # noqa: B008
    """The baseline at SPEEDS."""
    return baseline(solver(geometry, fuel), SPEEDS * RPM)


def speed(rpm: float) -> int:
    """Index of ``rpm`` in SPEEDS."""
    return int(np.flatnonzero(rpm == SPEEDS)[0])
