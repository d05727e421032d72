"""The starting calibration in lines: over pressure at a few speeds, charge as contours, boost over speed."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from boostwright.calibration.beside import Beside
from boostwright.calibration.records import Calibration, Setting, Table
from boostwright.quantity import COVERAGE, PressureKind
from boostwright.views.plots.style import (
    BLUE,
    GREY,
    INK,
    PAPER,
    RED,
    EndName,
    Sheet,
    forbid,
    name_ends,
    new_sheet,
    speed_axis,
)
from boostwright.views.table_words import (
    Edge,
    axis_face,
    axis_texts,
    edges_of,
    said,
    table_face,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["boost_sheet", "calibration_sheets", "charge_sheet", "draw_calibration", "pressure_sheet"]

Array = NDArray[np.float64]

_PANELS: Final = 4  # speeds for which a table is drawn over pressure
_GRID: Final = ("engine_speed", "manifold_pressure")
_CHARGE: Final = ("volumetric_efficiency", "cylinder_air")
_HATCHED: Final = " Hatched: above what knock or the parts leave on the worst day, their spread not counted."
_LEVELS: Final = 13  # contour lines, about
_FAINT: Final = 3.0  # of a hundred cells, whose low values make no lines of their own
_ROOM: Final = 0.35  # of the range of the values that bands and limits may reach beyond them


def draw_calibration(
    calibration: Calibration,
    folder: Path,
    version: str,
    stamp: str,
    beside: Beside | None = None,
    progress: Callable[[str], None] = lambda _: None,
) -> tuple[Path, ...]:
    """Draw every plot of the calibration into a folder as SVG and PNG; returns the paths. Raises OSError.

    stamp: version and fingerprint, for the foot of each page. beside: MBT and ceilings, where they are known.
    """
    import matplotlib as mpl

    from boostwright.views.plots.book import save_sheet
    from boostwright.views.plots.style import RC

    written: list[Path] = []
    foot = f"{stamp} · {calibration.name}"
    with mpl.rc_context(RC):  # type: ignore[arg-type]  # its keys are a list of words in the stubs
        for name, make in calibration_sheets(calibration, foot, beside):
            progress(f"plotting {name.replace('_', ' ')}")
            sheet = make()
            written += [path for path, _ in save_sheet(sheet, folder, version)]
    return tuple(written)


def calibration_sheets(
    calibration: Calibration, foot: str, beside: Beside | None = None
) -> tuple[tuple[str, Callable[[], Sheet]], ...]:
    """Name and maker of each page that the tables of a calibration allow."""
    made: list[tuple[str, Callable[[], Sheet]]] = []
    for table in calibration.tables:
        if np.isfinite(table.value).sum() < 2:
            continue
        if tuple(axis.key for axis in table.axes) == _GRID:
            page = charge_sheet if table.key in _CHARGE else pressure_sheet
        elif table.key == "boost_target":
            page = boost_sheet
        else:
            continue
        made.append((table.key, partial(page, table, calibration, foot, beside)))
    return tuple(made)


def _caution(calibration: Calibration) -> str:
    return calibration.cautions[0] if calibration.cautions else ""


# ------------------------------------------------------------------------------------ over pressure, by speed


def pressure_sheet(table: Table, calibration: Calibration, foot: str, beside: Beside | None = None) -> Sheet:
    """A table over pressure at a few speeds: value with band, limits hatched, full marks where visited."""
    rows = _rows(table)
    face = table_face(table)
    unit = f" [{face.name}]" if face.name and face.name != "lambda" else ""
    spark = table.key == "spark"
    grey = (
        "how unsure the number is (19 of 20 cases); it is no leave to advance"
        if spark
        else ("where it truly belongs in 19 of 20 cases")
    )
    best = " MBT: the spark of most torque, were there no knock." if spark else ""
    sentence = (
        f"{table.words[0].upper()}{table.words[1:]} over manifold pressure, at {len(rows)} of"
        f" {table.axes[0].values.size} speeds. Grey: {grey}.{best} Full marks: visited by the predicted"
        " trajectory; open marks: not visited. Hatched: beyond a limit. "
        f"{_caution(calibration)}"
    )
    sheet, axes = new_sheet(
        f"table_{table.key}", f"{_short(table)}: {calibration.name}", sentence, foot, len(rows),
        1.8 + 1.75 * len(rows), head=0.66, gap=0.24,
    )  # fmt: skip
    mbt = beside.mbt if beside is not None and table.key == "spark" else None
    x = axis_face(table.axes[1]).shown(table.axes[1].values)
    limits = _height(table, rows)
    for axis, row in zip(axes, rows, strict=True):
        axis.set_ylim(*limits)
        axis.set_xlim(x[0] - 0.01 * np.ptp(x), x[-1] + 0.01 * np.ptp(x))
        _panel(axis, table, row, x, None if mbt is None else mbt[row])
        speed = f"{axis_texts(table.axes[0])[row]} {axis_face(table.axes[0]).name}"
        axis.set_title(speed, fontsize=9.0, loc="left", pad=2.5, weight="bold")
        before = " before TDC" if spark else ""
        axis.set_ylabel(f"{_short(table)}\n{unit.strip()}{before}".strip())
    for axis in axes[:-1]:
        axis.tick_params(labelbottom=False)
    axes[-1].set_xlabel(f"manifold pressure [{axis_face(table.axes[1]).name}]")
    return sheet


def _short(table: Table) -> str:
    return table.key.replace("_", " ")


def _rows(table: Table) -> list[int]:
    """A few speeds from the lowest that is driven on to the highest, each with numbers."""
    good = np.flatnonzero(np.isfinite(table.value).any(axis=1))
    driven = good[table.visited[good].any(axis=1)]
    good = driven if driven.size else good
    first = 1 if good.size > _PANELS else 0  # idle speed is no place for boost
    wanted = np.linspace(first, good.size - 1, min(_PANELS, good.size))
    return [int(good[round(float(k))]) for k in wanted]


def _height(table: Table, rows: list[int]) -> tuple[float, float]:
    """The same height for all panels: values, limits that lie near, and their bands as far as they leave the
    values room.
    """
    face = table_face(table)
    band = COVERAGE * table.sd[rows] / face.size
    value = face.shown(table.value[rows])
    low, high = float(np.nanmin(value)), float(np.nanmax(value))
    span = max(high - low, COVERAGE * float(np.nanmedian(table.sd[rows])) / face.size, 1e-9)
    ends = [max(float(np.nanmin(value - band)), low - _ROOM * span)]
    ends.append(min(float(np.nanmax(value + band)), high + _ROOM * span))
    for edge in edges_of(table):  # a limit far from every value would flatten the rest
        near = face.shown(edge.value[rows])
        ends += near[(near > low - _ROOM * span) & (near < high + _ROOM * span)].tolist()
    return min(ends) - 0.08 * span, max(ends) + 0.1 * span


def _panel(axis: Axes, table: Table, row: int, x: Array, mbt: Array | None) -> None:
    face = table_face(table)
    value = face.shown(table.value[row])
    band = COVERAGE * table.sd[row] / face.size
    names = []
    for edge in edges_of(table):
        end = _edge(axis, x, face.shown(edge.value[row]), edge)
        if end is not None:
            names.append(end)
    axis.fill_between(x, value - band, value + band, color=GREY, alpha=0.28, linewidth=0.0, zorder=1.0)
    for side in (value - band, value + band):
        axis.plot(x, side, color=GREY, linewidth=0.6, zorder=1.5)
    axis.plot(x, value, color=INK, linewidth=1.7, zorder=3.0)
    visited = table.visited[row]
    for where, fill in ((visited, INK), (~visited, PAPER)):
        axis.plot(
            x[where], value[where], linestyle="none", marker="o", markersize=3.8, markerfacecolor=fill,
            markeredgecolor=INK, markeredgewidth=0.8, zorder=3.5,
        )  # fmt: skip
    if mbt is not None and np.isfinite(mbt).any():
        best = face.shown(mbt)
        axis.plot(x, best, color=INK, linewidth=0.9, linestyle=(0, (4, 2)), zorder=2.8)
        names.append(EndName(_last(best), "MBT", INK))
    last = np.flatnonzero(np.isfinite(value))[-1]
    names.append(EndName(float(value[last]), "in the table", INK))
    name_ends(axis, names)


def _edge(axis: Axes, x: Array, edge: Array, limit: Edge) -> EndName | None:
    """Hatch what lies beyond a limit; its name for the right end, where it ends inside the axes."""
    low, high = axis.get_ylim()
    inside = np.isfinite(edge) & (edge > low) & (edge < high)
    if not inside.any():
        return None
    drawn = np.where(np.isfinite(edge), np.clip(edge, low, high), np.nan)
    forbid(axis, x, drawn, above=limit.most, edge_line=False)
    axis.plot(x, np.where(inside, edge, np.nan), color=RED, linewidth=1.1, zorder=2.0)
    at = int(np.flatnonzero(inside)[-1])
    inward = float(x[at]) if at < x.size - 1 else None
    nudge = 1e-6 * (high - low) * (1.0 if limit.most else -1.0)  # which name is the upper one at one height
    return EndName(float(edge[at]) + nudge, _wrapped(limit.why), RED, leader=inward is not None, x=inward)


def _wrapped(text: str, width: int = 26, most: int = 3) -> str:
    """A reason in a few short lines, cut at a word."""
    import textwrap

    lines = textwrap.wrap(text, width)
    if len(lines) > most:
        lines = [*lines[: most - 1], textwrap.shorten(" ".join(lines[most - 1 :]), width, placeholder=" ...")]
    return "\n".join(lines)


# ------------------------------------------------------------------------------------------------- charge


def charge_sheet(table: Table, calibration: Calibration, foot: str, _: Beside | None = None) -> Sheet:
    """The charge as contour lines over speed and pressure, with the predicted trajectory over them."""
    from matplotlib.ticker import MaxNLocator

    down, across = table.axes
    face = table_face(table)
    spread = COVERAGE * float(np.nanmedian(table.sd)) / face.size
    unit = f" {face.name}" if face.name else ""
    sentence = (
        f"Lines of equal {table.words}{f' [{face.name}]' if face.name else ''}, sure to about"
        f" ± {spread:.2g}{unit}. Hatched: cells that the predicted trajectory does not visit. "
        f"{_caution(calibration)}"
    )
    sheet, (axis,) = new_sheet(
        f"table_{table.key}", f"{_short(table)}: {calibration.name}", sentence, foot, 1, 6.2
    )
    x, y = axis_face(down).shown(down.values), axis_face(across).shown(across.values)
    value = np.ma.masked_invalid(face.shown(table.value)).T
    axis.grid(visible=False)
    axis.set_ylim(float(y[0]), float(y[-1]))
    unvisited = (~table.visited).astype(float).T
    if unvisited.any():
        axis.contourf(x, y, unvisited, levels=[0.5, 1.5], colors="none", hatches=["////"], zorder=0.5)
        axis.contour(x, y, unvisited, levels=[0.5], colors=[GREY], linewidths=0.7, zorder=0.8)
    known = value.compressed()
    levels = MaxNLocator(_LEVELS).tick_values(float(np.percentile(known, _FAINT)), float(known.max()))
    decimals = max(0, -math.floor(math.log10(float(np.diff(levels).min())) + 1e-9))
    lines = axis.contour(x, y, value, levels=levels, colors=[INK], linewidths=1.1, zorder=2.0)
    labels = axis.clabel(lines, fontsize=8.0, inline=True, inline_spacing=4, fmt=f"%.{decimals}f")
    for label in labels:
        label.set_bbox({"facecolor": PAPER, "edgecolor": "none", "pad": 0.8})
        label.set_zorder(4.0)
        at_x, at_y = label.get_position()
        inside = 0.03 * np.ptp(x) < at_x - x[0] < 0.97 * np.ptp(x)
        label.set_visible(bool(inside and 0.03 * np.ptp(y) < at_y - y[0] < 0.97 * np.ptp(y)))
    names = _trajectory(axis, calibration)
    speed_axis([axis], x)
    axis.set_ylabel(f"manifold pressure [{axis_face(across).name}]")
    name_ends(axis, names)
    return sheet


def _trajectory(axis: Axes, calibration: Calibration) -> list[EndName]:
    """Full throttle over the contours, where the calibration has a target on the same scale; and the cut."""
    names = []
    target = next((t for t in calibration.tables if t.key == "boost_target"), None)
    if target is not None and target.pressure is PressureKind.ABSOLUTE:
        x = axis_face(target.axes[0]).shown(target.axes[0].values)
        y = table_face(target).shown(target.value)
        axis.plot(x, y, color=BLUE, linewidth=2.2, zorder=3.0)
        good = np.flatnonzero(np.isfinite(y))
        if good.size:
            names.append(EndName(float(y[good[-1]]), "throttle open", BLUE))
    cut = _cut(calibration)
    if cut is not None and cut.pressure is PressureKind.ABSOLUTE:
        level = cut.value / 1e3
        axis.axhline(level, color=RED, linewidth=1.1, linestyle=(0, (6, 3)), zorder=2.5)
        names.append(EndName(level, "boost cut", RED))
    return names


def _cut(calibration: Calibration) -> Setting | None:
    found = next((s for s in calibration.settings if s.key == "boost_cut"), None)
    return found if found is not None and np.isfinite(found.value) else None


# -------------------------------------------------------------------------------------------------- boost


def boost_sheet(table: Table, calibration: Calibration, foot: str, beside: Beside | None = None) -> Sheet:
    """Boost target over speed with its band, the cut, and the lower of what knock and strength allow."""
    face = table_face(table)
    x = axis_face(table.axes[0]).shown(table.axes[0].values)
    value = face.shown(table.value)
    band = COVERAGE * table.sd / face.size
    cut = _cut(calibration)
    ceilings = _ceilings(table, beside, x)
    duty = next((t for t in calibration.tables if t.key in ("gate_duty", "gate_signal_share")), None)
    two = duty is not None and np.isfinite(duty.value).sum() > 1
    sentence = (
        f"{table.words[0].upper()}{table.words[1:]}; grey where it lies in 19 of 20 cases."
        + (f" The cut stands at {said(cut.value, cut.sd, cut.dimension, cut.pressure)}." if cut else "")
        + (
            " Hatched: above what knock or the parts leave on the worst day, their spread not counted."
            if ceilings
            else ""
        )
        + (" Below: a first guess for the valve." if two else "")
        + f" {_caution(calibration)}"
    )
    sheet, axes = new_sheet(
        "table_boost", f"boost: {calibration.name}", sentence, foot, 2 if two else 1, 7.6 if two else 5.2
    )
    axis, names = axes[0], [EndName(_last(value), "target", BLUE)]
    level = float(face.shown(np.array([cut.value]))[0]) if cut and cut.pressure is table.pressure else None
    tops = [float(np.nanmax(value + band)), *([level] if level is not None else [])]
    low = float(np.nanmin(value - band))
    span = max(tops) - low
    reach = max(tops) + 1.2 * span  # a ceiling far above would flatten the rest
    tops += [float(v) for line in ceilings.values() for v in line if v < reach]
    axis.set_ylim(low - 0.06 * span, max(tops) + 0.1 * span)
    axis.set_xlim(float(x[0]), float(x[-1]))
    lowest = np.full(x.shape, np.inf)
    for k, (words, line) in enumerate(ceilings.items()):
        lowest = np.fmin(lowest, line)
        axis.plot(x, line, color=RED, linewidth=1.2, linestyle=("-", (0, (1, 1.5)))[k % 2], zorder=2.0)
        inside = np.flatnonzero(line < axis.get_ylim()[1])
        if inside.size:
            at = int(inside[-1])
            inward = float(x[at]) if at < x.size - 1 else None
            names.append(EndName(float(line[at]), words, RED, leader=inward is not None, x=inward))
    if ceilings:
        top = axis.get_ylim()[1]
        forbid(axis, x, np.where(np.isfinite(lowest), np.minimum(lowest, top), np.nan), True, edge_line=False)
    axis.fill_between(x, value - band, value + band, color=GREY, alpha=0.28, linewidth=0.0)
    axis.plot(x, value, color=BLUE, linewidth=2.0, marker="o", markersize=3.5, zorder=3.0)
    if level is not None:
        axis.axhline(level, color=INK, linewidth=1.3, linestyle=(0, (6, 3)))
        names.append(EndName(level, "boost cut", INK))
    axis.set_ylabel(f"manifold pressure\n[{face.name}]")
    name_ends(axis, names)
    if two and duty is not None:
        _duty(axes[1], duty)
    speed_axis(axes, x)
    return sheet


def _ceilings(table: Table, beside: Beside | None, x: Array) -> dict[str, Array]:
    """What the boost may not pass over the speeds of the table, by its name, in the table's unit."""
    face = table_face(table)
    found = {_wrapped(e.why): face.shown(e.value) for e in edges_of(table) if np.isfinite(e.value).any()}
    if beside is None or beside.ceilings is None or table.pressure is not PressureKind.ABSOLUTE:
        return found
    speed = axis_face(table.axes[0]).shown(beside.ceilings.speed)
    for words, line in (("knock, worst day", beside.ceilings.knock), ("parts", beside.ceilings.strength)):
        known = np.isfinite(line)
        if known.any():
            shown = face.shown(line[known])
            found[words] = np.interp(x, speed[known], shown, left=np.nan, right=np.nan)
    return found


def _duty(axis: Axes, duty: Table) -> None:
    x = axis_face(duty.axes[0]).shown(duty.axes[0].values)
    face = table_face(duty)
    value, band = face.shown(duty.value), COVERAGE * duty.sd / face.size
    axis.fill_between(x, value - band, value + band, color=GREY, alpha=0.28, linewidth=0.0)
    axis.plot(x, value, color=INK, linewidth=1.7, marker="o", markersize=3.5)
    axis.set_ylim(0.0, 1.05 * float(np.nanmax(value + band)))
    axis.set_ylabel(f"{_short(duty)}\n[{face.name or '-'}]")
    name_ends(axis, [EndName(_last(value), _wrapped(duty.words), INK)])


def _last(value: Array) -> float:
    good = value[np.isfinite(value)]
    return float(good[-1]) if good.size else float("nan")
