"""Bands on plots: what 5 and 95 of a hundred draws lie below, as a pale tone about a line."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.result import CheckResult
from boostwright.findings.trust_records import Band
from boostwright.views.plots.style import BLUE

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["band_note", "band_of", "draw_band", "ends"]

Array = NDArray[np.float64]

_TOLD = 0.5  # share of the draws that must give a number, for a band to be drawn there


def band_of(result: CheckResult, name: str, size: int) -> Band | None:
    """The band of a curve with as many points; None for a plain check or another row of speeds."""
    band = None if result.trust is None else result.trust.curves.get(name)
    return band if band is not None and band.low.shape == (size,) else None


def ends(band: Band, scale: float = 1.0, offset: float = 0.0) -> tuple[Array, Array]:
    """Lower and upper edge in the unit drawn; NaN where too few draws gave a number."""
    low, high = scale * band.low + offset, scale * band.high + offset
    if scale < 0.0:
        low, high = high, low
    few = band.told < _TOLD
    return np.where(few, np.nan, low), np.where(few, np.nan, high)


def draw_band(
    axis: Axes,
    x: Array,
    result: CheckResult,
    name: str,
    scale: float = 1.0,
    offset: float = 0.0,
    colour: str = BLUE,
) -> bool:
    """Draw the band of a curve, value x scale + offset, below its line; says whether there was one."""
    band = band_of(result, name, x.size)
    if band is None:
        return False
    low, high = ends(band, scale, offset)
    axis.fill_between(x, low, high, color=colour, alpha=0.16, linewidth=0, zorder=1.2)
    return True


def band_note(result: CheckResult, what: str = "The pale band") -> str:
    """A sentence that says what the band is; '' for a plain check."""
    if result.trust is None:
        return ""
    verb = "hold" if what.endswith("s") else "holds"
    return f" {what} {verb} 90 of 100 draws on the ordinary day."
