"""The fuel side as it works: pump, filter, feed line, regulator, return and injectors at the engine's need.

Pressures that are not called a difference are absolute. Flows of a pump are volumes, of the engine masses.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import NotConverged
from boostwright.physics.fuel_line import (
    Reference,
    fuel_viscosity,
    line_loss,
    orifice_loss,
    rail_difference,
    scaled_loss,
)
from boostwright.physics.injection import DEAD_TIME_VOLTAGE, dead_time, delivered_mass_flow
from boostwright.physics.pump import PumpCurve, pump_flow
from boostwright.physics.roots import bracketed_root

__all__ = [
    "FuelLine",
    "FuelParts",
    "IdleRail",
    "Injectors",
    "Lines",
    "Regulator",
    "fuel_line",
    "idle_pulse",
    "idle_rail",
]

Array = NDArray[np.float64]

_SHUT = 1.0e-9  # a flow that counts as none [m3/s]


@dataclass(frozen=True, slots=True)
class Injectors:
    """The set of injectors."""

    count: int
    flow: float  # of one, of the test fluid [m3/s]
    rated_difference: float  # [Pa]
    test_density: float  # of the fluid of the rating [kg/m3]
    dead_time: float  # at 13.5 V and `dead_time_difference` [s]
    dead_time_slope: float  # at 12 V less at 13 V [s]
    dead_time_difference: float  # [Pa]
    voltage: float = DEAD_TIME_VOLTAGE  # at coil and driver, running [V]


@dataclass(frozen=True, slots=True)
class Regulator:
    """The pressure regulator."""

    reference: Reference
    pressure: float  # over its dry side [Pa]
    droop: float  # share lost at full flow [-]
    seat_area: float  # effective, wide open [m2]


@dataclass(frozen=True, slots=True)
class Lines:
    """Feed line with filter, and return line."""

    feed_bore: float  # [m]
    feed_length: float  # [m]
    return_bore: float  # [m]
    return_length: float  # [m]
    filter_loss: float  # at `filter_flow` [Pa]
    filter_flow: float  # [m3/s]


@dataclass(frozen=True, slots=True)
class FuelParts:
    """Everything between tank and intake valve, and the fuel itself.

    A number of any of these records may be an array (n,): then so many sets are worked out side by side.
    """

    injectors: Injectors
    pump: PumpCurve
    pump_voltage: float  # at the pump's terminals, running [V]
    regulator: Regulator
    lines: Lines
    density: float  # of the fuel [kg/m3]
    ethanol_share: float = 0.0  # by volume [-]


class FuelLine(NamedTuple):
    """The fuel side at each engine speed; arrays of shape (n,)."""

    set_difference: Array  # across an injector, as the regulator would hold it [Pa]
    difference: Array  # as it stands; lower where the pump falls short [Pa]
    rail_pressure: Array  # [Pa absolute]
    injector_flow: Array  # of one open injector at `difference` [kg/s]
    open_time: Array  # of each injection, as the controller means it at `set_difference` [s]
    dead_time: Array  # [s]
    duty: Array  # open and dead time over two turns [-]
    need: Array  # volume flow that the engine asks for [m3/s]
    feed_flow: Array  # through the feed line [m3/s]
    feed_loss: Array  # of line and filter [Pa]
    pump_pressure: Array  # at the pump over its inlet, with the rail at its set pressure [Pa]
    pump_available: Array  # at that pressure and the pump's voltage [m3/s]
    pump_margin: Array  # available over need [-]
    fuel_flow: Array  # that really reaches the engine [kg/s]
    lam: Array  # that it makes with the air that is there [-]


class IdleRail(NamedTuple):
    """The rail when the engine takes almost nothing."""

    set_difference: Array  # [Pa]
    difference: Array  # [Pa]; higher where regulator and return cannot pass the surplus
    overrun: Array  # the one less the other [Pa]
    return_flow: Array  # [m3/s]
    dead_time: Array  # [s]


def _arrays(parts: FuelParts, *values: ArrayLike) -> tuple[Array, ...]:
    """All of one shape (n,), that of the values or, where the parts are many sets side by side, of those."""
    sizes = (parts.injectors, parts.pump, parts.regulator, parts.lines, parts)
    many = [np.shape(v) for size in sizes for v in _fields(size) if isinstance(v, np.ndarray)]
    shape = np.zeros(np.broadcast_shapes((1,), *many))
    wide = [np.asarray(v, dtype=np.float64) for v in values]
    return tuple(np.broadcast_arrays(*(np.atleast_1d(v) for v in wide), shape))[:-1]


def _fields(record: object) -> list[object]:
    if isinstance(record, tuple):
        return list(record)
    return [getattr(record, field.name) for field in fields(record)]  # type: ignore[arg-type]


def _feed_loss(parts: FuelParts, flow: Array) -> Array:
    lines = parts.lines
    tube = line_loss(
        flow, lines.feed_bore, lines.feed_length, parts.density, fuel_viscosity(parts.ethanol_share)
    )
    return np.asarray(tube + scaled_loss(flow, lines.filter_loss, lines.filter_flow))


def _return_loss(parts: FuelParts, flow: Array) -> Array:
    """Of the open regulator, and of the return line where there is one."""
    seat = orifice_loss(flow, parts.regulator.seat_area, parts.density)
    if parts.regulator.reference is Reference.TANK:
        return seat
    lines = parts.lines
    viscosity = fuel_viscosity(parts.ethanol_share)
    return np.asarray(
        seat + line_loss(flow, lines.return_bore, lines.return_length, parts.density, viscosity)
    )


def _root(function: Callable[[Array], Array], low: Array, high: Array, what: str) -> Array:
    """A root that is known to lie between; a falling function that is below zero at `low` has it there."""
    found = bracketed_root(function, low, high, rtol=1e-9)
    at_low = np.asarray(function(low)) <= 0.0
    if not np.all(found.closed | at_low):
        raise NotConverged(f"{what} did not settle at {int(np.sum(~(found.closed | at_low)))} points.")
    return np.asarray(np.where(at_low, low, found.x))


def _pump_through_line(parts: FuelParts, gauge: Array) -> Array:
    """Flow [m3/s] that the pump pushes through filter and feed line into a rail at ``gauge`` [Pa over the
    tank].
    """
    volts = parts.pump_voltage

    def surplus(flow: Array) -> Array:
        return pump_flow(parts.pump, gauge + _feed_loss(parts, flow), volts) - flow

    most = pump_flow(parts.pump, gauge, volts)
    return _root(surplus, np.full_like(most, _SHUT), np.maximum(most, 2 * _SHUT), "The pump's flow")


def fuel_line(
    parts: FuelParts,
    fuel_flow: ArrayLike,
    plenum_pressure: ArrayLike,
    speed: ArrayLike,
    ambient_pressure: ArrayLike,
    lam: ArrayLike = 1.0,
    full_flow: ArrayLike | None = None,
) -> FuelLine:
    """The fuel side along an operating line.

    fuel_flow: that the engine asks for, of the whole engine [kg/s]. plenum_pressure: [Pa absolute]. speed: of
    the crank [rad/s]. ambient_pressure: at tank and regulator [Pa absolute]. lam: wanted [-]. full_flow: at
    which the stated droop holds [kg/s], one or one each; None for the greatest of ``fuel_flow``. All
    broadcast to (n,).

    The controller opens the injectors for the pressure that the regulator ought to hold. Where the pump does
    not fill the rail, the pressure falls until pump and injectors pass the same; where an injector would have
    to stay open longer than two turns, it passes what it can: both make the mixture leaner, and `lam` says
    how lean. NaN in, NaN out.
    """
    wanted, plenum, omega, ambient, lam_set = _arrays(
        parts, fuel_flow, plenum_pressure, speed, ambient_pressure, lam
    )
    good = np.isfinite(wanted) & np.isfinite(plenum) & np.isfinite(omega) & (wanted > 0.0)
    wanted = np.where(good, wanted, 1.0e-6)
    plenum = np.where(good, plenum, ambient)
    omega = np.where(good, omega, 100.0)
    full = np.max(wanted) if full_flow is None else np.asarray(full_flow, dtype=np.float64)
    regulator, injectors = parts.regulator, parts.injectors
    need = wanted / parts.density
    in_tank = regulator.reference is Reference.TANK
    set_difference = rail_difference(
        regulator.reference,
        regulator.pressure,
        plenum,
        ambient,
        regulator.droop * np.minimum(wanted / full, 1.0),
        _feed_loss(parts, need) if in_tank else 0.0,
    )
    gauge = set_difference + plenum - ambient  # of the rail at its set pressure, over the tank
    if in_tank:
        pressure = gauge + _feed_loss(parts, need)
        available, feed_flow = pump_flow(parts.pump, pressure, parts.pump_voltage), need
    else:
        available = _pump_through_line(parts, gauge)
        feed_flow = available
        pressure = gauge + _feed_loss(parts, feed_flow)
    difference = _sagged(parts, need, set_difference, plenum - ambient, available)

    turns = 4.0 * np.pi / omega
    each = wanted * turns / injectors.count
    meant = _injector(parts, set_difference)
    flow = _injector(parts, difference)
    with np.errstate(divide="ignore"):
        open_time = np.where(meant > 0.0, each / np.maximum(meant, 1e-12), np.inf)
    lag = dead_time(
        injectors.voltage,
        set_difference,
        injectors.dead_time,
        injectors.dead_time_slope,
        injectors.dead_time_difference,
    )
    reached = np.minimum(open_time, turns) * flow * injectors.count / turns
    with np.errstate(divide="ignore"):
        mixture = lam_set * wanted / np.where(reached > 0.0, reached, 0.0)
    line = FuelLine(
        set_difference=set_difference,
        difference=difference,
        rail_pressure=plenum + difference,
        injector_flow=flow,
        open_time=open_time,
        dead_time=lag,
        duty=(open_time + lag) / turns,
        need=need,
        feed_flow=feed_flow,
        feed_loss=_feed_loss(parts, feed_flow),
        pump_pressure=pressure,
        pump_available=available,
        pump_margin=available / need,
        fuel_flow=reached,
        lam=mixture,
    )
    return FuelLine(*(np.where(good, values, np.nan) for values in line))


def _injector(parts: FuelParts, difference: Array) -> Array:
    i = parts.injectors
    return delivered_mass_flow(i.flow, difference, parts.density, i.rated_difference, i.test_density)


def _sagged(parts: FuelParts, need: Array, meant: Array, boost: Array, available: Array) -> Array:
    """Pressure across the injectors [Pa] where the pump gives less than the engine takes; `meant` elsewhere.

    The injectors take need sqrt(dp/dp_set); the pump gives what its curve says at rail and line.
    """
    short = (available < need) & (meant > 0.0)
    if not short.any():
        return meant

    def surplus(difference: Array) -> Array:
        taken = need * np.sqrt(np.maximum(difference, 0.0) / np.maximum(meant, 1.0))
        gauge = difference + boost + _feed_loss(parts, taken)
        given = pump_flow(parts.pump, gauge, parts.pump_voltage)
        return np.where(short, given - taken, meant - difference)  # elsewhere the root is `meant` itself

    return np.where(short, _root(surplus, np.zeros_like(meant), meant, "The sagging rail"), meant)


def idle_rail(
    parts: FuelParts, fuel_flow: ArrayLike, plenum_pressure: ArrayLike, ambient_pressure: ArrayLike
) -> IdleRail:
    """The rail at idle: what the pump gives and the engine does not take must pass regulator and return.

    Arguments as in `fuel_line`. Where the open regulator and the return line take more pressure at that flow
    than the regulator is set to, the rail climbs until pump, seat and line agree.
    """
    taken, plenum, ambient = _arrays(parts, fuel_flow, plenum_pressure, ambient_pressure)
    regulator, injectors = parts.regulator, parts.injectors
    engine = taken / parts.density
    in_tank = regulator.reference is Reference.TANK
    meant = rail_difference(regulator.reference, regulator.pressure, plenum, ambient)
    gauge = np.maximum(meant + plenum - ambient, 0.0)
    given = pump_flow(parts.pump, gauge, parts.pump_voltage) if in_tank else _pump_through_line(parts, gauge)
    surplus = np.maximum(given - engine, 0.0)
    over = _return_loss(parts, surplus) > gauge
    if over.any():

        def excess(flow: Array) -> Array:
            rail = _return_loss(parts, np.maximum(flow - engine, 0.0))
            feed = 0.0 if in_tank else _feed_loss(parts, flow)
            return pump_flow(parts.pump, rail + feed, parts.pump_voltage) - flow

        most = pump_flow(parts.pump, 0.0, parts.pump_voltage) * np.ones_like(engine)
        flow = _root(excess, np.maximum(engine, _SHUT), np.maximum(most, 2 * _SHUT), "The return flow")
        surplus = np.where(over, np.maximum(flow - engine, 0.0), surplus)
    climbed = np.where(over, np.maximum(_return_loss(parts, surplus) - gauge, 0.0), 0.0)
    lag = dead_time(
        injectors.voltage,
        meant + climbed,
        injectors.dead_time,
        injectors.dead_time_slope,
        injectors.dead_time_difference,
    )
    return IdleRail(meant, meant + climbed, climbed, surplus, lag)


def idle_pulse(
    parts: FuelParts,
    fuel_flow: ArrayLike,
    speed: ArrayLike,
    plenum_pressure: ArrayLike,
    ambient_pressure: ArrayLike,
) -> Array:
    """Pulse at light load, dead time included [s]: the smallest that the injector must repeat.

    fuel_flow: of the whole engine [kg/s]; the rest as in `fuel_line`.
    """
    rail = idle_rail(parts, fuel_flow, plenum_pressure, ambient_pressure)
    each = np.asarray(fuel_flow) * 4.0 * np.pi / np.asarray(speed) / parts.injectors.count
    return np.asarray(each / _injector(parts, rail.difference) + rail.dead_time)
