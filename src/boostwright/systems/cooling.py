"""Cooling under lasting load: what the engine gives its coolant, and how warm the radiator lets it become."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import special

from boostwright.physics.atmosphere import R_DRY_AIR
from boostwright.physics.coolant import (
    boiling_point,
    coolant_density,
    coolant_heat_capacity,
    coolant_temperature_after,
    rest_temperature,
    time_to_temperature,
)
from boostwright.physics.radiator import CP_AIR, Face, covered_radiator, face_speed, radiator_conductance
from boostwright.systems.engine.types import CycleResult, EngineGeometry

__all__ = ["Air", "Climb", "Cooling", "HeatSplit", "Heats", "climb", "coolant_boils", "engine_heats"]

Array = NDArray[np.float64]
Number = Array | float

_MINUTE: Final = 60.0
_HOT: Final = 370.0  # at which the coolant's properties are taken [K]
_REGULATED, _OPEN = (
    0.2 / _MINUTE,
    0.8 / _MINUTE,
)  # slopes between which the thermostat stops to regulate [K/s]
_LEAST_OVER_AIR: Final = 15.0  # of a reading's coolant over the air; less tells nothing of a radiator [K]


class Heats(NamedTuple):
    """Where heat goes at full load, shape of the line [W]."""

    coolant: Array
    oil: Array


class HeatSplit(NamedTuple):
    """How heat is shared. Fields broadcast [-]; gas in [J/(kg K)]."""

    model: Number
    gas: Number
    friction_to_coolant: Number
    wall_to_oil: Number


def engine_heats(engine: EngineGeometry, cycle: CycleResult, speed: Array, split: HeatSplit) -> Heats:
    """Heat into coolant and oil [W].

    coolant = wall (1 - a) + port + b friction, oil = wall a + (1 - b) friction; the wall's from the cycle,
    the port's from the exhaust's fall of temperature in it, all friction as heat.

    engine: geometry. cycle: full-load cycles (n,). speed: crank [rad/s] (n,). split: shares, and a factor on
    the coolant's. Error: 15 % (wall heat), the oil's 30 % (its shares).
    """
    each_second = engine.cylinders * speed / (4 * np.pi)  # cycles of all cylinders
    wall = cycle.wall_heat * cycle.fuel_energy * each_second
    gas = (cycle.air_flow + cycle.fuel_flow) * np.asarray(split.gas)
    port = gas * np.maximum(cycle.exhaust_valve_temperature - cycle.exhaust_port_temperature, 0.0)
    friction = cycle.fmep * engine.displacement * speed / (4 * np.pi)
    a, b = np.asarray(split.wall_to_oil), np.asarray(split.friction_to_coolant)
    coolant = np.asarray(split.model) * (wall * (1 - a) + port + friction * b)
    return Heats(np.asarray(coolant), np.asarray(wall * a + friction * (1 - b)))


@dataclass(frozen=True, slots=True)
class Cooling:
    """The cooling system and what is asked of it. Numbers or arrays (m,), so many sets side by side; SI."""

    split: HeatSplit
    area: Number  # face of the radiator [m2]
    conductance: Number  # of a square metre of it at the reference flow [W/(m2 K)]
    reference_flow: float  # [kg/(s m2)]
    exponent: float
    loss: Number  # of core and nose on the face speed [-]
    pressure_share: float  # [-]
    air_factor: Number  # on the face speed [-]
    fan: float  # face speed by the fan alone [m/s]
    coolant_rise: float  # through the engine at full load, before the conversion [K]
    glycol: Number  # by mass [-]
    volume: Number  # of coolant [m3]
    metal: Number  # heat capacity of the metal that follows [J/K]
    cap: Number  # gauge [Pa]
    start: Number  # coolant as the load sets in, thermostat open [K]
    in_front: bool  # whether a charge cooler stands before the radiator
    cooler_face: Number  # [m2]
    cooler_loss: Number  # [-]
    share: Number  # of full load's heat, on average [-]
    time: float  # so long [s]
    road_speed: Number  # [m/s]
    prior: float = 0.2  # relative deviation of a radiator known by its face alone [-]
    regulated: Number = 0.0  # deviations by which a radiator that regulated is better than its mean [-]
    slope_before: Number | None = None  # before the conversion, under the same load [K/s]
    slope_area: Number | None = None  # face of the radiator that was fitted then [m2]; None: the same
    slope_air: Number = 293.15  # air at that reading [K]

    @property
    def capacity(self) -> Array:
        """Heat capacity of coolant and metal [J/K]."""
        fluid = coolant_density(_HOT, self.glycol) * coolant_heat_capacity(_HOT, self.glycol)
        return np.asarray(fluid * self.volume + self.metal)


class Air(NamedTuple):
    """Air outside."""

    pressure: Number  # [Pa]
    temperature: Number  # [K]

    @property
    def density(self) -> Number:
        """[kg/m3], dry."""
        return self.pressure / (R_DRY_AIR * self.temperature)


class Climb(NamedTuple):
    """Coolant under lasting load."""

    after: Array  # at its end [K]
    unheld: Array  # the same if no thermostat held it up [K]
    rest: Array  # where it would come to rest [K]
    conductance: Array  # of the radiator [W/K]
    air_warmer: Array  # by the charge cooler in front, for the whole radiator [K]
    behind: Array  # air behind the radiator [K]
    begin: Array  # coolant as it sets in [K]
    heat: Array  # into the coolant on average [W]
    air: Array  # as the radiator meets it [K]
    capacity: Array  # [J/K]

    def time_to(self, limit: Number) -> Array:
        """Time of such load until the coolant is at a limit [s]; infinity where it rests below."""
        return time_to_temperature(limit, self.begin, self.heat, self.conductance, self.capacity, self.air)


def climb(
    parts: Cooling,
    coolant: Number,
    charge: Number,
    air: Air,
    before: Number,
    size: Number = 1.0,
) -> Climb:
    """The coolant after the load that the use of the car asks for.

    parts: cooling system and load. coolant: heat at full load [W]. charge: heat that the charge cooler sheds
    at full load [W]. air: outside. before: heat into the coolant at full load before the conversion, for the
    flow of the water pump, which no turbo makes faster, and for a slope that was read then [W]. size: factor
    on the radiator's face that is asked about [-]. Broadcast.
    """
    share = np.asarray(parts.share)
    heat, shed = np.asarray(coolant) * share, np.asarray(charge) * share
    face = Face(
        np.asarray(parts.area) * np.asarray(size), parts.conductance, parts.reference_flow, parts.exponent
    )
    flow = np.asarray(before) / parts.coolant_rise
    free = _face_speed(parts, 0.0)
    covered = np.asarray(parts.cooler_face) / np.asarray(face.area) if parts.in_front else np.array(0.0)
    hidden = _face_speed(parts, parts.cooler_loss)
    here = covered_radiator(face, np.minimum(covered, 1.0), free, hidden, air.density, flow, shed)
    conductance = here.conductance * _by_reading(parts, before)
    meets = air.temperature + here.air_warmer
    start = np.maximum(parts.start, air.temperature)
    unheld = coolant_temperature_after(parts.time, start, heat, conductance, parts.capacity, meets)
    after = np.maximum(unheld, start)  # the thermostat closes before the coolant falls below
    given = np.minimum(heat, conductance * (after - meets)) + shed * (1.0 if parts.in_front else 0.0)
    behind = air.temperature + given / (here.air_flow * CP_AIR)
    return Climb(
        after,
        unheld,
        np.maximum(rest_temperature(heat, conductance, meets), start),
        conductance,
        here.air_warmer,
        behind,
        start,
        heat,
        meets,
        parts.capacity,
    )


def _face_speed(parts: Cooling, more_loss: Number) -> Array:
    losses = np.asarray(parts.loss) + np.asarray(more_loss)
    slowed = np.sqrt(np.asarray(parts.loss) / losses)  # the fan, too, blows against what stands before it
    speed = face_speed(parts.road_speed, parts.fan * slowed, losses, parts.pressure_share)
    return np.asarray(speed * parts.air_factor)


def _by_reading(parts: Cooling, before: Number) -> Array:
    """Factor on the radiator's conductance that a slope read before the conversion asks for [-].

    UA = (Q - C dT/dt)/(T - Ta) under the load and with the radiator of that day. Where the coolant hardly
    rose the thermostat still regulated, and the radiator is at least so good: a normal of deviation s about
    the one by its face, cut off below b = UA/UA_face, has the mean 1 + s l and the deviation
    s sqrt(1 + a l - l^2), a = (b - 1)/s, l = phi(a)/Phi(-a).
    """
    if parts.slope_before is None:
        return np.array(1.0)
    share = np.asarray(parts.share)
    over = np.maximum(np.asarray(parts.start) - parts.slope_air, _LEAST_OVER_AIR)
    heat = np.asarray(before) * share
    slope = np.asarray(parts.slope_before)
    told = np.maximum(heat - parts.capacity * slope, 0.05 * heat) / over
    area = parts.area if parts.slope_area is None else parts.slope_area
    face = Face(area, parts.conductance, parts.reference_flow, parts.exponent)
    density = 101325.0 / (R_DRY_AIR * parts.slope_air)
    own = radiator_conductance(face, _face_speed(parts, 0.0), density, heat / share / parts.coolant_rise)
    factor = told / own
    open_share = np.clip((slope - _REGULATED) / (_OPEN - _REGULATED), 0.0, 1.0)
    s = parts.prior
    a = np.clip((factor - 1.0) / s, -8.0, 8.0)
    mills = np.exp(-0.5 * a**2 - 0.5 * np.log(2 * np.pi) - special.log_ndtr(-a))
    left = np.sqrt(np.maximum(1 + a * mills - mills**2, 0.0))
    at_least = np.maximum(1 + s * (mills + np.asarray(parts.regulated) * left), factor)
    return np.asarray(open_share * factor + (1 - open_share) * at_least)


def coolant_boils(parts: Cooling, ambient_pressure: Number) -> Array:
    """Temperature at which the coolant boils under this cap and this outside pressure [K]."""
    return boiling_point(parts.cap, ambient_pressure, parts.glycol)
