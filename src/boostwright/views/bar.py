"""The margin bar: one scale, the capacity as a band, the demand as a tick with its spread. Geometry only.

Terminal and plots draw the same bar from this record, so that a margin looks the same on every door.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from boostwright.findings.model import Amount, Finding, Kind, Sense
from boostwright.quantity import COVERAGE
from boostwright.views.numbers import shown_value

__all__ = ["Bar", "margin_bar", "text_bar"]

_NO_ZERO = {Kind.TEMPERATURE, Kind.CRANK_ANGLE, Kind.PRESSURE_ABSOLUTE, Kind.OCTANE, Kind.TORQUE_PER_VOLUME}


@dataclass(frozen=True, slots=True)
class Bar:
    """A margin bar in the unit shown. demand, capacity: value and standard deviation, None when unknown."""

    low: float
    high: float
    unit: str
    sense: Sense
    demand: tuple[float, float] | None
    capacity: tuple[float, float] | None

    def place(self, value: float) -> float:
        """Position of a value along the scale, 0 at its low end, 1 at its high end, clipped."""
        return min(1.0, max(0.0, (value - self.low) / (self.high - self.low)))

    def likely(self, value: float) -> float:
        """How likely it is that the limit lies here, relative to its most likely place, 0..1."""
        if self.capacity is None:
            return 0.0
        centre, sd = self.capacity
        if sd == 0.0:
            return 1.0 if value == centre else 0.0
        return math.exp(-0.5 * ((value - centre) / sd) ** 2)

    def forbidden(self, value: float) -> bool:
        """Whether a value lies beyond the limit's centre on the wrong side."""
        if self.capacity is None:
            return False
        return value > self.capacity[0] if self.sense is Sense.AT_MOST else value < self.capacity[0]


def margin_bar(finding: Finding) -> Bar | None:
    """The bar of a finding; None when neither side is a number."""
    sides = [_side(a) for a in (finding.demand, finding.capacity)]
    known = [s for s in sides if s is not None]
    if not known:
        return None
    amount = finding.demand or finding.capacity
    assert amount is not None
    low = min(v - 2.5 * sd for v, sd in known)
    high = max(v + 2.5 * sd for v, sd in known)
    least = 1.0 if amount.kind is Kind.COUNT else 1e-9  # things that are counted come in whole ones
    span = max(high - low, 0.05 * max(abs(low), abs(high)), least)
    low, high = low - 0.15 * span, high + 0.15 * span
    if amount.kind not in _NO_ZERO and min(v - 2.5 * sd for v, sd in known) > 0.0 and low < 0.6 * high:
        low = 0.0
    elif amount.kind not in _NO_ZERO and min(v for v, _ in known) >= 0.0:
        low = max(low, 0.0)  # nothing of the kind goes below zero
    step = _nice(high - low)
    low, high = math.floor(low / step) * step, math.ceil(high / step) * step
    return Bar(low, high, shown_value(amount)[2], finding.sense, sides[0], sides[1])


def _side(amount: Amount | None) -> tuple[float, float] | None:
    if amount is None:
        return None
    value, sd, _ = shown_value(amount)
    if not math.isfinite(value):
        return None
    return value, sd if sd is not None and math.isfinite(sd) else 0.0


def _nice(span: float) -> float:
    """A round step of about a twelfth of the span."""
    raw = span / 12.0
    power = 10.0 ** math.floor(math.log10(raw))
    return next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= raw * 0.999)


def text_bar(bar: Bar, width: int) -> tuple[str, str, str]:
    """The bar in block characters: the demand's line, the capacity's line and the scale's ends, each
    `width` wide.

    Capacity: dense blocks where the limit is likely, slanted strokes on forbidden ground. Demand: a heavy
    tick with its spread (what is written after ±) as a thin line.
    """
    cell = (bar.high - bar.low) / width
    capacity = []
    for i in range(width):
        left = bar.low + i * cell
        capacity.append(_capacity_cell(bar, left, left + cell))
    demand = [" "] * width
    if bar.demand is not None:
        value, sd = bar.demand
        tick, a, b = (_cell(bar, x, width) for x in (value, value - COVERAGE * sd, value + COVERAGE * sd))
        for i in range(a, b + 1):
            demand[i] = "─"
        if a < tick:
            demand[a] = "├"
        if b > tick:
            demand[b] = "┤"
        demand[tick] = "┃"
    return "".join(demand), "".join(capacity), _scale(bar, width)


def _cell(bar: Bar, value: float, width: int) -> int:
    return min(width - 1, int(bar.place(value) * width))


def _capacity_cell(bar: Bar, left: float, right: float) -> str:
    if bar.capacity is None:
        return "·"
    centre = bar.capacity[0]
    if left <= centre < right:
        return "█"
    middle = 0.5 * (left + right)
    likely = bar.likely(middle)
    for least, block in ((0.85, "█"), (0.5, "▓"), (0.2, "▒"), (0.05, "░")):
        if likely >= least:
            return block
    return "╱" if bar.forbidden(middle) else "·"


def _scale(bar: Bar, width: int) -> str:
    low, high = f"{bar.low:g}", f"{bar.high:g} {bar.unit}".rstrip()
    return low + high.rjust(width - len(low))
