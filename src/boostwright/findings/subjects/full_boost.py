"""The earliest engine speed at which the rods stand full boost, against the speed at which it comes."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, LimitRecord, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.stock_rods import stock_rod_load
from boostwright.findings.strength_days import (
    LATEST_BOOST,
    LEAST_BOOST,
    StrengthDay,
    days_of,
    on_best_fuel,
    rod_mass,
)
from boostwright.findings.subjects.boost import threshold_amount
from boostwright.findings.sure import deviations
from boostwright.physics.strength import rod_force

__all__ = ["full_boost"]

Array = NDArray[np.float64]

_RATIO_SD = 0.05  # of a rod load over stock: the models' error mostly cancels, mass and boost stay


class _Earliest(NamedTuple):
    """Speed from which full boost is stood [rad/s], its spread, and the day that decides."""

    speed: float
    sd: float
    sure: float  # from which it is sure
    day: StrengthDay
    ratio: Array  # rod load at full boost over stock, one for each speed of the day [-]
    most: float  # that is surely stood [-]


@rule(
    "strength.full_boost",
    "Earliest speed for full boost",
    asks="Does full boost come only where inertia already takes enough off the rods?",
    demand="lowest speed at which the boost asked for stands, from the match",
    capacity="lowest speed from which rod compression at full boost stays below what these rods stand",
    harm=Harm.DAMAGE,
    harm_words="a rod bends at the bottom of the rev range, where the burn is slow to pass and inertia small",
    sense=Sense.AT_LEAST,
)
def full_boost(rule: Rule, case: Case) -> Finding | None:
    """Silent where nobody stated the rods (`strength.rod_load` asks), or full boost comes nowhere."""
    threshold, days = case.threshold, days_of(case)
    if threshold is None or not math.isfinite(threshold.coming_down) or not days:
        return None
    if not case.build.is_stated("engine.rods"):
        return None
    forged = case.word("engine.rods") == "forged"
    limit = case.limits["rod_load_ratio_forged" if forged else "rod_load_ratio"]
    found = max(
        (_earliest(case, day, limit.amount, rule.harm) for day in days), key=lambda e: (e.speed, e.sure)
    )
    comes = threshold.coming_down
    demand = Amount(comes, threshold_amount(threshold).sd, Kind.ENGINE_SPEED, "full boost stands from here")
    capacity = Amount(found.speed, found.sd, Kind.ENGINE_SPEED, "full boost is stood from here")
    keep = _keep(found, comes)
    top, lowest = float(found.day.strong.speed[-1]), float(found.day.strong.speed[0])
    amounts = {
        "comes": demand,
        "from": Amount(found.speed, None, Kind.ENGINE_SPEED),
        "sure": Amount(found.sure, None, Kind.ENGINE_SPEED),
        "keep": Amount(keep, None, Kind.PRESSURE_GAUGE),
    }
    return rule.finding(
        demand,
        capacity,
        LimitRecord(limit.record.key, limit.record.source, limit.record.reason, limit.record.edited),
        place=Place(comes),
        corner=on_best_fuel(case, found.day),
        cause=Phrase(
            "These rods stand full boost at every speed that was computed."
            if found.sure <= lowest
            else "At full boost the rods carry more than they stand at every speed that was computed."
            if found.speed >= top
            else "At full boost the rods come close to what they stand at low speed; faster, the piston's own"
            " inertia takes more off the burn."
            if found.speed <= lowest
            else "At full boost the rods carry more than they stand up to {from}; faster, the piston's own"
            " inertia takes enough off the burn.",
            amounts,
        ),
        remedy=Phrase(
            "Leave it; full boost from {comes} on is sure."
            if found.sure <= comes
            else "Let the controller give full boost from {sure} on only, less before it."
            if found.sure <= LATEST_BOOST * top
            else _too_late(case, found, keep, rule.harm, forged),
            amounts,
        ),
        reading=Reading(
            "A logged pull in a high gear from 1500 rpm: from which speed boost stands full.", 1800.0
        ),
        about=("engine.rods", "engine.reciprocating_mass", "goal.boost"),
    )


def _too_late(case: Case, found: _Earliest, keep: float, harm: Harm, forged: bool) -> str:
    """What is left where these rods stand full boost too late to be of use: less boost, if any is worth its
    trouble, and forged rods where they help.
    """
    said = "No speed of use is late enough for full boost"
    ways = ["keep boost near {keep}"] if keep >= LEAST_BOOST else []
    if not forged:
        stronger = _earliest(case, found.day, case.limits["rod_load_ratio_forged"].amount, harm)
        if stronger.sure <= LATEST_BOOST * float(found.day.strong.speed[-1]):
            ways.append("fit forged rods")
        elif ways:
            said += ", with forged rods neither"
    if not ways:
        return (
            f"{said}, and no boost worth its trouble is sure: lower the"
            " compression ratio first, or let an engine builder choose the rods."
        )
    return f"{said}: {', or '.join(ways)}."


def _keep(found: _Earliest, comes: float) -> float:
    """Boost that the rods surely stand from the speed at which it comes [Pa gauge]: load goes with the
    pressure in the plenum, a little to the safe side, as inertia stays.
    """
    strong = found.day.strong
    ratios = np.append(found.ratio[strong.speed >= comes], np.interp(comes, strong.speed, found.ratio))
    plenum = float(np.nanmax(found.day.goal.plenum_pressure))
    return max(plenum * min(found.most / float(np.nanmax(ratios)), 1.0) - found.day.ambient_pressure, 0.0)


def _earliest(case: Case, day: StrengthDay, limit: Amount, harm: Harm) -> _Earliest:
    """From which speed the rods stand full boost on one day.

    Load at full boost: peak pressure raised as the plenum pressure would rise to its highest. The spread is
    such that the speed from which it is sure lies as far off as a sure hold asks.
    """
    mass, _, _ = rod_mass(case)
    strong, goal, engine = day.strong, day.goal, case.engine
    plenum = np.interp(strong.speed, goal.speed, goal.plenum_pressure)
    full = float(np.nanmax(goal.plenum_pressure)) / plenum
    load = rod_force(
        full * strong.result.peak_pressure,
        strong.result.peak_angle,
        engine.bore,
        engine.stroke,
        engine.rod,
        strong.speed,
        mass,
    ).net
    ratio = load / stock_rod_load(case, mass)
    sd = math.hypot(limit.sd or 0.0, _RATIO_SD * limit.value)
    at = _from(strong.speed, ratio, limit.value)
    most = limit.value - deviations(harm) * sd
    sure = _from(strong.speed, ratio, most)
    return _Earliest(at, (sure - at) / deviations(harm), sure, day, ratio, most)


def _from(speed: Array, ratio: Array, most: float) -> float:
    """Lowest speed from which the ratio stays at or below `most`, on straight lines between the speeds
    [rad/s].
    """
    over = np.flatnonzero(np.nan_to_num(ratio, nan=0.0) > most)
    if over.size == 0:
        return float(speed[0])
    last = int(over[-1])
    if last + 1 >= speed.size or not math.isfinite(float(ratio[last + 1])):
        return float(speed[-1])
    a, b = float(ratio[last]), float(ratio[last + 1])
    return float(speed[last] + (speed[last + 1] - speed[last]) * (a - most) / max(a - b, 1e-12))
