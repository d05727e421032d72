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

__all__ = [
    "EFFORTS",
    "ODDS",
    "BrokenStuds",
    "broken_studs",
    "hollow_flange",
    "nut_effort",
    "spare_studs",
    "stud_count",
    "stud_effort",
]


_MOST: Final = 0.5
"""Odds of one stud, at most: some come out of any manifold (judgement)."""


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
    state = rules.stud_states.get(ground.words("engine.exhaust_studs"))
    if state is not None:
        each = min(_MOST, each * state.odds)
        because += f", and they are {ground.words('engine.exhaust_studs')}"
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


def nut_effort(ground: Ground, usual: Effort) -> Effort:
    """Time for the old manifold's nuts, longer the rustier they are [s]."""
    state = task_rules().stud_states.get(ground.words("engine.exhaust_studs"))
    share = 1.0 if state is None else state.minutes
    return Effort(share * usual.low, share * usual.likely, share * usual.high)


def spare_studs(ground: Ground) -> int:
    """Studs that lie at hand before the first nut is touched: as many as break where any does, and one."""
    found = broken_studs(ground)
    state = task_rules().stud_states.get(ground.words("engine.exhaust_studs"))
    if state is not None and state.spare_all:
        return found.studs
    return min(found.studs, math.ceil(found.expected) + 1)


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

EFFORTS: Final[Mapping[str, Callable[[Ground, Effort], Effort]]] = {
    "broken stud": lambda ground, _: stud_effort(ground),
    "manifold nuts": nut_effort,
}
"""Times that follow from the build, by the name that the tables of tasks give them; from the usual ones."""
