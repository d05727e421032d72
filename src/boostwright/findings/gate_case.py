"""What the findings on the wastegate share: its answers along the lines of a case, and their words."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Kind, LimitRecord, Reading
from boostwright.findings.worst import Line, Worst, lines, worst
from boostwright.systems.wastegate import GateAnswers

__all__ = [
    "PUMP",
    "SPRING_FIELDS",
    "GatePlace",
    "as_limit",
    "assumed_gate",
    "best_gate",
    "gate_along",
    "goal_and_room",
    "pressure",
    "stiffest_allowed",
    "turbine_can",
    "worst_gate",
]

Array = NDArray[np.float64]

PUMP = Reading(
    "Hand pump and gauge on the actuator: note the pressure at which the rod first moves, and where it ends.",
    900.0,
)
SPRING_FIELDS = (
    "wastegate.spring",
    "wastegate.full_open",
    "wastegate.diaphragm_diameter",
    "wastegate.valve_diameter",
    "wastegate.control",
)


class GatePlace(NamedTuple):
    """One place of one line, and the gate's answers along that line."""

    there: Worst
    answers: GateAnswers

    def at(self, values: Array) -> float:
        """The entry of an array at this place."""
        return float(values[self.there.place])


def gate_along(case: Case, line: Line) -> GateAnswers | None:
    """The gate's answers along one operating line; None where they were not computed."""
    own = getattr(line.goal, "gate", None)
    if own is None:
        corners = case.extra.get("gate_corners", {})
        own = case.extra.get("gate") if line.goal is case.goal else corners.get(line.corner)
    return own if isinstance(own, GateAnswers) else None


def worst_gate(case: Case, margin: Callable[[GateAnswers], Array]) -> GatePlace | None:
    """The place with the smallest margin over all lines of which the gate's answers are known."""

    def along(line: Line) -> Array:
        answers = gate_along(case, line)
        return np.full(line.goal.speed.shape, np.nan) if answers is None else margin(answers)

    there = worst(case, along)
    if there is None:
        return None
    answers = gate_along(case, there.line)
    return None if answers is None else GatePlace(there, answers)


def best_gate(case: Case, margin: Callable[[GateAnswers], Array]) -> GatePlace | None:
    """The line on which the greatest margin over speed is smallest, at the speed of that margin."""
    found: GatePlace | None = None
    for line in lines(case):
        answers = gate_along(case, line)
        if answers is None:
            continue
        values = np.where(line.goal.settled, margin(answers), np.nan)
        if not np.isfinite(values).any():
            continue
        i = int(np.nanargmax(values))
        if found is None or float(values[i]) < found.there.margin:
            found = GatePlace(Worst(line, i, float(values[i])), answers)
    return found


def goal_and_room(case: Case) -> tuple[Amount, Amount] | None:
    """The boost asked for, and how far off it nobody minds; None without a wish."""
    goal = case.amount("goal.boost", Kind.PRESSURE_GAUGE, "boost asked for")
    return None if goal is None else (goal, case.limits["boost_wander"].amount)


def as_limit(case: Case, reason: str) -> LimitRecord:
    """The record of a capacity that is the wish itself, give or take what boost wanders."""
    stated = case.stated("goal.boost")
    line = "" if stated is None or stated.line is None else f", line {stated.line}"
    return LimitRecord("goal.boost", f"the build file{line}", reason)


def assumed_gate(case: Case, *fields: str) -> str:
    """A sentence that names what the file leaves out, of 'spring' and 'valve_diameter'; or ''."""
    words = {"spring": "the actuator's spring", "valve_diameter": "the diameter of the gate"}
    missing = [words[f] for f in fields if not case.build.is_stated(f"wastegate.{f}")]
    if not missing:
        return ""
    verb = "is" if len(missing) == 1 else "are"
    said = " and ".join(missing)
    return f"{said[0].upper()}{said[1:]} {verb} not stated; what is usual is assumed."


def pressure(value: float, name: str = "", sd: float | None = None) -> Amount:
    """A boost or a spring as an amount [Pa gauge]."""
    return Amount(value, sd, Kind.PRESSURE_GAUGE, name)


def turbine_can(answers: GateAnswers) -> NDArray[np.bool_]:
    """Where the turbine could make the boost asked for."""
    return np.asarray(answers.gate_area_needed > 0)


def stiffest_allowed(place: GatePlace) -> float:
    """The stiffest spring whose boost passes the wish at no speed of the line [Pa]; NaN if unknown."""
    springs = place.answers.spring_for_goal
    return float(np.nanmin(springs)) if np.isfinite(springs).any() else math.nan
