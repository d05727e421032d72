"""The starting calibration on a terminal: do the tables agree, what is set to what, where each binds."""

from __future__ import annotations

import textwrap
from collections import Counter
from typing import Final

import numpy as np

from boostwright.calibration.records import NO_PLACE, Calibration, Check, Origin, Setting, Table
from boostwright.findings.model import Verdict
from boostwright.findings.notes import deference
from boostwright.quantity import COVERAGE
from boostwright.views.numbers import say_number, spread_step
from boostwright.views.table_words import (
    Edge,
    axis_face,
    axis_texts,
    edges_of,
    place_words,
    said_cell,
    setting_words,
    step_of,
    table_face,
)
from boostwright.views.words import MARKS

__all__ = [
    "calibration_report",
    "check_lines",
    "foot_lines",
    "heading",
    "origin_words",
    "table_report",
    "verdict_words",
]

ORIGINS: Final = {
    Origin.MODEL: "by the model alone",
    Origin.BASELINE: "on this engine's own readings",
    Origin.LOG: "from a recorded drive",
    Origin.MAKER: "as a maker or a reading states",
    Origin.RULE: "by a rule of the trade",
    Origin.HAND: "edited by hand",
}
_MARK: Final = {True: MARKS[Verdict.HOLDS], False: MARKS[Verdict.BREAKS], None: MARKS[Verdict.UNKNOWN]}
_WORD: Final = {True: "holds", False: "does not hold", None: "cannot be told"}
_MOST_CELLS: Final = 3  # of a check that are named on the page


def calibration_report(
    calibration: Calibration,
    *,
    told: tuple[str, ...] = (),
    stamp: str = "",
    width: int = 80,
    every: bool = False,
    brief: bool = False,
) -> str:
    """The whole calibration as one text ending in a line break; its tables in a few lines each.

    told: what it rests on, after the verdict. every: the checks that hold written out as well. stamp:
    version and fingerprint, printed at the end. brief: verdict and checks alone.
    """
    width = max(40, min(width, 100))
    lines = heading(calibration, width)
    for sentence in told:
        lines += _wrapped(sentence, width, "", "  ")
    lines += check_lines(calibration.checks, calibration, width, every)
    if brief:
        return "\n".join([*lines, *foot_lines(calibration, stamp, width)]) + "\n"
    lines += ["", "Settings", "─" * width]
    for setting in calibration.settings:
        lines += _setting(setting, width)
    lines += ["", "Tables", "─" * width]
    for table in calibration.tables:
        lines += [*_table(table, width), ""]
    lines += _wrapped("A table in full: --show and its first word. All as files: --out FOLDER.", width)
    if calibration.not_said:
        lines += ["", "What the model cannot say", "─" * width]
        for sentence in calibration.not_said:
            lines += _wrapped(sentence, width, "- ", "  ")
    return "\n".join([*lines, *foot_lines(calibration, stamp, width)]) + "\n"


def heading(calibration: Calibration, width: int) -> list[str]:
    """Name, verdict and the first caution."""
    lines = [*_wrapped(f"Starting calibration: {calibration.name}", width), "─" * width]
    lines += _wrapped(verdict_words(calibration.checks), width)
    for table in calibration.tables:
        for note in table.notes:
            if NO_PLACE in note:
                lines += _wrapped(f"But, {table.key}: {note}", width, "", "  ")
    for caution in calibration.cautions[:1]:
        lines += _wrapped(f"take care: {caution}", width, "", "  ")
    return lines


def foot_lines(calibration: Calibration, stamp: str, width: int) -> list[str]:
    """What was taken for granted, how numbers are to be read, whom to defer to."""
    lines = [""]
    for warning in calibration.warnings:
        lines += _wrapped(warning, width)
    lines += ["─" * width]
    lines += _wrapped(
        "What stands after ± holds the truth 19 times out of 20. Spark keeps away from knock by as much as"
        f" covers {100 * calibration.probability:.0f} of 100 cases.",
        width,
    )
    for caution in calibration.cautions[1:]:
        lines += _wrapped(caution, width)
    if deference() not in calibration.cautions:
        lines += _wrapped(deference(), width)
    return [*lines, *_wrapped(stamp, width)]


def verdict_words(checks: tuple[Check, ...]) -> str:
    """One sentence on whether the tables may be used."""
    total = len(checks)
    failed = sum(check.holds is False for check in checks)
    untold = sum(check.holds is None for check in checks)
    told = f" and {untold} cannot be told" if untold else ""
    of = f"{total} check" if total == 1 else f"{total} checks"
    if not checks:
        return "Nothing was checked, so nothing is known of whether these tables agree."
    if failed:
        verb = "does" if failed == 1 else "do"
        return f"Do not start with these tables: of {of}, {failed} {verb} not hold{told}."
    if untold:
        return f"Nothing contradicts itself, but of {of}, {untold} cannot be told."
    all_of = "The one check holds" if total == 1 else f"All {total} checks hold"
    return f"{all_of}: the tables agree with one another and with what the parts can do."


def check_lines(checks: tuple[Check, ...], calibration: Calibration, width: int, every: bool) -> list[str]:
    """The consistency checks, worst first; those that hold in one line unless `every`."""
    ranked = sorted(checks, key=lambda check: {False: 0, None: 1, True: 2}[check.holds])
    lines: list[str] = []
    for check in ranked:
        if check.holds is True and not every:
            continue
        lines += ["", *_wrapped(f"{_MARK[check.holds]} {_WORD[check.holds]}: {check.words}", width, "", "  ")]
        if check.cells:
            lines += _wrapped(f"where: {_cells(check, calibration)}", width, "  ", "    ")
        if check.remedy:
            lines += _wrapped(f"do: {check.remedy}", width, "  ", "    ")
    held = [check.key for check in checks if check.holds is True]
    if held and not every:
        verb = "holds" if len(held) == 1 else "hold"
        lines += ["", *_wrapped(f"{_MARK[True]} {verb}: {', '.join(held)} (--all writes them out)", width,
                                "", "  ")]  # fmt: skip
    return lines


def _cells(check: Check, calibration: Calibration) -> str:
    known = {table.key: table for table in calibration.tables}
    named = []
    for key, *at in check.cells[:_MOST_CELLS]:
        table = known.get(key)
        named.append(f"{key} at {place_words(table, tuple(at))}" if table is not None else key)
    more = len(check.cells) - len(named)
    return "; ".join(named) + (f"; and {more} more" if more > 0 else "")


def _setting(setting: Setting, width: int) -> list[str]:
    lines = _wrapped(f"{setting.words} ({setting.key}): {setting_words(setting)}", width, "", "  ")
    return lines + _wrapped(f"{ORIGINS[setting.origin]}: {setting.why}", width, "    ", "    ")


# ---------------------------------------------------------------------------------------------- one table


def _table(table: Table, width: int) -> list[str]:
    """A table in a few lines: range, where it binds, how much of it is visited, where it comes from."""
    lines = _wrapped(f"{table.key}: {table.words}", width, "", "  ")
    over = " by ".join(f"{axis.values.size} of {axis.words}" for axis in table.axes)
    lines += _wrapped(f"{range_words(table)}, over {over}", width, "    ", "    ")
    for words in binding_words(table):
        lines += _wrapped(words, width, "    ", "    ")
    lines += _wrapped(f"{visited_words(table)}; {origin_words(table)}", width, "    ", "    ")
    for note in table.notes:
        lines += _wrapped(note, width, "    ", "    ")
    return lines


def range_words(table: Table) -> str:
    """'-4.0 to 45.1 deg, ± 2.8'."""
    good = np.isfinite(table.value)
    if not good.any():
        return "no cell has a number"
    face, step = table_face(table), step_of(table)
    shown = face.shown(table.value[good])
    low, high = (say_number(float(end), step) for end in (shown.min(), shown.max()))
    unit = face.name if face.name != "lambda" else ""
    text = f"{low} to {high} {unit}".rstrip() if low != high else f"{low} {unit}".rstrip()
    spreads = COVERAGE * table.sd[good] / face.size
    spreads = spreads[np.isfinite(spreads)]
    if spreads.size and float(spreads.max()) > 0.0:
        least, most = (_two_digits(float(end)) for end in (spreads.min(), spreads.max()))
        text += f", ± {least}" if least == most else f", ± {least} to {most}"
    empty = int(np.count_nonzero(~good))
    return text + (f", {empty} cells without a number" if empty else "")


def _two_digits(value: float) -> str:
    return say_number(value, spread_step(value)) if value > 0.0 else "0"


def binding_words(table: Table) -> list[str]:
    """For each limit where the table comes nearest to it, of the cells that are visited where one of them
    has such a limit, and in how many cells it stands at one.
    """
    found = []
    face = table_face(table)
    for edge in edges_of(table):
        gap = (face.shown(edge.value) - face.shown(table.value)) * (1.0 if edge.most else -1.0)
        known = np.isfinite(gap)
        if not known.any():
            continue
        counted = known & table.visited if (known & table.visited).any() else known
        spreads = np.where(counted, gap * face.size / np.maximum(table.sd, 1e-300), np.inf)
        at = tuple(int(i) for i in np.unravel_index(int(np.argmin(spreads)), gap.shape))
        words = _nearest_words(table, at, edge)
        at_it = known & (np.nan_to_num(gap, nan=np.inf) <= 0.0)
        count, visited = int(np.count_nonzero(at_it)), int(np.count_nonzero(at_it & table.visited))
        if count:
            words += f"; at or beyond it in {count} {'cell' if count == 1 else 'cells'}, {visited} visited"
        found.append(words)
    return found


def _nearest_words(table: Table, at: tuple[int, ...], edge: Edge) -> str:
    value, sd = float(table.value[at]), float(table.sd[at])
    here = said_cell(table, value, sd)
    there = said_cell(table, float(edge.value[at]), sd, band=False)
    side = "not above" if edge.most else "not below"
    backwards = table_face(table).backwards
    beyond = value > float(edge.value[at]) if edge.most != backwards else value < float(edge.value[at])
    word = "farthest beyond" if beyond else "nearest"
    return f"{side}: {edge.why}; {word} at {place_words(table, at)}, {here} where {there} is the limit"


def visited_words(table: Table) -> str:
    """'32 of 110 cells visited by the predicted trajectory'."""
    count, total = int(np.count_nonzero(table.visited)), table.visited.size
    if count == total:
        return "every cell visited by the predicted trajectory"
    return f"{count or 'none'} of {total} cells visited by the predicted trajectory"


def origin_words(table: Table) -> str:
    """'104 by the model alone, 6 on this engine's own readings'."""
    count = Counter(table.origin.ravel().tolist())
    if len(count) == 1:
        return f"all {ORIGINS[next(iter(count))]}"
    return ", ".join(f"{number} {ORIGINS[origin]}" for origin, number in count.most_common())


def _wrapped(text: str, width: int, first: str = "", then: str = "") -> list[str]:
    return textwrap.wrap(
        text, width, initial_indent=first, subsequent_indent=then or first, break_on_hyphens=False
    )


# ----------------------------------------------------------------------------------------------- in full


def table_report(table: Table, calibration: Calibration, *, stamp: str = "", width: int = 80) -> str:
    """One table with all its cells as text ending in a line break; wide ones in several blocks."""
    width = max(40, min(width, 132))
    face = table_face(table)
    unit = f" [{face.name}]" if face.name else ""
    lines = [*_wrapped(f"{table.key}: {table.words}{unit}", width), "─" * width]
    lines += _wrapped(range_words(table), width)
    for words in binding_words(table):
        lines += _wrapped(words, width)
    lines += _wrapped(f"{visited_words(table)}; {origin_words(table)}", width)
    for note in table.notes:
        lines += _wrapped(note, width)
    for check in calibration.checks:
        if check.holds is not True and any(key == table.key for key, *_ in check.cells):
            lines += _wrapped(f"{_MARK[check.holds]} {_WORD[check.holds]}: {check.words}", width, "", "  ")
    lines.append("")
    lines += _column(table, width) if len(table.axes) == 1 else _grid(table, calibration, width)
    lines.append("")
    for caution in calibration.cautions[:1]:
        lines += _wrapped(f"take care: {caution}", width, "", "  ")
    return "\n".join([*lines, *_wrapped(stamp, width)]) + "\n"


def _column(table: Table, width: int) -> list[str]:
    """A table over one axis: a line for each breakpoint."""
    axis = table.axes[0]
    points = axis_texts(axis)
    head = f"{axis.words} [{axis_face(axis).name or '-'}]"
    wide = max(7, *(len(point) for point in points))
    lines = _wrapped(f"{head}, value, where it comes from", width)
    for i, point in enumerate(points):
        value = said_cell(table, float(table.value[i]), float(table.sd[i]))
        visited = "visited" if table.visited[i] else "not visited"
        line = f"{point:>{wide}}  {value:<22}"
        tail = f"{visited}, {table.origin[i].value}"
        lines += [f"{line}  {tail}"] if len(line) + 2 + len(tail) <= width else [line.rstrip(), f"  {tail}"]
    return lines


_LETTERS: Final = {
    Origin.BASELINE: "b",
    Origin.LOG: "l",
    Origin.MAKER: "p",
    Origin.RULE: "r",
    Origin.HAND: "h",
    Origin.MODEL: "",
}


def _grid(table: Table, calibration: Calibration, width: int) -> list[str]:
    """A table over two axes as a grid with marks, in as many blocks of columns as the width asks for."""
    down, across = table.axes
    face, step = table_face(table), step_of(table)
    decimals = max(0, -round(np.log10(step)))
    failed = {
        tuple(at)
        for check in calibration.checks
        if check.holds is False
        for key, *at in check.cells
        if key == table.key
    }
    shown = face.shown(table.value)
    texts = [
        [_cell(table, shown[i, j], (i, j), decimals, failed) for j in range(across.values.size)]
        for i in range(down.values.size)
    ]
    points, heads = axis_texts(down), axis_texts(across)
    left = max(len(down.words.split()[-1]), *(len(p) for p in points), 5)
    wide = max(len(text) for row in (*texts, heads) for text in row) + 1
    fit = max(1, (width - left) // wide)
    fit = -(-across.values.size // -(-across.values.size // fit))  # blocks of about the same width
    lines = _wrapped(
        f"down: {down.words} [{axis_face(down).name or '-'}]; across: {across.words}"
        f" [{axis_face(across).name or '-'}]",
        width,
    )
    for start in range(0, across.values.size, fit):
        part = slice(start, start + fit)
        lines += ["", " " * left + "".join(f"{head:>{wide - 2}}  " for head in heads[part]).rstrip()]
        for i, point in enumerate(points):
            row = "".join(f"{text:>{wide}}" for text in texts[i][part]).rstrip()
            lines.append(f"{point:>{left}}{row}")
    return [*lines, "", *_wrapped(_legend(table, bool(failed)), width)]


def _cell(
    table: Table, value: float, at: tuple[int, int], decimals: int, failed: set[tuple[int, ...]]
) -> str:
    number = f"{value:.{decimals}f}" if np.isfinite(value) else "none"
    if number.startswith("-") and not float(number):
        number = number[1:]
    mark = "!" if at in failed else "*" if table.visited[at] else " "
    return number + mark + (_LETTERS[table.origin[at]] or " ")


def _legend(table: Table, failed: bool) -> str:
    """What the marks behind the numbers say."""
    said_marks = ["* visited by the predicted trajectory, no mark: not visited"]
    if failed:
        said_marks.append("! a check does not hold here")
    used = set(table.origin.ravel().tolist())
    said_marks += [f"{_LETTERS[o]} {ORIGINS[o]}" for o in Origin if o in used and _LETTERS[o]]
    if Origin.MODEL in used and len(used) > 1:
        said_marks.append(f"no letter: {ORIGINS[Origin.MODEL]}")
    return "; ".join(said_marks) + "."
