"""Write docs/failure_modes.md from docs/failure_modes.toml: `.venv/bin/python tools/make_failure_page.py`.

With `--check` it writes nothing and ends with 1 when the page is not what it would write.
"""

from __future__ import annotations

import re
import sys
import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

from boostwright.library.readings import WHEN, cheap_readings

DOCS = Path(__file__).resolve().parent.parent / "docs"
TABLE, PAGE = DOCS / "failure_modes.toml", DOCS / "failure_modes.md"

LATER = {
    "ladder": "the ladder from key-on to full load, a gate at each step",
    "drive": "the review of a recorded drive",
    "settings": "the tables for the controller",
    "pages": "the pages",
    "shop": "the shop's part",
}
STATES = {
    "now": "covered now",
    "part": "covered in part",
    "later": "later",
    "not": "not covered",
}
HEAD = """\
# What goes wrong, and where it is looked for

This page is made from [failure_modes.toml](failure_modes.toml) by `tools/make_failure_page.py`; tests keep
it current and see that every rule, reading, field and command named here exists.

The failures are those of the trade, in the order in which a conversion meets them: common practice, no
source. A failure counts as covered where a finding of `boostwright check` computes or asks it (codes as in
[findings.md](findings.md)), where a cheap reading or a field of the build file settles it (listed at the
end), where a command answers it, or where a task of the plan prevents or finds it (codes as in
[task_list.md](task_list.md)). A rule is silent where the build file states nothing of its subject: so
'covered' means that the program can see it, not that it has looked at your car. Where only a part is
covered, the rest is said.

Nothing here replaces the vehicle's manual, local codes, the law, or the people who are licensed for the work.
"""


def entries(table: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """The failures by number, in the order of the file."""
    return {key: value for key, value in table.items() if re.fullmatch(r"\d{3}", key)}


def state(row: dict[str, Any]) -> str:
    """A key of STATES: what of it is covered."""
    now = any(row.get(kind) for kind in ("findings", "readings", "commands", "tasks", "steps"))
    if now:
        return "part" if "later" in row or "not_covered" in row else "now"
    return "later" if "later" in row else "not"


def covered_by(row: dict[str, Any]) -> str:
    """The last cell of a row."""
    says = []
    if row.get("findings"):
        says.append(", ".join(f"`{code}`" for code in row["findings"]))
    if row.get("readings"):
        says.append("readings " + ", ".join(f"`{key}`" for key in row["readings"]))
    if row.get("commands"):
        says.append(", ".join(f"`boostwright {name}`" for name in row["commands"]))
    if row.get("tasks"):
        says.append("tasks " + ", ".join(f"`{key}`" for key in row["tasks"]))
    if row.get("steps"):
        says.append("steps of [the ladder](ladder.md) " + ", ".join(f"`{key}`" for key in row["steps"]))
    if "later" in row:
        says.append(f"later: {LATER[row['later']]}")
    if "not_covered" in row:
        why = row["not_covered"]
        says.append(why if why.startswith("not judged yet") else f"not covered: {why}")
    return "; ".join(says)


def counted(rows: list[dict[str, Any]]) -> str:
    """'n covered now, n covered in part, ...'."""
    count = Counter(state(row) for row in rows)
    return ", ".join(f"{count[key]} {words}" for key, words in STATES.items())


def _readings(rows: list[dict[str, Any]]) -> list[str]:
    """The cheap readings that the rows name, each with what it is and its caution."""
    named = {key for row in rows for key in row.get("readings", ())}
    lines = ["| reading | what it is | with | when | caution |", "|---|---|---|---|---|"]
    lines += [
        f"| `{key}` | {reading.words} | {reading.instrument} | {WHEN[reading.when]} | {reading.caution} |"
        for key, reading in cheap_readings().items()
        if key in named
    ]
    return lines


def page(table: dict[str, Any]) -> str:
    """The text of the page."""
    failures = entries(table)
    lines = [HEAD, f"**{len(failures)} failures: {counted(list(failures.values()))}.**", ""]
    for stage in dict.fromkeys(row["stage"] for row in failures.values()):
        rows = {key: row for key, row in failures.items() if row["stage"] == stage}
        lines += [f"## {stage[:1].upper()}{stage[1:]}", "", f"{counted(list(rows.values()))}.", ""]
        lines += ["| no. | what one sees | cause | covered by |", "|---|---|---|---|"]
        lines += [
            f"| {key} | {row['fails']} | {row['because']} | {covered_by(row)} |" for key, row in rows.items()
        ]
        lines.append("")
    computations = table["computations"]
    lines += [
        "## What is most worth computing",
        "",
        (
            "By harm and by how easily it is overlooked, the worst first; the order is judgement."
            f" {len(computations)} computations: {counted(computations)}."
        ),
        "",
        "| rank | what | against | covered by |",
        "|---|---|---|---|",
    ]
    lines += [
        f"| {row['ranked']} | {row['words']} | {', '.join(row['against'])} | {covered_by(row)} |"
        for row in computations
    ]
    lines += [
        "",
        "## Rules of our own",
        "",
        "Findings that stand for none of the failures above.",
        "",
        "| rule | why it is there |",
        "|---|---|",
    ]
    lines += [f"| `{code}` | {why} |" for code, why in sorted(table["own"].items())]
    lines += [
        "",
        "## Readings",
        "",
        (
            "Those with a dot in their name are fields of the build file; `boostwright explain` says what"
            " each is and how to measure it. The others:"
        ),
        "",
    ]
    lines += _readings([*failures.values(), *computations])
    return "\n".join(lines) + "\n"


def main(words: list[str]) -> int:
    """Write the page, or compare it."""
    text = page(tomllib.loads(TABLE.read_text(encoding="utf-8")))
    if "--check" in words:
        return 0 if PAGE.exists() and PAGE.read_text(encoding="utf-8") == text else 1
    PAGE.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
