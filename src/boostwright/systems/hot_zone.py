"""Parts near the hot side: walls by the match's gas, and how warm a part becomes on the road and standing."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.physics.convection import cross_flow_coefficient, free_convection_coefficient
from boostwright.physics.heat_transfer import STEFAN_BOLTZMANN, manifold_outlet
from boostwright.physics.radiation import (
    Exposure,
    target_temperature,
    view_factor_to_cylinder,
    view_factor_to_sphere,
)

__all__ = ["Bay", "HotPart", "Neighbour", "Warmed", "wall_temperature", "warmed"]

Array = NDArray[np.float64]
Number = Array | float

_PLATE: Final = 0.15  # across a shield, for the air along it [m]
_STEP, _STEPS = 20.0, 45  # of the soak: a quarter of an hour [s]
_WIDE: Final = 0.9  # view of a part of the shield right before it [-]
_STANDING: Final = 380.0  # at which the still air's coefficients are taken [K]


def wall_temperature(gas: Array, flow: Array, diameter: float, wall: float, bay: Number) -> Array:
    """Temperature of a hot part's wall under steady full load [K]; shape of the line.

    The balance of `heat_transfer.manifold_outlet` over a short stretch: gas to wall, wall to air and
    surroundings. gas: before it [K]. flow: through it [kg/s]. diameter: of the passage [m]. wall: thickness
    [m]. bay: air about it [K].
    """
    return manifold_outlet(gas, flow, diameter, 0.1, bay, wall_thickness=wall).wall


class HotPart(NamedTuple):
    """A hot part as a neighbour sees it. Numbers or arrays (m,)."""

    wall: Number  # temperature [K]
    emissivity: Number  # [-]
    radius: Number  # [m]
    length: float  # to either side of the neighbour [m]; 0 for a round housing
    heat: float  # heat capacity of a square metre of wall [J/(m2 K)]


class Bay(NamedTuple):
    """Air about the hot side. Numbers or arrays (m,)."""

    moving: Number  # temperature on the road [K]
    standing: Number  # after a hot stop [K]
    speed: Number  # on the road [m/s]
    pressure: float  # [Pa]
    lasting: float = math.inf  # how long full load lasts [s]
    outside: Number = (
        math.nan
    )  # air outside, at which parts begin [K]; that on the road where it is not known


@dataclass(frozen=True, slots=True)
class Neighbour:
    """A part near the hot side. Numbers or arrays (m,)."""

    distance: Number  # free, to the hot surface [m]
    size: float  # across the air [m]
    surface: float  # cooled surface over the face to the source [-]
    heat: float  # kept by a square metre of that face [J/(m2 K)]
    emissivity: Number  # of its face [-]
    shields: int  # sheets between
    shield_emissivity: Number  # [-]


class Warmed(NamedTuple):
    """How warm a part becomes [K]."""

    driving: Array
    standing: Array  # the most after a stop straight from full load

    @property
    def most(self) -> Array:
        """The greater of both."""
        return np.maximum(self.driving, self.standing)


def _view(hot: HotPart, distance: Number) -> Array:
    d = np.maximum(np.asarray(distance, dtype=np.float64), 1e-3)
    middle = d + hot.radius
    if hot.length > 0.0:
        return view_factor_to_cylinder(middle, hot.radius, hot.length, hot.length)
    return view_factor_to_sphere(middle, hot.radius)


class _Seen(NamedTuple):
    """What a part sees: the hot wall itself, or the last sheet before it."""

    temperature: Array
    emissivity: Number
    view: Array


def _seen(part: Neighbour, hot: HotPart, air: Number, coefficient: Number) -> _Seen:
    """Through as many sheets as stand between, each a plate with air on both sides."""
    seen = _Seen(np.asarray(hot.wall, dtype=np.float64), hot.emissivity, _view(hot, part.distance))
    for k in range(part.shields):
        at = Exposure(seen.temperature, seen.emissivity, air, air, coefficient, part.shield_emissivity, 2.0)
        view = _view(hot, 0.5 * np.asarray(part.distance)) if k == 0 else np.array(_WIDE)
        seen = _Seen(target_temperature(at, view), part.shield_emissivity, np.array(_WIDE))
    return seen


def warmed(part: Neighbour, hot: HotPart, bay: Bay) -> Warmed:
    """Temperature of a part beside a hot one.

    On the road it comes to rest, T = T_rest - (T_rest - T_0) exp(-t/tau): what reaches it by radiation
    goes into air and surroundings (`radiation.target_temperature`), tau = c/(s (h + 4 e sigma T^3)). After a
    stop straight from full load the wall cools by radiation and still air, the part, one lump, follows:
    explicit steps of 20 s over 15 minutes. A shield is in balance with the wall throughout. Heat along
    brackets, and hot air that rises from below, are left out.
    """
    moving = cross_flow_coefficient(bay.speed, part.size, _STANDING, bay.moving, bay.pressure)
    plate = cross_flow_coefficient(bay.speed, _PLATE, 1.2 * _STANDING, bay.moving, bay.pressure)
    seen = _seen(part, hot, bay.moving, plate)
    at = Exposure(
        seen.temperature, seen.emissivity, bay.moving, bay.moving, moving, part.emissivity, part.surface
    )
    rest = target_temperature(at, seen.view)
    radiated = 4.0 * np.asarray(part.emissivity) * STEFAN_BOLTZMANN * np.asarray(bay.moving) ** 3
    following = np.exp(-bay.lasting * part.surface * (moving + radiated) / part.heat)
    begun = np.where(np.isnan(bay.outside), bay.moving, bay.outside)
    driving = rest - (rest - begun) * following  # what is heavy has not come to rest when the load ends
    return Warmed(driving, np.maximum(_soaked(part, hot, bay, driving), driving))


def _soaked(part: Neighbour, hot: HotPart, bay: Bay, start: Array) -> Array:
    """The greatest temperature of a part after a hot stop [K]."""
    air = np.asarray(bay.standing, dtype=np.float64)
    still = free_convection_coefficient(part.size, _STANDING, air - 20.0, bay.pressure)
    wall_air = free_convection_coefficient(0.1, 700.0, air, bay.pressure)
    plate = free_convection_coefficient(_PLATE, 1.2 * _STANDING, air - 20.0, bay.pressure)
    seen = _seen(part, hot, air, plate)
    around = STEFAN_BOLTZMANN * air**4
    arriving = (
        np.asarray(part.emissivity)
        * seen.view
        * np.asarray(seen.emissivity)
        * (STEFAN_BOLTZMANN * seen.temperature**4 - around)
    )
    first = np.asarray(hot.wall, dtype=np.float64)
    wall, T, most = first + 0.0 * start, start + 0.0 * first, start + 0.0 * first
    per_emission = arriving / (STEFAN_BOLTZMANN * first**4 - around)
    for _ in range(_STEPS):
        emitted = STEFAN_BOLTZMANN * wall**4 - around
        lost = np.asarray(hot.emissivity) * emitted + wall_air * (wall - air)
        shed = part.surface * (
            still * (T - air) + np.asarray(part.emissivity) * (STEFAN_BOLTZMANN * T**4 - around)
        )
        T = T + _STEP / part.heat * (per_emission * emitted - shed)
        wall = wall - _STEP / hot.heat * lost
        most = np.maximum(most, T)
    return most
