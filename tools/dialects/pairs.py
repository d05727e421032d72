"""A file and its answer: what was true goes to the answer, not what was printed."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from tools.dialects.truth import UNITS, Array, at, in_unit

FOLDER = Path(__file__).parents[2] / "tests" / "readers" / "drive_logs_given"
LARGEST = 60_000  # bytes of one file
Write = Callable[[float], str]


@dataclass(frozen=True)
class Column:
    """A column of text with what it stands for; `key` is empty where nobody can or should say."""

    heading: str
    cells: tuple[str, ...]
    key: str = ""
    cylinder: int = 0
    true: Array = field(default_factory=lambda: np.zeros(0))  # SI, NaN where no number stands
    tolerance: float = 0.0  # SI
    unit: str = ""  # as a file with a unit row writes it
    lot: str = "read"  # read, may ask, may read, asks, not recognised, not guessed, clock
    seconds: Array = field(default_factory=lambda: np.zeros(0))  # since the first stamp, of its own clock


def decimals(places: int, comma: str = ".") -> Write:
    """A writer of so many places."""
    return lambda x: f"{x:.{places}f}".replace(".", comma)


def column(
    heading: str,
    key: str,
    t: Array,
    unit: str,
    places: int,
    *,
    begin: float,
    comma: str = ".",
    cylinder: int = 0,
    shown: str = "",
    lot: str = "read",
    every: int = 1,
    hold: bool = False,
    empty: str = "",
    less: str = "",
    write: Write | None = None,
    extra: float = 0.0,
) -> Column:
    """One quantity of the drive at moments t after `begin` [s], written in a unit to so many places.

    less: a quantity that is taken off before writing (a barometer, where the file holds gauge pressure).
    every, hold: a slow channel, with empty cells or its last value between. extra: more tolerance [SI].
    """
    name = f"{key}.{cylinder}" if cylinder else key
    true = at(name, begin + t)
    shows = true - at(less, begin + t) if less else true
    write = write or decimals(places, comma)
    cells = [write(float(x)) for x in in_unit(shows, unit)]
    fresh = np.arange(len(t)) // every * every
    if every > 1 and hold:
        cells, true = [cells[i] for i in fresh], true[fresh]
    elif every > 1:
        cells = [cell if i % every == 0 else empty for i, cell in enumerate(cells)]
        true = np.where(fresh == np.arange(len(t)), true, np.nan)
    scale = abs(UNITS[unit][0])
    tolerance = 0.505 * 10.0**-places * scale + extra + 1e-9 * float(np.nanmax(np.abs(true)) + 1.0)
    return Column(heading, tuple(cells), key, cylinder, true, tolerance, shown or unit, lot, t - t[0])


def other(
    heading: str, cells: Sequence[str], unit: str = "", lot: str = "not recognised", key: str = ""
) -> Column:
    """A column that is no quantity of ours."""
    return Column(heading, tuple(cells), key, unit=unit, lot=lot)


def blank(column: Column, rows: Sequence[int], words: Sequence[str]) -> Column:
    """The column with words that are no numbers in some rows."""
    cells, true = list(column.cells), column.true.copy()
    for i, row in enumerate(rows):
        cells[row], true[row] = words[i % len(words)], np.nan
    return _with(column, cells=tuple(cells), true=true)


def _with(column: Column, **changed: Any) -> Column:
    return Column(**{**column.__dict__, **changed})


def replaced(column: Column, rows: slice, cell: str, value: float) -> Column:
    """The column with one cell written over a stretch: a sensor that stands still, or off its range [SI]."""
    cells, true = list(column.cells), column.true.copy()
    for row in range(*rows.indices(len(cells))):
        cells[row], true[row] = cell, value
    return _with(column, cells=tuple(cells), true=true)


def _samples(column: Column, by_row: bool) -> list[list[float | None]]:
    """Four to six moments: spread over the file, where the value is highest, and one without a number."""
    known = np.flatnonzero(np.isfinite(column.true))
    picked = {int(known[int(share * (len(known) - 1))]) for share in (0.02, 0.3, 0.55, 0.98)}
    picked.add(int(known[np.argmax(column.true[known])]))
    gone = np.flatnonzero(~np.isfinite(column.true))
    rows = sorted(picked | ({int(gone[len(gone) // 2])} if len(gone) else set()))
    place = (lambda i: i) if by_row else (lambda i: round(float(column.seconds[i]), 6))
    return [[place(i), float(f"{column.true[i]:.9g}") if np.isfinite(column.true[i]) else None] for i in rows]


def answer(
    why: str,
    columns: Sequence[Column],
    *,
    rows: int | None,
    span: float | None,
    outcome: str = "read",
    by_row: bool = False,
    **more: Any,
) -> dict[str, Any]:
    """The answer of a file that holds these columns."""
    made: dict[str, Any] = {"why": why, "outcome": outcome, **more}
    made["samples_at"] = "row" if by_row else "seconds"
    made["channels"] = [
        {
            "key": c.key,
            "heading": c.heading,
            "cylinder": c.cylinder,
            "samples": _samples(c, by_row),
            "tolerance": float(f"{c.tolerance:.4g}"),
        }
        for c in columns
        if c.key and c.lot in ("read", "may ask")
    ]
    for lot, name in (
        ("asks", "asks_about"),
        ("may ask", "may_ask_about"),
        ("not recognised", "not_recognised"),
        ("not guessed", "not_guessed"),
    ):
        heads = [*made.get(name, ()), *(c.heading for c in columns if c.lot == lot)]
        if heads:
            made[name] = list(dict.fromkeys(heads))
    may_read = {**made.get("may_read", {}), **{c.heading: c.key for c in columns if c.lot == "may read"}}
    if may_read:
        made["may_read"] = may_read
    made["rows"], made["span"] = rows, None if span is None else round(span, 6)
    return made


def keep(name: str, data: bytes, answer: dict[str, Any]) -> None:
    """Write the file and its answer."""
    if len(data) > LARGEST:
        raise ValueError(f"{name} has {len(data)} bytes, allowed are {LARGEST}: take fewer rows")
    FOLDER.mkdir(parents=True, exist_ok=True)
    (FOLDER / name).write_bytes(data)
    told = json.dumps(answer, indent=1, ensure_ascii=False)
    told = re.sub(r"\[\s+([^\[\]{}]*?)\s+\]", lambda hit: "[" + re.sub(r"\n\s*", " ", hit[1]) + "]", told)
    (FOLDER / name).with_suffix(".json").write_text(told + "\n", "utf-8")


def refused(name: str, data: bytes, why: str, about: str, outcome: str = "refused", **more: Any) -> None:
    """A file that is no log of a petrol engine."""
    keep(name, data, {"why": why, "outcome": outcome, "reason_about": about, **more})


def quoted(cell: str, separator: str) -> str:
    """A cell as CSV wants it."""
    if separator in cell or '"' in cell or "\n" in cell:
        return '"' + cell.replace('"', '""') + '"'
    return cell


def lines_of(
    columns: Sequence[Column], separator: str = ",", *, unit_row: bool = False, headings: bool = True
) -> list[str]:
    """A table as lines: headings, units where wanted, rows."""
    made = [separator.join(quoted(c.heading, separator) for c in columns)] if headings else []
    if unit_row:
        made.append(separator.join(quoted(c.unit, separator) for c in columns))
    made += [
        separator.join(quoted(c, separator) for c in row)
        for row in zip(*(c.cells for c in columns), strict=True)
    ]
    return made


def clock(heading: str, cells: Sequence[str], unit: str = "s") -> Column:
    """The column of stamps: it is no quantity, and not unrecognised either."""
    return Column(heading, tuple(cells), unit=unit, lot="clock")


def grid(seconds: float, rate: float) -> Array:
    """Moments from 0."""
    return np.arange(round(seconds * rate)) / rate
