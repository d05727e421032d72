"""The boost that a gate really holds: where the area that it opens meets the area that balances the shaft."""

from __future__ import annotations

from collections.abc import Callable
from enum import IntEnum
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.roots import bracketed_root
from boostwright.physics.wastegate import lift_for_area
from boostwright.systems.wastegate.gate import Gate, GateState, duty_for_area, gate_state, stacked
from boostwright.systems.wastegate.line import GateLine, between, line_at

__all__ = [
    "GATE_STATUS_WORDS",
    "GateStatus",
    "Held",
    "deviation",
    "duty_to_hold",
    "held_deviation",
    "held_pressure",
    "opening_pressure",
    "pressure_gate_open",
    "variants",
]

Array = NDArray[np.float64]

_AT_STOP: Final = 1 - 1e-9  # of the greatest area


class GateStatus(IntEnum):
    """How the gate stands at the pressure that holds."""

    HELD = 0
    AT_STOP = 1
    SHUT = 2
    BEYOND = 3
    NO_BOOST = 4
    NOT_COMPUTED = 5


GATE_STATUS_WORDS: Final[dict[GateStatus, str]] = {
    GateStatus.HELD: "the gate is partly open and holds the boost",
    GateStatus.AT_STOP: "the valve is on its stop: the port holds the boost, not the spring",
    GateStatus.SHUT: "the gate is shut; the turbine gives no more",
    GateStatus.BEYOND: "the boost rises beyond the pressures that were computed",
    GateStatus.NO_BOOST: "less boost than the lowest pressure that was computed",
    GateStatus.NOT_COMPUTED: "not computed here",
}


class Held(NamedTuple):
    """What the gate holds, shape (n,)."""

    pressure: Array  # plenum [Pa]; the end of the line where it lies beyond; NaN where not computed
    lift: Array  # [m]
    area: Array  # effective [m2]
    status: NDArray[np.int64]  # GateStatus


def held_pressure(
    gate: Gate, line: GateLine, ambient_pressure: float, upper: bool = True, duty: ArrayLike | None = None
) -> Held:
    """Plenum pressure at which the gate opens just the area needed, at each speed.

    CdA(lift(p)) - CdA_needed(p) = 0. Below the root the gate opens too little and the boost rises, above it
    the boost falls: only a crossing from below stands. Between two pressures of the line the smooth
    quantities are taken as straight and the force balance is solved in full, so that seat and stop stay
    sharp.

    gate, ambient_pressure: as `gate_state`. line: shape (k, n), k at least 2. upper: take the highest
    crossing (coming down from full boost) or the lowest. duty: as `gate_state`, one or one for each speed.
    Returns shape (n,). Error of the straight pieces: see the tests of step halving.
    """
    return _balance(gate, line, lambda at: _state(gate, at, ambient_pressure, duty).area, upper)


def pressure_gate_open(gate: Gate, line: GateLine, upper: bool = True) -> Held:
    """Plenum pressure that stands with the valve on its stop: no spring, however soft, holds less with this
    port.
    """
    return _balance(gate, line, lambda at: np.broadcast_to(gate.most_area, at.plenum.shape), upper)


def opening_pressure(gate: Gate, line: GateLine, ambient_pressure: float, duty: ArrayLike = 0.0) -> Array:
    """Lowest plenum pressure of the line at which the valve leaves its seat, shape (n,) [Pa].

    NaN where it stays on it all along; the line's lowest pressure where it is open there already.
    """

    def travel(at: GateLine) -> Array:
        return _state(gate, at, ambient_pressure, duty).free_travel

    along = travel(line)
    first, found = _crossing(along, upper=False)
    share, closed = _inside(line, first, found, travel)
    pressure = np.where(found & closed, between(line, first, share).plenum, np.nan)
    return np.where(along[0] >= 0, line.plenum[0], pressure)


def duty_to_hold(gate: Gate, line: GateLine, ambient_pressure: float, pressure: ArrayLike) -> Array:
    """Duty of the valve in the signal line that holds a plenum pressure, shape (n,) [-].

    pressure: plenum, one or one for each speed [Pa]; the rest as `held_pressure`. NaN where no duty does (see
    `duty_for_area`), where the turbine falls short, and outside the line.
    """
    at = line_at(line, pressure)
    return duty_for_area(
        gate, ambient_pressure, at.plenum, at.outlet, at.exhaust, at.turbine_outlet, at.needed, at.pulse
    )


def held_deviation(
    gate: Gate,
    line: GateLine,
    ambient_pressure: float,
    upper: bool = True,
    duty: ArrayLike | None = None,
    needed_sd: ArrayLike = 0.0,
) -> Array:
    """Standard deviation of the pressure held, shape (n,) [Pa].

    Each uncertain value of the gate is moved by one standard deviation, alone, and so is the area needed; the
    changes are added in squares.

    needed_sd: standard deviation of the area needed, from what is not known of the turbo [m2]; one, or one
    for each speed. The rest as `held_pressure`.
    """
    gates, lines = variants(gate, line, needed_sd)
    if duty is not None and np.ndim(duty) > 0:
        duty = np.tile(np.asarray(duty), lines.plenum.shape[1] // line.plenum.shape[1])
    held = held_pressure(gates, lines, ambient_pressure, upper, duty)
    return deviation(held.pressure.reshape(-1, line.plenum.shape[1]))


def variants(gate: Gate, line: GateLine, needed_sd: ArrayLike) -> tuple[Gate, GateLine]:
    """Gate and line with one uncertain value moved at a time, side by side in columns.

    First n columns as they are, then n for each value of the gate, then n with more and n with less area
    needed.
    """
    each = (gate, *gate.one_deviation_each(), gate, gate)
    n = line.plenum.shape[1]
    sd = np.broadcast_to(np.asarray(needed_sd, dtype=np.float64), (n,))
    tiled = GateLine(*(np.tile(a, (1, len(each))) for a in line))
    moved = np.concatenate([np.zeros((len(each) - 2) * n), sd, -sd])
    return stacked(each, n), tiled._replace(needed=tiled.needed + moved)


def deviation(values: Array) -> Array:
    """Standard deviation of a result from its `variants`, given as rows; shape (n,)."""
    own = np.sum(np.square(values[1:-2] - values[0]), axis=0)
    return np.asarray(np.sqrt(own + np.square(0.5 * (values[-2] - values[-1]))))


def _state(gate: Gate, at: GateLine, ambient: float, duty: ArrayLike | None) -> GateState:
    return gate_state(gate, ambient, at.plenum, at.outlet, at.exhaust, at.turbine_outlet, at.pulse, duty)


def _balance(gate: Gate, line: GateLine, area: Callable[[GateLine], Array], upper: bool) -> Held:
    """Where an area that hangs on the operating point meets the area needed."""
    excess = area(line) - line.needed
    computed = np.isfinite(excess).all(axis=0)
    first, found = _crossing(excess, upper)
    found &= computed
    beyond = computed & (excess[-1] < 0) & (upper | ~found)
    found &= ~beyond
    share, closed = _inside(line, first, found, lambda at: area(at) - at.needed)
    first = np.where(beyond, line.plenum.shape[0] - 2, first)
    share = np.where(beyond, 1.0, np.where(found, share, 0.0))
    at = between(line, first, share)
    opened = area(at)
    lift = np.minimum(lift_for_area(opened, gate.port_diameter, gate.flow), gate.most_lift)
    status = np.full(first.shape, int(GateStatus.HELD))
    status[opened >= _AT_STOP * gate.most_area] = GateStatus.AT_STOP
    status[opened <= 0] = GateStatus.SHUT
    status[beyond] = GateStatus.BEYOND
    status[~found & ~beyond] = GateStatus.NO_BOOST
    bad = ~computed | (found & ~closed)
    status[bad] = GateStatus.NOT_COMPUTED
    pressure, lift, opened = (np.where(bad, np.nan, a) for a in (at.plenum, lift, opened))
    return Held(pressure, lift, opened, status.astype(np.int64))


def _crossing(values: Array, upper: bool) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Index along the first axis before which a column turns from below zero to not below: the highest or the
    lowest, and whether there is one.
    """
    turns = (values[:-1] < 0) & (values[1:] >= 0)
    first = turns.shape[0] - 1 - turns[::-1].argmax(axis=0) if upper else turns.argmax(axis=0)
    found = np.asarray(turns.any(axis=0))
    return np.where(found, first, 0), found


def _inside(
    line: GateLine, first: NDArray[np.int64], found: NDArray[np.bool_], function: Callable[[GateLine], Array]
) -> tuple[Array, NDArray[np.bool_]]:
    """Share of the way past `first` at which a function of the line crosses zero, where one was found."""

    def at(share: Array) -> Array:
        return np.where(found, function(between(line, first, share)), share - 0.5)

    root = bracketed_root(at, np.zeros(first.size), np.ones(first.size), rtol=1e-9)
    return root.x, root.closed
