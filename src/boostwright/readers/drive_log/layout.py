"""How a text file is laid out: what parts its cells, where headings, units and rows stand."""

from __future__ import annotations

import csv
import re
from collections import Counter
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise, zip_longest
from typing import Final

from boostwright.errors import LogRefused
from boostwright.readers.drive_log.cells import is_nothing, read_cell
from boostwright.readers.drive_log.names import fits, readings, says
from boostwright.readers.drive_log.units import any_unit

__all__ = ["Layout", "find_layout", "header_of", "is_data", "kind_of", "split_line"]

_SEPARATORS: Final = (";", "\t", ",", "|", " ")
_COMMENT: Final = re.compile(r'^\s*"?(?:#|//|%|!|\*|--|REM\b|;(?=\s*[A-Za-z]))', re.IGNORECASE)
_NUMBER: Final = re.compile(
    r"[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+|[0-9]{1,3}(?:[.,'’][0-9]{3})+(?:[.,][0-9]+)?)(?:[eE][+-]?[0-9]{1,3})?"
)
_TIME: Final = re.compile(
    r"(?:[0-9]{1,4}[-./][0-9]{1,2}[-./][0-9]{1,4})?[T ]*"
    r"(?:[0-9]{1,4}:[0-9]{1,2}(?::[0-9]{1,2})?(?:[.,:][0-9]+)?)?"
    r"\s*(?:[AaPp]\.?[Mm]\.?)?\s*(?:Z|UTC|GMT|[+-][0-9]{2}:?[0-9]{2})?"
)
_MOST_LINES: Final = 600
_MOST_COLUMNS: Final = 4000
_LEAST_NUMBERS: Final = 0.34  # of the filled cells of a row of data


@dataclass(slots=True)
class Layout:
    """One table of a text file."""

    separator: str  # ' ' for runs of spaces
    quoted: bool
    decimal: str  # '.' or ',' or '' where no cell shows it
    headings: list[str]
    units: list[str]  # from a row of units, '' for none
    metadata: list[str] = field(default_factory=list)
    first_line: int = 0  # of the rows, counted in lines of the file
    spare: int = 0  # empty cells behind the last heading, where rows end with a separator

    @property
    def width(self) -> int:
        """Cells of a row."""
        return len(self.headings)


def split_line(line: str, separator: str) -> list[str]:
    """The cells of one line, without the spaces and quotes around them."""
    line = line.rstrip("\r\n")
    if separator == " ":
        return [c.strip('"') for c in line.split()]
    if '"' in line:
        try:
            cells = next(csv.reader([line], delimiter=separator, skipinitialspace=True), [])
        except csv.Error:
            cells = line.split(separator)
    else:
        cells = line.split(separator)
    return [c.strip().strip('"').strip() for c in cells]


@lru_cache(maxsize=100_000)
def kind_of(cell: str) -> str:
    """What a cell is: number, time, nothing, unit, or text."""
    cell = cell.strip()
    if is_nothing(cell):
        return "nothing"
    if _NUMBER.fullmatch(cell):
        return "number"
    if any(c.isdigit() for c in cell) and _TIME.fullmatch(cell):
        return "time"
    if any_unit(cell):
        return "unit"
    if len(cell) < 40 and cell[:1] in "+-.,0123456789<>~" and read_cell(cell, "") is not None:
        return "number"
    return "text"


def is_data(cells: list[str], width: int) -> bool:
    """True for cells that are a row of readings."""
    kinds = [kind_of(c) for c in cells]
    filled = len(kinds) - kinds.count("nothing")
    good = kinds.count("number") + kinds.count("time")
    if filled == 0:
        return False
    texts = [c for c, kind in zip(cells, kinds, strict=True) if kind == "text"]
    words = sum(read_cell(c, "") is not None for c in texts)  # ON, OFF
    return good >= 1 and (good + words) >= _LEAST_NUMBERS * filled and len(cells) >= min(2, width)


def find_layout(text: str, later: list[str]) -> Layout:
    """The layout of a file by its beginning and by pieces from all over it.

    Raises LogRefused where there is no table of readings.
    """
    lines = text.split("\n")[:_MOST_LINES]
    told = _told_separator(lines)
    sample = [line for line in lines if line.strip() and not _COMMENT.match(line)]
    for piece in later[:: max(1, len(later) // 4)]:
        sample += [line for line in piece.split("\n")[:40] if line.strip()]
    separator, width = _separator([told] if told else list(_SEPARATORS), sample)
    if width > _MOST_COLUMNS:
        raise LogRefused("too-wide", f"a row has {width} cells", f"Up to {_MOST_COLUMNS} can be read.")
    lines, starts = _joined_quotes(lines)
    rows = [split_line(line, separator) for line in lines]
    first = _first_data(lines, rows, width)
    if first is None:
        raise LogRefused(
            "no-rows",
            "no row of readings was found in this file: it holds no table of a log",
            "A log has one row for each moment, with numbers parted by comma, semicolon or tab.",
        )
    headings, units, metadata = header_of(lines[:first], separator, width)
    body = [r for line, r in zip(lines[first:], rows[first:], strict=True) if line.strip()]
    for piece in later:
        body += [split_line(line, separator) for line in piece.split("\n")[:40]]
    body = [r for r in body if is_data(r, width)]
    written = Counter(len(r) for r in body)
    widths = Counter(len(_trimmed(r)) for r in body)
    common = max((w for w, n in widths.items() if n >= 0.02 * len(body)), default=width)
    named = sum(bool(h) for h in headings)
    if (
        separator == ","
        and 3 <= named <= common / 1.5
        and not any("." in cell for row in body for cell in row)
    ):
        raise LogRefused(
            "mixed-commas",
            f"its rows have {common} cells for {named} headings, and no decimal point: its commas"
            " part both cells and"
            " decimals, and nobody can tell which",
            "Let the logger part its cells by semicolon or tab, or write decimals with a point.",
        )
    while len(headings) < min(common, _MOST_COLUMNS):
        headings.append("")
    while len(headings) > max(common, 1) and not headings[-1]:
        headings.pop()
    units = (units + [""] * len(headings))[: len(headings)]
    quoted = any('"' in line for line in lines[first:]) or any('"' in piece for piece in later)
    spare = max(0, min(16, max(written, key=lambda w: written[w], default=0) - len(headings)))
    decimal = _decimal(body, separator)
    return Layout(separator, quoted, decimal, headings, units, metadata, starts[first], spare)


def _joined_quotes(lines: list[str]) -> tuple[list[str], list[int]]:
    """Lines of the beginning, those in one piece that a quoted heading goes over; where each began."""
    joined: list[str] = []
    starts: list[int] = []
    k = 0
    while k < len(lines):
        line, end = lines[k], k + 1
        while line.count('"') % 2 and end < min(k + 6, len(lines)) and len(line) < 4000:
            line, end = f"{line} {lines[end]}", end + 1
        if line.count('"') % 2:  # a stray mark, and no quotation
            line, end = lines[k], k + 1
        joined.append(line)
        starts.append(k)
        k = end
    return joined, starts


def _told_separator(lines: list[str]) -> str:
    """What the first line says in the way of spreadsheets: 'sep=;'."""
    match = re.fullmatch(r'"?sep=(.|\\t)"?\s*', lines[0].strip().strip('"'), re.IGNORECASE) if lines else None
    return ("\t" if match[1] == "\\t" else match[1]) if match and match[1] in (*_SEPARATORS, "\\t") else ""


def _trimmed(cells: list[str]) -> list[str]:
    end = len(cells)
    while end and not cells[end - 1]:
        end -= 1
    return cells[:end]


def _separator(choices: list[str], sample: list[str]) -> tuple[str, int]:
    """What parts the cells, and how many a row commonly has. Raises LogRefused."""
    best, best_score, best_width = "", 0.0, 0
    tail = sample[min(len(sample) // 3, 40) :][:300]
    for separator in choices:
        rows = [split_line(line, separator) for line in tail]
        widths = Counter(len(r) for r in rows)
        if not widths:
            continue
        width = max(widths, key=lambda w: (widths[w] if w > 1 else 0, w))
        if width < 2:
            continue
        same = [r for r in rows if len(r) == width][:80]
        cells = [kind_of(c) for r in same for c in r]
        filled = [k for k in cells if k != "nothing"] or ["text"]
        good = sum(k in ("number", "time") for k in filled) / len(filled)
        steady = widths[width] / len(rows)
        score = (0.1 + good) * (0.2 + steady) * (1.0 + 0.25 * min(width, 30) ** 0.5)
        if separator == " ":
            score *= 0.7
        if score > best_score:
            best, best_score, best_width = separator, score, width
    if not best:
        raise LogRefused(
            "no-table",
            "the lines of this file are no table, there is no row with a time and a reading",
            "A log has its cells parted by comma, semicolon or tab, and at least a time and one reading.",
        )
    return best, best_width


def _counts_up(cells: list[str]) -> bool:
    """A row of column numbers: 1, 2, 3, ..."""
    filled = _trimmed(cells)
    if len(filled) < 3 or not all(c.isdigit() for c in filled):
        return False
    numbers = [int(c) for c in filled]
    return numbers[0] in (0, 1) and all(b - a == 1 for a, b in pairwise(numbers))


def _first_data(lines: list[str], rows: list[list[str]], width: int) -> int | None:
    """The line of the first row of readings."""
    filled = [k for k, line in enumerate(lines) if line.strip() and not _COMMENT.match(line)]
    seen: dict[int, bool] = {}

    def good(at: int) -> bool:
        if at not in seen:
            row = rows[filled[at]]
            wide = len(row) >= max(2, width // 2) or (width <= 3 and len(row) >= 2)
            seen[at] = wide and is_data(row, width)
            if seen[at] and at >= 2 and _counts_up(row) and not good(at - 1):
                seen[at] = False
        return seen[at]

    for at, k in enumerate(filled):
        after = [good(j) for j in range(at, min(at + 4, len(filled)))]
        if after[0] and sum(after) >= min(3, max(1, len(after) - 1)):
            ahead = range(at + 1, min(at + 6, len(filled)))
            if _counts_up(rows[k]) and any(not good(j) and len(rows[filled[j]]) >= width // 2 for j in ahead):
                continue
            return k
    return None


def header_of(
    lines: list[str], separator: str, width: int, *, remarks: bool = True
) -> tuple[list[str], list[str], list[str]]:
    """Headings, units and metadata lines out of the lines above the rows.

    remarks: lines that are marked as a remark do not count, unless no other line is a heading.
    """
    plain = [line for line in lines if line.strip() and not (remarks and _COMMENT.match(line))]
    rows = [split_line(line, separator) for line in plain]
    wide = max(2, (width + 1) // 2)
    near = [k for k, row in enumerate(rows) if sum(bool(c) for c in row) >= wide]
    if not near:
        marked = [x for x in lines if remarks and _COMMENT.match(x)]
        comments = [re.sub(r'^\s*"?(?:#|//|%|!|\*|;)+\s*', "", x) for x in marked]
        parted = [split_line(line, separator) for line in comments]
        hidden = [k for k, row in enumerate(parted) if sum(bool(c) for c in row) >= wide]
        if hidden and lines:
            return header_of(comments, separator, width, remarks=False)
        return [""] * width, [""] * width, [x.strip() for x in lines if x.strip()]
    units_at = next((k for k in reversed(near) if _is_unit_row(rows[k])), None)
    names = [k for k in near if k != units_at and not _is_unit_row(rows[k])]
    if not names:
        return [""] * width, _units(rows[units_at]) if units_at is not None else [""] * width, []
    names_at = max(names, key=lambda k: (_known(rows[k]), k))
    headings = list(rows[names_at])
    for other in (names_at - 1, names_at + 1):  # a heading that goes over two rows
        if other in names:
            pair = (rows[other], headings) if other < names_at else (headings, rows[other])
            both = [" ".join(p for p in parts if p) for parts in zip_longest(*pair, fillvalue="")]
            if _known(both) > _known(headings) + 1:
                headings = both
    units = _units(rows[units_at]) if units_at is not None else [""] * len(headings)
    metadata = [line.strip() for k, line in enumerate(plain) if k not in (names_at, units_at)]
    metadata += [line.strip() for line in lines if _COMMENT.match(line)]
    return headings, (units + [""] * len(headings))[: len(headings)], metadata


def _known(row: list[str]) -> float:
    """How many cells of a row are words for a quantity or for time."""
    return sum(
        bool(c)
        and (any(f.score > 0.8 for r in readings(c) for f in fits(r.name)) or says(c, "time", "elapsed"))
        for c in row[:200]
    )


def _is_unit_row(row: list[str]) -> bool:
    filled = [c for c in row if not is_nothing(c.strip("[]() "))]
    if not filled:
        return False
    units = sum(bool(any_unit(c)) for c in filled)
    named = sum(bool(any(f.score > 0.9 for f in fits(c))) for c in filled)
    return units >= 0.6 * len(filled) and units > named - 1


def _units(row: list[str]) -> list[str]:
    return ["" if is_nothing(c.strip("[]() ")) else c.strip("[]() ") for c in row]


def _decimal(rows: list[list[str]], separator: str) -> str:
    """Comma or point as the decimal sign of a table, '' where nothing shows it."""
    comma = point = grouped_comma = 0
    for row in rows[:: max(1, len(rows) // 400)]:
        for cell in row:
            if "," in cell or "." in cell:
                cell = re.sub(r"\s*[^0-9.,]+$", "", cell)
                if re.fullmatch(
                    r"[+-]?(?:[0-9]+,(?:[0-9]{1,2}|[0-9]{4,})|0,[0-9]+|[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]+|[0-9]{4,},[0-9]+)",
                    cell,
                ):
                    comma += 1
                elif re.fullmatch(
                    r"[+-]?(?:[0-9]+\.(?:[0-9]{1,2}|[0-9]{4,})|0\.[0-9]+|[0-9]{1,3}(?:,[0-9]{3})+\.[0-9]+|[0-9]{4,}\.[0-9]+)",
                    cell,
                ):
                    point += 1
                elif re.fullmatch(r"[+-]?[0-9]{1,3},[0-9]{3}", cell):
                    grouped_comma += 1
    if comma or point:
        return "," if comma > point else "."
    if grouped_comma:
        return "," if separator != "," else ""
    return ""
