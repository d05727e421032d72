"""Times, lengths and chances of a plan in words, the same on every door."""

from __future__ import annotations

import math
from datetime import datetime

from boostwright.planning.calendar import Calendar
from boostwright.planning.task import Task
from boostwright.quantity import COVERAGE
from boostwright.uncertainty.odds import Odds

__all__ = [
    "by_words",
    "chance_words",
    "clock",
    "date_words",
    "length_words",
    "mark_of",
    "minutes_words",
    "moment_words",
]

HOUR, MINUTE = 3600.0, 60.0


def clock(moment: datetime) -> str:
    """'08:30'."""
    return f"{moment:%H:%M}"


def date_words(moment: datetime) -> str:
    """'Saturday 5 December'."""
    return f"{moment:%A} {moment.day} {moment:%B}"


def moment_words(calendar: Calendar, seconds: float, long: bool = False) -> str:
    """'Sat 5 Dec 08:30', to the next minute; past all hours of the plan 'later than the plan looks'."""
    if not math.isfinite(seconds):
        return "later than the plan looks"
    moment = calendar.moment(MINUTE * math.ceil(seconds / MINUTE - 1e-6))
    day = f"{moment:%A} {moment.day} {moment:%B}" if long else f"{moment:%a} {moment.day} {moment:%b}"
    return f"{day} {clock(moment)}"


def by_words(calendar: Calendar, seconds: float) -> str:
    """'by Sat 5 Dec 08:30', or that it is later than the plan looks."""
    return f"by {moment_words(calendar, seconds)}" if math.isfinite(seconds) else "later than the plan looks"


def length_words(seconds: float) -> str:
    """'25 min', '1 h 25 min', '19 h'."""
    minutes = round(seconds / MINUTE)
    if minutes < 60:
        return f"{minutes} min"
    hours, rest = divmod(minutes, 60)
    if hours >= 10 or rest == 0:
        return f"{round(seconds / HOUR)} h"
    return f"{hours} h {rest:02} min"


def minutes_words(low: float, high: float) -> str:
    """'15 to 45 min' of two lengths in seconds."""
    return f"{low / MINUTE:.0f} to {high / MINUTE:.0f} min"


def chance_words(chance: Odds) -> str:
    """'23 %' with its sampling error where that can be seen: '23 ± 1 %'; never a bare 0 or 100."""
    value, error = 100.0 * chance.probability, 100.0 * COVERAGE * chance.sampling_error
    if value < 0.5:
        return "under 1\u00a0%"
    if value > 99.5:
        return "over 99\u00a0%"
    return f"{value:.0f}\u00a0%" if error < 0.5 else f"{value:.0f} ± {error:.0f}\u00a0%"


def mark_of(task: Task) -> str:
    """Beside a task: a hold point, a task for two, nothing."""
    if task.hold is not None:
        return "HOLD"
    return "two" if task.critical else ""
