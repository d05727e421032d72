"""Ink on warm white paper: the style that all plots share."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = [
    "BLUE",
    "GREY",
    "INK",
    "PAPER",
    "RED",
    "WIDE",
    "EndName",
    "Sheet",
    "edge",
    "forbid",
    "mark_worst",
    "name_ends",
    "name_width",
    "new_sheet",
    "speed_axis",
    "whole_ticks",
]

PAPER = "#fbf7ee"
INK = "#23272b"
GREY = "#8c867a"
RULE = "#d8d1c1"
BLUE = "#1d4f91"  # marking blue: what can be touched
RED = "#b5361c"  # red lead: what can hurt

Array = NDArray[np.float64]
_WIDTH = 8.0  # of a sheet [inch]
_RIGHT = 0.755  # where the axes end and the names begin, as a share of the width
_PIECE = 36.0  # room for a leader and a short piece of the line before a name [point]
_LETTER = 4.75  # mean width of a letter of a name [point]
WIDE = "wide"  # the style of a pale wide line, on which another line still shows

RC: dict[str, Any] = {
    "font.family": ["DejaVu Sans"],
    "font.size": 9.0,
    "axes.facecolor": PAPER,
    "figure.facecolor": PAPER,
    "savefig.facecolor": PAPER,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.7,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "axes.axisbelow": True,
    "grid.color": RULE,
    "grid.linewidth": 0.5,
    "xtick.color": INK,
    "ytick.color": INK,
    "xtick.direction": "out",
    "ytick.direction": "out",
    "text.color": INK,
    "lines.linewidth": 1.5,
    "lines.solid_capstyle": "round",
    "hatch.color": GREY,
    "hatch.linewidth": 0.5,
    "svg.hashsalt": "boostwright",
    "svg.fonttype": "path",
    "path.simplify": False,
}


@dataclass(frozen=True, slots=True)
class Sheet:
    """One plot: file name without ending, what it shows in a sentence, and the figure."""

    name: str
    title: str
    sentence: str
    figure: Figure


def new_sheet(
    name: str,
    title: str,
    sentence: str,
    foot: str,
    rows: int = 1,
    height: float = 4.6,
    left: float = 0.115,
    head: float = 0.46,
    gap: float = 0.16,
) -> tuple[Sheet, list[Axes]]:
    """An empty sheet with a title above, `rows` axes over one another, a sentence and a foot line below.

    head: from the upper edge to the axes [inch]. gap: between two axes, in their heights.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(_WIDTH, height))
    lines = textwrap.wrap(sentence, 116)
    below = (0.62 + 0.165 * len(lines) + 0.36) / height
    above = 1.0 - head / height
    grid = figure.add_gridspec(rows, 1, left=left, right=_RIGHT, bottom=below, top=above, hspace=gap)
    axes: list[Axes] = []
    for row in range(rows):
        axes.append(figure.add_subplot(grid[row], sharex=axes[0] if axes else None))
    figure.text(0.02, 1.0 - 0.13 / height, title, fontsize=11.5, weight="bold", va="top")
    figure.text(
        0.02, (0.36 + 0.165 * len(lines)) / height, "\n".join(lines), fontsize=8.6, va="top", linespacing=1.3
    )
    figure.text(0.02, 0.09 / height, foot, fontsize=6.5, color=GREY, va="bottom")
    return Sheet(name, title, sentence, figure), axes


def speed_axis(axes: Sequence[Axes], rpm: Array) -> None:
    """The engine speed axis under the last of some axes over one another."""
    low, high = float(rpm[0]), float(rpm[-1])
    pad = 0.01 * (high - low)
    axes[-1].set_xlim(low - pad, high + pad)
    for axis in axes[:-1]:
        axis.tick_params(labelbottom=False)
    axes[-1].set_xlabel("engine speed [rpm]")


@dataclass(frozen=True, slots=True)
class EndName:
    """The name of a line, written at its right end."""

    y: float
    text: str
    colour: str = INK
    style: Any = None  # line style and marker of a short piece before the name
    marker: str = ""
    leader: bool = False  # tie the name to its line by a thin leader
    width: float = 1.5  # of the short piece of the line [point]
    x: float | None = None  # where the line ends inside the axes; None when it runs to their right edge


def name_width(piece: bool) -> int:
    """Letters that stand beside one another at the right end; piece: after a short piece of the line."""
    room = (1.0 - _RIGHT) * _WIDTH * 72.0 - (_PIECE if piece else 5.0) - 4.0
    return int(room / _LETTER)


def name_ends(axis: Axes, names: Sequence[EndName]) -> None:
    """Write names to the right of the axes at the heights of their lines, moved apart where they would
    touch. A name with a style has a thin leader and a short piece of its line before it.
    """
    known = sorted((n for n in names if math.isfinite(n.y)), key=lambda n: n.y)
    if not known:
        return
    low, high = axis.get_ylim()
    figure = axis.get_figure()
    assert figure is not None
    points = axis.get_position().height * figure.get_figheight() * 72.0  # type: ignore[union-attr]
    sizes = [(n.text.count("\n") + 1) * 11.0 / points for n in known]
    wanted = [(n.y - low) / (high - low) for n in known]
    places = _inside(_spread(wanted, sizes), sizes)
    for name, place, want in zip(known, places, wanted, strict=True):
        if name.x is not None:
            axis.annotate(
                "", (name.x, name.y), xytext=(1.0, place), textcoords="axes fraction", zorder=2.4,
                arrowprops={"arrowstyle": "-", "color": name.colour, "linewidth": 0.5},
            )  # fmt: skip
            want = place  # the leader has come to the edge at this height already
        want = min(1.0, max(0.0, want))  # no leader leaves the height of the axes
        start = _PIECE if name.style is not None else (14.0 if name.leader else 5.0)
        if start > 5.0:
            _tie(axis, name, place, want)
        axis.annotate(
            name.text, (1.0, place), xycoords="axes fraction", xytext=(start, 0), textcoords="offset points",
            va="center", ha="left", color=name.colour, fontsize=8.6, annotation_clip=False, linespacing=1.1,
        )  # fmt: skip


def _tie(axis: Axes, name: EndName, place: float, end: float) -> None:
    """A leader from the end of a line to its name, and a short piece of the line where it has a style."""
    from matplotlib.lines import Line2D

    figure = axis.get_figure()
    assert figure is not None
    width = axis.get_position().width * figure.get_figwidth() * 72.0  # type: ignore[union-attr]
    leader, begin, stop = 1.0 + 2.0 / width, 1.0 + 11.0 / width, 1.0 + 33.0 / width
    common: dict[str, Any] = {"transform": axis.transAxes, "clip_on": False, "color": name.colour}
    axis.add_artist(Line2D([leader, begin - 1.0 / width], [end, place], linewidth=0.5, **common))
    if name.style is None:
        return
    if name.style == WIDE:
        common["color"] = GREY
        axis.add_artist(
            Line2D([begin, stop], [place] * 2, linewidth=4.5, alpha=0.45, solid_capstyle="butt", **common)
        )
        return
    axis.add_artist(
        Line2D([begin, 0.5 * (begin + stop), stop], [place] * 3, linestyle=name.style, marker=name.marker,
               markevery=[1], markersize=4.5, markerfacecolor=PAPER, linewidth=name.width, **common)
    )  # fmt: skip


def _spread(wanted: Sequence[float], sizes: Sequence[float]) -> list[float]:
    """Heights as near as possible to those wanted (ascending), no two labels overlapping (pool adjacent
    ones).
    """
    groups: list[tuple[list[int], float]] = []  # members, centre
    for i, want in enumerate(wanted):
        members, centre = [i], want
        while groups and _bottom(members, centre, sizes) < _top(*groups[-1], sizes):
            before, _ = groups.pop()
            members = before + members
            total = sum(sizes[m] for m in members)
            offset, centres = 0.0, []
            for m in members:
                centres.append(wanted[m] - (offset + 0.5 * sizes[m] - 0.5 * total))
                offset += sizes[m]
            centre = sum(centres) / len(centres)
        groups.append((members, centre))
    places = [0.0] * len(wanted)
    for members, centre in groups:
        bottom = _bottom(members, centre, sizes)
        for m in members:
            places[m] = bottom + 0.5 * sizes[m]
            bottom += sizes[m]
    return places


def _inside(places: Sequence[float], sizes: Sequence[float]) -> list[float]:
    """The same heights, pushed off the upper and the lower edge of the axes where they would run past it."""
    moved = list(places)
    floor = -0.02
    for i, size in enumerate(sizes):
        moved[i] = max(moved[i], floor + 0.5 * size)
        floor = moved[i] + 0.5 * size
    ceiling = 1.04
    for i in range(len(sizes) - 1, -1, -1):
        moved[i] = min(moved[i], ceiling - 0.5 * sizes[i])
        ceiling = moved[i] - 0.5 * sizes[i]
    return moved


def _bottom(members: Sequence[int], centre: float, sizes: Sequence[float]) -> float:
    return centre - 0.5 * sum(sizes[m] for m in members)


def _top(members: Sequence[int], centre: float, sizes: Sequence[float]) -> float:
    return centre + 0.5 * sum(sizes[m] for m in members)


def forbid(axis: Axes, x: Array, edge: Array, above: bool, edge_line: bool = True) -> None:
    """Hatch the ground above (or below) an edge, as a section in a drawing; drawn to the end of the axes."""
    low, high = axis.get_ylim()
    good = np.isfinite(edge)
    if not good.any():
        return
    axis.fill_between(
        x, edge, high if above else low, where=list(good), facecolor="none", edgecolor=GREY, hatch="////",
        linewidth=0.0, zorder=0.5,
    )  # fmt: skip
    if edge_line:
        axis.plot(x, edge, color=GREY, linewidth=0.8)
    axis.set_ylim(low, high)


def edge(axis: Axes, value: float) -> None:
    """A limit as an edge of a section: a line across, hatched on its far side. Its name belongs with the
    names of the lines, at the right end, where it covers no curve.
    """
    low, high = axis.get_ylim()
    left, right = axis.get_xlim()
    strip = value + 0.022 * (high - low)
    axis.fill_between(
        [left, right],
        value,
        strip,
        facecolor="none",
        edgecolor=GREY,
        hatch="/////",
        linewidth=0.0,
        zorder=0.6,
    )
    axis.plot([left, right], [value, value], color=GREY, linewidth=0.8, zorder=0.7)
    axis.set_xlim(left, right)
    axis.set_ylim(low, high)


def whole_ticks(axis: Axes) -> None:
    """Only whole numbers up the side."""
    from matplotlib.ticker import MaxNLocator

    axis.yaxis.set_major_locator(MaxNLocator(nbins=6, integer=True))


def mark_worst(axis: Axes, x: float, y: float, text: str = "", colour: str = RED) -> None:
    """A ring round the worst point and, when given, a few words beside it."""
    axis.plot([x], [y], marker="o", markersize=8, markerfacecolor="none", markeredgecolor=colour,
    markeredgewidth=1.4,
              linestyle="none", zorder=5, clip_on=False)  # fmt: skip
    if text:
        low, high = axis.get_xlim()
        right = x < 0.5 * (low + high)
        axis.annotate(
            text, (x, y), xytext=(9 if right else -9, 9), textcoords="offset points", ha="left" if right
            else "right", fontsize=8.2, color=colour, bbox={"facecolor": PAPER, "edgecolor": "none", "pad":
            1.0, "alpha": 0.85},
        )  # fmt: skip
