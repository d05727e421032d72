"""Write the tables of docs/readings.md from library/measurements: run it as the other makers of pages.

With `--check` it writes nothing and ends with 1 when the page is not what it would write.
"""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path

from boostwright.library import read_folder
from boostwright.library.measurements import Measurement, measurements
from boostwright.quantity import Dimension, write

PAGE = Path(__file__).resolve().parent.parent / "docs" / "readings.md"
MARK = "<!-- tables: made by tools/make_measurements_page.py from library/measurements; do not edit below -->"
HEADS = {
    "before.toml": "Before strip-down, and again on the converted car",
    "during.toml": "While the car is apart",
    "running.toml": "From key-on to the last pull",
}
DIFFERENCES = {
    Dimension.TEMPERATURE: (Dimension.TEMPERATURE_DIFFERENCE, "K"),
    Dimension.SPARK: (Dimension.ANGLE, "deg"),
}


def text_of(one: Measurement, value: float | None) -> str:
    """A limit in the unit of the measurement."""
    if value is None or one.dimension is None:
        return ""
    return write(value, one.unit, one.dimension)


def possible(one: Measurement) -> str:
    """What can be true at all, or the answers."""
    if one.dimension is None:
        if one.answers == "choice":
            return ", ".join(one.choices or {})
        return "yes, no" if one.answers == "yes-no" else "words"
    if one.possible is None:
        return ""
    kind = f" {one.pressure.value}" if one.pressure is not None else ""
    return f"{text_of(one, one.possible[0])} to {text_of(one, one.possible[1])}{kind}"


def scatter(one: Measurement) -> str:
    """One standard deviation of one reading."""
    if one.repeat is None or one.dimension is None:
        return ""
    dimension, unit = DIFFERENCES.get(one.dimension, (one.dimension, one.unit))
    parts = []
    if one.repeat.fixed:
        parts.append(write(one.repeat.fixed, unit, dimension, digits=2))
    if one.repeat.proportional:
        parts.append(f"{100 * one.repeat.proportional:.3g} %")
    return " and ".join(parts)


def limits(one: Measurement) -> str:
    """Limits that hold for every build, or the answers that let the work go on."""
    if one.good:
        return " or ".join(one.good)
    ends = []
    if one.low is not None:
        ends.append(f"at least {text_of(one, one.low)}")
    if one.high is not None:
        ends.append(f"at most {text_of(one, one.high)}")
    return ", ".join(ends) or ("of this build" if one.expected not in ("", "trade") else "")


def row(one: Measurement) -> str:
    """One line of a table."""
    each = f", each {one.each}" if one.each else ""
    cells = (
        f"`{one.key}`", f"{one.words}{each}", one.instrument, possible(one), limits(one), scatter(one),
        f"`{one.field}`" if one.field else "",
    )  # fmt: skip
    return "| " + " | ".join(cell.replace("|", "/") for cell in cells) + " |"


def tables() -> str:
    """All tables, one for each file of the catalogue."""
    known = measurements()
    parts = [MARK, ""]
    for name, text in read_folder("measurements").items():
        parts += [f"## {HEADS.get(name, name)}", ""]
        parts.append("| key | what | with | possible | expected | scatter of one | states |")
        parts.append("|---|---|---|---|---|---|---|")
        parts += [row(known[key]) for key in tomllib.loads(text)]
        parts.append("")
    return "\n".join(parts).rstrip() + "\n"


def main() -> int:
    """Write the page or check it."""
    page = PAGE.read_text(encoding="utf-8")
    made = page.split(MARK)[0] + tables()
    if "--check" in sys.argv[1:]:
        return int(made != page)
    PAGE.write_text(made, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
