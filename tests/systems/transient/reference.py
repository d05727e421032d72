"""The reference engine and turbo of the transient tests: a mean-value four, not a cycle. Invented."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

import numpy as np

from boostwright.physics.driveline import RotatingMass
from boostwright.physics.turbine import ExhaustGas
from boostwright.systems.transient import (
    Arrival,
    Car,
    EngineSurface,
    HeatLag,
    PullRequest,
    TransientSetup,
    boost_arrival,
    engine_surface,
    surface_points,
)
from boostwright.systems.turbo import Pulses, TurboParts
from tests.systems.mean_value_engine import RPM, MeanValueEngine, two_litre
from tests.systems.turbo_parts import AMBIENT, parts

GOAL = 180e3
INERTIA = 2.9e-5
GAS = ExhaustGas(288.5, 1190.0, 0.0, 1150.0)
SPEEDS = np.array([1500, 2000, 2500, 3000, 3500, 4000, 4500, 5000, 5500, 6000.0]) * RPM
COLD = HeatLag(math.inf, 0.06, 0.5, 2.0, 20.0)  # the gas begins at the walls' temperature
WARM = HeatLag(0.0, 0.06, 0.5, 2.0, 20.0)  # the walls take nothing
CAR = Car(1250.0, 0.68, (3.45, 1.95, 1.28, 0.97, 0.81), 4.1, 0.285, 0.012, 0.92, RotatingMass(0.04, 0.0025))

# Factors of a compact manifold over engine speed, from a crank-resolved model of it (own, earlier).
_PULSE_SPEEDS = np.array([1500, 2000, 3000, 4500, 6000.0]) * RPM
PULSES = Pulses(
    np.interp(SPEEDS, _PULSE_SPEEDS, [0.85, 0.945, 0.977, 0.993, 0.998]),
    np.interp(SPEEDS, _PULSE_SPEEDS, [1.31, 1.10, 1.04, 1.01, 1.00]),
)


@lru_cache(maxsize=4)
def surface(turbo: TurboParts, torque: bool = False, pulses: bool = True) -> EngineSurface:
    """The mean-value engine as a surface; its torque, where wanted, from a plain efficiency of a third."""
    points = surface_points(two_litre(), turbo, AMBIENT, SPEEDS, GOAL, GAS)
    cycle = MeanValueEngine()(points)
    if torque:
        work = 0.30 * 43e6 * cycle.fuel_flow / points.speed
        cycle = cycle._replace(torque=work, fmep=np.full(work.shape, 1.0e5))
    return engine_surface(two_litre(), points, cycle, PULSES if pulses else Pulses())


def setup(**changes: Any) -> TransientSetup:
    """The reference case unless told otherwise."""
    usual: dict[str, Any] = {
        "goal_pressure": GOAL, "inertia": INERTIA, "inertia_sd": 0.3 * INERTIA, "volume": 10e-3, "lag": COLD,
        "start_temperature": 850.0, "start_temperature_sd": 50.0, "top_speed": 6500 * RPM,
        "start_shaft": 30_000 * RPM,
    }  # fmt: skip
    return TransientSetup(**(usual | changes))


def arrival(
    *requests: PullRequest,
    turbo: TurboParts | None = None,
    with_spread: bool = False,
    pulses: bool = True,
    reference: int = 0,
    **changes: Any,
) -> Arrival:
    """Pulls of the reference case with some of it changed."""
    turbo = turbo or parts()
    engine = surface(turbo, "car" in changes, pulses)
    return boost_arrival(turbo, AMBIENT, engine, GAS, setup(**changes), requests, reference, with_spread)


def held(rpm: float) -> PullRequest:
    """A pull with the engine held at a speed."""
    return PullRequest(rpm * RPM)


def led(rpm: float, rpm_per_second: float) -> PullRequest:
    """A pull whose crank is led."""
    return PullRequest(rpm * RPM, 0, rpm_per_second * RPM)
