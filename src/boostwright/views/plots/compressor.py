"""Plot of the compressor's map with the operating lines of every day between surge and choke."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.drawing import CompressorChart
from boostwright.findings.result import CheckResult
from boostwright.findings.worst import Line
from boostwright.views.numbers import say_band
from boostwright.views.plots.bands import band_of
from boostwright.views.plots.days import RPM, Judged, corner_style, judged, lines_of, on_day
from boostwright.views.plots.labels import Crowd
from boostwright.views.plots.style import (
    BLUE,
    GREY,
    INK,
    PAPER,
    EndName,
    Sheet,
    mark_worst,
    name_ends,
    name_width,
    new_sheet,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["compressor"]

Array = NDArray[np.float64]
_BELOW = ((0.0, -11.0), (0.0, 11.0), (11.0, -9.0), (-11.0, 9.0))  # labels of a line that runs across [points]
_BESIDE = ((12.0, 0.0), (-12.0, 0.0), (12.0, -9.0), (-12.0, 9.0))  # and of one that runs up
_ALONG_ARC = (0.72, 0.6, 0.8, 0.5, 0.88, 0.4, 0.3, 0.2)  # places for the speed of an arc, the best first


def compressor(result: CheckResult, foot: str) -> Sheet | None:
    """The compressor map with the operating lines of all days between surge and choke; None without one.

    The rings stand at the points that the findings on surge and choke speak of, and the grey beside both
    lines is the spread that they count with.
    """
    days = lines_of(result)
    chart = None if result.drawing is None else result.drawing.chart
    if not days or chart is None:
        return None
    surge, choke = judged(result, "turbo.surge", days), judged(result, "turbo.choke", days)
    sentence = _map_sentence(days, surge, choke)
    if result.trust is not None:
        sentence += " Pale crosses: where 90 of 100 draws lie, in flow and in pressure, on the ordinary day."
    sheet, (axis,) = new_sheet("compressor", "Compressor map at full load", sentence, foot, 1, 6.3)
    seen = chart.end_flow[chart.end_ratio <= chart.top]
    x_most = 1.06e3 * max(float(np.nanmax(seen)), *(float(np.nanmax(flow)) for flow, _ in chart.points))
    axis.set_xlim(0.0, x_most)
    axis.set_ylim(0.98, chart.top)
    plain = result.trust is None  # with draws a finding's spread holds that of the engine's flow as well
    _ground(
        axis,
        chart,
        surge.spread if surge is not None and plain else days[0].goal.surge_sd,
        choke.spread if choke is not None and plain else days[0].goal.choke_sd,
    )
    crowd = Crowd(axis)
    for found in (surge, choke):
        if found is not None:
            flow, ratio = chart.points[found.at.day]
            x, y = 1e3 * float(flow[found.at.i]), float(ratio[found.at.i])
            mark_worst(axis, x, y)
            crowd.mark(x, y, 13.0)
    for flow, ratio in chart.points:
        crowd.line(1e3 * flow, ratio)
    names = _operating_lines(axis, crowd, chart, days)
    _side_names(axis, crowd, chart)
    _shaft_speeds(axis, crowd, chart)
    _crosses(axis, chart, days[0], result)
    name_ends(axis, names)
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


def _map_sentence(days: Sequence[Line], surge: Judged | None, choke: Judged | None) -> str:
    from boostwright.findings.subjects.turbo import BOOSTED  # not by a door that only prints

    words = []
    if surge is not None:
        words.append(
            f"Rings, as the findings have it: nearest to surge {on_day(surge.at, days)},"
            f" {say_band(surge.demand)} times the surge flow, counted from a pressure ratio of {BOOSTED:.1f}"
            " on."
        )
    if choke is not None:
        words.append(
            f"Nearest to choke {on_day(choke.at, days)}, {say_band(choke.demand)} times the flow at the end"
            " of the line."
        )
    words.append(
        "Thin arcs: shaft speed in thousands of rpm. Ticks on the strong line: engine speed in hundreds of"
        " rpm. Grey: how well surge and choke are known."
    )
    return " ".join(words)


def _ground(axis: Axes, chart: CompressorChart, surge_sd: float, choke_sd: float) -> None:
    """Speed lines, surge line and line ends, the ground beyond both hatched."""
    x_most = axis.get_xlim()[1]
    for flow, ratio in zip(chart.flow, chart.ratio, strict=True):
        axis.plot(1e3 * flow, ratio, color=GREY, linewidth=0.8, zorder=1.6)
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


def _side_names(axis: Axes, crowd: Crowd, chart: CompressorChart) -> None:
    """The words surge and choke on the ground that they name, where no line runs."""
    x_most, y_most = axis.get_xlim()[1], axis.get_ylim()[1]
    shares = (0.62, 0.72, 0.52, 0.82, 0.42, 0.32, 0.22)
    for name, flow, ratio, far, tried in (
        ("surge", chart.surge_flow, chart.surge_ratio, 0.0, shares),
        ("choke", chart.end_flow, chart.end_ratio, x_most, tuple(reversed(shares))),
    ):
        heights = [1.0 + share * (y_most - 1.0) for share in tried]
        spots = [(0.5 * (1e3 * float(np.interp(h, ratio, flow)) + far), h) for h in heights]
        found = crowd.best(name, 8.6, spots, ((0.0, 0.0),))
        spot = spots[0] if found is None else spots[found[0]]
        axis.annotate(name, spot, fontsize=8.6, ha="center", va="center", color=INK,
                      bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 1.5})  # fmt: skip


def _shaft_speeds(axis: Axes, crowd: Crowd, chart: CompressorChart) -> None:
    """The speed of each thin arc, on the arc where nothing else stands; none where there is no such place."""
    x_most, y_most = axis.get_xlim()[1], axis.get_ylim()[1]
    for flow, ratio, speed in zip(chart.flow, chart.ratio, chart.speed, strict=True):
        inside = np.flatnonzero((ratio < y_most - 0.02) & (1e3 * flow < 0.97 * x_most))
        if inside.size < 8:
            continue
        tried = [int(inside[int(share * inside.size)]) for share in _ALONG_ARC]
        spots = [(1e3 * float(flow[j]), float(ratio[j])) for j in tried]
        text = f"{speed / RPM / 1e3:.0f}"
        found = crowd.best(text, 7.2, spots, ((0.0, 0.0),))
        if found is not None:
            axis.annotate(
                text, spots[found[0]], fontsize=7.2, color=INK, ha="center", va="center", zorder=1.8,
                bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.8},
            )  # fmt: skip


def _operating_lines(axis: Axes, crowd: Crowd, chart: CompressorChart, days: Sequence[Line]) -> list[EndName]:
    names = []
    for k, (day, (flow, ratio)) in enumerate(zip(days, chart.points, strict=True)):
        x, good = 1e3 * flow, np.flatnonzero(np.isfinite(flow))
        last = int(good[-1])
        if k == 0:
            axis.plot(x, ratio, color=BLUE, linewidth=2.0, zorder=3.2)
            _speed_marks(axis, crowd, x, ratio, day.goal.speed / RPM)
            names.append(EndName(float(ratio[last]), "ordinary day", BLUE, "-", x=float(x[last]), width=2.0))
        else:
            style = corner_style(k)
            axis.plot(x, ratio, color=INK, linewidth=0.9, linestyle=style, zorder=2.6)
            words = "\n".join(_wrap(day.corner))
            names.append(EndName(float(ratio[last]), words, INK, style, width=0.9, x=float(x[last])))
    return names


def _wrap(words: str) -> list[str]:
    return textwrap.wrap(words, name_width(True))[:3]


def _speed_marks(axis: Axes, crowd: Crowd, x: Array, y: Array, rpm: Array) -> None:
    """Ticks across the line with the engine speed in hundreds of rpm, at whole thousands and at its end."""
    good = np.isfinite(x)
    chosen = [int(i) for i in np.flatnonzero(good) if abs(rpm[i] / 1000.0 - round(rpm[i] / 1000.0)) < 0.02]
    last = int(np.flatnonzero(good)[-1])
    if last not in chosen:
        chosen.append(last)
    box = {"facecolor": PAPER, "edgecolor": "none", "pad": 0.6, "alpha": 0.85}
    for i in chosen:
        steep = _steep(axis, x, y, i)
        axis.plot(
            [x[i]], [y[i]], marker="_" if steep else "|", markersize=8, markeredgewidth=1.2, color=BLUE,
            zorder=3.4,
        )  # fmt: skip
        text = f"{rpm[i] / 100.0:.0f}"
        found = crowd.best(text, 7.4, [(float(x[i]), float(y[i]))], _BESIDE if steep else _BELOW)
        if found is not None:
            axis.annotate(
                text, (x[i], y[i]), xytext=found[1], textcoords="offset points", fontsize=7.4, ha="center",
                va="center", color=BLUE, zorder=3.5, bbox=box,
            )  # fmt: skip


def _steep(axis: Axes, x: Array, y: Array, i: int) -> bool:
    """Whether a line runs more up than across at one of its points, as it is drawn."""
    a, b = max(i - 1, 0), min(i + 1, x.size - 1)
    ends = axis.transData.transform([(x[a], y[a]), (x[b], y[b])])
    return bool(abs(ends[1, 1] - ends[0, 1]) > abs(ends[1, 0] - ends[0, 0]))
