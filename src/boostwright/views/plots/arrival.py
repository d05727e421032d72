"""When boost comes after the throttle opens: boost and engine speed over time, a line for each gear."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from boostwright.findings.model import Amount, Kind
from boostwright.findings.result import CheckResult
from boostwright.systems.transient import Arrival, Pull
from boostwright.views.numbers import say, say_band
from boostwright.views.plots.bands import draw_band
from boostwright.views.plots.style import (
    BLUE,
    GREY,
    INK,
    EndName,
    Sheet,
    edge,
    mark_worst,
    name_ends,
    new_sheet,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["arrival"]

_RPM: Final = math.pi / 30.0
_STYLES: Final = ("-", (0, (6, 2)), (0, (2, 1.5)), (0, (6, 1.5, 1.5, 1.5)))
_MOST: Final = 4  # pulls on one sheet
_BAR: Final = 0.055  # of the boost wanted, between one bar and the next
_AFTER: Final = 0.6  # seconds drawn after the last arrival


def arrival(result: CheckResult, foot: str) -> Sheet | None:
    """Boost and engine speed over time, with the arrival of each gear; None where none was computed."""
    found = None if result.drawing is None else result.drawing.arrival
    if found is None:
        return None
    pulls = [p for p in found.pulls if p.gear][:_MOST] or list(found.pulls[:_MOST])
    sentence = _sentence(found, pulls) + _held(result)
    if result.trust is not None:
        sentence += " The pale band holds 90 of 100 draws of the blue line."
    sheet, (upper, lower) = new_sheet(
        "arrival", "When boost comes after the throttle opens", sentence, foot, 2, 6.2
    )
    end = _end(pulls)
    marked = found.pulls[found.reference]
    names, speeds = [], []
    for place, (pull, style) in enumerate(zip(pulls, _STYLES, strict=False)):
        shown = pull.time <= end + 1e-9
        bar, rpm = pull.boost[shown] / 1e5, pull.crank[shown] / _RPM
        colour = BLUE if pull is marked else INK
        upper.plot(pull.time[shown], bar, color=colour, linestyle=style)
        _draws(upper, result, found, pull, colour)
        lower.plot(pull.time[shown], rpm, color=colour, linestyle=style)
        _band(upper, pull, found, _top(found, pulls) + _BAR * (1.2 + place) * found.goal, colour)
        names.append(EndName(round(float(bar[-1]), 2), _name(pull), colour, style))  # ties keep their order
        speeds.append(EndName(float(rpm[-1]), _name(pull), colour, style))
        if math.isfinite(pull.arrival):
            for axis, y in ((upper, found.share * found.goal / 1e5), (lower, pull.arrival_speed / _RPM)):
                axis.plot(
                    [pull.arrival], [y], marker="o", markersize=4, color=colour, linestyle="none", zorder=4
                )
    upper.set_xlim(0.0, end)
    upper.set_ylim(
        min(0.0, 1.1 * min(float(p.boost.min()) for p in pulls) / 1e5),
        (_top(found, pulls) + _BAR * (1.8 + len(pulls)) * found.goal) / 1e5,
    )
    edge(upper, found.goal / 1e5)
    names.append(EndName(found.goal / 1e5, "boost wanted", GREY, leader=True))
    upper.set_ylabel("boost in the plenum [bar]")
    lower.set_ylabel("engine speed [rpm]")
    lower.set_xlabel("time after the throttle opens [s]")
    upper.tick_params(labelbottom=False)
    worst = _latest(pulls)
    if worst is not None:
        mark_worst(upper, worst.arrival, found.share * found.goal / 1e5)
        mark_worst(lower, worst.arrival, worst.arrival_speed / _RPM)
    else:
        late = max(pulls, key=lambda p: float(p.boost[-1]))
        mark_worst(upper, float(min(late.time[-1], end)), float(np.interp(end, late.time, late.boost)) / 1e5)
    name_ends(upper, names)
    name_ends(lower, speeds)
    return sheet


def _sentence(found: Arrival, pulls: list[Pull]) -> str:
    """The pull that waits longest, and the reference gear with its band."""
    parts = []
    never = [p for p in pulls if not math.isfinite(p.arrival)]
    worst = _latest(pulls)
    if never:
        listed = " and ".join(_name(p) for p in never)
        parts.append(f"In {listed} boost has not come when the pull ends.")
    if worst is not None:
        time = say_band(Amount(worst.arrival, _known(worst.arrival_sd), Kind.DELAY))
        speed = say(Amount(worst.arrival_speed, _known(worst.arrival_speed_sd), Kind.ENGINE_SPEED))
        start = say(Amount(worst.start, None, Kind.ENGINE_SPEED))
        parts.append(
            f"The longest wait is in {_name(worst)}: {time} from {start} on, boost is there at {speed}."
        )
    shaft = say(Amount(found.start_shaft, None, Kind.SHAFT_SPEED))
    parts.append(
        f"A dot stands where {100 * found.share:.0f} % of the boost wanted is there, the bar above it says"
        f" how sure that is; the shaft turns {shaft} when the throttle opens."
    )
    return " ".join(parts)


def _held(result: CheckResult) -> str:
    """What the finding on the wait counts, which no line shows: the same with the engine's speed held."""
    finding = next((f for f in result.findings if f.code == "boost.wait"), None)
    if finding is None or finding.demand is None or finding.place.speed is None:
        return ""
    at = say(Amount(finding.place.speed, None, Kind.ENGINE_SPEED))
    return f" The finding on the wait counts an engine held at {at}: {say_band(finding.demand)}."


def _draws(axis: Axes, result: CheckResult, found: Arrival, pull: Pull, colour: str) -> None:
    """The band of the marked pull only: several over one another would hide the lines."""
    place = next(i for i, p in enumerate(found.pulls) if p is pull)
    if place == found.reference:
        draw_band(axis, pull.time, result, f"pull {place}.boost", 1e-5, colour=colour)


def _known(sd: float) -> float | None:
    return sd if math.isfinite(sd) else None


def _latest(pulls: list[Pull]) -> Pull | None:
    """The pull in which boost comes last, among those in which it comes."""
    there = [p for p in pulls if math.isfinite(p.arrival)]
    return max(there, key=lambda p: p.arrival) if there else None


def _end(pulls: list[Pull]) -> float:
    """Seconds drawn: until a little after the last arrival, or the whole pull where boost never comes."""
    last = max(float(p.time[-1]) for p in pulls)
    if any(not math.isfinite(p.arrival) for p in pulls):
        return last
    return min(last, max(p.arrival + max(_AFTER, 2 * (_known(p.arrival_sd) or 0.0)) for p in pulls))


def _top(found: Arrival, pulls: list[Pull]) -> float:
    return max(found.goal, *(p.peak for p in pulls))


def _name(pull: Pull) -> str:
    return f"gear {pull.gear}" if pull.gear else "engine held"


def _band(axis: Axes, pull: Pull, found: Arrival, height: float, colour: str) -> None:
    """Two standard deviations of the time of arrival, as a bar at a height [Pa] above all lines, tied to its
    dot.
    """
    if not (math.isfinite(pull.arrival) and math.isfinite(pull.arrival_sd)):
        return
    y = height / 1e5
    low, high = max(0.0, pull.arrival - 2 * pull.arrival_sd), pull.arrival + 2 * pull.arrival_sd
    axis.plot([low, high], [y, y], color=colour, linewidth=4.5, alpha=0.3, solid_capstyle="butt", zorder=1)
    axis.plot([pull.arrival] * 2, [y, found.share * found.goal / 1e5], color=colour, linewidth=0.6, zorder=1)
