"""All plots of one result, drawn and written into a folder as SVG and PNG."""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from boostwright.findings.result import CheckResult
from boostwright.views.files import write_bytes

if TYPE_CHECKING:
    from boostwright.views.plots.style import Sheet

__all__ = ["draw_all", "plot_names"]

_PLOTS: Mapping[str, tuple[str, str]] = {
    "margins": ("boostwright.views.plots.margins", "margins"),
    "torque_and_power": ("boostwright.views.plots.engine", "torque_and_power"),
    "breathing": ("boostwright.views.plots.engine", "breathing"),
    "spark": ("boostwright.views.plots.engine", "spark"),
    "temperatures": ("boostwright.views.plots.engine", "temperatures"),
    "fuel_and_residual": ("boostwright.views.plots.engine", "fuel_and_residual"),
    "boost": ("boostwright.views.plots.turbo", "boost"),
    "compressor": ("boostwright.views.plots.turbo", "compressor"),
    "back_pressure": ("boostwright.views.plots.turbo", "back_pressure"),
    "knock_margin": ("boostwright.views.plots.turbo", "knock_margin"),
    "fuel_supply": ("boostwright.views.plots.fuel", "fuel_supply"),
    "arrival": ("boostwright.views.plots.arrival", "arrival"),
}
_DPI = 132


def plot_names() -> tuple[str, ...]:
    """The names of all plots, which are the names of their files."""
    return tuple(_PLOTS)


def draw_all(
    result: CheckResult, folder: Path, progress: Callable[[str], None] = lambda _: None
) -> tuple[tuple[Path, str], ...]:
    """Draw every plot that this result has, write each as SVG and PNG, and return the paths with their
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
            progress(f"drawing {name.replace('_', ' ')}")
            sheet: Sheet | None = getattr(import_module(module), function)(result, foot)
            if sheet is None:
                continue
            for ending, metadata in (
                ("svg", {"Date": None, "Creator": f"boostwright {result.version}", "Title": sheet.title}),
                ("png", {"Software": f"boostwright {result.version}", "Title": sheet.title}),
            ):
                buffer = io.BytesIO()
                sheet.figure.savefig(buffer, format=ending, dpi=_DPI, metadata=metadata)
                path = folder / f"{sheet.name}.{ending}"
                write_bytes(path, buffer.getvalue())
                written.append((path, sheet.sentence))
    return tuple(written)
