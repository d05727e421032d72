"""Plenum pressures at which something else gives out: parts at the hardest burn, the spark at knock.

Both are worked out speed by speed from the matched lines, so that a cut can be set against the weakest of
them in the worst corner.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.case import Case, StrengthLine
from boostwright.findings.model import Amount, Kind
from boostwright.findings.worst import Line, Worst, worst
from boostwright.physics.knock import RUSS_GUIDELINES, octane_equivalent
from boostwright.physics.strength import reciprocating_mass, rod_force

__all__ = ["Ceiling", "knock_ceiling", "strength_ceiling"]

Array = NDArray[np.float64]

_PEAK_SD = 0.06  # of a peak pressure computed without any measured spark (judgement)
_KNOCK_SD = (
    12.0e3  # of a knock-limited pressure at a given spark, by model [Pa]; field experience (judgement)
)
_UNKNOWN_KNOCK_SD = 0.25  # of the knock integral where the build says nothing (judgement)
_SLOPE = 1.2  # half-burned point for each degree of spark, late in the cycle (own cycles) [-]
_FULL_SHARE = 0.5  # of the boost asked for, from which a point counts as boosted


class Ceiling(NamedTuple):
    """The lowest pressure at which something gives out, with its place."""

    amount: Amount  # [Pa absolute]
    there: Worst
    words: str  # what gives out


def _boosted(case: Case, line: Line) -> NDArray[np.bool_]:
    asked = case.amount("goal.boost", Kind.PRESSURE_GAUGE, "boost asked for")
    least = 0.0 if asked is None else _FULL_SHARE * asked.value
    boosted = line.goal.settled & (line.goal.boost >= least)
    return boosted if boosted.any() else line.goal.settled


def _strength_of(case: Case, line: Line) -> StrengthLine | None:
    """The hardest burn in that air; on a corner without its own, none."""
    if line.goal is case.goal:
        return case.strength
    for corner in getattr(case, "corners", ()):
        if corner.goal is line.goal:
            found: StrengthLine | None = getattr(corner, "strength", None)
            return found
    return None


def _forged(case: Case, *parts: str) -> bool:
    return all(case.word(f"engine.{part}") == "forged" for part in parts)


def _by_peak(case: Case, line: Line) -> Array:
    """Plenum pressure at which the peak pressure reaches what the parts stand: peak goes with the plenum."""
    strong = _strength_of(case, line)
    if strong is None:
        return np.full_like(line.goal.speed, np.nan)
    key = "peak_pressure_strengthened" if _forged(case, "pistons", "rods") else "peak_pressure_stock"
    peak = np.interp(line.goal.speed, strong.speed, strong.result.peak_pressure)
    return np.asarray(line.goal.plenum_pressure * case.limits[key].amount.value / peak)


def _by_rods(case: Case, line: Line) -> Array:
    """Plenum pressure at which gas less inertia reaches the rod load that these rods stand."""
    strong = _strength_of(case, line)
    if strong is None:
        return np.full_like(line.goal.speed, np.nan)
    stated = case.stated("engine.reciprocating_mass")
    engine, base = case.engine, case.baseline
    mass = float(reciprocating_mass(engine.bore)) if stated is None else float(stated.value)
    sizes = (engine.bore, engine.stroke, engine.rod)
    stock = rod_force(
        base.at_mbt.peak_pressure, base.at_mbt.peak_angle, *sizes, base.speeds, mass
    ).net  # the greatest of it is what the rods have always carried
    key = "rod_load_ratio_forged" if _forged(case, "rods") else "rod_load_ratio"
    most = case.limits[key].amount.value * float(np.nanmax(stock))
    now = rod_force(strong.result.peak_pressure, strong.result.peak_angle, *sizes, strong.speed, mass)
    room = np.interp(line.goal.speed, strong.speed, (most + now.inertia) / now.gas)
    return np.asarray(line.goal.plenum_pressure * room)


def strength_ceiling(case: Case) -> Ceiling | None:
    """The lowest plenum pressure at which piston, gasket or rod gives out, over boosted speeds and days."""

    def lowest(line: Line) -> Array:
        both = np.fmin(_by_peak(case, line), _by_rods(case, line))
        return np.where(_boosted(case, line), both, np.nan)

    there = worst(case, lowest)
    if there is None:
        return None
    peak = float(_by_peak(case, there.line)[there.place])
    by_rods = there.margin < peak
    rods, pistons = _forged(case, "rods"), _forged(case, "pistons", "rods")
    if by_rods:
        limit = case.limits["rod_load_ratio_forged" if rods else "rod_load_ratio"].amount
    else:
        limit = case.limits["peak_pressure_strengthened" if pistons else "peak_pressure_stock"].amount
    relative = math.hypot((limit.sd or 0.0) / limit.value, _PEAK_SD)
    words = "the rods" if by_rods else "pistons and gasket"
    return Ceiling(
        Amount(
            there.margin,
            there.margin * relative,
            Kind.PRESSURE_ABSOLUTE,
            f"plenum pressure that {words} stand",
        ),
        there,
        words,
    )


def _by_knock(case: Case, line: Line) -> Array:
    """Plenum pressure at which knock has pushed the half-burned point to its latest useful place.

    Room in degrees of spark, over the half-burned point's own slope, is room in octane numbers (one a
    degree), and each 10 kPa of intake pressure take 3.5 of those (russ1996). Where knock does not hold the
    spark back yet the pressure found so is too low: it errs to the safe side.
    """
    goal = line.goal
    late = case.limits["half_burned"].amount.value
    reserve = case.limits["spark_reserve"].amount.value
    room = ((late - goal.result.ca50) / _SLOPE - reserve) * RUSS_GUIDELINES.spark
    return np.asarray(goal.plenum_pressure + room / RUSS_GUIDELINES.intake_pressure)


def knock_ceiling(case: Case) -> Ceiling | None:
    """The lowest plenum pressure at which knock leaves no useful spark, over boosted speeds and corners."""
    there = worst(case, lambda line: np.where(_boosted(case, line), _by_knock(case, line), np.nan))
    if there is None:
        return None
    factor = case.amount("model.knock", Kind.RATIO, "knock factor")
    relative = _UNKNOWN_KNOCK_SD if factor is None or not factor.sd else factor.sd / factor.value
    octane = case.amount("fuel.octane", Kind.OCTANE, "octane")
    limit = case.limits["half_burned"].amount
    numbers = math.hypot(
        float(octane_equivalent(1.0 + relative, case.fuel.ron)),
        (octane.sd or 0.0) if octane is not None else 0.0,
        (limit.sd or 0.0) / _SLOPE * RUSS_GUIDELINES.spark,
    )
    sd = math.hypot(_KNOCK_SD, numbers / RUSS_GUIDELINES.intake_pressure)
    return Ceiling(
        Amount(there.margin, sd, Kind.PRESSURE_ABSOLUTE, "plenum pressure that knock allows"), there, "knock"
    )
