"""The lines of all days on one plot: the ordinary day strong, every corner thin, each named at its end."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.model import Amount, Kind
from boostwright.findings.result import CheckResult
from boostwright.findings.worst import Line
from boostwright.views.numbers import say
from boostwright.views.plots.style import BLUE, INK, EndName, name_width

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = [
    "RPM",
    "Extreme",
    "Judged",
    "at_speed",
    "corner_style",
    "draw_days",
    "extreme",
    "judged",
    "lines_of",
    "on_day",
]

Array = NDArray[np.float64]
RPM = math.pi / 30.0
_STYLES: tuple[Any, ...] = (
    (0, (6, 2)),
    (0, (2, 2)),
    (0, (8, 2, 1.5, 2)),
    (0, (1, 1.6)),
    (0, (10, 3)),
    (0, (5, 1.5, 1, 1.5, 1, 1.5)),
)
_THIN = 0.9


class Extreme(NamedTuple):
    """The worst point over all days."""

    day: int
    i: int
    value: float
    speed: float  # crank [rad/s]
    corner: str


class Judged(NamedTuple):
    """The point that a finding speaks of, and the figure that it counts with."""

    at: Extreme
    demand: Amount

    @property
    def spread(self) -> float:
        """Of the flow at the line, relative, as the finding has it [-]."""
        return (self.demand.sd or 0.0) / self.demand.value if self.demand.value > 0.0 else 0.0


def judged(result: CheckResult, code: str, days: Sequence[Line]) -> Judged | None:
    """Where a finding stands on the lines that are drawn; None where there is no such finding."""
    finding = next((f for f in result.findings if f.code == code), None)
    if finding is None or finding.demand is None or finding.place.speed is None:
        return None
    named = [k for k, day in enumerate(days) if day.corner == finding.corner]
    day = named[0] if named else 0
    speed = days[day].goal.speed
    i = int(np.argmin(np.abs(speed - finding.place.speed)))
    return Judged(Extreme(day, i, finding.demand.value, float(speed[i]), days[day].corner), finding.demand)


def lines_of(result: CheckResult) -> tuple[Line, ...]:
    """The lines to draw, the ordinary day first; empty without a turbo."""
    if result.drawing is not None and result.drawing.lines:
        return result.drawing.lines
    if result.goal is None:
        return ()
    pressure = float(np.nanmedian(result.goal.plenum_pressure - result.goal.boost))
    return (Line(result.goal, "on an ordinary warm day", pressure, math.nan),)


def extreme(
    days: Sequence[Line], values: Callable[[int, Line], Array], largest: bool = True
) -> Extreme | None:
    """The largest or smallest value over all days and speeds; None where there is no number."""
    best: Extreme | None = None
    for k, day in enumerate(days):
        found = np.asarray(values(k, day), dtype=np.float64)
        if not np.isfinite(found).any():
            continue
        i = int(np.nanargmax(found) if largest else np.nanargmin(found))
        value = float(found[i])
        if best is None or (value > best.value if largest else value < best.value):
            best = Extreme(k, i, value, float(day.goal.speed[i]), day.corner)
    return best


def at_speed(speed: float) -> str:
    """An engine speed in words."""
    return say(Amount(speed, None, Kind.ENGINE_SPEED))


def on_day(found: Extreme, days: Sequence[Line]) -> str:
    """'at 2500 rpm', and the corner where it is not the ordinary day."""
    where = f"at {at_speed(found.speed)}"
    return where if len(days) < 2 else f"{where}, {found.corner}"


def corner_style(k: int) -> Any:
    """Line style of the corner `k`, counted from 1."""
    return _STYLES[(k - 1) % len(_STYLES)]


def draw_days(
    axis: Axes,
    days: Sequence[Line],
    values: Callable[[int, Line], Array],
    name: str,
    xs: Callable[[int, Line], Array] | None = None,
) -> list[EndName]:
    """Draw one line a day and return the names for their ends: the ordinary day's is `name`."""
    names = []
    for k, day in enumerate(days):
        y = np.asarray(values(k, day), dtype=np.float64)
        x = day.goal.speed / RPM if xs is None else xs(k, day)
        end = _last(y)
        if k == 0:
            axis.plot(x, y, color=BLUE, linewidth=1.9, zorder=3.2)
            alone = _alone(y)
            if alone.any():  # points whose neighbours did not settle make no line
                axis.plot(x[alone], y[alone], color=BLUE, marker=".", linestyle="none", zorder=3.2)
            names.append(EndName(end, name, BLUE, "-"))
        else:
            style = corner_style(k)
            axis.plot(x, y, color=INK, linewidth=_THIN, linestyle=style, zorder=2.6)
            names.append(EndName(end, _wrapped(day.corner), INK, style, width=_THIN))
    return names


def _alone(values: Array) -> NDArray[np.bool_]:
    """Where a number stands between two that are none."""
    good = np.concatenate(([False], np.isfinite(values), [False]))
    return np.asarray(good[1:-1] & ~good[:-2] & ~good[2:])


def _last(values: Array) -> float:
    good = np.flatnonzero(np.isfinite(values))
    return float(values[good[-1]]) if good.size else math.nan


def _wrapped(corner: str) -> str:
    lines = textwrap.wrap(corner, name_width(True))
    return "\n".join(lines[:3]) if len(lines) <= 3 else "\n".join([*lines[:2], f"{lines[2]} ..."])
