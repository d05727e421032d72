"""How fast the car rolls at an engine speed, in the gear of a full-load pull."""

from __future__ import annotations

from typing import Final

from boostwright.build.document import Build
from boostwright.library.transient import road
from boostwright.physics.driveline import road_speed_at, tyre_size

__all__ = ["road_speed_of", "rolling_radius_of"]

USUAL_GEARING: Final = 0.055  # road over crank speed without stated gears [m]: 21 km/h at 1000 rpm; judgement
USUAL_RADIUS: Final = 0.29  # rolling radius where no tyre is stated [m]; judgement


def road_speed_of(build: Build) -> float:
    """Road speed over crank speed in the gear of a pull [m]; the usual one where gears are not stated."""
    gears, final = build.get("car.gears"), build.get("car.final_drive")
    if gears is None or final is None:
        return USUAL_GEARING
    ratios = gears.value
    gear = ratios[min(build.count("car.test_gear"), len(ratios)) - 1]
    return float(road_speed_at(1.0, float(gear) * float(final.value), rolling_radius_of(build)))


def rolling_radius_of(build: Build) -> float:
    """Rolling radius of the driven wheels [m]; the usual one where no tyre is stated."""
    stated = build.get("car.tyre")
    if stated is None:
        return USUAL_RADIUS
    return road().rolling_radius * tyre_size(str(stated.value)).free_radius
