"""A calibration table as CSV: a sheet to edit and read in again, and each cell with what is behind it."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np

from boostwright.calibration.records import Axis, Calibration, Table
from boostwright.quantity import COVERAGE
from boostwright.views.table_words import (
    Face,
    axis_face,
    axis_texts,
    difference_face,
    edges_of,
    face_of,
    table_face,
    write_step,
)

__all__ = ["CELL_COLUMNS", "Stamp", "cells_csv", "settings_csv", "table_csv"]

CELL_COLUMNS: Final = ("value", "two deviations", "not below", "not above", "origin", "visited")
"""After the breakpoints, in a file with one cell a line; two standard deviations are what stands after ±."""


class Stamp(NamedTuple):
    """Which program and which reference data made a file."""

    version: str
    data: str


def table_csv(table: Table, calibration: Calibration, stamp: Stamp, semicolon: bool = False) -> str:
    """The table as a sheet after RFC 4180 (rfc4180): lines that say what it is, then the numbers.

    Over two axes it is a grid, the first axis downwards; over one axis one cell a line. semicolon: fields
    set apart by semicolons and decimal commas. `readers.table_csv` reads it back.
    """
    sheet = _Sheet(semicolon)
    _head(sheet, table, calibration, stamp)
    if len(table.axes) == 1:
        _cells(sheet, table)
        return sheet.text()
    face, down, across = table_face(table), *table.axes
    step = write_step(table)
    corner = f"{down.words} {_bracket(axis_face(down))} \\ {across.words} {_bracket(axis_face(across))}"
    sheet.row(corner, *(sheet.number(text) for text in _breakpoints(across)))
    for i, point in enumerate(_breakpoints(down)):
        numbers = (sheet.value(value, face, step) for value in table.value[i])
        sheet.row(sheet.number(point), *numbers)
    return sheet.text()


def cells_csv(table: Table, calibration: Calibration, stamp: Stamp, semicolon: bool = False) -> str:
    """The same table with one cell a line: value, spread, limits of an edit, origin, visited or not."""
    sheet = _Sheet(semicolon)
    _head(sheet, table, calibration, stamp)
    _cells(sheet, table)
    return sheet.text()


def settings_csv(calibration: Calibration, stamp: Stamp, semicolon: bool = False) -> str:
    """Every setting, one a line: the cuts and limits that no table holds. Made to be read, not read back."""
    sheet = _Sheet(semicolon)
    sheet.row(
        "about", "settings to enter by hand beside the tables: the cuts and limits that save the engine"
    )
    sheet.row("build", _plain(calibration.name))
    sheet.row("inputs", f"fingerprint {calibration.fingerprint}")
    sheet.row("made by", f"boostwright {stamp.version}, data {stamp.data}")
    for caution in calibration.cautions:
        sheet.row("caution", _plain(caution))
    sheet.row("setting", "what it is", "value", "unit", "give or take", "its unit", "origin", "why")
    for one in calibration.settings:
        face = face_of(one.dimension, one.pressure, abs(one.value) if math.isfinite(one.value) else 0.0)
        difference = difference_face(face)
        sheet.row(
            one.key,
            _plain(one.words),
            sheet.figure(one.value, face),
            face.name or "-",
            sheet.figure(COVERAGE * one.sd, difference),
            difference.name or "-",
            one.origin.value,
            _plain(one.why),
        )
    return sheet.text()


class _Sheet:
    """Rows of cells as they become text."""

    def __init__(self, semicolon: bool) -> None:
        self._text, self._semicolon = io.StringIO(), semicolon
        self._table = csv.writer(self._text, delimiter=";" if semicolon else ",", lineterminator="\r\n")

    def row(self, *cells: str) -> None:
        """One line."""
        self._table.writerow(cells)

    def number(self, text: str) -> str:
        """A number with the decimal sign of this sheet."""
        return text.replace(".", ",") if self._semicolon else text

    def value(self, si: float, face: Face, step: float) -> str:
        """A value in its unit, with decimals down to `step`; empty where there is no number."""
        if not math.isfinite(si):
            return ""
        decimals = max(0, -round(math.log10(step)))
        text = f"{float(face.shown(np.asarray(si))):.{decimals}f}"
        return self.number(text[1:] if text.startswith("-") and not float(text) else text)

    def figure(self, si: float, face: Face) -> str:
        """A single value in its unit to five digits; empty where there is none."""
        if not math.isfinite(si):
            return ""
        return self.number(f"{float(face.shown(np.asarray(si))):.5g}")

    def text(self) -> str:
        """The whole sheet."""
        return self._text.getvalue()


def _head(sheet: _Sheet, table: Table, calibration: Calibration, stamp: Stamp) -> None:
    """What it is, in which units, over which breakpoints, made from what; and the caution."""
    sheet.row("table", table.key)
    sheet.row("about", _plain(table.words))
    sheet.row("unit", table_face(table).name or "-")
    for way, axis in zip(("down", "across"), table.axes, strict=False):
        sheet.row(way, axis.key, axis_face(axis).name or "-", " ".join(_breakpoints(axis)))
    for note in table.notes:
        sheet.row("note", _plain(note))
    for edge in edges_of(table):
        if edge.why:
            sheet.row("not above" if edge.most else "not below", _plain(edge.why))
    sheet.row("build", _plain(calibration.name))
    sheet.row("inputs", f"fingerprint {calibration.fingerprint}")
    sheet.row("made by", f"boostwright {stamp.version}, data {stamp.data}")
    for caution in calibration.cautions:
        sheet.row("caution", _plain(caution))


def _cells(sheet: _Sheet, table: Table) -> None:
    face, step = table_face(table), write_step(table)
    unit = _bracket(face)
    names = [f"{axis.words} {_bracket(axis_face(axis))}" for axis in table.axes]
    spread_unit = _bracket(difference_face(face))
    units = (unit, spread_unit, unit, unit)
    with_unit = [f"{name} {one}" for name, one in zip(CELL_COLUMNS, units, strict=False)]
    sheet.row(*names, *with_unit, *CELL_COLUMNS[4:])
    points = [_breakpoints(axis) for axis in table.axes]
    difference = difference_face(face)
    edges = edges_of(table)
    below, above = (next((e for e in edges if e.most is most), None) for most in (False, True))
    for at in _places(table):
        limits = [
            "" if edge is None else sheet.value(float(edge.value[at]), face, step) for edge in (below, above)
        ]
        sheet.row(
            *(sheet.number(points[k][i]) for k, i in enumerate(at)),
            sheet.value(float(table.value[at]), face, step),
            sheet.value(COVERAGE * float(table.sd[at]), difference, step),
            *limits,
            table.origin[at].value,
            "yes" if table.visited[at] else "no",
        )


def _places(table: Table) -> Iterator[tuple[int, ...]]:
    return iter(np.ndindex(*table.value.shape))


def _breakpoints(axis: Axis) -> tuple[str, ...]:
    return axis_texts(axis, 6)


def _bracket(face: Face) -> str:
    return f"[{face.name or '-'}]"


def _plain(text: str) -> str:
    """A text as a cell that no spreadsheet runs as a formula."""
    return f"'{text}" if text.lstrip()[:1] in ("=", "+", "-", "@", "|", "%") or text[:1] in "\t\r\n" else text
