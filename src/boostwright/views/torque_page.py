"""The torque sheet on a terminal, on paper, as CSV and as JSON."""

from __future__ import annotations

import csv
import io
import json
import math
import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from boostwright.findings.notes import cautions_for, deference
from boostwright.quantity import COVERAGE
from boostwright.systems.fasteners import Origin, SheetRow
from boostwright.views.files import write_text

__all__ = ["TORQUE_FORMAT", "torque_csv", "torque_document", "torque_report", "write_torque"]

TORQUE_FORMAT = 1
"""The number of the document's form; it grows when a field changes its meaning or goes away."""

_BLANK = "________"
_COLUMNS = (
    "joint", "bolts", "size", "class", "torque_low_Nm", "torque_high_Nm", "turn_deg", "origin", "source",
    "hold_point", "state", "passes_Nm", "order", "again", "clamp_kN", "clamp_spread_kN", "notes", "set_to_Nm",
    "done_by", "witnessed_by", "date",
)  # fmt: skip


def torque_report(rows: Sequence[SheetRow], name: str, stamp: str = "", width: int = 80) -> str:
    """The sheet as one text ending in a line break. stamp: version and fingerprint, printed at the end."""
    width = max(60, min(width, 100))
    lines = [f"Torque sheet: {name}", "─" * width]
    if not rows:
        lines += textwrap.wrap(
            "The file lists no joints. Write a table [[fasteners]] for each one that you tighten;"
            " 'boostwright explain fasteners' says what can stand there.",
            width,
        )
    holds = [row for row in rows if row.origin is Origin.BLANK]
    if holds:
        word = "is a hold point" if len(holds) == 1 else "are hold points"
        lines += textwrap.wrap(
            f"{len(holds)} of {len(rows)} {'joint' if len(rows) == 1 else 'joints'} {word}: no torque with"
            " its page is stated. Do not go on there before the printed figure is in your hand and on"
            " this sheet.",
            width,
        )
    stopped = [row.bolt.name for row in rows if row.stops]
    if stopped:
        lines += textwrap.wrap(f"STOP stands on: {', '.join(stopped)}. Read why before you tighten.", width)
    for number, row in enumerate(rows, 1):
        lines += ["", *_block(number, row, width)]
    lines += ["", "─" * width]
    if any(row.origin is Origin.COMPUTED for row in rows):
        lines += textwrap.wrap(
            "A computed torque is for a joint that nobody prints one for, with new, clean bolts of the class"
            f" that is stated. Its clamp is what follows the torque; ± holds it {_sure()}.",
            width,
        )
    for caution in cautions_for("fastener.stated"):
        lines += textwrap.wrap(caution.text, width)
    lines += textwrap.wrap(deference(), width)
    if stamp:
        lines.append(stamp)
    return "\n".join(lines) + "\n"


def _sure() -> str:
    return "19 times out of 20" if COVERAGE == 2.0 else f"within {COVERAGE:g} standard deviations"


def _block(number: int, row: SheetRow, width: int) -> list[str]:
    """One joint."""
    bolt = row.bolt
    lines = [f"{number:2}  {bolt.name}", f"    {_what(row)}"]
    if row.origin is Origin.BLANK:
        lines.append(f"    {_BLANK} N m   HOLD POINT")
        lines += _wrapped(row.blank, width)
    else:
        lines.append(f"    {_torque(row)}, {bolt.state or 'thread as the maker wants it'}")
        lines += _wrapped(f"from: {row.source}", width)
        if row.clamp is not None:
            value, half = row.clamp.value / 1e3, COVERAGE * row.clamp.sd / 1e3
            lines.append(f"    clamp of each: {value:.1f} ± {half:.1f} kN as tightened")
        if len(row.passes) > 1:
            lines += _wrapped(f"passes: {_passes(row)} N m, {row.order}", width)
        elif not row.passes:
            lines += _wrapped(f"passes: {row.order}", width)
        lines += _wrapped(f"again: {row.again}", width)
    for note in row.notes:
        lines += _wrapped(note, width)
    lines.append("    set to ______ N m   done by ________   seen by ________   date ________"[:width])
    return lines


def _wrapped(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width - 4, initial_indent="    ", subsequent_indent="    ")


def _what(row: SheetRow) -> str:
    bolt = row.bolt
    size = bolt.thread.name if bolt.thread is not None else "size not stated"
    count = f"{bolt.count} x " if bolt.count else ""
    return f"{count}{size}" + (f", class {bolt.strength.name}" if bolt.strength is not None else "")


def _number(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0") if value < 20.0 else f"{value:.0f}"


def _torque(row: SheetRow) -> str:
    assert row.low is not None
    assert row.high is not None
    low, high = _number(row.low), _number(row.high)
    text = f"{high} N m" if low == high else f"{low} to {high} N m"
    if row.bolt.angle is not None:
        text += f", then {math.degrees(row.bolt.angle):.0f} deg"
    return text


def _passes(row: SheetRow) -> str:
    if row.low is None or row.high is None:
        return ""
    middle = (row.low + row.high) / 2
    return ", ".join(_number(share * middle) for share in row.passes)


def _record(row: SheetRow) -> dict[str, Any]:
    """One joint as plain data."""
    bolt, clamp = row.bolt, row.clamp
    return {
        "joint": bolt.name,
        "line": bolt.line,
        "holds": bolt.clamps,
        "bolts": bolt.count,
        "size": None if bolt.thread is None else bolt.thread.name,
        "class": None if bolt.strength is None else bolt.strength.name,
        "torque": None if row.low is None or row.high is None else [row.low, row.high],
        "turn": bolt.angle,
        "origin": row.origin.value,
        "source": row.source,
        "hold_point": row.origin is Origin.BLANK,
        "why_blank": row.blank,
        "state": bolt.state,
        "passes": list(row.passes),
        "order": row.order,
        "again": row.again,
        "clamp": None if clamp is None else {"value": clamp.value, "sd": clamp.sd},
        "notes": list(row.notes),
    }


def torque_document(rows: Sequence[SheetRow], name: str, version: str, data: str, fingerprint: str) -> str:
    """The sheet as JSON: torque [N m], turn [rad], clamp of one bolt [N]; a blank torque is null."""
    holds = sum(row.origin is Origin.BLANK for row in rows)
    return (
        json.dumps(
            {
                "format": TORQUE_FORMAT,
                "version": version,
                "data": data,
                "fingerprint": fingerprint,
                "build": name,
                "hold_points": holds,
                "joints": [_record(row) for row in rows],
                "defer": deference(),
            },
            indent=2,
            ensure_ascii=False,
        )
        + "\n"
    )


def torque_csv(rows: Sequence[SheetRow]) -> str:
    """The sheet as CSV with empty columns to fill in by hand."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(_COLUMNS)
    for row in rows:
        bolt, clamp = row.bolt, row.clamp
        table.writerow(
            (
                bolt.name,
                bolt.count or "",
                bolt.thread.name if bolt.thread else "",
                bolt.strength.name if bolt.strength else "",
                "" if row.low is None else _number(row.low),
                "" if row.high is None else _number(row.high),
                "" if bolt.angle is None else f"{math.degrees(bolt.angle):.0f}",
                row.origin.value,
                row.source,
                row.blank,
                bolt.state,
                _passes(row),
                row.order,
                row.again,
                "" if clamp is None else f"{clamp.value / 1e3:.1f}",
                "" if clamp is None else f"{COVERAGE * clamp.sd / 1e3:.1f}",
                " ".join(row.notes),
                *("",) * 4,
            )
        )
    return text.getvalue()


def write_torque(
    rows: Sequence[SheetRow], name: str, folder: Path, version: str, data: str, fingerprint: str
) -> tuple[Path, ...]:
    """Write torque.txt (for print), torque.csv and torque.json; returns their paths. Raises OSError."""
    folder.mkdir(parents=True, exist_ok=True)
    stamp = f"boostwright {version} · data {data} · inputs {fingerprint[:16]}"
    written = []
    for ending, text in (
        ("txt", torque_report(rows, name, stamp, 90)),
        ("csv", torque_csv(rows)),
        ("json", torque_document(rows, name, version, data, fingerprint)),
    ):
        path = folder / f"torque.{ending}"
        write_text(path, text)
        written.append(path)
    return tuple(written)
