"""Plots of the turbo side: boost over speed, and the compressor's operating line between surge and choke."""

from __future__ import annotations

import math

import numpy as np

from boostwright.findings.model import Amount, Kind
from boostwright.findings.result import CheckResult
from boostwright.views.numbers import say, say_band
from boostwright.views.plots.style import (
    BLUE,
    GREY,
    INK,
    EndName,
    Sheet,
    forbid,
    mark_worst,
    name_ends,
    new_sheet,
    speed_axis,
)

__all__ = ["boost", "compressor"]

RPM = math.pi / 30.0


def boost(result: CheckResult, foot: str) -> Sheet | None:
    """Boost reached over speed with its band, and pressures before the turbine; None without a turbo."""
    goal = result.goal
    if goal is None:
        return None
    rpm, bar = goal.speed / RPM, goal.boost / 1e5
    band = 2.0 * goal.boost_sd / 1e5
    full = np.flatnonzero(goal.turbine_enough)
    most = int(np.nanargmax(bar))
    sentence = (
        f"Most boost at {say(Amount(float(goal.speed[most]), None, Kind.ENGINE_SPEED))}:"
        f" {say_band(Amount(float(goal.boost[most]), float(goal.boost_sd[most]), Kind.PRESSURE_GAUGE))}."
    )
    if full.size:
        first = Amount(float(goal.speed[full[0]]), None, Kind.ENGINE_SPEED)
        sentence += f" The turbine can drive the boost asked for from {say(first)} on."
    else:
        sentence += " The turbine drives the boost asked for at no speed."
    back = (goal.exhaust_pressure - (goal.plenum_pressure - goal.boost)) / 1e5
    held = np.where(goal.turbine_enough, back / np.maximum(bar, 1e-3), np.nan)
    worst = int(np.nanargmax(held)) if np.isfinite(held).any() else None
    if worst is not None:
        here = say(Amount(float(goal.speed[worst]), None, Kind.ENGINE_SPEED))
        sentence += (
            f" Before the turbine it is highest against boost at {here}: {held[worst]:.1f} times as much."
        )
    sheet, (axis,) = new_sheet("boost", "Boost at full load", sentence, foot, 1, 4.6)
    axis.fill_between(rpm, bar - band, bar + band, color=BLUE, alpha=0.14, linewidth=0)
    for edge in (bar - band, bar + band):
        axis.plot(rpm, edge, color=BLUE, linewidth=0.6)
    axis.plot(rpm, bar, color=BLUE)
    axis.plot(rpm, back, color=INK, linestyle=(0, (6, 2)))
    axis.set_ylim(bottom=0)
    axis.set_ylabel("pressure above the outside air [bar]")
    names = [
        EndName(float(bar[-1]), "boost in the\nplenum", BLUE),
        EndName(float(back[-1]), "before the\nturbine"),
    ]
    name_ends(axis, names)
    if worst is not None:
        mark_worst(axis, float(rpm[worst]), float(back[worst]))
    speed_axis((axis,), rpm)
    return sheet


def compressor(result: CheckResult, foot: str) -> Sheet | None:
    """The compressor's flow over engine speed, between surge and choke at its own speed; None without a
    turbo.
    """
    goal = result.goal
    if goal is None:
        return None
    rpm, flow = goal.speed / RPM, 1e3 * goal.result.air_flow
    surge, choke = flow / goal.flow_over_surge, flow / goal.flow_over_choke
    nearest = int(np.nanargmin(goal.flow_over_surge))
    speed = Amount(float(goal.speed[nearest]), None, Kind.ENGINE_SPEED)
    over = float(goal.flow_over_surge[nearest])
    room = Amount(over, over * goal.surge_sd, Kind.RATIO)
    sentence = (
        f"Nearest to surge at {say(speed)}: the flow is {say_band(room)} times the surge flow there."
        " Surge and choke are drawn at the speed that the compressor runs at each point; the grey bands"
        " are how well they are known."
    )
    sheet, (upper, lower) = new_sheet("compressor", "Compressor at full load", sentence, foot, 2, 6.2)
    for values, sd in ((surge, goal.surge_sd), (choke, goal.choke_sd)):
        upper.fill_between(
            rpm, values * (1 - 2 * sd), values * (1 + 2 * sd), color=GREY, alpha=0.22, linewidth=0
        )
    upper.plot(rpm, flow, color=BLUE)
    upper.set_ylim(0, 1.12 * float(np.nanmax(choke)))
    forbid(upper, rpm, surge, above=False)
    forbid(upper, rpm, choke, above=True)
    upper.set_ylabel("air flow [g/s]")
    name_ends(upper, [EndName(float(flow[-1]), "operating line", BLUE), EndName(float(surge[-1]), "surge"),
                      EndName(float(choke[-1]), "choke")])  # fmt: skip
    mark_worst(upper, float(rpm[nearest]), float(flow[nearest]))
    lower.plot(rpm, goal.pressure_ratio, color=BLUE)
    lower.set_ylim(bottom=1.0)
    lower.set_ylabel("compressor\npressure ratio")
    name_ends(lower, [EndName(float(goal.pressure_ratio[-1]), "pressure ratio", BLUE)])
    speed_axis((upper, lower), rpm)
    return sheet
