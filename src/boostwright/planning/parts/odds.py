"""The odds that something is missing on the day, and which tasks then wait for how long.

A line is missing because it is wrong (never tried on, lost, the other thread) or because it is late. Lines of
one order hang together: behind each of the two stands one common factor for every order (vasicek1987): with a
correlation of 0 they are independent, with 1 a whole order misses as one.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from datetime import date
from functools import cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.library.supplies import odds
from boostwright.planning.parts.records import Line, PartsList, State

__all__ = [
    "LineOdds",
    "MissingOdds",
    "MissingSample",
    "any_of",
    "any_together",
    "late_odds",
    "missing_odds",
    "sample_missing",
]

_DAY: Final = 86400.0  # [s]
_NODES: Final = 96  # of the quadrature over the common factor
_STEEP: Final = 0.9  # correlation beyond which the integrand is a stair that Gauss-Hermite does not follow
_ENDS: Final = 8.5  # of the common factor; beyond lie 2e-17


class LineOdds(NamedTuple):
    """The odds that one line is missing on the day [-]."""

    key: str
    wrong: float
    late: float

    @property
    def missing(self) -> float:
        """Wrong or late [-]."""
        return 1.0 - (1.0 - self.wrong) * (1.0 - self.late)


class MissingOdds(NamedTuple):
    """The odds that the job stands for want of something [-].

    independent: at least one line missing, each for itself. together: the same where lines of one order hang
    together. expected: number of missing lines. day: None where no day was given, and nothing can be late.
    unordered: lines that nobody has ordered; the odds hold only if they are ordered on `today`.
    """

    lines: tuple[LineOdds, ...]
    independent: float
    together: float
    expected: float
    day: date | None
    today: date | None
    unordered: int
    orders: int


class MissingSample(NamedTuple):
    """wait: (samples, tasks) how long each task waits for what is missing [s]; 0 where nothing is."""

    tasks: tuple[str, ...]
    wait: NDArray[np.float64]
    missing: NDArray[np.int64]  # (samples,) number of missing lines


def any_of(each: Iterable[float]) -> float:
    """At least one of independent events: 1 - prod(1 - p) [-]. each: odds [-] in 0 .. 1."""
    return -math.expm1(sum(math.log1p(-p) if p < 1.0 else -math.inf for p in each))


@cache
def _hermite() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    nodes, weights = np.polynomial.hermite_e.hermegauss(_NODES)
    return nodes, weights / weights.sum()


def any_together(each: Sequence[float], correlation: float) -> float:
    """At least one of events behind which one common normal factor stands [-] (vasicek1987).

    1 - E_z prod_i Phi((Phi^-1(1 - p_i) - sqrt(r) z) / sqrt(1 - r)), by Gauss-Hermite quadrature. each: odds
    [-]. correlation: r between the normal variables of two events, 0 (independent) .. 1 (as one).
    """
    from scipy.special import log_ndtr, ndtri

    live = np.array([p for p in each if p > 0.0])
    if live.size == 0:
        return 0.0
    if live.max() >= 1.0:
        return 1.0
    if correlation >= 1.0:
        return float(live.max())
    if correlation <= 0.0:
        return any_of(float(p) for p in live)
    edge = -ndtri(live)

    def some(common: NDArray[np.float64]) -> NDArray[np.float64]:
        """At least one, where the common factor has these values."""
        inner = (edge[:, None] - math.sqrt(correlation) * common[None, :]) / math.sqrt(1.0 - correlation)
        return np.asarray(-np.expm1(log_ndtr(inner).sum(axis=0)))

    if correlation > _STEEP:
        return _by_pieces(some, float(edge.min()) / math.sqrt(correlation))
    nodes, weights = _hermite()
    return float(np.clip(np.sum(weights * some(nodes)), 0.0, 1.0))


def _by_pieces(some: Callable[[NDArray[np.float64]], NDArray[np.float64]], edge: float) -> float:
    """The mean over a standard normal of a function that climbs steeply about `edge` [-]."""
    from scipy.integrate import quad

    def weighted(z: float) -> float:
        return math.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi) * float(some(np.array([z]))[0])

    middle = min(max(edge, -_ENDS), _ENDS)
    found = sum(
        quad(weighted, low, high, limit=200)[0]
        for low, high in ((-_ENDS, middle), (middle, _ENDS))
        if low < high
    )
    return min(max(float(found), 0.0), 1.0)


# ------------------------------------------------------------------------------------------- one line


def _wrong(line: Line) -> float:
    known = odds()
    return known.tried if line.tried else known.untried


def _survival(days: float, line: Line) -> float:
    """That a line takes longer than so many days from its order [-]."""
    if line.lead.days <= 0.0:
        return 0.0
    if days <= 0.0:
        return 1.0
    if line.lead.log_sd <= 0.0:
        return float(days < line.lead.days)
    return 0.5 * math.erfc(math.log(days / line.lead.days) / (line.lead.log_sd * math.sqrt(2.0)))


def _since(line: Line, today: date) -> int:
    """Days since a line was ordered; 0 for one that is ordered today."""
    return 0 if line.ordered_on is None else max(0, (today - line.ordered_on).days)


def late_odds(line: Line, day: date, today: date) -> float:
    """That a line which is not here `today` is not here on `day` either [-].

    The lead time is read as lognormal; what was ordered some days ago and has not come is known to take
    longer than that. A line that nobody has ordered counts as ordered today.
    """
    if line.state in (State.HAVE, State.NOT_NEEDED):
        return 0.0
    gone = _since(line, today) if line.state is State.ORDERED else 0
    not_yet = _survival(gone, line) if gone else 1.0
    then = _survival(gone + (day - today).days, line)
    return min(1.0, then / not_yet) if not_yet > 1e-300 else 1.0


# ------------------------------------------------------------------------------------------ all lines


def missing_odds(parts: PartsList, day: date | None = None, today: date | None = None) -> MissingOdds:
    """The odds that at least one counted line is missing on `day`, seen from `today`.

    Without a day, or without today, nothing is late and only what is wrong counts.
    """
    known = odds()
    counted = parts.counted
    timed = day is not None and today is not None
    each = tuple(
        LineOdds(
            line.key,
            _wrong(line),
            late_odds(line, day, today) if timed and day is not None and today is not None else 0.0,
        )
        for line in counted
    )
    orders: dict[str, list[LineOdds]] = {}
    for line, one in zip(counted, each, strict=True):
        orders.setdefault(line.order, []).append(one)
    none = 1.0
    for lines in orders.values():
        for values in ([one.wrong for one in lines], [one.late for one in lines]):
            none *= 1.0 - any_together(values, known.together)
    return MissingOdds(
        each,
        any_of(one.missing for one in each),
        1.0 - none,
        math.fsum(one.missing for one in each),
        day if timed else None,
        today if timed else None,
        sum(line.to_pay for line in counted),
        len(orders),
    )


def sample_missing(
    parts: PartsList,
    samples: int,
    seed: int,
    *,
    day: date | None = None,
    today: date | None = None,
    correlation: float | None = None,
) -> MissingSample:
    """Which tasks wait how long for what is missing, drawn so often.

    day: on which the parts are needed; without it only wrong parts are drawn. What is late comes when it
    comes; what is wrong is got anew, in the lead time of where it is bought. correlation: of lines of one
    order [-]; None for the table's. Lines without a task make nobody wait. Raises ValueError for no samples.
    """
    if samples < 1:
        raise ValueError(f"{samples} samples; at least 1 is needed")
    from scipy.special import ndtr, ndtri

    counted = parts.counted
    tasks = tuple(dict.fromkeys(task for line in counted for task in line.tasks))
    place = {task: number for number, task in enumerate(tasks)}
    wait = np.zeros((samples, len(tasks)))
    missing = np.zeros(samples, dtype=np.int64)
    random = np.random.default_rng(seed)
    share = odds().together if correlation is None else correlation
    common: dict[str, NDArray[np.float64]] = {}
    for line in counted:
        if line.order not in common:
            common[line.order] = random.standard_normal((2, samples))
    for line in counted:
        own = random.standard_normal((3, samples))
        wrong_z, late_z = math.sqrt(share) * common[line.order] + math.sqrt(1.0 - share) * own[:2]
        again = line.lead.days * np.exp(line.lead.log_sd * own[2])
        days = np.where(wrong_z > -ndtri(_wrong(line)), again, 0.0)
        if day is not None and today is not None and line.state not in (State.HAVE, State.NOT_NEEDED):
            gone = _since(line, today) if line.state is State.ORDERED else 0
            not_yet = _survival(gone, line) if gone else 1.0
            left = np.maximum(not_yet * ndtr(-late_z), 1e-300)  # share of lead times that are longer still
            lead = line.lead.days * np.exp(-line.lead.log_sd * ndtri(left))
            days = np.maximum(days, lead - gone - (day - today).days)
        missing += days > 0.0
        for task in line.tasks:
            column = wait[:, place[task]]
            np.maximum(column, _DAY * days, out=column)
    return MissingSample(tasks, wait, missing)
