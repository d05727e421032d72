"""The engine, its fuel and its losses that a build states."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from boostwright.build.document import Build
from boostwright.physics.valves import zero_lift_events
from boostwright.systems.engine.types import EngineGeometry, Fuel, HeatLaw, ModelFactors, ValveTrain

__all__ = ["Losses", "engine_of", "factors_of", "fuel_of", "losses_of"]

_SLOWEST: Final = 1000.0 * np.pi / 30.0  # crank speed from which on breathing factors count [rad/s]
VALVE_GEAR: Final = {
    "direct": "direct",
    "finger-follower": "finger",
    "roller-follower": "roller finger",
    "push-rod": "pushrod",
}


class Losses(NamedTuple):
    """Pressure losses of the engine as it stands, at 6000 rev/min and full load [Pa]."""

    intake: float
    exhaust: float


def _valves(build: Build, side: str) -> ValveTrain:
    """One side's valves, with events at zero lift."""
    lift = build.number(f"engine.{side}_lift")
    opens, closes = build.number(f"engine.{side}_opens"), build.number(f"engine.{side}_closes")
    at = build.number("engine.cam_lift_point")
    stated = build.is_stated(f"engine.{side}_opens") or build.is_stated(f"engine.{side}_duration")
    if at > 0.0 and stated:  # the class defaults are at zero lift already
        opens, closes = (float(v) for v in zero_lift_events(opens, closes, at, lift))
    return ValveTrain(
        count=build.count(f"engine.{side}_valves"),
        diameter=build.number(f"engine.{side}_valve_diameter"),
        lift=lift,
        opens=opens,
        closes=closes,
        flow_factor=build.number("engine.port_flow"),
    )


def engine_of(build: Build) -> EngineGeometry:
    """The engine as the cycle sees it."""
    runner = build.number("engine.runner_diameter")
    offset = build.number("engine.plug_offset")
    bore = build.number("engine.bore")
    return EngineGeometry(
        cylinders=build.count("engine.cylinders"),
        bore=bore,
        stroke=build.number("engine.stroke"),
        rod=build.number("engine.rod_length"),
        compression_ratio=build.number("engine.compression_ratio"),
        intake=_valves(build, "intake"),
        exhaust=_valves(build, "exhaust"),
        runner_length=build.number("engine.runner_length"),
        runner_area=0.25 * np.pi * runner**2,
        port_volume=build.number("engine.port_volume"),
        plug_offset=offset,
        tumble=build.number("model.tumble"),
        valve_gear=VALVE_GEAR[build.words("engine.valve_gear")],
        exhaust_port_diameter=0.407 * bore,
        manifold_diameter=0.442 * bore,
    )


def fuel_of(build: Build) -> Fuel:
    """The fuel in the tank."""
    return Fuel(
        ethanol_share=build.number("fuel.ethanol"),
        ron=build.number("fuel.octane"),
        mon=build.number("fuel.motor_octane"),
        petrol_heating_value=build.number("fuel.heating_value"),
    )


def factors_of(build: Build, heat_law: HeatLaw = HeatLaw.WOSCHNI) -> ModelFactors:
    """The model's multipliers; those of the build are relative to the class default of the heat law."""
    usual = ModelFactors()
    usual_heat = usual.heat if heat_law is HeatLaw.WOSCHNI else 1.0
    return ModelFactors(
        burn=build.number("model.burn"),
        heat=usual_heat * build.number("model.heat"),
        friction=build.number("model.friction"),
        knock=usual.knock * build.number("model.knock"),
        knock_warmth=build.number("model.knock_warmth"),
        evaporated_share=build.number("model.evaporated_share"),
        port_heating=build.number("model.port_heating"),
        exhaust_cooling=build.number("model.exhaust_cooling"),
        breathing=build.number("model.breathing"),
        breathing_slope=build.number("model.breathing_slope"),
        breathing_curve=build.number("model.breathing_curve"),
        breathing_range=(_SLOWEST, build.number("engine.speed_limit")),
        combustion_loss=build.number("model.combustion_loss"),
        coolant_temperature=build.number("engine.coolant_temperature"),
    )


def losses_of(build: Build) -> Losses:
    """Losses of the engine before the conversion."""
    return Losses(intake=2.5e3, exhaust=build.number("exhaust.stock_back_pressure"))
