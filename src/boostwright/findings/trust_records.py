"""What a sampled check knows beside the findings themselves. Plain data, SI units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from boostwright.uncertainty.odds import Odds

__all__ = ["Band", "Chance", "FindingOdds", "Trust", "UnknownShare", "WorthOfReading"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Band:
    """A row of numbers as draws scatter it: what 5, 50 and 95 of a hundred lie below, each (n,).

    told: share of the draws that gave a number at all, (n,) [-].
    """

    low: Array
    middle: Array
    high: Array
    told: Array


@dataclass(frozen=True, slots=True)
class FindingOdds:
    """One finding over all draws.

    odds: that it holds. demand, capacity: what 5, 50 and 95 of a hundred lie below, what is left of the
    spread beside the draws included [SI]. corners: the share of draws in which each corner was the worst.
    told: share of the draws in which it could be told [-].
    """

    code: str
    odds: Odds
    demand: tuple[float, float, float]
    capacity: tuple[float, float, float]
    demand_sd: float
    capacity_sd: float
    corners: Mapping[str, float]
    told: float


@dataclass(frozen=True, slots=True)
class Chance:
    """The probability that many findings hold at once, from the same draws.

    words: which. odds: that all hold. counted: how many findings. left_out: codes that could not be told.
    """

    words: str
    odds: Odds
    counted: int
    left_out: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class UnknownShare:
    """The share of one unknown, or of some that move together, in the spread of a finding's room [-].

    names: fields of the build, or 'form.…'. alone: by itself; total: with all that it does together with
    others. error: of `alone`, one standard deviation.
    """

    names: tuple[str, ...]
    words: str
    alone: float
    total: float
    error: float


@dataclass(frozen=True, slots=True)
class WorthOfReading:
    """What one cheap reading is worth to one build.

    key, words, instrument, when, minutes, price: of the list [min], [EUR]. drop: expected fall of what may be
    lost, in units of harm weight. error: of it. cost: minutes at their rate and price together [EUR]. rate:
    drop for each unit of cost; the list is sorted by it. findings: codes that it helps most, the first most.
    """

    key: str
    words: str
    instrument: str
    when: str
    minutes: float
    price: float
    drop: float
    error: float
    cost: float
    findings: tuple[str, ...]
    caution: str = ""

    @property
    def rate(self) -> float:
        """Expected fall of loss for each unit of cost."""
        return self.drop / self.cost


@dataclass(frozen=True, slots=True)
class Trust:
    """A sampled check beside its findings.

    draws: computed and used. asked: the number asked for; None: by the rule. failed: why draws gave nothing,
    and how many. seed: from which all follow. ended: why it ended, in a sentence. unknowns: how many values
    were drawn. findings: code -> odds. whole: everything holds; safe: nothing of damage or worse happens.
    curves: name -> band. shares: code -> the largest shares of the unsure findings. unexplained: code ->
    share of the variance that the share estimate could not explain on draws held out [-]. readings: what to
    measure first. read_already: keys of readings that the file has as good. seconds: wall time.
    """

    draws: int
    asked: int | None
    failed: Mapping[str, int]
    seed: int
    ended: str
    unknowns: int
    findings: Mapping[str, FindingOdds]
    whole: Chance
    safe: Chance
    curves: Mapping[str, Band]
    shares: Mapping[str, tuple[UnknownShare, ...]] = field(default_factory=dict)
    unexplained: Mapping[str, float] = field(default_factory=dict)
    readings: tuple[WorthOfReading, ...] = ()
    read_already: tuple[str, ...] = ()
    seconds: float = 0.0
