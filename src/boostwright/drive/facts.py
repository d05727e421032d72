"""What the review takes from the build: the few facts that a log cannot tell of itself."""

from __future__ import annotations

from typing import NamedTuple

from boostwright.build.document import Build
from boostwright.systems.stated.road import rolling_radius_of

__all__ = ["Facts", "facts_of"]


class Facts(NamedTuple):
    """SI; None where no build was given or it does not state the thing."""

    cylinders: int | None = None
    displacement: float | None = None  # of all cylinders [m3]
    boost: float | None = None  # goal, gauge [Pa]
    boost_cut: float | None = None  # absolute [Pa]
    speed_limit: float | None = None  # [rad/s]
    spring: float | None = None  # of the wastegate, gauge [Pa]
    creep: float | None = None  # measured on the spring [Pa]
    pressure_loss: float | None = None  # of the cooler at full flow [Pa]
    gears: tuple[float, ...] = ()  # gearbox ratios, first gear first
    ratios: tuple[float, ...] = ()  # engine speed over road speed of each gear [rad/m]
    lambda_boost: float | None = None
    oil_pressure_idle: float | None = None  # gauge [Pa]
    rail_follows: bool | None = None  # the fuel regulator has a hose to the manifold
    regulator: float | None = None  # pressure across the injector [Pa]


def facts_of(build: Build | None) -> Facts:
    """The facts of a build; an empty set of them for None."""
    if build is None:
        return Facts()
    gears = build.numbers("car.gears") if "car.gears" in build else ()
    return Facts(
        cylinders=build.count("engine.cylinders") if "engine.cylinders" in build else None,
        displacement=build.displacement,
        boost=_number(build, "goal.boost"),
        boost_cut=_number(build, "controller.boost_cut"),
        speed_limit=_number(build, "engine.speed_limit"),
        spring=_number(build, "wastegate.spring"),
        creep=_number(build, "wastegate.creep"),
        pressure_loss=_number(build, "cooler.pressure_loss"),
        gears=gears,
        ratios=_ratios(build, gears),
        lambda_boost=_number(build, "fuel.lambda_boost"),
        oil_pressure_idle=_number(build, "engine.oil_pressure_idle"),
        rail_follows=build.words("regulator.reference") == "manifold"
        if "regulator.reference" in build
        else None,
        regulator=_number(build, "regulator.pressure"),
    )


def _number(build: Build, path: str) -> float | None:
    return build.number(path) if path in build else None


def _ratios(build: Build, gears: tuple[float, ...]) -> tuple[float, ...]:
    if "car.final_drive" not in build or "car.tyre" not in build:
        return ()
    radius = rolling_radius_of(build)
    return tuple(g * build.number("car.final_drive") / radius for g in gears)
