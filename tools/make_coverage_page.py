"""Put the coverage study into docs/coverage.md: `.venv/bin/python tools/make_coverage_page.py FILE ...`

FILE: what `benchmarks/hundred_engines.py --json FILE` wrote; further files are the same study with one
departure of the engines left out. What stands between the two markers is written anew.
"""

from __future__ import annotations

import json
import math
import sys
from pathlib import Path
from typing import Any

PAGE = Path(__file__).resolve().parent.parent / "docs" / "coverage.md"
BEGIN, END = "<!-- figures -->", "<!-- end -->"
WANTED = (0.80, 0.97)
STAGES = ("before", "after")
UNITS = {
    "torque": (1.0, "Nm"),
    "air": (1.0e3, "g/s"),
    "peak": (1.0e-5, "bar"),
    "spark": (180.0 / math.pi, "deg"),
    "ca50": (180.0 / math.pi, "deg"),
    "exhaust": (1.0, "K"),
    "valve": (1.0, "K"),
    "stock torque": (1.0, "Nm"),
    "stock air": (1.0e3, "g/s"),
}
BIASED = 0.5  # spreads by which the middle may be off before it is said [-]
NARROW, WIDE = 1.15, 0.75  # scatter against the band's own spread above and below which that is said [-]

Row = dict[str, Any]


def share(at: Row) -> str:
    """Coverage with its error."""
    if not at["engines"]:
        return "not computed"
    text = f"{100 * at['coverage']:.0f} +- {100 * at['error']:.0f} %"
    return text if WANTED[0] <= at["coverage"] <= WANTED[1] else f"**{text}**"


def width(row: Row, at: Row) -> str:
    """Mean width of the band in the unit of the bench."""
    if not at["engines"]:
        return ""
    factor, unit = UNITS[row["quantity"]]
    return f"{at['width'] * factor:.3g} {unit}"


def off(at: Row) -> str:
    """Bias and scatter in spreads of the band."""
    return f"{at['bias']:+.1f}, {at['scatter']:.1f}" if at["engines"] else ""


def table(rows: list[Row]) -> list[str]:
    """Coverage before and after the fit."""
    lines = [
        "| quantity | speeds | before | off, scatter | width | after | off, scatter | width |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for row in rows:
        words = row["words"] if row["region"] == "all speeds" else ""
        cells = [words, row["region"]]
        for stage in STAGES:
            at = row[stage]
            cells += [share(at), off(at), width(row, at)]
        lines.append(f"| {' | '.join(cells)} |")
    return lines


def outside(rows: list[Row], stage: str) -> list[str]:
    """What falls outside, and what about the band is wrong there, in words."""
    lines = []
    for row in rows:
        at = row[stage]
        if not at["engines"] or WANTED[0] <= at["coverage"] <= WANTED[1]:
            continue
        low = at["coverage"] < WANTED[0]
        sure = abs(at["coverage"] - (WANTED[0] if low else WANTED[1])) > 2.0 * at["error"]
        why = []
        if abs(at["bias"]) > BIASED:
            side = "below" if at["bias"] < 0.0 else "above"
            later = {"spark": ("earlier", "later"), "ca50": ("earlier", "later")}.get(row["quantity"])
            if later:
                side = later[0] if at["bias"] < 0.0 else later[1]
                why.append(
                    f"the engines lie {abs(at['bias']):.1f} spreads {side} than the middle of the band"
                )
            else:
                why.append(f"the engines lie {abs(at['bias']):.1f} spreads {side} the middle of the band")
        if at["scatter"] > NARROW:
            why.append(f"the band is too narrow by a factor of {at['scatter']:.1f}")
        elif at["scatter"] < WIDE:
            why.append(f"the band is wider than these engines need, by a factor of {1.0 / at['scatter']:.1f}")
        doubt = "" if sure else "; within two errors of the limit"
        reason = ": " + ", ".join(why) if why else ""
        lines.append(f"* {row['words']}, {row['region']}, {share(at).strip('*')}{reason}{doubt}.")
    return lines or ["Nothing."]


def shorter(name: str, document: Row, whole: Row) -> list[str]:
    """What another run without one departure changes, all speeds."""
    lines = [f"| quantity | all departures | without {name} |", "|---|---|---|"]
    for row, other in zip(whole["rows"], document["rows"], strict=True):
        if row["region"] != "all speeds":
            continue
        cells = [row["words"]]
        for one in (row, other):
            parts = [f"{stage} {share(one[stage])}" for stage in STAGES if one[stage]["engines"]]
            cells.append(", ".join(parts))
        lines.append(f"| {' | '.join(cells)} |")
    return lines


def section(documents: list[Row]) -> str:
    """Everything between the markers."""
    whole, others = documents[0], documents[1:]
    machine = whole["machine"]
    head = (
        f"{whole['engines']} engines (seeds from {whole['seed']}), {whole['draws']} draws each, at commit "
        f"{machine['commit']} on {machine['date']}, {whole['minutes']:.0f} minutes. Bold: outside 80 to 97 "
        "%. The error is one standard error with engines as units. 'off': how far the truth lies above the "
        "middle of the band on average; 'scatter': how far it scatters; both in spreads of the band, 0 and 1 "
        "where the band is right. 'width': of the whole band."
    )
    lines = [head, "", *table(whole["rows"])]
    for stage in STAGES:
        if any(row[stage]["engines"] for row in whole["rows"]):
            lines += ["", f"### Outside 80 to 97 %, {stage} the fit", "", *outside(whole["rows"], stage)]
    trouble = [
        f"* seed {case['seed']}, {stage} the fit: {why}"
        for case in whole["cases"]
        for stage, why in case["trouble"].items()
    ]
    lost = {stage: sum(case[stage]["lost"] for case in whole["cases"] if stage in case) for stage in STAGES}
    lines += ["", f"Draws that the models refused: {lost['before']} before, {lost['after']} after the fit."]
    if trouble and len(trouble) < whole["engines"]:
        lines += ["", "### Not computed", "", *trouble]
    elif trouble:
        lines += [
            "",
            f"After the fit: not computed for {len(trouble)} engines ({trouble[0].split(': ')[-1]}).",
        ]
    for other in others:
        lines += [
            "",
            f"### Without one departure: {other['without']}",
            "",
            *shorter(other["without"], other, whole),
        ]
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
