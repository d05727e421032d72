"""MBT and knock limit sought on the closed phase alone, against the search with whole cycles."""

from __future__ import annotations

import numpy as np
import pytest

from boostwright.physics.kernels.cycle import R
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.defaults import four_valve_two_litre
from boostwright.systems.engine.spark import KnockModel, best_spark, knock_spark
from boostwright.systems.engine.spark_grid import SparkGrid, spark_grid
from boostwright.systems.engine.types import Fuel, OperatingPoints
from tests.labels import check

RPM = np.pi / 30.0
SPEED = np.repeat([1500.0, 3000.0, 6000.0], 4) * RPM
PRESSURE = np.tile([60.0, 95.0, 130.0, 170.0], 3) * 1e3
POINTS = OperatingPoints(
    SPEED,
    PRESSURE,
    300.0 + 0.2e-3 * (PRESSURE - 95e3),
    np.maximum(101e3, 1.15 * PRESSURE),
    np.where(PRESSURE < 90e3, 1.0, 0.85),
    -0.3,
)


@pytest.fixture(scope="module")
def solver() -> CycleSolver:
    return CycleSolver(four_valve_two_litre(), Fuel())


@pytest.fixture(scope="module")
def grid(solver: CycleSolver) -> SparkGrid:
    return spark_grid(solver, POINTS)


@check(
    "limit",
    note="a closed phase from the state of a cycle at rest is that cycle's own; 0.1 %, for the state"
    " moves by 1e-4 in the last cycle and the knock integral by six times that",
)
def test_the_closed_phase_alone_is_that_of_the_whole_cycle(solver: CycleSolver) -> None:
    _, whole, status, state, _ = solver.solve(POINTS)
    assert not status.any()
    kept = state.copy()
    _, alone, end, code = solver.closed(POINTS, state)
    assert not code.any()
    assert np.array_equal(state, kept), "the state must stand still"
    for column in (R.p_max, R.ca50, R.knock_a, R.knock_c, R.mass, R.heat_closed):
        assert alone[:, column] == pytest.approx(whole[:, column], rel=1e-3), R._fields[column]
    assert (end > np.asarray(POINTS.exhaust_pressure)).all(), "pressure is left when the exhaust opens"


@check(
    "limit",
    note="the same optimum by whole cycles; a search is good to half a degree, the curve being flat there",
)
def test_mbt_agrees_with_the_search_by_whole_cycles(solver: CycleSolver, grid: SparkGrid) -> None:
    best, _ = best_spark(solver, POINTS)
    off = np.degrees(grid.best - best)
    assert np.abs(off).max() < 0.5, off
    assert np.median(np.abs(off)) < 0.15


@check(
    "limit",
    note="the same limit by whole cycles; both stop at 0.002 of ln I, 0.05 degrees each, and the state"
    " of the one stands at the spark used",
)
def test_the_knock_limit_agrees_with_the_search_by_whole_cycles(solver: CycleSolver, grid: SparkGrid) -> None:
    limit, _ = knock_spark(solver, POINTS, KnockModel.MIDDLE, start=grid.best)
    rules = grid.knock > grid.best
    assert rules.sum() >= 6
    assert np.abs(np.degrees(grid.knock - limit))[rules].max() < 0.15


def test_the_later_of_the_two_is_used_and_stands_at_its_limit(grid: SparkGrid) -> None:
    assert np.array_equal(grid.used, np.fmax(grid.best, grid.knock))
    rules = grid.knock > grid.best
    assert np.abs(grid.log_knock[rules]).max() < 0.01
    assert (grid.log_knock[~rules] < 0.0).all()
    assert not grid.result.status.any()


def test_a_like_grid_is_a_start_that_changes_nothing_but_the_cost(
    solver: CycleSolver, grid: SparkGrid
) -> None:
    again = spark_grid(solver, POINTS, start=grid)
    rules = grid.knock > grid.best
    off = np.degrees(np.abs(again.best - grid.best))
    # where knock rules by ten degrees and more, MBT is sought from that later spark's state, and is of no use
    assert off[~rules].max() < 0.1
    assert off.max() < 0.6
    assert np.degrees(np.abs(again.knock - grid.knock))[rules].max() < 0.1
    assert again.counts.full < 0.5 * grid.counts.full
    assert again.counts.closed < grid.counts.closed


def test_poorer_fuel_is_later_and_a_knock_scale_is_its_octane(solver: CycleSolver, grid: SparkGrid) -> None:
    from boostwright.physics.knock import OCTANE_EXPONENT

    scaled = spark_grid(solver, POINTS, log_scale=-OCTANE_EXPONENT * np.log(91.0 / 95.0))
    poor = spark_grid(CycleSolver(four_valve_two_litre(), Fuel(ron=91.0)), POINTS)
    rules = grid.knock > grid.best
    assert (scaled.knock[rules] > grid.knock[rules]).all()
    assert scaled.knock[rules] == pytest.approx(poor.knock[rules], abs=np.radians(0.15))


def test_a_charge_that_knocks_at_any_spark_is_said_to(solver: CycleSolver) -> None:
    hopeless = spark_grid(solver, POINTS, log_scale=6.0)
    assert np.isnan(hopeless.knock[PRESSURE > 90e3]).all()
    assert hopeless.used[PRESSURE > 90e3] == pytest.approx(np.radians(25.0))


def test_one_point_alone_and_among_others_has_one_answer(solver: CycleSolver, grid: SparkGrid) -> None:
    alone = spark_grid(solver, POINTS.pick(np.arange(12) == 6))
    assert alone.best[0] == pytest.approx(grid.best[6], abs=1e-9)
    assert alone.knock[0] == pytest.approx(grid.knock[6], abs=1e-9)


@check(
    "limit",
    note="the slope against whole cycles 1.5 degrees to either side; 8 % for the state that stands still",
)
def test_the_slope_of_knock_is_that_of_whole_cycles(solver: CycleSolver, grid: SparkGrid) -> None:
    step = np.radians(1.5)
    early, late = (solver.run(POINTS.with_spark(grid.used + s)) for s in (-step, step))
    logs = [0.5 * (np.log(r.knock_a) + np.log(r.knock_c)) for r in (early, late)]
    assert grid.slope == pytest.approx((logs[1] - logs[0]) / (2 * step), rel=0.08)
