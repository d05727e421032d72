"""Plenum pressures at which something else gives out: parts at the hardest burn, the spark at knock.

Both are worked out speed by speed from the matched lines, so that a cut can be set against the weakest of
them in the worst corner.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.case import Case, StrengthLine
from boostwright.findings.knock_spread import knock_spread
from boostwright.findings.model import Amount, Kind
from boostwright.findings.stock_rods import stock_rod_load
from boostwright.findings.worst import Line, Worst, lines, worst
from boostwright.physics.knock import RUSS_GUIDELINES, octane_equivalent
from boostwright.physics.strength import reciprocating_mass, rod_force

__all__ = [
    "Ceiling",
    "SpeedCeilings",
    "ceilings_by_speed",
    "knock_ceiling",
    "reachable",
    "strength_ceiling",
]

Array = NDArray[np.float64]

_PEAK_SD = 0.06  # of a peak pressure computed without any measured spark (judgement)
_KNOCK_SD = (
    12.0e3  # of a knock-limited pressure at a given spark, by model [Pa]; field experience (judgement)
)
_SLOPE = 1.2  # half-burned point for each degree of spark, late in the cycle (own cycles) [-]
_ANYTHING = 1.0e7  # above any plenum pressure [Pa]
_FULL_SHARE = 0.5  # of the boost asked for, from which a point counts as boosted


class Ceiling(NamedTuple):
    """The pressure at which something gives out, where there is least room below it."""

    amount: Amount  # [Pa absolute]
    reached: (
        float  # what stands against it at that place: the turbo with its gate shut, or what stops it [Pa]
    )
    there: Worst
    words: str  # what gives out


def _boosted(case: Case, line: Line) -> NDArray[np.bool_]:
    """Where a gate that fails lets the boost rise: at half of the boost asked for or more, with the turbine
    able to drive more. Elsewhere the gate is shut already; knock and strength have judged that.
    """
    asked = case.amount("goal.boost", Kind.PRESSURE_GAUGE, "boost asked for")
    least = 0.0 if asked is None else _FULL_SHARE * asked.value
    boosted = line.goal.settled & (line.goal.boost >= least)
    rising = boosted & line.goal.turbine_enough
    return rising if rising.any() else boosted if boosted.any() else line.goal.settled


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
    engine = case.engine
    mass = float(reciprocating_mass(engine.bore)) if stated is None else float(stated.value)
    sizes = (engine.bore, engine.stroke, engine.rod)
    key = "rod_load_ratio_forged" if _forged(case, "rods") else "rod_load_ratio"
    most = case.limits[key].amount.value * stock_rod_load(case, mass)
    now = rod_force(strong.result.peak_pressure, strong.result.peak_angle, *sizes, strong.speed, mass)
    room = np.interp(line.goal.speed, strong.speed, (most + now.inertia) / now.gas)
    return np.asarray(line.goal.plenum_pressure * room)


def reachable(case: Case, line: Line) -> Array:
    """Plenum pressure that the turbo can make at each speed with its gate shut, in the air of a line [Pa].

    Where the turbine cannot drive the boost asked for, the gate is shut already and the line's own pressure
    is all. Elsewhere from the line with the gate held shut on the ordinary day, in proportion to the outside
    air; more than any engine knows where that was not computed.
    """
    goal, shut = line.goal, getattr(case, "gate_shut", None)
    free = np.full_like(goal.speed, _ANYTHING)
    if shut is not None and shut.settled.any():
        free = np.interp(goal.speed, shut.speed[shut.settled], shut.plenum_pressure[shut.settled])
        free = free * line.ambient_pressure / case.ambient_pressure
    return np.asarray(
        np.where(goal.turbine_enough, np.maximum(free, goal.plenum_pressure), goal.plenum_pressure)
    )


def strength_ceiling(case: Case, most: float = math.inf) -> Ceiling | None:
    """Where piston, gasket or rod gives out with the least room, over speeds and corners.

    most: pressure at which something else stops the boost [Pa absolute]; at a speed at which the turbo cannot
    make it, what the turbo makes counts.
    """

    def room(line: Line) -> Array:
        both = np.fmin(_by_peak(case, line), _by_rods(case, line))
        return np.where(_boosted(case, line), both - np.minimum(reachable(case, line), most), np.nan)

    there = worst(case, room)
    if there is None:
        return None
    at, line = there.place, there.line
    peak, rod = float(_by_peak(case, line)[at]), float(_by_rods(case, line)[at])
    value, by_rods = min(peak, rod), rod < peak
    if by_rods:
        key = "rod_load_ratio_forged" if _forged(case, "rods") else "rod_load_ratio"
    else:
        key = "peak_pressure_strengthened" if _forged(case, "pistons", "rods") else "peak_pressure_stock"
    limit = case.limits[key].amount
    relative = math.hypot((limit.sd or 0.0) / limit.value, case.left(_PEAK_SD))
    words = "the rods" if by_rods else "pistons and gasket"
    return Ceiling(
        Amount(value, value * relative, Kind.PRESSURE_ABSOLUTE, f"plenum pressure that {words} stand"),
        min(most, float(reachable(case, line)[at])),
        there,
        words,
    )


def _octane_in_hand(case: Case, line: Line) -> Array:
    """Octane numbers by which the end gas stays short of knock at the spark used; none where knock holds it
    back. By the readier of the two delay models.
    """
    cycle = line.goal.result
    nearer = np.fmax(cycle.knock_a, cycle.knock_c)
    free = ~np.isfinite(line.goal.knock_spark) & (nearer > 0.0) & (nearer < 1.0)
    spare = octane_equivalent(1.0 / np.where(free, nearer, 1.0), case.fuel.ron)
    return np.asarray(np.where(free, spare, 0.0))


def _by_knock(case: Case, line: Line) -> Array:
    """Plenum pressure at which knock has pushed the half-burned point as late as it may be for a moment.

    Room in degrees of spark, over the half-burned point's own slope, is room in octane numbers (one a
    degree), and each 10 kPa of intake pressure take 3.5 of those (russ1996). Where knock does not hold the
    spark back yet, the octane numbers that the end gas has in hand there are room, too.
    """
    goal = line.goal
    late = case.limits["half_burned_moment"].amount.value
    reserve = case.limits["spark_reserve"].amount.value
    room = ((late - goal.result.ca50) / _SLOPE - reserve) * RUSS_GUIDELINES.spark
    room = room + _octane_in_hand(case, line)
    return np.asarray(goal.plenum_pressure + room / RUSS_GUIDELINES.intake_pressure)


def knock_ceiling(case: Case, most: float = math.inf) -> Ceiling | None:
    """Where knock leaves no spark with the least room, over speeds and corners; ``most`` as for strength."""

    def room(line: Line) -> Array:
        least = _by_knock(case, line) - np.minimum(reachable(case, line), most)
        return np.where(_boosted(case, line), least, np.nan)

    there = worst(case, room)
    if there is None:
        return None
    relative = knock_spread(case, float(there.goal.result.peak_unburned_temperature[there.place]))
    octane = case.amount("fuel.octane", Kind.OCTANE, "octane")
    limit = case.limits["half_burned_moment"].amount
    numbers = math.hypot(
        float(octane_equivalent(1.0 + relative, case.fuel.ron)),
        (octane.sd or 0.0) if octane is not None else 0.0,
        (limit.sd or 0.0) / _SLOPE * RUSS_GUIDELINES.spark,
    )
    sd = math.hypot(case.left(_KNOCK_SD), numbers / RUSS_GUIDELINES.intake_pressure)
    value = float(_by_knock(case, there.line)[there.place])
    return Ceiling(
        Amount(value, sd, Kind.PRESSURE_ABSOLUTE, "plenum pressure that knock allows"),
        min(most, float(reachable(case, there.line)[there.place])),
        there,
        "knock",
    )


class SpeedCeilings(NamedTuple):
    """Plenum pressures over speed, arrays (n,) [Pa absolute]: the lowest of all days; NaN without boost."""

    speed: Array  # [rad/s]
    knock: Array  # at which knock leaves no spark
    strength: Array  # at which piston, gasket or rod gives out


def ceilings_by_speed(case: Case) -> SpeedCeilings | None:
    """What `knock_ceiling` and `strength_ceiling` look for their place in; None where nothing was matched."""
    if case.goal is None:
        return None
    speed = case.goal.speed

    def lowest(of: Callable[[Case, Line], Array]) -> Array:
        found = np.full(speed.shape, np.nan)
        for line in lines(case):
            here = np.where(_boosted(case, line), of(case, line), np.nan)
            known = np.isfinite(here)
            if known.any():
                at = line.goal.speed[known]
                found = np.fmin(found, np.interp(speed, at, here[known], left=np.nan, right=np.nan))
        return found

    return SpeedCeilings(
        speed, lowest(_by_knock), lowest(lambda c, line: np.fmin(_by_peak(c, line), _by_rods(c, line)))
    )
