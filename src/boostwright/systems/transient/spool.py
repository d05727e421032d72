"""The transient itself: many lanes side by side, each one pull of one variant of turbo and engine.

State of a lane: shaft speed, plenum pressure, two wall temperatures of the exhaust, gate area, crank speed.
Compressor, turbine and engine are quasi-steady at each moment; what takes time is the shaft's inertia, the
charge volume, the exhaust walls, the gate and the car.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.physics.driveline import acceleration, road_load
from boostwright.physics.nozzle import flow_function
from boostwright.physics.shaft import charge_volume_rate, shaft_acceleration
from boostwright.physics.turbine import (
    ExhaustGas,
    TurbineRecipe,
    bearing_loss,
    blade_speed_ratio,
    inlet_pressure_for_flow,
    smooth_flow_constant,
    turbine_efficiency,
)
from boostwright.systems.transient.charging import ChargeTable
from boostwright.systems.transient.engine_surface import EngineSurface
from boostwright.systems.transient.records import Car, HeatLag
from boostwright.systems.turbo import Ambient, TurboParts

__all__ = [
    "Gate",
    "HeatLag",
    "Lanes",
    "Moment",
    "Run",
    "State",
    "Trace",
    "moment_of",
    "run_lanes",
    "surplus_at",
]

Array = NDArray[np.float64]

_FIRST_ROUNDS: Final = 3  # of flow and exhaust pressure against each other, when nothing is known yet
_BRAKE: Final = -0.5  # of the surplus, taken from the shaft at most where boost is above the goal
_SHARE_EXPONENT: Final = 0.4  # of the turbine's share of the gas with its power
_SHARE_ROUNDS: Final = 4
_LOOK_ON: Final = 1.0  # after the last arrival, to see the boost overshoot [s]
_LEAST_DROP: Final = 1e-6  # of p3 over p4, so that the logarithm stays real


@dataclass(frozen=True, slots=True)
class Lanes:
    """What tells the lanes apart; arrays of shape (n,). A lane without a gear has a total ratio of zero."""

    which: NDArray[np.int64]  # map of the charge table
    turbine_area: Array  # effective [m2]
    turbine_wheel: Array  # inlet diameter [m]
    turbine_peak: Array  # best efficiency [-]
    turbine_best: Array  # blade speed ratio of it [-]
    bearing: Array  # factor on the bearing loss [-]
    inertia: Array  # of the turbo's shaft [kg m2]
    ratio: Array  # gear times final drive; 0 where the crank follows `rate` [-]
    m_eff: Array  # [kg]
    rate: Array  # of the crank where no gear is in [rad/s2]


class Pressures(NamedTuple):
    """What a gate feels, each of shape (n,)."""

    plenum: Array  # [Pa]
    outlet: Array  # after the compressor [Pa]
    inlet: Array  # before the turbine [Pa]
    back: Array  # behind it [Pa]


Gate = Callable[[Pressures], Array]
"""Effective area that the gate would have at rest under these pressures [m2]."""


@dataclass(frozen=True, slots=True)
class Run:
    """What all lanes share."""

    parts: TurboParts
    ambient: Ambient
    surface: EngineSurface
    table: ChargeTable
    gas: ExhaustGas
    exponent: float  # of the turbine's swallowing [-]
    lag: HeatLag
    gate: Gate | None  # None: control holds the goal exactly
    gate_time: float  # lag of the gate [s]
    goal: float  # plenum pressure [Pa]
    band: float  # below the goal, in which control takes the surplus of power back [Pa]
    step: float  # of time [s]
    volume: float  # from compressor to intake valves [m3]
    least_speed: float  # of the shaft [rad/s]
    top_speed: float  # of the crank [rad/s]
    car: Car | None = None


class State(NamedTuple):
    """The unknowns, each of shape (n,), or (k, n) over time."""

    shaft: Array  # [rad/s]
    plenum: Array  # [Pa]
    fast_wall: Array  # [K]
    slow_wall: Array  # [K]
    gate: Array  # effective area [m2]
    crank: Array  # [rad/s]


class Moment(NamedTuple):
    """What the lanes do at one moment, shape (n,)."""

    rates: State  # of the unknowns, per second
    turbine: Array  # power [W]
    compressor: Array  # power [W]
    friction: Array  # of the bearings [W]
    exhaust: Array  # pressure before the turbine [Pa]
    temperature: Array  # before the turbine [K]
    torque: Array  # at the crank [N m]
    air: Array  # into the engine [kg/s]
    air_over_pressure: Array  # of the plenum [kg/s/Pa]
    crank: Array  # [rad/s]


class Trace(NamedTuple):
    """A run over time."""

    time: Array  # (k,) [s]
    state: State  # (k, n)
    moments: list[Moment]  # k of them


def run_lanes(
    run: Run, lanes: Lanes, start: State, duration: float, step: float, until: float | None = None
) -> Trace:
    """Follow all lanes for a duration [s] in fixed steps [s].

    Heun's method for what is slow; the plenum, which answers within milliseconds on a flat speed line, takes
    a backward step of its own (`ChargeTable.settle`) after the shaft. Lanes whose crank has passed the top
    speed stand still. until: plenum pressure [Pa]; a second after every lane has been above it or stands
    still, nothing more is followed.
    """
    state = start
    states, moments = [state], [moment_of(run, lanes, state)]
    reached, enough = np.zeros(start.shaft.shape, dtype=bool), np.inf
    for k in range(int(np.ceil(duration / step))):
        now = moments[-1]
        ahead = _stepped(run, lanes, state, now.rates, now, step)
        there = moment_of(run, lanes, ahead, now.exhaust)
        mean = State(*((a + b) / 2 for a, b in zip(now.rates, there.rates, strict=True)))
        new = _stepped(run, lanes, state, mean, there, step)
        going = state.crank < run.top_speed
        state = State(*(np.where(going, a, b) for a, b in zip(new, state, strict=True)))
        states.append(state)
        moments.append(moment_of(run, lanes, state, there.exhaust))
        if until is not None:
            reached |= (state.plenum >= until) | (state.crank >= run.top_speed)
            if reached.all() and enough == np.inf:
                enough = (k + 1) * step + _LOOK_ON
            if (k + 1) * step >= enough:
                break
    columns = (np.array(column) for column in zip(*states, strict=True))
    return Trace(np.arange(len(states)) * np.float64(step), State(*columns), moments)


def _stepped(run: Run, lanes: Lanes, state: State, rates: State, engine: Moment, step: float) -> State:
    """The state a step later with these rates; the plenum by its own balance."""
    shaft = np.maximum(state.shaft + step * rates.shaft, run.least_speed)
    crank = state.crank + step * rates.crank
    drawn = engine.air_over_pressure * crank / engine.crank
    plenum = run.table.settle(lanes.which, shaft, state.plenum, drawn, run.volume, step)
    return State(
        shaft,
        plenum,
        state.fast_wall + step * rates.fast_wall,
        state.slow_wall + step * rates.slow_wall,
        np.maximum(state.gate + step * rates.gate, 0.0),
        crank,
    )


def moment_of(run: Run, lanes: Lanes, state: State, exhaust: Array | None = None) -> Moment:
    """Rates and powers of all lanes in one state; exhaust: pressure of the moment before, where known [Pa].

    Flow hangs weakly on exhaust pressure, by a tenth of its change, so one round from there is enough.
    """
    parts = run.parts
    charge = run.table.at(lanes.which, state.shaft, state.plenum)
    values = run.surface.at(state.crank, state.plenum)
    friction = lanes.bearing * bearing_loss(state.shaft, parts.shaft, parts.bearing, parts.turbine_recipe)

    rounds = 1 if exhaust is not None else _FIRST_ROUNDS
    exhaust = np.maximum(state.plenum, run.ambient.pressure) if exhaust is None else exhaust
    for _ in range(rounds):
        engine = run.surface.answer(values, state.crank, state.plenum, charge.temperature, exhaust)
        share = run.lag.share(engine.exhaust_flow)
        settled = engine.exhaust_temperature
        walls = run.lag.fast_share * state.fast_wall + (1 - run.lag.fast_share) * state.slow_wall
        hot = settled - share * (settled - walls)
        behind = _behind_turbine(run, engine.exhaust_flow, hot, charge.power + friction)
        turbine = _turbine(run, lanes, state, values, engine.exhaust_flow, hot, behind)
        if run.gate is None:
            turbine = _held(run, lanes, state, turbine, charge.power + friction, hot, behind)
        exhaust = turbine.pressure

    surplus = turbine.power - charge.power - friction
    spin = shaft_acceleration(surplus, state.shaft, lanes.inertia)
    spin = np.where((state.shaft <= run.least_speed) & (spin < 0), 0.0, spin)
    fill = charge_volume_rate(charge.flow, engine.air, charge.temperature, run.volume)
    gate = np.zeros(spin.shape)
    if run.gate is not None:
        wanted = run.gate(Pressures(state.plenum, charge.outlet_pressure, exhaust, behind))
        gate = (np.asarray(wanted) - state.gate) / run.gate_time
    rates = State(
        spin,
        fill,
        (settled - state.fast_wall) / run.lag.fast_time,
        (settled - state.slow_wall) / run.lag.slow_time,
        gate,
        _crank_rate(run, lanes, state.crank, engine.torque),
    )
    return Moment(
        rates, turbine.power, charge.power, friction, exhaust, hot, engine.torque, engine.air,
        engine.air / state.plenum, state.crank,
    )  # fmt: skip


def _crank_rate(run: Run, lanes: Lanes, crank: Array, torque: Array) -> Array:
    """How fast the crank gains speed [rad/s2]: with the car in a gear, or as told."""
    geared, car = lanes.ratio > 0, run.car
    if car is None or not geared.any():
        return lanes.rate
    ratio = np.where(geared, lanes.ratio, 1.0)
    density = run.ambient.pressure / (287.05 * run.ambient.temperature)
    load = road_load(crank * car.radius / ratio, car.mass, car.drag_area, car.rolling, density)
    a = acceleration(np.nan_to_num(torque), ratio, car.radius, car.efficiency, load, lanes.m_eff)
    return np.asarray(np.where(geared, a * ratio / car.radius, lanes.rate))


def _behind_turbine(run: Run, flow: Array, hot: Array, taken: Array) -> Array:
    """Pressure behind the turbine [Pa]; see `turbo._turbine_outlet_pressure`."""
    cooled = np.maximum(hot - taken / (flow * run.gas.cp(hot)), 0.5 * hot)
    product = run.parts.exhaust.at(flow, 1.0)
    return np.asarray(np.sqrt(run.ambient.pressure**2 + 2 * np.asarray(run.gas.R) * cooled * product))


class _Turbine(NamedTuple):
    pressure: Array  # before it [Pa]
    power: Array  # [W]
    per_work: Array  # power over drop and efficiency with all the gas: flow and pulses [kg/s]


def _turbine(
    run: Run, lanes: Lanes, state: State, values: Array, flow: Array, hot: Array, behind: Array
) -> _Turbine:
    """Exhaust pressure at which turbine and gate pass the flow together, and the turbine's power."""
    gas, recipe = run.gas, run.parts.turbine_recipe
    pulse_flow, pulse_power = run.surface.pulses(values)
    area = lanes.turbine_area * pulse_flow
    pressure = inlet_pressure_for_flow(flow, area, hot, behind, gas, run.exponent)
    share = np.ones(flow.shape)
    if np.any(state.gate > 0):
        gamma = gas.gamma(hot)
        smooth = smooth_flow_constant(gas, hot, run.exponent)
        for _ in range(2):  # the gate as so much turbine area; one throat chokes before two in series do
            x = np.minimum(behind / pressure, 1 - _LEAST_DROP)
            alike = flow_function(x, gamma) / (smooth * np.sqrt(1 - x**run.exponent))
            share = area / (area + state.gate * alike)
            pressure = inlet_pressure_for_flow(flow, area / share, hot, behind, gas, run.exponent)
    drop = _drop(gas, hot, pressure / behind)
    efficiency = _efficiency(lanes, state.shaft, drop, recipe)
    per_work = pulse_power * flow
    return _Turbine(pressure, per_work * share * drop * efficiency, per_work)


def _held(
    run: Run, lanes: Lanes, state: State, shut: _Turbine, taken: Array, hot: Array, behind: Array
) -> _Turbine:
    """The turbine under control that holds the goal: in the band below it, surplus is bled off at the gate.

    The share of the flow that goes through the turbine is found from the power allowed, which rises with
    about the 2.5th power of the share (flow times a drop that rises with the square of flow).
    """
    surplus = shut.power - taken
    # Boost goes about with the square of shaft speed: what the surplus alone would add in two steps is the
    # narrowest band that steps of this length can follow.
    boost = np.maximum(state.plenum - run.ambient.pressure, 0.0)
    rising = 2 * boost * np.maximum(surplus, 0.0) / (lanes.inertia * state.shaft**2)
    band = np.maximum(run.band, 2 * run.step * rising)
    left = np.clip((run.goal - state.plenum) / band, _BRAKE, 1.0)
    holding = (left < 1) & (surplus > 0)
    if not holding.any():
        return shut
    allowed = np.where(holding, np.maximum(taken + left * surplus, 0.05 * shut.power), shut.power)
    ratio = allowed / shut.power
    opening = np.maximum(shut.pressure**2 - behind**2, 1.0)
    share = ratio**_SHARE_EXPONENT
    for _ in range(_SHARE_ROUNDS):
        pressure = np.sqrt(behind**2 + share**2 * opening)
        drop = _drop(run.gas, hot, pressure / behind)
        efficiency = _efficiency(lanes, state.shaft, drop, run.parts.turbine_recipe)
        power = shut.per_work * share * drop * efficiency
        share = np.minimum(share * (allowed / power) ** _SHARE_EXPONENT, 1.0)
    pressure = np.sqrt(behind**2 + share**2 * opening)
    return _Turbine(np.where(holding, pressure, shut.pressure), allowed, shut.per_work)


def _drop(gas: ExhaustGas, hot: Array, ratio: Array) -> Array:
    """Isentropic drop with the heat capacity half way, within 1e-3 of `turbine.isentropic_drop` [J/kg]."""
    log = np.log(np.maximum(ratio, 1 + _LEAST_DROP))
    R = np.asarray(gas.R)
    cold = hot * np.exp(-R * log / gas.cp(hot))
    cp = gas.cp((hot + cold) / 2)
    return np.asarray(-cp * hot * np.expm1(-R * log / cp))


def _efficiency(lanes: Lanes, shaft: Array, drop: Array, recipe: TurbineRecipe) -> Array:
    """Turbine efficiency, falling to the recipe's floor where the wheel outruns the gas."""
    ratio = blade_speed_ratio(shaft, lanes.turbine_wheel, drop) / lanes.turbine_best
    return turbine_efficiency(ratio * recipe.best_speed_ratio, lanes.turbine_peak, recipe)


def surplus_at(run: Run, lanes: Lanes, shaft: Array, air: float, exhaust_flow: float, hot: float) -> Array:
    """Power left over for the shaft at shaft speeds (k,) [rad/s] with the first lane's turbine [W].

    The throttle holds the flow: the compressor passes air [kg/s], the turbine exhaust_flow [kg/s] at hot [K].
    """
    parts, gas = run.parts, run.gas
    power = run.table.power_at(int(lanes.which[0]), shaft, air)
    taken = power + lanes.bearing[0] * bearing_loss(shaft, parts.shaft, parts.bearing, parts.turbine_recipe)
    flow, T = np.full(shaft.shape, exhaust_flow), np.full(shaft.shape, hot)
    behind = _behind_turbine(run, flow, T, taken)
    pressure = inlet_pressure_for_flow(flow, lanes.turbine_area[0], T, behind, gas, run.exponent)
    drop = _drop(gas, T, pressure / behind)
    ratio = blade_speed_ratio(shaft, lanes.turbine_wheel[0], drop) / lanes.turbine_best[0]
    recipe = parts.turbine_recipe
    efficiency = turbine_efficiency(ratio * recipe.best_speed_ratio, lanes.turbine_peak[0], recipe)
    return np.asarray(flow * drop * efficiency - taken)
