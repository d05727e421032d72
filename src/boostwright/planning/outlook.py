"""When it may be done: the odds of a moment, likely days, milestones, and what moves the end."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.planning.calendar import Calendar
from boostwright.planning.schedule import Driver, Samples, drivers, probability_by, time_for
from boostwright.uncertainty.odds import Odds

__all__ = ["SHARES", "Milestone", "Outlook", "outlook_of"]

Array = NDArray[np.float64]

SHARES = (0.5, 0.8, 0.95)
MOST_DRIVERS = 6


class Milestone(NamedTuple):
    """A task that counts. likely, late: when it is done in one case of two, in four of five [s from zero]."""

    task: str
    words: str
    chance: Odds
    likely: float
    late: float


@dataclass(frozen=True, slots=True)
class Outlook:
    """What the runs say. times: by share of the runs, seconds from zero (inf: past all hours that the plan
    knows). day: the likeliest day of the end (ISO 8601; '' where no run ends), with its share of the runs.
    """

    chance: Odds
    times: tuple[tuple[float, float], ...]
    day: str
    day_share: float
    milestones: tuple[Milestone, ...]
    drivers: tuple[Driver, ...]
    samples: int


def outlook_of(
    samples: Samples, calendar: Calendar, milestones: tuple[tuple[str, str], ...], quick: bool = False
) -> Outlook:
    """The outlook of one plan for the end of its calendar. quick: without what moves the end."""
    column = {key: k for k, key in enumerate(samples.tasks)}
    marks = []
    for key, words in milestones:
        if key in column:
            likely, late = np.quantile(samples.ends[:, column[key]], (0.5, 0.8), method="inverted_cdf")
            odds = probability_by(samples, calendar.end, (key,))
            marks.append(Milestone(key, words, odds, float(likely), float(late)))
    times = tuple(zip(SHARES, (float(t) for t in time_for(samples, SHARES)), strict=True))
    day, share = _day(samples.finish, calendar)
    return Outlook(
        probability_by(samples, calendar.end), times, day, share, tuple(marks),
        () if quick else drivers(samples, MOST_DRIVERS), len(samples.finish),
    )  # fmt: skip


def _day(finish: Array, calendar: Calendar) -> tuple[str, float]:
    known = finish[np.isfinite(finish)]
    if not known.size:
        return "", 0.0
    hours = Counter(int(v // 3600.0) for v in known)  # hours first: few of them, and each has a date
    dates: Counter[str] = Counter()
    for hour, count in hours.items():
        dates[calendar.moment(3600.0 * hour + 1800.0).date().isoformat()] += count
    day, count = dates.most_common(1)[0]
    return day, count / len(finish)
