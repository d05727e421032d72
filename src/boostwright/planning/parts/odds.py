"""The odds that something is missing on the day, and which tasks then wait for how long.

A line is missing because it is wrong (never tried on, lost, the other thread) or because it is late. Lines of
one order hang together: behind each of the two stands one common factor for every order (vasicek1987): with a
correlation of 0 they are independent, with 1 a whole order misses as one.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
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
    "any_of",
    "any_together",
    "late_odds",
    "longer_than",
    "missing_odds",
    "ordered_since",
    "wrong_odds",
]

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
    unordered: lines that nobody has ordered; the odds hold only if they are ordered on `today`. planned: each
    line has a day of its own, `day` is the first of them.
    """

    lines: tuple[LineOdds, ...]
    independent: float
    together: float
    expected: float
    day: date | None
    today: date | None
    unordered: int
    orders: int
    planned: bool = False


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


def wrong_odds(line: Line) -> float:
    """That a line which is there turns out to be the wrong one, or lost [-]."""
    known = odds()
    return known.tried if line.tried else known.untried


def longer_than(days: float, line: Line) -> float:
    """That a line takes longer than so many days from its order [-]."""
    if line.lead.days <= 0.0:
        return 0.0
    if days <= 0.0:
        return 1.0
    if line.lead.log_sd <= 0.0:
        return float(days < line.lead.days)
    return 0.5 * math.erfc(math.log(days / line.lead.days) / (line.lead.log_sd * math.sqrt(2.0)))


def ordered_since(line: Line, today: date) -> int:
    """Days since a line was ordered; 0 for one that is ordered today."""
    return 0 if line.ordered_on is None else max(0, (today - line.ordered_on).days)


def late_odds(line: Line, day: date, today: date) -> float:
    """That a line which is not here `today` is not here on `day` either [-].

    The lead time is read as lognormal; what was ordered some days ago and has not come is known to take
    longer than that. A line that nobody has ordered counts as ordered today.
    """
    if line.state in (State.HAVE, State.NOT_NEEDED):
        return 0.0
    gone = ordered_since(line, today) if line.state is State.ORDERED else 0
    not_yet = longer_than(gone, line) if gone else 1.0
    then = longer_than(gone + (day - today).days, line)
    return min(1.0, then / not_yet) if not_yet > 1e-300 else 1.0


# ------------------------------------------------------------------------------------------ all lines


def missing_odds(
    parts: PartsList,
    day: date | None = None,
    today: date | None = None,
    needed: Mapping[str, date] | None = None,
) -> MissingOdds:
    """The odds that at least one counted line is missing on `day`, seen from `today`.

    needed: the day of each line, by its key, where it is another than `day`. Without a day, or without today,
    nothing is late and only what is wrong counts.
    """
    known = odds()
    counted = parts.counted
    days = dict.fromkeys((line.key for line in counted), day) | dict(needed or {})
    each = tuple(
        LineOdds(line.key, wrong_odds(line), _late_on(line, days[line.key], today)) for line in counted
    )
    timed = today is not None and any(days[line.key] is not None for line in counted)
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
        day if timed and day is not None else min(needed.values()) if timed and needed else None,
        today if timed else None,
        sum(line.to_pay for line in counted),
        len(orders),
        bool(timed and needed),
    )


def _late_on(line: Line, day: date | None, today: date | None) -> float:
    return 0.0 if day is None or today is None else late_odds(line, day, today)
