"""Engine and turbo brought together: at each engine speed, the point in which both agree.

The cycle gives flow and exhaust temperature at a plenum and an exhaust state; the turbo gives those states at
a flow and a temperature. With the gate shut the loop boost -> flow -> exhaust power -> boost has a gain near
one, so plain substitution crawls or picks a branch by chance. Here every round asks the cycle once (all
speeds in one call), takes a mean-value breathing line through its answer, and solves the turbo side along
that line exactly, from the side of the chosen branch. What is left for the rounds is the small error of that
line, which Anderson's method removes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange
from boostwright.physics.compressor import CompressorPoint
from boostwright.physics.gas import cp_burned_frozen, mixture
from boostwright.physics.turbine import ExhaustGas
from boostwright.systems.engine.types import CycleResult, EngineGeometry, Fuel, OperatingPoints
from boostwright.systems.turbo import (
    NO_PULSES,
    Ambient,
    Pulses,
    TurboParts,
    TurboPoint,
    TurboStatus,
    turbo_point,
    unboosted_plenum_pressure,
)

__all__ = [
    "STATUS_WORDS",
    "Branch",
    "CycleRunner",
    "MatchResult",
    "MatchSettings",
    "MatchStatus",
    "SparkFinder",
    "boost_deviation",
    "exhaust_gas",
    "match",
]

Array = NDArray[np.float64]
CycleRunner = Callable[[OperatingPoints], CycleResult]
SparkFinder = Callable[[OperatingPoints], tuple[OperatingPoints, CycleResult]]

_SCAN: Final = 20  # plenum pressures scanned for the end of boost
_ZOOMS: Final = 2  # narrower scans after it
_ZOOM: Final = 5  # plenum pressures in each
_LINE_ROUNDS: Final = 2  # plenum temperature and exhaust pressure brought in line with the flow
_FIRST_RISE: Final = 1.005  # lowest compressor pressure ratio that is asked for
_DEPTH: Final = 2  # of Anderson's method
_LONGEST_STEP: Final = 0.3  # in the logarithm of a pressure or temperature
_RESIDUAL_EXPONENT: Final = 1 / 1.3  # of the burned gas left in the clearance volume


class MatchStatus(IntEnum):
    """How a point of the operating line ended."""

    ON_TARGET = 0
    GATE_SHUT = 1
    NO_BOOST = 2
    COMPRESSOR_LIMIT = 3
    UNSETTLED = 4
    CYCLE_FAILED = 5


STATUS_WORDS: Final[dict[MatchStatus, str]] = {
    MatchStatus.ON_TARGET: "holds the boost asked for, the gate is open",
    MatchStatus.GATE_SHUT: "below the boost asked for: the gate is shut and the turbine gives no more",
    MatchStatus.NO_BOOST: "no boost: the turbine does not bring the compressor to any pressure",
    MatchStatus.COMPRESSOR_LIMIT: "below the boost asked for: the compressor map ends before it",
    MatchStatus.UNSETTLED: "the point did not settle: do not use its numbers",
    MatchStatus.CYCLE_FAILED: "the engine cycle did not converge here: do not use its numbers",
}


class Branch(IntEnum):
    """Which solution is wanted where there are two, at the onset of boost."""

    UPPER = 0  # coming down from full boost
    LOWER = 1  # coming up from no boost


@dataclass(frozen=True, slots=True)
class MatchSettings:
    """What is set at the engine, and how closely the match is to settle."""

    lam: Array | float = 0.85  # lambda, one for each speed or one for all [-]
    spark: Array | float = -0.35  # used only where no spark finder is given [rad]
    pulses: Pulses = NO_PULSES
    branch: Branch = Branch.UPPER
    tolerance: float = 1e-4  # largest relative change in the last round [-]
    max_rounds: int = 40


class MatchResult(NamedTuple):
    """The operating line; arrays have shape (n,), one entry for each engine speed."""

    speed: Array  # crank [rad/s]
    goal_pressure: Array  # plenum [Pa absolute]
    points: OperatingPoints  # at which the cycle was computed, spark included
    cycle: CycleResult
    turbo: TurboPoint
    status: NDArray[np.int64]  # MatchStatus
    change: Array  # largest relative change of plenum and exhaust state in the last round [-]
    rounds: NDArray[np.int64]  # until the point settled

    @property
    def settled(self) -> NDArray[np.bool_]:
        """Where the numbers may be used."""
        return self.status < MatchStatus.UNSETTLED

    def boost(self, ambient: Ambient) -> Array:
        """Plenum pressure above ambient [Pa]."""
        return np.asarray(self.points.plenum_pressure - ambient.pressure)


class _State(NamedTuple):
    """The unknowns, shape (n,): plenum pressure [Pa] and temperature [K], exhaust pressure [Pa]."""

    plenum: Array
    temperature: Array
    exhaust: Array


class _Engine(NamedTuple):
    """A mean-value breathing line through one answer of the cycle; exact at `state`."""

    state: _State
    air: Array
    fuel: Array
    exhaust_temperature: Array
    gas: ExhaustGas
    pulses: Pulses
    compression_ratio: float

    def air_flow(self, at: _State) -> Array:
        """Air flow [kg/s]: density of the plenum, displacement less what the residual gas takes, warmer
        charge.

        m ~ p/sqrt(T) (r - (p3/p)^(1/1.3)), r the compression ratio (heywood1988, section 6.2, from memory).
        """
        here, r = self.state, self.compression_ratio
        room = r - (at.exhaust / at.plenum) ** _RESIDUAL_EXPONENT
        room_here = r - (here.exhaust / here.plenum) ** _RESIDUAL_EXPONENT
        flow = self.air * at.plenum / here.plenum * np.sqrt(here.temperature / at.temperature)
        return np.asarray(flow * np.maximum(room, 0.2 * room_here) / room_here)

    def pick(self, where: NDArray[np.bool_]) -> _Engine:
        """The line of some of the speeds only."""
        n = where.shape
        return _Engine(
            state=_State(*(column[where] for column in self.state)),
            air=self.air[where],
            fuel=self.fuel[where],
            exhaust_temperature=self.exhaust_temperature[where],
            gas=ExhaustGas(*(np.broadcast_to(np.asarray(column), n)[where] for column in self.gas)),
            pulses=Pulses(
                np.broadcast_to(np.asarray(self.pulses.flow, dtype=np.float64), n)[where],
                np.broadcast_to(np.asarray(self.pulses.power, dtype=np.float64), n)[where],
            ),
            compression_ratio=self.compression_ratio,
        )


class _Line(NamedTuple):
    """Turbo points along the breathing line."""

    point: TurboPoint
    surplus: Array  # negative also where the compressor map ends [W]


class _Answer(NamedTuple):
    """One round's answer of the turbo side."""

    state: _State
    point: TurboPoint
    limit: NDArray[np.int64]  # MatchStatus


def exhaust_gas(fuel: Fuel, lam: ArrayLike, temperature: ArrayLike, span: float = 200.0) -> ExhaustGas:
    """Frozen burned gas of the fuel at each lambda, straight in temperature between T - span and T.

    fuel: record. lam: lambda, shape (n,) [-]. temperature: turbine inlet, shape (n,) [K]. span: [K]. Raises
    OutOfRange outside the gas tables.
    """
    lam, T = np.broadcast_arrays(np.asarray(lam, dtype=np.float64), np.asarray(temperature, dtype=np.float64))
    R, hot, cold = np.empty(T.shape), np.empty(T.shape), np.empty(T.shape)
    for place in np.ndindex(T.shape):
        mix = mixture(float(lam[place]), fuel.ethanol_share, fuel.petrol_heating_value)
        R[place] = mix.R_b
        cold[place], hot[place] = cp_burned_frozen(mix, np.array([T[place] - span, T[place]]))
    return ExhaustGas(R, hot, (hot - cold) / span, np.array(T))


def match(
    engine: EngineGeometry,
    fuel: Fuel,
    turbo: TurboParts,
    ambient: Ambient,
    goal_boost: ArrayLike,
    speeds: ArrayLike,
    cycle_runner: CycleRunner,
    *,
    spark_for: SparkFinder | None = None,
    settings: MatchSettings | None = None,
) -> MatchResult:
    """Operating line of engine and turbo at full load.

    At each speed the gate holds the boost asked for where the turbine can make it; below that the gate is
    shut and the boost is what turbine and compressor agree on.

    engine, fuel, turbo, ambient: records. goal_boost: wanted in the plenum above ambient, one for all speeds
    or one each [Pa]. speeds: crank, shape (n,), any order, three or more or fewer [rad/s]. cycle_runner: runs
    the cycle at operating points; called once a round with all speeds. spark_for: finds the spark as well and
    replaces cycle_runner where given. settings: mixture, spark, pulses, branch, tolerance.

    Returns the line with a status for each point; a point that did not settle says so and is not hidden.
    Points at which the cycle gave no finite flow carry NaN. Raises OutOfRange for a speed or a goal that is
    not a positive number. Error: see the spreads of the parts; at the onset of boost the pressure reacts 3-6
    times as strongly as any efficiency in it.
    """
    settings = settings or MatchSettings()
    speed = np.atleast_1d(np.asarray(speeds, dtype=np.float64))
    goal = ambient.pressure + np.broadcast_to(np.asarray(goal_boost, dtype=np.float64), speed.shape)
    if not np.all(np.isfinite(speed) & (speed > 0)) or not np.all(
        np.isfinite(goal) & (goal > ambient.pressure)
    ):
        raise OutOfRange("A match needs engine speeds above zero and a boost above zero at each of them.")
    lam = np.broadcast_to(np.asarray(settings.lam, dtype=np.float64), speed.shape)
    spark = np.array(np.broadcast_to(np.asarray(settings.spark, dtype=np.float64), speed.shape))

    state = _first_guess(engine, turbo, ambient, goal, speed, settings.branch)
    history: list[tuple[Array, Array]] = []
    rounds = np.full(speed.shape, settings.max_rounds, dtype=np.int64)
    for turn in range(settings.max_rounds):
        points = OperatingPoints(speed, state.plenum, state.temperature, state.exhaust, lam, spark)
        if spark_for is None:
            cycle = cycle_runner(points)
        else:
            points, cycle = spark_for(points)
            spark = np.array(np.broadcast_to(np.asarray(points.spark, dtype=np.float64), speed.shape))
        line, usable = _breathing_line(engine, fuel, cycle, state, lam, settings.pulses)
        answer = _turbo_side(turbo, ambient, line, goal, settings.branch)
        change = np.max(np.abs(_logs(answer.state) - _logs(state)), axis=0)
        done = (change <= settings.tolerance) | ~usable
        rounds = np.where(done, np.minimum(rounds, turn + 1), settings.max_rounds)
        if done.all():
            break
        state = _next_state(state, answer.state, history)

    status = np.where(done, answer.limit, int(MatchStatus.UNSETTLED))
    status = np.where((np.asarray(cycle.status) != 0) | ~usable, int(MatchStatus.CYCLE_FAILED), status)
    return MatchResult(
        speed=speed,
        goal_pressure=np.array(goal),
        points=points,
        cycle=cycle,
        turbo=_blanked(answer.point, ~usable),
        status=status.astype(np.int64),
        change=change,
        rounds=rounds,
    )


def boost_deviation(
    result: MatchResult,
    engine: EngineGeometry,
    fuel: Fuel,
    turbo: TurboParts,
    ambient: Ambient,
    settings: MatchSettings | None = None,
) -> Array:
    """Standard deviation of the boost reached, towards less, from what is not known of the turbo [Pa].

    Each uncertain factor of the turbo is moved by one standard deviation to its bad side, alone, and the
    turbo side is solved again along the breathing line of the settled cycles; the drops are added in squares.
    Zero where the gate still holds the boost asked for whatever is moved. The engine's own spread is not in
    it, and exhaust temperature and spark stay as they are, so near the onset of boost it is a little too
    small.

    result: of `match` with the same engine, fuel, turbo, ambient and settings. Returns shape (n,); NaN where
    the point may not be used.
    """
    settings = settings or MatchSettings()
    points, goal = result.points, result.goal_pressure
    state = _State(
        *(
            np.broadcast_to(np.asarray(column, dtype=np.float64), goal.shape)
            for column in (points.plenum_pressure, points.plenum_temperature, points.exhaust_pressure)
        )
    )
    lam = np.broadcast_to(np.asarray(points.lam, dtype=np.float64), goal.shape)
    line, usable = _breathing_line(engine, fuel, result.cycle, state, lam, settings.pulses)
    middle = _turbo_side(turbo, ambient, line, goal, settings.branch).state.plenum
    drops = [
        np.maximum(0.0, middle - _turbo_side(worse, ambient, line, goal, settings.branch).state.plenum)
        for worse in turbo.one_deviation_worse()
    ]
    total = np.sqrt(np.sum(np.square(drops), axis=0))
    return np.where(usable & result.settled, total, np.nan)


def _first_guess(
    engine: EngineGeometry, turbo: TurboParts, ambient: Ambient, goal: Array, speed: Array, branch: Branch
) -> _State:
    """Start at the goal for the upper branch, at no boost for the lower one."""
    density = ambient.pressure / (287.0 * ambient.temperature)
    flow = 0.9 * density * engine.displacement * speed / (4 * np.pi)
    plenum = goal if branch is Branch.UPPER else _FIRST_RISE * unboosted_plenum_pressure(turbo, ambient, flow)
    temperature = ambient.temperature * (1 + 0.12 * (plenum / ambient.pressure - 1))
    exhaust = ambient.pressure * (1.05 + 0.9 * np.maximum(plenum / ambient.pressure - 1, 0))
    return _State(np.array(plenum), np.asarray(temperature), np.asarray(exhaust))


def _breathing_line(
    engine: EngineGeometry, fuel: Fuel, cycle: CycleResult, state: _State, lam: Array, pulses: Pulses
) -> tuple[_Engine, NDArray[np.bool_]]:
    """The line through the cycle's answer, and where that answer was usable.

    An unusable answer is replaced by a mean-value guess so that the other speeds go on; the caller blanks its
    point.
    """
    air, fuel_flow = np.asarray(cycle.air_flow), np.asarray(cycle.fuel_flow)
    T3 = np.asarray(cycle.exhaust_manifold_temperature)
    usable = (
        np.isfinite(air) & np.isfinite(fuel_flow) & np.isfinite(T3) & (air > 0) & (fuel_flow > 0) & (T3 > 300)
    )
    air = np.where(usable, air, 0.1)
    fuel_flow = np.where(usable, fuel_flow, 0.008)
    T3 = np.where(usable, T3, 1150.0)
    gas = exhaust_gas(fuel, lam, T3)
    return _Engine(state, air, fuel_flow, T3, gas, pulses, engine.compression_ratio), usable


def _turbo_side(turbo: TurboParts, ambient: Ambient, line: _Engine, goal: Array, branch: Branch) -> _Answer:
    """Where the turbo settles along the breathing line: at the goal, or where its surplus of power ends."""
    floor = _FIRST_RISE * unboosted_plenum_pressure(
        turbo, ambient, line.air * ambient.pressure / line.state.plenum
    )
    floor = np.minimum(floor, 0.999 * goal)
    plenum, limit = np.array(goal), np.full(goal.shape, int(MatchStatus.ON_TARGET))
    at_goal = _along(turbo, ambient, line, goal[None, :])
    sought = at_goal.surplus[0] < 0 if branch is Branch.UPPER else np.ones(goal.shape, dtype=bool)
    if sought.any():
        plenum[sought], limit[sought] = _end_of_boost(
            turbo, ambient, line.pick(sought), floor[sought], goal[sought], branch
        )
    at_end = _along(turbo, ambient, line, plenum[None, :]).point
    point = _each_array(at_end, lambda a: a[0])
    return _Answer(_State(plenum, point.plenum_temperature, point.exhaust_pressure), point, limit)


def _along(turbo: TurboParts, ambient: Ambient, line: _Engine, plenum: Array) -> _Line:
    """Turbo points at plenum pressures of shape (k, n) on the breathing line."""
    here = line.state
    lift = plenum / here.plenum
    temperature = np.broadcast_to(here.temperature, plenum.shape)
    exhaust = ambient.pressure + (here.exhaust - ambient.pressure) * lift**2
    exhaust = np.maximum(exhaust, 0.5 * ambient.pressure)
    richness = line.fuel / line.air
    for _ in range(_LINE_ROUNDS):
        air = line.air_flow(_State(plenum, temperature, exhaust))
        point = turbo_point(
            turbo, ambient, air, richness * air, plenum, line.exhaust_temperature, line.gas, line.pulses
        )
        temperature, exhaust = point.plenum_temperature, point.exhaust_pressure
    # Where the map ends short of the pressure, the shortfall counts as missing power.
    reached = point.compressor.pressure_ratio * point.inlet_pressure / point.outlet_pressure - 1
    missing = 10 * np.minimum(reached, 0.0) * (point.compressor.power + point.bearing_loss)
    surplus = np.where(
        point.status == TurboStatus.COMPRESSOR_SHORT, np.minimum(point.surplus, missing), point.surplus
    )
    return _Line(point, surplus)


def _end_of_boost(
    turbo: TurboParts, ambient: Ambient, line: _Engine, floor: Array, goal: Array, branch: Branch
) -> tuple[Array, NDArray[np.int64]]:
    """Plenum pressure at which the surplus of turbine power turns negative, and what stops it there.

    The surplus may cross zero more than once; only a crossing from surplus to want is a place where the shaft
    stands. The upper branch takes the highest of them, the lower branch the lowest; the goal itself counts as
    one if there is surplus left.
    """
    columns = np.arange(goal.size)
    low, high = floor, goal
    for turn in range(1 + _ZOOMS):
        k = _SCAN if turn == 0 else _ZOOM
        pressures = low + (high - low) * np.linspace(0, 1, k)[:, None]
        scan = _along(turbo, ambient, line, pressures)
        enough = scan.surplus >= 0
        ends = enough[:-1] & ~enough[1:]
        if turn == 0:
            found = ends.any(axis=0)
            holds = enough[-1] if branch is Branch.UPPER else enough[-1] & ~found
            if branch is Branch.UPPER:
                found = found & ~holds
        first = ends.argmax(axis=0) if branch is Branch.LOWER else k - 2 - ends[::-1].argmax(axis=0)
        first = np.where(ends.any(axis=0), first, 0)
        low, high = pressures[first, columns], pressures[first + 1, columns]
    s_low, s_high = scan.surplus[first, columns], scan.surplus[first + 1, columns]
    share = np.where(s_low > s_high, s_low / np.where(s_low > s_high, s_low - s_high, 1.0), 0.0)
    root = low + (high - low) * np.clip(share, 0.0, 1.0)
    plenum = np.where(holds, goal, np.where(found, root, floor))
    stopped_by_map = scan.point.status[first + 1, columns] == TurboStatus.COMPRESSOR_SHORT
    turbine_left = scan.point.surplus[first + 1, columns] > 0
    short = np.where(
        stopped_by_map & turbine_left, int(MatchStatus.COMPRESSOR_LIMIT), int(MatchStatus.GATE_SHUT)
    )
    limit = np.where(holds, int(MatchStatus.ON_TARGET), np.where(found, short, int(MatchStatus.NO_BOOST)))
    return plenum, limit.astype(np.int64)


def _logs(state: _State) -> Array:
    """The unknowns as logarithms, shape (3, n)."""
    return np.log(np.stack(state))


def _next_state(state: _State, answer: _State, history: list[tuple[Array, Array]]) -> _State:
    """Anderson's method on the logarithms, each speed on its own, with a guard on the step.

    x+ = g - sum_j a_j dg_j, with a minimising |f - sum_j a_j df_j|, f = g - x (walker2011, from memory). A
    speed whose last step made things worse goes on by plain substitution: just past the end of a branch there
    is a place that looks like a solution and is none, and extrapolation would stay there.
    """
    x, g = _logs(state), _logs(answer)
    history.append((x, g))
    del history[: -(_DEPTH + 1)]
    new = np.array(g)
    if len(history) > 1:
        xs, gs = (np.stack(column) for column in zip(*history, strict=True))
        df, dg = np.diff(gs - xs, axis=0), np.diff(gs, axis=0)
        size = np.max(np.abs(gs - xs), axis=1)
        for i in np.flatnonzero(size[-1] < size[-2]):
            weights = np.linalg.lstsq(df[:, :, i].T, (g - x)[:, i], rcond=1e-6)[0]
            if np.sum(np.abs(weights)) < 3:
                new[:, i] = g[:, i] - dg[:, :, i].T @ weights
    step = np.clip(new - x, -_LONGEST_STEP, _LONGEST_STEP)
    return _State(*np.exp(x + step))


def _each_array(point: TurboPoint, change: Callable[[Any], Any]) -> TurboPoint:
    """The point with every array changed, those of the compressor too."""
    columns = {name: change(value) for name, value in point._asdict().items() if name != "compressor"}
    return TurboPoint(compressor=CompressorPoint(*(change(value) for value in point.compressor)), **columns)


def _blanked(point: TurboPoint, where: NDArray[np.bool_]) -> TurboPoint:
    """The point with NaN at the entries that stand on a replaced cycle answer; statuses are kept."""
    if not where.any():
        return point
    return _each_array(point, lambda a: a if a.dtype.kind == "i" else np.where(where, np.nan, a))
