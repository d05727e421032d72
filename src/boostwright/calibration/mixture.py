"""The lambda that the tables ask for in every cell.

Lambda 1 where the exhaust stands it; from there to the mixture of full load and on to the one chosen for
boost, by straight lines; richer where the turbine would grow too hot. Rich has a cost: power falls, plugs
soot, fuel washes oil off the bores. So nothing is richer than one of these three asks for.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.calibration.grid import Grid
from boostwright.findings.case import Case
from boostwright.library.calibration import rule_of
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.types import CycleResult

__all__ = [
    "TURBINE_SD",
    "Driven",
    "boost_lambda",
    "closed_loop_top",
    "driven_at",
    "protected",
    "turbine_limit",
    "wanted",
]

Array = NDArray[np.float64]

TURBINE_SD: Final = 40.0  # of a computed exhaust temperature without a thermocouple [K] (judgement)
_LEAST_STEP: Final = 5.0e3  # between the corners of the course over pressure [Pa]
_TRIED: Final = 0.05  # of lambda, to see what a richer mixture takes off the exhaust
_HOUSINGS: Final = {
    "iron": "exhaust_turbine_iron",
    "ni-resist": "exhaust_turbine",
    "steel": "exhaust_turbine_steel",
}


class Driven(NamedTuple):
    """Cycles at the table's sparks, flat: spark (n,) [rad], figures, states to start like cycles from."""

    spark: Array
    result: CycleResult
    state: Array


def driven_at(solver: CycleSolver, grid: Grid, lam: Array, spark: Array, state: Array) -> Driven:
    """The cells' cycles brought to rest at a spark (n,) [rad], from states of like cycles, which stay."""
    state = state.copy()
    return Driven(spark, solver.run(grid.points(lam, spark), state), state)


def closed_loop_top(build: Build, case: Case) -> tuple[float, str]:
    """Manifold pressure up to which lambda 1 is asked for [Pa absolute], and the rule behind it in words."""
    usual, rule = rule_of("closed_loop").number * 1e3, rule_of("closed_loop")
    most = case.limits["closed_loop_top"].amount
    stated = build.get("controller.closed_loop_below")
    if stated is None:
        return usual, f"{rule.reason} The file states none."
    value = float(stated.value)
    if value <= most.value - 2.0 * (most.sd or 0.0):
        return value, "As the file states."
    return usual, (
        f"The file states {value / 1e3:.0f} kPa; lambda 1 up to there is too hot, so {usual / 1e3:.0f} kPa"
        f" stands. {rule.reason}"
    )


def boost_lambda(build: Build) -> float:
    """Lambda under boost [-]: the one chosen, no leaner than full load without boost."""
    return min(build.number("fuel.lambda_boost"), build.number("fuel.lambda_full_load"))


def wanted(build: Build, case: Case, grid: Grid, cut: float) -> Array:
    """Lambda of each cell before the exhaust has been looked at, (n,) [-]."""
    full, boost = build.number("fuel.lambda_full_load"), boost_lambda(build)
    first, _ = closed_loop_top(build, case)
    second = max(rule_of("full_load").number * 1e3, first + _LEAST_STEP)
    reached = second
    if case.goal is not None and case.goal.settled.any():
        reached = float(np.nanmax(case.goal.plenum_pressure))
    third = max(0.5 * (second + reached), second + _LEAST_STEP)
    course = np.interp(grid.pressure, [first, second, third], [1.0, full, boost])
    fault = max(boost - rule_of("fault_lambda").number, min(rule_of("richest").number, boost))
    return np.asarray(np.where(grid.pressure > np.nan_to_num(cut, nan=np.inf), fault, course))


def turbine_limit(case: Case) -> tuple[float, float]:
    """What the turbine stands in the long run, and its standard deviation [K]."""
    material = case.word("turbo.housing_material") or ""
    amount = case.limits[_HOUSINGS.get(material, "exhaust_turbine")].amount
    return amount.value, float(amount.sd or 0.0)


def protected(
    case: Case, grid: Grid, solver: CycleSolver, driven: Driven, lam: Array, score: float
) -> tuple[Array, NDArray[np.bool_]]:
    """Lambda once more, richer where the turbine would grow too hot, and where that is (n,).

    driven: cycles at the sparks of the table and ``lam``. score: standard deviations of the computed
    temperature and of the limit that it is kept below. What a richer mixture takes off is asked of the cycle.
    Never richer than makes sense; along rising pressure lambda never rises.
    """
    limit, limit_sd = turbine_limit(case)
    bearable = limit - score * float(np.hypot(TURBINE_SD, limit_sd))
    hot = driven.result.exhaust_manifold_temperature
    over = np.nan_to_num(hot - bearable, nan=0.0)
    if not (over > 0.0).any():
        return lam, np.zeros(lam.shape, dtype=bool)
    richer = solver.run(grid.points(lam - _TRIED, driven.spark), driven.state.copy())
    with np.errstate(invalid="ignore"):
        slope = (hot - richer.exhaust_manifold_temperature) / _TRIED
    slope = np.where(np.isfinite(slope) & (slope > 100.0), slope, 700.0)
    least = np.minimum(rule_of("richest").number, lam)
    richer_now = np.maximum(lam - np.maximum(over, 0.0) / slope, least).reshape(grid.shape)
    found = np.asarray(np.minimum.accumulate(richer_now, axis=1)).ravel()
    return found, found < lam - 1e-6
