"""The worst place over the rev range and over every corner of weather: one search for every finding."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.findings.case import Case, GoalLine

__all__ = ["Line", "Worst", "lines", "worst", "worst_number"]

Array = NDArray[np.float64]


class Line(NamedTuple):
    """One operating line with the air that it was computed for."""

    goal: GoalLine
    corner: str  # in words: 'on an ordinary warm day', or the name of the corner
    ambient_pressure: float  # [Pa absolute]
    ambient_temperature: float  # [K]


class Worst(NamedTuple):
    """Where a margin is smallest."""

    line: Line
    place: int  # index into the line's speeds
    margin: float  # in the unit of the function that was searched

    @property
    def goal(self) -> GoalLine:
        """The line that it lies on."""
        return self.line.goal

    @property
    def speed(self) -> float:
        """Crank speed [rad/s]."""
        return float(self.line.goal.speed[self.place])

    @property
    def corner(self) -> str:
        """The corner in words."""
        return self.line.corner


def lines(case: Case) -> tuple[Line, ...]:
    """The ordinary day first, then every corner that was computed; nothing when there is no goal line."""
    found = []
    if case.goal is not None:
        found.append(Line(case.goal, case.corner, case.ambient_pressure, case.ambient_temperature))
    for corner in getattr(case, "corners", ()):
        if corner.goal is not None:
            found.append(Line(corner.goal, corner.name, corner.ambient_pressure, corner.ambient_temperature))
    return tuple(found)


def worst(case: Case, margin: Callable[[Line], ArrayLike]) -> Worst | None:
    """The settled point at which ``margin`` is smallest, over all speeds of all lines.

    margin: from a line to an array (n,), one number for each of its speeds; smaller is worse. NaN and points
    that did not settle are left out. Of equal ones the ordinary day and the lowest speed come first. None
    when no point is left.
    """
    best: Worst | None = None
    for line in lines(case):
        values = np.broadcast_to(np.asarray(margin(line), dtype=np.float64), line.goal.speed.shape)
        values = np.where(line.goal.settled & np.isfinite(values), values, np.inf)
        if values.size == 0 or not np.isfinite(values).any():
            continue
        i = int(np.argmin(values))
        if best is None or float(values[i]) < best.margin:
            best = Worst(line, i, float(values[i]))
    return best


def worst_number(case: Case, demand: Callable[[Line], ArrayLike]) -> tuple[float, Worst] | None:
    """The greatest demand over all lines, and where it stands; None when no point is left."""
    found = worst(case, lambda line: -np.asarray(demand(line), dtype=np.float64))
    return None if found is None else (-found.margin, found)
