"""The pull that is expected on the spring: pressure, lambda, duty and intake temperature over speed."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Final

import numpy as np

from boostwright.planning.ladder import Expected, Ladder, PullLine, Rung
from boostwright.views.plots.style import BLUE, GREY, RED, EndName, Sheet, name_ends, new_sheet, speed_axis

__all__ = ["draw_pull", "pull_sheet"]

_RPM: Final = math.pi / 30.0
_SHOWN: Final = ("full-pull", "pull-high", "pull-middle", "pull-low")
_KELVIN: Final = 273.15


def draw_pull(ladder: Ladder, folder: Path, version: str) -> tuple[Path, ...]:
    """Draw the pull as SVG and PNG into a folder; nothing where none was computed. Raises OSError."""
    import matplotlib as mpl

    from boostwright.views.plots.book import save_sheet
    from boostwright.views.plots.style import RC

    rung = next((r for key in _SHOWN for r in ladder.rungs if r.key == key and r.line is not None), None)
    if rung is None:
        return ()
    foot = f"boostwright {version} · inputs {ladder.fingerprint[:16]} · {ladder.name}"
    with mpl.rc_context(RC):  # type: ignore[arg-type]  # its keys are a list of words in the stubs
        return tuple(path for path, _ in save_sheet(pull_sheet(rung, ladder, foot), folder, version))


def pull_sheet(rung: Rung, ladder: Ladder, foot: str) -> Sheet:
    """Four axes over one another; pale: two standard deviations; red: where the pull is broken off."""
    line = rung.line
    assert line is not None
    top = line.speed[-1] / _RPM
    sentence = (
        f"The full pull on the spring as the match sees it {ladder.air.words}, to {top:.0f} rpm:"
        f" blue the middle, pale"
        " where 19 of 20 such pulls lie, what is not known of this engine included; red where the"
        " pull is broken off."
        " Steady points: a real pull comes a little later to its boost."
    )
    sheet, axes = new_sheet("expected_pull", f"Expected pull: {ladder.name}", sentence, foot, 4, 9.6)
    rpm = np.array(line.speed) / _RPM
    rows = _rows(line, rung)
    for axis, (words, middle, spread, stop, name) in zip(axes, rows, strict=True):
        axis.fill_between(rpm, middle - 2 * spread, middle + 2 * spread, color=BLUE, alpha=0.16, linewidth=0)
        axis.plot(rpm, middle, color=BLUE, linewidth=1.9)
        axis.set_ylabel(words)
        names = [EndName(float(middle[-1]), "expected", BLUE)]
        if stop is not None:
            axis.axhline(stop, color=RED, linewidth=1.1)
            names.append(EndName(stop, name, RED))
        axis.margins(y=0.14)
        name_ends(axis, names)
    speed_axis(axes, rpm)
    if rung.barred:
        axes[0].set_title("this pull may not be gone with this build", color=GREY, fontsize=8.6, loc="left")
    return sheet


def _stop(expected: Expected | None, factor: float, offset: float = 0.0) -> float | None:
    if expected is None or expected.stop_high is None:
        return None
    return (expected.stop_high.value - offset) / factor


def _rows(line: PullLine, rung: Rung) -> tuple[tuple[str, np.ndarray, np.ndarray, float | None, str], ...]:
    """Axis label, middle, standard deviation, where it is broken off and its name, in the unit drawn."""
    n = len(line.speed)
    return (
        (
            "manifold pressure\n[kPa absolute]",
            np.array(line.pressure) / 1e3,
            np.array(line.pressure_sd) / 1e3,
            _stop(rung.of("pull_peak"), 1e3),
            "cut",
        ),
        (
            "lambda",
            np.array(line.lam),
            np.full(n, line.lam_sd),
            _stop(rung.of("pull_lambda"), 1.0),
            "too lean",
        ),
        (
            "injector duty [%]",
            100.0 * np.array(line.duty),
            100.0 * np.array(line.duty_sd),
            _stop(rung.of("pull_duty"), 0.01),
            "most useful",
        ),
        (
            "intake [degC]",
            np.array(line.intake) - _KELVIN,
            np.array(line.intake_sd),
            _stop(rung.of("pull_intake"), 1.0, _KELVIN),
            "too hot",
        ),
    )
