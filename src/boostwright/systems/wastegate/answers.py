"""Everything that is judged of a gate along one line."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.wastegate import lift_for_area
from boostwright.systems.wastegate.gate import Control, Gate, spring_for_area
from boostwright.systems.wastegate.held import (
    GateStatus,
    Held,
    deviation,
    duty_to_hold,
    held_pressure,
    opening_pressure,
    pressure_gate_open,
    variants,
)
from boostwright.systems.wastegate.line import GateLine, line_at

__all__ = ["GateAnswers", "controlled_pressure", "gate_answers"]

Array = NDArray[np.float64]


class GateAnswers(NamedTuple):
    """Arrays of shape (n,), one entry for each engine speed; boost is plenum pressure above ambient [Pa]."""

    gate: Gate
    boost_asked: Array
    boost_spring_only: Array  # with the plain hose
    boost_spring_only_sd: Array  # from the gate's own spread
    boost_fall: Array  # of that, below the highest at any lower speed at which the spring holds; at least 0
    boost_fall_sd: Array
    boost_crack: Array  # at which the valve leaves its seat with the plain hose; NaN where it stays on it
    boost_gate_open: Array  # with the valve on its stop: this port holds no less
    boost_gate_open_sd: Array  # from the gate's own spread
    boost_control_top: Array  # with the greatest opening of the valve in the signal line
    boost_control_top_sd: Array  # from the gate's own spread
    boost_held: Array  # that stands: asked for where it lies between the two, else the nearer of them
    gate_lift: Array  # at the boost that stands [m]
    gate_area: Array  # effective, there [m2]
    gate_at_stop: NDArray[np.bool_]  # there
    gate_area_needed: (
        Array  # that would hold the boost asked for; not above 0 where the turbine is short [m2]
    )
    gate_area_needed_sd: Array  # of it, from what is not known of the turbo [m2]
    gate_area_most: float  # effective, valve on its stop [m2]
    spring_for_goal: Array  # bench pressure of a spring that alone holds the boost asked for; NaN where none
    spring_for_even: Array  # the same for the highest boost of any lower speed, from which it falls
    spring_for_goal_top: Array  # the same at the greatest duty: no softer spring reaches it
    gate_duty: Array  # that holds the boost asked for; NaN where none does [-]
    status: NDArray[np.int64]  # GateStatus at the boost that stands
    spring_status: NDArray[np.int64]  # the same with the plain hose
    top_status: NDArray[np.int64]  # the same at the greatest opening of the valve in the signal line


def controlled_pressure(
    gate: Gate, line: GateLine, ambient_pressure: float, goal_pressure: ArrayLike, upper: bool = True
) -> Held:
    """Plenum pressure that stands when a controller aims at a goal, shape (n,).

    Between what the spring alone holds and what the greatest duty holds it is the goal; outside it is the
    nearer of the two. With a plain hose it is the spring's, with a bleed set by hand that of its setting.

    goal_pressure: plenum, one or one for each speed [Pa]; the rest as `held_pressure`.
    """
    spring = held_pressure(gate, line, ambient_pressure, upper, duty=0.0)
    top = held_pressure(gate, line, ambient_pressure, upper, duty=gate.most_duty)
    return _aimed(gate, line, spring, top, np.asarray(goal_pressure, dtype=np.float64))


def _aimed(gate: Gate, line: GateLine, spring: Held, top: Held, goal: Array) -> Held:
    if gate.control is Control.SPRING:
        return spring
    if gate.duty is not None:
        return top
    pressure = np.clip(goal, spring.pressure, top.pressure)
    free = (pressure > spring.pressure) & (pressure < top.pressure)
    low = pressure <= spring.pressure
    area = line_at(line, pressure).needed
    lift = np.minimum(lift_for_area(area, gate.port_diameter, gate.flow), gate.most_lift)
    return Held(
        pressure,
        np.where(free, lift, np.where(low, spring.lift, top.lift)),
        np.where(free, area, np.where(low, spring.area, top.area)),
        np.where(free, int(GateStatus.HELD), np.where(low, spring.status, top.status)).astype(np.int64),
    )


def _sides(at: GateLine) -> tuple[Array, Array, Array, Array, Array, Array]:
    return at.plenum, at.outlet, at.exhaust, at.turbine_outlet, at.needed, at.pulse


def _fall(held: Held, n: int) -> Array:
    """How far each pressure lies below the highest of a lower speed, where the spring holds; 0 elsewhere.

    held: one or more lines of n speeds, one after the other.
    """
    on_spring = (held.status == GateStatus.HELD).reshape(-1, n)
    pressure = held.pressure.reshape(-1, n)
    highest = np.fmax.accumulate(np.where(on_spring, pressure, np.nan), axis=1)
    return np.where(on_spring, highest - pressure, 0.0).ravel()


def gate_answers(
    gate: Gate,
    line: GateLine,
    ambient_pressure: float,
    goal_pressure: ArrayLike,
    upper: bool = True,
    needed_sd: ArrayLike = 0.0,
) -> GateAnswers:
    """Everything that is judged of the gate along one line.

    gate, line, ambient_pressure, upper: as `held_pressure`. goal_pressure: plenum pressure asked for, one or
    one for each speed [Pa]. needed_sd: standard deviation of the area needed [m2].
    """
    goal = np.array(np.broadcast_to(np.asarray(goal_pressure, dtype=np.float64), line.plenum.shape[1:]))
    gates, lines = variants(gate, line, needed_sd)

    def first_of(held: Held) -> Held:
        n = goal.size
        return Held(held.pressure[:n], held.lift[:n], held.area[:n], held.status[:n])

    def spread_of(values: Array) -> Array:
        return deviation(values.reshape(-1, goal.size))

    springs = held_pressure(gates, lines, ambient_pressure, upper, duty=0.0)
    tops = springs
    if gate.control is not Control.SPRING:
        tops = held_pressure(gates, lines, ambient_pressure, upper, duty=gate.most_duty)
    opened = pressure_gate_open(gates, lines, upper)
    falls = _fall(springs, goal.size)
    spring, top = first_of(springs), first_of(tops)
    held, at = _aimed(gate, line, spring, top, goal), line_at(line, goal)
    sides = _sides(at)
    before = _sides(line_at(line, spring.pressure + falls[: goal.size]))
    return GateAnswers(
        gate=gate,
        boost_asked=goal - ambient_pressure,
        boost_spring_only=spring.pressure - ambient_pressure,
        boost_spring_only_sd=spread_of(springs.pressure),
        boost_fall=falls[: goal.size],
        boost_fall_sd=np.nan_to_num(spread_of(falls)),
        boost_crack=opening_pressure(gate, line, ambient_pressure) - ambient_pressure,
        boost_gate_open=first_of(opened).pressure - ambient_pressure,
        boost_gate_open_sd=spread_of(opened.pressure),
        boost_control_top=top.pressure - ambient_pressure,
        boost_control_top_sd=spread_of(tops.pressure),
        boost_held=held.pressure - ambient_pressure,
        gate_lift=held.lift,
        gate_area=held.area,
        gate_at_stop=np.asarray(held.status == GateStatus.AT_STOP),
        gate_area_needed=at.needed,
        gate_area_needed_sd=np.array(np.broadcast_to(np.asarray(needed_sd, dtype=np.float64), goal.shape)),
        gate_area_most=float(gate.most_area),
        spring_for_goal=spring_for_area(gate, ambient_pressure, *sides),
        spring_for_even=spring_for_area(gate, ambient_pressure, *before),
        spring_for_goal_top=spring_for_area(gate, ambient_pressure, *sides, duty=gate.most_duty),
        gate_duty=duty_to_hold(gate, line, ambient_pressure, goal),
        status=held.status,
        spring_status=spring.status,
        top_status=top.status,
    )
