"""The turbo's oil: what its bearing takes, what its drain takes home, and the crankcase against it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.physics.atmosphere import R_DRY_AIR, air_viscosity
from boostwright.physics.breather import breather_loss
from boostwright.physics.oil import drain_flow, drain_head, kinematic_viscosity, oil_density, restricted_flow

__all__ = ["Breather", "OilFeed", "Oiled", "breather_pressure", "drain_capacity", "head_of_drain", "oiled"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class OilFeed:
    """Oil on its way to the turbo. SI."""

    at_40: float  # kinematic viscosity [m2/s]
    at_100: float
    temperature: float  # [K]
    pressure: float  # at the feed above the crankcase, hot, top of the rev range [Pa]
    restrictor: float  # bore [m]; inf for none
    bearing: float  # clearances [m3]; see `physics.oil.restricted_flow`


class Oiled(NamedTuple):
    """What the bearing gets."""

    flow: float  # [m3/s]
    behind: float  # pressure behind the restrictor, at the bearing [Pa above the crankcase]
    viscosity: float  # dynamic [Pa s]
    density: float  # [kg/m3]


def oiled(feed: OilFeed) -> Oiled:
    """Flow and pressure at the bearing."""
    density = float(oil_density(feed.temperature))
    viscosity = float(kinematic_viscosity(feed.temperature, feed.at_40, feed.at_100)) * density
    flow = float(restricted_flow(feed.pressure, feed.restrictor, feed.bearing, viscosity, density))
    return Oiled(flow, viscosity * flow / feed.bearing, viscosity, density)


def drain_capacity(at: Oiled, bore: float, slope: float, air: float) -> float:
    """Oil that a half-full drain takes home [m3/s], counted without its air.

    bore: [m]. slope: [rad]. air: share of air in what runs down [-].
    """
    return (1.0 - air) * drain_flow(bore, slope, at.viscosity, at.density)


def head_of_drain(at: Oiled, drop: float, air: float) -> float:
    """Pressure of the column that stands in the drain [Pa]; air in it makes it lighter."""
    return float(drain_head(drop, at.density * (1.0 - air)))


@dataclass(frozen=True, slots=True)
class Breather:
    """The way out of the crankcase. SI."""

    bore: float
    length: float
    hoses: int
    heads: float  # losses beside the friction, in velocity heads
    temperature: float  # of the gas [K]


def breather_pressure(
    breather: Breather, blow_by: Array, outside: Array, ambient_pressure: float = 101325.0
) -> Array:
    """Pressure in the crankcase above the air outside [Pa], from blow-by (n,) [kg/s].

    outside: pressure at the far end of the hose, above the air outside [Pa]; negative before a compressor.
    ambient_pressure: of that air, which gives the gas its density [Pa absolute].
    """
    density = ambient_pressure / (R_DRY_AIR * breather.temperature)
    viscosity = float(air_viscosity(breather.temperature))
    bore, length, heads = breather.bore, breather.length, breather.heads
    each = np.asarray(blow_by, dtype=np.float64) / breather.hoses
    lost = [
        breather_loss(float(m), bore, length, density, viscosity, heads) if np.isfinite(m) else np.nan
        for m in each
    ]
    return np.asarray(np.asarray(outside) + np.array(lost))
