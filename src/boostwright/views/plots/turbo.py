"""Plots of the turbo side on every day: boost, exhaust pressure, room to knock."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.limits import shipped_limits
from boostwright.findings.model import Amount, Kind
from boostwright.findings.result import CheckResult
from boostwright.findings.worst import Line
from boostwright.views.numbers import say, say_band
from boostwright.views.plots.bands import band_note, band_of, draw_band, ends
from boostwright.views.plots.days import (
    RPM,
    at_speed,
    draw_days,
    extreme,
    judged,
    lines_of,
    on_day,
)
from boostwright.views.plots.style import (
    BLUE,
    GREY,
    INK,
    EndName,
    Sheet,
    edge,
    forbid,
    mark_worst,
    name_ends,
    new_sheet,
    speed_axis,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["back_pressure", "boost", "knock_margin"]

Array = NDArray[np.float64]
DEG = math.pi / 180.0
_LEAST_BOOST = 0.1e5  # below it exhaust over plenum pressure says nothing [Pa above the outside air]


def _capacity(result: CheckResult, code: str) -> Amount | None:
    """The limit of a finding, where it has one."""
    for finding in result.findings:
        if finding.code == code and finding.capacity is not None and math.isfinite(finding.capacity.value):
            return finding.capacity
    return None


def boost(result: CheckResult, foot: str) -> Sheet | None:
    """Boost reached over speed with its band, on every day; None without a turbo."""
    goal, days = result.goal, lines_of(result)
    if goal is None or not days:
        return None
    rpm, bar = goal.speed / RPM, goal.boost / 1e5
    band = 2.0 * goal.boost_sd / 1e5
    full = np.flatnonzero(goal.turbine_enough)
    most = extreme(days, lambda _, day: day.goal.boost)
    assert most is not None
    there = days[most.day].goal
    reached = Amount(most.value, float(there.boost_sd[most.i]), Kind.PRESSURE_GAUGE)
    sentence = f"Most boost {on_day(most, days)}: {say_band(reached)}."
    if full.size:
        sentence += f" The turbine can drive the boost asked for from {at_speed(goal.speed[full[0]])} on."
    else:
        sentence += " The turbine drives the boost asked for at no speed."
    sentence += band_note(result, "The band")
    sheet, (axis,) = new_sheet("boost", "Boost at full load", sentence, foot, 1, 5.0)
    drawn = band_of(result, "goal.boost", rpm.size)
    sides = (bar - band, bar + band) if drawn is None else ends(drawn, 1e-5)
    axis.fill_between(rpm, *sides, color=BLUE, alpha=0.14, linewidth=0)
    for side in sides:
        axis.plot(rpm, side, color=BLUE, linewidth=0.6)
    names = draw_days(axis, days, lambda _, day: day.goal.boost / 1e5, "boost, with\nits band")
    axis.set_ylim(bottom=0)
    axis.set_ylabel("boost above the outside air [bar]")
    name_ends(axis, names)
    mark_worst(axis, most.speed / RPM, most.value / 1e5, colour=INK)
    speed_axis((axis,), rpm)
    return sheet


def back_pressure(result: CheckResult, foot: str) -> Sheet | None:
    """Exhaust pressure over plenum pressure on every day; None without a turbo."""
    days = lines_of(result)
    if not days:
        return None

    def ratio(_: int, day: Line) -> Array:
        goal = day.goal
        return np.where(goal.boost >= _LEAST_BOOST, goal.exhaust_pressure / goal.plenum_pressure, np.nan)

    worst = extreme(days, ratio)
    if worst is None:
        return None
    there = days[worst.day].goal
    before = Amount(float(there.exhaust_pressure[worst.i]), None, Kind.PRESSURE_ABSOLUTE)
    plenum = Amount(float(there.plenum_pressure[worst.i]), None, Kind.PRESSURE_ABSOLUTE)
    sentence = (
        f"Highest {on_day(worst, days)}: {say(before)} before the turbine for {say(plenum)} in the plenum,"
        f" {worst.value:.2f} times as much. Above 1 the exhaust pushes back into the cylinders."
    )
    title = "Exhaust pressure over plenum pressure, both absolute"
    sheet, (axis,) = new_sheet("back_pressure", title, sentence + band_note(result), foot, 1, 4.8)
    draw_band(axis, days[0].goal.speed / RPM, result, "goal.exhaust_over_plenum")
    names = draw_days(axis, days, ratio, "on an ordinary\nday")
    limit = _capacity(result, "exhaust.back_pressure")
    low, high = axis.get_ylim()
    top = max(high, 1.1 if limit is None else limit.value + 0.15)
    axis.set_ylim(min(low, 0.9), top)
    axis.set_ylabel("exhaust over plenum pressure, ratio")
    speed_axis((axis,), days[0].goal.speed / RPM)
    axis.axhline(1.0, color=GREY, linewidth=0.8)
    if limit is not None:
        edge(axis, limit.value)
        names.append(EndName(limit.value, "limit", leader=True))
    name_ends(axis, names)
    mark_worst(axis, worst.speed / RPM, worst.value)
    return sheet


def knock_margin(result: CheckResult, foot: str) -> Sheet | None:
    """Room between the half-burned point at the spark used and the latest useful one; None without a turbo.

    Knock pushes the spark back until half of the charge burns too late to be of use: what is left before
    that is the margin.
    """
    days = lines_of(result)
    if not days:
        return None
    limit = _capacity(result, "knock.half_burned") or shipped_limits()["half_burned"].amount

    def room(_: int, day: Line) -> Array:
        return (limit.value - day.goal.result.ca50) / DEG

    def boosted(k: int, day: Line) -> Array:
        full = 0.5 * float(np.nanmax(day.goal.boost))
        return np.where(day.goal.boost >= full, room(k, day), np.nan)

    worst = extreme(days, boosted, largest=False)
    if worst is None:
        return None
    there = days[worst.day].goal
    retreat = max(0.0, float(there.used_spark[worst.i] - there.mbt_spark[worst.i]) / DEG)
    sentence = (
        f"Least room {on_day(worst, days)}: {worst.value:.0f} deg, with the spark {retreat:.0f} deg later"
        " than the one of greatest torque. Half of the charge must have burned by"
        f" {limit.value / DEG:.0f} deg after top dead centre; later it overheats the exhaust and runs"
        " unevenly. Spread of the limit in grey."
    )
    finding = judged(result, "knock.half_burned", days)
    apart = finding is not None and (finding.at.day, finding.at.i) != (worst.day, worst.i)
    if finding is not None:
        there_too = f"{on_day(finding.at, days)} (dark ring)" if apart else "there, too"
        sentence += (
            f" The finding on knock stands {there_too}: its worst cylinder has burned half at"
            f" {say_band(finding.demand)}, a reserve included."
        )
        sentence += " The poorest fuel has a finding of its own." if apart else ""
    sentence += band_note(result)
    sheet, (axis,) = new_sheet("knock_margin", "Room that knock leaves the spark", sentence, foot, 1, 5.0)
    speeds = days[0].goal.speed / RPM
    draw_band(axis, speeds, result, "goal.ca50", -1.0 / DEG, limit.value / DEG)
    names = draw_days(axis, days, room, "on an ordinary\nday")
    rpm = days[0].goal.speed / RPM
    axis.set_ylabel("half burned before its\nlatest useful point [deg]")
    speed_axis((axis,), rpm)
    _zero_is_forbidden(axis, 2.0 * (limit.sd or 0.0) / DEG)
    name_ends(axis, [*names, EndName(0.0, "latest useful\nhalf-burned point", leader=True)])
    mark_worst(axis, worst.speed / RPM, worst.value)
    if finding is not None and apart:
        there_room = float(room(finding.at.day, days[finding.at.day])[finding.at.i])
        mark_worst(axis, finding.at.speed / RPM, there_room, colour=INK)
    return sheet


def _zero_is_forbidden(axis: Axes, band: float) -> None:
    """Hatch below zero; a grey band of `band` on either side of it."""
    low, high = axis.get_ylim()
    left, right = axis.get_xlim()
    axis.set_ylim(min(low, -0.16 * (high - min(low, 0.0))), high)
    axis.axhspan(-band, band, color=GREY, alpha=0.22, linewidth=0, zorder=0.4)
    forbid(axis, np.array([left, right]), np.zeros(2), above=False)
    axis.set_xlim(left, right)
