"""What a transient is asked and what it answers: car, setup, pulls, arrival."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import OutOfRange
from boostwright.physics.driveline import RotatingMass

__all__ = ["Arrival", "Car", "HeatLag", "Pull", "PullRequest", "Resized", "TransientSetup"]

Array = NDArray[np.float64]
GateArea = Callable[[Array, Array, Array, Array], Array]
"""Effective area [m2] of plenum, compressor outlet, turbine inlet and turbine outlet pressure [Pa]."""


@dataclass(frozen=True, slots=True)
class HeatLag:
    """What cold exhaust walls take from the gas, and how soon they are warm.

    A wall's state is told by the turbine inlet temperature that belongs to it once all is steady.
    """

    transfer_units: float  # h A/(m cp) between gas and walls at the reference flow; infinity: all of it [-]
    flow: float  # reference, of the whole engine [kg/s]
    fast_share: float  # of the walls' effect that comes from parts which warm fast [-]
    fast_time: float  # [s]
    slow_time: float  # [s]

    def share(self, flow: Array) -> Array:
        """Share of the way to the walls' temperature that the gas goes; Nu ~ Re^0.75 (depcik2002) [-]."""
        if not np.isfinite(self.transfer_units):
            return np.ones(flow.shape)
        return np.asarray(-np.expm1(-self.transfer_units * (self.flow / np.maximum(flow, 1e-4)) ** 0.25))


@dataclass(frozen=True, slots=True)
class Car:
    """The car that the engine has to pull."""

    mass: float  # with all in it [kg]
    drag_area: float  # [m2]
    gears: tuple[float, ...]  # ratios from first up [-]
    final_drive: float  # [-]
    radius: float  # rolling, of the driven wheels [m]
    rolling: float  # coefficient [-]
    efficiency: float  # of gearbox and axle [-]
    rotating: RotatingMass
    assumed: tuple[str, ...] = ()  # what of it nobody stated, in words

    def total_ratio(self, gear: int) -> float:
        """Gear times final drive [-]; gear counts from 1. Raises OutOfRange for a gear that is not there."""
        if not 1 <= gear <= len(self.gears):
            raise OutOfRange(f"The gearbox has {len(self.gears)} gears; there is no gear {gear}.")
        return self.gears[gear - 1] * self.final_drive


class PullRequest(NamedTuple):
    """One pull: the throttle goes open at an engine speed, in a gear, or with the crank led."""

    start: float  # crank speed at which the throttle opens [rad/s]
    gear: int = 0  # from 1; 0: no car, the crank gains `rate`
    rate: float = 0.0  # of the crank where no gear is in; 0 holds it [rad/s2]


@dataclass(frozen=True, slots=True)
class TransientSetup:
    """What a transient needs beside turbo, air and engine."""

    goal_pressure: float  # plenum [Pa absolute]
    inertia: float  # of the shaft [kg m2]
    inertia_sd: float  # [kg m2]
    volume: float  # from compressor to intake valves [m3]
    lag: HeatLag
    start_temperature: float  # turbine inlet temperature to which the walls belong when the pull begins [K]
    start_temperature_sd: float  # [K]
    top_speed: float  # of the crank; a pull ends there [rad/s]
    car: Car | None = None
    gate_area: GateArea | None = None  # by the gate's own force balance; None: control holds the goal exactly
    gate_time: float = 0.1  # lag of the gate [s]
    gate_band: float = 0.1  # of the boost, below the goal, in which ideal control takes back the surplus [-]
    arrived: float = 0.9  # share of the boost at which it counts as there [-]
    least_shaft: float = 523.6  # [rad/s]
    start_shaft: float | None = None  # [rad/s]; None: from the balance in easy driving
    duration: float = 8.0  # [s]
    step: float = 0.025  # [s]


class Pull(NamedTuple):
    """One pull over time; arrays have shape (k,)."""

    gear: int  # from 1; 0: crank held or led
    start: float  # crank speed at which the throttle opened [rad/s]
    time: Array  # [s]
    boost: Array  # plenum above ambient [Pa]
    crank: Array  # [rad/s]
    shaft: Array  # [rad/s]
    arrival: float  # time until boost counts as there; NaN: not within the pull [s]
    arrival_sd: float  # standard deviation; NaN where it cannot be told [s]
    arrival_speed: float  # crank speed then [rad/s]
    arrival_speed_sd: float  # [rad/s]
    peak: float  # greatest boost [Pa above ambient]
    overshoot: float  # above the boost wanted [Pa]
    ends_at_top: bool  # whether the pull ended at the top speed of the engine


class Resized(NamedTuple):
    """The reference pull with another turbine."""

    area_over_radius: float  # [m]
    wheel: float  # inlet diameter [m]
    arrival: float  # NaN: not within the pull [s]
    arrival_speed: float  # crank [rad/s]


class Arrival(NamedTuple):
    """When boost arrives."""

    goal: float  # boost wanted [Pa above ambient]
    share: float  # of it that counts as there [-]
    pulls: tuple[Pull, ...]
    reference: int  # which of the pulls the changes below were tried on
    inertia: float  # [kg m2]
    inertia_sd: float  # [kg m2]
    volume: float  # [m3]
    start_shaft: float  # when the throttle opens [rad/s]
    start_temperature: float  # [K]
    turbine: Resized  # the one in hand, on that pull
    housings: tuple[Resized, ...]  # smaller housings, same wheel, largest first
    wheels: tuple[Resized, ...]  # smaller turbine wheels, same housing, largest first
    assumed: tuple[str, ...]  # what of the car nobody stated, in words
    unknowns: tuple[tuple[str, float], ...]  # where the spread comes from and how much of its square, falling

    def in_gear(self, gear: int) -> Pull | None:
        """The pull in a gear; None where none was asked."""
        return next((pull for pull in self.pulls if pull.gear == gear), None)

    @property
    def held(self) -> Pull | None:
        """The pull with the engine speed held; None where none was asked."""
        return next((p for p in self.pulls if p.gear == 0 and p.crank[0] == p.crank[-1]), None)
