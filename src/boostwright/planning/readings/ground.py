"""What an expected range is worked out from, and what it is."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from boostwright.build.document import Build
from boostwright.quantity import COVERAGE

if TYPE_CHECKING:
    from boostwright.findings.result import CheckResult

__all__ = ["Expected", "Ground"]


@dataclass(frozen=True, slots=True)
class Expected:
    """The range in which a reading is expected [SI].

    middle, sd: what this build should show and how sure that is; None where only limits are known. low, high:
    ends of the range, None for an open one. A rule puts limits there; `scattered` cuts the band of `COVERAGE`
    standard deviations by them. why: one sentence; source: where it comes from. about: fields of the build
    file that move it. even: least share of the highest place that the lowest shows, both counted from
    `even_from` below zero [SI]. if_low, if_high: what a reading beyond that end points at, '' where only the
    measurement's own harm is known.
    """

    low: float | None
    high: float | None
    middle: float | None
    sd: float | None
    why: str
    source: str
    about: tuple[str, ...] = ()
    even: float | None = None
    even_from: float = 0.0
    if_low: str = ""
    if_high: str = ""

    @classmethod
    def band(
        cls,
        middle: float,
        sd: float,
        why: str,
        source: str,
        about: tuple[str, ...] = (),
        at_least: float | None = None,
        at_most: float | None = None,
    ) -> Expected:
        """The range around a middle; at_least, at_most: limits that hold whatever the middle is."""
        return cls(at_least, at_most, middle, sd, why, source, about)

    def scattered(self, repeat: float) -> Expected:
        """The range with the scatter of one reading in it, ends worked out from middle and spread.

        repeat: standard deviation of one reading from day to day [SI]. A limit that lies beyond the far end
        of the band leaves that end open: nothing better than the limit is ever wrong.
        """
        if self.middle is None or self.sd is None:
            return self
        sd = math.hypot(self.sd, repeat)
        low, high = self.middle - COVERAGE * sd, self.middle + COVERAGE * sd
        least, most = self.low, self.high
        low_, high_ = low if least is None else max(low, least), high if most is None else min(high, most)
        return replace(
            self,
            low=None if most is not None and most <= low else low_,
            high=None if least is not None and least >= high else high_,
            sd=sd,
        )


@dataclass(frozen=True, slots=True)
class Ground:
    """What rules see: the build as its file states it, a check of it if there is one, and what else was read
    on the same side, by measurement [SI, mean of all places].
    """

    build: Build
    result: CheckResult | None = None
    others: Mapping[str, float] = field(default_factory=dict)
