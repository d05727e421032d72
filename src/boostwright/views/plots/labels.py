"""Room for small labels on crowded axes: each is put where it covers no other label, no mark and no line."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["Crowd"]

Array = NDArray[np.float64]

_LETTER: Final = 0.62  # mean width of a letter over its size
_LINE: Final = 1.25  # height of a line of text over its size
_BETWEEN: Final = 12  # points put between two of a line, so that a label sees the line itself
_ON_LABEL: Final = 100.0  # what covering a label or a mark counts, where a point of a line counts one


class _Box(NamedTuple):
    """A box about a centre; all in points of the sheet."""

    x: float
    y: float
    wide: float
    high: float

    def touches(self, other: _Box) -> bool:
        """Whether two boxes share ground."""
        return (
            abs(self.x - other.x) < 0.5 * (self.wide + other.wide)
            and abs(self.y - other.y) < 0.5 * (self.high + other.high)
        )  # fmt: skip

    def holds(self, points: Array) -> int:
        """How many of some points (n, 2) lie inside."""
        inside = (np.abs(points[:, 0] - self.x) < 0.5 * self.wide) & (
            np.abs(points[:, 1] - self.y) < 0.5 * self.high
        )
        return int(np.count_nonzero(inside))


class Crowd:
    """What stands on some axes already. The limits of the axes must not change after it is made."""

    def __init__(self, axis: Axes) -> None:
        self.axis = axis
        figure = axis.get_figure()
        assert figure is not None
        self._scale = 72.0 / figure.dpi
        self._boxes: list[_Box] = []
        self._points = np.empty((0, 2))

    def line(self, x: Array, y: Array) -> None:
        """A line that labels should not cover."""
        good = np.isfinite(x) & np.isfinite(y)
        if good.sum() < 2:
            return
        ends = self._place(x[good], y[good])
        along = np.arange(len(ends))
        fine = np.linspace(0.0, len(ends) - 1.0, _BETWEEN * (len(ends) - 1) + 1)
        dense = np.column_stack([np.interp(fine, along, ends[:, k]) for k in (0, 1)])
        self._points = np.vstack([self._points, dense])

    def mark(self, x: float, y: float, size: float) -> None:
        """A mark of a size [points] that labels must not cover."""
        spot = self._place([x], [y])[0]
        self._boxes.append(_Box(float(spot[0]), float(spot[1]), size, size))

    def best(
        self,
        text: str,
        size: float,
        spots: Sequence[tuple[float, float]],
        offsets: Sequence[tuple[float, float]],
    ) -> tuple[int, tuple[float, float]] | None:
        """Which of some places a label takes, and with which offset [points]; the first of equally good ones.

        spots: places in the units of the axes. offsets: from each to the label's middle. None where every
        place covers another label or a mark; else the place counts as taken from now on.
        """
        places = self._place([s[0] for s in spots], [s[1] for s in spots])
        wide, high = _LETTER * size * len(text) + 3.0, _LINE * size
        chosen, least = None, _ON_LABEL
        for k, place in enumerate(places):
            for offset in offsets:
                box = _Box(float(place[0]) + offset[0], float(place[1]) + offset[1], wide, high)
                cost = _ON_LABEL * sum(box.touches(other) for other in self._boxes)
                cost += float(box.holds(self._points))
                if cost < least:
                    chosen, least = (k, offset, box), cost
        if chosen is None:
            return None
        self._boxes.append(chosen[2])
        return chosen[0], chosen[1]

    def _place(self, x: Sequence[float] | Array, y: Sequence[float] | Array) -> Array:
        points = np.column_stack([np.asarray(x, dtype=float), np.asarray(y, dtype=float)])
        return np.asarray(self.axis.transData.transform(points)) * self._scale
