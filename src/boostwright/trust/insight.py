"""Where the spread of unsure findings comes from, and which cheap reading would change most.

Both stand on surrogates of the findings' rooms: sparse polynomials in the scores of the draws, whose error on
draws held out is carried as a spread of its own and shown.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, special

from boostwright.build.document import Build
from boostwright.build.values import Source
from boostwright.findings.judge import HOLDS_FROM
from boostwright.findings.model import Finding
from boostwright.findings.trust_records import FindingOdds, UnknownShare, WorthOfReading
from boostwright.library.readings import CheapReading, cheap_readings
from boostwright.trust.costs import Cost
from boostwright.trust.draw import Draw
from boostwright.trust.unknowns import Unknowns
from boostwright.uncertainty.design import Design
from boostwright.uncertainty.marginals import TwoPoint
from boostwright.uncertainty.shares import shares_of
from boostwright.uncertainty.surrogate import Scale, Surrogate, fit_surrogate
from boostwright.uncertainty.worth import Stake, worth_of

__all__ = ["Insight", "insight_of"]

Array = NDArray[np.float64]

_SETTLED: Final = 0.003  # probability from either end at which a finding needs no reasons
_FEWEST: Final = 48  # draws, below which nothing is said of shares
_CHEAP: Final = 2048  # draws of the surrogates
_KEPT: Final = 8  # shares of a finding
_LEAST: Final = 0.005  # share that is worth keeping
_NARROWER: Final = 0.85  # a reading must leave less than this of a spread
_AS_GOOD: Final = 1.15  # a stated spread up to so much of the reading's is as good as read
_SEED: Final = 20_000  # apart from that of the draws


class Insight(NamedTuple):
    """What the draws say beside odds."""

    shares: Mapping[str, tuple[UnknownShare, ...]]
    unexplained: Mapping[str, float]
    readings: tuple[WorthOfReading, ...]
    read_already: tuple[str, ...]  # keys of readings that the file has as good


class _Question(NamedTuple):
    """One unsure finding and the surrogate of its room."""

    finding: Finding
    surrogate: Surrogate
    left: float  # standard deviation of what no draw carries
    limit_share: float  # of all variance, by the limit's own spread
    demand_share: float  # of all variance, by what is left of the demand's


def insight_of(
    build: Build,
    draws: Sequence[Draw],
    scores: Array,
    unknowns: Unknowns,
    design: Design,
    findings: Sequence[Finding],
    odds: Mapping[str, FindingOdds],
    costs: Mapping[str, Cost],
    seed: int,
) -> Insight:
    """Shares and readings. draws: (n,) with their independent scores (n, d). findings: with their odds."""
    if len(draws) < _FEWEST:
        return Insight({}, {}, (), ())
    scales = [Scale.TWO if isinstance(m, TwoPoint) else Scale.NORMAL for m in unknowns.marginals]
    unsure = [f for f in findings if f.code in odds and _is_unsure(f)]
    questions = [q for f in unsure if (q := _question(f, draws, scores, scales)) is not None]
    shares, unexplained = {}, {}
    for question in questions:
        shares[question.finding.code], unexplained[question.finding.code] = _shares(
            question, draws, scores, unknowns
        )
    readings, already = _readings(build, questions, unknowns, design, costs, seed)
    return Insight(shares, unexplained, readings, already)


def _is_unsure(finding: Finding) -> bool:
    p = finding.probability
    return (
        p is not None
        and finding.sampling_error is not None
        and _SETTLED < p < 1.0 - _SETTLED
        and not finding.of_the_file
    )


def _question(
    finding: Finding, draws: Sequence[Draw], scores: Array, scales: Sequence[Scale]
) -> _Question | None:
    sides = [(i, side) for i, one in enumerate(draws) if (side := one.findings.get(finding.code)) is not None]
    if len(sides) < _FEWEST:
        return None
    places = [i for i, _ in sides]
    room = np.array([side.room for _, side in sides])
    of_demand = float(np.mean([side.demand_sd**2 for _, side in sides]))
    of_limit = float(np.mean([side.capacity_sd**2 for _, side in sides]))
    whole = float(np.var(room)) + of_demand + of_limit
    if not math.isfinite(whole) or whole <= 0.0:
        return None
    made = fit_surrogate(scores[places], room, scales)
    return _Question(finding, made, math.sqrt(of_demand + of_limit), of_limit / whole, of_demand / whole)


# ---------------------------------------------------------------------------------------------- shares


def _shares(
    question: _Question, draws: Sequence[Draw], scores: Array, unknowns: Unknowns
) -> tuple[tuple[UnknownShare, ...], float]:
    """The largest shares, what the limit itself is unsure by among them; and what is not explained."""
    code = question.finding.code
    places = [i for i, one in enumerate(draws) if code in one.findings]
    room = np.array([draws[i].findings[code].room for i in places])
    carried = 1.0 - question.limit_share - question.demand_share
    found = [
        UnknownShare(
            tuple(unknowns.every[c].name for c in share.columns),
            _words(unknowns, share.columns),
            carried * share.alone,
            carried * share.total,
            carried * share.error,
        )
        for share in shares_of(question.surrogate, scores[places], room, unknowns.groups())
        if carried * share.total > _LEAST
    ]
    for words, value in (
        ("how well the limit itself is known", question.limit_share),
        ("what no value of the file tells of what is asked", question.demand_share),
    ):
        if value > _LEAST:
            found.append(UnknownShare((), words, value, value, 0.0))
    found.sort(key=lambda s: -s.total)
    return tuple(found[:_KEPT]), carried * question.surrogate.held_out


def _words(unknowns: Unknowns, columns: tuple[int, ...]) -> str:
    first = [unknowns.every[c].words for c in columns]
    if len(first) == 1:
        return first[0]
    return f"{first[0]} and {first[1]}" if len(first) == 2 else f"{first[0]} and what moves with it"


# -------------------------------------------------------------------------------------------- readings


def _readings(
    build: Build,
    questions: Sequence[_Question],
    unknowns: Unknowns,
    design: Design,
    costs: Mapping[str, Cost],
    seed: int,
) -> tuple[tuple[WorthOfReading, ...], tuple[str, ...]]:
    """Every reading that would narrow something, the best for its cost first; and those that are there."""
    already, found = [], []
    rng = np.random.default_rng([_SEED, seed])
    scores = rng.standard_normal((_CHEAP, len(unknowns.every)))
    stakes = [_stake(q, scores) for q in questions]
    column = {name: i for i, name in enumerate(unknowns.names)}
    drawn: dict[int, Array] = {}
    moved = design.correlated(scores)
    for key, reading in cheap_readings().items():
        after = _narrowed(build, reading, unknowns, column)
        if not after:
            if _read_already(build, reading):
                already.append(key)
            continue
        for i in after:
            if i not in drawn:
                u = np.clip(special.ndtr(moved[:, i]), 1e-12, 1.0 - 1e-12)
                drawn[i] = unknowns.marginals[i].ppf(u)
        found.append(
            _worth(reading, [(drawn[i], sd) for i, sd in after.items()], stakes, questions, costs, rng)
        )
    found.sort(key=lambda r: -r.rate)
    return tuple(found), tuple(already)


def _stake(question: _Question, scores: Array) -> Stake:
    """What hangs on a finding, over cheap draws, shifted so that they fail as often as the dear ones."""
    finding, made = question.finding, question.surrogate
    assert finding.probability is not None
    spread = math.sqrt(question.left**2 + made.held_out * made.variance)
    room = made(scores)
    spread = max(spread, 1e-6 * (float(np.std(room)) + abs(made.mean)), 1e-300)
    target = 1.0 - finding.probability

    def off(shift: float) -> float:
        return float(np.mean(special.ndtr(-(room + shift) / spread))) - target

    reach = 12.0 * (spread + float(np.std(room))) + abs(made.mean)
    shift = (
        float(optimize.brentq(off, -3.0 * reach, 3.0 * reach))
        if off(-3 * reach) * off(3 * reach) < 0
        else 0.0
    )
    fails = np.asarray(special.ndtr(-(room + shift) / spread))
    weight = finding.harm.weight
    return Stake(fails, weight, weight * (1.0 - HOLDS_FROM[finding.harm]))


def _narrowed(
    build: Build, reading: CheapReading, unknowns: Unknowns, column: Mapping[str, int]
) -> dict[int, float]:
    """Columns that a reading would narrow, and the spread of what it shows."""
    found = {}
    for path, after in reading.settles.items():
        i = column.get(path)
        if i is None:
            continue
        stated = build[path]
        sd = after.at(float(stated.value))
        if sd < _NARROWER * unknowns.marginals[i].sd:
            found[i] = sd
    return found


def _read_already(build: Build, reading: CheapReading) -> bool:
    """Whether the file has what this reading would give, measured and about as well."""
    known = [build.get(path) for path in reading.settles]
    return bool(known) and all(
        v is not None and v.source is Source.MEASURED and float(v.sd) <= _AS_GOOD * after.at(float(v.value))
        for v, after in zip(known, reading.settles.values(), strict=True)
    )


def _worth(
    reading: CheapReading,
    read: list[tuple[Array, float]],
    stakes: Sequence[Stake],
    questions: Sequence[_Question],
    costs: Mapping[str, Cost],
    rng: np.random.Generator,
) -> WorthOfReading:
    cost = costs[reading.key]
    drop = error = 0.0
    helps: list[str] = []
    if stakes:
        worth = worth_of(read, stakes, rng)
        drop, error = worth.whole, float(np.sqrt(np.sum(worth.error**2)))
        order = np.argsort(-worth.drop)
        helps = [questions[int(i)].finding.code for i in order[:3] if worth.drop[i] > 3.0 * worth.error[i]]
    return WorthOfReading(
        key=reading.key,
        words=reading.words,
        instrument=reading.instrument,
        when=reading.when,
        minutes=cost.minutes,
        price=cost.price,
        drop=drop,
        error=error,
        cost=cost.whole,
        findings=tuple(helps),
        caution=reading.caution,
    )
