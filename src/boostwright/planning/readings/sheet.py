"""The sheet of readings: one row for each measurement, printed to be filled in by hand and read back next
day.
"""

from __future__ import annotations

import csv
import dataclasses
import hashlib
import io
from collections.abc import Mapping, Sequence
from datetime import tzinfo
from typing import Final, NamedTuple

from boostwright.errors import ReadingError
from boostwright.job.names import another
from boostwright.job.records import Reading
from boostwright.library.measurements import SIDES, Measurement
from boostwright.planning.readings.when import read_moment
from boostwright.planning.readings.written import measurement_named, read_written, step_named

__all__ = ["COLUMNS", "Blank", "SheetFault", "SheetRead", "read_sheet", "sheet_id", "write_sheet"]

COLUMNS: Final = (
    "measurement", "what", "with", "when", "step", "expected", "value", "who", "time", "witness", "note",
)  # fmt: skip
_NEEDED: Final = ("measurement", "value")
_LARGEST: Final = 2_000_000  # characters; a sheet of a thousand readings has a tenth of it
_MOST_FAULTS: Final = 50


class Blank(NamedTuple):
    """One row to print: the measurement, and what is known of it already."""

    measurement: Measurement
    when: str
    expected: str = ""
    value: str = ""
    who: str = ""
    time: str = ""
    witness: str = ""
    note: str = ""
    step: str = ""
    instrument: str = ""


class SheetFault(NamedTuple):
    """One line that cannot be used."""

    line: int
    why: str
    remedy: str


class SheetRead(NamedTuple):
    """What a sheet holds: readings with their lines, empty rows, faults. Nothing is kept of a faulty line."""

    readings: tuple[tuple[int, Reading], ...]
    blank: int
    faults: tuple[SheetFault, ...]


def write_sheet(rows: Sequence[Blank]) -> str:
    """The sheet as CSV."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(COLUMNS)
    for row in rows:
        m = row.measurement
        per = f" (one for each {m.each})" if m.each else ""
        table.writerow(
            (
                m.key, f"{m.words}{per}", row.instrument or m.instrument, row.when, row.step, row.expected,
                row.value, row.who, row.time, row.witness, row.note,
            )
        )  # fmt: skip
    return text.getvalue()


def sheet_id(reading: Reading) -> str:
    """An id that follows from what was read, when and by whom: the same line twice is one reading."""
    content = (reading.measurement, reading.text, reading.who, reading.time, reading.when, reading.step)
    return hashlib.sha256("\x1f".join(content).encode()).hexdigest()[:32]


def read_sheet(
    text: str,
    *,
    who: str,
    time: str,
    barometer: float,
    places: Mapping[str, int],
    when: str = "",
    zone: tzinfo | None = None,
) -> SheetRead:
    """The readings of a filled-in sheet. Columns may stand in any order; ';' parts them as well as ','.

    who, time, when: for rows that leave them out. places: how many values belong to a measurement that is
    taken at each 'cylinder' or the like. zone: of times that name none; None for this computer's own.
    """
    if len(text) > _LARGEST:
        fault = SheetFault(1, f"{len(text)} characters are too many for a sheet", "Split it.")
        return SheetRead((), 0, (fault,))
    lines = text.lstrip("\ufeff").splitlines()
    first = next((line for line in lines if line.strip()), "")
    part = ";" if first.count(";") > first.count(",") else "\t" if "\t" in first else ","
    table = csv.reader(io.StringIO("\n".join(lines)), delimiter=part)
    found: list[tuple[int, Reading]] = []
    faults: list[SheetFault] = []
    given = _Given(who, time, when, zone)
    blank = 0
    names: list[str] = []
    try:
        for cells in table:
            if not any(cell.strip() for cell in cells):
                continue
            if not names:
                names = [cell.strip().casefold() for cell in cells]
                missing = [name for name in _NEEDED if name not in names]
                if missing:
                    remedy = f"The first line names the columns: {', '.join(COLUMNS)}."
                    return SheetRead((), 0, (SheetFault(table.line_num, f"no column {missing[0]}", remedy),))
                continue
            row = {name: cell.strip() for name, cell in zip(names, cells, strict=False)}
            if len(cells) > len(names) and any(cell.strip() for cell in cells[len(names) :]):
                faults.append(
                    SheetFault(
                        table.line_num,
                        f"{len(cells)} cells stand under {len(names)} columns",
                        'Put a value with a comma between quotes, like "13,1 13,2 bar".',
                    )
                )
                continue
            if not row.get("value"):
                blank += 1
                continue
            try:
                found.append((table.line_num, _reading(row, given, barometer, places)))
            except ReadingError as refused:
                faults.append(SheetFault(table.line_num, refused.why, refused.remedy))
            if len(faults) >= _MOST_FAULTS:
                faults.append(SheetFault(table.line_num, "too many faults to go on", "Mend these first."))
                break
    except csv.Error as mishap:
        faults.append(SheetFault(table.line_num, f"this is no table: {mishap}", "Save it as CSV again."))
    return SheetRead(tuple(found), blank, tuple(faults))


class _Given(NamedTuple):
    """What stands for rows that leave it out."""

    who: str
    time: str
    when: str
    zone: tzinfo | None


def _reading(row: Mapping[str, str], given: _Given, barometer: float, places: Mapping[str, int]) -> Reading:
    one = measurement_named(row.get("measurement", ""))
    side = row.get("when", "") or given.when or one.sides[0]
    if side not in SIDES:
        raise ReadingError(f"'{side[:30]}' is no side of the conversion.", f"Write {', '.join(SIDES)}.")
    written = read_written(one, row["value"], barometer, places.get(one.each))
    said, who, witness = row.get("time", ""), row.get("who", "") or given.who, row.get("witness", "")
    if one.witness and not witness:
        raise ReadingError(f"{one.words}: two people sign this.", "Name the second one under 'witness'.")
    if witness and not another(witness, who):
        raise ReadingError("Nobody is their own witness.", "Name another person under 'witness'.")
    reading = Reading(
        id="",
        who=who,
        time=read_moment(said, zone=given.zone) if said else given.time,
        measurement=one.key,
        values=written.values,
        sd=written.sd,
        answer=written.answer,
        text=written.text,
        when=side,
        step=step_named(row.get("step", "")),
        instrument=row.get("with", "") if row.get("with", "") != one.instrument else "",
        witness=witness,
        note=row.get("note", ""),
    )
    return dataclasses.replace(reading, id=sheet_id(reading))
