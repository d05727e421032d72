"""How a demand and a capacity become a probability, a verdict and a place in the list."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

from boostwright.findings.model import Amount, Finding, Harm, Sense, Verdict

__all__ = [
    "BREAKS_BELOW",
    "HOLDS_FROM",
    "probability_holds",
    "sort_findings",
    "verdict_of",
    "with_probability",
]

HOLDS_FROM = {
    Harm.NUISANCE: 0.75,
    Harm.POOR_RUNNING: 0.80,
    Harm.WEAR: 0.90,
    Harm.DAMAGE: 0.95,
    Harm.SEVERE: 0.975,
}
"""A finding 'holds' from this probability on; the worse the harm, the surer one must be."""

BREAKS_BELOW = {
    Harm.NUISANCE: 0.50,
    Harm.POOR_RUNNING: 0.50,
    Harm.WEAR: 0.50,
    Harm.DAMAGE: 0.60,
    Harm.SEVERE: 2.0 / 3.0,
}
"""A finding 'breaks' below this probability; between the two it is 'tight'."""


def probability_holds(demand: Amount | None, capacity: Amount | None, sense: Sense) -> float | None:
    """Probability that the demand stays on the safe side of the capacity, both taken as independent normals.

    P = Phi(z), z = (capacity - demand) / sqrt(sd_demand^2 + sd_capacity^2); the sign turns for `AT_LEAST`.

    demand, capacity: amounts of one kind [SI], or None.
    returns: 0..1, or None when a side or a spread is missing or not a number. With no spread on either side
        the answer is 0 or 1, and a demand exactly at its capacity holds.
    validity: the tails of real quantities are heavier than normal ones; below 1 % read 'rare', not the
    digits.
    errors: ValueError when the two sides are different kinds of quantity.
    """
    if demand is None or capacity is None or not (demand.known and capacity.known):
        return None
    if demand.kind is not capacity.kind:
        raise ValueError(
            f"cannot set {demand.kind.value} ({demand.name}) against {capacity.kind.value} ({capacity.name})"
        )
    assert demand.sd is not None
    assert capacity.sd is not None
    room = capacity.value - demand.value if sense is Sense.AT_MOST else demand.value - capacity.value
    sd = math.hypot(demand.sd, capacity.sd)
    if sd == 0.0:
        return 1.0 if room >= 0.0 else 0.0
    return 0.5 * math.erfc(-room / (sd * math.sqrt(2.0)))


def verdict_of(probability: float | None, harm: Harm) -> Verdict:
    """The word for a probability: holds, tight, breaks, or unknown.

    holds: the probability is at least `HOLDS_FROM[harm]` (75 % for a nuisance, 97.5 % for a destroyed
    engine).
    breaks: it is below `BREAKS_BELOW[harm]` (one half; two of three for a destroyed engine).
    tight: between the two.
    unknown: there is no probability, because a demand, a limit or a spread is not known.
    """
    if probability is None:
        return Verdict.UNKNOWN
    if probability >= HOLDS_FROM[harm]:
        return Verdict.HOLDS
    if probability < BREAKS_BELOW[harm]:
        return Verdict.BREAKS
    return Verdict.TIGHT


def with_probability(
    finding: Finding,
    probability: float | None,
    sampling_error: float | None = None,
    bound: int | None = None,
) -> Finding:
    """The finding with a probability that it holds, and the word that follows; with draws, their sampling
    error and the bound that they prove.

    An undecided finding stays unknown. One on a part that nobody stated may hold; anything less becomes
    'unknown', for an assumed part cannot break. One on comfort alone is tight at worst.
    """
    if finding.undecided or (
        finding.on_assumed_part and verdict_of(probability, finding.harm) is not Verdict.HOLDS
    ):
        probability = None
    verdict = verdict_of(probability, finding.harm)
    if finding.at_worst_tight and verdict is Verdict.BREAKS:
        verdict = Verdict.TIGHT
    return replace(
        finding,
        probability=probability,
        verdict=verdict,
        sampling_error=None if probability is None else sampling_error,
        bound=None if probability is None else bound,
    )


_ORDER = {Verdict.BREAKS: 0, Verdict.UNKNOWN: 1, Verdict.TIGHT: 1, Verdict.HOLDS: 2}


def sort_findings(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Worst first: by harm times the probability of not holding; equal ones by verdict, then by code.

    A broken finding on the condition of the engine comes before all others: it is the first gate.
    """
    return tuple(sorted(findings, key=lambda f: (not f.bars_all, -f.weight, _ORDER[f.verdict], f.code)))
