"""Clutch, weight and brakes that a build states, and what of them is uncertain."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Final, NamedTuple

import numpy as np

from boostwright.build.document import Build
from boostwright.library.car_parts import car_constant, car_value
from boostwright.physics.clutch import disc_torque
from boostwright.systems.on_the_road import Brakes, Chassis, moved_share

__all__ = ["ClutchHolds", "brakes_of", "chassis_of", "clutch_of", "uncertain_brakes"]

_BATTERY_WAY: Final = {"bay": 0.0, "cabin": 1.6, "boot": 2.9}  # backwards [m]; judgement
_PLATE: Final = ("clutch.clamp_load", "clutch.disc_outer", "clutch.disc_inner")


class ClutchHolds(NamedTuple):
    """Torque that the clutch holds."""

    torque: float  # [N m]
    sd: float
    how: str  # 'stated', 'plate', or '' where nobody stated anything


def clutch_of(build: Build) -> ClutchHolds:
    """The stated torque, else that of plate and disc as run in, else nothing."""
    if build.is_stated("clutch.torque"):
        stated = build["clutch.torque"]
        return ClutchHolds(float(stated.value), float(stated.sd or 0.0), "stated")
    if not all(build.is_stated(path) for path in _PLATE):
        return ClutchHolds(math.nan, 0.0, "")
    load, outer, inner = (build.number(path) for path in _PLATE)
    friction = car_constant("clutch", build.words("clutch.lining"))
    faces = 2 * build.count("clutch.discs")
    torque = float(disc_torque(load, friction.value, outer / 2, inner / 2, faces).uniform_wear)
    load_sd = float(build["clutch.clamp_load"].sd or 0.0) / load
    return ClutchHolds(torque, torque * math.hypot(load_sd, friction.sd / friction.value), "plate")


def chassis_of(build: Build, grip: str = "grip") -> Chassis:
    """Weight and grip. grip: row of the library's table, 'grip' or 'grip_wet'."""
    mass, front = build.number("car.mass"), build.number("car.front_share")
    wheelbase = build.number("car.wheelbase")
    if not build.is_stated("car.front_share"):  # a stated one was weighed with the battery where it is
        way = _BATTERY_WAY[build.words("battery.position")]
        front = moved_share(front, mass, build.number("battery.mass"), way, wheelbase)
    driven = build.get("car.driven_wheels")
    return Chassis(
        mass=mass,
        front_share=front,
        height=car_value("road", "height"),
        grip=car_value("road", grip),
        driven="front" if driven is None else str(driven.value),
    )


def _stops(build: Build) -> str:
    return f"stops_{build.words('build.use')}"


def uncertain_brakes(build: Build) -> list[tuple[str, float, float]]:
    """Name, value and standard deviation of what the discs' temperature rests on beside the speed [SI]."""
    stated = build["car.brake_disc_mass"]
    rows = [("car.brake_disc_mass", float(stated.value), float(stated.sd or 0.0))]
    for section, names in (
        ("brakes", ("front_share", "into_disc", "heat", "cooling")),
        (_stops(build), ("share", "warm")),
    ):
        for name in names:
            row = car_constant(section, name)
            rows.append((f"{section}/{name}", row.value, row.sd))
    return rows


def brakes_of(build: Build, instead: Mapping[str, Any] | None = None) -> Brakes:
    """Front discs and the stops that the use asks for. instead: as `cooling.cooling_of`."""
    other = instead or {}

    def row(section: str, name: str) -> Any:
        return other.get(f"{section}/{name}", car_value(section, name))

    stops = _stops(build)
    mass = other.get("car.brake_disc_mass", build.number("car.brake_disc_mass"))
    return Brakes(
        disc_mass=np.asarray(mass),
        front_share=row("brakes", "front_share"),
        into_disc=np.minimum(row("brakes", "into_disc"), 1.0),
        heat=row("brakes", "heat"),
        heat_rise=car_value("brakes", "heat_rise"),
        cooling=row("brakes", "cooling"),
        between=car_value("brakes", "between"),
        stops=car_value(stops, "count"),
        share=row(stops, "share"),
        warm=row(stops, "warm"),
    )
