"""Operating lines of one build on all its days: one match with every day, speed and branch side by side."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.systems.engine.baseline import Baseline
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.spark import KnockModel
from boostwright.systems.engine.types import CycleResult, OperatingPoints
from boostwright.systems.match import (
    Branch,
    KnockLimited,
    MatchResult,
    MatchSettings,
    MatchStatus,
    boost_deviation,
    match,
)
from boostwright.systems.turbo import Ambient, AmbientEach, TurboParts, TurboPoint
from boostwright.systems.wastegate import Gate, GateLine, GateOpening

__all__ = ["Day", "Lines", "Matcher", "Threshold"]

Array = NDArray[np.float64]

_PER_RADIAN: Final = 2.52  # usual fall of the logarithm of the knock integral for each radian of later spark
_OF_PRESSURE: Final = 1.4  # usual rise of that logarithm with the logarithm of the plenum pressure
_CREEP_ROOM: Final = 1.0e5  # above the boost asked for, within which the boost that creeps is looked for [Pa]
_HIGHEST: Final = 3.4e5  # plenum pressure that is looked at at most [Pa absolute]
_HELD: Final = 0.97  # of the boost asked for counts as held
_BETWEEN: Final = (
    4  # speeds tried between two neighbours in each round about the threshold
)
_ROUNDS: Final = 2


@dataclass(frozen=True, slots=True)
class Day:
    """The air outside, and how readily the fuel of the day knocks."""

    ambient: Ambient
    knock_scale: float = 1.0  # on the knock integral, against the usual fuel [-]


class Threshold(NamedTuple):
    """The engine speed at which the boost asked for is first held [rad/s].

    Where the two branches differ there is a band in which the boost hangs on where the engine came from.
    """

    coming_down: float  # lowest speed at which it still stands, coming down from more speed
    coming_up: float  # lowest speed at which it comes by itself, coming up from no boost
    deviation: float  # standard deviation of either, from what is not known of the turbo


class Lines(NamedTuple):
    """Operating lines at one row of engine speeds."""

    ordinary: MatchResult  # coming down from full boost
    coming_up: MatchResult  # the same day, coming up from no boost
    days: tuple[MatchResult, ...]  # the other days


class Matcher:
    """Matches of one engine with one turbo, on any day and at any speeds."""

    def __init__(
        self,
        solver: CycleSolver,
        base: Baseline,
        turbo: TurboParts,
        gate: Gate | None,
        *,
        boost: float,
        lam: float,
    ) -> None:
        """solver, turbo, gate: records. base: the engine before the turbo, for sparks to begin with. boost:
        wanted [Pa above ambient]. lam: lambda under boost [-].
        """
        self._solver, self._base, self._turbo, self._gate = solver, base, turbo, gate
        self._boost, self._lam = boost, lam

    def lines(self, speeds: Array, everyday: Day, others: tuple[Day, ...]) -> Lines:
        """Lines over speeds (n,) on the ordinary day, from both sides, and on the other days."""
        days = (everyday, everyday, *others)
        branches = (Branch.UPPER, Branch.LOWER) + (Branch.UPPER,) * len(others)
        whole = self._run(np.tile(speeds, len(days)), speeds.size, days, branches)
        parts = [_part(whole, slice(i * speeds.size, (i + 1) * speeds.size)) for i in range(len(days))]
        return Lines(parts[0], parts[1], tuple(parts[2:]))

    def gate_shut(self, speeds: Array, day: Day) -> MatchResult:
        """The line with the gate held shut, up to the highest pressure that is looked at."""
        top = _HIGHEST - day.ambient.pressure
        return self._run(speeds, speeds.size, (day,), (Branch.UPPER,), boost=top, gated=False)

    def deviation(self, line: MatchResult, day: Day) -> Array:
        """Standard deviation of the boost on a line, from what is not known of the turbo [Pa]."""
        engine, fuel = self._solver.engine, self._solver.fuel
        return boost_deviation(
            line, engine, fuel, self._turbo, day.ambient, self._settings(day.ambient.pressure)
        )

    def threshold(self, lines: Lines, day: Day, deviation: Array) -> Threshold:
        """Where the boost asked for is first held, closed in on from the two lines of the ordinary day.

        NaN where it is held at no speed; the lowest speed computed where it is held there already.
        """
        found = []
        for line, branch in ((lines.ordinary, Branch.UPPER), (lines.coming_up, Branch.LOWER)):
            found.append(self._first_held(line, branch, day))
        boost = np.asarray(lines.ordinary.points.plenum_pressure) - day.ambient.pressure
        slope = np.gradient(boost, lines.ordinary.speed)
        at = int(np.argmin(np.abs(lines.ordinary.speed - found[0]))) if np.isfinite(found[0]) else 0
        at = max(at - 1, 0)
        steep = float(slope[at])
        spread = float(deviation[at]) / steep if steep > 0 and np.isfinite(deviation[at]) else math.nan
        return Threshold(found[0], max(found), spread)

    def _first_held(self, line: MatchResult, branch: Branch, day: Day) -> float:
        speed, held = line.speed, self._held(line, day)
        if not held.any():
            return math.nan
        for _ in range(_ROUNDS):
            first = int(held.argmax())
            if first == 0:
                return float(speed[0])
            between = np.linspace(speed[first - 1], speed[first], _BETWEEN + 2)
            more = self._run(between[1:-1], _BETWEEN, (day,), (branch,))
            speed, held = between, np.array([False, *self._held(more, day), True])
        return float(speed[int(held.argmax())])

    def _held(self, line: MatchResult, day: Day) -> NDArray[np.bool_]:
        """Whether the boost is what the gate makes of it, and not what the turbine can at most."""
        boost = np.asarray(line.points.plenum_pressure) - day.ambient.pressure
        gated = (line.status == MatchStatus.ON_TARGET) | (boost >= _HELD * self._boost)
        spring = line.status == MatchStatus.ON_SPRING
        return np.asarray(line.settled & (gated | spring | (line.status == MatchStatus.AT_STOP)))

    def _settings(self, pressure: Array | float) -> MatchSettings:
        most = self._boost if self._gate is None else max(self._boost, self._gate.bench_crack)
        return MatchSettings(
            lam=self._lam,
            gate=self._gate,
            ceiling=None if self._gate is None else np.minimum(_HIGHEST, pressure + most + _CREEP_ROOM),
        )

    def _run(
        self,
        speed: Array,
        each: int,
        days: tuple[Day, ...],
        branches: tuple[Branch, ...],
        *,
        boost: float | None = None,
        gated: bool = True,
    ) -> MatchResult:
        def spread(values: list[float]) -> Array:
            return np.repeat(np.array(values, dtype=np.float64), each)

        air = AmbientEach(
            spread([d.ambient.pressure for d in days]), spread([d.ambient.temperature for d in days])
        )
        wanted = self._boost if boost is None else boost
        settings = replace(
            self._settings(air.pressure) if gated else MatchSettings(lam=self._lam),
            branch=np.repeat(np.array([int(b) for b in branches]), each),
        )
        scale = spread([d.knock_scale for d in days])
        best, first = self._sparks(speed, air.pressure + wanted, scale)
        return match(
            self._solver.engine,
            self._solver.fuel,
            self._turbo,
            air,
            wanted,
            speed,
            self._solver.run,
            spark_for=KnockLimited(self._solver, best, scale, first=first),
            settings=settings,
        )

    def _sparks(self, speed: Array, plenum: Array, scale: Array) -> tuple[Array, Array]:
        """Best spark without boost, and a guess of the one that boost leaves room for [rad]."""
        base = self._base
        best = np.interp(speed, base.speeds, base.mbt_spark)
        knock = np.log(np.maximum(KnockModel.MIDDLE.integral(base.at_mbt), 1e-6))
        lift = np.log(plenum / np.asarray(base.points.plenum_pressure).mean())
        knock = np.interp(speed, base.speeds, knock) + _OF_PRESSURE * lift + np.log(scale)
        return best, best + np.maximum(knock, 0.0) / _PER_RADIAN


def _part(whole: MatchResult, pick: slice) -> MatchResult:
    """Some of the points of a result."""

    def cut(value: Any) -> Any:
        if isinstance(value, GateLine):
            return GateLine(*(np.asarray(a)[:, pick] for a in value))
        if isinstance(value, OperatingPoints):
            return OperatingPoints(*(a[pick] for a in value.arrays()))
        if isinstance(value, TurboPoint | CycleResult | GateOpening) or hasattr(value, "_fields"):
            return type(value)(*(cut(a) for a in value))
        return np.asarray(value)[pick]

    return MatchResult(*(cut(field) for field in whole))
