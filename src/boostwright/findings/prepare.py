"""From a build to a case: the engine before the turbo, the operating lines with it, and the hardest burn."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.errors import NotConverged, OutOfRange
from boostwright.findings.arrival_case import arrival_in
from boostwright.findings.blow_by_case import blow_by_along
from boostwright.findings.case import Case, CornerLine, GoalLine, StrengthLine
from boostwright.findings.form import MIDDLE, Form, carried
from boostwright.findings.limits import LimitEdit, shipped_limits
from boostwright.findings.lines import LineSpread, goal_line, only, retuned
from boostwright.library.gate_parts import gate_constant
from boostwright.physics.knock import OCTANE_EXPONENT
from boostwright.systems.corners import CLOSE, ROUGH, Begin, Day, Lines, Matcher
from boostwright.systems.engine.baseline import Baseline, baseline
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.idle import light_loads
from boostwright.systems.engine.spark import MBT_ROUNDS, best_spark
from boostwright.systems.engine.types import OperatingPoints
from boostwright.systems.match import MatchResult, MatchStatus
from boostwright.systems.stated.compressor import StatedCompressor, compressor_of
from boostwright.systems.stated.engine import engine_of, factors_of, fuel_of, losses_of
from boostwright.systems.stated.ignition import timing_error_of
from boostwright.systems.stated.place import Corner, ambient_of, corner_fuel, corners_of, humidity_of
from boostwright.systems.stated.pulses import manifold_of
from boostwright.systems.stated.turbine import turbine_of
from boostwright.systems.stated.turbo import parts_of
from boostwright.systems.stated.wastegate import gate_of
from boostwright.systems.wastegate import Gate, GateAnswers, gate_answers

__all__ = ["CONTROL_SD", "Prepared", "prepare", "usual_speeds"]

Array = NDArray[np.float64]
Progress = Callable[[str], None]

_RPM = math.pi / 30.0
_ROUGH_MBT_ROUNDS = 2  # of the search for the best spark in a draw; see `best_spark`
CONTROL_SD = 6.0e3  # of the boost that the gate holds under control [Pa] (judgement)


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
    build: Build,
    speeds: Array | None,
    edits: tuple[LimitEdit, ...] = (),
    progress: Progress = lambda _: None,
    form: Form = MIDDLE,
    begin: Begin | None = None,
    *,
    arrival: bool = True,
) -> Prepared:
    """Compute everything that findings read.

    build: the document. speeds: crank speeds (n,) [rad/s], None for the usual ones. edits: limits that a
    person changed. progress: told what begins. form: where the models lie in their spread. begin: where the
    match may begin. arrival: whether to follow how boost arrives; without, what is judged of it is left out.
    Raises OutOfRange when the engine itself is outside the
    models' ground.
    """
    watch = _Watch()
    progress("setting up the engine cycle")
    engine, fuel, ambient = engine_of(build), fuel_of(build), ambient_of(build)
    solver = CycleSolver(
        engine,
        fuel,
        factors=factors_of(build, form.heat_law),
        burn_law=form.burn_law,
        heat_law=form.heat_law,
        knock_law=form.knock_law,
    )
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
    warnings: tuple[str, ...] = ()
    case = Case(
        build=build,
        engine=engine,
        fuel=fuel,
        ambient_pressure=ambient.pressure,
        ambient_temperature=ambient.temperature,
        baseline=base,
        limits=shipped_limits().edited(edits),
        drawn=form.drawn,
    )
    try:
        case.extra["light_loads"] = light_loads(
            solver, ambient.pressure, ambient.temperature, build.number("engine.idle_speed")
        )
    except (NotConverged, OutOfRange) as mishap:
        warnings += (f"Idle is not judged: {mishap}",)
    watch.stage("engine before the turbo")
    boosted = _with_turbo(case, solver, watch, progress, form, begin, arrival)
    return replace(boosted, warnings=warnings + boosted.warnings)


def _with_turbo(
    case: Case,
    solver: CycleSolver,
    watch: _Watch,
    progress: Progress,
    form: Form,
    begin: Begin | None,
    arrival: bool,
) -> Prepared:
    build: Build = case.build
    base = case.baseline
    assert isinstance(base, Baseline)

    def without(why: str) -> Prepared:
        return Prepared(replace(case, no_goal=why), (), watch.seconds)

    refusal = _not_judged(build)
    if refusal:
        return without(refusal)
    progress("matching engine and turbo on every day")
    try:
        compressor = compressor_of(build)
        if compressor is None:
            return without("The file states no turbo; only the engine is judged.")
        gate, turbine, manifold = gate_of(build), turbine_of(build), manifold_of(build)
        compressor = form.of_compressor(compressor)
        parts = form.of_turbo(parts_of(build, compressor, turbine))
        matcher = Matcher(
            solver,
            base,
            parts,
            gate,
            manifold.manifold,
            boost=build.number("goal.boost") + form.control,
            lam=build.number("fuel.lambda_boost"),
            closeness=ROUGH if form.drawn else CLOSE,
        )
        corners = corners_of(build)
        days = tuple(_day(build, corner) for corner in corners)
        everyday = Day(ambient_of(build))
        lines = matcher.lines(base.speeds, everyday, days, begin)
    except (OutOfRange, NotConverged) as mishap:
        return without(f"No line with the turbo: {mishap}")
    line = lines.ordinary
    if not line.settled.any():
        return without(
            "The match of engine and turbo settled at no speed, so nothing can be said of the two together."
        )
    watch.stage("match")
    progress("computing the hardest burn")
    rounds = _ROUGH_MBT_ROUNDS if form.drawn else MBT_ROUNDS
    mbt, _ = best_spark(solver, line.points, base.mbt_spark, rounds)
    deviation = np.zeros(line.speed.shape) if form.drawn else matcher.deviation(line, everyday)
    needed_sd = carried(form.drawn, gate_constant("exhaust", "needed").value * parts.turbine_area)
    made = _Made(build, solver, gate, needed_sd, compressor, mbt, deviation, form)
    case.extra["turbo_parts"] = parts
    case.extra["begin"] = lines.begin()
    case.extra["gate"] = made.gate_answers(line, everyday)
    every = zip((line, *lines.days), (everyday, *days), strict=True)
    words = (case.corner, *(corner.name for corner in corners))
    case.extra["blow_by"] = blow_by_along(build, solver, base, dict(zip(words, every, strict=True)))
    case.extra["gate_corners"] = {
        corner.name: made.gate_answers(result, day)
        for corner, day, result in zip(corners, days, lines.days, strict=True)
    }
    case = replace(
        case,
        goal=made.goal(line, everyday, case.extra["gate"]),
        strength=made.strength(line),
        corners=made.corners(corners, days, lines, case.extra["gate_corners"]),
        gate_shut=made.goal(lines.gate_shut, everyday),
        threshold=matcher.threshold(lines, everyday, deviation),
    )
    watch.stage("hardest burn")
    notes: tuple[str, ...] = ()
    if arrival:
        progress("following boost from the opening of the throttle")
        try:
            case = replace(case, arrival=arrival_in(build, solver, base, parts, line.pulses, form))
        except (OutOfRange, NotConverged) as mishap:
            notes = (f"When boost arrives is not judged: {mishap}",)
        watch.stage("arrival")
    warnings = (
        *_taken_for_granted(build),
        *compressor.warnings,
        *compressor.ground_words(line.turbo.compressor, line.speed),
        *turbine.warnings,
        *manifold.warnings,
        *_unsettled(lines, corners),
        *notes,
    )
    return Prepared(case, warnings, watch.seconds)


def _day(build: Build, corner: Corner) -> Day:
    octane = corner_fuel(build, corner).ron / fuel_of(build).ron
    everyday = Corner("", ambient_of(build), humidity_of(build), poorest_fuel=False, why="")
    dry = corner.dry_mass_share / everyday.dry_mass_share
    return Day(corner.ambient, float(octane**-OCTANE_EXPONENT), dry)


@dataclass(frozen=True, slots=True)
class _Made:
    """What is made of the matches for the case."""

    build: Build
    solver: CycleSolver
    gate: Gate
    needed_sd: float  # of the area that must pass the gate [m2]
    compressor: StatedCompressor
    mbt: Array  # of the ordinary day's charge [rad]
    deviation: Array  # of the boost, from what is not known of the turbo [Pa]
    form: Form

    def gate_answers(self, line: MatchResult, day: Day) -> GateAnswers:
        """What is judged of the gate along one line."""
        return gate_answers(
            self.gate,
            line.gate_line,
            day.ambient.pressure,
            line.goal_pressure,
            needed_sd=self.needed_sd,
        )

    def goal(self, line: MatchResult, day: Day, answers: GateAnswers | None = None) -> GoalLine:
        """The line that findings read. answers: of the gate along it, if they are at hand."""
        held = line.status == MatchStatus.ON_TARGET
        spring = (answers or self.gate_answers(line, day)).boost_spring_only_sd
        floats = (line.status == MatchStatus.ON_SPRING) | (line.status == MatchStatus.AT_STOP)
        short = np.where(floats, np.nan_to_num(spring), np.nan_to_num(self.deviation))
        least = carried(self.form.drawn, CONTROL_SD)
        sd = np.where(held, least, short)
        spread = LineSpread(np.maximum(sd, least), self.compressor.band)
        scaled = line._replace(cycle=retuned(line.cycle, day.knock_scale, day.dry_share))
        return goal_line(scaled, self.mbt, day.ambient.pressure, spread)

    def strength(self, line: MatchResult) -> StrengthLine:
        """The hardest burn of a line: MBT of this air, spark early by the worst timing error."""
        error = timing_error_of(self.build).early
        early: OperatingPoints = replace(line.points, spark=self.mbt - error)
        return StrengthLine(line.speed, self.mbt - error, error, only(self.solver.run(early), line.settled))

    def corners(
        self,
        corners: tuple[Corner, ...],
        days: tuple[Day, ...],
        lines: Lines,
        answers: Mapping[str, GateAnswers],
    ) -> tuple[CornerLine, ...]:
        """The lines of the worst days; the hardest burn on the one with the densest charge."""
        charges = [_densest(line) for line in lines.days]
        hardest = int(np.argmax(charges)) if charges else -1
        return tuple(
            CornerLine(
                name=corner.name,
                words=corner.why,
                ambient_pressure=day.ambient.pressure,
                ambient_temperature=day.ambient.temperature,
                poorest_fuel=corner.poorest_fuel,
                goal=self.goal(line, day, answers[corner.name]),
                strength=self.strength(line) if i == hardest else None,
            )
            for i, (corner, day, line) in enumerate(zip(corners, days, lines.days, strict=True))
        )


def _densest(line: MatchResult) -> float:
    """Greatest charge density along a line, up to the gas constant; below zero where nothing settled."""
    density = np.asarray(line.points.plenum_pressure) / np.asarray(line.points.plenum_temperature)
    return float(np.max(np.where(line.settled, density, -1.0)))


def _not_judged(build: Build) -> str:
    """Why the turbo side of this build is not judged, in a sentence; '' when it is."""
    if build.count("turbo.count") != 1:
        return "The file states more than one turbo; only a single one is judged. The engine itself is."
    if build.words("turbo.entries") == "twin" and build.count("engine.cylinders") % 2:
        return "A housing with two entries on an odd number of cylinders is not judged."
    return ""


def _taken_for_granted(build: Build) -> tuple[str, ...]:
    if build.words("turbo.entries") == "twin":
        return (
            "The gain of a housing with two entries is known to 40 % only: boost may come later than said.",
        )
    if any(path.startswith("turbo.") for path in build):
        return ()
    return ("The file states no turbo; one of usual size for this bore stands in. Measure its wheels.",)


def _unsettled(lines: Lines, corners: tuple[Corner, ...]) -> tuple[str, ...]:
    notes = []
    named = [("", lines.ordinary), *((f" ({c.name})", r) for c, r in zip(corners, lines.days, strict=True))]
    for words, line in named:
        bad = line.speed[~line.settled] / _RPM
        if bad.size:
            listed = ", ".join(f"{v:.0f}" for v in bad)
            notes.append(
                f"The match did not settle at {listed} rpm{words}; these speeds are left out of every "
                "finding."
            )
    return tuple(notes)
