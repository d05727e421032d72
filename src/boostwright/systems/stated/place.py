"""The air that a build states: of every day, and of the worst days."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from boostwright.build.air import standard_pressure
from boostwright.build.document import Build, Row
from boostwright.physics.atmosphere import (
    HUMIDITY_MOLAR_RATIO,
    R_DRY_AIR,
    R_WATER_VAPOUR,
    saturation_pressure,
    vapour_pressure,
)
from boostwright.systems.engine.types import Fuel
from boostwright.systems.stated.engine import fuel_of
from boostwright.systems.turbo import Ambient

__all__ = ["Corner", "ambient_of", "corner_fuel", "corners_of", "humidity_of"]

# What stands in for the worst days when the file states none; all judgement. The barometer of one place moves
# with a standard deviation near 1 kPa; most days of a year are colder than an ordinary warm one.
WEATHER_SWING: Final = 3.0e3  # of the barometer, up and down: two to three standard deviations [Pa]
HOTTER: Final = 12.0  # a hot day above the ordinary warm day [K]
COLDER: Final = 35.0  # a cold day below it [K]
OCTANE_LOST: Final = 2.0  # of a poor tank below the usual fuel, where no poorest fuel is stated [RON]


@dataclass(frozen=True, slots=True)
class Corner:
    """One of the worst days: air, fuel, and why it is looked at."""

    name: str  # reads well after a comma: 'on a hot day'; the file's own words where it states them
    ambient: Ambient  # humid air as it is: the barometer counts the vapour too
    humidity: float  # relative, 0..1 [-]
    poorest_fuel: bool  # whether the tank holds the poorest fuel
    why: str  # one sentence
    stated: bool = False  # by the file; else it stands in

    @property
    def vapour_share(self) -> float:
        """Water vapour of the air, by volume [-]."""
        return float(vapour_pressure(self.ambient.temperature, self.humidity)) / self.ambient.pressure

    @property
    def dry_share(self) -> float:
        """Dry air by volume, p_dry/p [-]: what can burn fuel. The rest of each breath is vapour."""
        return 1.0 - self.vapour_share

    @property
    def dry_mass_share(self) -> float:
        """Dry air by mass [-]: air flow of a compressor map or a volume, times this, burns fuel."""
        dry = self.dry_share
        return dry / (dry + HUMIDITY_MOLAR_RATIO * (1.0 - dry))

    @property
    def gas_constant(self) -> float:
        """Of the humid air [J/(kg K)]."""
        dry = self.dry_mass_share
        return R_DRY_AIR * dry + R_WATER_VAPOUR * (1.0 - dry)

    @property
    def density(self) -> float:
        """Of the humid air [kg/m3]."""
        return self.ambient.pressure / (self.gas_constant * self.ambient.temperature)


def ambient_of(build: Build) -> Ambient:
    """Air pressure and temperature where the car is used."""
    return Ambient(build.number("place.barometer"), build.number("place.temperature"))


def humidity_of(build: Build) -> float:
    """Relative humidity of an ordinary day [-]."""
    return build.number("place.humidity")


def corners_of(build: Build) -> tuple[Corner, ...]:
    """The worst days that the car will meet, in the order of the file; the poorest fuel comes last.

    Where the file states corners, those are they; where it states none, low and high barometer, a cold and a
    hot day stand in. The poorest fuel is looked at on the hottest of them, in both cases. What a corner
    leaves out is filled as follows: pressure by its altitude (standard air), else by the place's barometer;
    water in the air as on the ordinary day, as far as colder air can hold it.
    """
    rows = build.table("corners")
    corners = tuple(_stated(build, row) for row in rows) if rows else _usual(build)
    return (*corners, _poorest(build, corners))


def corner_fuel(build: Build, corner: Corner) -> Fuel:
    """The fuel in the tank in a corner: the usual one, or the poorest that the build may meet.

    The motor octane of a poorer fuel falls in proportion.
    """
    fuel = fuel_of(build)
    if not corner.poorest_fuel:
        return fuel
    ron = _poorest_octane(build)
    return replace(fuel, ron=ron, mon=fuel.mon * ron / fuel.ron)


def _poorest_octane(build: Build) -> float:
    stated = build.get("fuel.poorest_octane")
    return float(stated.value) if stated is not None else build.number("fuel.octane") - OCTANE_LOST


def _stated(build: Build, row: Row) -> Corner:
    everyday = ambient_of(build)
    temperature = float(row["temperature"].value)
    pressure = everyday.pressure
    why = "The file names this day."
    if "barometer" in row:
        pressure = float(row["barometer"].value)
    elif "altitude" in row:
        pressure = standard_pressure(float(row["altitude"].value))
        why = "The file names this day; the pressure is that of standard air at its height."
    humidity = float(row["humidity"].value) if "humidity" in row else _same_water(build, temperature)
    return Corner(str(row["name"].value), Ambient(pressure, temperature), humidity, False, why, stated=True)


def _usual(build: Build) -> tuple[Corner, ...]:
    air = ambient_of(build)
    humidity = humidity_of(build)
    hot, cold = air.temperature + HOTTER, air.temperature - COLDER
    return (
        Corner(
            "with a low barometer",
            Ambient(air.pressure - WEATHER_SWING, air.temperature),
            humidity,
            False,
            "Thin air: more pressure ratio and shaft speed for the same boost.",
        ),
        Corner(
            "with a high barometer",
            Ambient(air.pressure + WEATHER_SWING, air.temperature),
            humidity,
            False,
            "The spring adds to a higher pressure: most absolute pressure, nearest to cut and sensor end.",
        ),
        Corner(
            "on a cold day",
            Ambient(air.pressure, cold),
            _same_water(build, cold),
            False,
            "Dense air: most air and fuel, highest pressures, most load on injectors and pump.",
        ),
        Corner(
            "on a hot day",
            Ambient(air.pressure, hot),
            _same_water(build, hot),
            False,
            "Hot charge: nearest to knock, latest boost, hottest fuel.",
        ),
    )


def _poorest(build: Build, corners: Sequence[Corner]) -> Corner:
    hottest = max(corners, key=lambda corner: corner.ambient.temperature)
    octane = _poorest_octane(build)
    said = build.is_stated("fuel.poorest_octane")
    return replace(
        hottest,
        name=f"{hottest.name}, on the poorest fuel",
        poorest_fuel=True,
        why=f"One bad tank of {octane:.0f} RON{'' if said else ', as the file states no poorest fuel'}, "
        "on the hottest of these days.",
        stated=said and hottest.stated,
    )


def _same_water(build: Build, temperature: float) -> float:
    """Relative humidity [-] at a temperature [K] of air that holds as much water as on the ordinary day."""
    everyday = vapour_pressure(build.number("place.temperature"), humidity_of(build))
    return min(1.0, float(everyday / saturation_pressure(temperature)))
