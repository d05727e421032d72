"""The air outside during a drive: as the log shows it, else as the build's place has it, with its spread."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.drive.rows import Rows
from boostwright.library.drive_spreads import drive_spread
from boostwright.physics.atmosphere import dry_pressure, humid_air_density

__all__ = ["Outside", "outside_of"]

Array = NDArray[np.float64]

_STANDS: Final = 5.0  # crank speed below which the engine stands [rad/s]
_THINNEST, _DENSEST = 5.0e4, 1.1e5  # of the air that a car drives in [Pa]
_COLDEST, _HOTTEST = 223.0, 333.0  # [K]
_FEWEST: Final = 5  # readings
_SENSOR_SD: Final = 500.0  # of a barometer or an engine-off manifold pressure [Pa]
_SENSOR_T_SD: Final = 2.0  # of a thermometer in the car's front [K]


class Outside(NamedTuple):
    """Outside air of one drive. how: where pressure and temperature come from, in words."""

    pressure: float  # [Pa absolute]
    pressure_sd: float
    temperature: float  # [K]
    temperature_sd: float
    humidity: float  # relative [-]
    humidity_sd: float
    how: str

    @property
    def density(self) -> float:
        """Of the moist air [kg/m3]."""
        return float(humid_air_density(self.pressure, self.temperature, self.humidity))

    @property
    def dry(self) -> float:
        """Pressure less that of the vapour [Pa]."""
        return float(dry_pressure(self.pressure, self.temperature, self.humidity))

    def moved(self) -> tuple[Outside, ...]:
        """Three days, each with one of pressure, temperature and humidity a standard deviation higher."""
        return (
            self._replace(pressure=self.pressure + self.pressure_sd),
            self._replace(temperature=self.temperature + self.temperature_sd),
            self._replace(humidity=min(1.0, self.humidity + self.humidity_sd)),
        )


def outside_of(rows: Rows, build: Build | None) -> Outside:
    """The air of a drive.

    rows: the whole drive. build: for what the log does not say; None: a standard day at sea level with a wide
    spread. Humidity is nowhere logged: 50 % with its spread.
    """
    pressure, pressure_sd, how_p = _pressure(rows, build)
    temperature, temperature_sd, how_t = _temperature(rows, build)
    humidity, humidity_sd = (drive_spread("road", n) for n in ("humidity", "humidity_sd"))
    how = f"air pressure {how_p}, temperature {how_t}, humidity taken as {100 * humidity:.0f} %"
    return Outside(pressure, pressure_sd, temperature, temperature_sd, humidity, humidity_sd, how)


def _median(values: Array) -> float | None:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if known.size >= _FEWEST else None


def _pressure(rows: Rows, build: Build | None) -> tuple[float, float, str]:
    found = _median(rows.get("barometer"))
    if found is not None and _THINNEST < found < _DENSEST:
        return found, _SENSOR_SD, "by the log's barometer"
    still = rows.get("engine_speed") < _STANDS
    found = _median(rows.get("manifold_pressure")[still])
    if found is not None and _THINNEST < found < _DENSEST:
        return found, drive_spread("sensor", "manifold_pressure"), "by the manifold sensor, engine standing"
    if build is not None:
        stated = build["place.barometer"]
        sd = float(np.hypot(stated.sd or 0.0, drive_spread("road", "pressure")))
        return float(stated.value), sd, "of the build's place"
    return 101325.0, 3.0e3, "taken as that at sea level"


def _temperature(rows: Rows, build: Build | None) -> tuple[float, float, str]:
    found = _median(rows.get("outside_temperature"))
    if found is not None and _COLDEST < found < _HOTTEST:
        return found, _SENSOR_T_SD, "by the log's thermometer outside"
    sd = drive_spread("road", "temperature")
    if build is not None:
        return build.number("place.temperature"), sd, "of the build's place"
    return 298.15, 2.0 * sd, "taken as 25 degC"
