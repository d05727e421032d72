"""An edited calibration table as bytes, to the numbers of its cells in SI or to every fault in it.

As a grid, the first axis downwards, or with one cell a line; rows and columns in any order. Each cell of the
table must be there once, at its breakpoint.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.build.faults import Fault
from boostwright.quantity import (
    Dimension,
    PressureKind,
    QuantityError,
    Unit,
    nearest,
    read_number,
    unit_names,
)
from boostwright.quantity.units import DIMENSIONLESS, candidates, units_with_key
from boostwright.readers.fault_list import FaultList, Full
from boostwright.readers.table_form import (
    TABLES,
    AxisForm,
    TableForm,
    breakpoint_unit,
    possible,
    said_breakpoint,
    said_place,
)
from boostwright.readers.table_head import GRID_AXES, MOST_FAULTS, Head, Row, Sheet, read_sheet

__all__ = ["ReadTable", "check_table_csv", "read_table_csv"]

Array = NDArray[np.float64]

_NO_UNIT: Final = ("", "-", "1", "–")
_EMPTY: Final = ("", "nan", "-", "n/a", "na", "none")
_COMMA = re.compile(r"^[+\-−]?[0-9]*,[0-9]+$")
_BARE_RATIO = re.compile(r"^a\W?f\W?r\W*$", re.IGNORECASE)  # air to fuel, without the fuel's name
_BRACKETED = re.compile(r"^(?P<name>[^\[]*)\[(?P<unit>[^\]]*)\]?\s*$")
_SAME: Final = 2e-3  # of the distance of two breakpoints, within which a number is one of them
_LONGEST_NUMBER: Final = 40
_MOST_SAID: Final = 8  # breakpoints that one fault names


class ReadTable(NamedTuple):
    """The cells, SI, NaN where empty, and what deserves a look."""

    head: Head
    values: Array
    lines: NDArray[np.int64]  # of the file where each cell stands
    notes: tuple[Fault, ...]


def read_table_csv(data: bytes, form: TableForm, file: str = "") -> ReadTable:
    """The cells that the bytes of an edited table state, each at its breakpoints.

    Raises BuildFileError with every fault that can still be read, in the order of the file.
    """
    faults = FaultList(MOST_FAULTS)
    found: tuple[Head, Array, NDArray[np.int64]] | None = None
    try:
        sheet = read_sheet(data, faults)
        if sheet is not None:
            found = _read(sheet, form, faults)
    except Full:
        faults.cut_short()
        found = None
    notes = faults.settled(file or f"the table {form.key}", hopeless=found is None)
    assert found is not None
    return ReadTable(*found, notes)


def check_table_csv(data: bytes, head: Head, file: str = "") -> None:
    """What can be told of an edited table without the one it was made from: units, labels, every number.

    Silent on a table that does not lie over speed and manifold pressure, or whose head states no breakpoints.
    Raises BuildFileError with every fault.
    """
    dimension, pressure, gridded = TABLES.get(head.key, (Dimension.RATIO, None, False))
    if not gridded or set(head.breakpoints) != set(GRID_AXES):
        return
    kinds = {Dimension.PRESSURE: PressureKind.ABSOLUTE}
    axes = tuple(
        AxisForm(key, key.replace("_", " "), kind, np.array(head.breakpoints[key]), kinds.get(kind))
        for key, kind in GRID_AXES.items()
    )
    shape = tuple(axis.values.size for axis in axes)
    anywhere = np.ones(shape, dtype=bool)  # which cells may be empty the table itself must say
    read_table_csv(data, TableForm(head.key, head.key, dimension, axes, anywhere, pressure), file)


def _read(sheet: Sheet, form: TableForm, faults: FaultList) -> tuple[Head, Array, NDArray[np.int64]] | None:
    head = sheet.head
    if head.key != form.key:
        faults.add(
            "wrong-form", head.line, "table", head.key, form.key, f"this is the table '{head.key}'",
            f"Give the file of '{form.key}'.",
        )  # fmt: skip
        return None
    first, body = sheet.body[0], sheet.body[1:]
    names = [cell.casefold().partition("[")[0].strip() for cell in first.cells]
    reading = _Reading(form, faults, _decimal_comma(sheet), sheet.delimiter)
    if "value" in names:
        good = reading.list_of_cells(head, first, names, body)
    elif len(form.axes) == 2:
        good = reading.grid(head, first, body)
    else:
        faults.add(
            "missing-key", first.line, "value", "", "value", "no column is named 'value'",
            "Leave the row of names as it was exported.",
        )  # fmt: skip
        good = False
    if not good:
        return None
    reading.strays()
    reading.impossible(head.unit, head.unit_line)
    reading.missing(body[-1].line if body else first.line)
    return head, reading.values, reading.lines


def _decimal_comma(sheet: Sheet) -> bool:
    """Whether the numbers of a file have decimal commas, beyond doubt."""
    if sheet.delimiter == ",":
        return False
    cells = [cell for row in sheet.body for cell in row.cells if cell]
    commas = [cell for cell in cells if _COMMA.match(cell)]
    if any(re.match(r"^[+\-−]?[0-9]*\.[0-9]+$", cell) for cell in cells):
        return False
    return any(len(c.partition(",")[2]) != 3 or c.lstrip("+-−").startswith(("0,", ",")) for c in commas)


class _Reading:
    """Cells as they are found, and the faults on the way."""

    def __init__(self, form: TableForm, faults: FaultList, comma: bool, delimiter: str) -> None:
        self.form, self.faults, self.comma, self.delimiter = form, faults, comma, delimiter
        shape = tuple(axis.values.size for axis in form.axes)
        self.values = np.full(shape, np.nan)
        self.lines = np.zeros(shape, dtype=np.int64)
        self.spoilt = False  # a row or column was not understood, so what is missing says nothing
        self.beyond: list[tuple[int, str, int]] = []  # line, cell, column of values that no engine has
        self.read = 0  # values that are numbers
        self.stray: dict[int, list[tuple[int, str, float, int]]] = {}  # by axis: off every breakpoint
        self.met: set[int] = set()  # axes of which a breakpoint was found
        self.stated: dict[int, tuple[str, Unit | None, int]] = {}  # unit of each axis as said, and where

    # ------------------------------------------------------------------------------------------- two forms

    def grid(self, head: Head, first: Row, body: Sequence[Row]) -> bool:
        """A corner with breakpoints beside and below it."""
        unit, good = self.unit(head.unit, head.unit_line, self.form.dimension, self.form.pressure, "unit")
        units: list[Unit | None] = []
        corner = [self.bracket(part.strip()) for part in first.cells[0].split("\\")]
        corner = corner if len(corner) == len(self.form.axes) else [None] * len(self.form.axes)
        for which, (axis, label) in enumerate(zip(self.form.axes, corner, strict=True)):
            found, known = self.axis_unit(which, axis, head, label, first.line)
            units.append(found)
            good &= known
        if not good:
            return False
        across = [
            self.place(1, cell, units[1], first.line, at + 1) if cell else None
            for at, cell in enumerate(first.cells)
            if at > 0
        ]
        self.repeated(across, first, 1)
        width = 1 + max((at + 1 for at, cell in enumerate(first.cells[1:]) if cell), default=0)
        rows: dict[int, int] = {}
        for row in body:
            if any(row.cells[width:]):
                self.too_wide(row, width)
                continue
            down = self.place(0, row.cells[0], units[0], row.line, 1)
            if down is None:
                continue
            if down in rows:
                self.faults.add(
                    "duplicate-key", row.line, self.form.axes[0].key, row.cells[0], "once",
                    f"the row of this {self.form.axes[0].words} stands in line {rows[down]}, too",
                    "Take one of the two out.", column=1,
                )  # fmt: skip
                continue
            rows[down] = row.line
            for at, column in enumerate(across, 1):
                if column is not None:
                    cell = row.cells[at] if at < len(row.cells) else ""
                    self.put((down, column), cell, unit, row.line, at + 1)
        return True

    def list_of_cells(self, head: Head, first: Row, names: Sequence[str], body: Sequence[Row]) -> bool:
        """One cell a line: breakpoints, value, and columns that are not read."""
        form, places, good = self.form, [], True
        units: list[Unit | None] = []
        for axis in form.axes:
            at = next((i for i, name in enumerate(names) if name in (axis.words.casefold(), axis.key)), None)
            if at is None:
                self.faults.add(
                    "missing-key", first.line, axis.key, "", axis.words,
                    f"there is no column of {axis.words}", "Leave the row of names as it was exported.",
                )  # fmt: skip
                good = False
                continue
            label = self.bracket(first.cells[at])
            found, known = self.axis_unit(len(units), axis, head, label, first.line)
            places.append(at)
            units.append(found)
            good &= known
        value = names.index("value")
        text = self.bracket(first.cells[value])
        if text is None:
            text = head.unit
        unit, known = self.unit(text, first.line, form.dimension, form.pressure, "value")
        if known and head.unit is not None and head.unit not in _NO_UNIT:
            stated, fine = self.unit(head.unit, head.unit_line, form.dimension, form.pressure, "unit")
            known = fine
            if fine and stated != unit:
                self.faults.add(
                    "wrong-unit", head.unit_line, "unit", head.unit, text or "",
                    f"the head says '{head.unit}' and the column of values '{text}'",
                    "Write the same unit in both.",
                )  # fmt: skip
                known = False
        if not (good and known):
            return False
        for name in ("value", *(axis.words.casefold() for axis in form.axes)):
            if list(names).count(name) > 1:
                self.faults.add(
                    "duplicate-key", first.line, name, "", "once", f"two columns are named '{name}'",
                    "Keep one of them.",
                )  # fmt: skip
                return False
        width = max((i + 1 for i, name in enumerate(names) if name), default=0)
        for row in body:
            if any(row.cells[width:]):
                self.too_wide(row, width)
                continue
            cells = (*row.cells, *[""] * width)
            points = [self.place(k, cells[at], units[k], row.line, at + 1) for k, at in enumerate(places)]
            where = tuple(point for point in points if point is not None)
            if len(where) == len(points):
                self.put(where, cells[value], unit, row.line, value + 1)
        return True

    # ------------------------------------------------------------------------------------------ their parts

    def axis_unit(
        self, which: int, axis: AxisForm, head: Head, label: str | None, line: int
    ) -> tuple[Unit | None, bool]:
        """The unit of an axis, which its line of the head and the label above its numbers must say alike."""
        text, above = head.axes.get(axis.key, (None, line))
        if not text:
            text, above = label, line
        unit, known = self.unit(text, above, axis.dimension, axis.pressure, axis.key)
        if known and label is not None and above != line:
            other, known = self.unit(label, line, axis.dimension, axis.pressure, axis.key)
            if known and other != unit:
                self.faults.add(
                    "wrong-unit", line, axis.key, label, text or "",
                    f"the label says '{label}', and line {above} says '{text}' for {axis.words}: they cannot"
                    " both be true",
                    "Write the unit that your breakpoints are in, in both places.",
                )  # fmt: skip
                known = False
        self.stated[which] = (text or "", unit, above)
        return unit, known

    def bracket(self, cell: str) -> str | None:
        match = _BRACKETED.match(cell)
        return match["unit"].strip() if match else None

    def unit(
        self, text: str | None, line: int, dimension: Dimension, pressure: PressureKind | None, field: str
    ) -> tuple[Unit | None, bool]:
        """The unit of a text, and whether it can be used."""
        names = unit_names(dimension)
        if text is None or text in _NO_UNIT:
            if dimension in DIMENSIONLESS:
                return None, True
            self.faults.add(
                "no-unit", line, field, text or "", ", ".join(names[:4]), "no unit is said",
                "Leave the head as it was exported, or write the unit that your numbers are in.",
            )  # fmt: skip
            return None, False
        found = units_with_key(text[:40], dimension)
        if len(found) != 1:
            others = candidates(text[:40])
            why = f"'{text[:24]}' is no unit of {dimension.value}"
            if not found and others:
                why = f"'{text[:24]}' is a unit of {others[0].dimension.value}, and this is {dimension.value}"
            elif found:
                why = f"'{text[:24]}' can mean {' or '.join(unit.name for unit in found)}"
            near = nearest(text, names, count=1)
            hint = f" Did you mean {near[0]}?" if near and not found else ""
            if dimension is Dimension.MIXTURE and _BARE_RATIO.match(text):
                why = f"'{text}' says no fuel, and one ratio is another lambda with each"
                names, hint = ("lambda",), " Divide by the ratio at which your own fuel burns without rest."
            advice = "Write one of them." if len(names) > 1 else f"Write {names[0]}." if names else ""
            self.faults.add(
                "unknown-unit", line, field, text, ", ".join(names[:6]), why,
                f"{advice or 'Leave the unit out.'}{hint}",
            )  # fmt: skip
            return None, False
        unit = found[0]
        if unit.kind is not None and pressure is not None and unit.kind is not pressure:
            self.faults.add(
                "gauge-absolute", line, field, text, f"{unit_names(dimension)[2]} {pressure.value}",
                f"this counts {pressure.value}, and the file says {unit.kind.value}",
                f"Write {pressure.value} pressures: the two differ by the outside air.",
            )  # fmt: skip
            return None, False
        return unit, True

    def number(self, cell: str, line: int, field: str, column: int) -> float | None:
        """One number as written, or None with a fault."""
        text = cell.replace("−", "-").replace("\u00a0", " ")
        try:
            if len(text) > _LONGEST_NUMBER:
                raise QuantityError("no-number", "this is too long for a number", "Write one number here.")
            return read_number(text.replace(",", ".") if self.comma and _COMMA.match(text) else text)
        except QuantityError as error:
            remedy = error.remedy
            if self.delimiter == "," and error.code == "no-number":
                remedy += " With decimal commas, part the cells with semicolons."
            self.faults.add(error.code, line, field, cell, "", error.why, remedy, column=column)
            return None

    def place(self, which: int, cell: str, unit: Unit | None, line: int, column: int) -> int | None:
        """Which breakpoint of an axis a cell states; None with a fault where it is none."""
        axis = self.form.axes[which]
        if cell.casefold() in _EMPTY:
            self.faults.add(
                "missing-value", line, axis.key, cell or "nothing", "", f"this has no {axis.words}",
                "Write its breakpoint, or take the line out and read what is missing.", column=column,
            )  # fmt: skip
            self.spoilt = True
            return None
        number = self.number(cell, line, axis.key, column)
        if number is None:
            self.spoilt = True
            return None
        value = number if unit is None else number * unit.factor + unit.offset
        index = int(np.argmin(np.abs(axis.values - value)))
        gaps = np.diff(axis.values)
        near = float(gaps.min()) if gaps.size else abs(float(axis.values[0])) or 1.0
        if not abs(float(axis.values[index]) - value) <= _SAME * max(near, 1e-12):
            self.stray.setdefault(which, []).append((line, cell, value, column))
            self.spoilt = True
            return None
        self.met.add(which)
        return index

    def strays(self) -> None:
        """Say which breakpoints are none of the table's; where all are, the axis's unit is at fault."""
        for which, found in self.stray.items():
            axis, (text, unit, above) = self.form.axes[which], self.stated[which]
            factor, offset = (1.0, 0.0) if unit is None else (unit.factor, unit.offset)
            points = " ".join(f"{(v - offset) / factor:.6g}" for v in axis.values)
            if which not in self.met and len(found) > 1 and text:
                shown = " ".join(
                    said_breakpoint(axis, v) for v in sorted({one[2] for one in found})[:_MOST_SAID]
                )
                own = " ".join(said_breakpoint(axis, v) for v in axis.values[:_MOST_SAID].tolist())
                name = breakpoint_unit(axis)
                self.faults.add(
                    "wrong-unit", above, axis.key, text, f"{own} {name}".strip(),
                    f"the unit is said to be '{text}', the breakpoints of {axis.words} then lie at {shown}"
                    f" {name}, and the table's at {own} {name}",
                    "Write the unit that your breakpoints are in; the exported file has it.",
                )  # fmt: skip
                continue
            for line, cell, _, column in found:
                self.faults.add(
                    "out-of-range", line, axis.key, cell, points,
                    f"the table has no breakpoint of {axis.words} there",
                    "Keep the breakpoints as exported; for others, export with --speeds or --pressures.",
                    column=column,
                )  # fmt: skip

    def repeated(self, across: Sequence[int | None], row: Row, which: int) -> None:
        """Say which columns stand twice."""
        seen: dict[int, int] = {}
        for at, place in enumerate(across, 2):
            if place is not None and place in seen:
                self.faults.add(
                    "duplicate-key", row.line, self.form.axes[which].key, row.cells[at - 1], "once",
                    f"this breakpoint stands in column {seen[place]}, too", "Take one of the two out.",
                    column=at,
                )  # fmt: skip
            elif place is not None:
                seen[place] = at

    def too_wide(self, row: Row, width: int) -> None:
        """A row with more cells than names."""
        self.spoilt = True
        commas = self.delimiter == ","
        self.faults.add(
            "wrong-form", row.line, "", self.delimiter.join(row.cells)[:60], f"{width} columns",
            f"{len(row.cells)} cells stand here"
            + ("; commas seem to be decimal signs too" if commas else ""),
            "Part the cells with semicolons, or write decimal points." if commas else
            "Take out what stands beside the table.",
        )  # fmt: skip

    def put(self, at: tuple[int, ...], cell: str, unit: Unit | None, line: int, column: int) -> None:
        """One value into its place."""
        form = self.form
        if self.lines[at]:
            self.faults.add(
                "duplicate-key", line, form.key, cell, "once",
                f"this cell stands in line {int(self.lines[at])}, too", "Take one of the two out.",
                column=column,
            )  # fmt: skip
            return
        self.lines[at] = line
        if cell.casefold() in _EMPTY:
            if not form.may_be_empty[at]:
                self.faults.add(
                    "missing-value", line, form.key, cell or "nothing", "", "this cell is empty",
                    "Write its number; the exported file has the one that was computed.", column=column,
                )  # fmt: skip
            return
        number = self.number(cell, line, form.key, column)
        if number is None:
            return
        value = number if unit is None else number * unit.factor + unit.offset
        self.read += 1
        low, high, _ = possible(form)
        if not low <= value <= high:
            self.beyond.append((line, cell, column))
            return
        self.values[at] = value

    def impossible(self, unit: str | None, line: int) -> None:
        """Say which values no engine has; where they are most of the table, its unit is at fault."""
        form = self.form
        words = possible(form)[2]
        if unit and len(self.beyond) > 2 and 2 * len(self.beyond) > self.read:
            first, cell, _ = self.beyond[0]
            self.faults.add(
                "wrong-unit", line, "unit", unit, words,
                f"the unit is said to be '{unit}', and no engine runs with {len(self.beyond)} of the"
                f" {self.read} numbers then, the first {cell} in line {first}",
                "Write the unit that your numbers are in; the exported file has the one they were in.",
            )  # fmt: skip
            return
        for at, cell, column in self.beyond:
            self.faults.add(
                "out-of-range", at, form.key, cell, words, f"no engine runs with this {form.words}",
                "Look at the number and at the unit in the head.", column=column,
            )  # fmt: skip

    def missing(self, line: int) -> None:
        """Say which cells are not there, whole rows and columns as one."""
        form = self.form
        gone = self.lines == 0
        if self.spoilt or not gone.any():
            return
        for which, axis in enumerate(form.axes):
            others = tuple(k for k in range(len(form.axes)) if k != which)
            for index in np.flatnonzero(gone.all(axis=others) if others else gone):
                self.faults.add(
                    "missing-value", line, axis.key, "", "",
                    f"nothing stands at {axis.words} {said_place(axis, int(index))}",
                    "Bring the row or column back from the exported file.",
                )  # fmt: skip
                gone[(slice(None),) * which + (int(index),)] = False
        for place in np.argwhere(gone):
            words = ", ".join(
                f"{a.words} {said_place(a, int(i))}" for a, i in zip(form.axes, place, strict=True)
            )
            self.faults.add(
                "missing-value", line, form.key, "", "", f"the cell at {words} is not there",
                "Bring it back from the exported file.",
            )  # fmt: skip
