"""What the findings on the oil share: whether the file speaks of it, its spreads, the heat of the turbo."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.case import Case
from boostwright.findings.worst import Line, Worst, worst_number
from boostwright.library.oil import oil_constant
from boostwright.library.turbo_sizes import turbine_band
from boostwright.physics.oil import oil_density, turbo_oil_heat
from boostwright.physics.turbine import bearing_loss
from boostwright.systems.oil import OilHeat, OilSide, after_pulls, feed_at
from boostwright.systems.stated.oil import oil_side_of, oil_uncertain_of
from boostwright.systems.turbo import TurboParts

__all__ = ["HotOil", "figure_sd", "hot_oil", "oil_side", "rise_in_turbo", "sided", "speaks_of", "turbo_heat"]

Array = NDArray[np.float64]

_OIL_CAPACITY: Final = 2200.0  # [J/kg/K], see physics.oil.turbo_oil_heat


def speaks_of(case: Case, section: str) -> bool:
    """Whether the file says anything in one of the oil's sections; a grade by itself does not count."""
    return any(path.startswith(f"{section}.") and path != "oil.grade" for path in case.build)


def oil_side(case: Case) -> OilSide:
    """The oil side with the hot oil of the last pull."""
    hot = hot_oil(case)
    side = oil_side_of(case.build)
    return side if hot is None else oil_side_of(case.build, {"oil.temperature": hot.value})


def figure_sd(case: Case, figure: Callable[[OilSide], float]) -> float:
    """Standard deviation of a figure of the oil side, each uncertain value moved by one of its own."""
    rows = oil_uncertain_of(case.build)
    hot = hot_oil(case)
    if hot is not None:
        rows["oil.temperature"] = (hot.value, hot.sd)
    middle = {name: value for name, (value, _) in rows.items()}
    usual = figure(oil_side_of(case.build, middle))
    total = 0.0
    for name, (value, sd) in rows.items():
        if sd > 0.0:
            total += (figure(oil_side_of(case.build, middle | {name: value + sd})) - usual) ** 2
    return math.sqrt(total)


def sided(value: float, sd: float, other: float) -> float:
    """Standard deviation to the side of what a value is set against [unit of value].

    Wide spreads of positive quantities are factors: as far down as 1/(1 + r) where up is 1 + r, r = sd/value.
    """
    if value <= 0.0 or other >= value:
        return sd
    return sd / (1.0 + sd / value)


# -------------------------------------------------------------------------------------------------- heat


def turbo_heat(case: Case, line: Line) -> tuple[Array, Array] | None:
    """Heat that the oil takes from the turbo along a line and its standard deviation (n,) [W].

    Bearing friction at the match's shaft speed, and G (T_3 - T_oil) through housing and seals. None without a
    match.
    """
    parts: TurboParts | None = case.extra.get("turbo_parts")
    if parts is None:
        return None
    goal = line.goal
    friction = parts.turbine_factors.bearing * bearing_loss(
        goal.shaft_speed, parts.shaft, parts.bearing, parts.turbine_recipe
    )
    conduct = oil_constant("heat", "water" if case.build.flag("turbo.water_cooled") else "dry")
    over = np.maximum(goal.turbine_inlet_temperature - case.build.number("oil.temperature"), 0.0)
    heat = friction + conduct.value * over
    return heat, np.hypot(case.left(turbine_band().bearing) * friction, conduct.sd * over)


class HotOil(NamedTuple):
    """Oil after the last pull."""

    value: float  # [K]
    sd: float
    there: Worst
    before: float  # at the end of a hard drive before the conversion, as read [K]
    heat: OilHeat  # on the day of the worst place
    turbo: float  # heat from the turbo [W]
    turbo_sd: float


def hot_oil(case: Case) -> HotOil | None:
    """The hottest oil after three pulls over every day; None without a match. Computed once for a build."""
    kept = case.extra.setdefault("hot_oil", {})
    key = (id(case.build), id(case.goal))
    if key not in kept:
        kept[key] = (_hot_oil(case), case.build, case.goal)  # kept alive with their ids
    found: HotOil | None = kept[key][0]
    return found


def _hot_oil(case: Case) -> HotOil | None:
    share, hard, store = (oil_constant("heat", name) for name in ("share", "hard", "store"))
    before = case.build["oil.temperature"]
    T, T_sd = float(before.value), float(before.sd or 0.0)
    power = case.baseline.result.power
    most = float(np.nanmax(power)) if np.isfinite(power).any() else math.nan
    air = case.ambient_temperature
    volume = case.build.number("oil.sump_volume")
    own = volume * float(oil_density(T)) * _OIL_CAPACITY
    pull, pause = case.build.number("cooler.pull_time"), case.build.number("cooler.pause_time")

    def heat_at(
        extra: float, part: float = share.value, mean: float = hard.value, kept: float = store.value
    ) -> OilHeat:
        conductance = part * mean * most / max(T - air, 10.0)
        return OilHeat(extra - part * mean * most, conductance, kept * own, T)

    def end(line: Line) -> Array:
        from_turbo = turbo_heat(case, line)
        brake = line.goal.result.power
        if from_turbo is None or not math.isfinite(most):
            return np.full(brake.shape, np.nan)
        warmer = line.ambient_temperature - air
        return (
            np.array(
                [
                    after_pulls(heat_at(share.value * b + q), pull, pause)
                    for b, q in zip(brake, from_turbo[0], strict=True)
                ]
            )
            + warmer
        )

    seen = worst_number(case, end)
    if seen is None:
        return None
    value, there = seen
    i = there.place
    brake = float(there.goal.result.power[i])
    found = turbo_heat(case, there.line)
    assert found is not None
    turbo, turbo_sd = float(found[0][i]), float(found[1][i])
    warmer = there.line.ambient_temperature - air

    def moved(part: float = 0.0, mean: float = 0.0, kept: float = 0.0, more: float = 0.0) -> float:
        p, h, s = share.value + part, hard.value + mean, store.value + kept
        return after_pulls(heat_at(p * brake + turbo + more, p, h, s), pull, pause) + warmer - value

    sd = math.hypot(
        T_sd, moved(part=share.sd), moved(mean=hard.sd), moved(kept=store.sd), moved(more=turbo_sd)
    )
    heat = heat_at(share.value * brake + turbo)
    return HotOil(value, sd, there, T, heat._replace(before=T + warmer), turbo, turbo_sd)


def rise_in_turbo(case: Case, hot: HotOil) -> float:
    """How much warmer the oil leaves the turbo than it comes [K], so that `turbo_oil_heat` gives the heat."""
    side = oil_side(case)
    at = feed_at(side, hot.there.speed)
    one = float(turbo_oil_heat(at.flow, float(oil_density(side.temperature)), 1.0))
    return hot.turbo / one if one > 0.0 else math.inf
