"""The turbo and what the air and the exhaust pass on its way: parts, and operating points of all of them."""

from boostwright.systems.turbo.parts import (
    NO_PULSES,
    Ambient,
    AmbientEach,
    Cooler,
    OutsideAir,
    Pulses,
    Restriction,
    TurbineFactors,
    TurboParts,
)
from boostwright.systems.turbo.point import TurboPoint, TurboStatus, turbo_point, unboosted_plenum_pressure
from boostwright.systems.turbo.quick import QuickAnswer, QuickTurbo

__all__ = [
    "NO_PULSES",
    "Ambient",
    "AmbientEach",
    "Cooler",
    "OutsideAir",
    "Pulses",
    "QuickAnswer",
    "QuickTurbo",
    "Restriction",
    "TurbineFactors",
    "TurboParts",
    "TurboPoint",
    "TurboStatus",
    "turbo_point",
    "unboosted_plenum_pressure",
]
