"""The margin bars of all findings, worst first, on as many pages as they need."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from boostwright.findings.model import Finding, Sense, Verdict
from boostwright.findings.result import CheckResult
from boostwright.quantity import COVERAGE
from boostwright.views.bar import Bar, margin_bar
from boostwright.views.numbers import say_band
from boostwright.views.plots.style import GREY, INK, RED, Sheet
from boostwright.views.words import chance_of_whole, headline, odds_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["margins"]

_STRIPS = 36  # of different tone across a band
NO_BREAK = "\u00a0"
_ROW = 0.68  # height of one finding [inch]
_WIDTH = 8.0  # of a page [inch]
_ROWS = 14  # findings on one page, so that it prints on a sheet of A4 at its own size
_LEGEND = (
    " Heavy tick: what is asked, with its spread. Dark band: where the limit lies, dense where it is likely."
    " Hatched: beyond the limit."
)


def margins(result: CheckResult, foot: str) -> tuple[Sheet, ...]:
    """One bar a finding: the capacity as a band, the demand as a tick with its spread; nothing without
    findings. Many findings stand on several pages, the worst on the first.
    """
    findings = result.findings
    pages = -(-len(findings) // _ROWS)
    sentence = headline(findings, result.verdict, chance_of_whole(result)) + _LEGEND if findings else ""
    return tuple(
        _page(findings[_ROWS * page : _ROWS * (page + 1)], page, pages, sentence, foot)
        for page in range(pages)
    )


def _page(findings: Sequence[Finding], page: int, pages: int, sentence: str, foot: str) -> Sheet:
    """One page of findings."""
    from matplotlib.figure import Figure

    title = "How far apart: what is asked and what it stands"
    if pages > 1:
        title += f" ({page + 1} of {pages})"
    lines = textwrap.wrap(sentence if page == 0 else _LEGEND.strip(), 116)
    top, bottom = 0.50, 0.42 + 0.165 * len(lines)
    height = top + bottom + _ROW * len(findings)
    figure = Figure(figsize=(_WIDTH, height))
    figure.text(0.02, 1 - 0.13 / height, title, fontsize=11.5, weight="bold", va="top")
    figure.text(0.02, (bottom - 0.1) / height, "\n".join(lines), fontsize=8.6, va="top", linespacing=1.3)
    figure.text(0.02, 0.09 / height, foot, fontsize=6.5, color=GREY, va="bottom")
    # one axes in inches for all bars: an axes for each would take most of the time of the plot
    axis = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axis.set_axis_off()
    axis.set_xlim(0.0, _WIDTH)
    axis.set_ylim(0.0, height)
    ink = _Ink()
    for row, finding in enumerate(findings):
        low = height - (top + _ROW * (row + 1))
        _one(axis, ink, finding, _Spot(_BAR[0] * _WIDTH, low + 0.22, (_BAR[1] - _BAR[0]) * _WIDTH, 0.26))
        _words(figure, finding, low, height)
    ink.put(axis)
    name = "margins" if page == 0 else f"margins_{page + 1}"
    return Sheet(name, title, sentence if page == 0 else _LEGEND.strip(), figure)


_BAR = (0.275, 0.665)  # where bars begin and end, as shares of the width
_FIGURES = 0.685  # where the figures begin


def _words(figure: Figure, finding: Finding, low: float, height: float) -> None:
    """The words on both sides of a bar whose row begins at a height [inch] of a page."""
    y = (low + 0.35) / height
    colour = RED if finding.verdict is Verdict.BREAKS else INK
    _mark(figure, finding.verdict, y + 0.10 / height, height, colour)
    figure.text(
        0.045,
        y + 0.10 / height,
        finding.verdict.value,
        fontsize=8.8,
        weight="bold",
        color=colour,
        va="center",
    )
    bar = margin_bar(finding)
    unit = f" [{bar.unit.replace(' ', NO_BREAK)}]" if bar is not None and bar.unit else ""
    subject = "\n".join(textwrap.wrap(finding.subject + unit, 29)[:2])
    figure.text(0.02, y - 0.03 / height, subject, fontsize=8.2, va="top", linespacing=1.15)
    asked = say_band(finding.demand) if finding.demand else "not known"
    stands = say_band(finding.capacity) if finding.capacity else "not known"
    figure.text(_FIGURES, y + 0.11 / height, f"asked {asked}", fontsize=8.2, va="center")
    figure.text(_FIGURES, y - 0.04 / height, f"stands {stands}", fontsize=8.2, va="center")
    edited = ", limit edited" if finding.limit.edited else ""
    said = odds_of(finding) + edited
    figure.text(_FIGURES, y - 0.18 / height, said, fontsize=7.0, va="center", color=INK)


def _mark(figure: Figure, verdict: Verdict, y: float, height: float, colour: str) -> None:
    """The mark of a verdict, drawn: full square, half square, cross, dotted square."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Rectangle

    x, w, h = 0.021, 0.11 / _WIDTH, 0.11 / height
    low = y - 0.5 * h
    add = figure.add_artist
    if verdict is Verdict.BREAKS:
        for ends in ((low, low + h), (low + h, low)):
            add(Line2D([x, x + w], list(ends), color=colour, linewidth=1.8))
        return
    dotted = (0, (1, 1)) if verdict is Verdict.UNKNOWN else "-"
    add(Rectangle((x, low), w, h, fill=False, edgecolor=colour, linewidth=1.0, linestyle=dotted))
    filled = {Verdict.HOLDS: w, Verdict.TIGHT: 0.5 * w}.get(verdict, 0.0)
    if filled:
        add(Rectangle((x, low), filled, h, facecolor=colour, edgecolor="none"))


class _Spot(NamedTuple):
    """Where a bar stands on the sheet [inch]."""

    left: float
    bottom: float
    width: float
    height: float

    def x(self, bar: Bar, value: float) -> float:
        """Place of a value along the bar, kept inside it."""
        return self.left + self.width * bar.place(value)

    def y(self, share: float) -> float:
        """A height within the bar."""
        return self.bottom + self.height * share


class _Ink:
    """Lines, hatched ground and bands of all bars, gathered so that each kind is drawn in one go."""

    def __init__(self) -> None:
        self.lines: dict[float, list[list[tuple[float, float]]]] = {}
        self.hatched: list[list[tuple[float, float]]] = []
        self.strips: list[list[tuple[float, float]]] = []
        self.dense: list[float] = []

    def line(self, width: float, a: tuple[float, float], b: tuple[float, float]) -> None:
        """A straight line of a width in points."""
        self.lines.setdefault(width, []).append([a, b])

    def put(self, axis: Axes) -> None:
        """Draw all of it."""
        from matplotlib.collections import LineCollection, PolyCollection

        axis.add_collection(
            PolyCollection(
                self.hatched, facecolor="none", edgecolor=GREY, hatch="/////", linewidth=0.0, zorder=1.0
            )
        )
        tones = np.array([(0.42, 0.39, 0.35, 0.85 * d) for d in self.dense]).reshape(-1, 4)
        axis.add_collection(
            PolyCollection(self.strips, facecolors=tones, linewidth=0.0, antialiased=False, zorder=1.5)
        )
        for width, lines in self.lines.items():
            axis.add_collection(
                LineCollection(lines, colors=INK, linewidths=width, capstyle="butt", zorder=2.0)
            )


def _one(axis: Axes, ink: _Ink, finding: Finding, spot: _Spot) -> None:
    """One bar with its scale."""
    ink.line(0.7, (spot.left, spot.bottom), (spot.left + spot.width, spot.bottom))
    bar = margin_bar(finding)
    if bar is None:
        axis.text(spot.left + 0.5 * spot.width, spot.y(0.45), "neither side is known yet", ha="center",
                  va="center", fontsize=7.6, color=GREY)  # fmt: skip
        return
    _scale(axis, ink, bar, spot)
    if bar.capacity is not None:
        _capacity(ink, bar, spot)
    if bar.demand is not None:
        value, sd = bar.demand
        x, low, high = (spot.x(bar, v) for v in (value, value - COVERAGE * sd, value + COVERAGE * sd))
        ink.line(1.0, (low, spot.y(0.5)), (high, spot.y(0.5)))
        for end in (low, high):
            ink.line(0.8, (end, spot.y(0.38)), (end, spot.y(0.62)))
        ink.line(2.6, (x, spot.y(0.06)), (x, spot.y(0.98)))


def _scale(axis: Axes, ink: _Ink, bar: Bar, spot: _Spot) -> None:
    """Ticks with their numbers under the bar."""
    from matplotlib.ticker import MaxNLocator

    ticks = MaxNLocator(nbins=5, steps=[1, 2, 2.5, 5, 10]).tick_values(bar.low, bar.high)
    step = float(ticks[1] - ticks[0])
    digits = max(0, -math.floor(math.log10(step) + 1e-9))
    if abs(step * 10.0**digits - round(step * 10.0**digits)) > 1e-6:
        digits += 1  # steps of 2.5
    for value in (float(v) for v in ticks if bar.low - 1e-9 <= v <= bar.high + 1e-9):
        x = spot.x(bar, value)
        ink.line(0.7, (x, spot.bottom - 0.03), (x, spot.bottom))
        words = f"{value:.{digits}f}".replace("-", "\u2212")
        axis.text(x, spot.bottom - 0.045, words, fontsize=6.6, ha="center", va="top")


def _capacity(ink: _Ink, bar: Bar, spot: _Spot) -> None:
    """The limit as a band that is dense where it is likely, hatched beyond it."""
    assert bar.capacity is not None
    centre, sd = bar.capacity
    beyond = bar.high if bar.sense is Sense.AT_MOST else bar.low
    ink.hatched.append(_box(spot.x(bar, centre), spot.x(bar, beyond), spot.y(0.0), spot.y(1.0)))
    if sd == 0.0:
        x = spot.x(bar, centre)
        ink.line(1.4, (x, spot.bottom), (x, spot.y(1.0)))
        return
    edges = np.linspace(max(bar.low, centre - 3 * sd), min(bar.high, centre + 3 * sd), _STRIPS + 1)
    for low, high in pairwise(edges):
        ink.strips.append(_box(spot.x(bar, float(low)), spot.x(bar, float(high)), spot.y(0.12), spot.y(0.88)))
        ink.dense.append(bar.likely(0.5 * float(low + high)))


def _box(left: float, right: float, bottom: float, top: float) -> list[tuple[float, float]]:
    return [(left, bottom), (right, bottom), (right, top), (left, top)]
