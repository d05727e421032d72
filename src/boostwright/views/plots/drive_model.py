"""A drive beside the model: each quantity over engine speed with its band, and the breathing learned."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.expected import Compared, Expectation
from boostwright.drive.learned import BreathingMap, Learned
from boostwright.views.drive_words import PLOTTED
from boostwright.views.plots.style import BLUE, GREY, INK, RED, EndName, Sheet, name_ends, new_sheet

__all__ = ["model_sheets"]

Array = NDArray[np.float64]

_RPM: Final = math.pi / 30.0
_APART: Final = 3.0  # spreads of both from which a reading is marked
_LINES: Final = 4  # pressures of the breathing sheet


def model_sheets(expectation: Expectation | None, learned: Learned | None, foot: str) -> list[Sheet]:
    """One sheet for each quantity that was compared, and one of the breathing correction."""
    sheets = []
    groups: dict[str, list[Compared]] = {}
    for one in () if expectation is None else expectation.compared:
        groups.setdefault(one.key, []).append(one)
    sheets += [_beside(key, pulls, foot) for key, pulls in groups.items()]
    if learned is not None:
        sheets.append(_breathing(learned.breathing, foot))
    return sheets


def _beside(key: str, pulls: list[Compared], foot: str) -> Sheet:
    """All readings of one quantity less what was expected of them, in the quantity and in spreads."""
    first = pulls[0]
    unit, factor, offset = PLOTTED.get(first.dimension, ("", 1.0, 0.0))
    rpm = np.concatenate([p.speed for p in pulls]) / _RPM
    read = (np.concatenate([p.read for p in pulls]) - offset) / factor
    expected = (np.concatenate([p.expected for p in pulls]) - offset) / factor
    spread = np.concatenate([p.expected_sd for p in pulls]) / factor
    ratio = np.concatenate([p.ratio for p in pulls])
    apart = np.abs(ratio) > _APART
    sentence = (
        f"Readings of {len(pulls)} pulls, each beside what the model expects at its own condition. Above:"
        " the dots are readings, the pale bars reach two spreads to each side of what was expected. Below:"
        " how far a reading is off, in spreads of both; outside the lines at"
        f" {_APART:.0f} it is marked with a cross."
    )
    sheet, (upper, lower) = new_sheet(f"beside_{key}", first.words.capitalize(), sentence, foot, 2, 6.0)
    known = np.isfinite(expected) & np.isfinite(spread)
    upper.vlines(
        rpm[known], (expected - 2 * spread)[known], (expected + 2 * spread)[known], color=BLUE, alpha=0.22,
        linewidth=3.0,
    )  # fmt: skip
    upper.plot(rpm[known], expected[known], linestyle="none", marker="_", markersize=6, color=BLUE)
    upper.plot(rpm[~apart], read[~apart], linestyle="none", marker="o", markersize=2.6, color=INK)
    upper.plot(rpm[apart], read[apart], linestyle="none", marker="x", markersize=5.5, color=RED)
    upper.set_ylabel(f"{first.words}\n[{unit}]" if unit else first.words, fontsize=8)
    order = np.argsort(rpm)
    last = order[known[order]][-1] if known.any() else 0
    name_ends(
        upper,
        [EndName(float(expected[last]), "expected", BLUE), EndName(float(read[order[-1]]), "read", INK)],
    )
    lower.axhline(0.0, color=GREY, linewidth=0.8)
    for edge in (-_APART, _APART):
        lower.axhline(edge, color=RED, linewidth=0.8, linestyle=(0, (4, 2)))
    lower.plot(rpm[~apart], ratio[~apart], linestyle="none", marker="o", markersize=2.6, color=INK)
    lower.plot(rpm[apart], ratio[apart], linestyle="none", marker="x", markersize=5.5, color=RED)
    lower.set_ylabel("off, in spreads", fontsize=8)
    lower.set_xlabel("engine speed [rpm]")
    upper.tick_params(labelbottom=False)
    return sheet


def _breathing(chart: BreathingMap, foot: str) -> Sheet:
    """The factor over speed for a few pressures, full where readings stand, dashed where it is continued."""
    sentence = (
        "Factor on the charge that the model computes, over engine speed, for some manifold pressures. Full:"
        " readings of the drive stand near. Dashed: a smooth continuation of them. Pale: two spreads."
        " Grey dots: what single places of the drive said."
    )
    places = np.unique(np.linspace(0, chart.pressure.size - 1, _LINES).round().astype(int))
    sheet, axes = new_sheet(
        "breathing_learned", "Breathing, as the drive tells it", sentence, foot, places.size, 7.6
    )
    rpm = chart.speed / _RPM
    half = 0.5 * (chart.pressure[1] - chart.pressure[0]) * (chart.pressure.size - 1) / max(1, places.size - 1)
    for axis, j in zip(axes, places[::-1], strict=True):
        line, sd, covered = chart.factor[:, j], chart.sd[:, j], chart.covered[:, j]
        axis.fill_between(rpm, line - 2 * sd, line + 2 * sd, color=BLUE, alpha=0.15, linewidth=0)
        axis.plot(rpm, line, color=BLUE, linestyle=(0, (4, 2)), linewidth=1.1)
        axis.plot(rpm, np.where(covered, line, np.nan), color=BLUE, linewidth=2.0)
        near = np.abs(chart.seen_pressure - chart.pressure[j]) <= half
        axis.plot(
            chart.seen_speed[near] / _RPM, chart.seen_factor[near], linestyle="none", marker="o",
            markersize=2.4, color=GREY,
        )  # fmt: skip
        axis.axhline(1.0, color=GREY, linewidth=0.7)
        axis.set_ylim(min(0.75, float((line - 2.2 * sd).min())), max(1.25, float((line + 2.2 * sd).max())))
        name_ends(axis, [EndName(float(line[-1]), f"at {chart.pressure[j] / 1e3:.0f} kPa", BLUE)])
        axis.set_ylabel("factor", fontsize=8)
    for axis in axes[:-1]:
        axis.tick_params(labelbottom=False)
    axes[-1].set_xlabel("engine speed [rpm]")
    return sheet
