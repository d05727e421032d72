"""One operating point of the turbo and what the air and the exhaust pass on its way.

`turbo_point` answers one question: at this engine air flow, can the turbine drive the compressor to this
plenum pressure, and if so, at which exhaust pressure and with how much gas past the gate. It knows nothing of
the engine; `match` brings the two together.
"""

from __future__ import annotations

from enum import IntEnum
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import NotConverged, OutOfRange
from boostwright.physics.compressor import R_AIR, CompressorPoint, PointStatus, operating_point
from boostwright.physics.compressor_table import CompressorTable, table_point
from boostwright.physics.cooler import cooled_temperature
from boostwright.physics.roots import bracketed_root
from boostwright.physics.turbine import ExhaustGas, bearing_loss
from boostwright.physics.turbine_unit import Turbine, TurbineWork, flow_through, pressure_before, work_of
from boostwright.systems.turbo.parts import NO_PULSES, OutsideAir, PressureLoss, Pulses, TurboParts

__all__ = ["NOT_ASKED", "TurboPoint", "TurboStatus", "turbo_point", "unboosted_plenum_pressure"]

Array = NDArray[np.float64]

NOT_ASKED: Final = (
    "A turbo point needs an air flow, a fuel flow, a plenum pressure and an exhaust temperature, each above "
    "zero."
)

_CHARGE_ITERATIONS: Final = 20
_CHARGE_PATIENCE: Final = 12  # rounds after which a guess that still swings is given up
_MOST_LOSS: Final = 2.0  # outlet over plenum pressure where a guess is given up: no turbine drives that
_CHARGE_TOLERANCE: Final = 1e-6  # of the last change; what is left after it is a hundredth of that
_COLDEST_OUTLET: Final = 0.5  # of the inlet temperature; below it no turbine can stand anyway
_POWER_EXPONENT: Final = 1.6  # of turbine power over the pressure across it, to begin with
_SECANT_STEPS: Final = 8
_SECANT_TOLERANCE: Final = 1e-7  # of the pressure across the turbine, in the last step
_LEAST_PRESSURE: Final = (
    0.3  # of ambient, behind the air filter; a clogged one is no reason to divide by zero
)


class TurboStatus(IntEnum):
    """Whether the turbo holds the plenum pressure that was asked."""

    HOLDS = 0  # and the gate lets the rest of the gas past
    TURBINE_SHORT = 1  # the gate is shut and the turbine gives less than the compressor takes
    COMPRESSOR_SHORT = 2  # the compressor map ends before this pressure ratio


class TurboPoint(NamedTuple):
    """One or many operating points of the turbo side; every array has the broadcast shape of the
    arguments."""

    plenum_pressure: Array  # as asked [Pa]
    plenum_temperature: Array  # after the cooler [K]
    inlet_pressure: Array  # before the compressor [Pa]
    outlet_pressure: Array  # after the compressor, as the plenum pressure needs it [Pa]
    compressor: CompressorPoint
    cooler_effectiveness: Array  # on the charge side [-]
    exhaust_pressure: Array  # exhaust manifold [Pa]
    turbine_outlet_pressure: Array  # [Pa]
    expansion_ratio: Array  # exhaust manifold over turbine outlet [-]
    exhaust_flow: Array  # air and fuel [kg/s]
    turbine_flow: Array  # [kg/s]
    gate_flow: Array  # past the wastegate [kg/s]
    gate_share: Array  # of the exhaust flow [-]
    turbine_power: Array  # [W]
    turbine_efficiency: Array  # total to static, without bearing loss [-]
    blade_speed_ratio: Array  # [-]
    bearing_loss: Array  # [W]
    surplus: Array  # turbine power with the gate shut less what compressor and bearings take [W]
    status: NDArray[np.int64]  # TurboStatus


def turbo_point(
    parts: TurboParts,
    ambient: OutsideAir,
    air_flow: ArrayLike,
    fuel_flow: ArrayLike,
    plenum_pressure: ArrayLike,
    exhaust_temperature: ArrayLike,
    gas: ExhaustGas,
    pulses: Pulses = NO_PULSES,
    table: CompressorTable | None = None,
    near: TurboPoint | None = None,
) -> TurboPoint:
    """Operating point of the turbo at a given engine flow and plenum pressure.

    The charge side gives the compressor's pressure ratio and speed, hence the power wanted, P_c + P_f. With
    the gate shut the turbine takes the whole exhaust flow; where that gives more than is wanted, the exhaust
    pressure is lowered until it gives just that, and the rest of the gas passes the gate. Where it gives
    less, the point comes back with the gate shut, status TURBINE_SHORT and a negative surplus: it cannot
    stand, and a caller must ask for less.

    parts, ambient: records. air_flow, fuel_flow: of the engine [kg/s], above 0. plenum_pressure: wanted [Pa
    absolute]. exhaust_temperature: at the turbine inlet [K]. gas: exhaust gas about that temperature. pulses:
    factors. table: the compressor's map as a table, for a search; None asks the map itself. near: a point of
    the same shape close to the answer, as `QuickTurbo` gives it; it saves time. All others broadcast to one
    shape. Returns arrays of that shape. Gas and turbine gain no heat from each other or the walls; the
    pressure drop of the open gate's flow rejoining the exhaust is left out.

    Raises OutOfRange for a flow, temperature or pressure that is not positive; NotConverged if an inner solve
    does not close.
    """
    air, fuel, plenum, T3 = np.broadcast_arrays(
        *(
            np.asarray(a, dtype=np.float64)
            for a in (air_flow, fuel_flow, plenum_pressure, exhaust_temperature)
        )
    )
    if not all(np.all(np.isfinite(a) & (a > 0)) for a in (air, fuel, plenum, T3)):
        raise OutOfRange(NOT_ASKED)
    charge = _charge_side(parts, ambient, air, plenum, table, near)
    compressor = charge.compressor
    factors = parts.turbine_factors
    friction = factors.bearing * bearing_loss(
        compressor.speed, parts.shaft, parts.bearing, parts.turbine_recipe
    )
    wanted = compressor.power + friction

    exhaust_flow = air + fuel
    T4 = np.maximum(T3 - wanted / (exhaust_flow * gas.cp(T3)), _COLDEST_OUTLET * T3)
    p4 = _turbine_outlet_pressure(parts.exhaust, ambient, exhaust_flow, T4, gas)
    unit = parts.turbine_unit
    feed = _Feed(*np.broadcast_arrays(pulses.flow, pulses.power, compressor.speed, p4, T3, *gas))
    shut_pressure = pressure_before(unit, exhaust_flow, T3, p4, gas, feed.flow_factor)
    surplus = _turbine_power(unit, feed, exhaust_flow, shut_pressure).power - wanted
    guess = shut_pressure if near is None else near.exhaust_pressure
    p3 = _exhaust_pressure(unit, feed, shut_pressure, wanted, surplus > 0, guess)
    flow = np.where(surplus > 0, flow_through(unit, p3, T3, p4, gas, feed.flow_factor), exhaust_flow)
    turbine = _turbine_power(unit, feed, flow, p3)

    status = np.where(surplus >= 0, int(TurboStatus.HOLDS), int(TurboStatus.TURBINE_SHORT)).astype(np.int64)
    status[compressor.status == PointStatus.TOO_FAST] = TurboStatus.COMPRESSOR_SHORT
    return TurboPoint(
        plenum_pressure=np.array(plenum),
        plenum_temperature=charge.plenum_temperature,
        inlet_pressure=charge.inlet_pressure,
        outlet_pressure=charge.outlet_pressure,
        compressor=compressor,
        cooler_effectiveness=charge.effectiveness,
        exhaust_pressure=p3,
        turbine_outlet_pressure=p4,
        expansion_ratio=p3 / p4,
        exhaust_flow=exhaust_flow,
        turbine_flow=flow,
        gate_flow=exhaust_flow - flow,
        gate_share=1 - flow / exhaust_flow,
        turbine_power=turbine.power,
        turbine_efficiency=turbine.efficiency,
        blade_speed_ratio=turbine.speed_ratio,
        bearing_loss=friction,
        surplus=surplus,
        status=status,
    )


def unboosted_plenum_pressure(parts: TurboParts, ambient: OutsideAir, air_flow: ArrayLike) -> Array:
    """Plenum pressure [Pa] at an air flow [kg/s] with a compressor that neither raises nor lowers it."""
    air = np.asarray(air_flow, dtype=np.float64)
    density = ambient.pressure / (R_AIR * ambient.temperature)
    loss = parts.inlet.at(air, density) + parts.charge_pipes.at(air, density)
    if parts.cooler is not None:
        loss = loss + parts.cooler.loss.at(air, density)
    return np.asarray(np.maximum(ambient.pressure - loss, _LEAST_PRESSURE * ambient.pressure))


class _ChargeSide(NamedTuple):
    """From the air filter to the plenum."""

    inlet_pressure: Array
    outlet_pressure: Array
    plenum_temperature: Array
    effectiveness: Array
    compressor: CompressorPoint


def _charge_side(
    parts: TurboParts,
    ambient: OutsideAir,
    air: Array,
    plenum: Array,
    table: CompressorTable | None,
    near: TurboPoint | None,
) -> _ChargeSide:
    """Compressor point whose outlet pressure is the plenum's plus the losses on the way, by fixed point.

    The losses are a few per cent of the pressure and hang weakly on temperature: each round gains two digits.
    """
    density = ambient.pressure / (R_AIR * ambient.temperature)
    inlet = np.maximum(ambient.pressure - parts.inlet.at(air, density), _LEAST_PRESSURE * ambient.pressure)
    cooler = parts.cooler
    effectiveness = np.zeros(air.shape) if cooler is None else cooler.effectiveness_at(air, density=density)
    mach: Array | None = None
    if near is None:
        T_out, outlet = ambient.temperature * np.maximum(plenum / inlet, 1.0) ** 0.4, plenum
    else:
        T_out, outlet = near.compressor.outlet_temperature, near.outlet_pressure
        mach = near.compressor.mach
    lost = np.zeros(air.shape, dtype=bool)
    for turn in range(_CHARGE_ITERATIONS):
        T_plenum = cooled_temperature(T_out, ambient.temperature, effectiveness)
        before = outlet
        outlet = plenum + parts.charge_pipes.at(air, plenum / (R_AIR * T_plenum))
        if cooler is not None:  # density of the mean pressure and temperature of the core
            in_core = (outlet + before) / (R_AIR * (T_out + T_plenum))
            outlet = outlet + cooler.loss.at(air, in_core)
        lost = lost | (outlet > _MOST_LOSS * plenum)
        if turn > _CHARGE_PATIENCE:
            lost = lost | (np.abs(outlet - before) > _CHARGE_TOLERANCE * outlet)
        outlet = np.where(lost, _MOST_LOSS * plenum, outlet)
        here = (parts.exducer, air, outlet / inlet, ambient.temperature, inlet)
        if table is None:
            compressor = operating_point(parts.compressor_map, *here, near=mach)
            mach = compressor.mach
        else:
            compressor = table_point(table, *here)
        was, T_out = T_out, compressor.outlet_temperature
        settled = np.abs(outlet - before) <= _CHARGE_TOLERANCE * outlet
        if near is not None:  # that point agreed with itself: what counts is how far the map's answer is off
            settled &= np.abs(T_out - was) * (outlet - plenum) <= _CHARGE_TOLERANCE * outlet * was
        if np.all(settled):
            break
    else:
        raise NotConverged(
            f"The losses between compressor and plenum did not settle in {_CHARGE_ITERATIONS} rounds; the "
            f"largest change was {np.max(np.abs(outlet / before - 1)):.1e} of the pressure."
        )
    T_plenum = cooled_temperature(T_out, ambient.temperature, effectiveness)
    return _ChargeSide(inlet, outlet, T_plenum, effectiveness, compressor)


def _turbine_outlet_pressure(
    exhaust: PressureLoss, ambient: OutsideAir, flow: Array, T4: Array, gas: ExhaustGas
) -> Array:
    """Pressure after the turbine [Pa], with the density of the mean pressure: p4^2 = p_amb^2 + 2 R T4 (rho
    dp)."""
    product = exhaust.at(flow, 1.0)  # density times loss does not depend on the density itself
    return np.asarray(np.sqrt(ambient.pressure**2 + 2 * np.asarray(gas.R) * T4 * product))


class _Feed(NamedTuple):
    """What the turbine is fed with, all of one shape so that single points can be picked out."""

    flow_factor: Array  # of pulses [-]
    power_factor: Array  # of pulses [-]
    speed: Array  # shaft [rad/s]
    p4: Array  # [Pa]
    T3: Array  # [K]
    R: Array  # of the exhaust gas, as in ExhaustGas
    cp_ref: Array
    slope: Array
    T_ref: Array

    @property
    def gas(self) -> ExhaustGas:
        return ExhaustGas(self.R, self.cp_ref, self.slope, self.T_ref)


def _turbine_power(unit: Turbine, feed: _Feed, flow: Array, p3: Array) -> TurbineWork:
    """Turbine work at a flow [kg/s] and an exhaust pressure [Pa], pulses included."""
    work = work_of(unit, flow, p3 / feed.p4, feed.T3, feed.speed, feed.gas)
    return work._replace(power=np.asarray(feed.power_factor * work.power))


def _exhaust_pressure(
    unit: Turbine,
    feed: _Feed,
    shut_pressure: Array,
    wanted: Array,
    open_gate: NDArray[np.bool_],
    guess: Array,
) -> Array:
    """Exhaust pressure at which the turbine gives the power wanted; with the gate shut where it cannot [Pa].

    Flow and drop both rise with the pressure, so one root lies between the outlet pressure and that of the
    gate shut. guess: where to begin, if it lies between them.
    """
    p3 = np.array(shut_pressure)
    if not open_gate.any():
        return p3
    there = _Feed(*(column[open_gate] for column in feed))
    needed, shut = wanted[open_gate], shut_pressure[open_gate]

    def power(p: Array) -> Array:
        flow = flow_through(unit, p, there.T3, there.p4, there.gas, there.flow_factor)
        return _turbine_power(unit, there, flow, p).power

    # over the pressure across the wheel the power is close to a straight line in logarithms
    begin = guess[open_gate]
    begin = np.where((begin > there.p4) & (begin < shut), begin, shut)
    u, slope = np.log(begin - there.p4), np.full(shut.shape, _POWER_EXPONENT)
    error = np.log(np.maximum(power(begin), 1e-9) / needed)
    closed = np.zeros(shut.shape, dtype=bool)
    for _ in range(_SECANT_STEPS):
        step = np.clip(-error / slope, -3.0, 3.0)
        u, was = u + step, error
        closed = np.abs(step) <= _SECANT_TOLERANCE
        if closed.all():
            break
        error = np.log(np.maximum(power(there.p4 + np.exp(u)), 1e-9) / needed)
        with np.errstate(divide="ignore", invalid="ignore"):
            measured = (error - was) / step
        slope = np.where((measured > 0.5) & (measured < 5.0), measured, slope)
    found = there.p4 + np.exp(u)
    stray = ~closed | (found > shut * (1 + 1e-9))
    if stray.any():
        root = bracketed_root(lambda p: power(p) - needed, there.p4, shut)
        if not np.all(root.closed | ~stray):
            raise NotConverged(
                f"The exhaust pressure was not found at {int(np.sum(~root.closed & stray))} of {stray.size} "
                "points."
            )
        found = np.where(stray, root.x, found)
    p3[open_gate] = found
    return p3
