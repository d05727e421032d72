"""The engine's oil with a turbo on it: pressure over speed, what the turbo takes, drain and heat."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.oil import kinematic_viscosity, oil_density
from boostwright.systems.oil.flow import Oiled, OilFeed, drain_capacity, head_of_drain, oiled

__all__ = [
    "READ_AT",
    "READ_SPEED",
    "OilHeat",
    "OilSide",
    "after_pulls",
    "bearing_by_bottle",
    "bore_by_bottle",
    "drain_of",
    "feed_at",
    "gauge_pressure",
    "head_of",
    "idle_with_turbo",
    "minutes_to",
]

Array = NDArray[np.float64]

READ_AT: Final = 363.15  # oil temperature of the pressure readings [K]
READ_SPEED: Final = 3000.0 * math.pi / 30.0  # crank speed of the second one [rad/s]
_BARE: Final = 0.05  # least share of the pressure that is left for the bearing behind a restrictor [-]


@dataclass(frozen=True, slots=True)
class OilSide:
    """The oil of one build. SI."""

    idle_speed: float  # crank [rad/s]
    idle_pressure: float  # read hot, above the crankcase [Pa]
    middle_pressure: float  # the same at 3000 rpm [Pa]
    growth: float  # pressure at the top of the rev range over that at 3000 rpm [-]
    top_speed: float  # crank [rad/s]
    slide: float  # power of the viscosity that the pressure follows [-]
    at_40: float  # kinematic viscosity in service [m2/s]
    at_100: float
    temperature: float  # hot, at the feed [K]
    restrictor: float  # bore [m]; inf for none
    bearing: float  # clearances of the turbo's bearing [m3]
    drain_bore: float  # [m]
    drain_slope: float  # below the level [rad]
    drain_drop: float  # outlet above the oil level [m]
    air: float  # share of air in what leaves the turbo [-]
    law: float  # drain's flow over that of the friction law [-]


def gauge_pressure(side: OilSide, speed: float) -> float:
    """Oil pressure as a gauge read it, at `READ_AT` [Pa]: straight lines between idle, 3000 rpm and top.

    speed: crank [rad/s].
    """
    top = max(side.top_speed, READ_SPEED + 1.0)
    at = (min(side.idle_speed, READ_SPEED - 1.0), READ_SPEED, top)
    read = (side.idle_pressure, side.middle_pressure, side.growth * side.middle_pressure)
    return max(float(np.interp(speed, at, read)), 0.0)


def _dynamic(side: OilSide, T: float) -> float:
    return float(kinematic_viscosity(T, side.at_40, side.at_100)) * float(oil_density(T))


def feed_at(side: OilSide, speed: float, T: float | None = None) -> Oiled:
    """What the turbo's bearing gets at a crank speed [rad/s]; T: oil temperature, None for the hot one [K].

    p = p_read (mu(T)/mu(T_read))^slide, then `systems.oil.oiled`.
    """
    hot = side.temperature if T is None else T
    thinner = _dynamic(side, hot) / _dynamic(side, READ_AT)
    pressure = gauge_pressure(side, speed) * float(thinner**side.slide)
    return oiled(OilFeed(side.at_40, side.at_100, hot, pressure, side.restrictor, side.bearing))


def bearing_by_bottle(flow: float, pressure: float, restrictor: float, at_40: float, at_100: float) -> float:
    """Clearances of a bearing from what ran into a bottle at hot idle [m3].

    G = mu Q/(p - rho/2 (Q/(0.61 A))^2); a restrictor that would use up the pressure leaves a twentieth of it.

    flow: [m3/s]. pressure: at the feed [Pa]. restrictor: bore, inf for none [m]. at_40, at_100: [m2/s].
    """
    density = float(oil_density(READ_AT))
    viscosity = float(kinematic_viscosity(READ_AT, at_40, at_100)) * density
    area = 0.61 * 0.25 * math.pi * restrictor**2
    behind = pressure - 0.5 * density * (flow / area) ** 2
    return viscosity * flow / max(behind, _BARE * pressure, 1.0)


def bore_by_bottle(flow: float, pressure: float) -> float:
    """Least bore that passes what ran into a bottle at hot idle, a twentieth of the pressure left for the
    bearing [m]: d^2 = 4 Q/(0.61 pi) sqrt(rho/(2 0.95 p)).

    flow: [m3/s]. pressure: at the feed [Pa]; 0 without one. Error: as `physics.oil.restrictor_flow`, half of
    it.
    """
    if pressure <= 0.0:
        return 0.0
    speed = math.sqrt(2.0 * (1.0 - _BARE) * pressure / float(oil_density(READ_AT)))
    return math.sqrt(4.0 * flow / (0.61 * math.pi * speed))


def idle_with_turbo(side: OilSide, pump: float) -> float:
    """Oil pressure at hot idle once the turbo takes its share [Pa], p Q/(Q + Q_turbo).

    Engine and turbo are clearances side by side behind a pump of fixed flow. pump: its flow at hot idle
    [m3/s]. Error: 10 % of the fall, as a restrictor is no clearance.
    """
    taken = feed_at(side, side.idle_speed, READ_AT).flow
    return side.idle_pressure * pump / (pump + taken)


def drain_of(side: OilSide, at: Oiled) -> float:
    """Oil that the drain takes home [m3/s], counted without its air."""
    return side.law * drain_capacity(at, side.drain_bore, side.drain_slope, side.air)


def head_of(side: OilSide) -> float:
    """Pressure of the column in the drain [Pa]."""
    density = float(oil_density(side.temperature))
    return head_of_drain(Oiled(0.0, 0.0, 1.0, density), side.drain_drop, side.air)


class OilHeat(NamedTuple):
    """What warms the oil, and what cools it."""

    extra: float  # heat at full load beyond that of the hard drive before the conversion [W]
    conductance: float  # engine's oil to the air [W/K]
    store: float  # oil and the metal that follows it [J/K]
    before: float  # temperature at the end of that drive, in today's air [K]


def after_pulls(heat: OilHeat, pull: float, pause: float, pulls: int = 3) -> float:
    """Oil temperature at the end of the last of several pulls [K].

    In a pull the oil runs towards T + E/UA with the time C/UA, in a pause back to T.

    pull, pause: [s].
    """
    lag = heat.store / heat.conductance
    rise = 0.0
    for i in range(pulls):
        if i:
            rise *= math.exp(-pause / lag)
        rise += (heat.extra / heat.conductance - rise) * -math.expm1(-pull / lag)
    return heat.before + rise


def minutes_to(heat: OilHeat, limit: ArrayLike) -> float:
    """Time of lasting full load until the oil reaches a limit [s]; inf where it never does.

    limit: [K].
    """
    end = heat.before + heat.extra / heat.conductance
    wanted = float(np.asarray(limit))
    if wanted <= heat.before:
        return 0.0
    if end <= wanted:
        return math.inf
    return -heat.store / heat.conductance * math.log1p(-(wanted - heat.before) / (end - heat.before))
