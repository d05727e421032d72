"""A table of measured points as bytes, to numbers in SI or to every fault that can be read in it.

One point a line; a row of column names, the units in brackets behind them or in a row below. Semicolons, tabs
or commas part the columns; with commas the decimal sign is a point. A line that begins with # is a remark;
those that state a reference state are read. Which columns there are, a `TableKind` says.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final, NamedTuple

from boostwright.build.faults import Fault, Severity
from boostwright.quantity import (
    Dimension,
    PressureKind,
    QuantityError,
    Unit,
    nearest,
    read,
    read_number,
    unit_names,
)
from boostwright.quantity.units import units_with_key
from boostwright.readers.decode import LARGEST_FILE, decode
from boostwright.readers.fault_list import FaultList, Full

__all__ = ["MOST_POINTS", "Column", "Table", "TableKind", "read_table"]

MOST_POINTS: Final = 2000
"""A map never has more points than this."""

_MOST_FAULTS: Final = 100
_MOST_COLUMNS: Final = 60
_LONGEST_LINE: Final = 4000
_LONGEST_NUMBER: Final = 40


class Column(NamedTuple):
    """What a column may hold."""

    key: str
    words: str
    names: tuple[str, ...]  # as a header may write it, in lower case
    dimensions: tuple[Dimension, ...]  # of its unit; empty for a plain number
    low: float  # SI
    high: float
    range_words: str
    required: bool = True
    other: tuple[float, float] | None = None  # range where the unit is of the second dimension


class TableKind(NamedTuple):
    """What kind of table is read, and the words for it."""

    name: str  # 'compressor map'
    machine: str  # 'compressor'
    example: str  # row of column names
    columns: tuple[Column, ...]
    references: dict[str, tuple[Dimension, float, float, str]]  # remarks that state the reference state
    contours: bool = False  # a point may lack its speed if it has its efficiency

    @property
    def by_name(self) -> dict[str, Column]:
        """Columns by each of their names."""
        return {name: column for column in self.columns for name in column.names}


class Table(NamedTuple):
    """Points as read, SI; and what is worth a second look."""

    values: dict[str, list[float | None]]  # by column key, one for each point
    units: dict[str, Unit | None]
    lines: tuple[int, ...]  # of the file, the first is 1
    references: dict[str, float]
    notes: tuple[Fault, ...]

    def whole(self, key: str) -> tuple[float, ...]:
        """A column that has no gaps."""
        return tuple(v for v in self.values[key] if v is not None)


_BRACKETED = re.compile(r"^(?P<name>.*?)[\[(](?P<unit>[^\])]*)[\])]?\s*$")
_STATEMENT = re.compile(r"^[#/\s]*(?P<key>[A-Za-z][A-Za-z _\-]{2,40}?)\s*[=:]\s*(?P<value>\S.{0,80})$")
_NUMBERLIKE = re.compile(r"^[+\-]?\s*[.,]?[0-9]")
_COMMA = re.compile(r"^\s*[+\-]?[0-9]*,[0-9]+(?:[eE][+\-]?[0-9]{1,3})?\s*$")
_EMPTY: Final = ("", "nan", "-", "n/a", "na")
_NO_UNIT: Final = ("", "-", "1", "[-]", "(-)", "–")


class _Place(NamedTuple):
    """Which column of the file holds which quantity, in which unit."""

    column: Column
    at: int  # index
    unit: Unit | None


def read_table(data: bytes, kind: TableKind, file: str = "") -> Table:
    """The points that the bytes of a file state.

    Raises BuildFileError with every fault that can still be read, in the order of the file.
    """
    faults = FaultList(_MOST_FAULTS)
    table: Table | None = None
    try:
        table = _read(data, kind, faults)
    except Full:
        faults.cut_short()
    notes = faults.settled(file or f"the {kind.name}", hopeless=table is None)
    assert table is not None
    return table._replace(notes=notes)


def _read(data: bytes, kind: TableKind, faults: FaultList) -> Table | None:
    if len(data) > LARGEST_FILE:
        faults.add(
            "too-large", 1, "", f"more than {LARGEST_FILE} bytes", f"up to {LARGEST_FILE} bytes",
            f"a {kind.name} is a few dozen lines of text", "Check that this is the map.",
        )  # fmt: skip
        return None
    lines, spoilt = decode(data)
    rows: list[tuple[int, str]] = []
    references: dict[str, float] = {}
    for number, line in enumerate(lines, 1):
        text = line.strip()
        if text.startswith(("#", "//")):
            _reference(text, number, kind, references, faults)
        elif text.strip(";,\t ") and not text.casefold().startswith("sep="):
            rows.append((number, line[:_LONGEST_LINE].rstrip("\r\n")))
    remarks = {number for number, _ in rows}
    for fault in spoilt:
        if not lines or fault.line in remarks:
            faults.add(fault.code, fault.line, "", fault.written, fault.allowed, fault.why, fault.remedy)
    if not lines:
        return None
    places, body, delimiter, width = _header(rows, kind, faults)
    if places is None:
        return None
    return _points(places, body, (delimiter, width), kind, references, faults)


def _reference(
    text: str, line: int, kind: TableKind, references: dict[str, float], faults: FaultList
) -> None:
    """Take up the reference state from a remark, if it states one."""
    match = _STATEMENT.match(text)
    if match is None:
        return
    key = " ".join(re.split(r"[\s_\-]+", match["key"].casefold())).strip()
    if key not in kind.references:
        near = nearest(key, kind.references, count=1, cutoff=0.82)
        if near:
            faults.add(
                "unknown-key", line, "", match["key"].strip(), "", "this remark is not read",
                f"If it states the reference state, write # {near[0]} = {match['value'].strip()[:20]}.",
                Severity.NOTE,
            )  # fmt: skip
        return
    dimension, low, high, words = kind.references[key]
    written = match["value"].strip()
    try:
        quantity = read(written, dimension)
    except QuantityError as error:
        faults.add(error.code, line, key, written, words, error.why, error.remedy)
        return
    if quantity.kind is PressureKind.GAUGE:
        faults.add(
            "gauge-absolute", line, key, written, words, "a reference pressure counts from vacuum",
            "Write the absolute pressure, like 100 kPa.",
        )  # fmt: skip
    elif not low <= quantity.value <= high:
        faults.add(
            "out-of-range", line, key, written, words,
            "maps are drawn for air as it is about us; this is another state",
            "Look for the reference state on the map's sheet; without one, take the line out.",
        )  # fmt: skip
    elif key in references and references[key] != quantity.value:
        faults.add(
            "duplicate-key", line, key, written, "once", "the reference state is stated twice, differently",
            "Keep the one that the map's sheet gives.",
        )  # fmt: skip
    else:
        references[key] = quantity.value


def _header(
    rows: Sequence[tuple[int, str]], kind: TableKind, faults: FaultList
) -> tuple[list[_Place] | None, Sequence[tuple[int, str]], str, int]:
    """Where each quantity stands, the rows of points, the delimiter, and the number of columns."""
    if not rows:
        faults.add(
            "missing-value", 1, "", "nothing", "", "there is no table of points in this file",
            f"Write a row of names ({kind.example}), a row of units and the points.",
        )  # fmt: skip
        return None, (), ";", 0
    line, text = rows[0]
    delimiter = next((sign for sign in (";", "\t", ",") if sign in text), ";")
    names = _cells(text, delimiter)
    if all(_NUMBERLIKE.match(name) or not name for name in names):
        faults.add(
            "missing-key", line, "", text[:60], "", "the first row holds numbers, not names of columns",
            f"Write above it: {kind.example}, and a row of units.",
        )  # fmt: skip
        return None, (), delimiter, 0
    units, body = [""] * len(names), rows[1:]
    if body:
        below = _cells(body[0][1], delimiter)
        filled = [cell for cell in below if cell]
        if filled and not any(_NUMBERLIKE.match(cell) and cell not in _NO_UNIT for cell in filled):
            units = [cell.strip("[]() ") for cell in below] + [""] * len(names)
            line_of_units, body = body[0][0], body[1:]
        else:
            line_of_units = line
    else:
        line_of_units = line
    places = _places(names, units, (line, line_of_units), kind, faults)
    return places, body, delimiter, len(names)


def _places(
    names: Sequence[str], units: Sequence[str], at: tuple[int, int], kind: TableKind, faults: FaultList
) -> list[_Place] | None:
    found: dict[str, _Place] = {}
    by_name = kind.by_name
    complete = True
    for index, cell in enumerate(names[:_MOST_COLUMNS]):
        match = _BRACKETED.match(cell)
        bare, unit_text = (match["name"], match["unit"]) if match else (cell, "")
        name = " ".join(re.split(r"[^a-z0-9]+", bare.casefold())).strip()
        column = by_name.get(name)
        if column is None:
            near = nearest(name, by_name, count=1, cutoff=0.75) if name else ()
            column = by_name[near[0]] if near and by_name[near[0]].key not in found else None
            if name:
                what = f"read as '{near[0]}'" if column else "not read"
                faults.add(
                    "unknown-key", at[0], "", cell, "", f"the column '{cell[:40]}' is {what}",
                    "Nothing to do if that is what you mean.", Severity.NOTE, index + 1,
                )  # fmt: skip
        if column is None:
            continue
        if column.key in found:
            faults.add(
                "duplicate-key", at[0], column.key, cell, "each column once",
                f"the column of {column.words} stands twice", "Take out or rename one.", column=index + 1,
            )  # fmt: skip
            complete = False
            continue
        unit_text = unit_text.strip() or units[index].strip()
        unit, good = _unit(column, unit_text, at[1], index, faults)
        complete &= good
        found[column.key] = _Place(column, index, unit)
    for column in kind.columns:
        if column.required and column.key not in found:
            faults.add(
                "missing-key", at[0], column.key, "; ".join(names)[:70], ", ".join(column.names[:3]),
                f"there is no column of {column.words}", f"Name one column '{column.names[0]}'.",
            )  # fmt: skip
            complete = False
    return list(found.values()) if complete else None


def _unit(column: Column, text: str, line: int, index: int, faults: FaultList) -> tuple[Unit | None, bool]:
    """The unit of a column, and whether it can be used."""
    if text in _NO_UNIT:
        if not column.dimensions or column.key == "efficiency":
            return None, True
        offered = " or ".join(name for d in column.dimensions for name in unit_names(d)[:2])
        faults.add(
            "no-unit", line, column.key, "", "", f"the column of {column.words} has no unit",
            f"Write it behind the name or below it: {offered}.", column=index + 1,
        )  # fmt: skip
        return None, False
    if not column.dimensions:
        if text.casefold() in (":1", "bar/bar", "kpa/kpa", "pa/pa", "t-t", "t/t", "total/total", "abs/abs"):
            return None, True
        faults.add(
            "wrong-unit", line, column.key, text, "no unit",
            "a pressure ratio has no unit; a pressure does not belong here",
            "Divide the outlet's absolute pressure by the inlet's, and leave the unit out.", column=index + 1,
        )  # fmt: skip
        return None, False
    found = [unit for dimension in column.dimensions for unit in units_with_key(text[:40], dimension)]
    if len(found) == 1:
        return found[0], True
    names = [name for dimension in column.dimensions for name in unit_names(dimension)]
    near = nearest(text, names, count=2)
    remedy = f"Did you mean {' or '.join(near)}?" if near else f"Use one of {', '.join(names[:8])}."
    faults.add(
        "unknown-unit", line, column.key, text, "", f"this is no unit of {column.words}", remedy,
        column=index + 1,
    )  # fmt: skip
    return None, False


def _points(
    places: Sequence[_Place],
    body: Sequence[tuple[int, str]],
    form: tuple[str, int],
    kind: TableKind,
    references: dict[str, float],
    faults: FaultList,
) -> Table | None:
    delimiter, width = form
    if not body:
        faults.add(
            "missing-value", 1, "", "nothing", "", "there is not one point below the names",
            "Write the points, one a line.",
        )  # fmt: skip
        return None
    if len(body) > MOST_POINTS:
        faults.add(
            "too-long", body[MOST_POINTS][0], "", f"{len(body)} points", f"up to {MOST_POINTS}",
            "so many points are no map read off a sheet", "Keep a few dozen on each speed line.",
        )  # fmt: skip
        return None
    comma = delimiter != "," and _decimal_comma(body, delimiter)
    values: dict[str, list[float | None]] = {column.key: [] for column in kind.columns}
    lines: list[int] = []
    for number, text in body:
        cells = _cells(text, delimiter)
        if delimiter == "," and any(cells[width:]):
            faults.add(
                "wrong-form", number, "", text[:60], f"{width} columns",
                f"{len(cells)} columns stand here; commas seem to be decimal signs too",
                "Part the columns with semicolons, or write decimal points.",
            )  # fmt: skip
            continue
        lines.append(number)
        row = {place.column.key: cells[place.at] if place.at < len(cells) else "" for place in places}
        contour = kind.contours and row["speed"] in _EMPTY and row.get("efficiency", "") not in _EMPTY
        for place in places:
            key = place.column.key
            may_lack = not place.column.required or (contour and key == "speed")
            values[key].append(_value(place, row[key], (number, comma, may_lack), kind, faults))
        for key in values.keys() - row.keys():
            values[key].append(None)
    _share_or_percent(places, values["efficiency"], lines, faults)
    if any(fault.severity is Severity.FAULT for fault in faults.found):
        return None
    units = {place.column.key: place.unit for place in places}
    return Table(values, units, tuple(lines), references, ())


def _cells(text: str, delimiter: str) -> list[str]:
    return [cell.strip().strip('"').strip() for cell in text.split(delimiter)]


def _decimal_comma(body: Sequence[tuple[int, str]], delimiter: str) -> bool:
    """True when the file's numbers are written with decimal commas throughout, beyond doubt."""
    cells = [cell for _, text in body for cell in _cells(text, delimiter) if cell]
    commas = [cell for cell in cells if _COMMA.match(cell)]
    points = any("." in cell for cell in cells if _NUMBERLIKE.match(cell))
    sure = any(len(c.partition(",")[2]) != 3 or c.lstrip("+-").startswith(("0,", ",")) for c in commas)
    return bool(commas) and not points and sure


def _value(
    place: _Place, cell: str, where: tuple[int, bool, bool], kind: TableKind, faults: FaultList
) -> float | None:
    """One number in SI, or None: with a fault, or where the cell may be empty.

    where: line, whether commas are decimal signs, whether the cell may be empty.
    """
    column = place.column
    line, comma, may_lack = where
    if cell.casefold() in _EMPTY:
        if not may_lack:
            faults.add(
                "missing-value", line, column.key, cell or "nothing", column.range_words,
                f"this point has no {column.words}", "Fill it in, or take the line out.",
                column=place.at + 1,
            )  # fmt: skip
        return None
    try:
        if len(cell) > _LONGEST_NUMBER:
            raise QuantityError("no-number", "this is too long for a number", "Write one number here.")
        number = read_number(cell.replace(",", ".") if comma and _COMMA.match(cell) else cell)
    except QuantityError as error:
        faults.add(
            error.code, line, column.key, cell, column.range_words, error.why, error.remedy,
            column=place.at + 1,
        )  # fmt: skip
        return None
    value = number * place.unit.factor if place.unit is not None else number
    if column.key == "efficiency" and place.unit is None:
        return value  # a share or percent; the whole column decides
    if not _within(column, value, place.unit):
        faults.add(
            "out-of-range", line, column.key, cell, column.range_words,
            f"no {kind.machine} of a road car has this {column.words}"
            + ("; the ratio is of absolute pressures" if column.key == "pressure_ratio" else ""),
            "Look at the number and at the column's unit.", column=place.at + 1,
        )  # fmt: skip
        return None
    return value


def _within(column: Column, value: float, unit: Unit | None) -> bool:
    low, high = column.low, column.high
    if column.other is not None and unit is not None and unit.dimension is not column.dimensions[0]:
        low, high = column.other
    return low <= value <= high


def _share_or_percent(
    places: Sequence[_Place], values: list[float | None], lines: Sequence[int], faults: FaultList
) -> None:
    """Efficiencies without a unit are shares; one above 1 means that percent was meant and not said."""
    place = next((p for p in places if p.column.key == "efficiency"), None)
    if place is None or place.unit is not None:
        return
    column = place.column
    for line, value in zip(lines, values, strict=False):
        if value is None or column.low <= value <= column.high:
            continue
        why, remedy = "this is not an efficiency", "Look at the number."
        if value > 1.0:
            why, remedy = (
                "this is more than the whole",
                "Write % below the column's name if you mean percent.",
            )
        faults.add(
            "out-of-range", line, column.key, f"{value:g}", column.range_words, why, remedy,
            column=place.at + 1,
        )  # fmt: skip
        if value > 1.0:
            return  # once is enough: the unit is missing, not each number wrong
