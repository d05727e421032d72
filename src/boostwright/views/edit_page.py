"""What a person changed in the tables, on a terminal: what passes a limit first."""

from __future__ import annotations

import math
import textwrap
from typing import Final

import numpy as np

from boostwright.calibration.edits import CellEdit, Concern, Edited, Trouble
from boostwright.calibration.records import Table
from boostwright.findings.model import Verdict
from boostwright.views.calibration_page import check_lines, foot_lines, verdict_words
from boostwright.views.numbers import say_number
from boostwright.views.table_words import place_words, said_cell, table_face, write_step
from boostwright.views.words import MARKS

__all__ = ["concern_words", "edit_report", "edit_verdict"]

_MOST: Final = 24  # cells without a concern that are listed unless all are asked for


def edit_report(
    edited: Edited, *, notes: tuple[str, ...] = (), stamp: str = "", width: int = 80, every: bool = False
) -> str:
    """The edits as text ending in a line break: verdict, cells worst first, the checks run again.

    notes: what deserves a look in the files. every: all cells and all checks written out.
    """
    width = max(40, min(width, 100))
    calibration = edited.calibration
    lines = [*_wrapped(f"Edited tables: {calibration.name}", width), "─" * width]
    lines += _wrapped(edit_verdict(edited), width)
    for note in notes:
        lines += _wrapped(note, width, "", "  ")
    for caution in calibration.cautions[:1]:
        lines += _wrapped(f"take care: {caution}", width, "", "  ")
    known = {table.key: table for table in calibration.tables}
    troubled = [cell for cell in edited.cells if cell.concerns]
    plain = [cell for cell in edited.cells if not cell.concerns]
    for cell in troubled:
        lines += ["", *_troubled(cell, known[cell.table], width)]
    if plain:
        lines += [
            "",
            "Past no limit, in no failing check" if troubled else "Edits",
            "─" * width,
        ]
        shown = plain if every else plain[:_MOST]
        for cell in shown:
            lines += _wrapped(_change(cell, known[cell.table]), width, "", "    ")
        if len(shown) < len(plain):
            lines += _wrapped(f"and {len(plain) - len(shown)} more (--all lists them)", width)
    lines += [
        "",
        "Checks with the edits in",
        "─" * width,
        *_wrapped(verdict_words(calibration.checks), width),
    ]
    lines += check_lines(calibration.checks, calibration, width, every)
    return "\n".join([*lines, *foot_lines(calibration, stamp, width)]) + "\n"


def edit_verdict(edited: Edited) -> str:
    """One sentence on all edits."""
    tables = ", ".join(edited.tables)
    if not edited.cells:
        return f"Nothing is changed in {tables}: every cell is as it was computed, to its last digit."
    cells = "1 cell is" if len(edited.cells) == 1 else f"{len(edited.cells)} cells are"
    passing = sum(any(_passes(c) for c in cell.concerns) for cell in edited.cells)
    refused = sum(any(c.trouble.hurts for c in cell.concerns) for cell in edited.cells) - passing
    turning = sum(bool(cell.concerns) for cell in edited.cells) - passing - refused
    told = f"{cells} changed in {tables}"
    if passing:
        verb = "passes" if passing == 1 else "pass"
        told += f"; {passing} {verb} a limit of knock, mixture or a part: do not drive with it"
    if refused:
        verb = "stands" if refused == 1 else "stand"
        told += f"; {refused} {verb} in a check that does not hold: do not drive with it before it does"
    if turning:
        told += f"; {turning} {'goes' if turning == 1 else 'go'} against the run of the table"
    if passing or refused or turning:
        return f"{told}."
    if any(check.holds is False for check in edited.calibration.checks):
        return f"{told}; none passes a limit by itself, but not every check holds: see below."
    return f"{told}; none passes a limit, and no check fails."


def _passes(concern: Concern) -> bool:
    return concern.trouble.hurts and concern.trouble is not Trouble.REFUSED


def concern_words(cell: CellEdit, concern: Concern, table: Table) -> str:
    """One warning in words, with the limit in its unit."""
    backwards = table_face(table).backwards
    if concern.trouble is Trouble.NO_NUMBER:
        why = f": {concern.why}" if concern.why else ""
        return f"no number may stand here{why}"
    if concern.trouble is Trouble.REFUSED:
        was = " (so it did before)" if concern.before else ""
        return f"a check does not hold here{was}: {concern.why}"
    if concern.trouble is Trouble.TURN:
        way = "rises" if concern.rising != backwards else "falls"
        axis = table.axes[concern.axis]
        return f"the table {way} with {axis.words} everywhere else; here it turns"
    edge = said_cell(table, concern.limit, float(table.sd[cell.at]), band=False)
    side = "above" if (concern.trouble is Trouble.ABOVE) != backwards else "below"
    was = " (so was what it replaces)" if concern.before else ""
    return f"{side} {edge}{was}: {concern.why}"


def _troubled(cell: CellEdit, table: Table, width: int) -> list[str]:
    hurts = any(concern.trouble.hurts for concern in cell.concerns)
    mark = MARKS[Verdict.BREAKS] if hurts else MARKS[Verdict.TIGHT]
    lines = _wrapped(f"{mark} {_change(cell, table)}", width, "", "  ")
    for concern in cell.concerns:
        lines += _wrapped(concern_words(cell, concern, table), width, "  ", "    ")
    return lines


def _change(cell: CellEdit, table: Table) -> str:
    """'spark at 3000 rpm, 175 kPa absolute: 5.2 deg before, 9.0 deg now, 2.7 spreads more'.

    With the digits of the files, which are those that a person has edited.
    """
    face, step = table_face(table), write_step(table)
    unit = f"\u00a0{face.name}" if face.name and face.name != "lambda" else ""
    old, new = (
        f"{say_number(float(face.shown(np.array(v))), step)}{unit}" if math.isfinite(v) else "no number"
        for v in (cell.old, cell.new)
    )
    text = f"{cell.table} at {place_words(table, cell.at)}: {old} before, {new} now"
    if math.isfinite(cell.spreads):
        more = "more" if (cell.spreads > 0) != face.backwards else "less"
        text += f", {abs(cell.spreads):.1f} spreads {more}"
    return text


def _wrapped(text: str, width: int, first: str = "", then: str = "") -> list[str]:
    return textwrap.wrap(
        text, width, initial_indent=first, subsequent_indent=then or first, break_on_hyphens=False
    )
