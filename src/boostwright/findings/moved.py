"""How far a figure moves with everything that it rests on: each value moved by itself, to both sides."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["moved_spread"]

Array = NDArray[np.float64]
Row = tuple[str, float, float]


def moved_spread(
    rows: Sequence[Row], figure: Callable[[Mapping[str, Array]], ArrayLike], least: float = 0.02
) -> tuple[float, float]:
    """A figure and its standard deviation, from values by name with their deviations.

    Each value is moved by one standard deviation to both sides, the others left alone; the mean square of the
    two changes is its share, so that a kink counts. rows: name, value, deviation. figure: from columns (m,)
    by name, so many sets side by side, to the figure of each; the first set is the middle. least: share of a
    positive value below which it is never moved [-].
    """
    uncertain = [row for row in rows if row[2] > 0.0]
    size = 1 + 2 * len(uncertain)
    columns = {name: np.full(size, value) for name, value, _ in rows}
    for k, (name, value, sd) in enumerate(uncertain):
        lower = value - sd
        columns[name][1 + 2 * k] = value + sd
        columns[name][2 + 2 * k] = max(lower, least * value) if value > 0.0 else lower
    figures = np.broadcast_to(np.asarray(figure(columns), dtype=np.float64), (size,))
    change = figures - figures[0]
    return float(figures[0]), math.sqrt(0.5 * float(np.sum(change[np.isfinite(change)] ** 2)))
