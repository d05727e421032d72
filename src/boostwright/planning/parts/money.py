"""What it costs in all, with its spread, against the budget; and what to order first."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.library.supplies import odds
from boostwright.planning.parts.odds import late_odds
from boostwright.planning.parts.records import Band, Line, PartsList, State

__all__ = ["Driver", "Due", "Money", "Sum", "moments", "money", "order_first", "sample_sum"]

_SAMPLES: Final = 20_000
_NINE: Final = 1.2815515655446004  # standard deviations from the middle to the 90 % point
_CURRENCY: Final = "EUR"


class Sum(NamedTuple):
    """A sum of money [EUR]: 1 in 10 is below `low`, half below `middle`, 9 in 10 below `high`."""

    low: float
    middle: float
    high: float
    mean: float


class Driver(NamedTuple):
    """What a line adds to the total and to how unsure it is, both as shares [-]."""

    key: str
    of_cost: float
    of_spread: float


class Money(NamedTuple):
    """The money of a list. total: all lines and hired tools. left: what is still to be paid.

    budget, reserve: None where the file states none, or states it in another currency (`why_not`). over: odds
    that the total goes beyond the budget less its reserve, and beyond the whole of it [-].
    """

    total: Sum
    left: Sum
    parts: Sum
    spares: Sum
    tools: Sum
    drivers: tuple[Driver, ...]
    budget: float | None
    reserve: float | None
    over: tuple[float, float] | None
    why_not: str


class Due(NamedTuple):
    """The latest day on which a line must be ordered to be there in 9 of 10 cases.

    days: of lead time, the 90 % point. late: that day has gone by. needed: the day on which its first task
    begins. odds: that it is not there then if it is ordered today [-].
    """

    key: str
    by: date
    days: int
    late: bool
    needed: date
    odds: float


def moments(bands: Sequence[Band], correlation: float) -> tuple[float, float]:
    """Mean and standard deviation of a sum [EUR] of lognormal prices whose logarithms have this correlation:
    var = sum_ij m_i m_j (exp(r_ij s_i s_j) - 1), r_ii = 1.
    """
    mean = np.array([band.mean for band in bands])
    spread = np.array([band.log_sd for band in bands])
    if mean.size == 0:
        return 0.0, 0.0
    return float(mean.sum()), math.sqrt(float(_covariance(mean, spread, correlation).sum()))


def _covariance(
    mean: NDArray[np.float64], spread: NDArray[np.float64], correlation: float
) -> NDArray[np.float64]:
    between = np.full((mean.size, mean.size), correlation)
    np.fill_diagonal(between, 1.0)
    return np.asarray(np.outer(mean, mean) * np.expm1(between * np.outer(spread, spread)))


def sample_sum(bands: Sequence[Band], correlation: float, samples: int, seed: int) -> NDArray[np.float64]:
    """A sum of prices drawn so often [EUR], behind which one common factor stands."""
    random = np.random.default_rng(seed)
    common = random.standard_normal(samples)
    total = np.zeros(samples)
    for band in bands:
        z = math.sqrt(correlation) * common + math.sqrt(1.0 - correlation) * random.standard_normal(samples)
        total += band.middle * np.exp(band.log_sd * z)
    return total


def _sum(bands: Sequence[Band], seed: int) -> tuple[Sum, NDArray[np.float64]]:
    drawn = sample_sum(bands, odds().price_together, _SAMPLES, seed)
    low, middle, high = np.quantile(drawn, (0.1, 0.5, 0.9))
    mean, _ = moments(bands, odds().price_together)
    return Sum(float(low), float(middle), float(high), mean), drawn


def money(build: Build, parts: PartsList, seed: int = 1) -> Money:
    """What the list costs, against the budget of the build."""
    priced = [line for line in parts.lines if line.state is not State.NOT_NEEDED]
    tools = [
        tool.cost for tool in parts.tools if tool.cost is not None and tool.way == "hire" and not tool.there
    ]
    total, drawn = _sum([*(line.cost for line in priced), *tools], seed)
    left, _ = _sum([*(line.cost for line in priced if line.to_pay), *tools], seed)
    budget, reserve, why_not = _budget(build)
    over = None
    if budget is not None:
        kept = budget - (reserve or 0.0)
        over = float(np.mean(drawn > kept)), float(np.mean(drawn > budget))
    return Money(
        total,
        left,
        _sum([line.cost for line in priced if line.needed], seed)[0],
        _sum([line.cost for line in priced if not line.needed], seed)[0],
        _sum(tools, seed)[0],
        _drivers(priced),
        budget,
        reserve,
        over,
        why_not,
    )


def _budget(build: Build) -> tuple[float | None, float | None, str]:
    """Budget and reserve [EUR], or why they cannot be compared."""
    if not build.is_stated("budget.total"):
        return None, None, "the file states no budget (budget.total)"
    stated = build["budget.total"]
    unit = stated.text.strip().strip("\"'").rpartition(" ")[2]
    if unit.isalpha() and unit.upper() != _CURRENCY and unit.casefold() not in ("euro", "euros"):
        return None, None, f"the budget is in {unit} and the prices are in {_CURRENCY}: no rate is assumed"
    reserve = float(build["budget.reserve"].value) if build.is_stated("budget.reserve") else None
    return float(stated.value), reserve, ""


def _drivers(lines: Sequence[Line]) -> tuple[Driver, ...]:
    """The lines by what they add to the spread of the total, greatest first."""
    mean = np.array([line.cost.mean for line in lines])
    spread = np.array([line.cost.log_sd for line in lines])
    if mean.size == 0 or mean.sum() <= 0.0:
        return ()
    shares = _covariance(mean, spread, odds().price_together).sum(axis=1)
    whole = float(shares.sum()) or 1.0
    made = [
        Driver(line.key, float(m / mean.sum()), float(s / whole))
        for line, m, s in zip(lines, mean, shares, strict=True)
    ]
    return tuple(sorted(made, key=lambda one: (-one.of_spread, one.key)))


def order_first(
    parts: PartsList, day: date | None, today: date, needed: Mapping[str, date] | None = None
) -> tuple[Due, ...]:
    """The lines that nobody has ordered, the most urgent first, seen from `today`.

    day: on which they are needed. needed: line -> its day, where it is another. A line without either is left
    out: nothing waits for it.
    """
    found = []
    for line in parts.lines:
        on = (needed or {}).get(line.key, day)
        if not line.to_pay or on is None:
            continue
        days = math.ceil(line.lead.days * math.exp(_NINE * line.lead.log_sd) - 1e-9)
        by = on - timedelta(days=days)
        found.append(Due(line.key, by, days, by < today, on, late_odds(line, on, today)))
    return tuple(sorted(found, key=lambda due: (due.by, due.key)))
