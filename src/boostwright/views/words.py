"""The words and marks of verdicts and odds, the same on every door."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from boostwright.findings.judge import BREAKS_BELOW, HOLDS_FROM
from boostwright.findings.model import Amount, Finding, Harm, Kind, Verdict
from boostwright.views.numbers import say, say_band

if TYPE_CHECKING:
    from boostwright.findings.result import CheckResult
    from boostwright.systems.corners import Threshold

__all__ = [
    "ASCII",
    "MARKS",
    "chance_of_whole",
    "even_words",
    "headline",
    "odds",
    "odds_of",
    "plain",
    "rule_words",
    "threshold_words",
]

MARKS = {
    Verdict.HOLDS: "■",  # full square
    Verdict.TIGHT: "◧",  # half square
    Verdict.BREAKS: "✕",  # cross
    Verdict.UNKNOWN: "⬚",  # dotted square
}

ASCII = str.maketrans(
    {"■": "#", "◧": "/", "✕": "x", "⬚": ".", "±": "+/-", "\u00a0": " ", "–": "-", "─": "-", "│": "|"}
    | {"├": "|", "┤": "|", "┃": "!", "░": ".", "▒": ":", "▓": "%", "█": "#", "·": ".", "╱": "/"}
    | {"°": " deg", "²": "2", "³": "3", "λ": "lambda", "…": "...", "×": "x", "≥": ">=", "≤": "<="}
)
"""For a terminal that cannot print more than ASCII."""

_EVEN = 0.35  # a finding that breaks but holds so often does so at about even odds
_TOGETHER = 0.5  # chance of the whole below which the first line says it
_PARTS = (2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 100)


def odds(probability: float | None, verb: str = "holds") -> str:
    """The odds in plain words with the number: 'holds in 5 of 6 cases (83 %)'; `verb` may be another."""
    if probability is None:
        return "cannot be told yet"
    if not 0.0 <= probability <= 1.0:
        raise ValueError(f"a probability lies between 0 and 1, not at {probability!r}")
    if probability >= 0.995:
        return f"{verb} in more than 99 of 100 cases"
    if probability < 0.005:
        return f"{verb} in fewer than 1 of 100 cases"
    smaller = min(probability, 1.0 - probability)
    for parts in _PARTS:
        count = round(probability * parts)
        if 0 < count < parts and abs(count / parts - probability) <= 0.06 * smaller + 0.005:
            break
    else:  # a hundred parts always come within the half percent
        parts, count = 100, min(99, max(1, round(probability * 100)))
    return f"{verb} in {count} of {parts} cases ({100 * probability:.0f}\u00a0%)"


def odds_of(finding: Finding) -> str:
    """The odds of a finding, from the side of its verdict: how often it fails where it breaks, else how often
    it holds. With draws, their sampling error (two deviations) or the bound that they prove.
    """
    p, error = finding.probability, finding.sampling_error
    if p is None:
        return odds(p)
    if error is not None and finding.bound is not None:
        of_verdict = finding.verdict is Verdict.BREAKS
        side = "fails" if of_verdict else "holds"
        if (p > 0.5) == of_verdict:
            return f"{side} in fewer than 1 of {finding.bound} cases"
        return f"{side} in more than {finding.bound - 1} of {finding.bound} cases"
    breaks = finding.verdict is Verdict.BREAKS
    verb, often = ("fails", 1.0 - p) if breaks else ("holds", p)
    if error is None or not error >= 0.0005:
        return odds(often, verb)
    return f"{verb} in {100 * often:.0f} ± {max(200 * error, 1.0):.0f} % of cases"


def near_even(finding: Finding) -> bool:
    """Whether a finding that breaks does so at about even odds."""
    p = finding.probability
    return finding.verdict is Verdict.BREAKS and p is not None and p >= _EVEN


def even_words(finding: Finding) -> str:
    """Why a finding that may as well hold counts as breaking; '' for all others."""
    if not near_even(finding):
        return ""
    assert finding.probability is not None
    least, sure = BREAKS_BELOW[finding.harm], HOLDS_FROM[finding.harm]
    if finding.probability >= 0.5:
        first = "It holds oftener than it fails, but not often enough for what it would cost"
    else:
        first = "It fails hardly oftener than it holds: a better figure for either side may turn it"
    return (
        f"{first}. Where the harm is '{finding.harm.words}', what holds in less than {100 * least:.0f}\u00a0%"
        f" of cases counts as breaking, and from {100 * sure:.3g}\u00a0% on as holding."
    )


def rule_words() -> str:
    """One sentence on what the words holds, tight and breaks stand for."""
    low, high = Harm.NUISANCE, Harm.SEVERE
    return (
        f"'Holds' stands for odds from {100 * HOLDS_FROM[low]:.0f}\u00a0% ({low.words}) to"
        f" {100 * HOLDS_FROM[high]:.3g}\u00a0% ({high.words}) on, 'breaks' for odds below"
        f" {100 * BREAKS_BELOW[low]:.0f} to {100 * BREAKS_BELOW[high]:.0f}\u00a0%, 'tight' for those between."
    )


def headline(findings: tuple[Finding, ...], verdict: Verdict, whole: float | None = None) -> str:
    """One sentence on the whole: how many hold, are tight, break, are unknown.

    whole: chance that all of it holds together, where draws tell it.
    """
    count = {v: sum(f.verdict is v for f in findings) for v in Verdict}
    total = len(findings)
    if verdict is Verdict.BREAKS:
        lead = _lead_of_breaks(findings)
    elif verdict is Verdict.UNKNOWN:
        lead = "It cannot be told yet."
    elif whole is not None and whole < _TOGETHER:
        percent = f"{100 * whole:.0f}" if whole >= 0.005 else "less than 1"
        lead = f"One by one the findings hold more often than not, all together in {percent}\u00a0% of cases."
    elif verdict is Verdict.TIGHT:
        lead = "It holds, but not with room everywhere."
    else:
        lead = "It holds, within what was judged."
    words = {
        Verdict.BREAKS: ("breaks", "break"),
        Verdict.UNKNOWN: ("is unknown", "are unknown"),
        Verdict.TIGHT: ("is tight", "are tight"),
        Verdict.HOLDS: ("holds", "hold"),
    }
    said = [f"{count[v]} {one if count[v] == 1 else many}" for v, (one, many) in words.items() if count[v]]
    return f"{lead} Of {total} findings: {', '.join(said)}."


def _lead_of_breaks(findings: tuple[Finding, ...]) -> str:
    """What is said first of a build in which something breaks: the engine's own condition before all else,
    and whether it breaks for sure or at about even odds.
    """
    barred = [f for f in findings if f.bars_all]
    even = all(near_even(f) for f in barred or findings if f.verdict is Verdict.BREAKS)
    if barred:
        if even:
            return (
                "Whether the engine itself is fit for boost is about even odds; spend nothing on parts yet."
            )
        return "The engine itself is not fit for boost as it stands; spend nothing on parts yet."
    return "It may hold or not, at about even odds." if even else "It does not hold as it stands."


def chance_of_whole(result: CheckResult) -> float | None:
    """Chance that everything holds together [-]; None without draws."""
    return None if result.trust is None else result.trust.whole.odds.probability


def threshold_words(threshold: Threshold) -> str:
    """Where full boost begins at a steady speed: from below with its band, and from above."""
    from boostwright.findings.subjects.boost import (
        one_threshold,
        threshold_amount,
    )  # not by a door that only prints

    if not math.isfinite(threshold.coming_up):
        return "At a steady speed full boost comes nowhere in the range that was looked at."
    up = say_band(threshold_amount(threshold))
    if one_threshold(threshold):
        return f"At a steady speed full boost comes at {up}, the same on the way up and on the way down."
    down = say(Amount(threshold.coming_down, None, Kind.ENGINE_SPEED))
    return (
        f"At a steady speed full boost comes at {up} on the way up, and stays down to {down} on the way down."
    )


def plain(text: str) -> str:
    """The same text in ASCII."""
    return text.translate(ASCII)
