"""The turbo, and the pipes, filter, cooler and exhaust about it, that a build states."""

from __future__ import annotations

from boostwright.build.document import Build
from boostwright.library import turbo_sizes
from boostwright.physics.turbine import Bearing, TurbineSizes
from boostwright.systems.stated.charge_air import charge_air_of
from boostwright.systems.stated.compressor import StatedCompressor, compressor_of
from boostwright.systems.stated.exhaust import exhaust_of
from boostwright.systems.stated.turbine import StatedTurbine, turbine_of
from boostwright.systems.turbo import TurboParts

__all__ = ["parts_of", "turbo_of"]


def turbo_of(build: Build) -> TurboParts | None:
    """The turbo side; None when the build names no turbo.

    Raises OutOfRange for wheels or housings outside the ground of the estimates.
    """
    compressor = compressor_of(build)
    return None if compressor is None else parts_of(build, compressor)


def parts_of(build: Build, compressor: StatedCompressor, turbine: StatedTurbine | None = None) -> TurboParts:
    """The turbo side with a compressor, and a turbine, that were read already; raises as `turbo_of`."""
    turbine = turbine_of(build) if turbine is None else turbine
    mapped = turbine.fit is not None
    air = charge_air_of(build)
    return TurboParts(
        compressor_map=compressor.map,
        exducer=compressor.exducer,
        turbine=TurbineSizes(
            build.number("turbo.turbine_inducer"),
            build.number("turbo.turbine_exducer"),
            build.number("turbo.turbine_housing"),
        ),
        turbine_recipe=turbo_sizes.turbine_recipe(),
        measured_turbine=turbine.turbine if mapped else None,
        worse_turbines=turbine.worse if mapped else (),
        inlet=air.inlet,
        charge_pipes=air.charge_pipes,
        exhaust=exhaust_of(build),
        cooler=air.cooler,
        bearing=Bearing.ROLLING if build.words("turbo.bearing") == "ball" else Bearing.PLAIN,
        worse_map=compressor.one_deviation_worse(),
    )
