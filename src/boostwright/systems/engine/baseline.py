"""The naturally aspirated baseline of the build's own engine over speed at full load."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.spark import KnockModel, knock_spark, limited_spark
from boostwright.systems.engine.types import CycleResult, OperatingPoints

__all__ = ["Baseline", "baseline", "full_load_points"]

Array = NDArray[np.float64]

INTAKE_DROP = 2.5e3  # plenum below ambient at 6000 rev/min, squared in speed [Pa]
EXHAUST_BASE = 1.0e3  # exhaust manifold above ambient at idle flow [Pa]
EXHAUST_RISE = 30.0e3  # at 6000 rev/min, squared in speed [Pa]
REFERENCE_SPEED = 6000.0 * np.pi / 30.0
FULL_LOAD_LAM = 0.88


class Baseline(NamedTuple):
    """Full load without boost; arrays of shape (n,), SI units, angles [rad]."""

    speeds: Array  # [rad/s]
    mbt_spark: Array
    knock_spark: Array  # Douaud & Eyzat; NaN where MBT does not knock
    knock_spark_guideline: Array  # guideline-fitted delay; NaN where MBT does not knock
    used_spark: Array
    result: CycleResult  # at the used spark
    at_mbt: CycleResult
    points: OperatingPoints  # conditions, with the used spark
    ambient_pressure: float  # [Pa]
    ambient_temperature: float  # [K]
    volumetric_efficiency_ambient: Array  # on ambient density [-]


def full_load_points(
    speeds: Array,
    ambient_pressure: float,
    ambient_temperature: float,
    lam: float = FULL_LOAD_LAM,
    intake_drop: float = INTAKE_DROP,
    exhaust_rise: float = EXHAUST_RISE,
) -> OperatingPoints:
    """Plenum and exhaust states of a stock car at full load.

    Losses grow with the square of speed: ``intake_drop`` and ``exhaust_rise`` are those at 6000 rev/min [Pa];
    our own class figures, +-40 %.
    """
    w = np.asarray(speeds, dtype=np.float64)
    square = (w / REFERENCE_SPEED) ** 2 * ambient_pressure / 100.0e3
    return OperatingPoints(
        speed=w,
        plenum_pressure=ambient_pressure - intake_drop * square,
        plenum_temperature=np.full_like(w, ambient_temperature),
        exhaust_pressure=ambient_pressure + EXHAUST_BASE + exhaust_rise * square,
        lam=np.full_like(w, lam),
        spark=np.radians(np.full_like(w, -22.0)),
    )


def baseline(
    solver: CycleSolver,
    speeds: Array,
    ambient_pressure: float = 100.0e3,
    ambient_temperature: float = 298.15,
    lam: float = FULL_LOAD_LAM,
    intake_drop: float = INTAKE_DROP,
    exhaust_rise: float = EXHAUST_RISE,
) -> Baseline:
    """Torque, air, spark limits and temperatures at full load without boost.

    speeds: crank speeds (n,) [rad/s]. ambient_pressure: [Pa]. ambient_temperature: at the filter [K]. lam:
    [-].
    """
    points = full_load_points(
        np.asarray(speeds, dtype=np.float64),
        ambient_pressure,
        ambient_temperature,
        lam,
        intake_drop,
        exhaust_rise,
    )
    limits = limited_spark(solver, points)
    guideline = np.full(limits.best.shape, np.nan)
    knocks = KnockModel.GUIDELINE.integral(limits.at_best) > 1.0
    if knocks.any():
        part = points.pick(knocks)
        guideline[knocks], _ = knock_spark(
            solver, part, KnockModel.GUIDELINE, start=limits.best[knocks] + np.radians(3.0)
        )
    air = limits.at_used.air_flow
    density = ambient_pressure / (287.05 * ambient_temperature)
    swept_flow = solver.engine.displacement * points.arrays()[0] / (4.0 * np.pi)
    return Baseline(
        speeds=points.arrays()[0],
        mbt_spark=limits.best,
        knock_spark=limits.knock,
        knock_spark_guideline=guideline,
        used_spark=limits.used,
        result=limits.at_used,
        at_mbt=limits.at_best,
        points=points.with_spark(limits.used),
        ambient_pressure=ambient_pressure,
        ambient_temperature=ambient_temperature,
        volumetric_efficiency_ambient=air / (density * swept_flow),
    )
