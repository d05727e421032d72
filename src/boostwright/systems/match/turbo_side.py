"""Where turbo and wastegate settle along a breathing line: a scan over plenum pressure, all points at once.

At each pressure the turbo says how much exhaust must pass the gate for the shaft to stand still, and the gate
says how much it lets pass. Where too little passes the shaft speeds up, where too much it slows down; a place
where the first turns into the second with rising pressure is a place where the boost stays.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.physics.compressor import CompressorPoint
from boostwright.physics.compressor_table import tabulated
from boostwright.physics.wastegate import area_for_flow
from boostwright.systems.match.breathing import BreathingLine, PlenumState
from boostwright.systems.match.types import GateModel, MatchStatus
from boostwright.systems.turbo import (
    AmbientEach,
    OutsideAir,
    QuickTurbo,
    TurboParts,
    TurboPoint,
    TurboStatus,
    turbo_point,
    unboosted_plenum_pressure,
)
from boostwright.systems.wastegate import GateLine, GateOpening

__all__ = ["Sought", "TurboAnswer", "TurboSide", "each_array", "first_guess"]

Array = NDArray[np.float64]

FIRST_RISE: Final = 1.005  # lowest compressor pressure ratio that is asked for
_SCAN: Final = 16  # plenum pressures between no boost and the ceiling
_NEAR: Final = (-0.03, -0.01, -0.0025, 0.0, 0.0025, 0.01, 0.03)  # and about the last answer, relative
_SHARP: Final = 8  # rows of the last scan that the compressor map itself is asked about
_CLOSING: Final = 5  # steps at most inside the bracket that the scan found
_QUICK_CLOSING: Final = 2  # the same in a round that others follow
_CLOSED: Final = 2e-5  # of the pressure, the last of them
_STEEP_END: Final = 1000.0  # power missing for each unit of pressure ratio that the map is short of
_LINE_ROUNDS: Final = 2  # plenum temperature and exhaust pressure brought in line with the flow


class Sought(NamedTuple):
    """What is asked of the turbo side; arrays of shape (n,)."""

    goal: Array  # plenum pressure [Pa absolute]
    ceiling: Array  # highest plenum pressure looked at; the goal itself where an ideal control holds it [Pa]
    upper: NDArray[np.bool_]  # the highest place where boost stays, or the lowest
    stuck: NDArray[np.bool_]  # the gate stays shut whatever pushes it


class TurboAnswer(NamedTuple):
    """One round's answer of the turbo side."""

    state: PlenumState
    point: TurboPoint
    gate: GateOpening
    gate_line: GateLine  # along the breathing line
    area_needed: Array  # that would hold the goal; negative where the turbine is short [m2]
    limit: NDArray[np.int64]  # MatchStatus


class _Scan(NamedTuple):
    """Plenum pressures (k, n), rising in each column, and what stands there."""

    plenum: Array
    point: TurboPoint
    needed: (
        Array  # effective gate area at which the shaft stands still; negative where there is no surplus [m2]
    )

    @property
    def kept(self) -> _Last:
        """What the next scan starts from."""
        return _Last(self.plenum, self.point.plenum_temperature, self.point.exhaust_pressure)


class _Last(NamedTuple):
    """What is kept of a scan, (k, n)."""

    plenum: Array
    temperature: Array
    exhaust: Array


class _Stay(NamedTuple):
    """A bracket about the place where the boost stays; arrays of shape (n,)."""

    low: Array  # plenum pressure at which the shaft speeds up [Pa]
    high: Array  # and at which it slows down [Pa]
    excess_low: Array  # area needed less area open there [m2]
    excess_high: Array
    fixed: NDArray[np.bool_]  # the place is known: the goal, the ceiling or the floor
    limit: NDArray[np.int64]  # MatchStatus

    def between(self) -> Array:
        """Where a straight line between the two ends crosses zero [Pa]."""
        falls = np.isfinite(self.excess_high) & (self.excess_low > self.excess_high)
        drop = np.where(falls, self.excess_low - self.excess_high, 1.0)
        share = np.where(falls, self.excess_low / drop, 1.0)
        return np.asarray(self.low + (self.high - self.low) * np.clip(share, 0.0, 1.0))


class TurboSide:
    """The turbo side of a match; keeps the last scan so that the next starts from it."""

    def __init__(
        self, turbo: TurboParts, ambient: OutsideAir, gate: GateModel | None, sought: Sought
    ) -> None:
        self._turbo = turbo
        self._everywhere = ambient
        self._gate = gate
        self._all = sought
        self._table = tabulated(turbo.compressor_map)
        self._compiled = QuickTurbo.of(turbo)
        self._quick = False
        self._last: tuple[NDArray[np.int64], _Last] | None = None
        self._ambient, self._sought = ambient, sought  # at the points asked about

    @property
    def goal(self) -> Array:
        """Plenum pressure asked for [Pa absolute]."""
        return self._all.goal

    def settle(
        self,
        line: BreathingLine,
        where: NDArray[np.int64],
        near: Array,
        *,
        quick: bool = False,
        closeness: float = 0.0,
    ) -> TurboAnswer:
        """Where the boost stays along a breathing line.

        line: of the engine at the points `where`. near: a plenum pressure close to the answer [Pa], for the
        rows about it; NaN for an even scan, closed in afterwards. quick: read the compressor from its table.
        closeness: wanted of the pressure, relative, where less than the usual will do.
        """
        self._quick = quick
        every = self._all
        self._sought = Sought(every.goal[where], every.ceiling[where], every.upper[where], every.stuck[where])
        self._ambient = _at(self._everywhere, where)
        last = self._recall(where)
        floor = self.floor(line)
        if not np.all(np.isfinite(near)):
            even = self._along(line, self._rows(floor, None), last, _LINE_ROUNDS)
            near, last = self._stays(line, even).between(), even.kept
        exact, self._quick = not self._quick, self._quick or self._compiled is not None
        scan = self._along(line, self._rows(floor, near), last, 1 if last is not None else _LINE_ROUNDS)
        if exact and self._quick:
            self._quick = False
            scan = self._sharpened(line, scan, near)
        self._last = (where, scan.kept)
        stay = self._stays(line, scan)
        plenum, point = self._close_in(line, scan, stay, max(closeness, _CLOSED))
        gate, limit = self._gate_at(line, point, stay.limit)
        return TurboAnswer(
            PlenumState(plenum, point.plenum_temperature, point.exhaust_pressure),
            point,
            gate,
            GateLine(
                plenum=scan.plenum,
                outlet=scan.point.outlet_pressure,
                exhaust=scan.point.exhaust_pressure,
                turbine_outlet=scan.point.turbine_outlet_pressure,
                needed=scan.needed,
                pulse=self._pulse(line, scan.point),
            ),
            _read(scan.plenum, scan.needed, self._sought.goal),
            limit,
        )

    def by_map(self, line: BreathingLine, answer: TurboAnswer) -> TurboAnswer:
        """An answer for all points with what the compressor's map itself says at its plenum pressures."""
        air = line.air_flow(answer.state)
        point = turbo_point(
            self._turbo,
            self._everywhere,
            air,
            line.fuel / line.air * air,
            answer.state.plenum,
            line.exhaust_temperature,
            line.gas,
            line.pulses,
            near=answer.point,
        )
        return answer._replace(point=point)

    def _recall(self, where: NDArray[np.int64]) -> _Last | None:
        """The last scan, at the points asked about now; None where it did not hold all of them."""
        if self._last is None:
            return None
        there, scan = self._last
        if there.size == where.size:
            return scan
        keep = np.isin(there, where)
        if keep.sum() != where.size:
            return None
        return _Last(*(rows[:, keep] for rows in scan))

    def _close_in(
        self, line: BreathingLine, scan: _Scan, stay: _Stay, closeness: float
    ) -> tuple[Array, TurboPoint]:
        """The crossing inside its bracket by the Illinois method, and the point there."""
        plenum = stay.between()
        was_enough = np.zeros(
            plenum.shape, dtype=np.int64
        )  # which end the step before replaced: +1 low, -1 high
        steps = _QUICK_CLOSING if self._quick else _CLOSING
        for turn in range(steps):
            guess = PlenumState(
                plenum,
                _read(scan.plenum, scan.point.plenum_temperature, plenum),
                _read(scan.plenum, scan.point.exhaust_pressure, plenum),
            )
            point, area = self._points(line, guess)
            if turn + 1 == steps or not np.any(stay.high > stay.low):
                break
            held, free = self._excesses(line, point, self._needed(point, area))
            excess = np.where(plenum < self._sought.goal, held, free)
            side = np.where(excess >= 0, 1, -1)
            again = np.where(side == was_enough, 0.5, 1.0)  # the end that stays twice counts half
            enough = side > 0
            stay = stay._replace(
                low=np.where(enough, plenum, stay.low),
                high=np.where(enough, stay.high, plenum),
                excess_low=np.where(enough, excess, again * stay.excess_low),
                excess_high=np.where(enough, again * stay.excess_high, excess),
            )
            was_enough = side
            closer = np.where(stay.fixed, plenum, stay.between())
            if np.all(np.abs(closer - plenum) <= closeness * plenum):
                break
            plenum = closer
        return plenum, point

    def floor(self, line: BreathingLine) -> Array:
        """Plenum pressure with hardly any boost [Pa]."""
        unboosted = unboosted_plenum_pressure(
            self._turbo, self._ambient, line.air * self._ambient.pressure / line.state.plenum
        )
        return np.minimum(FIRST_RISE * unboosted, 0.999 * self._sought.goal)

    def _rows(self, floor: Array, near: Array | None) -> Array:
        sought = self._sought
        even = floor + (sought.ceiling - floor) * np.linspace(0, 1, _SCAN)[:, None]
        rows = [even, sought.goal[None, :]]
        if near is not None:
            rows.append(np.clip(near * (1 + np.array(_NEAR)[:, None]), floor, sought.ceiling))
        return np.sort(np.concatenate(rows), axis=0)

    def _along(self, line: BreathingLine, plenum: Array, last: _Last | None, rounds: int) -> _Scan:
        """Turbo points at plenum pressures of shape (k, n) on the breathing line."""
        state = self._start(line, plenum, last)
        for _ in range(rounds):
            point, area = self._points(line, state)
            state = PlenumState(plenum, point.plenum_temperature, point.exhaust_pressure)
        return _Scan(plenum, point, self._needed(point, area))

    def _sharpened(self, line: BreathingLine, scan: _Scan, near: Array) -> _Scan:
        """The scan with the rows about a plenum pressure asked of the map itself; the rest, far from the
        answer, stay as the table has them."""
        first = np.argmin(np.abs(scan.plenum - near), axis=0) - _SHARP // 2
        rows = np.clip(first, 0, scan.plenum.shape[0] - _SHARP) + np.arange(_SHARP)[:, None]
        state = (
            np.take_along_axis(column, rows, axis=0)
            for column in (scan.plenum, scan.point.plenum_temperature, scan.point.exhaust_pressure)
        )
        point, area = self._points(line, PlenumState(*state))

        def put(there: Array, here: Array) -> Array:
            whole = np.array(there)
            np.put_along_axis(whole, rows, here, axis=0)
            return whole

        return _Scan(
            scan.plenum,
            _joined(scan.point, point, put),
            put(scan.needed, self._needed(point, area)),
        )

    def _needed(self, point: TurboPoint, area: Array) -> Array:
        """Effective gate area at which the shaft stands still; negative where there is no surplus [m2].

        area: that passes what the turbine leaves over [m2].

        Where the map ends short of the pressure, the shortfall counts as missing power, so steeply that
        pressures end within a thousandth of the map's end.
        """
        wanted = point.compressor.power + point.bearing_loss
        reached = point.compressor.pressure_ratio * point.inlet_pressure / point.outlet_pressure - 1
        ended = point.status == TurboStatus.COMPRESSOR_SHORT
        missing = _STEEP_END * np.minimum(reached, 0.0) * wanted
        surplus = np.where(ended, point.surplus + missing, point.surplus)
        short = surplus / wanted * self._turbo.turbine_area
        opened = area * np.where(ended, surplus / np.maximum(point.surplus, 1.0), 1.0)
        return np.where(surplus > 0, opened, short)

    def _start(self, line: BreathingLine, plenum: Array, last: _Last | None) -> PlenumState:
        """Temperature and exhaust pressure to begin with: of the last scan, or by rule of the pressure."""
        here = line.state
        if last is not None:
            return PlenumState(
                plenum,
                _read(last.plenum, last.temperature, plenum),
                _read(last.plenum, last.exhaust, plenum),
            )
        outside = self._ambient.pressure
        exhaust = outside + (here.exhaust - outside) * (plenum / here.plenum) ** 2
        return PlenumState(
            plenum, np.broadcast_to(here.temperature, plenum.shape), np.maximum(exhaust, 0.5 * outside)
        )

    def _points(self, line: BreathingLine, state: PlenumState) -> tuple[TurboPoint, Array]:
        """Turbo points, and the effective area [m2] that passes what the turbine leaves over."""
        air, fuel = line.air_flow(state), line.fuel / line.air
        exhaust = (line.exhaust_temperature, line.gas, line.pulses)
        near = None
        if self._compiled is not None:
            guess = (state.temperature, state.exhaust)
            quick = self._compiled.at(self._ambient, air, fuel, state.plenum, *exhaust, guess)
            if self._quick:
                return quick
            near = quick.point
        table = self._table if self._quick else None
        point = turbo_point(self._turbo, self._ambient, air, fuel * air, state.plenum, *exhaust, table, near)
        return point, _area_of_gate_flow(line, point)

    @staticmethod
    def _pulse(line: BreathingLine, point: TurboPoint) -> Array:
        """How far the exhaust pressure that the gate's valve feels lies above the mean [Pa]."""
        return np.asarray((np.asarray(line.pulses.valve) - 1) * point.exhaust_pressure)

    def _excesses(self, line: BreathingLine, point: TurboPoint, needed: Array) -> tuple[Array, Array]:
        """Area needed less area open [m2], with the gate held shut as well as the control can, and let go."""
        if self._gate is None:
            return needed, np.full(needed.shape, -np.inf)
        pulse, outside = self._pulse(line, point), self._ambient.pressure
        moves = ~self._sought.stuck
        full = needed - moves * self._gate.opening(point, outside, False, pulse).area
        if not self._gate.held_back:
            return full, full
        return needed - moves * self._gate.opening(point, outside, True, pulse).area, full

    def _stays(self, line: BreathingLine, scan: _Scan) -> _Stay:
        """Between which plenum pressures the boost stays, and what stops it there.

        More area needed than open: the shaft speeds up; less: it slows down. Only a crossing from the first
        to the second with rising pressure is a place where it stays. The upper branch takes the highest of
        them, the lower branch the lowest. A control that can take pressure off the diaphragm holds the goal
        where what is needed there lies between the two areas it can make.
        """
        sought = self._sought
        columns = np.arange(sought.goal.size)
        held, free = self._excesses(line, scan.point, scan.needed)
        excess = np.where(scan.plenum < sought.goal, held, free)
        at_goal = np.argmin(np.abs(scan.plenum - sought.goal), axis=0)
        controlled = (self._gate is None or self._gate.held_back) & ~sought.stuck
        at_step = (held[at_goal, columns] >= 0) & (free[at_goal, columns] <= 0) & controlled
        enough = excess >= 0
        ends = enough[:-1] & ~enough[1:]
        below = ends & (np.arange(ends.shape[0])[:, None] + 1 < at_goal)  # short of the goal
        on_goal = at_step & (sought.upper | ~below.any(axis=0))
        found = ends.any(axis=0)
        full = enough[-1] & (sought.upper | ~found) & ~on_goal  # still speeding up at the ceiling
        k = excess.shape[0]
        first = np.where(sought.upper, k - 2 - ends[::-1].argmax(axis=0), ends.argmax(axis=0))
        first = np.where(found, first, 0)
        low, high = (scan.plenum[first + j, columns] for j in (0, 1))
        e_low, e_high = (excess[first + j, columns] for j in (0, 1))
        place = np.where(on_goal, sought.goal, np.where(full, sought.ceiling, scan.plenum[0]))
        fixed = on_goal | full | ~found
        ended = scan.point.status[first + 1, columns] == TurboStatus.COMPRESSOR_SHORT
        turbine_left = scan.point.surplus[first + 1, columns] > 0
        short = np.where(ended & turbine_left, int(MatchStatus.COMPRESSOR_LIMIT), int(MatchStatus.GATE_SHUT))
        limit = np.where(found, short, int(MatchStatus.NO_BOOST))
        limit = np.where(full, int(MatchStatus.AT_STOP), limit)
        return _Stay(
            low=np.where(fixed, place, low),
            high=np.where(fixed, place, high),
            excess_low=np.where(fixed, 1.0, e_low),
            excess_high=np.where(fixed, -1.0, e_high),
            fixed=fixed,
            limit=np.where(on_goal, int(MatchStatus.ON_TARGET), limit).astype(np.int64),
        )

    def _gate_at(
        self, line: BreathingLine, point: TurboPoint, limit: NDArray[np.int64]
    ) -> tuple[GateOpening, NDArray[np.int64]]:
        """The gate's opening at the answer, and what stops the boost told more closely by it."""
        passes = np.maximum(_area_of_gate_flow(line, point), 0.0)
        if self._gate is None:
            return GateOpening(
                np.full(passes.shape, np.nan), passes, np.zeros(passes.shape, dtype=bool)
            ), limit
        free = self._gate.opening(point, self._ambient.pressure, False, self._pulse(line, point))
        stuck = self._sought.stuck
        free = GateOpening(
            np.where(stuck, 0.0, free.lift), np.where(stuck, 0.0, free.area), free.at_stop & ~stuck
        )
        on_target = limit == MatchStatus.ON_TARGET
        opening = GateOpening(
            np.where(on_target, self._gate.lift_for(passes), free.lift),
            np.where(on_target, passes, free.area),
            free.at_stop & ~on_target,
        )
        stands_open = (limit == MatchStatus.GATE_SHUT) & (free.area > 0)
        limit = np.where(stands_open, int(MatchStatus.ON_SPRING), limit)
        return opening, np.where(stands_open & free.at_stop, int(MatchStatus.AT_STOP), limit).astype(np.int64)


def first_guess(
    turbo: TurboParts, ambient: OutsideAir, displacement: float, speed: Array, sought: Sought
) -> PlenumState:
    """Start at the goal for the upper branch, at no boost for the lower one.

    displacement: [m3]. speed: crank (n,) [rad/s].
    """
    flow = 0.9 * ambient.pressure / (287.0 * ambient.temperature) * displacement * speed / (4 * np.pi)
    plenum = np.where(sought.upper, sought.goal, FIRST_RISE * unboosted_plenum_pressure(turbo, ambient, flow))
    lift = plenum / ambient.pressure - 1
    return PlenumState(
        np.asarray(plenum),
        np.asarray(ambient.temperature * (1 + 0.12 * lift)),
        np.asarray(ambient.pressure * (1.05 + 0.9 * np.maximum(lift, 0))),
    )


def each_array(point: TurboPoint, change: Callable[[Any], Any]) -> TurboPoint:
    """The point with every array changed, those of the compressor too."""
    columns = {name: change(value) for name, value in point._asdict().items() if name != "compressor"}
    return TurboPoint(compressor=CompressorPoint(*(change(value) for value in point.compressor)), **columns)


def _joined(one: TurboPoint, other: TurboPoint, join: Callable[[Any, Any], Any]) -> TurboPoint:
    """Every array of two points joined, those of the compressor too."""
    compressor = CompressorPoint(*map(join, one.compressor, other.compressor))
    names = (name for name in one._fields if name != "compressor")
    columns = {name: join(getattr(one, name), getattr(other, name)) for name in names}
    return TurboPoint(compressor=compressor, **columns)


def _at(air: OutsideAir, where: NDArray[np.int64]) -> OutsideAir:
    """The outside air at some of the points."""
    if np.ndim(air.pressure) == 0 and np.ndim(air.temperature) == 0:
        return air
    pressure, temperature = np.broadcast_arrays(air.pressure, air.temperature)
    return AmbientEach(pressure[where], temperature[where])


def _area_of_gate_flow(line: BreathingLine, point: TurboPoint) -> Array:
    """Effective area that passes what the turbine leaves over [m2]."""
    gamma = line.gas.gamma(line.exhaust_temperature)
    return np.nan_to_num(
        area_for_flow(
            point.gate_flow,
            point.exhaust_pressure,
            line.exhaust_temperature,
            point.turbine_outlet_pressure,
            line.gas.R,
            gamma,
        )
    )


def _read(x: Array, y: Array, at: Array) -> Array:
    """y at `at`, straight between the rows of x (k, n), which rise in each column. at: (n,) or (m, n)."""
    wide = np.atleast_2d(at)
    row = np.clip(np.sum(x[:, None, :] <= wide[None], axis=0) - 1, 0, x.shape[0] - 2)
    columns = np.arange(x.shape[1])
    low, high = x[row, columns], x[row + 1, columns]
    share = np.clip((wide - low) / np.where(high > low, high - low, 1.0), 0.0, 1.0)
    found = y[row, columns] + share * (y[row + 1, columns] - y[row, columns])
    return np.asarray(found.reshape(np.shape(at)))
