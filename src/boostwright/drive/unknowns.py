"""What is not known when a drive is held against the model: factors, parts, sensors, with their spreads."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np

from boostwright.build.catalogue import catalogue
from boostwright.build.document import Build
from boostwright.drive.model_at import FACTOR_PATHS
from boostwright.drive.points import Points
from boostwright.errors import OutOfRange
from boostwright.findings.form import SPARK_LEVEL_SD
from boostwright.fitting.data import TORQUE_TILT_SD
from boostwright.library.drive_spreads import drive_spread
from boostwright.systems.stated.compressor import compressor_of

__all__ = ["SENSORS", "Unknown", "unknowns_of"]


@dataclass(frozen=True, slots=True)
class Unknown:
    """One unknown, as a move from its middle.

    name: the path of a field of the build, else 'sensor.…', 'form.…' or 'road.…'. factor: whether the move is
    of the logarithm. middle: of the field [SI]; 0 of what has no field. sd: of the move beforehand. words: in
    workshop words. dimension: of the move, a value of `quantity.Dimension`; of a factor its share.
    """

    name: str
    words: str
    middle: float
    sd: float
    factor: bool
    dimension: str

    @property
    def is_field(self) -> bool:
        """Whether it is a field of the build."""
        return not self.name.startswith(("sensor.", "form.", "road."))

    def value(self, move: float) -> float:
        """Its value after a move: of a field in its unit, else the move."""
        return self.middle * math.exp(move) if self.factor and self.is_field else self.middle + move

    def value_sd(self, move: float, sd: float) -> float:
        """Standard deviation of that value."""
        return self.value(move) * sd if self.factor and self.is_field else sd


_PARTS: Final = (  # path, factor, dimension
    ("injectors.flow", True, "share"),
    ("injectors.dead_time", False, "time"),
    ("regulator.pressure", False, "pressure"),
    ("pump.flow", True, "share"),
    ("cooler.effectiveness", False, "share"),
)
_STAND_IN: Final = {
    "sensor.intake_temperature": "stand_in",
    "sensor.lambda": "lambda_stand_in",
    "sensor.spark_advance": "spark_stand_in",
}
SENSORS: Final = {  # name: words, dimension, whether a share of what it reads
    "sensor.manifold_pressure": ("manifold pressure sensor, off by", "pressure", False),
    "sensor.intake_temperature": ("intake temperature sensor, off by", "temperature difference", False),
    "sensor.lambda": ("lambda sensor, off by this share", "share", True),
    "sensor.spark_advance": ("spark at the crank against the table, later by", "spark angle", False),
    "sensor.air_flow": ("air meter, off by this share", "share", True),
    "sensor.fuel_pressure": ("fuel pressure sensor, off by", "pressure", False),
    "sensor.battery_voltage": ("voltage at the injectors against the log, off by", "voltage", False),
    "sensor.exhaust_temperature": (
        "exhaust probe, above its usual reading by",
        "temperature difference",
        False,
    ),
}


def unknowns_of(
    build: Build, road_scale_sd: float | None, pulls: Iterable[int], points: Points, matched: bool = False
) -> tuple[Unknown, ...]:
    """All unknowns of one drive.

    road_scale_sd: of all powers from the road together, a share; None: no power was had. pulls: numbers of
    the pulls that have one; each stands on a road of its own slope. points: what of them was not logged is
    less sure. matched: the match says what the compressor does.
    """
    found = [_field(build, path, factor, "share") for path, factor in FACTOR_PATHS]
    found += [_field(build, path, factor, dimension) for path, factor, dimension in _PARTS]
    for name, (words, dimension, _) in SENSORS.items():
        sd = drive_spread("sensor", name.split(".")[1])
        if name.split(".")[1] in points.stand_in:
            sd = math.hypot(sd, drive_spread("form", _STAND_IN[name]))
        found.append(Unknown(name, words, 0.0, sd, False, dimension))
    back = 0.02 if points.back_logged else drive_spread("sensor", "back_pressure")
    found += [
        Unknown("form.back", "exhaust gauge pressure, off by this share", 0.0, back, True, "share"),
        Unknown(
            "form.light_load",
            "charge at light load, off by this share",
            0.0,
            drive_spread("form", "light_load"),
            True,
            "share",
        ),
        Unknown(
            "form.torque_tilt",
            "torque of the same air at the top of the speeds",
            0.0,
            TORQUE_TILT_SD,
            True,
            "share",
        ),
        Unknown("form.knock", "computed knock limit, earlier by", 0.0, SPARK_LEVEL_SD, False, "spark angle"),
        Unknown(
            "form.compressor_efficiency",
            "efficiency of the compressor, off by",
            0.0,
            _efficiency_sd(build, matched),
            False,
            "share",
        ),
        Unknown(
            "form.outside",
            "outside air, warmer by",
            0.0,
            drive_spread("road", "temperature"),
            False,
            "temperature difference",
        ),
        Unknown("form.turbo", "boost with the gate shut, in spreads of the match", 0.0, 1.0, False, "share"),
    ]
    if road_scale_sd is not None:
        found.append(
            Unknown("road.scale", "power from the road, off by this share", 0.0, road_scale_sd, True, "share")
        )
        level = drive_spread("road", "slope")
        found += [
            Unknown(f"road.slope.{k}", f"slope of the road in pull {k + 1}", 0.0, level, False, "share")
            for k in pulls
        ]
    return tuple(u for u in found if u is not None and u.sd > 0.0)


def _efficiency_sd(build: Build, matched: bool) -> float:
    """Of the compressor's efficiency: where the match says it, as its map or its sizes have it."""
    try:
        found = compressor_of(build) if matched else None
    except OutOfRange:
        found = None
    if found is None:
        return drive_spread("form", "compressor")
    return float(np.max(found.band.efficiency))


def _field(build: Build, path: str, factor: bool, dimension: str) -> Unknown | None:
    stated = build.get(path)
    if stated is None or not isinstance(stated.value, (int, float)) or not stated.sd:
        return None
    middle, sd = float(stated.value), float(stated.sd)
    if factor and middle <= 0.0:
        return None
    return Unknown(
        path, catalogue().field(path).words, middle, sd / middle if factor else sd, factor, dimension
    )
