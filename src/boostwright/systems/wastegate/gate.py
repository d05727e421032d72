"""One wastegate as a record, and what it opens at given pressures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from typing import Any, Final, NamedTuple, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.wastegate import (
    Actuator,
    GateFlow,
    bleed_share,
    duty_for_opening,
    free_travel,
    gate_area,
    lift_for_area,
    opening_between_orifices,
    opening_of_duty,
    signal_between_orifices,
    signal_pressure,
    signal_pressure_for_travel,
    valve_lift,
)

__all__ = [
    "Control",
    "Gate",
    "GateOpening",
    "GateSpread",
    "GateState",
    "Pressures",
    "Tap",
    "duty_for_area",
    "gate_state",
    "spring_for_area",
    "stacked",
]

Array = NDArray[np.float64]

_WIDE_OPEN: Final = 1.0  # duty [-]


class Control(IntEnum):
    """What stands in the signal line."""

    SPRING = 0  # a plain hose
    BLEED = 1  # a restrictor and a vent behind it, pulsed or set by hand
    THREE_PORT = 2  # a valve between signal and open air


class Tap(IntEnum):
    """Where the signal is taken."""

    COMPRESSOR_OUTLET = 0
    PLENUM = 1


class Pressures(Protocol):
    """What a gate reads of the turbo's operating points; arrays of one shape."""

    @property
    def plenum_pressure(self) -> Array:
        """[Pa]."""

    @property
    def outlet_pressure(self) -> Array:
        """After the compressor [Pa]."""

    @property
    def exhaust_pressure(self) -> Array:
        """[Pa]."""

    @property
    def turbine_outlet_pressure(self) -> Array:
        """[Pa]."""


class GateOpening(NamedTuple):
    """How far a gate stands open; arrays."""

    lift: Array  # of the valve [m]
    area: Array  # effective, discharge included [m2]
    at_stop: NDArray[np.bool_]  # the rod has no travel left


@dataclass(frozen=True, slots=True)
class GateSpread:
    """One standard deviation of each value of a gate, in the same units."""

    bench_crack: float = 0.0
    bench_full: float = 0.0
    rate: float = 0.0
    diaphragm_area: float = 0.0
    area_fall: float = 0.0
    port_diameter: float = 0.0
    rod_travel: float = 0.0
    rod_arm: float = 0.0
    valve_arm: float = 0.0
    curtain: float = 0.0
    port: float = 0.0
    hysteresis: float = 0.0  # of the signal about the middle between opening and closing [Pa]
    pulse_share: float = 0.0
    gain: float = 0.0
    dead: float = 0.0
    full: float = 0.0


@dataclass(frozen=True, slots=True)
class Gate:
    """One wastegate. SI units; the arms are about the valve's shaft, 1 and 1 for a valve that sits on the
    rod.
    """

    bench_crack: float  # signal above ambient at which the rod first moves, nothing on the valve [Pa]
    diaphragm_area: float  # effective, valve shut [m2]
    port_diameter: float  # seat of the valve [m]
    rod_travel: float  # to the stop [m]
    flow: GateFlow
    rate: float = 0.0  # of the spring; not used where bench_full is given [N/m]
    bench_full: float | None = None  # signal above ambient at full travel, nothing on the valve [Pa]
    area_fall: float = 0.0  # share of the diaphragm's area lost over the travel; bench_full holds it [-]
    rod_arm: float = 1.0  # [m]
    valve_arm: float = 1.0  # [m]
    stem_area: float = 0.0  # on which the exhaust acts against the outside air [m2]
    friction: float = 0.0  # at the rod, positive against opening [N]
    control: Control = Control.SPRING
    duty: float | None = None  # fixed by hand; None where a controller finds it [-]
    tap: Tap = Tap.COMPRESSOR_OUTLET
    gain: float = 1.0  # share of the signal lost with the valve in the line wide open [-]
    vent_over_inlet: float | None = None  # areas of a bleed's two orifices; replaces the gain where given [-]
    dead: float = 0.0  # duty below which the valve in the line does nothing [-]
    full: float = 1.0  # duty above which it does no more [-]
    pulse_share: float = 0.3  # of the exhaust pulses' height above the mean that the valve feels [-]
    spread: GateSpread = GateSpread()

    @property
    def preload(self) -> float:
        """F0 [N]: a label names what a hand pump shows on the bench, so it is that times the diaphragm."""
        return self.bench_crack * self.diaphragm_area

    @property
    def actuator(self) -> Actuator:
        """The record for the force balance.

        A bench reading at full travel holds the fall of the diaphragm's area already: it makes an apparent
        rate.
        """
        rate, fall = self.rate, self.area_fall
        if self.bench_full is not None:
            rate = (self.bench_full - self.bench_crack) * self.diaphragm_area / self.rod_travel
            fall = 0.0
        return Actuator(
            F0=self.preload,
            k_s=rate,
            A_d=self.diaphragm_area,
            A_v=np.pi / 4 * self.port_diameter**2,
            x_max=self.rod_travel,
            a=self.rod_arm,
            b=self.valve_arm,
            fall=fall,
            A_stem=self.stem_area,
        )

    @property
    def most_lift(self) -> float:
        """Lift of the valve on its stop [m]."""
        return self.rod_travel * self.valve_arm / self.rod_arm

    @property
    def most_area(self) -> Array:
        """Effective area with the valve on its stop [m2]; a number as an array without dimension."""
        return gate_area(self.most_lift, self.port_diameter, self.flow)

    @property
    def most_duty(self) -> float:
        """Greatest duty in the signal line: what is set by hand, else wide open; none with a plain hose
        [-].
        """
        if self.control is Control.SPRING:
            return 0.0
        return _WIDE_OPEN if self.duty is None else self.duty

    @property
    def held_back(self) -> bool:
        """Whether a controller can take pressure off the diaphragm, and so hold more than the spring does."""
        return self.control is not Control.SPRING and self.duty is None

    def opening(
        self, point: Pressures, ambient_pressure: ArrayLike, least: bool, pulse: ArrayLike = 0.0
    ) -> GateOpening:
        """Opening at points of the turbo.

        point, ambient_pressure, pulse: see `gate_state`. least: with all taken off the diaphragm that the
        controller can; else with nothing taken off, or what is set by hand.
        """
        state = gate_state(
            self,
            ambient_pressure,
            point.plenum_pressure,
            point.outlet_pressure,
            point.exhaust_pressure,
            point.turbine_outlet_pressure,
            pulse,
            _WIDE_OPEN if least and self.held_back else None,
        )
        return GateOpening(state.lift, state.area, np.asarray(state.travel >= self.rod_travel))

    def lift_for(self, area: ArrayLike) -> Array:
        """Lift at which the valve has an effective area [m2], at most that on its stop [m]."""
        return np.minimum(lift_for_area(area, self.port_diameter, self.flow), self.most_lift)

    def tapped(self, plenum: ArrayLike, outlet: ArrayLike) -> Array:
        """Pressure where the signal is taken [Pa]."""
        return np.asarray(plenum if self.tap is Tap.PLENUM else outlet, dtype=np.float64)

    def signal(self, tapped: ArrayLike, ambient_pressure: ArrayLike, duty: ArrayLike | None) -> Array:
        """Pressure at the diaphragm [Pa] at a duty; None is the gate's own, and none where it has none."""
        if duty is None:
            duty = 0.0 if self.duty is None else self.duty
        if self.control is Control.SPRING:
            return np.asarray(tapped, dtype=np.float64)
        opening = opening_of_duty(duty, self.dead, self.full)
        if self.control is Control.BLEED and self.vent_over_inlet is not None:
            return signal_between_orifices(tapped, ambient_pressure, opening, self.vent_over_inlet)
        return signal_pressure(tapped, ambient_pressure, bleed_share(opening, self.gain))

    def felt(self, exhaust: ArrayLike, pulse: ArrayLike) -> Array:
        """Exhaust pressure that the valve feels: the mean and a share of the pulses' height above it [Pa]."""
        return np.asarray(np.asarray(exhaust, dtype=np.float64) + self.pulse_share * np.asarray(pulse))

    def one_deviation_each(self) -> tuple[Gate, ...]:
        """This gate with one uncertain value each moved up by one standard deviation; they are
        independent.
        """
        moved: list[Gate] = []
        for name in GateSpread.__slots__:
            sd = getattr(self.spread, name)
            if not sd > 0:
                continue
            if name == "hysteresis":
                moved.append(replace(self, friction=self.friction + sd * self.diaphragm_area))
            elif name in ("curtain", "port"):
                flow = self.flow._replace(**{name: getattr(self.flow, name) + sd})
                moved.append(replace(self, flow=flow))
            elif getattr(self, name) is not None:
                moved.append(replace(self, **{name: getattr(self, name) + sd}))
        return tuple(moved)


_MOVED: Final = (
    *(name for name in GateSpread.__slots__ if name not in ("curtain", "port", "hysteresis", "bench_full")),
    "friction",
)


def stacked(gates: Sequence[Gate], n: int) -> Gate:
    """Gates that differ in uncertain values only, as one whose numbers are arrays.

    n entries for the first gate, n for the second and so on: what is solved for one is solved for all.
    """

    def column(values: list[Any]) -> Any:
        return np.repeat(np.asarray(values, dtype=np.float64), n)

    numbers = {name: column([getattr(gate, name) for gate in gates]) for name in _MOVED}
    if gates[0].bench_full is not None:
        numbers["bench_full"] = column([gate.bench_full for gate in gates])
    flow: Any = GateFlow(column([g.flow.curtain for g in gates]), column([g.flow.port for g in gates]))
    return replace(gates[0], flow=flow, **numbers)


class GateState(NamedTuple):
    """The gate at one or many operating points; arrays of their broadcast shape."""

    signal: Array  # at the diaphragm [Pa absolute]
    free_travel: Array  # of the rod as if there were no seat and no stop [m]
    travel: Array  # of the rod [m]
    lift: Array  # of the valve [m]
    area: Array  # effective [m2]


def gate_state(
    gate: Gate,
    ambient_pressure: ArrayLike,
    plenum: ArrayLike,
    outlet: ArrayLike,
    exhaust: ArrayLike,
    turbine_outlet: ArrayLike,
    pulse: ArrayLike = 0.0,
    duty: ArrayLike | None = None,
) -> GateState:
    """Lift and effective area of the gate at operating points.

    gate: record. ambient_pressure: behind the diaphragm [Pa]. plenum, outlet: before the engine and after the
    compressor [Pa]; which of them is the signal, the gate knows. exhaust, turbine_outlet: before and behind
    the valve [Pa]. pulse: highest exhaust pressure of a cycle above its mean [Pa]. duty: of the valve in the
    signal line; None for the gate's own, which is none where a controller finds it [-]. All broadcast.
    """
    signal = gate.signal(gate.tapped(plenum, outlet), ambient_pressure, duty)
    actuator = gate.actuator
    free = free_travel(
        actuator, signal, gate.felt(exhaust, pulse), turbine_outlet, ambient_pressure, gate.friction
    )
    travel = np.clip(free, 0.0, gate.rod_travel)
    lift = valve_lift(actuator, travel)
    return GateState(signal, free, travel, lift, gate_area(lift, gate.port_diameter, gate.flow))


def duty_for_area(
    gate: Gate,
    ambient_pressure: ArrayLike,
    plenum: ArrayLike,
    outlet: ArrayLike,
    exhaust: ArrayLike,
    turbine_outlet: ArrayLike,
    area: ArrayLike,
    pulse: ArrayLike = 0.0,
) -> Array:
    """Duty of the valve in the signal line at which the gate opens an effective area [-].

    From area to lift, rod travel and signal pressure. NaN where no duty does: with a plain hose, where the
    spring would have to be weaker, where the exhaust alone opens the gate further, where the port is too
    small, where the area is not above zero.

    area: wanted [m2]; the rest as `gate_state`. All broadcast.
    """
    tapped, area = np.broadcast_arrays(gate.tapped(plenum, outlet), np.asarray(area, dtype=np.float64))
    if gate.control is Control.SPRING:
        return np.full(tapped.shape, np.nan)
    travel = lift_for_area(area, gate.port_diameter, gate.flow) * gate.rod_arm / gate.valve_arm
    can = (area > 0) & (travel <= gate.rod_travel)
    wanted = np.asarray(ambient_pressure) + signal_pressure_for_travel(
        gate.actuator,
        np.where(can, travel, 0.0),
        gate.felt(exhaust, pulse),
        turbine_outlet,
        ambient_pressure,
        gate.friction,
    )
    if gate.control is Control.BLEED and gate.vent_over_inlet is not None:
        opening = opening_between_orifices(wanted, tapped, ambient_pressure, gate.vent_over_inlet)
    else:
        with np.errstate(divide="ignore", invalid="ignore"):
            opening = (tapped - wanted) / (tapped - np.asarray(ambient_pressure)) / gate.gain
    with np.errstate(invalid="ignore"):
        can = can & (opening >= 0) & (opening <= 1)
    return np.where(can, duty_for_opening(opening, gate.dead, gate.full), np.nan)


def spring_for_area(
    gate: Gate,
    ambient_pressure: ArrayLike,
    plenum: ArrayLike,
    outlet: ArrayLike,
    exhaust: ArrayLike,
    turbine_outlet: ArrayLike,
    area: ArrayLike,
    pulse: ArrayLike = 0.0,
    duty: ArrayLike = 0.0,
) -> Array:
    """Bench pressure of a spring of the same stiffness with which the gate opens an effective area [Pa].

    NaN where the area is not above zero or the port is too small; below zero where the exhaust alone opens it
    further.

    area: wanted [m2]. duty: of the valve in the signal line [-]. The rest as `gate_state`. All broadcast.
    """
    area = np.asarray(area, dtype=np.float64)
    travel = lift_for_area(area, gate.port_diameter, gate.flow) * gate.rod_arm / gate.valve_arm
    can = (area > 0) & (travel <= gate.rod_travel)
    exhaust, signal = (
        gate.felt(exhaust, pulse),
        gate.signal(gate.tapped(plenum, outlet), ambient_pressure, duty),
    )
    actuator = gate.actuator
    # the forces on the rod with a spring of no preload, in pressure on the diaphragm as it stands there
    left = (
        signal
        - np.asarray(ambient_pressure)
        - signal_pressure_for_travel(
            actuator._replace(F0=0.0),
            np.where(can, travel, 0.0),
            exhaust,
            turbine_outlet,
            ambient_pressure,
            gate.friction,
        )
    )
    area_there = 1 - np.asarray(actuator.fall) * np.where(can, travel, 0.0) / gate.rod_travel
    return np.where(can, left * area_there, np.nan)
