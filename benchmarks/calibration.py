"""Times of the starting tables: MBT and knock limit of about 250 cells, and the whole calibration with
spreads.

    python benchmarks/calibration.py                    everything, some minutes
    python benchmarks/calibration.py cells              only that part; parts: cells, spreads
    python benchmarks/calibration.py --json FILE        also write the figures there

The sound demo build on the breakpoints that follow from its own trajectory, one thread, warm. The reference
is the plain way in the same run: whole cycles at every degree of spark from 46 before to 24 after top dead
centre, each from the state of the spark before it, MBT by a parabola through the best three, the knock
limit by the logarithm of the integral between two sparks. docs/benchmarks.md says what the figures mean.
"""

from __future__ import annotations

import numpy as np
from common import Report, Row, arguments, best_time

from boostwright import verbs
from boostwright.calibration.cells import EARLIEST, poorest_scale, solver_of
from boostwright.calibration.grid import Grid, grid_of
from boostwright.calibration.make import calibration_in
from boostwright.calibration.mixture import wanted
from boostwright.calibration.settings import cut_of
from boostwright.findings.case import Case
from boostwright.findings.prepare import prepare
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.spark import KnockModel
from boostwright.systems.engine.spark_grid import SparkGrid, spark_grid
from boostwright.systems.engine.types import OperatingPoints
from boostwright.systems.stated.sensing import pressure_sensor_of

PARTS = ("cells", "spreads")
SWEEP = np.radians(np.arange(-46.0, 24.5, 1.0))
BUILD = verbs.demo_build("sound")


def asked(case: Case) -> tuple[Grid, OperatingPoints]:
    """The cells of the build's own breakpoints."""
    cut = cut_of(BUILD, case, pressure_sensor_of(BUILD))
    grid = grid_of(BUILD, case, 1.06 * cut.value)
    return grid, grid.points(wanted(BUILD, case, grid, cut.value))


def swept(
    solver: CycleSolver, points: OperatingPoints, log_scale: float
) -> tuple[np.ndarray, np.ndarray, int]:
    """MBT and knock limit by brute force [rad], NaN where the sweep does not hold them; whole cycles run."""
    from boostwright.physics.kernels.cycle import N_STATE

    n = points.arrays()[0].size
    work, knock, cycles = np.empty((SWEEP.size, n)), np.empty((SWEEP.size, n)), 0
    state = np.zeros((n, N_STATE))
    for k, spark in enumerate(SWEEP):
        result = solver.run(points.with_spark(np.full(n, spark)), state)
        state[~np.isfinite(state).all(axis=1)] = 0.0
        work[k] = np.where(result.status == 0, result.imep, np.nan)
        with np.errstate(divide="ignore", invalid="ignore"):
            knock[k] = np.log(KnockModel.MIDDLE.integral(result)) + log_scale
        cycles += int(np.nansum(result.cycles))
    return _top(work), _zero(knock), cycles


def _top(work: np.ndarray) -> np.ndarray:
    best = np.full(work.shape[1], np.nan)
    for j, column in enumerate(work.T):
        if not np.isfinite(column).any():
            continue
        k = int(np.nanargmax(column))
        if 0 < k < SWEEP.size - 1:
            a, b, c = column[k - 1 : k + 2]
            best[j] = SWEEP[k] + 0.5 * (a - c) / (a - 2 * b + c) * (SWEEP[1] - SWEEP[0])
    return best


def _zero(knock: np.ndarray) -> np.ndarray:
    limit = np.full(knock.shape[1], np.nan)
    for j, column in enumerate(knock.T):
        above = np.flatnonzero((column[:-1] > 0) & (column[1:] <= 0))
        if above.size:
            k = int(above[-1])
            limit[j] = SWEEP[k] + column[k] / (column[k] - column[k + 1]) * (SWEEP[1] - SWEEP[0])
    return limit


def agreement(report: Report, grid: SparkGrid, best: np.ndarray, knock: np.ndarray, load: np.ndarray) -> None:
    """How far the two lie apart, in degrees: where the number is used, and everywhere."""
    rules = (grid.knock > grid.best) & np.isfinite(knock)
    free = (grid.knock <= grid.best) & np.isfinite(best) & (grid.result.status == 0)
    for name, off in (
        ("knock limit, where it rules", np.degrees(grid.knock - knock)[rules]),
        ("MBT, where it rules", np.degrees(grid.best - best)[free]),
        ("MBT, where it rules, from half load on", np.degrees(grid.best - best)[free & load]),
    ):
        note = f"{off.size} cells, median {np.median(np.abs(off)):.2f}"
        report.add(Row(f"apart from the sweep at most: {name}", float(np.abs(off).max()), "deg", note=note))


def cells(report: Report, case: Case) -> None:
    """MBT and knock limit of every cell, against the plain sweep."""
    grid, points = asked(case)
    solver, scale = solver_of(BUILD), poorest_scale(BUILD)
    report.title(f"MBT and knock limit of {grid.speed.size} cells, one thread")

    def ours() -> SparkGrid:
        return spark_grid(solver, points, log_scale=scale, earliest=EARLIEST)

    taken, found = best_time(ours, rounds=5), ours()
    count = found.counts
    note = f"{count.full} whole cycles, {count.closed} closed phases"
    report.time("on the closed phase", taken, target=3000.0, note=note)
    best, knock, cycles = swept(solver, points, scale)
    theirs = best_time(lambda: swept(solver, points, scale), rounds=2, warm=False)
    report.time("by the sweep of whole cycles", theirs, note=f"{cycles} whole cycles")
    report.add(Row("sweep over ours", theirs.cpu / taken.cpu, "x", theirs.wall / taken.wall))
    agreement(report, found, best, knock, grid.pressure > 0.5 * grid.ambient)


def spreads(report: Report, case: Case) -> None:
    """Everything, with the spread of every cell, from the judged case on."""
    report.title("the whole calibration with spreads, judged case at hand")
    made = calibration_in(BUILD, case)
    taken = best_time(lambda: calibration_in(BUILD, case), rounds=2, warm=False)
    size = made.work.grid.speed.size
    report.time(
        "all tables, settings and checks",
        taken,
        target=90000.0,
        note=f"{size} cells, {len(made.work.cells.moved)} things moved",
    )
    plain = best_time(lambda: calibration_in(BUILD, case, spreads=False), rounds=2, warm=False)
    report.time("the same without spreads", plain)


def main() -> None:
    """Run the parts that were asked for."""
    parts, report = arguments(__doc__, PARTS)
    case = prepare(BUILD, None, arrival=False).case
    for part in parts:
        (cells if part == "cells" else spreads)(report, case)
    report.close()


if __name__ == "__main__":
    main()
