"""Operating lines of one build on all its days: one match with every day, speed and branch side by side."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
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
    Housing,
    KnockLimited,
    MatchResult,
    MatchSettings,
    MatchStart,
    PulseLead,
    boost_deviation,
    match,
)
from boostwright.systems.pulses import Manifold
from boostwright.systems.turbo import NO_PULSES, Ambient, AmbientEach, Pulses, TurboParts, TurboPoint
from boostwright.systems.wastegate import Gate, GateLine, GateOpening

__all__ = ["CLOSE", "ROUGH", "Begin", "Closeness", "Day", "Lines", "Matcher", "Threshold"]

Array = NDArray[np.float64]

_PER_RADIAN: Final = 2.52  # usual fall of the logarithm of the knock integral for each radian of later spark
_OF_PRESSURE: Final = 1.4  # usual rise of that logarithm with the logarithm of the plenum pressure
_CREEP_ROOM: Final = 1.0e5  # above the boost asked for, within which the boost that creeps is looked for [Pa]
_HIGHEST: Final = 3.4e5  # plenum pressure that is looked at at most [Pa absolute]
_FREE: Final = 0.15  # share of the exhaust past the gate from which on boost hardly hangs on pulses [-]
_HELD: Final = 0.97  # of the boost asked for counts as held


@dataclass(frozen=True, slots=True)
class Day:
    """The air outside, and how readily the fuel of the day knocks."""

    ambient: Ambient
    knock_scale: float = 1.0  # on the knock integral, against the usual fuel [-]
    dry_share: float = 1.0  # dry air in a kilogram of it, over that of an ordinary day [-]


class Closeness(NamedTuple):
    """How closely lines are computed."""

    tolerance: float  # largest relative change of a settled point [-]
    still: float  # a point whose conditions moved by less keeps its pulse factors [-]
    between: int  # speeds tried between the two that enclose the threshold
    by_table: bool  # whether the compressor's table will do instead of its map


CLOSE: Final = Closeness(tolerance=1e-4, still=1e-4, between=4, by_table=False)
ROUGH: Final = Closeness(tolerance=2e-3, still=5e-3, between=2, by_table=True)
"""For one draw of many: pressures to a few parts in a thousand, far inside any spread."""


class Begin(NamedTuple):
    """Where the search for lines may begin: at those of a like build, at the same speeds on as many days."""

    start: MatchStart
    pulses: Pulses
    peak: Array | None = None  # greatest exhaust pressure within a cycle over the mean [-]
    free: NDArray[np.bool_] | None = None  # where so much passes the gate that boost hardly hangs on pulses


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
    gate_shut: MatchResult  # the same day, the gate stuck shut
    days: tuple[MatchResult, ...]  # the other days

    def begin(self) -> Begin | None:
        """Where lines of a like build may begin; None where a point of these did not settle."""
        every = (self.ordinary, self.coming_up, self.gate_shut, *self.days)
        if not all(line.settled.all() for line in every):
            return None
        points = [line.points for line in every]

        def column(of: Callable[[Any], Any], records: Sequence[Any]) -> Array:
            return np.concatenate([np.asarray(of(record), dtype=np.float64) for record in records])

        start = MatchStart(
            column(lambda p: p.plenum_pressure, points),
            column(lambda p: p.plenum_temperature, points),
            column(lambda p: p.exhaust_pressure, points),
            column(lambda p: p.spark, points),
        )
        pulses = [line.pulses for line in every]
        return Begin(
            start,
            Pulses(
                column(lambda p: p.flow, pulses),
                column(lambda p: p.power, pulses),
                column(lambda p: p.valve, pulses),
            ),
            column(lambda line: line.pulse_peak / line.points.exhaust_pressure, every),
            np.concatenate([_free(line) for line in every]),
        )


@dataclass(frozen=True, slots=True)
class _Case:
    """One line of a match."""

    day: Day
    branch: Branch = Branch.UPPER
    stuck: bool = False  # the gate stays shut


class Matcher:
    """Matches of one engine with one turbo, on any day and at any speeds."""

    def __init__(
        self,
        solver: CycleSolver,
        base: Baseline,
        turbo: TurboParts,
        gate: Gate,
        manifold: Manifold | None,
        *,
        boost: float,
        lam: float,
        closeness: Closeness = CLOSE,
    ) -> None:
        """solver, turbo, gate, manifold: records. base: the engine before the turbo, for sparks to begin
        with. boost: wanted [Pa above ambient]. lam: lambda under boost [-]. closeness: of all lines.
        """
        self._closeness = closeness
        self._solver, self._base, self._turbo, self._gate = solver, base, turbo, gate
        self._boost, self._lam, self._manifold = boost, lam, manifold

    def lines(
        self, speeds: Array, everyday: Day, others: tuple[Day, ...], begin: Begin | None = None
    ) -> Lines:
        """Lines over speeds (n,) on the ordinary day - from both sides, and with the gate stuck shut - and on
        the other days. begin: with the lines of a like build, where that is known."""
        cases = [
            _Case(everyday),
            _Case(everyday, Branch.LOWER),
            _Case(everyday, stuck=True),
            *(_Case(day) for day in others),
        ]
        n = speeds.size
        if begin is not None and begin.start.plenum.size != n * len(cases):
            begin = None
        whole = self._run(np.tile(speeds, len(cases)), n, cases, begin)
        parts = [_part(whole, slice(i * n, (i + 1) * n)) for i in range(len(cases))]
        return Lines(parts[0], parts[1], parts[2], tuple(parts[3:]))

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
        sides = ((lines.ordinary, Branch.UPPER), (lines.coming_up, Branch.LOWER))
        level = self._level(lines.ordinary, day)
        spans = [self._span(line, day, level) for line, _ in sides]
        if None in spans:
            return Threshold(math.nan, math.nan, math.nan)
        few = self._closeness.between
        between = [np.linspace(*span, few + 2)[1:-1] for span in spans if span is not None]
        cases = [_Case(day, branch) for _, branch in sides]
        speeds = np.concatenate(between)
        starts = [_start(line, at) for (line, _), at in zip(sides, between, strict=True)]
        start = MatchStart(*(np.concatenate(column) for column in zip(*starts, strict=True)))
        more = self._run(speeds, few, cases, Begin(start, NO_PULSES))
        found = []
        for k, (line, _) in enumerate(sides):
            part = _part(more, slice(k * few, (k + 1) * few))
            found.append(self._crossing(line, part, day, level))
        return Threshold(found[0], max(found), self._spread(lines, found[0], day, deviation))

    def _span(self, line: MatchResult, day: Day, level: float) -> tuple[float, float] | None:
        """Neighbouring speeds between which the boost gets to a level; None where it never does."""
        held = self._boost_of(line, day) >= level
        if not held.any():
            return None
        first = int(held.argmax())
        return float(line.speed[max(first - 1, 0)]), float(line.speed[first])

    def _crossing(self, line: MatchResult, more: MatchResult, day: Day, level: float) -> float:
        """Where the boost gets to a level, straight between the nearest speeds below and above."""
        speed = np.concatenate([line.speed, more.speed])
        order = np.argsort(speed)
        speed = speed[order]
        boost = np.concatenate([self._boost_of(line, day), self._boost_of(more, day)])[order]
        first = int((boost >= level).argmax())
        if first == 0:
            return float(speed[0])
        rise = boost[first] - boost[first - 1]
        share = (level - boost[first - 1]) / rise if math.isfinite(rise) else 1.0
        return float(speed[first - 1] + min(max(share, 0.0), 1.0) * (speed[first] - speed[first - 1]))

    def _spread(self, lines: Lines, at: float, day: Day, deviation: Array) -> float:
        """Standard deviation of the threshold from that of the boost below it [rad/s].

        By the slope of the line with the gate shut, for the ordinary one stops rising where the gate opens;
        NaN where nothing below the threshold was computed.
        """
        speed = lines.ordinary.speed
        i = int(np.searchsorted(speed, at)) - 1
        if i < 0 or i + 1 >= speed.size:
            return math.nan
        shut = self._boost_of(lines.gate_shut, day)
        if not np.isfinite(shut[i : i + 2]).all():
            return math.nan
        slope = (shut[i + 1] - shut[i]) / (speed[i + 1] - speed[i])
        return float(deviation[i] / slope) if slope > 0 else math.nan

    def _level(self, line: MatchResult, day: Day) -> float:
        """Boost that counts as held: the one asked for, or what the gate lets stand where the turbine could
        first drive it; NaN where it never can.
        """
        enough = line.settled & (line.gate_area_needed >= 0)
        if not enough.any():
            return math.nan
        return _HELD * min(self._boost, float(self._boost_of(line, day)[enough.argmax()]))

    def _boost_of(self, line: MatchResult, day: Day) -> Array:
        """Boost along a line [Pa]; below all where a point did not settle."""
        return np.where(
            line.settled, np.asarray(line.points.plenum_pressure) - day.ambient.pressure, -math.inf
        )

    def _ceiling(self, pressure: Array | float) -> Array:
        """Highest plenum pressure that is looked at where the gate moves [Pa]."""
        most = max(self._boost, self._gate.bench_crack)
        return np.asarray(np.minimum(_HIGHEST, pressure + most + _CREEP_ROOM))

    def _settings(self, pressure: Array | float) -> MatchSettings:
        return MatchSettings(
            lam=self._lam,
            gate=self._gate,
            manifold=self._manifold,
            housing=Housing(self._turbo.turbine.Dt),
            ceiling=self._ceiling(pressure),
            tolerance=self._closeness.tolerance,
            still=self._closeness.still,
            by_table=self._closeness.by_table,
        )

    def _run(self, speed: Array, each: int, cases: list[_Case], begin: Begin | None = None) -> MatchResult:
        def spread(values: list[Any]) -> NDArray[Any]:
            return np.repeat(np.array(values), each)

        air = AmbientEach(
            spread([c.day.ambient.pressure for c in cases]),
            spread([c.day.ambient.temperature for c in cases]),
        )
        stuck = spread([c.stuck for c in cases])
        usual = self._settings(air.pressure)
        settings = replace(
            usual,
            branch=spread([int(c.branch) for c in cases]),
            stuck=stuck,
            start=None if begin is None else begin.start,
            pulses=NO_PULSES if begin is None else begin.pulses,
            lead=_lead(begin, speed.size, each),
            ceiling=np.where(stuck, _HIGHEST, self._ceiling(air.pressure)),
        )
        scale = spread([c.day.knock_scale for c in cases])
        best, first = self._sparks(speed, air.pressure + self._boost, scale)
        return match(
            self._solver.engine,
            self._solver.fuel,
            self._turbo,
            air,
            self._boost,
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


def _free(line: MatchResult) -> NDArray[np.bool_]:
    """Points at which the gate passes a good part of the exhaust, so that it makes up for any pulse."""
    cycle = line.cycle
    share = line.turbo.gate_flow / (cycle.air_flow + cycle.fuel_flow)
    return np.asarray(line.settled & (np.nan_to_num(share) > _FREE))


def _lead(begin: Begin | None, n: int, each: int) -> PulseLead | None:
    """Points go along with the same speed of the first line where both are free, or neither is: what a draw
    changes of the pulses is then much the same on both."""
    if begin is None or begin.peak is None or begin.free is None:
        return None
    own = np.arange(n)
    of = own % each
    return PulseLead(np.where(begin.free == begin.free[of], of, own), begin.peak)


def _start(line: MatchResult, speeds: Array) -> MatchStart:
    """A guess at other speeds, straight between those of a line."""
    points = line.points
    columns = (
        points.plenum_pressure,
        points.plenum_temperature,
        points.exhaust_pressure,
        points.spark,
    )
    use = line.settled
    return MatchStart(*(np.interp(speeds, line.speed[use], np.asarray(c)[use]) for c in columns))


def _part(whole: MatchResult, pick: slice) -> MatchResult:
    """Some of the points of a result."""

    def cut(value: Any) -> Any:
        if isinstance(value, GateLine):
            return GateLine(*(np.asarray(a)[:, pick] for a in value))
        if isinstance(value, OperatingPoints):
            return OperatingPoints(*(a[pick] for a in value.arrays()))
        if isinstance(value, Pulses):
            return Pulses(*(np.asarray(a)[pick] for a in (value.flow, value.power, value.valve)))
        if isinstance(value, TurboPoint | CycleResult | GateOpening) or hasattr(value, "_fields"):
            return type(value)(*(cut(a) for a in value))
        return np.asarray(value)[pick]

    return MatchResult(*(cut(field) for field in whole))
