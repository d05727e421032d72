"""All plots of one result, made and written into a folder as SVG and PNG."""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from boostwright.findings.result import CheckResult
from boostwright.views.files import write_bytes

if TYPE_CHECKING:
    from boostwright.views.plots.style import Sheet

__all__ = ["draw_all", "pages_of", "plot_names", "save_sheet"]

_PLOTS: Mapping[str, tuple[str, str]] = {
    "margins": ("boostwright.views.plots.margins", "margins"),
    "torque_and_power": ("boostwright.views.plots.engine", "torque_and_power"),
    "breathing": ("boostwright.views.plots.engine", "breathing"),
    "spark": ("boostwright.views.plots.engine", "spark"),
    "temperatures": ("boostwright.views.plots.engine", "temperatures"),
    "fuel_and_residual": ("boostwright.views.plots.engine", "fuel_and_residual"),
    "boost": ("boostwright.views.plots.turbo", "boost"),
    "compressor": ("boostwright.views.plots.compressor", "compressor"),
    "back_pressure": ("boostwright.views.plots.turbo", "back_pressure"),
    "knock_margin": ("boostwright.views.plots.turbo", "knock_margin"),
    "fuel_supply": ("boostwright.views.plots.fuel", "fuel_supply"),
    "arrival": ("boostwright.views.plots.arrival", "arrival"),
    "joints": ("boostwright.views.plots.joints", "joints"),
}
_DPI = 132


def plot_names() -> tuple[str, ...]:
    """The names of all plots, which are the names of their files; further pages have their number added."""
    return tuple(_PLOTS)


def draw_all(
    result: CheckResult, folder: Path, progress: Callable[[str], None] = lambda _: None
) -> tuple[tuple[Path, str], ...]:
    """Make every plot that this result has, write each as SVG and PNG, and return the paths with their
    sentences.

    The same result gives the same bytes: no date, fixed names inside the SVG.
    """
    from importlib import import_module

    import matplotlib as mpl

    from boostwright.views.plots.style import RC

    foot = " · ".join(
        (
            f"boostwright {result.version}",
            f"data {result.data_version}",
            f"inputs {result.fingerprint[:16]}",
            result.name,
        )
    )
    written: list[tuple[Path, str]] = []
    with mpl.rc_context(RC):  # type: ignore[arg-type]  # its keys are a list of words in the stubs
        for name, (module, function) in _PLOTS.items():
            progress(f"plotting {name.replace('_', ' ')}")
            made: Sheet | tuple[Sheet, ...] | None = getattr(import_module(module), function)(result, foot)
            for sheet in pages_of(made):
                written += save_sheet(sheet, folder, result.version)
            _take_away_older(folder, name, {path for path, _ in written})
    return tuple(written)


def pages_of(made: Sheet | tuple[Sheet, ...] | None) -> tuple[Sheet, ...]:
    """What a plot made as pages: none, one or several."""
    if made is None:
        return ()
    return made if isinstance(made, tuple) else (made,)


def _take_away_older(folder: Path, name: str, written: set[Path]) -> None:
    """Remove further pages of a plot that an earlier result left and this one has not."""
    for ending in ("svg", "png"):
        for path in folder.glob(f"{name}_*.{ending}"):
            if path.stem.removeprefix(f"{name}_").isdigit() and path not in written:
                path.unlink()


def save_sheet(sheet: Sheet, folder: Path, version: str) -> list[tuple[Path, str]]:
    """A page as SVG and PNG, and its sentence with each."""
    found = []
    for ending, metadata in (
        ("svg", {"Date": None, "Creator": f"boostwright {version}", "Title": sheet.title}),
        ("png", {"Software": f"boostwright {version}", "Title": sheet.title}),
    ):
        buffer = io.BytesIO()
        sheet.figure.savefig(buffer, format=ending, dpi=_DPI, metadata=metadata)
        path = folder / f"{sheet.name}.{ending}"
        write_bytes(path, buffer.getvalue())
        found.append((path, sheet.sentence))
    return found
