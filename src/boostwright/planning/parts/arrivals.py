"""When each line of the list is there and right, drawn many times; and when its first task needs it.

The law is that of `odds`: a line is late or wrong, and behind each of the two stands one normal factor that
all lines of one order share (vasicek1987), so that one seller, or one kind of shop, is late as a whole.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.library.supplies import odds
from boostwright.planning.parts.odds import longer_than, ordered_since, wrong_odds
from boostwright.planning.parts.records import Line, PartsList, State

__all__ = ["Arrivals", "MissingSample", "arrivals", "needed_on", "sample_missing"]

_DAY: Final = 86400.0  # [s]


class Arrivals(NamedTuple):
    """lines: keys of the counted lines. at: (samples, lines) when each is there and right [s from the
    beginning of `today`], 0 for what is there already. needed: (lines,) the beginning of the day on which its
    first task begins [s], 0 where no day is known. here: (samples, lines) when each is there, right or wrong,
    0 for what is there already [s from the beginning of `today`]. again: (samples, lines) how long what is
    wrong takes to be got anew [s], 0 where it is right.
    """

    lines: tuple[str, ...]
    at: NDArray[np.float64]
    needed: NDArray[np.float64]
    today: date | None
    here: NDArray[np.float64]
    again: NDArray[np.float64]

    @property
    def wait(self) -> NDArray[np.float64]:
        """(samples, lines) how long the first task of each line waits for it [s]."""
        return np.maximum(self.at - self.needed, 0.0)


class MissingSample(NamedTuple):
    """wait: (samples, tasks) how long each task waits for what is missing [s]; 0 where nothing is."""

    tasks: tuple[str, ...]
    wait: NDArray[np.float64]
    missing: NDArray[np.int64]  # (samples,) number of missing lines


def needed_on(parts: PartsList, begins: Mapping[str, date]) -> dict[str, date]:
    """Line -> the day on which the first task that needs it begins; without those that no task needs.

    begins: the day on which each task begins, by its key.
    """
    found = {}
    for line in parts.lines:
        days = [begins[task] for task in line.tasks if task in begins]
        if days:
            found[line.key] = min(days)
    return found


def arrivals(
    parts: PartsList,
    samples: int,
    seed: int,
    *,
    today: date | None = None,
    needed: Mapping[str, date] | None = None,
    correlation: float | None = None,
    tried: bool = False,
    unordered: bool = True,
) -> Arrivals:
    """Draw when each counted line is there and right.

    today: from which it is seen; without it, and for a line without a day, nothing is late. needed: line ->
    day on which it is needed. What is wrong is found out when it is needed, or comes later, and is then got
    anew in the lead time of where it is bought. correlation: between lines of one order [-]; None for the
    table's. tried: as if every line had been put in its place by hand. unordered: what nobody has ordered
    counts as ordered today, else as there in time. The same seed gives the same draws, whatever the days and
    states are. Raises ValueError for no samples.
    """
    if samples < 1:
        raise ValueError(f"{samples} samples; at least 1 is needed")
    from scipy.special import ndtri

    counted = parts.counted
    days = needed or {}
    random = np.random.default_rng(seed)
    orders = {order: k for k, order in enumerate(dict.fromkeys(line.order for line in counted))}
    common = random.standard_normal((2, samples, len(orders)))
    own = random.standard_normal((3, samples, len(counted)))
    share = odds().together if correlation is None else correlation
    of = np.array([orders[line.order] for line in counted], dtype=np.intp)
    wrong_z, late_z = math.sqrt(share) * common[:, :, of] + math.sqrt(1.0 - share) * own[:2]
    need = np.array(
        [
            0.0 if today is None or line.key not in days else max(0.0, (days[line.key] - today).days)
            for line in counted
        ]
    )
    lead = np.array([line.lead.days for line in counted])
    spread = np.array([line.lead.log_sd for line in counted])
    here = np.zeros((samples, len(counted)))
    for k, line in enumerate(counted):
        if today is not None and line.key in days and _may_be_late(line, unordered):
            here[:, k] = _days_left(line, late_z[:, k], today)
    known = odds().tried if tried else None
    edge = -ndtri(np.array([known or wrong_odds(line) for line in counted]))
    again = np.where(wrong_z > edge, lead * np.exp(spread * own[2]), 0.0)
    at = np.where(wrong_z > edge, np.maximum(here, need) + again, here)
    keys = tuple(line.key for line in counted)
    return Arrivals(keys, _DAY * at, _DAY * need, today, _DAY * here, _DAY * again)


def _may_be_late(line: Line, unordered: bool) -> bool:
    if line.state in (State.HAVE, State.NOT_NEEDED):
        return False
    return unordered or line.state is State.ORDERED


def _days_left(line: Line, z: NDArray[np.float64], today: date) -> NDArray[np.float64]:
    """Days from today until it is here, at these values of a standard normal; the greater the later.

    What was ordered some days ago and has not come takes longer than that.
    """
    from scipy.special import ndtr, ndtri

    gone = ordered_since(line, today) if line.state is State.ORDERED else 0
    not_yet = longer_than(gone, line) if gone else 1.0
    left = np.maximum(not_yet * ndtr(-z), 1e-300)  # share of lead times that are longer still
    days = line.lead.days * np.exp(-line.lead.log_sd * ndtri(left)) - gone
    return np.maximum(days, 0.0)


def sample_missing(
    parts: PartsList,
    samples: int,
    seed: int,
    *,
    day: date | None = None,
    today: date | None = None,
    correlation: float | None = None,
) -> MissingSample:
    """Which tasks wait how long for what is missing where all is needed on one day, drawn so often.

    day: on which the parts are needed; without it only wrong parts are drawn. Lines without a task make
    nobody wait. Raises ValueError for no samples.
    """
    counted = parts.counted
    needed = {} if day is None else {line.key: day for line in counted}
    wait = arrivals(parts, samples, seed, today=today, needed=needed, correlation=correlation).wait
    tasks = tuple(dict.fromkeys(task for line in counted for task in line.tasks))
    of_task = np.zeros((samples, len(tasks)))
    for number, task in enumerate(tasks):
        columns = [k for k, line in enumerate(counted) if task in line.tasks]
        of_task[:, number] = wait[:, columns].max(axis=1)
    return MissingSample(tasks, of_task, np.asarray((wait > 0.0).sum(axis=1), dtype=np.int64))
