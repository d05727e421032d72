"""One thing fails at full boost: what boost and mixture then stand, and what stops it, if anything does."""

from __future__ import annotations

from dataclasses import replace
from enum import Enum
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.systems.fuel_side import FuelParts
from boostwright.systems.sensing import Controller, LoadFrom, PressureSensor, Reaction, seen_of

__all__ = ["CUT_DELAY", "Overboost", "Stop", "overboost", "sagged", "signal_lost", "stops", "weak_pump"]

Array = NDArray[np.float64]

CUT_DELAY: Final = 0.05  # between true pressure and the first cycle without fuel: sensor, filter, one cycle
"""[s] (judgement)."""


class Stop(Enum):
    """What ends it."""

    NOTHING = "nothing stops it"
    CUT = "the boost cut"
    TURBO = "the turbo gives no more"


class Overboost(NamedTuple):
    """The gate does not open; arrays (n,) over the speeds of the line with the gate held shut."""

    pressure: Array  # that the plenum reaches before something stops it [Pa absolute]
    lam: Array  # that stands there [-]
    stop: tuple[Stop, ...]


def overboost(
    plenum_pressure: ArrayLike,
    air_flow: ArrayLike,
    lam: ArrayLike,
    controller: Controller,
    sensor: PressureSensor,
    rise: ArrayLike = 0.0,
) -> Overboost:
    """What the plenum reaches with the gate shut: what the turbo gives, or the cut and what passes it.

    plenum_pressure, air_flow, lam: of the matched line with the gate held shut (n,). rise: pressure gained
    between the cut's pressure and the first cycle without fuel [Pa]. A cut beyond the sensor's end never
    trips, and then the mixture leans as the sensor's signal stands still.
    """
    p, air, wanted, over = np.broadcast_arrays(
        *(np.atleast_1d(np.asarray(a, dtype=np.float64)) for a in (plenum_pressure, air_flow, lam, rise))
    )
    cut = controller.boost_cut if controller.cut_trips(sensor) else None
    trips = np.zeros(p.shape, dtype=bool) if cut is None else p > cut
    reached = p if cut is None else np.where(trips, np.minimum(cut + over, p), p)
    seen = seen_of(controller, sensor, wanted, reached, air * reached / p)
    stops = tuple(Stop.CUT if t else Stop.TURBO if cut is not None else Stop.NOTHING for t in trips)
    return Overboost(np.asarray(reached), seen.lam, stops)


def signal_lost(
    controller: Controller, lam: ArrayLike, plenum_pressure: ArrayLike, fixed_pressure: ArrayLike
) -> Array:
    """Lambda with the pressure signal standing at ``fixed_pressure`` [Pa absolute]: lam p/p_fixed [-].

    A controller with an air meter does not need the signal for its fuel.
    """
    wanted = np.asarray(lam, dtype=np.float64)
    if controller.load is LoadFrom.AIR_METER:
        return wanted * np.ones_like(np.asarray(plenum_pressure, dtype=np.float64))
    return np.asarray(wanted * np.asarray(plenum_pressure) / np.asarray(fixed_pressure))


def sagged(parts: FuelParts, volts: float) -> FuelParts:
    """The fuel side with so many volts less at the pump and at the injectors."""
    return replace(
        parts,
        pump_voltage=np.maximum(parts.pump_voltage - volts, 0.0),
        injectors=replace(parts.injectors, voltage=np.maximum(parts.injectors.voltage - volts, 1.0)),
    )


def weak_pump(parts: FuelParts, share: float) -> FuelParts:
    """The fuel side with a pump that gives only so much of its flow [-]."""
    pump = parts.pump
    return replace(parts, pump=pump._replace(free_flow=share * np.asarray(pump.free_flow)))


def stops(reaction: Reaction) -> bool | None:
    """Whether a reaction ends the failure; None when nobody has said."""
    return None if reaction is Reaction.UNKNOWN else reaction is Reaction.STOPS
