"""The list as a spreadsheet gave it back: what a person changed in it, as events."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Mapping
from datetime import date
from typing import Any, Final, NamedTuple

from boostwright.job.records import PartEvent, new_id
from boostwright.planning.parts.records import Line, PartsList, State
from boostwright.quantity import nearest

__all__ = ["PartsRead", "RowFault", "read_parts_sheet"]

_LARGEST: Final = 4_000_000  # characters; a list of a thousand lines has a tenth of it
_MOST_FAULTS: Final = 50
_LONGEST: Final = 500  # characters of a cell that is taken over
_GREATEST: Final = 1e5  # of a price [EUR] or an amount
_STATES: Final = {state.value: state for state in State}


class RowFault(NamedTuple):
    """One row that cannot be used."""

    line: int
    why: str
    remedy: str


class PartsRead(NamedTuple):
    """What a sheet holds: an event for each line that was changed, and faults. With faults none is meant."""

    events: tuple[PartEvent, ...]
    faults: tuple[RowFault, ...]


class _Bad(ValueError):
    """A cell that cannot be read: why, and what to write."""


def read_parts_sheet(text: str, parts: PartsList, who: str, time: str) -> PartsRead:
    """What a filled-in list changes: state, there, seller, expected, paid_EUR and is.

    text: as CSV, parted by commas, semicolons or tabs; columns in any order, others are not looked at. parts:
    the list as it stands; a row that says the same is no event. Never raises for a text.
    """
    if len(text) > _LARGEST:
        return PartsRead((), (RowFault(1, f"{len(text)} characters are too many for a list", "Split it."),))
    head = next((row for row in text.lstrip("\ufeff").splitlines() if row.strip()), "")
    part = ";" if head.count(";") > head.count(",") else "\t" if "\t" in head else ","
    table = csv.reader(io.StringIO(text.lstrip("\ufeff"), newline=""), delimiter=part)
    lines = {line.key: line for line in parts.lines}
    events: list[PartEvent] = []
    faults: list[RowFault] = []
    names: list[str] = []
    try:
        for cells in table:
            if not any(cell.strip() for cell in cells):
                continue
            if not names:
                names = [cell.strip().casefold() for cell in cells]
                if "line" not in names:
                    remedy = "The first row names the columns, as 'boostwright parts --csv' writes them."
                    return PartsRead((), (RowFault(table.line_num, "there is no column 'line'", remedy),))
                continue
            row = {name: _plain(cell) for name, cell in zip(names, cells, strict=False)}
            try:
                event = _event(row, lines, who, time)
            except _Bad as bad:
                faults.append(RowFault(table.line_num, str(bad.args[0]), str(bad.args[1])))
            else:
                events += [event] if event is not None else []
            if len(faults) >= _MOST_FAULTS:
                faults.append(RowFault(table.line_num, "too many faults to go on", "Mend these first."))
                break
    except csv.Error as mishap:
        faults.append(RowFault(table.line_num, f"this is no table: {mishap}", "Save it as CSV again."))
    return PartsRead(tuple(events), tuple(faults))


def _plain(cell: str) -> str:
    """A cell without the apostrophe that keeps a spreadsheet from running it."""
    return cell.strip().removeprefix("'").strip()


def _event(row: Mapping[str, str], lines: Mapping[str, Line], who: str, time: str) -> PartEvent | None:
    key = row.get("line", "")
    line = lines.get(key)
    if line is None:
        near = nearest(key, lines, count=2, cutoff=0.5)
        hint = f"Near it: {', '.join(near)}." if near else "'boostwright parts' shows the keys."
        raise _Bad(f"the list has no line '{key[:60]}'", hint)
    said = row.get("state", "").casefold()
    state = _STATES.get(said, line.state if not said else None)
    if state is None:
        raise _Bad(f"'{said[:40]}' is no state", f"Write one of: {', '.join(_STATES)}.")
    there, paid = _number(row, "there"), _number(row, "paid_eur")
    seller, words = row.get("seller", "")[:_LONGEST], row.get("is", "")[:_LONGEST]
    expected = _day(row)
    changed = (
        state is not line.state,
        there is not None and there != line.there,
        paid is not None,
        seller not in ("", line.seller),
        bool(words),
        expected is not None and expected != line.expected,
    )
    if not any(changed):
        return None
    if state is State.FIND:  # it is what the list says, and no state to note
        state = line.state if line.state is not State.FIND else State.MISSING
    more: dict[str, Any] = {"quantity": there, "price": paid, "seller": seller, "said": words}
    day = "" if expected is None else expected.isoformat()
    return PartEvent(new_id(), who, time, key, state.value, expected=day, **more)


def _number(row: Mapping[str, str], name: str) -> float | None:
    text = row.get(name, "").replace(",", ".")
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not 0.0 <= value <= _GREATEST:
        raise _Bad(
            f"'{text[:30]}' under {name} is no number from 0 to {_GREATEST:.0f}", "Write it like 18.50."
        )
    return value


def _day(row: Mapping[str, str]) -> date | None:
    text = row.get("expected", "")
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise _Bad(f"'{text[:30]}' under expected is no day", "Write it like 2025-06-14.") from None
