"""A recorded drive drawn: the whole of it with its notices, and each kind of notice at its worst moment."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.records import Notice
from boostwright.drive.whole import Excerpt, Outline
from boostwright.library.channels import channel_kinds
from boostwright.library.notice_kinds import notice_kinds
from boostwright.views.drive_words import PLOTTED, notice_words, place_words, reading_words
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
    return PLOTTED.get(channel_kinds()[key].dimension.value, ("", 1.0, 0.0))


def _label(key: str) -> str:
    short = channel_kinds()[key].short
    unit = _unit(key)[0]
    return f"{short}\n[{unit}]" if unit else short


def _whole(outlines: tuple[Outline, ...], faults: tuple[Notice, ...], foot: str) -> Sheet:
    """Lowest to highest of every two seconds; on top a row of ticks for each kind of fault."""
    kinds = list(dict.fromkeys(n.kind for n in faults))
    sentence = "The band runs from the lowest to the highest reading of every two seconds." + (
        " On top a row for each kind of fault, with a tick where it was noticed; the worst kind first."
        if kinds
        else " Nothing was found that must be mended."
    )
    rows = len(outlines) + (1 if kinds else 0)
    height = 1.5 + rows * max(1.35, 0.2 * len(kinds))
    sheet, axes = new_sheet("drive", "The drive", sentence, foot, rows, height)
    if kinds:
        _ticks(axes[0], faults, kinds)
    for axis, outline in zip(axes[-len(outlines) :], outlines, strict=True):
        _, factor, offset = _unit(outline.key)
        low, high = (outline.low - offset) / factor, (outline.high - offset) / factor
        axis.fill_between(
            outline.t / 60.0, low, high, facecolor=GREY, edgecolor=INK, linewidth=0.5, alpha=0.75, step="mid"
        )
        axis.set_ylabel(_label(outline.key), fontsize=8)
        axis.margins(x=0.0, y=0.08)
    for axis in axes[:-1]:
        axis.tick_params(labelbottom=False)
    axes[-1].set_xlabel("the log's own time [min]")
    return sheet


def _ticks(axis: Axes, faults: tuple[Notice, ...], kinds: list[str]) -> None:
    """One row of ticks a kind, named at its right end."""
    names = []
    for place, kind in enumerate(reversed(kinds)):
        at = [n.start / 60.0 for n in faults if n.kind == kind]
        axis.plot(at, [place] * len(at), linestyle="none", marker="|", markersize=8, color=RED)
        names.append(EndName(float(place), kind.replace("-", " "), RED))
    axis.set_ylim(-0.7, len(kinds) - 0.3)
    axis.set_yticks([])
    axis.grid(visible=False, axis="y")
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
