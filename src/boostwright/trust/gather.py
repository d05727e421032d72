"""From many draws to odds, bands and the probability that many findings hold at once."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import special

from boostwright.findings.model import Finding, Harm
from boostwright.findings.trust_records import Band, Chance, FindingOdds
from boostwright.trust.draw import Draw, Side
from boostwright.uncertainty.odds import odds

__all__ = ["bands_of", "chance_of", "odds_of", "whole_of"]

Array = NDArray[np.float64]
Replicates = NDArray[np.int64]

_QUANTILES = (0.05, 0.5, 0.95)
_INNER = 64  # times that what is left of the spreads is drawn within each draw
_FEWEST_TOLD = 0.5  # share of the draws in which a finding must have numbers, to have odds


def odds_of(draws: Sequence[Draw], replicate: Replicates) -> dict[str, FindingOdds]:
    """Odds of every finding that could be told in at least half of the draws. draws: (n,). replicate: (n,)
    which scrambled net each belongs to.
    """
    codes = sorted({code for one in draws for code in one.findings})
    found = {}
    for code in codes:
        sides = [one.findings.get(code) for one in draws]
        told = np.array([side is not None for side in sides])
        if told.mean() < _FEWEST_TOLD:
            continue
        found[code] = _finding(code, [s for s in sides if s is not None], replicate[told], float(told.mean()))
    return found


def _finding(code: str, sides: list[Side], replicate: Replicates, told: float) -> FindingOdds:
    holds = np.array([s.holds for s in sides])
    demand = np.array([(s.demand, s.demand_sd) for s in sides])
    capacity = np.array([(s.capacity, s.capacity_sd) for s in sides])
    corners = Counter(s.corner for s in sides)
    return FindingOdds(
        code=code,
        odds=odds(holds, replicate),
        demand=_with_left(demand),
        capacity=_with_left(capacity),
        demand_sd=_whole_sd(demand),
        capacity_sd=_whole_sd(capacity),
        corners={name: count / len(sides) for name, count in corners.most_common()},
        told=told,
    )


def _whole_sd(column: Array) -> float:
    """Standard deviation of draws and what is left of the spread in each; column (n, 2)."""
    return math.sqrt(float(np.var(column[:, 0]) + np.mean(column[:, 1] ** 2)))


def _with_left(column: Array) -> tuple[float, float, float]:
    """Quantiles of the mixture of normals that draws and what is left make; column (n, 2)."""
    steps = special.ndtri((np.arange(16) + 0.5) / 16.0)
    spread = column[:, :1] + column[:, 1:] * steps[None, :]
    low, middle, high = (float(q) for q in np.quantile(spread, _QUANTILES))
    return low, middle, high


def bands_of(draws: Sequence[Draw]) -> dict[str, Band]:
    """The band of every curve; a curve that changed its length between draws is left out."""
    names = sorted({name for one in draws for name in one.curves})
    found = {}
    for name in names:
        rows = [one.curves[name] for one in draws if name in one.curves]
        if len({row.shape for row in rows}) != 1:
            continue
        table = np.stack(rows)
        known = np.isfinite(table)
        told = known.sum(axis=0) / len(draws)
        with np.errstate(all="ignore"):
            filled = np.where(known.any(axis=0), table, 0.0)
            low, middle, high = np.nanquantile(filled, _QUANTILES, axis=0)
        empty = ~known.any(axis=0)
        low, middle, high = (np.where(empty, np.nan, q) for q in (low, middle, high))
        found[name] = Band(low, middle, high, told)
    return found


def whole_of(
    draws: Sequence[Draw], replicate: Replicates, findings: Sequence[Finding], seed: int
) -> tuple[Chance, Chance]:
    """The chance that everything holds, and that nothing of damage or worse happens.

    findings: those of the middle, with their odds in. Findings that cannot be told are left out and named;
    those on the file itself are no part of the car and do not count.
    """
    findings = [f for f in findings if not f.of_the_file]
    told = [f for f in findings if f.probability is not None]
    left_out = tuple(f.code for f in findings if f.probability is None)
    grave = [f for f in told if f.harm >= Harm.DAMAGE]
    grave_out = tuple(f.code for f in findings if f.probability is None and f.harm >= Harm.DAMAGE)
    return (
        chance_of("everything that can be told holds", draws, replicate, told, left_out, seed),
        chance_of("nothing damages engine or turbo", draws, replicate, grave, grave_out, seed),
    )


def chance_of(
    words: str,
    draws: Sequence[Draw],
    replicate: Replicates,
    findings: Sequence[Finding],
    left_out: tuple[str, ...],
    seed: int,
) -> Chance:
    """The chance that all of some findings hold.

    Within each draw, what is left of a limit's spread is shared by the findings that stand against that
    limit; what is left of each demand is taken as its own.
    """
    codes = {f.code: i for i, f in enumerate(findings)}
    limits: dict[str, int] = {}
    for one in draws:
        for code in codes:
            side = one.findings.get(code)
            if side is not None:
                limits.setdefault(side.limit, len(limits))
    rng = np.random.default_rng(seed)
    of_demand = rng.standard_normal((_INNER, len(codes)))
    of_limit = rng.standard_normal((_INNER, len(limits)))
    all_hold = np.array([_all_hold(one.findings, codes, limits, of_demand, of_limit) for one in draws])
    return Chance(words, odds(all_hold, replicate), len(codes), left_out)


def _all_hold(
    sides: Mapping[str, Side],
    codes: Mapping[str, int],
    limits: Mapping[str, int],
    of_demand: Array,
    of_limit: Array,
) -> float:
    """Share of the inner draws in which all hold; a finding without numbers in this draw does not count."""
    known = [(side, i) for code, i in codes.items() if (side := sides.get(code)) is not None]
    if not known:
        return 1.0
    room = np.array([side.room for side, _ in known])
    demand_sd = np.array([side.demand_sd for side, _ in known])
    limit_sd = np.array([side.capacity_sd for side, _ in known])
    by_demand = of_demand[:, [i for _, i in known]]
    by_limit = of_limit[:, [limits[side.limit] for side, _ in known]]
    left = room + demand_sd * by_demand + limit_sd * by_limit
    return float(np.mean(np.all(left >= 0.0, axis=1)))
