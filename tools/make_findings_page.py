"""Write docs/findings.md from the rules and limits themselves: `.venv/bin/python
tools/make_findings_page.py`.

With `--check` it writes nothing and ends with 1 when the page is not what it would write.
"""

from __future__ import annotations

import sys
from pathlib import Path

from boostwright.findings.judge import BREAKS_BELOW, HOLDS_FROM
from boostwright.findings.limits import shipped_limits
from boostwright.findings.model import Harm
from boostwright.findings.notes import not_covered
from boostwright.findings.registry import rules
from boostwright.views.numbers import say_band

PAGE = Path(__file__).resolve().parent.parent / "docs" / "findings.md"


def page() -> str:
    """The text of the page."""
    lines = [
        "# Findings",
        "",
        (
            "This page is made from the rules themselves by `tools/make_findings_page.py`; a test keeps"
            " it current."
        ),
        "",
        (
            "A finding sets what is asked of a part against what the part stands, each with its spread,"
            " and says how"
        ),
        "likely it is to hold. The probability takes both sides as independent normal quantities:",
        "",
        "    P = Phi((stands - asked) / sqrt(sd_stands^2 + sd_asked^2))",
        "",
        (
            "The word follows probability and harm; the list is sorted by harm times the probability of"
            " not holding."
        ),
        "What nobody knows is unknown, never a quiet 'holds'.",
        "",
        "| harm | weight | 'holds' from | 'breaks' below |",
        "|---|---|---|---|",
    ]
    lines += [
        f"| {harm.value}: {harm.words} | {harm.weight:.0f} | {100 * HOLDS_FROM[harm]:.4g} % |"
        f" {100 * BREAKS_BELOW[harm]:.3g} % |"
        for harm in Harm
    ]
    lines += ["", "## Rules", ""]
    for rule in rules():
        lines += [
            f"### `{rule.code}`: {rule.subject}",
            "",
            rule.asks,
            "",
            f"* asked: {rule.demand}",
            f"* stands: {rule.capacity}",
            f"* safe side: what is asked is {rule.sense.value} what it stands",
            f"* if not: {rule.harm_words} (harm {rule.harm.value}: {rule.harm.words})",
        ]
        if rule.limits:
            lines.append(f"* limits: {', '.join(f'`{key}`' for key in rule.limits)}")
        lines.append("")
    lines += [
        "## Limits",
        "",
        (
            "What follows ± holds the truth 19 times out of 20. You may replace any limit in the build file,"
            " with"
        ),
        (
            "a reason; it then shows as edited on every output. A value without `+/-` keeps the spread of the"
            " limit"
        ),
        "that it replaces.",
        "",
        "```toml",
        "[[limits]]",
        'limit = "injector_duty"',
        'value = "90 +/- 4 %"',
        'reason = "set measured on a bench, closes to 94 %"',
        "```",
        "",
        "| key | limit | value | source | reason |",
        "|---|---|---|---|---|",
    ]
    for key, limit in shipped_limits().items():
        band = say_band(limit.amount).replace("\u00a0", " ")
        lines.append(
            f"| `{key}` | {limit.amount.name} | {band} | {limit.record.source} | {limit.record.reason} |"
        )
    lines += ["", "## What 'holds' does not cover", ""]
    lines += [f"* {item}" for item in not_covered()]
    return "\n".join(lines) + "\n"


def main(words: list[str]) -> int:
    """Write the page, or compare it."""
    text = page()
    if "--check" in words:
        return 0 if PAGE.exists() and PAGE.read_text(encoding="utf-8") == text else 1
    PAGE.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
