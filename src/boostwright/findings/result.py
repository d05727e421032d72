"""What `check` hands back: everything that was judged and computed for one build, typed, in SI units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from boostwright.findings.case import BaselineLine, CornerLine, GoalLine, StrengthLine
from boostwright.findings.drawing import Drawing
from boostwright.findings.model import Amount, Finding, Verdict
from boostwright.findings.trust_records import Trust
from boostwright.systems.engine.types import EngineGeometry, Fuel
from boostwright.systems.transient.records import Arrival
from boostwright.systems.wastegate import GateAnswers

if TYPE_CHECKING:
    from boostwright.systems.corners import Threshold

__all__ = ["AssumedValue", "CheckResult", "SummaryRow", "overall"]


@dataclass(frozen=True, slots=True)
class SummaryRow:
    """One line of the summary of the build: a label, and an amount or words."""

    label: str
    amount: Amount | None = None
    words: str = ""


@dataclass(frozen=True, slots=True)
class AssumedValue:
    """A value that nobody stated and that findings rest on.

    field: name in the build file. title: in workshop words. text: the value as the class default writes it.
    weight: harm times probability, summed over the findings that rest on it; the list is sorted by it.
    """

    field: str
    title: str
    text: str
    weight: float
    findings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CheckResult:
    """One build judged.

    version: of boostwright. data_version: of the reference data shipped with it. fingerprint: of the inputs.
    created_with: the form of the build file.
    baseline: the engine before the turbo over speed, arrays (n,) [SI]. goal: the operating line at the
    boost asked for, arrays (m,) [SI], None when there is none; then `no_goal` says why. strength: the same
    air at MBT on the best fuel with the worst timing error. findings: worst first. assumed: the assumed
    values that matter most.
    not_covered: what a 'holds' does not cover. warnings: what was left out or taken for granted. unusual:
    values of the file that are possible but unusual. not_judged: fields that the file states and no finding
    reads yet. seconds: wall time of each stage [s]. drawing: what plots need beside: the lines of all days,
    the compressor's chart, the fuel side over speed; None when nobody asked for it. corners: the operating
    lines of the worst days. gate_shut: the line with the gate held shut. threshold: where the boost asked for
    is first held, from both sides. arrival: when boost comes after the throttle opens. gate: what spring and
    control make of the boost, arrays (m,). The last four are None where there is no goal line. trust: what
    draws add; None for a plain check.
    """

    version: str
    data_version: str
    fingerprint: str
    created_with: str
    name: str
    summary: tuple[SummaryRow, ...]
    engine: EngineGeometry
    fuel: Fuel
    baseline: BaselineLine
    goal: GoalLine | None
    strength: StrengthLine | None
    no_goal: str
    findings: tuple[Finding, ...]
    assumed: tuple[AssumedValue, ...]
    not_covered: tuple[str, ...]
    warnings: tuple[str, ...] = ()
    unusual: tuple[str, ...] = ()
    not_judged: tuple[str, ...] = ()
    seconds: Mapping[str, float] = field(default_factory=dict)
    drawing: Drawing | None = None
    corners: tuple[CornerLine, ...] = ()
    gate_shut: GoalLine | None = None
    threshold: Threshold | None = None
    arrival: Arrival | None = None
    gate: GateAnswers | None = None
    trust: Trust | None = None

    @property
    def verdict(self) -> Verdict:
        """The verdict on the whole build: the worst of its findings."""
        return overall(self.findings)

    def of(self, verdict: Verdict) -> tuple[Finding, ...]:
        """The findings with one verdict, worst first."""
        return tuple(f for f in self.findings if f.verdict is verdict)


def overall(findings: tuple[Finding, ...]) -> Verdict:
    """Breaks if anything breaks, else unknown if anything is unknown, else tight, else holds."""
    seen = {f.verdict for f in findings}
    for verdict in (Verdict.BREAKS, Verdict.UNKNOWN, Verdict.TIGHT):
        if verdict in seen:
            return verdict
    return Verdict.HOLDS if findings else Verdict.UNKNOWN
