"""The engine in every cell: charge, MBT and knock limit, and the spread of each.

The spreads come from moving everything that the engine's cycle rests on and that is not known for sure, one
at a time by one standard deviation, over all cells at once: the unknowns of the build, the same that the
odds of a check draw, and the forms in which the models can be had.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.build.catalogue import catalogue
from boostwright.build.document import Build
from boostwright.calibration.grid import Grid
from boostwright.calibration.history import History, history_of
from boostwright.findings.form import SPARK_LEVEL_SD, SPARK_TILT_SD, Form
from boostwright.fitting.data import HUMP_SD
from boostwright.fitting.fitted import FITTED
from boostwright.physics.knock import OCTANE_EXPONENT
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.spark import KnockModel
from boostwright.systems.engine.spark_grid import SparkGrid, best_near, spark_grid
from boostwright.systems.engine.types import BurnLaw, HeatLaw, ModelFactors, OperatingPoints
from boostwright.systems.stated.engine import engine_of, factors_of, fuel_of
from boostwright.systems.stated.ignition import timing_error_of
from boostwright.systems.stated.place import corner_fuel, corners_of
from boostwright.trust.unknowns import drawn_build, unknowns_of

__all__ = [
    "EARLIEST",
    "MIXTURE_SD",
    "Base",
    "Cells",
    "Moved",
    "Together",
    "base_of",
    "cells_of",
    "hotter",
    "shifted",
    "solver_of",
]

Array = NDArray[np.float64]
Progress = Callable[[str], None]
Together = Mapping[tuple[str, str], float]

EARLIEST: Final = np.radians(-45.0)  # no spark of a table lies before it (common practice, no source)
ONE_UP: Final = 0.8413447460685429  # share of a normal distribution below one standard deviation
COVERAGE: Final = 1.96  # standard deviations in a bound that holds 19 times out of 20
MIXTURE_SD: Final = 0.02  # of the lambda really run [-] (judgement)
AIR_SD: Final = 4.0  # of the plenum's temperature [K] (judgement)
AIR_SHARE: Final = 0.15  # the same, of its rise over the outside air [-] (judgement)
BACK_SHARE: Final = 0.15  # of the exhaust's pressure over the outside air [-] (judgement)
TORQUE_FLAT: Final = np.radians(1.0)  # by which a best spark is not told from its neighbours (judgement)


class Moved(NamedTuple):
    """What a change does in every cell (n,)."""

    log_air: Array  # of the charge's logarithm, on the same plenum density [-]
    log_knock: Array  # of the knock integral's logarithm at the same spark [-]
    best: Array  # of MBT [rad]


class Base(NamedTuple):
    """The cells without a change, arrays (n,)."""

    grid: SparkGrid
    log_air: Array  # of volumetric efficiency [-]
    log_knock: Array  # of the knock integral at ``grid.used``, not scaled [-]
    best: Array  # MBT from the states at ``grid.used`` [rad]


@dataclass(frozen=True, slots=True)
class Cells:
    """What the cycle says of each cell (n,), and one standard deviation of it.

    middle: at the knock limit itself. made: at the spark of the table, behind that limit by what covers its
    spread at the probability asked for. log_scale: of the poorest fuel on the knock integral. moved: what
    each unknown does, by its name.
    """

    middle: SparkGrid
    made: SparkGrid
    lam: Array
    log_scale: float
    air_sd: Array  # relative, of the charge [-]
    log_knock_sd: Array  # of the knock integral's logarithm, before the engine's own past is asked [-]
    knock_sd: Array  # of the knock-limited spark, after it [rad]
    margin: Array  # on the knock integral's logarithm, by which the table stays behind its limit [-]
    lived: bool  # whether the engine's own past counts in it
    best_sd: Array  # of MBT [rad]
    burns: NDArray[np.bool_]  # whether the cycle burned and came to rest
    moved: dict[str, Moved]


def solver_of(build: Build, form: Form | None = None) -> CycleSolver:
    """The cycle of a build, in one form of its laws."""
    form = form or Form()
    factors = factors_of(build, form.heat_law)
    return CycleSolver(
        engine_of(build), fuel_of(build), factors=factors, burn_law=form.burn_law, heat_law=form.heat_law
    )


def poorest_scale(build: Build) -> float:
    """Logarithm of what the poorest fuel that the build may meet does to the knock integral [-]."""
    poorest = next((corner for corner in corners_of(build) if corner.poorest_fuel), None)
    if poorest is None:
        return 0.0
    return float(-OCTANE_EXPONENT * np.log(corner_fuel(build, poorest).ron / fuel_of(build).ron))


def base_of(solver: CycleSolver, points: OperatingPoints, grid: SparkGrid, scale: Array | float) -> Base:
    """What shifts are counted from. scale: on the knock integral's logarithm, that ``grid`` was made with
    [-].
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        air = np.log(grid.result.volumetric_efficiency)
    # MBT by the very search that shifts use, from the same states, so that only the change counts
    best = best_near(solver, points, grid.state, grid.best, grid.after)
    return Base(grid, air, grid.log_knock - scale, best)


def shifted(solver: CycleSolver, points: OperatingPoints, base: Base) -> Moved:
    """What another engine, fuel or condition does to cells whose grid is at hand.

    solver, points: with the change in them. base: without it.
    """
    grid = base.grid
    inputs, columns, status, state, _ = solver.solve(points.with_spark(grid.used), grid.state.copy())
    result = solver.figures(inputs, columns, status)
    with np.errstate(divide="ignore", invalid="ignore"):
        air = np.log(result.volumetric_efficiency) - base.log_air
        knock = np.log(KnockModel.MIDDLE.integral(result)) - base.log_knock
    best = best_near(solver, points, state, grid.best, grid.after) - base.best
    good = (status == 0) & (grid.result.status == 0)
    return Moved(*(np.where(good & np.isfinite(a), a, 0.0) for a in (air, knock, best)))


def cells_of(
    build: Build,
    grid: Grid,
    lam: Array,
    score: float,
    spreads: bool = True,
    progress: Progress = lambda _: None,
    together: Together = MappingProxyType({}),
) -> Cells:
    """The engine in the cells of a grid.

    lam: wanted in each cell (n,) [-]. score: standard deviations that the margin of the spark covers [-].
    spreads: whether to work them out; without, none is known and the margin is that of the timing alone.
    together: correlations of a fit between fields of the build.
    """
    progress("seeking the best and the knock-limited spark of every cell")
    solver, points, scale = solver_of(build), grid.points(lam), poorest_scale(build)
    middle = spark_grid(solver, points, log_scale=scale, earliest=EARLIEST)
    moved: dict[str, Moved] = {}
    matrix = np.eye(0)
    if spreads:
        progress("moving everything that is not known for sure")
        moved, matrix = _everything(build, grid, points, base_of(solver, points, middle, scale), together)
    angle = _angles(build, grid.speed)
    slope = np.abs(middle.slope)
    stacks = (
        [np.stack([getattr(m, name) for m in moved.values()]) for name in Moved._fields] if moved else None
    )
    zero = np.zeros(lam.size)
    air, knock, best = (zero, zero, zero) if stacks is None else (_summed(s, matrix) for s in stacks)
    air = np.hypot(air, HUMP_SD) if spreads else air
    timing = timing_error_of(build).either / COVERAGE
    own = angle if spreads else 0.0
    log_sd = np.hypot(knock, slope * np.hypot(own, timing))
    past = History(zero, log_sd, False)
    if stacks is not None:
        past = history_of(build, grid, middle, scale, stacks[1], matrix, slope * own, log_sd)
    margin = np.maximum(past.shift + score * past.sd, 0.0)
    made = spark_grid(solver, points, log_scale=scale + margin, start=middle, earliest=EARLIEST)
    return Cells(
        middle=middle,
        made=made,
        lam=lam,
        log_scale=scale,
        air_sd=air,
        log_knock_sd=log_sd,
        knock_sd=past.sd / slope,
        margin=margin,
        lived=past.told,
        best_sd=np.hypot(np.hypot(best, TORQUE_FLAT), np.hypot(own, timing)),
        burns=(middle.result.status == 0) & (made.result.status == 0),
        moved=moved,
    )


def _angles(build: Build, speed: Array) -> Array:
    """Standard deviation of computed sparks at speeds that no unknown of the build stands for [rad]."""
    top = build.number("engine.speed_limit")
    tilt = Form(spark_tilt=SPARK_TILT_SD).spark_off(speed, top)
    return np.hypot(SPARK_LEVEL_SD, tilt)


def _summed(changes: Array, together: Array) -> Array:
    """Standard deviation of many changes (k, n) that go together as a matrix (k, k) says, (n,)."""
    return np.asarray(np.sqrt(np.maximum(np.einsum("in,ij,jn->n", changes, together, changes), 0.0)))


def _everything(
    build: Build, grid: Grid, points: OperatingPoints, base: Base, together: Together
) -> tuple[dict[str, Moved], Array]:
    """What each unknown does by one standard deviation, and which of them move together."""
    kept = _found(build)
    unknowns = unknowns_of(build, together if together or kept else None)
    usual = (engine_of(build), fuel_of(build), factors_of(build))
    found: dict[str, Moved] = {}
    places: list[int] = []
    for k, unknown in enumerate(unknowns.every):
        if unknown.is_form:
            continue
        value = float(np.asarray(unknown.marginal.ppf(ONE_UP)))
        drawn = kept | {unknown.name: value}  # what a fit or a drive has found stays with the build
        other = drawn_build(build, tuple(drawn), np.array(list(drawn.values())))
        if (engine_of(other), fuel_of(other), factors_of(other)) == usual:
            continue
        found[unknown.name] = shifted(solver_of(other), points, base)
        places.append(k)
    own = len(places)
    found |= _forms(build, points, base)
    found |= _conditions(build, grid, points, base)
    matrix = np.eye(len(found))
    matrix[:own, :own] = unknowns.correlation[np.ix_(places, places)]
    return found, matrix


def _found(build: Build) -> dict[str, float]:
    """Fields that nobody stated and that a fit or a drive has found, SI: those that stand elsewhere than the
    build by itself would have them.
    """
    bare = replace(build, _defaults={})
    found = {}
    for path in catalogue().fields:
        if build.is_stated(path):
            continue
        now, usual = build.get(path), bare.get(path)
        if now is None or usual is None or not isinstance(now.value, int | float):
            continue
        if now.note == FITTED or (now.value, now.sd) != (usual.value, usual.sd):
            found[path] = float(now.value)
    return found


def _forms(build: Build, points: OperatingPoints, base: Base) -> dict[str, Moved]:
    """Laws that stand against each other: half of what lies between them."""
    zero = np.zeros(base.grid.used.size)
    with np.errstate(divide="ignore", invalid="ignore"):
        laws = 0.5 * np.log(base.grid.result.knock_a / base.grid.result.knock_c)
    found = {"form.knock_law": Moved(zero, np.where(np.isfinite(laws), laws, 0.0), zero)}
    for name, form in (
        ("form.heat_law", Form(heat_law=HeatLaw.HOHENBERG)),
        ("form.burn_law", Form(burn_law=BurnLaw.WIEBE)),
    ):
        full = shifted(solver_of(build, form), points, base)
        found[name] = Moved(*(0.5 * a for a in full))
    return found


def _conditions(build: Build, grid: Grid, points: OperatingPoints, base: Base) -> dict[str, Moved]:
    """The gas before and behind the engine, and the mixture."""
    solver = solver_of(build)
    air = build.number("place.temperature")
    T = np.asarray(points.plenum_temperature)
    warmer = np.hypot(AIR_SD, AIR_SHARE * (T - air))
    gauge = np.maximum(grid.exhaust - grid.ambient, 1.0e3)
    lam = np.asarray(points.lam)
    return {
        "plenum temperature": shifted(
            solver, replace(points, plenum_temperature=np.minimum(T + warmer, 423.0)), base
        ),
        "exhaust pressure": shifted(
            solver, replace(points, exhaust_pressure=grid.exhaust + BACK_SHARE * gauge), base
        ),
        "mixture": shifted(solver, replace(points, lam=lam + MIXTURE_SD), base),
    }


def hotter(
    build: Build,
    points: OperatingPoints,
    base: Base,
    kelvin: Sequence[float],
    coolant: bool,
) -> list[Moved]:
    """What warmer air in the plenum, or warmer coolant, does to every cell."""
    found = []
    for more in kelvin:
        if coolant:
            usual: ModelFactors = factors_of(build)
            factors = replace(usual, coolant_temperature=usual.coolant_temperature + more)
            solver = CycleSolver(engine_of(build), fuel_of(build), factors=factors)
            found.append(shifted(solver, points, base))
            continue
        T = np.clip(np.asarray(points.plenum_temperature) + more, 225.0, 423.0)
        found.append(shifted(solver_of(build), replace(points, plenum_temperature=T), base))
    return found
