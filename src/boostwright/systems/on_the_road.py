"""The car with the new torque: grip of the driven tyres by gear, speed that it reaches, and its brakes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.physics.driveline import effective_mass, road_load, road_speed_at
from boostwright.physics.vehicle import (
    brake_energy,
    disc_temperature_rise,
    drive_force,
    engine_torque_at_grip,
    front_drive_grip,
    rear_drive_grip,
    repeated_stop_temperature,
)
from boostwright.systems.transient.records import Car

__all__ = ["Brakes", "Chassis", "Reached", "disc_after_stops", "grip_torque", "moved_share", "speed_reached"]

Array = NDArray[np.float64]
Number = Array | float


@dataclass(frozen=True, slots=True)
class Chassis:
    """Weight and grip. Numbers or arrays (m,)."""

    mass: Number  # [kg]
    front_share: Number  # of the weight, battery where it sits now [-]
    height: Number  # of the centre of gravity over the wheelbase [-]
    grip: Number  # [-]
    driven: str  # 'front', 'rear' or 'all'


def moved_share(front_share: float, mass: float, moved: float, way: float, wheelbase: float) -> float:
    """Front axle's share of the weight after a mass was carried backwards, f - m way/(M L) [-].

    moved: mass carried [kg]. way: along the car, backwards positive [m]. Exact.
    """
    return front_share - moved * way / (mass * wheelbase)


def grip_torque(car: Car, chassis: Chassis) -> Array:
    """Torque at the crank at which the driven tyres spin, for each gear [N m]; (gears,) or (m, gears)."""
    f, h, mu = (np.asarray(v, dtype=np.float64) for v in (chassis.front_share, chassis.height, chassis.grip))
    if chassis.driven == "front":
        pull = front_drive_grip(chassis.mass, f, h, mu)
    elif chassis.driven == "rear":
        pull = rear_drive_grip(chassis.mass, f, h, mu)
    else:  # all four: the whole weight, whatever its place
        pull = np.asarray(front_drive_grip(chassis.mass, f, 0.0, mu)) / f
    ratio = np.asarray(car.gears) * car.final_drive
    return engine_torque_at_grip(np.asarray(pull)[..., None], ratio, car.efficiency, car.radius)


class Reached(NamedTuple):
    """The greatest speed on a level road."""

    speed: float  # [m/s]
    gear: int  # from 1
    by_gearing: bool  # the engine's end of revs decides, not the air


def speed_reached(car: Car, omega: Array, torque: Array, density: float) -> Reached:
    """The greatest road speed at which the pull still meets the road load, over all gears.

    car: gearing, drag. omega, torque: full-load line (n,) [rad/s], [N m]. density: of the air [kg/m3].
    Straight between the speeds of the line.
    """
    best = Reached(0.0, 1, False)
    good = np.isfinite(torque)
    w, T = omega[good], torque[good]
    if w.size == 0:
        return best
    for number, gear in enumerate(car.gears, 1):
        ratio = gear * car.final_drive
        v = road_speed_at(w, ratio, car.radius)
        load = road_load(v, car.mass, car.drag_area, car.rolling, density)
        left = drive_force(T, ratio, car.efficiency, car.radius) - load
        going = np.flatnonzero(left >= 0.0)
        if going.size == 0:
            continue
        i = int(going[-1])
        speed = float(v[i])
        if i + 1 < v.size:
            speed += float((v[i + 1] - v[i]) * left[i] / (left[i] - left[i + 1]))
        if speed > best.speed:
            best = Reached(speed, number, i + 1 == v.size)
    return best


@dataclass(frozen=True, slots=True)
class Brakes:
    """Front discs and what is asked of them. Numbers or arrays (m,); SI."""

    disc_mass: Number  # of one [kg]
    front_share: Number  # of the braking [-]
    into_disc: Number  # [-]
    heat: Number  # heat capacity at 20 degC [J/(kg K)]
    heat_rise: float  # its growth [J/(kg K2)]
    cooling: Number  # share of the excess temperature lost in a second [1/s]
    between: float  # stops [s]
    stops: float  # how many
    share: Number  # of the speed reached, from which they begin [-]
    warm: Number  # disc over the air before the first [K]


def disc_after_stops(brakes: Brakes, car: Car, speed: Number, T_air: float) -> Array:
    """Temperature of a front disc after the last of the stops [K].

    speed: reached by the car [m/s]. T_air: [K]. Heat capacity at the mean of each rise.
    """
    whole = effective_mass(car.mass, 0.0, car.rotating)
    energy = brake_energy(whole, np.asarray(speed) * np.asarray(brakes.share))
    first = T_air + np.asarray(brakes.warm)
    c = np.asarray(brakes.heat, dtype=np.float64)
    x = np.asarray(brakes.cooling) * brakes.between
    end = first
    for _ in range(4):  # the heat capacity hangs on the temperature, weakly
        mean = 0.5 * (first + end)
        there = c + brakes.heat_rise * (mean - 293.15)
        rise = disc_temperature_rise(energy, brakes.front_share, brakes.disc_mass, there, brakes.into_disc)
        stopped = repeated_stop_temperature(rise, brakes.stops, x, 0.0)
        end = T_air + np.asarray(brakes.warm) * np.exp(-x * (brakes.stops - 1.0)) + stopped
    return np.asarray(end)
