"""Branches of the plan: studs of the old manifold that break, a new manifold's flange that is not flat."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from statistics import NormalDist
from typing import Final, NamedTuple

import numpy as np

from boostwright.library.task_rules import task_rules
from boostwright.planning.task import Effort
from boostwright.planning.tasks.ground import Ground
from boostwright.quantity import Dimension, write

__all__ = ["ODDS", "BrokenStuds", "broken_studs", "hollow_flange", "stud_count", "stud_effort"]


class BrokenStuds(NamedTuple):
    """studs: how many. each: odds that one breaks. at_least_one: that any does. expected: how many if any."""

    studs: int
    each: float
    at_least_one: float
    expected: float
    because: str


def stud_count(ground: Ground) -> int:
    """Studs of the exhaust manifold: as counted in [[fasteners]], else two a cylinder and one at the end."""
    stated = ground.fastener_count("manifold")
    cylinders = ground.number("engine.cylinders") or 4.0
    return stated or round(task_rules().studs_for_each_port * cylinders) + 1


def broken_studs(ground: Ground) -> BrokenStuds:
    """Each stud by itself: 1 - (1 - p)^n for at least one, n p over that for how many if any."""
    rules, count, run = task_rules(), stud_count(ground), ground.number("engine.distance")
    if run is None:
        each, because = rules.stud_odds_unknown, "engine.distance is not stated"
    else:
        each = float(np.interp(run, rules.stud_distance, rules.stud_odds))
        because = f"after {write(run, 'km', Dimension.LENGTH, digits=3)}"
    any_breaks = -math.expm1(count * math.log1p(-each))
    return BrokenStuds(count, each, any_breaks, count * each / any_breaks, because)


def stud_effort(ground: Ground) -> Effort:
    """Three points whose mean is that of a lognormal time with the stated median and ninth tenth [s].

    The lognormal's mean is median exp(s^2 / 2) with s = ln(ninth / median) / 1.2816, 1.2816 being the normal
    quantile of 0.9. Low is the shortest time, high twice the ninth tenth; likely follows from the mean.
    """
    rules = task_rules()
    sigma = math.log(rules.stud_ninth / rules.stud_median) / NormalDist().inv_cdf(0.9)
    mean = rules.stud_median * math.exp(0.5 * sigma**2)
    low, high = rules.stud_shortest, 2.0 * rules.stud_ninth
    likely = (6.0 * mean - low - high) / 4.0
    studs = broken_studs(ground).expected
    return Effort(low * studs, likely * studs, high * studs)


def hollow_flange(ground: Ground) -> float:
    """Odds that a flange of the new manifold goes to the machine shop, by how the manifold is made."""
    rules = task_rules()
    return rules.hollow_odds.get(ground.words("manifold.kind"), rules.hollow_odds_unknown)


ODDS: Final[Mapping[str, Callable[[Ground], float]]] = {
    "broken stud": lambda ground: broken_studs(ground).at_least_one,
    "hollow flange": hollow_flange,
    "pipe is cut again": lambda _: task_rules().pipe_again,
}
"""Odds that a branch arises, by the name that the tables of tasks give it."""
