"""The build as working systems: engine, fuel, model factors, turbo and pipes, in the records that systems
take.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from boostwright.build.document import Build
from boostwright.physics.turbine import Bearing
from boostwright.physics.valves import zero_lift_events
from boostwright.systems.engine.types import EngineGeometry, Fuel, ModelFactors, ValveTrain
from boostwright.systems.turbo import Ambient, Cooler, Restriction, TurboParts

__all__ = ["PartsAtHand", "ambient_of", "engine_of", "factors_of", "fuel_of", "turbo_of"]

_R = 287.05  # of air [J/(kg K)]
_FILLING = 0.95  # volumetric efficiency for the flow that 'at peak flow' means [-]
_EXHAUST_TEMPERATURE = 1030.0  # after the turbine, for the same [K]


def engine_of(build: Build) -> EngineGeometry:
    """The engine as the cycle sees it; cam events are brought to zero lift."""
    n, words = build.number, build.words
    return EngineGeometry(
        cylinders=build.count("engine.cylinders"),
        bore=n("engine.bore"),
        stroke=n("engine.stroke"),
        rod=n("engine.rod_length"),
        compression_ratio=n("engine.compression_ratio"),
        intake=_valves(build, "intake"),
        exhaust=_valves(build, "exhaust"),
        runner_length=n("engine.runner_length"),
        runner_area=math.pi / 4.0 * n("engine.runner_diameter") ** 2,
        port_volume=n("engine.port_volume"),
        plug_offset=n("engine.plug_offset"),
        tumble=n("model.tumble"),
        valve_gear=words("engine.valve_gear"),
    )


def _valves(build: Build, side: str) -> ValveTrain:
    lift = build.number(f"engine.{side}_lift")
    events = zero_lift_events(
        build.number(f"engine.{side}_opens"),
        build.number(f"engine.{side}_closes"),
        build.number("engine.cam_lift_point"),
        lift,
    )
    return ValveTrain(
        count=build.count(f"engine.{side}_valves"),
        diameter=build.number(f"engine.{side}_valve_diameter"),
        lift=lift,
        opens=float(events.opens),
        closes=float(events.closes),
        flow_factor=build.number("engine.port_flow"),
    )


def fuel_of(build: Build) -> Fuel:
    """The usual fuel."""
    return Fuel(
        ethanol_share=build.number("fuel.ethanol"),
        ron=build.number("fuel.octane"),
        mon=build.number("fuel.motor_octane"),
        petrol_heating_value=build.number("fuel.heating_value"),
    )


def factors_of(build: Build) -> ModelFactors:
    """The model's factors: the build's, on top of the class defaults of the cycle."""
    usual, n = ModelFactors(), build.number
    return ModelFactors(
        burn=usual.burn * n("model.burn"),
        heat=usual.heat * n("model.heat"),
        friction=usual.friction * n("model.friction"),
        knock=usual.knock * n("model.knock"),
        evaporated_share=n("model.evaporated_share"),
        port_heating=n("model.port_heating"),
        combustion_loss=n("model.combustion_loss"),
        coolant_temperature=n("engine.coolant_temperature"),
    )


def ambient_of(build: Build) -> Ambient:
    """The air of an ordinary warm day at the car's place."""
    return Ambient(build.barometer, build.number("place.temperature"))


class PartsAtHand(NamedTuple):
    """The turbo with all that it works with, and what was left out or taken for granted, in sentences."""

    parts: TurboParts
    notes: tuple[str, ...]


def turbo_of(build: Build, engine: EngineGeometry) -> PartsAtHand:
    """Turbo, filter, pipes, cooler and exhaust. Raises OutOfRange for sizes outside the ground of the
    estimate.
    """
    n, air = build.number, ambient_of(build)
    boost = n("goal.boost")
    plenum = air.pressure + boost
    charge_temperature = air.temperature + 30.0
    density = plenum / (_R * charge_temperature)
    flow = _FILLING * density * engine.displacement * n("engine.speed_limit") / (4.0 * math.pi)
    after = air.pressure + n("exhaust.back_pressure")
    notes = []
    if not any(path.startswith("turbo.") for path in build):
        notes.append(
            "The file states no turbo; one of usual size for this bore stands in. Measure its wheels."
        )
    if build.get("turbo.compressor_map") is not None:
        notes.append(
            "The compressor map that the file names is not read yet; the estimate from wheel sizes is used."
        )
    cooler = None
    if build.words("cooler.type") != "none":
        loss = Restriction(n("cooler.pressure_loss"), flow, density, 1.8)
        cooler = Cooler(loss, effectiveness=n("cooler.effectiveness"))
    parts = TurboParts.from_sizes(
        (n("turbo.compressor_inducer"), n("turbo.compressor_exducer")),
        (n("turbo.turbine_inducer"), n("turbo.turbine_exducer"), n("turbo.turbine_housing")),
        inlet=Restriction(n("pipes.filter_loss"), flow, air.pressure / (_R * air.temperature)),
        charge_pipes=Restriction(n("pipes.loss"), flow, density),
        exhaust=Restriction(n("exhaust.back_pressure"), 1.07 * flow, after / (_R * _EXHAUST_TEMPERATURE)),
        cooler=cooler,
        bearing=Bearing.ROLLING if build.words("turbo.bearing") == "ball" else Bearing.PLAIN,
    )
    return PartsAtHand(parts, tuple(notes))
