"""The unit that each kind of quantity is shown in, and its digits when the spread is unknown."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from boostwright.findings.model import Kind

__all__ = ["SHOWN", "Shown"]


@dataclass(frozen=True, slots=True)
class Shown:
    """shown = (SI - offset) / factor. digits: significant digits when no spread is known.

    positive: nothing of the kind lies below zero, so no spread is shown to reach below it. bare: written
    without zeros at its end where no spread asks for them, as on a drawing: 8 mm, not 8.00 mm.
    """

    unit: str
    factor: float
    offset: float = 0.0
    digits: int = 3
    least_step: float = 0.0  # no finer step than this is ever shown, in the unit shown
    positive: bool = False
    bare: bool = False


_DEG = math.pi / 180.0
_RPM = math.pi / 30.0

SHOWN: Mapping[Kind, Shown] = {
    Kind.PRESSURE: Shown("bar", 1.0e5, digits=3),
    Kind.PRESSURE_ABSOLUTE: Shown("kPa absolute", 1.0e3, digits=3, positive=True),
    Kind.PRESSURE_GAUGE: Shown("bar gauge", 1.0e5, digits=2, least_step=0.01),
    Kind.PRESSURE_DIFFERENCE: Shown("bar", 1.0e5, digits=2, least_step=0.01),
    Kind.PRESSURE_SMALL: Shown("kPa", 1.0e3, digits=2, least_step=0.01),
    Kind.TEMPERATURE: Shown("degC", 1.0, 273.15, digits=3, least_step=1.0),
    Kind.TEMPERATURE_DIFFERENCE: Shown("K", 1.0, digits=2, least_step=1.0),
    Kind.CRANK_ANGLE: Shown("deg", _DEG, digits=3, least_step=0.1),
    Kind.CRANK_DIFFERENCE: Shown("deg", _DEG, digits=2, least_step=0.1),
    Kind.ANGLE: Shown("deg", _DEG, digits=2, least_step=1.0),
    Kind.ENGINE_SPEED: Shown("rpm", _RPM, digits=4, least_step=10.0, positive=True),
    Kind.SHAFT_SPEED: Shown("rpm", _RPM, digits=3, least_step=1000.0, positive=True),
    Kind.VELOCITY: Shown("m/s", 1.0, digits=3),
    Kind.FORCE: Shown("kN", 1.0e3, digits=3),
    Kind.SPRING_LOAD: Shown("N", 1.0, digits=2, least_step=1.0),
    Kind.TORQUE: Shown("N m", 1.0, digits=3, least_step=1.0),
    Kind.TORQUE_PER_VOLUME: Shown("N m/L", 1.0e3, digits=3),
    Kind.POWER: Shown("kW", 1.0e3, digits=3),
    Kind.SHARE: Shown("%", 0.01, digits=2),
    Kind.RATIO: Shown("", 1.0, digits=3, least_step=0.01),
    Kind.COMPRESSION: Shown("", 1.0, digits=3, least_step=0.1),
    Kind.OCTANE: Shown("RON", 1.0, digits=3, least_step=1.0, positive=True),
    Kind.MASS_FLOW: Shown("g/s", 1.0e-3, digits=3, positive=True),
    Kind.VOLUME_FLOW: Shown("L/h", 1.0e-3 / 3600.0, digits=2, positive=True),
    Kind.OIL_FLOW: Shown("L/min", 1.0e-3 / 60.0, digits=2, least_step=0.01, positive=True),
    Kind.INJECTOR_FLOW: Shown("cc/min", 1.0e-6 / 60.0, digits=2, positive=True),
    Kind.TIME: Shown("min", 60.0, digits=2, least_step=1.0, positive=True),
    Kind.DELAY: Shown("s", 1.0, digits=2, least_step=0.1, positive=True),
    Kind.INERTIA: Shown("kg mm2", 1.0e-6, digits=2, positive=True),
    Kind.PULSE: Shown("ms", 1.0e-3, digits=3, least_step=0.01, positive=True),
    Kind.FUEL_PER_WORK: Shown("g/kWh", 1.0e-3 / 3.6e6, digits=3),
    Kind.PULL: Shown("N", 1.0, digits=2, least_step=1.0, positive=True),
    Kind.HOLE_AREA: Shown("mm2", 1.0e-6, digits=2, positive=True),
    Kind.VOLTAGE: Shown("V", 1.0, digits=3, least_step=0.1),
    Kind.VOLTAGE_DROP: Shown("V", 1.0, digits=2, least_step=0.01),
    Kind.SPARK_VOLTAGE: Shown("kV", 1.0e3, digits=3, least_step=0.1),
    Kind.SIGNAL: Shown("mV", 1.0e-3, digits=2, least_step=1.0),
    Kind.CURRENT: Shown("A", 1.0, digits=3, least_step=1.0),
    Kind.COIL_CURRENT: Shown("A", 1.0, digits=2, least_step=0.05, positive=True),
    Kind.RESISTANCE: Shown("ohm", 1.0, digits=2, least_step=0.1, positive=True),
    Kind.SECTION: Shown("mm2", 1.0e-6, digits=2, least_step=0.1),
    Kind.COUNT: Shown("", 1.0, digits=3, least_step=1.0),
    Kind.LENGTH: Shown("mm", 1.0e-3, digits=3, positive=True, bare=True),
    Kind.DISTANCE: Shown("km", 1.0e3, digits=2, least_step=1.0, positive=True),
    Kind.VOLUME: Shown("L", 1.0e-3, digits=3, positive=True),
    Kind.AREA: Shown("m2", 1.0, digits=2, least_step=0.01, positive=True),
    Kind.ROAD_SPEED: Shown("km/h", 1.0 / 3.6, digits=3, least_step=1.0, positive=True),
    Kind.MASS: Shown("kg", 1.0, digits=2, least_step=0.1, positive=True),
    Kind.AGE: Shown("years", 31557600.0, digits=2, least_step=0.1, positive=True),
}
