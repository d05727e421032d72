"""A recorded drive drawn: the whole of it with its notices, and each kind of notice at its worst moment."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.records import Notice
from boostwright.drive.whole import Excerpt, Outline
from boostwright.library.channels import channel_kinds
from boostwright.library.notice_kinds import notice_kinds
from boostwright.quantity import Dimension
from boostwright.views.drive_words import notice_words, place_words, reading_words
from boostwright.views.plots.drive_model import model_sheets
from boostwright.views.plots.style import BLUE, GREY, INK, RED, EndName, Sheet, name_ends, new_sheet

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from boostwright.drive.reviewed import ReviewedDrive

__all__ = ["draw_drive"]

Array = NDArray[np.float64]

_MOST_SHEETS: Final = 24  # of single moments
_MOST_ROWS: Final = 4  # signals over one another
_DASHES: Final = ("-", (0, (6, 2)), (0, (2, 1.5)), (0, (6, 1.5, 1.5, 1.5)))
_SHOWN: Final[dict[str, tuple[str, float, float]]] = {  # unit, factor, offset by dimension
    Dimension.PRESSURE.value: ("kPa", 1.0e3, 0.0),
    Dimension.TEMPERATURE.value: ("degC", 1.0, 273.15),
    Dimension.SPARK.value: ("deg", math.pi / 180.0, 0.0),
    Dimension.ROTATION.value: ("rpm", math.pi / 30.0, 0.0),
    Dimension.SPEED.value: ("km/h", 1.0 / 3.6, 0.0),
    Dimension.SHARE.value: ("%", 0.01, 0.0),
    Dimension.TIME.value: ("ms", 1.0e-3, 0.0),
    Dimension.MASS_FLOW.value: ("g/s", 1.0e-3, 0.0),
    Dimension.VOLTAGE.value: ("V", 1.0, 0.0),
    Dimension.MIXTURE.value: ("", 1.0, 0.0),
    Dimension.RATIO.value: ("g", 1.0, 0.0),
    Dimension.LENGTH.value: ("m", 1.0, 0.0),
}
_BESIDE: Final = {  # what is drawn on the axes of another
    "boost_target": "manifold_pressure",
    "charge_pressure": "manifold_pressure",
    "lambda_target": "lambda",
    "spark_table": "spark_advance",
}


def draw_drive(
    drive: ReviewedDrive,
    folder: Path,
    foot: str,
    version: str,
    progress: Callable[[str], None] = lambda _: None,
) -> tuple[Path, ...]:
    """Draw the whole drive, and of each kind of fault its worst moment, as SVG and PNG. Raises OSError."""
    import matplotlib as mpl

    from boostwright.views.plots.book import save_sheet
    from boostwright.views.plots.style import RC

    written: list[Path] = []
    worst: dict[str, Excerpt] = {}
    for excerpt in drive.review.excerpts:
        if excerpt.notice.fault:
            worst.setdefault(excerpt.notice.kind, excerpt)
    foot = f"{foot} · {drive.review.file}"
    with mpl.rc_context(RC):  # type: ignore[arg-type]  # its keys are a list of words in the stubs
        if drive.review.outlines:
            progress("plotting the drive")
            sheet = _whole(drive.review.outlines, drive.review.faults, foot)
            written += [path for path, _ in save_sheet(sheet, folder, version)]
        for kind, excerpt in list(worst.items())[:_MOST_SHEETS]:
            progress(f"plotting {notice_kinds()[kind].words}")
            written += [path for path, _ in save_sheet(_moment(excerpt, foot), folder, version)]
        if drive.model is not None:
            progress("plotting the pulls beside the model")
            for sheet in model_sheets(drive.model.expectation, drive.model.learned, foot):
                written += [path for path, _ in save_sheet(sheet, folder, version)]
    return tuple(written)


def _unit(key: str) -> tuple[str, float, float]:
    return _SHOWN.get(channel_kinds()[key].dimension.value, ("", 1.0, 0.0))


def _label(key: str) -> str:
    short = channel_kinds()[key].short
    unit = _unit(key)[0]
    return f"{short}\n[{unit}]" if unit else short


def _whole(outlines: tuple[Outline, ...], faults: tuple[Notice, ...], foot: str) -> Sheet:
    """Lowest to highest of every two seconds, with a mark over each fault."""
    kinds = list(dict.fromkeys(n.kind for n in faults))
    sentence = (
        "The dark band runs from the lowest to the highest reading of every two seconds. Ticks above the top"
        " axes: one row for each kind of fault, the worst kind on top."
        + ("" if kinds else " Nothing was found that must be mended.")
    )
    rows = len(outlines)
    height = 1.5 + 1.35 * rows + 0.17 * len(kinds)
    sheet, axes = new_sheet("drive", "The drive", sentence, foot, rows, height)
    for axis, outline in zip(axes, outlines, strict=True):
        _, factor, offset = _unit(outline.key)
        low, high = (outline.low - offset) / factor, (outline.high - offset) / factor
        axis.fill_between(outline.t / 60.0, low, high, color=INK, linewidth=0.4, step="mid")
        axis.set_ylabel(_label(outline.key), fontsize=8)
        axis.margins(x=0.0, y=0.08)
    if kinds:
        _ticks(axes[0], faults, kinds)
    for axis in axes[:-1]:
        axis.tick_params(labelbottom=False)
    axes[-1].set_xlabel("time [min]")
    return sheet


def _ticks(axis: Axes, faults: tuple[Notice, ...], kinds: list[str]) -> None:
    """Rows of ticks above the signal, named at their right end."""
    low, high = axis.get_ylim()
    step = 0.16 * (high - low)
    names = []
    for place, kind in enumerate(reversed(kinds)):
        y = high + step * (place + 0.6)
        at = [n.start / 60.0 for n in faults if n.kind == kind]
        axis.plot(at, [y] * len(at), linestyle="none", marker="|", markersize=7, color=RED)
        names.append(EndName(y, kind.replace("-", " "), RED))
    axis.set_ylim(low, high + step * (len(kinds) + 0.3))
    name_ends(axis, names)


def _moment(excerpt: Excerpt, foot: str) -> Sheet:
    """The signals that show a notice, with its time set off by a pale strip."""
    notice = excerpt.notice
    lines = _rows(excerpt)
    sentence = f"{reading_words(notice.size)}; {place_words(notice)}. {notice.note}".strip()
    name = f"notice_{notice.kind.replace('-', '_')}"
    sheet, axes = new_sheet(name, notice_words(notice), sentence, foot, len(lines), 1.6 + 1.45 * len(lines))
    t = excerpt.t - notice.start
    for axis, keys in zip(axes, lines, strict=True):
        _draw(axis, t, excerpt, keys)
        axis.axvspan(0.0, max(notice.end - notice.start, 0.02), color=RED, alpha=0.10, linewidth=0)
        axis.set_ylabel(_label(keys[0][0]), fontsize=8)
        axis.margins(x=0.0, y=0.10)
    for axis in axes[:-1]:
        axis.tick_params(labelbottom=False)
    axes[-1].set_xlabel("time from the beginning of the notice [s]")
    return sheet


def _draw(axis: Axes, t: Array, excerpt: Excerpt, keys: list[tuple[str, int]]) -> None:
    """All lines of one axes, told apart by their dashes and named at their ends."""
    names = []
    for place, (key, cylinder) in enumerate(keys):
        _, factor, offset = _unit(key)
        y = (excerpt.values[key, cylinder] - offset) / factor
        known = np.flatnonzero(np.isfinite(y))
        if known.size == 0:
            continue
        colour = BLUE if key in excerpt.notice.channels else INK if place == 0 else GREY
        style = _DASHES[place % len(_DASHES)]
        axis.plot(t[known], y[known], color=colour, linestyle=style, linewidth=1.3)
        words = f"cylinder {cylinder}" if cylinder else channel_kinds()[key].short
        names.append(EndName(float(y[known[-1]]), words, colour, style))
    name_ends(axis, names)


def _rows(excerpt: Excerpt) -> list[list[tuple[str, int]]]:
    """Which signals share one axes: those of one quantity, its target beside it; the notice's own first."""
    groups: dict[str, list[tuple[str, int]]] = {}
    for key, cylinder in excerpt.values:
        if np.isfinite(excerpt.values[key, cylinder]).any():
            groups.setdefault(_BESIDE.get(key, key), []).append((key, cylinder))
    ordered = sorted(groups, key=lambda g: not any(k in excerpt.notice.channels for k, _ in groups[g]))
    return [sorted(groups[g], key=lambda kc: (kc[0] != g, kc)) for g in ordered[:_MOST_ROWS]]
