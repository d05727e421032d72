"""Engine and turbo brought together: at each engine speed, the point in which both agree.

The cycle gives flow and exhaust temperature at a plenum and an exhaust state; the turbo gives those states at
a flow and a temperature. With the gate shut the loop boost -> flow -> exhaust power -> boost has a gain near
one, so plain substitution crawls or picks a branch by chance. Here every round asks the cycle once (all
points in one call), takes a mean-value breathing line through its answer, and solves the turbo side along
that line exactly, from the side of the chosen branch. What is left for the rounds is the small error of that
line, which Anderson's method removes. The cycle need not have come to rest in a round: a spark finder may run
one cycle a round and let spark, charge and boost settle together.
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange
from boostwright.physics.blow_down import burned_gas
from boostwright.systems.engine.types import CycleResult, EngineGeometry, Fuel, OperatingPoints
from boostwright.systems.match.breathing import BreathingLine, PlenumState, breathing_line
from boostwright.systems.match.knock_limited import LATEST_SPARK
from boostwright.systems.match.turbo_side import Sought, TurboAnswer, TurboSide, each_array, first_guess
from boostwright.systems.match.types import (
    Branch,
    CycleRunner,
    MatchResult,
    MatchSettings,
    MatchStatus,
    SparkFinder,
)
from boostwright.systems.pulses import ExhaustFeed, PulseFollower
from boostwright.systems.turbo import NO_PULSES, OutsideAir, Pulses, TurboParts, TurboPoint
from boostwright.systems.wastegate import GateLine

__all__ = ["match", "sought_of"]

Array = NDArray[np.float64]

_DEPTH: Final = 3  # of Anderson's method
_BOLDEST: Final = 3.0  # sum of its weights: beyond it what is hidden in the cycle misleads more than it helps
_LONGEST_STEP: Final = 0.3  # in the logarithm of a pressure or temperature
_HOPELESS: Final = 0.05  # change of a point that the last passes leave as unsettled
_LAST_PASSES: Final = 15  # rounds kept for the compressor's map itself, whatever has not settled before
_QUICK_SHARE: Final = 0.6  # of the tolerance, in the rounds before the last pass
_INTERVALS: Final = 4  # firing intervals that the pulses are followed in a round
_OPEN: Final = 0.03  # share of the gas past the gate
_STILL_OPEN: Final = 2e-3  # a point with the gate open whose conditions moved by less keeps its pulse factors
_PATIENT_AFTER: Final = 6  # rounds
_WIDEST: Final = 5  # times the tolerance that a point may still move after long patience; its change says so
_CLOSENESS: Final = 0.02  # of the last round's change: closer the turbo side need not be solved
_SPARK_SCALE: Final = 0.2  # makes 0.03 degrees of spark count as much as 1e-4 of a pressure [1/rad]
_LEFT_OF_CHANGE: Final = 0.43  # of a cycle's last change, where each change is 0.3 of the one before
_CYCLE_BROKE: Final = 2  # status of a cycle that gave no answer
# ground of the cycle: plenum pressure [Pa] and temperature [K], exhaust pressure [Pa], spark [rad]
_LEAST: Final = np.array([*np.log([21e3, 224.0, 51e3]), -1.0 * _SPARK_SCALE])[:, None]
_MOST: Final = np.array([*np.log([395e3, 420.0, 590e3]), LATEST_SPARK * _SPARK_SCALE])[:, None]


def match(
    engine: EngineGeometry,
    fuel: Fuel,
    turbo: TurboParts,
    ambient: OutsideAir,
    goal_boost: ArrayLike,
    speeds: ArrayLike,
    cycle_runner: CycleRunner,
    *,
    spark_for: SparkFinder | None = None,
    settings: MatchSettings | None = None,
) -> MatchResult:
    """Operating line of engine and turbo at full load.

    At each speed the gate holds the boost asked for where the turbine can make it; below that the gate is
    shut and the boost is what turbine and compressor agree on. With a gate stated in the settings, spring and
    exhaust force say what it holds.

    engine, fuel, turbo: records. ambient: one for all points or one for each. goal_boost: wanted in the
    plenum above ambient, one for all points or one each [Pa]. speeds: crank, shape (n,), any order, the same
    speed more than once or not [rad/s]. cycle_runner: runs the cycle at operating points; called once a round
    with all points that have not settled. spark_for: seeks the spark as well and replaces cycle_runner where
    given. settings: mixture, spark, gate, pulses, branch, tolerance.

    Returns the line with a status for each point; a point that did not settle says so and is not hidden.
    Points at which the cycle gave no finite flow carry NaN. Raises OutOfRange for a speed or a goal that is
    not a positive number. Error: see the spreads of the parts; at the onset of boost the pressure reacts 3-6
    times as strongly as any efficiency in it.
    """
    settings = settings or MatchSettings()
    speed = np.atleast_1d(np.asarray(speeds, dtype=np.float64))
    sought = sought_of(settings, ambient, goal_boost, speed)
    lam = np.broadcast_to(np.asarray(settings.lam, dtype=np.float64), speed.shape)
    spark = np.array(np.broadcast_to(np.asarray(settings.spark, dtype=np.float64), speed.shape))
    if spark_for is not None:
        spark = np.array(spark_for.first)
    start = first_guess(turbo, ambient, engine.displacement, speed, sought)
    if settings.start is not None:
        start, spark = PlenumState(*settings.start[:3]), settings.start.spark
    side = TurboSide(turbo, ambient, settings.gate, sought)
    search = _Search(engine, fuel, speed, lam, settings, turbo, side)
    first = np.clip(np.stack([*np.log(start), _SPARK_SCALE * spark]), _LEAST, _MOST)
    return search.run(first, cycle_runner, spark_for)


class _Asked(NamedTuple):
    """One round: what was asked and what came back, for some of the points."""

    points: OperatingPoints
    cycle: CycleResult
    line: BreathingLine
    answer: TurboAnswer
    usable: NDArray[np.bool_]
    there: Array  # the unknowns that the answer would rather have, (4, m)
    change: Array  # (m,)


class _Pulses:
    """Pulse factors that go along with the rounds; those of the settings where no manifold is given.

    They are asked of the turbo side's answer of the round before; in the first round there is none.
    """

    def __init__(
        self, engine: EngineGeometry, fuel: Fuel, lam: Array, settings: MatchSettings, turbo: TurboParts
    ) -> None:
        n = lam.size
        given = (settings.pulses.flow, settings.pulses.power, settings.pulses.valve)
        self._now = [np.array(np.broadcast_to(np.asarray(f, dtype=np.float64), (n,))) for f in given]
        self._first = np.stack(self._now)
        self._lead = settings.lead
        self._peak: Array | None = None if settings.lead is None else np.array(settings.lead.peak)
        self._behind = np.full((3, n), np.nan)  # p4, shaft speed, gate flow as the turbo side said last
        self._still = (settings.still, max(_STILL_OPEN, 2.0 * settings.still))
        self._follower: PulseFollower | None = None
        if settings.manifold is not None:
            gas = burned_gas(lam, fuel.ethanol_share, fuel.petrol_heating_value)
            self._follower = PulseFollower(engine, settings.manifold, turbo.turbine_unit, gas)

    def at(
        self,
        where: NDArray[np.int64],
        speed: Array,
        cycle: CycleResult,
        state: PlenumState,
        wheel_temperature: Array,
        intervals: int,
    ) -> Pulses:
        """Factors at some of the points; the others stay as they are."""
        own = np.ones(where.shape, dtype=bool) if self._lead is None else self._lead.of[where] == where
        if self._follower is not None and np.any(np.isfinite(self._behind[:, where[own]])):
            seen = np.full((6, speed.size), np.nan)
            seen[:, where] = np.stack(
                [
                    speed[where],
                    cycle.air_flow + cycle.fuel_flow,
                    cycle.exhaust_valve_temperature,
                    wheel_temperature,
                    cycle.trapped_mass,
                    state.exhaust,
                ]
            )
            seen[:, where[~own]] = np.nan  # these go along with others
            p4, shaft, past = self._behind
            # with the gate open the boost does not hang on the pulses
            open_gate = np.nan_to_num(past) > _OPEN * np.nan_to_num(seen[1])
            shut, open_ = self._still
            self._follower.moved = np.where(open_gate, open_, shut)
            found = self._follower.update(
                ExhaustFeed(*seen[:5]),
                p3=seen[5],
                p4=p4,
                shaft_speed=shaft,
                gate_flow=past,
                most_intervals=intervals,
            )
            with np.errstate(invalid="ignore", divide="ignore"):
                now = [found.flow, found.power, found.valve_ratio]
                peak = found.peak_pressure / found.mean_pressure
            self._now, self._peak = self._go_along(np.stack(now), peak)
        return Pulses(*(column[where] for column in self._now))

    def _go_along(self, now: Array, peak: Array) -> tuple[list[Array], Array]:
        """Factors of the followed points, and of those that go along with them; and the same of peaks."""
        if self._lead is None or self._peak is None:
            return list(now), peak
        of, first = self._lead.of, self._lead.peak
        usable = np.isfinite(now[:, of]).all(axis=0) & np.isfinite(peak[of])
        with np.errstate(invalid="ignore", divide="ignore"):
            moved = self._first * now[:, of] / self._first[:, of]
            moved_peak = 1.0 + (first - 1.0) * (peak[of] - 1.0) / (first[of] - 1.0)
        usable &= np.isfinite(moved).all(axis=0) & np.isfinite(moved_peak)
        factors = [np.where(usable, a, b) for a, b in zip(moved, self._now, strict=True)]
        return factors, np.where(usable, moved_peak, self._peak)

    def at_last(self) -> Pulses:
        """Factors of all points as they stand."""
        return Pulses(*(np.array(column) for column in self._now))

    def remember(self, where: NDArray[np.int64], answer: TurboAnswer) -> None:
        """What the next round's factors start from."""
        point = answer.point
        self._behind[:, where] = np.stack(
            [point.turbine_outlet_pressure, point.compressor.speed, point.gate_flow]
        )

    def peak(self, exhaust_pressure: Array) -> Array:
        """Greatest exhaust pressure within a cycle [Pa]."""
        return np.array(exhaust_pressure if self._peak is None else self._peak * exhaust_pressure)


class _Search:
    """The rounds of one match. Unknowns: logarithms of the plenum state, and the spark, shape (4, n)."""

    def __init__(
        self,
        engine: EngineGeometry,
        fuel: Fuel,
        speed: Array,
        lam: Array,
        settings: MatchSettings,
        turbo: TurboParts,
        side: TurboSide,
    ) -> None:
        self._engine, self._fuel, self._side = engine, fuel, side
        self._speed, self._lam, self._settings = speed, lam, settings
        self._pulses = _Pulses(engine, fuel, lam, settings, turbo)
        self._near = np.full(speed.shape, np.nan)
        self._patience = 1
        self._change = 1.0  # greatest of the last round

    def run(self, x: Array, runner: CycleRunner, finder: SparkFinder | None) -> MatchResult:
        """Rounds until all points have settled; points that have are left alone, and asked again at the end.

        The rounds read the compressor from a table; the last passes ask the map itself, and search on
        where it differs, unless the table is to do to the end: then the map only tells what stands at the
        answer.
        """
        by_table = self._settings.by_table
        tolerance, every = self._settings.tolerance, np.arange(self._speed.size)
        rounds = np.zeros(every.shape, dtype=np.int64)
        active, quick = every, True
        found: _Asked | None = None
        history: list[tuple[Array, Array]] = []
        quick_rounds = max(self._settings.max_rounds - _LAST_PASSES, 0)
        for turn in range(self._settings.max_rounds):
            if quick and (active.size == 0 or turn == quick_rounds):
                if by_table:
                    break
                active, quick = every, False
            # what has not settled by now stands where a little spark or pulse moves much boost: look longer
            self._patience = 1 + turn // _PATIENT_AFTER
            asked = self._ask(x, active, runner, finder, quick)
            rounds[active] += 1
            if by_table or not quick:
                found = _merged(found, asked, active)
            enough = tolerance * min(self._patience, _WIDEST)
            near = asked.change <= (_QUICK_SHARE if quick else 1.0) * enough
            left = ~near & asked.usable & (quick | (asked.change < _HOPELESS))
            if not quick and not left.any():
                break
            there = np.array(x)
            there[:, active] = asked.there
            _next(x, there, active[left], history)
            active = active[left]
        assert found is not None
        if by_table:
            found = found._replace(answer=self._side.by_map(found.line, found.answer))
        done = (found.change <= tolerance * min(self._patience, _WIDEST)) | ~found.usable
        return self._result(found, done, rounds)

    def _ask(
        self, x: Array, where: NDArray[np.int64], runner: CycleRunner, finder: SparkFinder | None, quick: bool
    ) -> _Asked:
        state = PlenumState(*np.exp(x[:3, where]))
        spark, lam = x[3, where] / _SPARK_SCALE, self._lam[where]
        points = OperatingPoints(
            self._speed[where], state.plenum, state.temperature, state.exhaust, lam, spark
        )
        if finder is None:
            cycle, rather = runner(points), spark
        else:
            cycle, rather = finder(points, where, self._patience)
        intervals = self._patience * _INTERVALS
        line, usable = breathing_line(
            self._engine, self._fuel, cycle, state, lam, NO_PULSES, self._settings.housing
        )
        wheel = line.exhaust_temperature
        pulses = self._pulses.at(where, self._speed, cycle, state, wheel, intervals)
        line = line._replace(pulses=pulses)
        closeness = _CLOSENESS * self._change if quick else 0.0
        answer = self._side.settle(line, where, self._near[where], quick=quick, closeness=closeness)
        self._near[where] = answer.state.plenum
        there = np.stack([*np.log(answer.state), _SPARK_SCALE * rather])
        change = np.max(np.abs(there - x[:, where]), axis=0)
        change = np.maximum(change, _LEFT_OF_CHANGE * np.nan_to_num(np.asarray(cycle.periodicity)))
        self._pulses.remember(where, answer)
        self._change = float(np.max(np.where(usable, change, 0.0)))
        return _Asked(points, cycle, line, answer, usable, there, change)

    def _result(self, asked: _Asked, done: NDArray[np.bool_], rounds: NDArray[np.int64]) -> MatchResult:
        answer = asked.answer
        status = np.where(done, answer.limit, int(MatchStatus.UNSETTLED))
        broke = (np.asarray(asked.cycle.status) == _CYCLE_BROKE) | ~asked.usable
        status = np.where(broke, int(MatchStatus.CYCLE_FAILED), status)
        return MatchResult(
            speed=self._speed,
            goal_pressure=self._side.goal,
            points=asked.points,
            cycle=asked.cycle,
            turbo=_blanked(answer.point, ~asked.usable),
            gate=answer.gate,
            pulses=self._pulses.at_last(),
            pulse_peak=self._pulses.peak(answer.point.exhaust_pressure),
            gate_line=answer.gate_line,
            gate_area_needed=answer.area_needed,
            status=status.astype(np.int64),
            change=asked.change,
            rounds=rounds,
        )


def sought_of(settings: MatchSettings, ambient: OutsideAir, goal_boost: ArrayLike, speed: Array) -> Sought:
    """What is asked of the turbo side; arguments as `match`. Raises OutOfRange as it does."""
    outside = np.asarray(ambient.pressure, dtype=np.float64)
    boost = np.broadcast_to(np.asarray(goal_boost, dtype=np.float64), speed.shape)
    goal = np.array(np.broadcast_to(outside + boost, speed.shape))
    if not np.all(np.isfinite(speed) & (speed > 0)) or not np.all(np.isfinite(goal) & (boost > 0)):
        raise OutOfRange("A match needs engine speeds above zero and a boost above zero at each of them.")
    ceiling = goal if settings.ceiling is None else np.maximum(goal, settings.ceiling)
    upper = np.broadcast_to(np.asarray(settings.branch) == Branch.UPPER, speed.shape)
    stuck = np.broadcast_to(np.asarray(settings.stuck is not None and settings.stuck), speed.shape)
    return Sought(goal, np.array(np.broadcast_to(ceiling, speed.shape)), np.array(upper), np.array(stuck))


def _merged(found: _Asked | None, part: _Asked, where: NDArray[np.int64]) -> _Asked:
    """What was found, with the points `where` replaced by newer ones."""
    if found is None:
        return part

    def put(old: Any, new: Any) -> Any:
        if isinstance(old, GateLine):
            return GateLine(*(put_columns(a, b) for a, b in zip(old, new, strict=True)))
        if hasattr(old, "_fields"):
            return type(old)(*(put(a, b) for a, b in zip(old, new, strict=True)))
        if isinstance(old, Pulses):
            return Pulses(put(old.flow, new.flow), put(old.power, new.power), put(old.valve, new.valve))
        if isinstance(old, OperatingPoints):
            return OperatingPoints(*(put(a, b) for a, b in zip(old.arrays(), new.arrays(), strict=True)))
        kept = np.array(old)
        if kept.ndim:
            kept[where] = new
        return kept

    def put_columns(old: Any, new: Any) -> Any:
        kept = np.array(old)
        kept[:, where] = new
        return kept

    fields = {
        name: put(getattr(found, name), getattr(part, name)) for name in found._fields if name != "there"
    }
    return _Asked(there=put_columns(found.there, part.there), **fields)


def _next(x: Array, there: Array, active: NDArray[np.int64], history: list[tuple[Array, Array]]) -> None:
    """Anderson's method, each point on its own, with a guard on the step; moves x where active.

    x+ = g - sum_j a_j dg_j, with a minimising |f - sum_j a_j df_j|, f = g - x (walker2011, from memory). A
    point whose last step made things worse goes on by plain substitution: just past the end of a branch there
    is a place that looks like a solution and is none, and extrapolation would stay there.
    """
    history.append((np.array(x), there))
    del history[: -(_DEPTH + 1)]
    new = np.array(there)
    if len(history) > 1:
        xs, gs = (np.stack(column) for column in zip(*history, strict=True))
        df, dg = np.diff(gs - xs, axis=0), np.diff(gs, axis=0)
        size = np.max(np.abs(gs - xs), axis=1)
        for i in active[size[-1, active] < size[-2, active]]:
            weights = np.linalg.lstsq(df[:, :, i].T, (there - x)[:, i], rcond=1e-6)[0]
            if np.sum(np.abs(weights)) < _BOLDEST:
                new[:, i] = there[:, i] - dg[:, :, i].T @ weights
    step = np.clip(new - x, -_LONGEST_STEP, _LONGEST_STEP)
    x[:, active] += step[:, active]
    np.clip(x, _LEAST, _MOST, out=x)


def _blanked(point: TurboPoint, where: NDArray[np.bool_]) -> TurboPoint:
    """The point with NaN at the entries that stand on a replaced cycle answer; statuses are kept."""
    if not where.any():
        return point
    return each_array(point, lambda a: a if a.dtype.kind == "i" else np.where(where, np.nan, a))
