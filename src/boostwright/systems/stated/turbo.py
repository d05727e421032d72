"""The turbo, and the pipes, filter, cooler and exhaust about it, that a build states."""

from __future__ import annotations

from typing import Any, Final

from boostwright.build.document import Build
from boostwright.physics.turbine import Bearing
from boostwright.systems.stated.place import ambient_of
from boostwright.systems.turbo import Cooler, Restriction, TurboParts

__all__ = ["turbo_of"]

R_AIR: Final = 287.05
PEAK_FLOW: Final = 0.15  # charge flow at which the build file's pressure losses are stated [kg/s]


def turbo_of(build: Build) -> TurboParts | None:
    """The turbo side; None when the build names no turbo.

    Raises OutOfRange for wheels or housings outside the ground of the estimates.
    """
    inducer, exducer = build.get("turbo.compressor_inducer"), build.get("turbo.compressor_exducer")
    if inducer is None or exducer is None:
        return None
    air = ambient_of(build)
    cold = air.pressure / (R_AIR * air.temperature)
    charge = (air.pressure + _boost(build)) / (R_AIR * 320.0)
    cooler = None
    if build.words("cooler.type") != "none":
        cooler = Cooler(
            loss=Restriction(build.number("cooler.pressure_loss"), PEAK_FLOW, charge, 1.8),
            effectiveness=build.number("cooler.effectiveness"),
        )
    known: dict[str, Any] = {}
    if build.is_stated("turbo.compressor_tip_width"):
        known["b2"] = build.number("turbo.compressor_tip_width")
    return TurboParts.from_sizes(
        (float(inducer.value), float(exducer.value)),
        (
            build.number("turbo.turbine_inducer"),
            build.number("turbo.turbine_exducer"),
            build.number("turbo.turbine_housing"),
        ),
        inlet=Restriction(build.number("pipes.filter_loss"), PEAK_FLOW, cold),
        charge_pipes=Restriction(build.number("pipes.loss"), PEAK_FLOW, charge),
        exhaust=Restriction(build.number("exhaust.back_pressure"), PEAK_FLOW, 101325.0 / (288.0 * 950.0)),
        cooler=cooler,
        bearing=Bearing.ROLLING if build.words("turbo.bearing") == "ball" else Bearing.PLAIN,
        **known,
    )


def _boost(build: Build) -> float:
    goal = build.get("goal.boost")
    return float(goal.value) if goal is not None else 50.0e3
