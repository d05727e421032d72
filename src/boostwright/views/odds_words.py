"""The words of a sampled check: odds with their error, bounds, shares, and what to measure first."""

from __future__ import annotations

from boostwright.findings.result import CheckResult
from boostwright.findings.trust_records import Chance, FindingOdds, Trust
from boostwright.uncertainty.odds import Odds
from boostwright.views.words import chance_of_whole, headline

__all__ = ["bound_words", "chance_words", "corner_words", "so_far", "trust_words"]


def bound_words(found: Odds) -> str:
    """What a sample proves where it saw one side only: 'fails in fewer than 1 of 80 cases'; '' otherwise."""
    if found.bound is None:
        return ""
    side = "fails" if found.probability > 0.5 else "holds"
    return f"{side} in fewer than 1 of {found.bound} cases"


def chance_words(chance: Chance) -> str:
    """One sentence on a chance of the whole."""
    said = bound_words(chance.odds)
    if said:
        percent = said.replace("fails", "not so").replace("holds", "so")
    else:
        percent = (
            f"{100 * chance.odds.probability:.0f} ± {max(200 * chance.odds.sampling_error, 0.5):.0f}\u00a0%"
        )
    left = f", {len(chance.left_out)} that cannot be told not counted" if chance.left_out else ""
    return f"{chance.words[0].upper()}{chance.words[1:]}: {percent} (of {chance.counted} findings{left})."


def trust_words(trust: Trust) -> str:
    """One sentence on how the odds were made."""
    failed = sum(trust.failed.values())
    lost = f" {failed} draws could not be computed and count for nothing." if failed else ""
    return (
        f"{trust.draws} draws of {trust.unknowns} things that are not known for sure, seed {trust.seed}, in"
        f" {trust.seconds:.0f}\u00a0s.{lost} {trust.ended}"
    )


def so_far(result: CheckResult) -> str:
    """A line on how it stands while draws go on."""
    trust = result.trust
    if trust is None:
        return f"Before any draw: {headline(result.findings, result.verdict, chance_of_whole(result))}"
    chance = trust.safe.odds
    if chance.bound is not None:
        word = "fewer than 1 of" if chance.probability < 0.5 else "all but fewer than 1 of"
        return f"After {trust.draws} draws: {trust.safe.words} in {word} {chance.bound} cases."
    said = f"{100 * chance.probability:.0f} ± {200 * chance.sampling_error:.0f}\u00a0%"
    return f"After {trust.draws} draws: {trust.safe.words} with a chance of {said}."


def corner_words(found: FindingOdds) -> str:
    """Which corner was the worst how often; '' where it was always the same."""
    if len(found.corners) < 2:
        return ""
    said = [f"{name or 'any day'} in {100 * share:.0f}\u00a0%" for name, share in found.corners.items()]
    return "Worst most often: " + ", ".join(said[:3]) + "."
