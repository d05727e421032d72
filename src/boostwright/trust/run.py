"""The sampled check: the middle first, then draw after draw on all processors, until there are enough."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.findings.judge import sort_findings, with_probability
from boostwright.findings.judgement import Judged
from boostwright.findings.limit_edits import edits_of
from boostwright.findings.limits import LimitEdit
from boostwright.findings.model import Amount, Finding
from boostwright.findings.result import CheckResult
from boostwright.findings.trust_records import FindingOdds, Trust
from boostwright.trust.costs import costs_of
from boostwright.trust.draw import Draw, Request
from boostwright.trust.gather import bands_of, odds_of, whole_of
from boostwright.trust.insight import insight_of
from boostwright.trust.pool import BrokenOff, drawn
from boostwright.trust.unknowns import Unknowns, unknowns_of
from boostwright.uncertainty.design import Design

__all__ = ["MOST_SAMPLES", "REPLICATES", "Draws", "sampled"]

Array = NDArray[np.float64]
Progress = Callable[[str], None]
Partial = Callable[[CheckResult], None]

REPLICATES: Final = 8
MOST_SAMPLES: Final = 4096
STOPPING: Final = "stopping; the report on what is done follows"
_LOOKS: Final = (4, 8, 16, 32, 64)  # draws of each replicate after which the rule is asked
_SURE_ENOUGH: Final = 0.02  # sampling error of the chance of the whole at which the rule is content
_SAID_EVERY: Final = 16  # draws
_DIGITS: Final = 1  # of the standard uncertainty that must be right


@dataclass(frozen=True, slots=True)
class Draws:
    """How many draws. samples: None for as many as the rule asks for. processes: None: all processors."""

    samples: int | None = 256
    seed: int = 1
    processes: int | None = None


def sampled(
    build: Build,
    judged: Judged,
    plan: Draws,
    *,
    edits: tuple[LimitEdit, ...] = (),
    together: Mapping[tuple[str, str], float] | None = None,
    progress: Progress = lambda _: None,
    partial: Partial = lambda _: None,
) -> CheckResult:
    """The check of a build with odds from draws.

    judged: the middle, which `findings.judgement` made of the same build. plan: how many draws. together:
    correlations that a fit found. progress: told how far it is. partial: given the result as it stands, each
    time the draws have doubled. What is done when somebody breaks off is kept and said.
    """
    began = time.perf_counter()
    unknowns = unknowns_of(build, together)
    design = Design(unknowns.marginals, unknowns.correlation, replicates=REPLICATES, seed=plan.seed)
    arrival = judged.result.arrival
    request = Request(
        build,
        unknowns.names,
        np.asarray(judged.result.baseline.speeds),
        (*edits_of(build), *edits),
        () if arrival is None else tuple(pull.time for pull in arrival.pulls),
        judged.begin,
    )
    run = _Run(judged.result, request, design, unknowns, plan, began)
    return run.go(progress, partial)


class _Run:
    """One sampled check under way."""

    def __init__(
        self,
        middle: CheckResult,
        request: Request,
        design: Design,
        unknowns: Unknowns,
        plan: Draws,
        began: float,
    ) -> None:
        self.middle, self.request, self.design = middle, request, design
        self.unknowns, self.plan, self.began = unknowns, plan, began
        self.costs = costs_of(request.build)
        self.draws: list[Draw] = []
        self.scores: list[Array] = []

    def go(self, progress: Progress, partial: Partial) -> CheckResult:
        """Draw until there are enough, and gather."""
        asked = self.draws_asked
        most = -(-asked // REPLICATES) if asked is not None else _LOOKS[-1]
        looks = [n for n in _LOOKS if n < most]
        rows = [row for k in range(most) for row in self.design.block(k)]
        found: dict[int, Draw] = {}
        total = len(rows)
        coming = drawn(self.request, rows, self.plan.processes, lambda: progress(STOPPING))
        try:
            for place, one in coming:
                found[place] = one
                if len(found) % _SAID_EVERY == 0:
                    most_words = f"{'up to ' if asked is None else ''}{total}"
                    progress(f"draws: {len(found)} of {most_words}, {self._left(len(found), total)} left")
                self._take(found)
                if looks and self.blocks >= looks[0]:
                    looks.pop(0)
                    result = self._result("Draws go on.")
                    if asked is None and self._enough(result):
                        break
                    partial(result)
        except (BrokenOff, KeyboardInterrupt) as end:
            if isinstance(end, KeyboardInterrupt):  # it came while draws were being gathered
                progress(STOPPING)
            if not self.draws:
                return self.middle
            return self._result(f"Broken off by hand after {len(self.draws)} draws.", last=True)
        finally:
            coming.close()
        return self._result(self._why_ended(), last=True)

    @property
    def draws_asked(self) -> int | None:
        """How many draws were asked for; None: as many as the rule wants."""
        return self.plan.samples

    @property
    def blocks(self) -> int:
        """Whole blocks that are done: one draw of every replicate each."""
        return len(self.draws) // REPLICATES

    def _left(self, done: int, total: int) -> str:
        """Time that the draws still take at the pace so far, in words."""
        seconds = (time.perf_counter() - self.began) / done * (total - done)
        return f"{seconds:.0f} s" if seconds < 100.0 else f"{seconds / 60.0:.0f} min"

    def _take(self, found: dict[int, Draw]) -> None:
        """Keep the blocks that are whole, in order, so that all replicates are alike whenever it ends."""
        while True:
            first = len(self.draws)
            places = range(first, first + REPLICATES)
            if not all(place in found for place in places):
                return
            self.draws += [found[place] for place in places]
            self.scores += list(self.design.scores(first // REPLICATES))

    # ------------------------------------------------------------------------------------------ gathering

    def _result(self, ended: str, last: bool = False) -> CheckResult:
        used = np.array([not one.trouble for one in self.draws])
        draws = [one for one in self.draws if not one.trouble]
        failed = Counter(one.trouble for one in self.draws if one.trouble)
        if not draws:
            return replace(self.middle, warnings=(*self.middle.warnings, _none_came(failed)))
        replicate = (np.arange(len(self.draws)) % REPLICATES)[used]
        odds = odds_of(draws, replicate)
        findings = sort_findings(_with_odds(f, odds.get(f.code)) for f in self.middle.findings)
        whole, safe = whole_of(draws, replicate, findings, self.plan.seed)
        trust = Trust(
            draws=len(draws),
            asked=self.plan.samples,
            failed=dict(failed),
            seed=self.plan.seed,
            ended=ended,
            unknowns=len(self.unknowns.every),
            findings=odds,
            whole=whole,
            safe=safe,
            curves=bands_of(draws),
            seconds=time.perf_counter() - self.began,
        )
        if last:
            trust = self._with_insight(trust, draws, np.array(self.scores)[used], findings)
        return replace(self.middle, findings=findings, trust=trust)

    def _with_insight(
        self, trust: Trust, draws: list[Draw], scores: Array, findings: tuple[Finding, ...]
    ) -> Trust:
        """With shares and readings, which are asked for once, at the end."""
        found = insight_of(
            self.request.build,
            draws,
            scores,
            self.unknowns,
            self.design,
            findings,
            trust.findings,
            self.costs,
            self.plan.seed,
        )
        return replace(
            trust,
            shares=found.shares,
            unexplained=found.unexplained,
            readings=found.readings,
            read_already=found.read_already,
            seconds=time.perf_counter() - self.began,
        )

    def _enough(self, result: CheckResult) -> bool:
        from boostwright.uncertainty.stopping import settled

        trust = result.trust
        if trust is None or trust.whole.odds.sampling_error > _SURE_ENOUGH:
            return False
        if trust.safe.odds.sampling_error > _SURE_ENOUGH:
            return False
        table = np.array([self._torque(one) for one in self.draws])
        good = np.isfinite(table)
        if not good.all():
            table = np.where(good, table, np.nanmedian(table))
        return settled(table.reshape(-1, REPLICATES).T, digits=_DIGITS)

    def _torque(self, one: Draw) -> float:
        """The greatest torque of a draw, with the turbo where there is one [N m]."""
        curve = one.curves.get("goal.torque", one.curves.get("baseline.torque"))
        return float(np.nanmax(curve)) if curve is not None and np.isfinite(curve).any() else np.nan

    def _why_ended(self) -> str:
        done = len(self.draws)
        if self.plan.samples is not None:
            return f"The {done} draws asked for."
        if self._enough(self._result("")):
            return (
                f"After {done} draws the chance of the whole is known to {_SURE_ENOUGH:.0%} and the greatest"
                " torque, its spread and its ends to the first figure of that spread."
            )
        return f"After {done} draws, the most; the rule would have asked for more."


def _with_odds(finding: Finding, found: FindingOdds | None) -> Finding:
    """The finding with odds and spreads from draws; one that no draw could tell stays as it is."""
    if found is None or finding.of_the_file or finding.demand is None or finding.capacity is None:
        return finding
    if not (finding.demand.known and finding.capacity.known):
        return finding
    wider = replace(
        finding,
        demand=_spread(finding.demand, found.demand_sd),
        capacity=_spread(finding.capacity, found.capacity_sd),
    )
    return with_probability(wider, found.odds.probability, found.odds.sampling_error, found.odds.bound)


def _spread(amount: Amount, sd: float) -> Amount:
    return replace(amount, sd=sd)


def _none_came(failed: Counter[str]) -> str:
    why, count = failed.most_common(1)[0]
    return f"No draw could be computed; {count} of them ended with: {why}"
