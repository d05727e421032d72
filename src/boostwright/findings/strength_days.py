"""The hardest burns that strength is judged on: a line for each such day, and the rod's load on it."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.case import Case, GoalLine, StrengthLine
from boostwright.findings.model import Kind
from boostwright.physics.strength import reciprocating_mass, rod_force
from boostwright.systems.engine.types import CycleResult, EngineGeometry

__all__ = [
    "INNARDS",
    "LATEST_BOOST",
    "LEAST_BOOST",
    "MODEL_SD",
    "StrengthDay",
    "boost_for",
    "compression_sd",
    "days_of",
    "nothing_known",
    "on_best_fuel",
    "rod_compression",
    "rod_mass",
]

Array = NDArray[np.float64]

MODEL_SD: Final = 0.06  # of a peak pressure computed without any measured spark: burn law and wall heat
LATEST_BOOST: Final = (
    0.6  # of the speed limit: full boost that comes later than this is of no use on the road (judgement)
)
LEAST_BOOST: Final = 0.2e5  # below this a turbo is not worth its trouble [Pa above ambient] (judgement)

INNARDS: Final = (
    "engine.pistons",
    "engine.rods",
    "engine.ring_gap",
    "sealing.head_bolts",
    "sealing.head_bolt_size",
    "sealing.head_bolt_class",
)
"""What holds the burn in; while a file states none of it, `strength.peak_pressure` asks for all at once."""


def nothing_known(case: Case) -> bool:
    """Whether the file states nothing of pistons, rods, rings and head bolts."""
    return not any(case.build.is_stated(field) for field in INNARDS)


class StrengthDay(NamedTuple):
    """One weather with its operating line and its hardest burn."""

    words: str
    ambient_pressure: float
    goal: GoalLine
    strong: StrengthLine


def days_of(case: Case) -> list[StrengthDay]:
    """The ordinary day and every corner that has its hardest burn computed."""
    found = []
    if case.goal is not None and case.strength is not None:
        found.append(StrengthDay(case.corner, case.ambient_pressure, case.goal, case.strength))
    for corner in getattr(case, "corners", ()):
        if corner.strength is not None and np.isfinite(corner.strength.result.peak_pressure).any():
            found.append(StrengthDay(corner.name, corner.ambient_pressure, corner.goal, corner.strength))
    return found


def on_best_fuel(case: Case, day: StrengthDay) -> str:
    """The corner in words."""
    return "on the best fuel" if day.words == case.corner else f"on the best fuel, {day.words}"


def boost_for(day: StrengthDay, pressure: float, worst: int) -> float:
    """Boost [Pa gauge] at which the peak would fall to `pressure` [Pa]: peak goes with plenum pressure."""
    peak = float(day.strong.result.peak_pressure[worst])
    plenum = float(np.interp(day.strong.speed[worst], day.goal.speed, day.goal.plenum_pressure))
    return plenum * pressure / peak - day.ambient_pressure


def rod_mass(case: Case) -> tuple[float, float, bool]:
    """Mass that goes up and down with the piston and its spread [kg], and whether it was stated."""
    stated = case.stated("engine.reciprocating_mass")
    if stated is not None:
        return float(stated.value), float(stated.sd or 0.0), True
    usual = float(reciprocating_mass(case.engine.bore))
    return usual, 0.15 * usual, False


def rod_compression(engine: EngineGeometry, mass: float, speed: Array, cycle: CycleResult) -> Array:
    """Rod compression at the peak of pressure [N], shape (n,)."""
    return rod_force(
        cycle.peak_pressure, cycle.peak_angle, engine.bore, engine.stroke, engine.rod, speed, mass
    ).net


def compression_sd(case: Case) -> float:
    """Spread of a peak pressure from that of the compression ratio; it goes with its power 1.3 [-]."""
    ratio = case.amount("engine.compression_ratio", Kind.RATIO, "compression ratio")
    if ratio is None or not ratio.sd:
        return 0.0
    return 1.3 * ratio.sd / ratio.value
