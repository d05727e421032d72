"""The margin bars of all findings on one sheet, worst first."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from boostwright.findings.model import Finding, Sense, Verdict
from boostwright.findings.result import CheckResult
from boostwright.quantity import COVERAGE
from boostwright.views.bar import Bar, margin_bar
from boostwright.views.numbers import say_band
from boostwright.views.plots.style import GREY, INK, PAPER, RED, Sheet
from boostwright.views.words import headline, odds

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import LinearSegmentedColormap

__all__ = ["margins"]

NO_BREAK = "\u00a0"
_ROW = 0.78  # height of one finding [inch]
_COLUMN = 7.6  # width of one column of findings [inch]
_ONE_COLUMN = 9  # so many findings stand under one another before a second column is opened


def margins(result: CheckResult, foot: str) -> Sheet | None:
    """One bar a finding: the capacity as a band, the demand as a tick with its spread; None without
    findings. Many findings stand in two columns, the worst at the top of the left one.
    """
    from matplotlib.figure import Figure

    findings = result.findings
    if not findings:
        return None
    title = "How far apart: what is asked and what it stands"
    sentence = headline(findings, result.verdict) + (
        " Heavy tick: what is asked, with its spread. Dark band: where the limit lies, dense where it is"
        " likely. Hatched: beyond the limit."
    )
    columns = 1 if len(findings) <= _ONE_COLUMN else 2
    rows = -(-len(findings) // columns)
    width = columns * _COLUMN
    lines = textwrap.wrap(sentence, 116 * columns)
    top, bottom = 0.55, 0.42 + 0.165 * len(lines)
    height = top + bottom + _ROW * rows
    figure = Figure(figsize=(width, height))
    left = 0.02 / columns
    figure.text(left, 1 - 0.13 / height, title, fontsize=11.5, weight="bold", va="top")
    figure.text(left, (bottom - 0.1) / height, "\n".join(lines), fontsize=8.6, va="top", linespacing=1.3)
    figure.text(left, 0.09 / height, foot, fontsize=6.5, color=GREY, va="bottom")
    for i, finding in enumerate(findings):
        column, row = divmod(i, rows)
        place = _Place(column, columns, 1 - (top + _ROW * (row + 1)) / height, height)
        axis = figure.add_axes((place.x(0.30), place.y + 0.24 / height, 0.40 / columns, 0.26 / height))
        _one(axis, finding)
        _words(figure, finding, place)
    return Sheet("margins", title, sentence, figure)


class _Place(NamedTuple):
    """Where one finding stands on the sheet, in shares of its width and height."""

    column: int
    columns: int
    y: float  # lower edge of the row
    height: float  # of the sheet [inch]

    def x(self, share: float) -> float:
        """A share of the column as a share of the sheet."""
        return (self.column + share) / self.columns


def _words(figure: object, finding: Finding, place: _Place) -> None:
    x, height = place.x, place.height
    y = place.y + 0.37 / height
    colour = RED if finding.verdict is Verdict.BREAKS else INK
    text = figure.text  # type: ignore[attr-defined]
    _mark(figure, finding.verdict, y + 0.10 / height, place, colour)
    text(
        x(0.047),
        y + 0.10 / height,
        finding.verdict.value,
        fontsize=8.8,
        weight="bold",
        color=colour,
        va="center",
    )
    bar = margin_bar(finding)
    unit = f" [{bar.unit.replace(' ', NO_BREAK)}]" if bar is not None and bar.unit else ""
    subject = "\n".join(textwrap.wrap(finding.subject + unit, 33)[:2])
    text(x(0.02), y - 0.05 / height, subject, fontsize=8.2, va="top", linespacing=1.15)
    asked = say_band(finding.demand) if finding.demand else "not known"
    stands = say_band(finding.capacity) if finding.capacity else "not known"
    text(x(0.74), y + 0.13 / height, f"asked {asked}", fontsize=8.2, va="center")
    text(x(0.74), y - 0.02 / height, f"stands {stands}", fontsize=8.2, va="center")
    edited = ", limit edited" if finding.limit.edited else ""
    text(x(0.74), y - 0.17 / height, odds(finding.probability) + edited, fontsize=7.0, va="center", color=INK)


def _mark(figure: object, verdict: Verdict, y: float, place: _Place, colour: str) -> None:
    """The mark of a verdict, drawn: full square, half square, cross, dotted square."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Rectangle

    x, w, h = place.x(0.021), 0.11 / (_COLUMN * place.columns), 0.11 / place.height
    low = y - 0.5 * h
    add = figure.add_artist  # type: ignore[attr-defined]
    if verdict is Verdict.BREAKS:
        for ends in ((low, low + h), (low + h, low)):
            add(Line2D([x, x + w], list(ends), color=colour, linewidth=1.8))
        return
    dotted = (0, (1, 1)) if verdict is Verdict.UNKNOWN else "-"
    add(Rectangle((x, low), w, h, fill=False, edgecolor=colour, linewidth=1.0, linestyle=dotted))
    filled = {Verdict.HOLDS: w, Verdict.TIGHT: 0.5 * w}.get(verdict, 0.0)
    if filled:
        add(Rectangle((x, low), filled, h, facecolor=colour, edgecolor="none"))


def _one(axis: Axes, finding: Finding) -> None:
    axis.set_facecolor(PAPER)
    for side in ("left", "right", "top"):
        axis.spines[side].set_visible(False)
    axis.grid(visible=False)
    axis.set_yticks([])
    axis.set_ylim(0, 1)
    axis.tick_params(axis="x", labelsize=6.6, length=2, pad=1.5)
    bar = margin_bar(finding)
    if bar is None:
        axis.set_xticks([])
        axis.text(0.5, 0.45, "neither side is known yet", ha="center", va="center", fontsize=7.6, color=GREY,
                  transform=axis.transAxes)  # fmt: skip
        return
    axis.set_xlim(bar.low, bar.high)
    axis.locator_params(axis="x", nbins=5)
    if bar.capacity is not None:
        _capacity(axis, bar)
    if bar.demand is not None:
        value, sd = bar.demand
        axis.plot([value - COVERAGE * sd, value + COVERAGE * sd], [0.5, 0.5], color=INK, linewidth=1.0)
        for end in (value - COVERAGE * sd, value + COVERAGE * sd):
            axis.plot([end, end], [0.38, 0.62], color=INK, linewidth=0.8)
        axis.plot([value, value], [0.06, 0.98], color=INK, linewidth=2.6, solid_capstyle="butt")


def _capacity(axis: Axes, bar: Bar) -> None:
    assert bar.capacity is not None
    centre, sd = bar.capacity
    most = bar.sense is Sense.AT_MOST
    axis.axvspan(
        centre, bar.high if most else bar.low, facecolor="none", edgecolor=GREY, hatch="/////", linewidth=0.0
    )
    if sd == 0.0:
        axis.plot([centre, centre], [0, 1], color=INK, linewidth=1.4)
        return
    x = np.linspace(max(bar.low, centre - 3 * sd), min(bar.high, centre + 3 * sd), 160)
    dense = np.array([bar.likely(float(v)) for v in x])
    axis.imshow(
        dense[np.newaxis, :], extent=(float(x[0]), float(x[-1]), 0.12, 0.88), aspect="auto",
        cmap=_ink_map(), vmin=0.0, vmax=1.0, zorder=1.5, interpolation="bilinear",
    )  # fmt: skip
    axis.set_xlim(bar.low, bar.high)
    axis.set_ylim(0, 1)


def _ink_map() -> LinearSegmentedColormap:
    from matplotlib.colors import LinearSegmentedColormap

    return LinearSegmentedColormap.from_list("ink", [(0.42, 0.39, 0.35, 0.0), (0.42, 0.39, 0.35, 0.85)])
