"""The car at its limits: pull at the wheels, axle loads, grip of the driven axle, heat of the brakes.

Speed by gear and tyre is in `driveline` (`road_speed_at`, `engine_speed_at`, `tyre_size`); every function
here takes an array of gear ratios where one ratio is named.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange
from boostwright.physics.atmosphere import GRAVITY

__all__ = [
    "AxleLoads",
    "axle_loads",
    "brake_energy",
    "disc_temperature_rise",
    "drive_force",
    "engine_torque_at_grip",
    "front_drive_grip",
    "rear_drive_grip",
    "repeated_stop_temperature",
    "wheel_torque",
]

Array = NDArray[np.float64]


def _floats(value: ArrayLike) -> Array:
    return np.asarray(value, dtype=np.float64)


def wheel_torque(engine_torque: ArrayLike, total_ratio: ArrayLike, efficiency: ArrayLike) -> Array:
    """Torque at the driven wheels together, T i eta [N m].

    engine_torque: at the crank [N m]. total_ratio: gear times final drive, one or an array of gears [-].
    efficiency: of gearbox and axle, 0.90 to 0.96 [-]. All broadcast. Steady speed. Source: wong2001, from
    memory.
    """
    return np.asarray(_floats(engine_torque) * _floats(total_ratio) * _floats(efficiency))


def drive_force(
    engine_torque: ArrayLike, total_ratio: ArrayLike, efficiency: ArrayLike, radius: ArrayLike
) -> Array:
    """Pull of the driven wheels on the road, T i eta/r [N]; radius: rolling radius [m], the rest as
    `wheel_torque`.
    """
    return np.asarray(wheel_torque(engine_torque, total_ratio, efficiency) / _floats(radius))


class AxleLoads(NamedTuple):
    """Loads of the axles on the road [N]."""

    front: Array
    rear: Array


def _checked_place(front_share: ArrayLike) -> Array:
    share = _floats(front_share)
    if np.any((share <= 0) | (share >= 1)):
        raise OutOfRange(
            f"The front axle's share of the weight is {front_share!r}; it must lie between 0 and 1 (0.6 for "
            "60 %)."
        )
    return share


def axle_loads(
    mass: ArrayLike,
    front_share: ArrayLike,
    height_over_wheelbase: ArrayLike,
    acceleration: ArrayLike = 0.0,
    slope: ArrayLike = 0.0,
) -> AxleLoads:
    """Axle loads with the shift of weight by acceleration and slope.

    front = m (g cos(s) f - (a + g sin(s)) h/L), rear = m g cos(s) - front.

    mass: m [kg]. front_share: f of the weight on level road at rest [-]. height_over_wheelbase: h/L of the
    centre of gravity, 0.19 to 0.24 [-]. acceleration: a, negative when braking [m/s2]. slope: s, uphill
    positive [rad]. All broadcast; the loads stop at 0 where an axle lifts. Lift by air, tilt of the body left
    out: 3 %. Source: wong2001, from memory.
    """
    m, f, h = _floats(mass), _checked_place(front_share), _floats(height_over_wheelbase)
    angle = _floats(slope)
    whole = m * GRAVITY * np.cos(angle)
    front = whole * f - m * (_floats(acceleration) + GRAVITY * np.sin(angle)) * h
    front = np.clip(front, 0.0, whole)
    return AxleLoads(np.asarray(front), np.asarray(whole - front))


def front_drive_grip(
    mass: ArrayLike, front_share: ArrayLike, height_over_wheelbase: ArrayLike, grip: ArrayLike
) -> Array:
    """Largest pull of driven front wheels mu m g f/(1 + mu h/L) [N].

    The pull itself takes load off them: F = mu (m g f - F h/L). Every force against the car counts as
    inertia. grip: mu, 0.9 dry, 0.6 wet, 0.2 snow [-]; the rest as `axle_loads`. Level road, an axle whose two
    wheels share alike: an open axle on uneven grip pulls less. Error: 10 to 15 % by grip. Source: wong2001,
    from memory.
    """
    mu = _floats(grip)
    load = _floats(mass) * GRAVITY * _checked_place(front_share)
    return np.asarray(mu * load / (1 + mu * _floats(height_over_wheelbase)))


def rear_drive_grip(
    mass: ArrayLike, front_share: ArrayLike, height_over_wheelbase: ArrayLike, grip: ArrayLike
) -> Array:
    """Largest pull of driven rear wheels mu m g (1 - f)/(1 - mu h/L) [N]; mu m g where the front lifts.

    The pull adds load to them: F = mu (m g (1 - f) + F h/L). Arguments, validity as `front_drive_grip`.
    """
    mu, weight = _floats(grip), _floats(mass) * GRAVITY
    relief = 1 - mu * _floats(height_over_wheelbase)
    lifted = relief <= 0
    pull = mu * weight * (1 - _checked_place(front_share)) / np.where(lifted, 1.0, relief)
    return np.asarray(np.where(lifted, mu * weight, np.minimum(pull, mu * weight)))


def engine_torque_at_grip(
    pull: ArrayLike, total_ratio: ArrayLike, efficiency: ArrayLike, radius: ArrayLike
) -> Array:
    """Torque at the crank at which the driven wheels spin, F r/(i eta) [N m]; inverse of `drive_force`.

    pull: `front_drive_grip` or `rear_drive_grip` [N]. In a low gear it, and no more, loads gearbox and
    shafts; the shock of a dropped clutch comes on top.
    """
    return np.asarray(_floats(pull) * _floats(radius) / (_floats(total_ratio) * _floats(efficiency)))


def brake_energy(effective_mass: ArrayLike, start: ArrayLike, end: ArrayLike = 0.0) -> Array:
    """Heat of all brakes in one stop, m_eff (v1^2 - v2^2)/2 [J].

    effective_mass: with what turns, clutch open [kg] (`driveline.effective_mass`). start, end: road speeds
    [m/s]. All broadcast. Level road; drag and rolling take 3 to 10 % of it (left in: the safe side).
    """
    return np.asarray(_floats(effective_mass) * (_floats(start) ** 2 - _floats(end) ** 2) / 2)


def disc_temperature_rise(
    energy: ArrayLike,
    axle_share: ArrayLike,
    disc_mass: ArrayLike,
    heat_capacity: ArrayLike = 460.0,
    into_disc: ArrayLike = 0.95,
) -> Array:
    """Mean temperature rise of each disc of an axle in one stop without cooling, E s q/(2 m c) [K].

    energy: `brake_energy` [J]. axle_share: s of the braking by this axle, front 0.65 to 0.8 [-]. disc_mass: m
    of one disc's rubbed part [kg]. heat_capacity: c of cast iron, 460 at 20 degC, 550 at 400 degC [J/(kg K)].
    into_disc: q, the rest warms pads and caliper [-]. All broadcast. The rubbed face is hotter for a moment.
    Error: 10 %. Common form, exact for what it states; the shares are common practice, no source.
    """
    heat = _floats(energy) * _floats(axle_share) * _floats(into_disc) / 2
    return np.asarray(heat / (_floats(disc_mass) * _floats(heat_capacity)))


def repeated_stop_temperature(
    rise: ArrayLike, stops: ArrayLike, cooling_number: ArrayLike, T_air: ArrayLike
) -> Array:
    """Temperature of a disc right after the n-th of equal stops, Ta + dT (1 - e^(-n x))/(1 - e^(-x)) [K].

    rise: dT of one stop [K]. stops: n [-]. cooling_number: x = h A t/(m c) between two stops [-]; 0 means no
    cooling, n dT. T_air: Ta, also of the disc before the first stop [K]. All broadcast. Exact for one mass
    with cooling in proportion to its excess temperature; own derivation (a geometric series).
    """
    n, x = _floats(stops), _floats(cooling_number)
    cools = x > 1e-12
    safe = np.where(cools, x, 1.0)
    series = np.where(cools, np.expm1(-n * safe) / np.expm1(-safe), n)
    return np.asarray(_floats(T_air) + _floats(rise) * series)
