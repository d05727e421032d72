"""What was read before the conversion, beside the engine as the class has it and as it was fitted."""

from __future__ import annotations

import math

import numpy as np

from boostwright.fitting.record import Fit
from boostwright.views.plots.style import (
    BLUE,
    GREY,
    INK,
    PAPER,
    EndName,
    Sheet,
    name_ends,
    new_sheet,
    speed_axis,
)

__all__ = ["fit_sheet"]

_RPM = math.pi / 30.0
_SHOWN = {
    "N m": (1.0, 0.0, "torque [N m]"),
    "kg/s": (1e3, 0.0, "air flow [g/s]"),
    "kg": (1e6, 0.0, "fuel of one\nopening [mg]"),
    "rad": (-180.0 / math.pi, 0.0, "spark before\ntop dead centre [deg]"),
    "K": (1.0, -273.15, "gas temperature [degC]"),
}


def fit_sheet(fit: Fit, foot: str) -> Sheet:
    """One pair of axes for each row of readings: points with their spread, grey class, blue fitted."""
    rows = len(fit.lines)
    sentence = " ".join(fit.words[:2]) + " Bars: two spreads of each reading, what all share included."
    sheet, axes = new_sheet(
        "fit", "The engine before the turbo: read and computed", sentence, foot, rows, 2.2 + 2.6 * rows
    )
    for axis, line in zip(axes, fit.lines, strict=True):
        factor, offset, words = _SHOWN.get(line.unit, (1.0, 0.0, f"{line.what} [{line.unit}]"))
        rpm = line.speed / _RPM
        read, before, after = (factor * a + offset for a in (line.read, line.before, line.after))
        axis.errorbar(
            rpm, read, yerr=2.0 * abs(factor) * line.sd, fmt="o", color=INK, markersize=4.5,
            markerfacecolor=PAPER, linewidth=0.9, zorder=3.0,
        )  # fmt: skip
        axis.plot(rpm, before, color=GREY, linewidth=1.4)
        axis.plot(rpm, after, color=BLUE, linewidth=1.9)
        if not line.used.all():
            axis.plot(rpm[~line.used], read[~line.used], "x", color=INK, markersize=7)
        axis.set_ylabel(words)
        axis.margins(y=0.12)
        ends = [
            EndName(float(np.asarray(before)[-1]), "class", GREY, "-"),
            EndName(float(np.asarray(after)[-1]), "fitted", BLUE, "-", width=1.9),
        ]
        name_ends(axis, ends)
    speed_axis(axes, fit.lines[0].speed / _RPM)
    return sheet
