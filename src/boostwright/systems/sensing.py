"""What the engine controller sees of the plenum, what it makes of it, and what it does when that fails."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.pressure_sensor import Transfer, lambda_when_clipped, seen_pressure

__all__ = ["Controller", "LoadFrom", "PressureSensor", "Reaction", "Seen", "seen_of"]

Array = NDArray[np.float64]


class LoadFrom(Enum):
    """How the controller knows the load."""

    PRESSURE = "speed-density"
    AIR_METER = "air-meter"


class Reaction(Enum):
    """What it does when something goes wrong."""

    STOPS = "stops"  # cuts, or lets the boost go
    NOTHING = "nothing"
    UNKNOWN = "unknown"  # nobody has said


@dataclass(frozen=True, slots=True)
class PressureSensor:
    """The plenum's pressure sensor. An unknown one is taken to end where the caller says."""

    transfer: Transfer
    known: bool  # whether anyone has stated its range


@dataclass(frozen=True, slots=True)
class Controller:
    """The engine controller's settings that a verdict hangs on; None: nobody has said."""

    load: LoadFrom
    boost_cut: float | None  # [Pa absolute]
    table_top: float | None  # [Pa absolute]
    closed_loop_below: float | None  # [Pa absolute]
    meter_highest: float | None  # [kg/s]
    torque_limit: float | None  # [N m]
    electronic_throttle: bool
    on_sensor_fault: Reaction
    on_lean: Reaction

    def cut_trips(self, sensor: PressureSensor) -> bool:
        """Whether the cut lies within what the sensor reads."""
        return self.boost_cut is not None and self.boost_cut < float(np.asarray(sensor.transfer.highest))


class Seen(NamedTuple):
    """What the controller makes of each point; arrays (n,)."""

    pressure: Array  # that it sees [Pa absolute]
    clipped: NDArray[np.bool_]  # whether the true one lies beyond sensor or meter
    lam: Array  # that its fuel makes with the air that is there [-]
    cuts: NDArray[np.bool_]  # whether the boost cut trips


def seen_of(
    controller: Controller,
    sensor: PressureSensor,
    lam: ArrayLike,
    plenum_pressure: ArrayLike,
    air_flow: ArrayLike,
) -> Seen:
    """What it sees of plenum pressure [Pa absolute] and air flow [kg/s] when ``lam`` [-] is wanted.

    From pressure: fuel goes with the pressure seen, so beyond the sensor's end the mixture leans by p/p_seen.
    From an air meter: fuel goes with the air seen, so beyond the meter's end by m/m_seen; a meter of which
    nobody has said where it ends is taken as seeing all. The cut looks at the pressure seen in both.
    """
    p, air, wanted = np.broadcast_arrays(
        *(np.atleast_1d(np.asarray(a, dtype=np.float64)) for a in (plenum_pressure, air_flow, lam))
    )
    seen = seen_pressure(sensor.transfer, p)
    if controller.load is LoadFrom.PRESSURE:
        clipped = p > np.asarray(sensor.transfer.highest)
        mixture = lambda_when_clipped(wanted, p, seen)
    else:
        top = np.inf if controller.meter_highest is None else controller.meter_highest
        clipped = air > top
        mixture = wanted * air / np.minimum(air, top)
    cut = np.inf if controller.boost_cut is None else controller.boost_cut
    return Seen(seen, clipped, np.asarray(mixture), np.asarray(seen >= cut) & controller.cut_trips(sensor))
