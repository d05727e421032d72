"""When it may be done: the chance of a moment with its sampling error, likely days, milestones, drivers."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.planning.calendar import Calendar
from boostwright.planning.schedule.sampling import Samples

__all__ = ["Chance", "Driver", "Milestone", "Outlook", "chance_by", "drivers", "outlook_of"]

Array = NDArray[np.float64]


class Chance(NamedTuple):
    """A probability and the standard deviation of its sampling error [-]."""

    value: float
    error: float


class Milestone(NamedTuple):
    """A task that counts. likely, late: when it is done in one case of two, in four of five [s from zero]."""

    task: str
    words: str
    chance: Chance
    likely: float
    late: float


class Driver(NamedTuple):
    """A task whose length moves the end. correlation: of the ranks of its length and the end. on_chain: share
    of the runs in which it lies on the chain of work that ends last.
    """

    task: str
    correlation: float
    on_chain: float


@dataclass(frozen=True, slots=True)
class Outlook:
    """What the runs say. times: by share of the runs, seconds from zero (inf: past all hours that the plan
    knows). day: the likeliest day of the end, with its share of the runs.
    """

    chance: Chance
    times: tuple[tuple[float, float], ...]
    day: str
    day_share: float
    milestones: tuple[Milestone, ...]
    drivers: tuple[Driver, ...]
    pace_share: float  # rank correlation of the builder's own pace with the end [-]
    samples: int


SHARES = (0.5, 0.8, 0.95)


def chance_by(times: Array, replicate: NDArray[np.int64], deadline: float) -> Chance:
    """Share of the runs that end by a moment.

    The error is the scatter of independent sets of draws, not below what one more run would change.
    """
    inside = times <= deadline
    value = float(inside.mean())
    sets = np.array([inside[replicate == k].mean() for k in np.unique(replicate)])
    scatter = float(sets.std(ddof=1)) / math.sqrt(len(sets)) if len(sets) > 1 else 0.0
    return Chance(value, max(scatter, 0.5 / len(times)))


def outlook_of(
    samples: Samples, calendar: Calendar, milestones: tuple[tuple[str, str], ...], quick: bool = False
) -> Outlook:
    """The outlook of one plan for the end of its calendar. quick: without what drives it."""
    column = {key: k for k, key in enumerate(samples.tasks)}
    finish = samples.finish
    marks = []
    for key, words in milestones:
        if key in column:
            ends = samples.ends[:, column[key]]
            likely, late = (float(v) for v in np.quantile(ends, (0.5, 0.8), method="higher"))
            marks.append(
                Milestone(key, words, chance_by(ends, samples.replicate, calendar.end), likely, late)
            )
    times = tuple((share, float(np.quantile(finish, share, method="higher"))) for share in SHARES)
    day, share = _day(finish, calendar)
    return Outlook(
        chance_by(finish, samples.replicate, calendar.end), times, day, share, tuple(marks),
        () if quick else drivers(samples, finish), _ranked(samples.pace, finish), len(finish),
    )  # fmt: skip


def _day(finish: Array, calendar: Calendar) -> tuple[str, float]:
    known = finish[np.isfinite(finish)]
    if not known.size:
        return "", 0.0
    days = Counter(int(v // 3600.0) for v in known)  # hours first: few of them, and each has a date
    dates: Counter[str] = Counter()
    for hour, count in days.items():
        dates[calendar.moment(3600.0 * hour + 1800.0).date().isoformat()] += count
    day, count = dates.most_common(1)[0]
    return day, count / len(finish)


def _ranked(values: Array, finish: Array) -> float:
    """Spearman's rank correlation; 0 where one of the two never changes."""
    one, other = (np.argsort(np.argsort(a, kind="stable"), kind="stable") for a in (values, finish))
    if np.ptp(values) == 0.0 or np.ptp(finish) == 0.0:
        return 0.0
    return float(np.corrcoef(one, other)[0, 1])


def drivers(samples: Samples, finish: Array, count: int = 5) -> tuple[Driver, ...]:
    """The tasks whose own length moves the end most, the builder's pace taken out."""
    known = np.isfinite(finish)
    if known.sum() < 50:
        return ()
    own = samples.lengths[known] / samples.pace[known, None]
    chain = _on_chain(samples)
    found = [
        Driver(key, _ranked(own[:, k], finish[known]), float(chain[k])) for k, key in enumerate(samples.tasks)
    ]
    found = [d for d in found if d.correlation > 0.0]
    return tuple(sorted(found, key=lambda d: -d.correlation)[:count])


def _on_chain(samples: Samples) -> Array:
    """Share of the runs in which each task lies on the chain that ends last."""
    rows = np.arange(len(samples.ends))
    at = samples.ends.argmax(axis=1)
    on = np.zeros(samples.ends.shape[1])
    alive = np.ones(len(rows), dtype=np.bool_)
    for _ in range(samples.ends.shape[1] + 1):
        if not alive.any():
            break
        on += np.bincount(at[alive], minlength=len(on))
        before = samples.holder[rows, at]
        alive &= before >= 0
        at = np.where(before >= 0, before, at)
    return np.asarray(on / len(rows))
