"""What a rule of expected ranges is asked, and what it answers."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, NamedTuple

from boostwright.build.document import Build
from boostwright.job.records import Reading
from boostwright.library.ladder import StepTable
from boostwright.library.measurements import measurements
from boostwright.planning.ladder.conditions import Condition
from boostwright.planning.ladder.records import Air, Limit, Origin

__all__ = ["TRADE", "Asked", "Guess", "Rule", "nearer"]

TRADE: Final = "common practice, no source"


class Guess(NamedTuple):
    """What a rule says: middle and standard deviation without the instrument [SI], or a plain range."""

    middle: float | None = None
    sd: float = 0.0
    band: tuple[float, float] | None = None
    stop_low: Limit | None = None
    stop_high: Limit | None = None
    stands: Limit | None = None
    origin: Origin = Origin.MODEL
    how: str = ""


@dataclass(frozen=True, slots=True)
class Asked:
    """What a rule may read. before: the newest standing reading of each measurement taken before. span: from
    where to where the pull goes [rad/s]. cut: where the cut stands in this step [Pa absolute].
    """

    build: Build
    air: Air
    condition: Condition
    before: dict[str, Reading]
    step: StepTable
    span: tuple[float, float] | None = None
    top: float = math.nan
    cut: float = math.nan

    def recorded(self, name: str) -> tuple[float, float] | None:
        """The newest reading and its standard deviation [SI]; the mean of several places."""
        reading = self.before.get(name)
        if reading is None or not reading.values:
            return None
        value = sum(reading.values) / len(reading.values)
        known = measurements()[name].repeat if name in measurements() else None
        sd = reading.sd if reading.sd is not None else (0.0 if known is None else known.at(value))
        return value, sd

    def stated(self, path: str) -> tuple[float, float] | None:
        """What the file states, not a default [SI]."""
        if not self.build.is_stated(path):
            return None
        value = self.build[path]
        return float(value.value), float(value.sd or 0.0)

    def limit(self, key: str, sign: float) -> Limit:
        """A limit of the findings, moved by one of its own standard deviations: -1 nearer, +1 further."""
        found = self.condition.limits[key]
        value = found.amount.value + sign * (found.amount.sd or 0.0)
        return Limit(value, found.amount.name or found.record.reason, found.record.source)


Rule = Callable[[Asked], "Guess | None"]


def nearer(a: Limit | None, b: Limit | None, pick: Callable[[float, float], float]) -> Limit | None:
    """The limit that bites first. pick: `min` where it is an upper one, `max` where it is a lower one."""
    if a is None or b is None:
        return a or b
    return a if pick(a.value, b.value) == a.value else b
