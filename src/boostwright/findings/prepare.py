"""From a build to a case: the engine before the turbo, the operating line with it, and the hardest burn."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.build.document import Build
from boostwright.errors import NotConverged, OutOfRange
from boostwright.findings.case import Case, GoalLine, StrengthLine
from boostwright.findings.limits import LimitEdit, shipped_limits
from boostwright.library import turbo_sizes
from boostwright.systems.engine.baseline import Baseline, baseline
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.spark import KnockModel, best_spark
from boostwright.systems.engine.types import CycleResult, OperatingPoints
from boostwright.systems.match import MatchResult, MatchSettings, MatchStatus, match
from boostwright.systems.stated.engine import engine_of, factors_of, fuel_of, losses_of
from boostwright.systems.stated.place import ambient_of
from boostwright.systems.stated.turbo import turbo_of

__all__ = ["Prepared", "prepare", "usual_speeds"]

Array = NDArray[np.float64]
Progress = Callable[[str], None]

_RPM = math.pi / 30.0
_LATEST = math.radians(25.0)  # no spark later than this is tried
_PER_RADIAN = 2.52  # usual fall of the logarithm of the knock integral for each radian of later spark
_STEPS = 2  # of the spark in one round of the match
_SETTLED_SPARK = math.radians(0.03)
_HELD_SD = 6.0e3  # of boost that the gate holds [Pa]
_SHUT_SD = 0.15  # of boost with the gate shut, as a share: it reacts strongly to every efficiency


@dataclass(frozen=True, slots=True)
class Prepared:
    """A case, what was left out or taken for granted, and the seconds that each stage took."""

    case: Case
    warnings: tuple[str, ...]
    seconds: dict[str, float]


def usual_speeds(build: Build) -> Array:
    """Every 500 rpm from 1000 rpm to the speed limit, the limit itself included [rad/s]."""
    top = build.number("engine.speed_limit") / _RPM
    steps = np.arange(1000.0, top - 124.0, 500.0)
    return np.append(steps, top) * _RPM


class _Watch:
    """Seconds from stage to stage."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}
        self._began = time.perf_counter()

    def stage(self, name: str) -> None:
        """The stage that ends now."""
        now = time.perf_counter()
        self.seconds[name] = now - self._began
        self._began = now


def prepare(
    build: Build, speeds: Array | None, edits: tuple[LimitEdit, ...] = (), progress: Progress = lambda _: None
) -> Prepared:
    """Compute everything that findings read.

    build: the document. speeds: crank speeds (n,) [rad/s], None for the usual ones. edits: limits that a
    person changed. progress: told what begins. Raises OutOfRange when the engine itself is outside the
    models' ground.
    """
    watch = _Watch()
    progress("setting up the engine cycle")
    engine, fuel, ambient = engine_of(build), fuel_of(build), ambient_of(build)
    solver = CycleSolver(engine, fuel, factors=factors_of(build))
    speed = usual_speeds(build) if speeds is None else speeds
    watch.stage("setting up")
    progress("computing the engine before the turbo")
    losses = losses_of(build)
    base = baseline(
        solver,
        speed,
        ambient.pressure,
        ambient.temperature,
        build.number("fuel.lambda_full_load"),
        intake_drop=losses.intake,
        exhaust_rise=losses.exhaust,
    )
    watch.stage("engine before the turbo")
    case = Case(
        build=build,
        engine=engine,
        fuel=fuel,
        ambient_pressure=ambient.pressure,
        ambient_temperature=ambient.temperature,
        baseline=base,
        limits=shipped_limits().edited(edits),
    )
    return _with_turbo(case, build, solver, base, watch, progress)


def _with_turbo(
    case: Case, build: Build, solver: CycleSolver, base: Baseline, watch: _Watch, progress: Progress
) -> Prepared:
    refusal = _not_judged(build)
    if refusal:
        return Prepared(replace(case, no_goal=refusal), (), watch.seconds)
    progress("matching engine and turbo")
    try:
        parts = turbo_of(build)
        if parts is None:
            return Prepared(
                replace(case, no_goal="The file states no turbo; only the engine is judged."),
                (),
                watch.seconds,
            )
        finder = _KnockLimited(solver, base)
        line = match(
            case.engine,
            case.fuel,
            parts,
            ambient_of(build),
            build.number("goal.boost"),
            base.speeds,
            solver.run,
            spark_for=finder,
            settings=MatchSettings(lam=build.number("fuel.lambda_boost")),
        )
    except (OutOfRange, NotConverged) as mishap:
        return Prepared(replace(case, no_goal=f"No line with the turbo: {mishap}"), (), watch.seconds)
    watch.stage("match")
    if not line.settled.any():
        nowhere = (
            "The match of engine and turbo settled at no speed, so nothing can be said of the two together."
        )
        return Prepared(replace(case, no_goal=nowhere), (), watch.seconds)
    progress("computing the hardest burn")
    goal, strength = _lines(build, solver, base, line)
    watch.stage("hardest burn")
    warnings = _taken_for_granted(build) + _unsettled(line)
    return Prepared(replace(case, goal=goal, strength=strength), warnings, watch.seconds)


def _not_judged(build: Build) -> str:
    """Why the turbo side of this build is not judged, in a sentence; '' when it is."""
    if build.count("turbo.count") != 1:
        return "The file states more than one turbo; only a single one is judged. The engine itself is."
    if build.words("turbo.entries") != "single":
        return "A housing with two entries is not judged yet; state it as single to see the nearest case."
    return ""


def _taken_for_granted(build: Build) -> tuple[str, ...]:
    notes = []
    if not any(path.startswith("turbo.") for path in build):
        notes.append(
            "The file states no turbo; one of usual size for this bore stands in. Measure its wheels."
        )
    if build.get("turbo.compressor_map") is not None:
        notes.append(
            "The compressor map that the file names is not read yet; the wheel sizes are used instead."
        )
    return tuple(notes)


def _unsettled(line: MatchResult) -> tuple[str, ...]:
    bad = line.speed[~line.settled] / _RPM
    if bad.size == 0:
        return ()
    listed = ", ".join(f"{v:.0f}" for v in bad)
    return (f"The match did not settle at {listed} rpm; these speeds are left out of every finding.",)


class _KnockLimited:
    """Finds the spark while the match goes on: never earlier than MBT before the turbo, at the knock limit
    else.

    Each call takes secant steps on the logarithm of the knock integral from where the call before stopped,
    so that match and spark settle together.
    """

    def __init__(self, solver: CycleSolver, base: Baseline) -> None:
        from boostwright.physics.kernels.cycle import N_STATE

        n = base.mbt_spark.size
        self._solver = solver
        self._best = base.mbt_spark
        self._spark = np.clip(base.mbt_spark + math.radians(12.0), -1.0, _LATEST)
        self._slope = np.full(n, -_PER_RADIAN)
        self._log_knock = np.zeros(n)
        self._state = np.zeros((n, N_STATE))

    def __call__(self, points: OperatingPoints) -> tuple[OperatingPoints, CycleResult]:
        """The points with their sparks, and the cycles there."""
        cycle = self._run(points)
        for _ in range(_STEPS):
            before, was = self._spark, self._log_knock
            step = np.clip(-self._log_knock / self._slope, -0.2, 0.2)
            self._spark = np.clip(self._spark + step, self._best, _LATEST)
            moved = self._spark - before
            if np.all(np.abs(moved) < _SETTLED_SPARK):
                self._spark = before
                break
            cycle = self._run(points)
            with np.errstate(divide="ignore", invalid="ignore"):
                measured = (self._log_knock - was) / moved
            steep = (np.abs(moved) > math.radians(0.3)) & (measured < -0.8) & (measured > -8.0)
            self._slope = np.where(steep, measured, self._slope)
        return replace(points, spark=self._spark.copy()), cycle

    def _run(self, points: OperatingPoints) -> CycleResult:
        self._state[~np.isfinite(self._state).all(axis=1)] = 0.0
        cycle = self._solver.run(replace(points, spark=self._spark), self._state)
        log_knock = np.log(np.maximum(KnockModel.MIDDLE.integral(cycle), 1e-12))
        self._log_knock = np.where(np.isfinite(log_knock), log_knock, 0.0)
        return cycle


def _only(cycle: CycleResult, keep: NDArray[np.bool_]) -> CycleResult:
    """The cycles with NaN where a point did not settle, so that nobody uses its numbers."""
    blank: dict[str, Any] = {}
    for name, values in cycle._asdict().items():
        if np.issubdtype(np.asarray(values).dtype, np.floating):
            mask = keep if np.ndim(values) == 1 else keep[:, np.newaxis]
            blank[name] = np.where(mask, values, np.nan)
    return cycle._replace(**blank)


def _lines(
    build: Build, solver: CycleSolver, base: Baseline, line: MatchResult
) -> tuple[GoalLine, StrengthLine]:
    """The operating line and the hardest burn on it: MBT of this air, spark early by the worst timing
    error.
    """
    points = line.points
    mbt, at_mbt = best_spark(solver, points, base.mbt_spark)
    error = abs(build.number("controller.timing_error"))
    early = solver.run(replace(points, spark=mbt - error))
    strength = StrengthLine(line.speed, mbt - error, error, _only(early, line.settled))
    used = np.asarray(points.spark, dtype=float)
    knocks = KnockModel.MIDDLE.integral(at_mbt) > 1.0
    turbo, band = line.turbo, turbo_sizes.compressor_band()
    boost = np.asarray(points.plenum_pressure, dtype=float) - ambient_of(build).pressure
    held = line.status == MatchStatus.ON_TARGET

    def only(values: ArrayLike) -> Array:
        return np.where(line.settled, np.asarray(values, dtype=float), np.nan)

    goal = GoalLine(
        speed=line.speed,
        boost=only(boost),
        boost_sd=np.where(held, _HELD_SD, 2.0e3 + _SHUT_SD * np.abs(boost)),
        plenum_pressure=only(points.plenum_pressure),
        plenum_temperature=only(points.plenum_temperature),
        exhaust_pressure=only(points.exhaust_pressure),
        lam=np.asarray(points.lam, dtype=float) * np.ones_like(boost),
        mbt_spark=only(mbt),
        knock_spark=np.where(knocks, used, np.nan),
        used_spark=only(used),
        result=_only(line.cycle, line.settled),
        settled=line.settled,
        turbine_enough=held,
        flow_over_surge=only(turbo.compressor.surge_ratio),
        flow_over_choke=only(turbo.compressor.choke_ratio),
        surge_sd=band.surge,
        choke_sd=band.choke,
        tip_speed=only(turbo.compressor.tip_speed),
        tip_speed_sd=band.speed,
        shaft_speed=only(turbo.compressor.speed),
        pressure_ratio=only(turbo.compressor.pressure_ratio),
        compressor_outlet_temperature=only(turbo.compressor.outlet_temperature),
        turbine_inlet_temperature=only(line.cycle.exhaust_manifold_temperature),
    )
    return goal, strength
