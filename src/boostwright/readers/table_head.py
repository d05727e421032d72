"""The head of an edited calibration table: which table it is, in which unit, over which breakpoints.

    table;spark
    unit;deg
    down;engine_speed;rpm;800 1500 2000
    across;manifold_pressure;kPa absolute;30 50 70 100
    engine speed [rpm] \\ manifold pressure [kPa absolute];30;50;70;100
    800;35,98;32,42;27,22;19,42

Commas, semicolons or tabs part the cells. The lines of the head may stand in any order and some may be gone;
`table` may not.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from itertools import pairwise
from typing import Final, NamedTuple

from boostwright.build.faults import Severity
from boostwright.quantity import Dimension, PressureKind, QuantityError, nearest, read_many
from boostwright.readers.decode import LARGEST_FILE, table_text
from boostwright.readers.fault_list import FaultList, Full

__all__ = ["GRID_AXES", "MOST_FAULTS", "Head", "Row", "Sheet", "read_head", "read_sheet"]

MOST_FAULTS: Final = 60
GRID_AXES: Final[Mapping[str, Dimension]] = {
    "engine_speed": Dimension.ROTATION,
    "manifold_pressure": Dimension.PRESSURE,
}
"""Axes whose breakpoints a person may choose, so that a file's own are computed."""

_STATEMENTS: Final = (
    "table", "about", "unit", "down", "across", "note", "not above", "not below", "build", "inputs",
    "made by", "caution",
)  # fmt: skip
_NUMBERLIKE = re.compile(r"^[+\-−]?\s*[.,]?[0-9]")
_PRESSURES: Final = (10e3, 400e3)  # [Pa absolute] that a manifold can have
_LONGEST_CELL: Final = 2000
_MOST_ROWS: Final = 20_000
_MOST_CELLS: Final = 200


class Row(NamedTuple):
    """The cells of one line. line: of the file, the first is 1."""

    line: int
    cells: tuple[str, ...]


class Head(NamedTuple):
    """What the file says of itself."""

    key: str  # of the table
    line: int  # where that stands
    unit: str | None  # as written; None where no line says it
    unit_line: int
    axes: Mapping[str, tuple[str, int]]  # unit as written, and the line, by the axis's key
    breakpoints: Mapping[str, tuple[float, ...]]  # of GRID_AXES that the head states in full, SI
    inputs: str  # fingerprint of the build that it was made from, '' where it is not said


class Sheet(NamedTuple):
    """The file in two: head and the rows of numbers with the row of names above them."""

    head: Head
    body: tuple[Row, ...]
    delimiter: str


def read_head(data: bytes, file: str = "") -> Head:
    """What the bytes of an edited table say of themselves; the numbers are not looked at.

    Raises BuildFileError with every fault of the head.
    """
    faults = FaultList(MOST_FAULTS)
    sheet: Sheet | None = None
    try:
        sheet = read_sheet(data, faults)
    except Full:
        faults.cut_short()
    faults.settled(file or "the edited table", hopeless=sheet is None)
    assert sheet is not None
    return sheet.head


def read_sheet(data: bytes, faults: FaultList) -> Sheet | None:
    """Head and rows of the bytes; None with a fault where they are no table of ours. Raises Full."""
    if len(data) > LARGEST_FILE:
        faults.add(
            "too-large", 1, "", f"{len(data)} bytes", f"up to {LARGEST_FILE} bytes",
            "a table has some hundreds of cells", "Check that this is the table that you edited.",
        )  # fmt: skip
        return None
    text = table_text(data)
    delimiter = _delimiter(text)
    rows = _rows(text, delimiter, faults)
    statements: dict[str, list[Row]] = {}
    for index, row in enumerate(rows):
        name = row.cells[0].casefold().rstrip(":").lstrip("# ")
        if name in _STATEMENTS:
            statements.setdefault(name, []).append(row)
        elif _names_columns(row):
            head = _head(statements, faults)
            return None if head is None else Sheet(head, tuple(rows[index:]), delimiter)
        elif sum(map(bool, row.cells)) > 1 or _near(name):
            _unread(row, name, faults)
    if _head(statements, faults) is not None:
        faults.add(
            "missing-value", rows[-1].line, "", "nothing", "", "there are no numbers below the head",
            "Export the table again and change the numbers in it.",
        )  # fmt: skip
    return None


def _delimiter(text: str) -> str:
    """What parts the cells: the sign after the word 'table', else the one that most lines have."""
    for line in text.splitlines()[:200]:
        match = re.match(r'\s*"?\s*#?\s*table\s*:?\s*"?\s*([;,\t])', line, re.IGNORECASE)
        if match:
            return match[1]
    lines = text.splitlines()[:200]
    return max(";\t,", key=lambda sign: sum(sign in line for line in lines))


def _rows(text: str, delimiter: str, faults: FaultList) -> list[Row]:
    """The lines that hold something, as cells without the space around them."""
    found: list[Row] = []
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    table = csv.reader(lines, delimiter=delimiter)
    last = 0
    while True:
        try:
            cells = next(table, None)
        except csv.Error:  # one cell longer than a file may be
            faults.add(
                "wrong-form", last + 1, "", "", "", "this line cannot be parted into cells",
                "Look for a quotation mark that is never closed.",
            )  # fmt: skip
            break
        if cells is None:
            break
        line, last = last + 1, table.line_num
        short = tuple(cell.strip()[:_LONGEST_CELL].strip() for cell in cells[:_MOST_CELLS])
        if any(short) and not (line == 1 and short[0].casefold().startswith("sep=")):
            found.append(Row(line, short))
        if len(found) > _MOST_ROWS:
            faults.add(
                "too-long", line, "", f"more than {_MOST_ROWS} rows", "", "no table has so many cells",
                "Check that this is the table that you edited.",
            )  # fmt: skip
            break
    return found


def _names_columns(row: Row) -> bool:
    """Whether a row stands above numbers: a corner and breakpoints, or names of columns with 'value'."""
    rest = [cell for cell in row.cells[1:] if cell]
    if any(cell.casefold().partition("[")[0].strip() == "value" for cell in row.cells):
        return True
    return bool(rest) and all(_NUMBERLIKE.match(cell) for cell in rest)


def _near(name: str) -> bool:
    return bool(nearest(name, _STATEMENTS, count=1, cutoff=0.75)) if name else False


def _unread(row: Row, name: str, faults: FaultList) -> None:
    near = nearest(name, _STATEMENTS, count=1, cutoff=0.75)
    faults.add(
        "unknown-key", row.line, "", row.cells[0], "", "this line of the head is not read",
        f"If it is '{near[0]}', call it so." if near else "Nothing to do if it is a remark of yours.",
        Severity.NOTE,
    )  # fmt: skip


def _head(statements: Mapping[str, list[Row]], faults: FaultList) -> Head | None:
    named = statements.get("table", [])
    if not named or len(named[0].cells) < 2 or not named[0].cells[1]:
        faults.add(
            "missing-key", named[0].line if named else 1, "table", "", "",
            "no line says which table this is", "Leave the line 'table' as it was exported.",
        )  # fmt: skip
        return None
    for rows in (statements.get(name, []) for name in ("table", "unit", "down", "across")):
        for row in rows[1:]:
            faults.add(
                "duplicate-key", row.line, row.cells[0], row.cells[1] if len(row.cells) > 1 else "", "once",
                f"'{row.cells[0]}' stands twice", "Keep one of the lines; one file holds one table.",
            )  # fmt: skip
    axes: dict[str, tuple[str, int]] = {}
    breakpoints: dict[str, tuple[float, ...]] = {}
    for name in ("down", "across"):
        for row in statements.get(name, [])[:1]:
            key, written, points = (*row.cells[1:4], "", "", "")[:3]
            axes[key] = (written, row.line)
            if key in GRID_AXES and points:
                values = _breakpoints(key, written, points, row.line, faults)
                if values:
                    breakpoints[key] = values
    unit_row = statements.get("unit", [None])[0]
    unit = None if unit_row is None else (unit_row.cells[1] if len(unit_row.cells) > 1 else "")
    inputs = ""
    for row in statements.get("inputs", [])[:1]:
        match = re.search(r"[0-9a-f]{8,64}", row.cells[1] if len(row.cells) > 1 else "")
        inputs = match[0] if match else ""
    return Head(
        named[0].cells[1].casefold(), named[0].line, unit, 1 if unit_row is None else unit_row.line, axes,
        breakpoints, inputs,
    )  # fmt: skip


def _breakpoints(key: str, unit: str, points: str, line: int, faults: FaultList) -> tuple[float, ...]:
    """The breakpoints that the head states, SI; nothing, with a fault, where they cannot be read."""
    written = f"{points} {unit}".strip()
    try:
        read = read_many(written, GRID_AXES[key])
    except QuantityError as error:
        faults.add(error.code, line, key, written, "", error.why, error.remedy)
        return ()
    if any(one.kind is PressureKind.GAUGE for one in read):
        faults.add(
            "gauge-absolute", line, key, written, "absolute", "this axis counts pressure from vacuum",
            "Write absolute pressures, like 'kPa absolute'.",
        )  # fmt: skip
        return ()
    values = tuple(one.value for one in read)
    if any(b <= a for a, b in pairwise(values)):
        faults.add(
            "out-of-range", line, key, written, "rising", "the breakpoints do not rise",
            "Leave this line as it was exported.",
        )  # fmt: skip
        return ()
    if key == "manifold_pressure" and not (_PRESSURES[0] <= values[0] and values[-1] <= _PRESSURES[1]):
        faults.add(
            "wrong-unit", line, key, written, "10 to 400 kPa absolute",
            f"the unit is said to be '{unit}', and the breakpoints then lie at {values[0] / 1e3:.4g} to"
            f" {values[-1] / 1e3:.4g} kPa absolute, where no manifold of a road car goes",
            "Write the unit that your breakpoints are in; the exported file has it.",
        )  # fmt: skip
        return ()
    return values
