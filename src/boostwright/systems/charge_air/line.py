"""Losses, speeds and heat soak along an operating line, from plain arrays of the match."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange
from boostwright.physics.heat_soak import CP_CHARGE, Stretch, heat_soak
from boostwright.physics.pipes import mach_number
from boostwright.systems.charge_air.cooler import ChargeCooler, CoolingAir
from boostwright.systems.charge_air.types import ChargeAir, ExhaustPipe

__all__ = ["ChargeAirLine", "ExhaustLine", "SoakLine", "charge_air_line", "exhaust_line", "soak_line"]

Array = NDArray[np.float64]

R_AIR: Final = 287.05
CP_EXHAUST: Final = (
    1200.0  # of exhaust gas at 1000 to 1200 K, lambda 0.8 to 0.9 [J/(kg K)]; 3 %, own judgement
)
GAMMA_EXHAUST: Final = 1.31  # the same
R_EXHAUST: Final = 288.5
STEP: Final = 0.1  # of the heat soak [s]
CRUISE_FLOW: Final = 0.12  # charge flow between pulls over that at the top of the pull [-]; own judgement
CRUISE_SPEED: Final = 0.6  # road speed between pulls over that at the top of the pull [-]; own judgement
CRUISE_RISE: Final = 12.0  # charge before the cooler over the air outside, off boost [K]; own judgement


class ChargeAirLine(NamedTuple):
    """The charge air path over an operating line; every array has the shape of the arguments. SI units."""

    inlet_loss: Array  # filter and pipe before the compressor [Pa]
    hot_loss: Array  # compressor to cooler [Pa]
    core_loss: Array  # cooler [Pa]
    cold_loss: Array  # cooler to throttle [Pa]
    throttle_loss: Array  # [Pa]
    total_loss: Array  # compressor outlet to plenum [Pa]
    total_sd: Array  # its standard deviation [Pa]
    inlet_sd: Array  # of the inlet loss [Pa]
    outlet_pressure: Array  # compressor outlet as the plenum needs it [Pa]
    pipe_mach: Array  # greatest in the charge pipes [-]
    throttle_mach: Array  # in the throttle's bore [-]
    inlet_mach: Array  # in the pipe before the compressor [-]


class ExhaustLine(NamedTuple):
    """The exhaust behind the turbine over an operating line. SI units."""

    temperature: Array  # behind the turbine [K]
    loss: Array  # turbine outlet over outside air [Pa]
    loss_sd: Array  # [Pa]
    mach: Array  # in the pipe behind the turbine [-]


class SoakLine(NamedTuple):
    """Charge temperature over the speeds of a line, pull after pull. SI units."""

    charge: Array  # shape (pulls, n); NaN outside the settled speeds [K]
    steady: Array  # after the cooler when nothing warms any more, shape (n,) [K]
    wall_end: Array  # core or water at the end of each pull, shape (pulls,) [K]


def charge_air_line(
    parts: ChargeAir,
    ambient_pressure: float,
    ambient_temperature: float,
    flow: ArrayLike,
    plenum_pressure: ArrayLike,
    plenum_temperature: ArrayLike,
    compressor_outlet_temperature: ArrayLike,
) -> ChargeAirLine:
    """Losses from filter to plenum, walked from the plenum back, each with the density of its mean pressure.

    parts: the path. ambient_pressure, ambient_temperature: [Pa], [K]. flow: air [kg/s]. plenum_pressure:
    [Pa]. plenum_temperature: after the cooler [K]. compressor_outlet_temperature: [K]. Arrays broadcast;
    NaN stays NaN.
    """
    m, p_i, T_i, T_2 = np.broadcast_arrays(
        *(
            np.asarray(a, dtype=np.float64)
            for a in (flow, plenum_pressure, plenum_temperature, compressor_outlet_temperature)
        )
    )
    zero = np.zeros(m.shape)
    throttle = parts.throttle.from_outlet(m, p_i, T_i, R_AIR)
    before_throttle = p_i + throttle
    cold = parts.cold.from_outlet(m, before_throttle, T_i, R_AIR)
    after_core = before_throttle + cold
    middle = (T_i + T_2) / 2
    core = zero if parts.cooler is None else parts.cooler.loss.from_outlet(m, after_core, middle, R_AIR)
    before_core = after_core + core
    hot = parts.hot.from_outlet(m, before_core, T_2, R_AIR)
    inlet = parts.inlet.from_inlet(m, ambient_pressure, ambient_temperature, R_AIR)
    outlet = before_core + hot
    squares = (
        parts.throttle.sd_at(m, p_i / (R_AIR * T_i)) ** 2
        + parts.cold.sd_at(m, before_throttle / (R_AIR * T_i)) ** 2
        + parts.hot.sd_at(m, before_core / (R_AIR * T_2)) ** 2
    )
    if parts.cooler is not None:
        squares = squares + parts.cooler.loss.sd_at(m, after_core / (R_AIR * middle)) ** 2
    suction = ambient_pressure - inlet
    return ChargeAirLine(
        inlet_loss=inlet,
        hot_loss=hot,
        core_loss=core,
        cold_loss=cold,
        throttle_loss=throttle,
        total_loss=outlet - p_i,
        total_sd=np.sqrt(squares),
        inlet_sd=parts.inlet.sd_at(m, (ambient_pressure + suction) / (2 * R_AIR * ambient_temperature)),
        outlet_pressure=outlet,
        pipe_mach=np.maximum(
            mach_number(m, parts.bore, before_core, T_2), mach_number(m, parts.bore, before_throttle, T_i)
        ),
        throttle_mach=mach_number(m, parts.throttle_bore, p_i, T_i),
        inlet_mach=mach_number(m, parts.inlet_bore, suction, ambient_temperature),
    )


def exhaust_line(
    exhaust: ExhaustPipe,
    ambient_pressure: float,
    ambient_temperature: float,
    air_flow: ArrayLike,
    fuel_flow: ArrayLike,
    turbine_inlet_temperature: ArrayLike,
    compressor_outlet_temperature: ArrayLike,
) -> ExhaustLine:
    """Temperature, loss and Mach number behind the turbine.

    The gas leaves as much colder as the compressor takes: m_e cp_e (T_3 - T_4) = m_a cp_a (T_2 - T_0); what
    the bearings take is 2 to 3 % of it and is left out.

    exhaust: the pipe. ambient_pressure, ambient_temperature: [Pa], [K]. air_flow, fuel_flow: [kg/s].
    turbine_inlet_temperature, compressor_outlet_temperature: [K]. Arrays broadcast.
    """
    air, fuel = np.asarray(air_flow, dtype=np.float64), np.asarray(fuel_flow, dtype=np.float64)
    work = air * CP_CHARGE * (np.asarray(compressor_outlet_temperature) - ambient_temperature)
    T_4 = np.asarray(turbine_inlet_temperature) - work / ((air + fuel) * CP_EXHAUST)
    loss = exhaust.passage.from_outlet(air + fuel, ambient_pressure, T_4, R_EXHAUST)
    density = (ambient_pressure + loss / 2) / (R_EXHAUST * T_4)
    mach = mach_number(air + fuel, exhaust.bore, ambient_pressure + loss, T_4, R_EXHAUST, GAMMA_EXHAUST)
    return ExhaustLine(T_4, loss, exhaust.sd_at(air + fuel, density), mach)


def soak_line(
    parts: ChargeAir,
    ambient_temperature: float,
    speed: ArrayLike,
    flow: ArrayLike,
    compressor_outlet_temperature: ArrayLike,
    air: CoolingAir = CoolingAir.MOVING,
    pause_air: CoolingAir | None = None,
    density: float | None = None,
) -> SoakLine:
    """Charge temperature of pull after pull through the speeds of a line, the engine speed rising evenly.

    Between pulls the engine runs off boost. The core starts as warm as the air outside.

    parts: the path, with a cooler, and the times of pulls and pauses. ambient_temperature: [K]. speed:
    crank [rad/s], rising, shape (n,). flow: [kg/s]. compressor_outlet_temperature: [K]; points with NaN are
    left out. air: what blows on the core during a pull. pause_air: the same between pulls, where moving air
    is that of a car that rolls; None for `air`. density: of the outside air [kg/m3]; None for that of the
    cooler's table. Raises OutOfRange without a cooler or with fewer than two points left.
    """
    cooler = parts.cooler
    if cooler is None:
        raise OutOfRange("Without a charge cooler nothing soaks up heat.")
    omega, m, T_2 = np.broadcast_arrays(
        *(np.asarray(a, dtype=np.float64) for a in (speed, flow, compressor_outlet_temperature))
    )
    good = np.isfinite(m) & np.isfinite(T_2) & (m > 0)
    if np.count_nonzero(good) < 2:
        raise OutOfRange("Heat soak needs at least two settled speeds to pull through.")
    steps = max(round(parts.pulls.pull / STEP), 2)
    at = np.linspace(omega[good][0], omega[good][-1], steps)
    flow_in, T_in = np.interp(at, omega[good], m[good]), np.interp(at, omega[good], T_2[good])
    pull = Stretch(
        parts.pulls.pull,
        flow_in * CP_CHARGE,
        T_in,
        cooler.to_wall_at(flow_in, air, density),
        cooler.to_air_at(flow_in, air, density),
    )
    stretches: list[Stretch] = [pull]
    if parts.pulls.pause > 0.0:
        pause = _pause(
            cooler, float(flow_in[-1]), ambient_temperature, parts.pulls.pause, pause_air or air, density
        )
        for _ in range(parts.pulls.count - 1):
            stretches += [pause, pull]
    else:
        stretches = [pull] * parts.pulls.count
    soak = heat_soak(tuple(stretches), cooler.heat_capacity, ambient_temperature)
    every = 1 if parts.pulls.pause <= 0.0 else 2
    charge = np.full((parts.pulls.count, omega.size), np.nan)
    for k, trace in enumerate(soak.charge[::every]):
        charge[k, good] = np.interp(omega[good], at, trace)
    effectiveness = np.where(good, cooler.effectiveness_at(np.where(good, m, 0.1), air, density), np.nan)
    steady = T_2 - effectiveness * (T_2 - ambient_temperature)
    return SoakLine(charge, steady, np.array([wall[-1] for wall in soak.wall[::every]]))


def _pause(
    cooler: ChargeCooler,
    flow: float,
    ambient_temperature: float,
    time: float,
    air: CoolingAir,
    density: float | None,
) -> Stretch:
    """Time off boost: little charge, and air on the core as the car rolls or stands.

    All of it is constant, so that one step of the exact exponential is enough. The conductance from wall to
    air at the road speed of a pause follows the table at the flow whose road speed that is.
    """
    little = CRUISE_FLOW * flow
    as_at = CRUISE_SPEED * flow if air is CoolingAir.MOVING else flow
    return Stretch(
        time,
        np.full(1, little * CP_CHARGE),
        np.full(1, ambient_temperature + CRUISE_RISE),
        np.full(1, float(cooler.to_wall_at(little, air, density))),
        np.full(1, float(cooler.to_air_at(as_at, air, density))),
    )
