"""The words and marks of verdicts and odds, the same on every door."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from boostwright.findings.model import Amount, Finding, Kind, Verdict
from boostwright.views.numbers import say, say_band

if TYPE_CHECKING:
    from boostwright.findings.result import CheckResult
    from boostwright.systems.corners import Threshold

__all__ = ["ASCII", "MARKS", "chance_of_whole", "headline", "odds", "odds_of", "plain", "threshold_words"]

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

_TOGETHER = 0.5  # chance of the whole below which the first line says it
_PARTS = (2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 100)


def odds(probability: float | None) -> str:
    """The odds in plain words with the number: 'holds in 5 of 6 cases (83 %)'."""
    if probability is None:
        return "cannot be told yet"
    if not 0.0 <= probability <= 1.0:
        raise ValueError(f"a probability lies between 0 and 1, not at {probability!r}")
    if probability >= 0.995:
        return "holds in more than 99 of 100 cases"
    if probability < 0.005:
        return "holds in fewer than 1 of 100 cases"
    smaller = min(probability, 1.0 - probability)
    for parts in _PARTS:
        count = round(probability * parts)
        if 0 < count < parts and abs(count / parts - probability) <= 0.06 * smaller + 0.005:
            break
    else:  # a hundred parts always come within the half percent
        parts, count = 100, min(99, max(1, round(probability * 100)))
    return f"holds in {count} of {parts} cases ({100 * probability:.0f}\u00a0%)"


def odds_of(finding: Finding) -> str:
    """The odds of a finding; with draws, their sampling error (two deviations) or the bound that they
    prove.
    """
    p, error = finding.probability, finding.sampling_error
    if p is None or error is None:
        return odds(p)
    if finding.bound is not None:
        return f"{'fails' if p > 0.5 else 'holds'} in fewer than 1 of {finding.bound} cases"
    if not error >= 0.0005:
        return odds(p)
    return f"holds in {100 * p:.0f} ± {max(200 * error, 1.0):.0f} % of cases"


def headline(findings: tuple[Finding, ...], verdict: Verdict, whole: float | None = None) -> str:
    """One sentence on the whole: how many hold, are tight, break, are unknown.

    whole: chance that all of it holds together, where draws tell it.
    """
    count = {v: sum(f.verdict is v for f in findings) for v in Verdict}
    total = len(findings)
    if verdict is Verdict.BREAKS:
        lead = "It does not hold as it stands."
        if any(f.bars_all for f in findings):
            lead = "The engine itself is not fit for boost as it stands; spend nothing on parts yet."
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
