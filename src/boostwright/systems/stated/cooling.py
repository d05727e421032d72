"""The cooling system that a build states, the load that its use asks for, and what of both is uncertain."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, NamedTuple

from boostwright.build.document import Build
from boostwright.library.car_parts import car_constant, car_value
from boostwright.physics.coolant import mass_fraction
from boostwright.systems.cooling import Cooling, HeatSplit

__all__ = ["Duty", "cooling_of", "cooling_stated", "duty_of", "uncertain_cooling"]

_FIELDS: Final = (
    "cooling.cap_pressure",
    "cooling.glycol",
    "cooling.volume",
    "cooling.radiator_area",
    "cooling.slope_before",
    "cooling.slope_area",
    "engine.coolant_temperature",
)
_HEAT: Final = ("model", "gas", "friction_to_coolant", "wall_to_oil")
_RADIATOR: Final = ("conductance", "loss", "air_speed", "metal", "cooler_loss", "cooler_face")
_MINUTE: Final = 60.0


class Duty(NamedTuple):
    """The lasting load: value and standard deviation of each part."""

    share: tuple[float, float]  # of the heat of full load [-]
    speed: tuple[float, float]  # road speed [m/s]
    time: float  # [s]
    stated: bool  # whether the file says any of it


def duty_of(build: Build) -> Duty:
    """The lasting load that the file states, else what the use of the car asks for."""
    usual = f"duty_{build.words('build.use')}"

    def either(path: str, name: str) -> tuple[float, float]:
        stated, row = build.get(path), car_constant(usual, name)
        return (row.value, row.sd) if stated is None else (float(stated.value), float(stated.sd or 0.0))

    paths = ("cooling.load_share", "cooling.load_speed", "cooling.load_time")
    return Duty(
        either(paths[0], "share"),
        either(paths[1], "speed"),
        either(paths[2], "time")[0],
        any(build.is_stated(path) for path in paths),
    )


def cooling_stated(build: Build) -> bool:
    """Whether the file says anything of radiator, cap or coolant."""
    return any(path.startswith("cooling.") for path in build)


def uncertain_cooling(build: Build) -> list[tuple[str, float, float]]:
    """Name, value and standard deviation of everything that the coolant's temperature rests on [SI].

    Names are paths of the build file, or section and row of the library's table.
    """
    rows = []
    for path in _FIELDS:
        stated = build.get(path)
        if path == "cooling.slope_area" and build.get("cooling.slope_before") is None:
            continue
        if stated is not None:
            rows.append((path, float(stated.value), float(stated.sd or 0.0)))
    duty = duty_of(build)
    rows += [("share", *duty.share), ("speed", *duty.speed)]
    front = _cooler_in_front(build)
    for section, names in (("heat", _HEAT), ("radiator", _RADIATOR)):
        for name in names:
            if name.startswith("cooler_") and (not front or (name == "cooler_face" and _face(build))):
                continue
            row = car_constant(section, name)
            rows.append((f"{section}/{name}", row.value, row.sd))
    if build.get("cooling.slope_before") is not None:
        rows.append(("regulated", 0.0, 1.0))
        day = car_constant("radiator", "reading_air")
        rows.append(("radiator/reading_air", day.value, day.sd))
    return rows


def cooling_of(build: Build, instead: Mapping[str, Any] | None = None) -> Cooling:
    """The cooling system. instead: other SI values by the names of `uncertain_cooling`; arrays (m,)."""
    other = instead or {}

    def number(path: str) -> Any:
        return other[path] if path in other else build.number(path)

    def row(section: str, name: str) -> Any:
        return other.get(f"{section}/{name}", car_value(section, name))

    duty = duty_of(build)
    slope = build.get("cooling.slope_before")
    slope_area = "cooling.slope_area" if build.is_stated("cooling.slope_area") else "cooling.radiator_area"
    face = _face(build)
    return Cooling(
        split=HeatSplit(*(row("heat", name) for name in _HEAT)),
        area=number("cooling.radiator_area"),
        conductance=row("radiator", "conductance"),
        reference_flow=car_value("radiator", "reference_flow"),
        exponent=car_value("radiator", "flow_exponent"),
        loss=row("radiator", "loss") + car_value("radiator", "grille"),
        pressure_share=car_value("radiator", "pressure_share"),
        air_factor=row("radiator", "air_speed"),
        fan=car_value("radiator", "fan"),
        coolant_rise=car_value("radiator", "coolant_rise"),
        glycol=mass_fraction(number("cooling.glycol")).clip(0.0, 0.6),
        volume=number("cooling.volume"),
        metal=row("radiator", "metal") * build.displacement,
        cap=number("cooling.cap_pressure"),
        start=number("engine.coolant_temperature"),
        in_front=_cooler_in_front(build),
        cooler_face=face or row("radiator", "cooler_face"),
        cooler_loss=row("radiator", "cooler_loss"),
        share=other.get("share", duty.share[0]),
        time=duty.time,
        road_speed=other.get("speed", duty.speed[0]),
        prior=car_value("radiator", "prior"),
        regulated=other.get("regulated", 0.0),
        slope_before=None if slope is None else number("cooling.slope_before") / _MINUTE,
        slope_area=None if slope is None else number(slope_area),
        slope_air=build.number("place.temperature") + row("radiator", "reading_air"),
    )


def _cooler_in_front(build: Build) -> bool:
    """Whether the charge's heat goes into the radiator's air: a core in front, or a water cooler's."""
    kind = build.words("cooler.type")
    return kind == "water" or (kind == "air" and build.words("cooler.position") == "front")


def _face(build: Build) -> float:
    """Face of the charge cooler where its sizes are stated, else 0 [m2]."""
    sides = ("cooler.width", "cooler.height")
    if build.words("cooler.type") != "air" or not all(build.is_stated(side) for side in sides):
        return 0.0
    return build.number(sides[0]) * build.number(sides[1])
