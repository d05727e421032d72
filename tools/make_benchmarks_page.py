"""Put measured times into docs/benchmarks.md: `.venv/bin/python tools/make_benchmarks_page.py FILE ...`

FILE: what `benchmarks/*.py --json FILE` wrote. What stands between the two markers is written anew.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

PAGE = Path(__file__).resolve().parent.parent / "docs" / "benchmarks.md"
BEGIN, END = "<!-- figures -->", "<!-- end -->"


def number(value: float) -> str:
    """Three digits, without an exponent."""
    return f"{value:.0f}" if abs(value) >= 100.0 else f"{value:.3g}"


def cells(row: dict[str, Any]) -> list[str]:
    """One row of a table."""
    unit = row["unit"]
    wall = "" if row["wall"] is None else f"{number(row['wall'])} {unit}"
    target = ""
    if row["target"] is not None:
        sense = "at least" if row["at_least"] else "at most"
        verdict = "reached" if row["reached"] else "**missed**"
        target = f"{sense} {row['target']:g} {unit}, {verdict}"
    return [row["name"], f"{number(row['value'])} {unit}", wall, target, row["note"]]


def tables(document: dict[str, Any]) -> list[str]:
    """The tables of one file, a heading for each part."""
    lines: list[str] = []
    part = None
    for row in document["rows"]:
        if row["part"] != part:
            part = row["part"]
            lines += ["", f"### {part[:1].upper()}{part[1:]}", ""]
            lines += ["| | CPU time or ratio | wall | target | |", "|---|---|---|---|---|"]
        lines.append(f"| {' | '.join(cells(row))} |")
    return lines


def section(documents: list[dict[str, Any]]) -> str:
    """Everything between the markers."""
    machine = documents[0]["machine"]
    lines = [
        f"Measured on {machine['date']} at commit {machine['commit']}: {machine['processor']}, "
        f"{machine['system']}, Python {machine['python']}; {machine['packages']}. "
        "The machine did other work too: "
        + "; ".join(
            f"load {d['machine']['load over 1, 5, 15 minutes']} at the start of a run, "
            f"{d['machine']['load at the end']} at its end"
            for d in documents
        )
        + "."
    ]
    missed = [row for d in documents for row in d["rows"] if row["reached"] is False]
    of = sum(row["target"] is not None for d in documents for row in d["rows"])
    lines += ["", f"Targets missed: {len(missed)} of {of}.", ""]
    for row in missed:
        sense = "at least" if row["at_least"] else "at most"
        note = f" ({row['note']})" if row["note"] else ""
        lines.append(
            f"* {row['name']}{note}: {number(row['value'])} {row['unit']}, wanted {sense} {row['target']:g}"
        )
    for document in documents:
        lines += tables(document)
    return "\n".join(lines).strip()


def main() -> None:
    """Rewrite the page."""
    if len(sys.argv) < 2:
        raise SystemExit(__doc__)
    documents = [json.loads(Path(name).read_text(encoding="utf-8")) for name in sys.argv[1:]]
    text = PAGE.read_text(encoding="utf-8")
    head, rest = text.split(BEGIN, 1)
    _, tail = rest.split(END, 1)
    PAGE.write_text(f"{head}{BEGIN}\n\n{section(documents)}\n\n{END}{tail}", encoding="utf-8")
    print(f"wrote {PAGE.name}")


if __name__ == "__main__":
    main()
