"""The starting calibration of a build: everything made in order, checked, with its cautions."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from statistics import NormalDist
from types import MappingProxyType
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.calibration.boost_tables import boost_tables
from boostwright.calibration.breathing import Breathing, breathed, with_drive
from boostwright.calibration.cells import EARLIEST, Cells, Together, base_of, cells_of, hotter, solver_of
from boostwright.calibration.checks import checks_of
from boostwright.calibration.engine_tables import charge_tables, lambda_table, spark_table
from boostwright.calibration.fuel_tables import (
    air_temperature_table,
    cold_tables,
    dead_time_table,
    pulse_table,
    pulses_of,
)
from boostwright.calibration.grid import PAST_CUT, Grid, grid_of
from boostwright.calibration.mixture import Driven, boost_lambda, driven_at, protected, wanted
from boostwright.calibration.records import Calibration, Table
from boostwright.calibration.settings import Cut, cut_of, sensor_table, settings_of
from boostwright.calibration.spark_corrections import (
    AIR_MORE,
    COOLANT_MORE,
    reference_temperature,
    spark_corrections,
)
from boostwright.calibration.sparks import Sparks, sparks_of
from boostwright.calibration.work import Work
from boostwright.errors import OutOfRange
from boostwright.findings.case import Case
from boostwright.findings.limit_edits import edits_of
from boostwright.findings.prepare import prepare
from boostwright.library.calibration import rule_of
from boostwright.library.cautions import caution_rows, deference
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.spark_grid import spark_grid
from boostwright.systems.stated.fuel_side import fuel_side_of
from boostwright.systems.stated.sensing import controller_of, pressure_sensor_of

__all__ = ["Made", "calibration_in", "starting_calibration"]

Array = NDArray[np.float64]
Progress = Callable[[str], None]

PROBABILITIES: Final = (0.5, 0.999)  # that a margin of the spark may be asked to cover
_ROOM: Final = 1.06  # of the highest pressure of interest, to which the tables reach


class Made(NamedTuple):
    """A calibration with what it was made from, for checks and for edits."""

    calibration: Calibration
    work: Work
    cut: Cut


def starting_calibration(
    build: Build,
    *,
    speeds: Array | None = None,
    pressures: Array | None = None,
    probability: float = 0.9,
    spreads: bool = True,
    together: Together = MappingProxyType({}),
    progress: Progress = lambda _: None,
) -> Calibration:
    """Starting tables for the engine controller, by the model that judged the parts.

    build: the document, fitted or not. speeds [rad/s], pressures [Pa absolute]: breakpoints, rising; None to
    take them from the predicted trajectory. probability: that the spark's margin covers what is not known of
    the knock limit, 0.5 to 0.999. spreads: whether to work out how sure each cell is; without, the margin
    covers the timing mark alone and no cell carries a spread, so only for a first look. together:
    correlations that a fit has found between fields of the build, as `fitting.record.Fit.together` gives
    them; then build is the fitted one. progress: told what begins. Raises OutOfRange for breakpoints or a
    probability outside these ranges, and where the engine itself lies outside the model's ground.
    """
    case = prepare(build, None, edits_of(build), progress, arrival=False)
    made = calibration_in(
        build,
        case.case,
        speeds=speeds,
        pressures=pressures,
        probability=probability,
        spreads=spreads,
        together=together,
        progress=progress,
    )
    calibration = made.calibration
    return replace(calibration, warnings=(*calibration.warnings, *case.warnings))


def calibration_in(
    build: Build,
    case: Case,
    *,
    speeds: Array | None = None,
    pressures: Array | None = None,
    probability: float = 0.9,
    spreads: bool = True,
    together: Together = MappingProxyType({}),
    breathing: Breathing | None = None,
    progress: Progress = lambda _: None,
) -> Made:
    """The same from a case that is at hand; arguments and errors as `starting_calibration`.

    breathing: what a recorded drive read of the charge, on this build's own.
    """
    if not PROBABILITIES[0] <= probability <= PROBABILITIES[1]:
        raise OutOfRange(
            f"probability {probability:g} for the spark's margin: it takes {PROBABILITIES[0]:g} to"
            f" {PROBABILITIES[1]:g}; 0.5 leaves no margin, 0.9 is usual for a first drive"
        )
    score = NormalDist().inv_cdf(probability)
    sensor = pressure_sensor_of(build)
    cut = cut_of(build, case, sensor)
    grid = grid_of(build, case, _top(case, cut), speeds, pressures)
    lam = wanted(build, case, grid, cut.value)
    cells = cells_of(build, grid, lam, score, spreads, progress, together)
    progress("looking at the exhaust and making the tables")
    cells, sparks, driven, enriched = _protected(build, case, grid, cells, score)
    result = driven.result
    if breathing is not None:
        result, air_sd = breathed(result, cells.air_sd, grid, breathing)
        cells = replace(cells, air_sd=air_sd)
    work = Work(
        build=build,
        case=case,
        grid=grid,
        cells=cells,
        sparks=sparks,
        driven=result,
        parts=fuel_side_of(build),
        controller=controller_of(build),
        sensor=sensor,
        cut=cut.value,
        probability=probability,
        score=score,
    )
    calibration = _filled(work, cut, enriched)
    if breathing is not None:
        calibration = with_drive(calibration, grid, breathing)
    calibration = replace(calibration, checks=checks_of(calibration, work, cut))
    return Made(calibration, work, cut)


def _top(case: Case, cut: Cut) -> float:
    """Highest pressure that the tables must reach [Pa absolute]: above the cut, and above every day's
    boost.
    """
    every = [case.ambient_pressure]
    for line in (case.goal, *(corner.goal for corner in case.corners)):
        if line is not None and line.settled.any():
            every.append(float(np.nanmax(line.plenum_pressure)))
    stated = case.stated("controller.boost_cut")
    if np.isfinite(cut.value):
        every.append(cut.value)
    elif stated is not None:
        every.append(float(stated.value))
    return max(max(every) * _ROOM, max(every) + PAST_CUT)


def _protected(
    build: Build, case: Case, grid: Grid, cells: Cells, score: float
) -> tuple[Cells, Sparks, Driven, NDArray[np.bool_]]:
    """The cells with the lambda that protects the turbine, the sparks that can be driven, the cycles at them,
    and where lambda is richer for it. Spreads hardly change with lambda and stay.
    """
    solver = solver_of(build)
    sparks, driven = _driven(build, case, grid, cells, solver)
    lam, enriched = protected(case, grid, solver, driven, cells.lam, score)
    if not enriched.any():
        return cells, sparks, driven, enriched
    points = grid.points(lam)
    middle = spark_grid(solver, points, log_scale=cells.log_scale, start=cells.middle, earliest=EARLIEST)
    scale = cells.log_scale + cells.margin
    made = spark_grid(solver, points, log_scale=scale, start=cells.made, earliest=EARLIEST)
    burns = (middle.result.status == 0) & (made.result.status == 0)
    cells = replace(cells, middle=middle, made=made, lam=lam, burns=burns)
    return cells, *_driven(build, case, grid, cells, solver), enriched


def _driven(build: Build, case: Case, grid: Grid, cells: Cells, solver: CycleSolver) -> tuple[Sparks, Driven]:
    """The sparks that can be driven and the cycles at them; the latest useful ones are corrected once."""
    sparks = sparks_of(build, case, grid, cells)
    driven = driven_at(solver, grid, cells.lam, sparks.value.ravel(), cells.made.state)
    if sparks.held.any():
        sparks = sparks_of(build, case, grid, cells, (driven.spark, driven.result))
        driven = driven_at(solver, grid, cells.lam, sparks.value.ravel(), driven.state)
    return sparks, driven


def _filled(work: Work, cut: Cut, enriched: NDArray[np.bool_]) -> Calibration:
    """All tables and settings; the checks come after them."""
    build = work.build
    points, cells = work.grid.points(work.cells.lam), work.cells
    scale = cells.log_scale + cells.margin
    base = base_of(solver_of(build), points, cells.made, scale)
    air = hotter(build, points, base, AIR_MORE, coolant=False)
    coolant = hotter(build, points, base, COOLANT_MORE, coolant=True)
    pulses = pulses_of(work)
    charge, left_out = charge_tables(work)
    cold, cold_settings = cold_tables(work)
    not_said = list(left_out)
    tables: list[Table] = [
        *charge,
        lambda_table(work, work.cells.lam, enriched),
        spark_table(work),
        pulse_table(work, pulses),
        dead_time_table(work, pulses),
        *cold,
        *spark_corrections(work, air, coolant),
    ]
    for found, why in (
        air_temperature_table(work, AIR_MORE, air, reference_temperature(work)),
        sensor_table(work),
    ):
        if found is not None:
            tables.append(found)
        else:
            not_said.append(why)
    boost, missing = boost_tables(work)
    tables += boost
    not_said += missing
    return Calibration(
        name=build.name,
        fingerprint=build.fingerprint,
        tables=tuple(tables),
        settings=(*settings_of(work, cut, pulses), *cold_settings),
        checks=(),
        cautions=_cautions(),
        warnings=_warnings(work),
        not_said=tuple(not_said),
        probability=work.probability,
    )


def _cautions() -> tuple[str, ...]:
    rows = caution_rows()
    return (rows["tables"].text, rows["road"].text, deference())


def _warnings(work: Work) -> tuple[str, ...]:
    found = []
    if not work.fitted:
        found.append(
            "The model is not fitted to this engine: a baseline run narrows the spread of its charge, and one"
            " whose log holds the spark at the limit of knock narrows that of the spark and with it its"
            " margin."
        )
    chosen, richest = work.build.number("fuel.lambda_boost"), rule_of("richest")
    if chosen < richest.number:
        found.append(f"The file asks for lambda {chosen:.2f} under boost. {richest.reason}")
    if chosen > boost_lambda(work.build) + 1e-9:
        found.append(
            f"The file asks for lambda {chosen:.2f} under boost, leaner than full load without it; the"
            " tables do not"
            " follow."
        )
    if not work.build.is_stated("injectors.flow"):
        found.append("Nobody has stated the injectors' flow: every pulse stands on usual ones.")
    return tuple(found)
