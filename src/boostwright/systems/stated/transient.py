"""Shaft, exhaust walls and car that a build states, for the question when boost arrives."""

from __future__ import annotations

import math
from typing import Final

from boostwright.build.document import Build
from boostwright.library import transient as table
from boostwright.physics.heat_transfer import depcik_assanis_coefficient
from boostwright.physics.shaft import inertia_of_wheels
from boostwright.systems.engine.types import EngineGeometry
from boostwright.systems.stated.road import rolling_radius_of
from boostwright.systems.transient.records import Car, HeatLag, PullRequest, TransientSetup
from boostwright.systems.turbo import TurboParts

__all__ = ["car_of", "heat_lag_of", "inertia_of", "pulls_of", "transient_of"]

_RPM: Final = math.pi / 30.0
USUAL_GEARS: Final = (3.45, 1.95, 1.30, 0.97, 0.80)  # five gears of a small car; common practice, no source
USUAL_FINAL_DRIVE: Final = 4.0  # common practice, no source
USUAL_BY: Final = 3000.0 * _RPM  # boost wanted by this speed where nobody says [rad/s]; judgement
START_SHARE: Final = 2.0 / 3.0  # of that speed, at which the throttle opens; judgement
LEAST_START: Final = 1500.0 * _RPM  # nobody floors it lower down in a gear [rad/s]; judgement
PULL_GEARS: Final = (2, 3, 4)
_HOT_CP: Final = 1230.0  # of exhaust gas about the walls [J/(kg K)]
_HOT: Final = 1100.0  # gas temperature at which the walls' heat transfer is taken [K]


def car_of(build: Build) -> Car:
    """The car; usual gears, axle and tyre stand in for what is not stated."""
    road = table.road()
    gears, final = build.get("car.gears"), build.get("car.final_drive")
    return Car(
        mass=build.number("car.mass"),
        drag_area=build.number("car.drag_area"),
        gears=USUAL_GEARS if gears is None else tuple(float(v) for v in gears.value),
        final_drive=USUAL_FINAL_DRIVE if final is None else float(final.value),
        radius=rolling_radius_of(build),
        rolling=road.rolling,
        efficiency=road.efficiency,
        rotating=road.rotating,
        assumed=assumed_of(build),
    )


def assumed_of(build: Build) -> tuple[str, ...]:
    """What of the car nobody stated, in workshop words, for the sentence that says so."""
    words = {
        "car.mass": "mass of the car",
        "car.gears": "gear ratios",
        "car.final_drive": "final drive",
        "car.tyre": "tyres",
    }
    return tuple(said for path, said in words.items() if not build.is_stated(path))


def inertia_of(build: Build, turbo: TurboParts) -> tuple[float, float]:
    """Moment of inertia of the turbo's shaft and its deviation, stated or from the wheels [kg m2]."""
    stated = build.get("turbo.inertia")
    if stated is not None:
        return float(stated.value), float(stated.sd)
    recipe = table.inertia_recipe()
    value = float(inertia_of_wheels(turbo.exducer, turbo.turbine.Dt, recipe))
    return value, recipe.spread * value


def heat_lag_of(build: Build, engine: EngineGeometry) -> HeatLag:
    """What the walls between valve and turbine take, from the heat transfer of one cylinder's gas path."""
    lag = table.heat_lag()
    flow = 0.6 * engine.displacement / 0.02  # of the whole engine, half way up: 60 g/s for two litres [kg/s]
    each = flow / engine.cylinders
    coefficient = float(depcik_assanis_coefficient(each, engine.manifold_diameter, _HOT, _HOT_CP))
    wall = math.pi * engine.manifold_diameter * lag.path_length
    tubular = build.words("manifold.kind") == "tubular"
    return HeatLag(
        transfer_units=coefficient * wall / (each * _HOT_CP),
        flow=flow,
        fast_share=lag.fast_share,
        fast_time=lag.fast_time,
        slow_time=lag.tubular_time if tubular else lag.slow_time,
    )


def transient_of(
    build: Build, turbo: TurboParts, engine: EngineGeometry, volume: float, ambient_pressure: float
) -> TransientSetup:
    """Everything that a transient needs beside turbo, air and engine.

    volume: from compressor to intake valves, pipes, cooler and plenum [m3]. ambient_pressure: [Pa].
    """
    lag, control = table.heat_lag(), table.control()
    inertia, sd = inertia_of(build, turbo)
    return TransientSetup(
        goal_pressure=ambient_pressure + build.number("goal.boost"),
        inertia=inertia,
        inertia_sd=sd,
        volume=volume,
        lag=heat_lag_of(build, engine),
        start_temperature=lag.start_temperature,
        start_temperature_sd=lag.start_spread,
        top_speed=build.number("engine.speed_limit"),
        car=car_of(build),
        gate_time=control.gate_time,
        gate_band=control.gate_band,
        arrived=control.arrived,
        least_shaft=control.idle_shaft,
    )


def pulls_of(build: Build, car: Car) -> tuple[tuple[PullRequest, ...], int]:
    """The pulls that answer for this build, and which of them is the reference.

    In the gears, the throttle opens at two thirds of the speed by which boost is wanted; held at that speed
    itself, the pull tells the time alone. The reference is the gear in which this car is tested.
    """
    wanted = build.get("goal.boost_by")
    by = USUAL_BY if wanted is None else float(wanted.value)
    start = max(LEAST_START, START_SHARE * by)
    test = min(build.count("car.test_gear"), len(car.gears))
    gears = sorted({g for g in (*PULL_GEARS, test) if g <= len(car.gears)})
    pulls = tuple(PullRequest(start, gear) for gear in gears)
    return (*pulls, PullRequest(by)), gears.index(test)
