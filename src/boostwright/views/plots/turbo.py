"""Plots of the turbo side on every day: boost, the compressor's map, exhaust pressure, room to knock."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.drawing import CompressorChart
from boostwright.findings.limits import shipped_limits
from boostwright.findings.model import Amount, Kind
from boostwright.findings.result import CheckResult
from boostwright.findings.worst import Line
from boostwright.views.numbers import say, say_band
from boostwright.views.plots.bands import band_note, band_of, draw_band, ends
from boostwright.views.plots.days import (
    RPM,
    Extreme,
    at_speed,
    corner_style,
    draw_days,
    extreme,
    lines_of,
    on_day,
)
from boostwright.views.plots.style import (
    BLUE,
    GREY,
    INK,
    PAPER,
    EndName,
    Sheet,
    edge,
    forbid,
    mark_worst,
    name_ends,
    name_width,
    new_sheet,
    speed_axis,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["back_pressure", "boost", "compressor", "knock_margin"]

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
        " unevenly. Spread of the limit in grey; the finding also counts the worst cylinder and a reserve."
    )
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
    return sheet


def _zero_is_forbidden(axis: Axes, band: float) -> None:
    """Hatch below zero; a grey band of `band` on either side of it."""
    low, high = axis.get_ylim()
    left, right = axis.get_xlim()
    axis.set_ylim(min(low, -0.16 * (high - min(low, 0.0))), high)
    axis.axhspan(-band, band, color=GREY, alpha=0.22, linewidth=0, zorder=0.4)
    forbid(axis, np.array([left, right]), np.zeros(2), above=False)
    axis.set_xlim(left, right)


def compressor(result: CheckResult, foot: str) -> Sheet | None:
    """The compressor map with the operating lines of all days between surge and choke; None without one."""
    days = lines_of(result)
    chart = None if result.drawing is None else result.drawing.chart
    if not days or chart is None:
        return None
    nearest = extreme(
        days,
        lambda _, day: np.where(day.goal.pressure_ratio > 1.05, day.goal.flow_over_surge, np.nan),
        largest=False,
    )
    fullest = extreme(days, lambda _, day: day.goal.flow_over_choke)
    sentence = _map_sentence(days, nearest, fullest)
    if result.trust is not None:
        sentence += " Pale crosses: where 90 of 100 draws lie, in flow and in pressure, on the ordinary day."
    sheet, (axis,) = new_sheet("compressor", "Compressor map at full load", sentence, foot, 1, 6.3)
    seen = chart.end_flow[chart.end_ratio <= chart.top]
    x_most = 1.06e3 * max(float(np.nanmax(seen)), *(float(np.nanmax(flow)) for flow, _ in chart.points))
    axis.set_xlim(0.0, x_most)
    axis.set_ylim(0.98, chart.top)
    _ground(axis, chart, days[0].goal.surge_sd, days[0].goal.choke_sd)
    names = _operating_lines(axis, chart, days)
    _crosses(axis, chart, days[0], result)
    name_ends(axis, names)
    for found in (nearest, fullest):
        if found is not None:
            flow, ratio = chart.points[found.day]
            mark_worst(axis, 1e3 * float(flow[found.i]), float(ratio[found.i]))
    axis.set_xlabel(
        f"air flow [g/s], corrected to {chart.temperature - 273.15:.0f} degC and"
        f" {chart.pressure / 1e3:.0f} kPa"
    )
    axis.set_ylabel("compressor pressure ratio")
    return sheet


def _crosses(axis: Axes, chart: CompressorChart, day: Line, result: CheckResult) -> None:
    """A cross at each speed of the ordinary day: how far draws scatter in flow and in pressure ratio."""
    flow, ratio = chart.points[0]
    flows = band_of(result, "goal.air_flow", flow.size)
    ratios = band_of(result, "goal.pressure_ratio", flow.size)
    if flows is None or ratios is None:
        return
    shown = 1e3 * flow / np.asarray(day.goal.result.air_flow)  # corrected, in the unit drawn
    style: dict[str, Any] = {"color": BLUE, "linewidth": 3.0, "alpha": 0.22, "zorder": 2.2}
    axis.hlines(ratio, shown * flows.low, shown * flows.high, **style)
    axis.vlines(1e3 * flow, ratios.low, ratios.high, **style)


def _map_sentence(days: Sequence[Line], nearest: Extreme | None, fullest: Extreme | None) -> str:
    words = []
    if nearest is not None:
        sd = days[nearest.day].goal.surge_sd
        room = Amount(nearest.value, nearest.value * sd, Kind.RATIO)
        words.append(f"Nearest to surge {on_day(nearest, days)}: {say_band(room)} times the surge flow.")
    if fullest is not None:
        sd = days[fullest.day].goal.choke_sd
        full = Amount(fullest.value, fullest.value * sd, Kind.RATIO)
        words.append(
            f"Nearest to choke {on_day(fullest, days)}: {say_band(full)} times the flow at the line's end."
        )
    words.append(
        "Thin arcs: shaft speed in thousands of rpm. Ticks on the strong line: engine speed in hundreds of"
        " rpm. Grey: how well surge and choke are known."
    )
    return " ".join(words)


def _ground(axis: Axes, chart: CompressorChart, surge_sd: float, choke_sd: float) -> None:
    """Speed lines with their speeds, surge line and line ends, the ground beyond both hatched."""
    x_most, y_most = axis.get_xlim()[1], axis.get_ylim()[1]
    for flow, ratio, speed in zip(chart.flow, chart.ratio, chart.speed, strict=True):
        axis.plot(1e3 * flow, ratio, color=GREY, linewidth=0.8, zorder=1.6)
        inside = np.flatnonzero((ratio < y_most - 0.02) & (1e3 * flow < 0.97 * x_most))
        if inside.size < 8:
            continue
        j = int(inside[int(0.72 * inside.size)])
        axis.annotate(
            f"{speed / RPM / 1e3:.0f}", (1e3 * flow[j], ratio[j]), fontsize=7.2, color=INK, ha="center",
            va="center", zorder=1.8, bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.8},
        )  # fmt: skip
    for x, y, sd, side in (
        (1e3 * chart.surge_flow, chart.surge_ratio, surge_sd, "surge"),
        (1e3 * chart.end_flow, chart.end_ratio, choke_sd, "choke"),
    ):
        axis.fill_betweenx(
            y, x * (1 - 2 * sd), np.minimum(x * (1 + 2 * sd), x_most), color=GREY, alpha=0.20, linewidth=0,
            zorder=0.6,
        )  # fmt: skip
        axis.plot(x, y, color=INK, linewidth=1.1, zorder=2.0)
        far = np.zeros_like(x) if side == "surge" else np.full_like(x, x_most)
        axis.fill_betweenx(
            y, x, far, facecolor="none", edgecolor=GREY, hatch="////", linewidth=0.0, zorder=0.7
        )
    box = {"facecolor": PAPER, "edgecolor": "none", "pad": 1.5}
    height = 1.0 + 0.62 * (y_most - 1.0)
    left = 1e3 * float(np.interp(height, chart.surge_ratio, chart.surge_flow))
    axis.annotate("surge", (0.5 * left, height), fontsize=8.6, ha="center", color=INK, bbox=box)
    height = 1.0 + 0.22 * (y_most - 1.0)
    right = 1e3 * float(np.interp(height, chart.end_ratio, chart.end_flow))
    axis.annotate("choke", (0.5 * (right + x_most), height), fontsize=8.6, ha="center", color=INK,
                  bbox=box)  # fmt: skip


def _operating_lines(axis: Axes, chart: CompressorChart, days: Sequence[Line]) -> list[EndName]:
    names = []
    for k, (day, (flow, ratio)) in enumerate(zip(days, chart.points, strict=True)):
        x, good = 1e3 * flow, np.flatnonzero(np.isfinite(flow))
        last = int(good[-1])
        if k == 0:
            axis.plot(x, ratio, color=BLUE, linewidth=2.0, zorder=3.2)
            _speed_marks(axis, x, ratio, day.goal.speed / RPM)
            names.append(EndName(float(ratio[last]), "ordinary day", BLUE, "-", x=float(x[last]), width=2.0))
        else:
            style = corner_style(k)
            axis.plot(x, ratio, color=INK, linewidth=0.9, linestyle=style, zorder=2.6)
            words = "\n".join(_wrap(day.corner))
            names.append(EndName(float(ratio[last]), words, INK, style, width=0.9, x=float(x[last])))
    return names


def _wrap(words: str) -> list[str]:
    return textwrap.wrap(words, name_width(True))[:3]


def _speed_marks(axis: Axes, x: Array, y: Array, rpm: Array) -> None:
    """Ticks across the line with the engine speed in hundreds of rpm, at whole thousands and at its end."""
    good = np.isfinite(x)
    chosen = [int(i) for i in np.flatnonzero(good) if abs(rpm[i] / 1000.0 - round(rpm[i] / 1000.0)) < 0.02]
    last = int(np.flatnonzero(good)[-1])
    if last not in chosen:
        chosen.append(last)
    placed: list[tuple[float, float]] = []
    box = {"facecolor": PAPER, "edgecolor": "none", "pad": 0.6, "alpha": 0.85}
    for i in chosen:
        spot = axis.transData.transform((x[i], y[i]))
        steep = _steep(axis, x, y, i)
        axis.plot(
            [x[i]], [y[i]], marker="_" if steep else "|", markersize=8, markeredgewidth=1.2, color=BLUE,
            zorder=3.4,
        )  # fmt: skip
        if any(math.hypot(spot[0] - a, spot[1] - b) < 14.0 for a, b in placed):
            continue
        placed.append((float(spot[0]), float(spot[1])))
        axis.annotate(
            f"{rpm[i] / 100.0:.0f}", (x[i], y[i]), xytext=(12, -3) if steep else (0, -13),
            textcoords="offset points", fontsize=7.4, ha="center", color=BLUE, zorder=3.5, bbox=box,
        )  # fmt: skip


def _steep(axis: Axes, x: Array, y: Array, i: int) -> bool:
    """Whether a line runs more up than across at one of its points, as it is drawn."""
    a, b = max(i - 1, 0), min(i + 1, x.size - 1)
    ends = axis.transData.transform([(x[a], y[a]), (x[b], y[b])])
    return bool(abs(ends[1, 1] - ends[0, 1]) > abs(ends[1, 0] - ends[0, 0]))
