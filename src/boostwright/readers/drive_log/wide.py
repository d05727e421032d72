"""Text logs with one row for each moment: tables below each other, clocks beside each other."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Final

import numpy as np
import polars as pl

from boostwright.errors import LogRefused
from boostwright.readers.drive_log.clocks import find_clocks
from boostwright.readers.drive_log.frames import (
    Section,
    column_name,
    numbers_of,
    odd_lines,
    parse,
    parse_text,
    tell_columns,
    torn_lines,
    without_cut_cell,
    without_readings,
)
from boostwright.readers.drive_log.layout import Layout, header_of, is_data, split_line
from boostwright.readers.drive_log.names import readings
from boostwright.readers.drive_log.pieces import Piece, RawClock, RawColumn
from boostwright.readers.drive_log.stamps import ClockPlan, ClockState, see_begin, stamps_of
from boostwright.readers.drive_log.text import HEAD, TextHabit, blocks

__all__ = ["BIG", "WideText", "data_rows", "without_lines"]

BIG: Final = 96 << 20
"""A larger file is never held whole [bytes]."""
_LOOK: Final = 240  # rows that are looked at as text
_RATE: Final = re.compile(
    r"(?:rate|frequency|frequenz|fr[eé]quence|frecuencia)\W+([0-9]+(?:[.,][0-9]+)?)\W*(?:hz|1/s|/s)?\b",
    re.IGNORECASE,
)
_INTERVAL: Final = re.compile(
    r"(?:interval|period|intervall|schrittweite|p[eé]riode|intervalo|dt)\W+([0-9]+(?:[.,][0-9]+)?)\W*(ms|s)\b",
    re.IGNORECASE,
)
_MOST_SECTIONS: Final = 200
_MOST_CHANGES: Final = 100  # from one table of a file to another
_NEXT: Final = 256 << 10  # bytes that are looked at first where a table begins


class WideText:
    """A text log with one row for each moment."""

    def __init__(
        self,
        path: Path,
        habit: TextHabit,
        layout: Layout,
        head: str,
        later: list[str],
        told: Mapping[str, str],
    ) -> None:
        self.path, self.habit, self._told_units = path, habit, told
        self.columns: list[RawColumn] = []
        self.clocks: list[RawClock] = []
        self.notes: list[str] = []
        self.metadata = layout.metadata
        self.big = habit.size > BIG
        self.sections: list[Section] = []
        self._later = later
        self.known: int | None = None  # columns that were known when the file was opened
        self._changes = 0
        rows = data_rows(head.split("\n")[layout.first_line :], layout)
        far = [row for piece in later for row in data_rows(piece.split("\n")[:60], layout)]
        self._add(layout, rows, rows + far)

    # ------------------------------------------------------------------------------------------ tables

    def _add(
        self, layout: Layout, rows: list[list[str]], every: list[list[str]], source: str = ""
    ) -> Section:
        """A new table of the file. Raises LogRefused where it has no clock and nothing tells its rate."""
        plans = find_clocks(layout.headings, layout.units, rows, self._told_units)
        if not plans:
            rate = told_rate(layout.metadata)
            if rate is None:
                raise LogRefused(
                    "no-clock",
                    "no column of this file is a clock, and nothing in it tells its rate",
                    "Log the time, too, and name its column 'time [s]'.",
                )
            members = tuple(range(layout.width))
            plans = [
                ClockPlan(
                    "rate", (), 1.0 / rate, "s", "", True, f"{rate:g} rows a second by the file", members
                )
            ]
        section = Section(layout, plans, len(self.columns), len(self.clocks))
        tell_columns(section, every)
        section.states = [ClockState() for _ in plans]
        owner = {c: k for k, plan in enumerate(plans) for c in plan.members}
        for k, heading in enumerate(layout.headings):
            self.columns.append(
                RawColumn(
                    len(self.columns),
                    heading,
                    layout.units[k],
                    section.first_clock + owner.get(k, -1) if k in owner else -1,
                    source,
                )
            )
        for plan in plans:
            at = plan.columns[-1] if plan.columns else -1
            self.clocks.append(
                RawClock(
                    layout.headings[at] if plan.columns else "",
                    plan.unit,
                    plan.sure,
                    plan.reason,
                    section.first_column + at if plan.columns else -1,
                    source,
                )
            )
        self.sections.append(section)
        return section

    def start(self, clock: int) -> float:
        """The first stamp of a clock as seconds since 1970, NaN where the file says nothing."""
        for section in self.sections:
            k = clock - section.first_clock
            if 0 <= k < len(section.plans):
                elapsed = section.plans[k].kind in ("number", "duration", "rate")
                return section.states[k].began if elapsed else section.states[k].first
        return math.nan

    def learned(self) -> None:
        """Take over what the rows said: units in the cells, and what had to be repaired."""
        for section in self.sections:
            for k, found in section.units.items():
                column = self.columns[section.first_column + k]
                if not column.unit and not readings(column.heading)[0].unit:
                    unit = next(iter(found))  # that of the first cell; others were converted to it
                    self.columns[column.number] = column._replace(unit=unit)
                    others = [u for u in found if u != unit]
                    if others:
                        self._say(f"'{column.heading}' has cells in {unit} and in {', '.join(others[:3])}")
            if section.ragged:
                self._say(
                    f"{section.ragged} rows with too many cells were left out: they run into each other"
                )
            for k, (count, example) in section.strange.items():
                heading = self.columns[section.first_column + k].heading
                self._say(
                    f"{count} cells of '{heading}' are no numbers, like '{example}': they count as empty"
                )

    def _say(self, note: str) -> None:
        if note not in self.notes and len(self.notes) < 40:
            self.notes.append(note)

    # ------------------------------------------------------------------------------------------- rows

    def pieces(self, wanted: frozenset[int] | None = None) -> Iterator[Piece]:
        """All stretches in the order of the file."""
        for section in self.sections:
            section.states = [ClockState() for _ in section.plans]
        self._changes = 0
        section, row, skip = self.sections[0], 0, self.sections[0].layout.first_line
        for block in blocks(self.path, self.habit):
            if skip:
                block, skip = without_lines(block, skip)
                if not block:
                    continue
            if not block.endswith(b"\n"):
                block = without_cut_cell(block, section)
            for found, frame in self._frames(block, section, wanted):
                section = found
                yield from self._split(found, frame, row, wanted)
                row += frame.height

    def sample(self) -> Iterator[Piece]:
        """Stretches from the beginning and from places all over the file."""
        section = self.sections[0]
        keep = section.states
        section.states = [ClockState() for _ in section.plans]
        with_head = [next(blocks(self.path, self.habit, HEAD * 2))]
        with_head[0] = without_lines(with_head[0], section.layout.first_line)[0]
        for block in with_head + [piece.encode("utf-8", "replace") for piece in self._later]:
            for found, frame in self._frames(block, section, None, grow=False):
                if found is section:
                    yield from self._split(section, frame, 0, None)
        section.states = keep

    def _frames(
        self, block: bytes, section: Section, wanted: frozenset[int] | None, grow: bool = True
    ) -> Iterator[tuple[Section, pl.DataFrame]]:
        """The block's rows, empty ones left out, with the table that each stretch is of."""
        waiting = [block]
        while waiting:
            block = waiting.pop()
            frame = parse(block, section, self._wanted(section, wanted))
            if frame is not None:
                yield section, _filled(frame, section)
                continue
            text = parse_text(block, section)
            odd = odd_lines(text, section)
            torn = torn_lines(block, section, text.height) & ~odd
            if torn.any():
                text = without_readings(text, section, torn)
            lines = block.decode("utf-8", "replace").removesuffix("\n").split("\n") if odd.any() else []
            if len(lines) != text.height:  # none is odd, or a quoted cell goes over several lines
                self._learn(text.filter(pl.Series(~odd)), section)
                yield section, _filled(text.filter(pl.Series(~odd)), section)
                continue
            at = 0
            for start, end in _runs(odd):
                if start > at:
                    yield section, _filled(text.slice(at, start - at), section)
                at = end
                other = self._other_table(lines, start, end, section) if grow else None
                if other is not None:
                    section = other
                    rest = "\n".join(lines[end:]).encode("utf-8", "replace")
                    cut = rest.find(b"\n", _NEXT) + 1  # a little at a time, as tables may change often
                    waiting += [rest[cut:] + b"\n", rest[:cut]] if cut else [rest + b"\n"]
                    break
            else:
                if at < text.height:
                    yield section, _filled(text.slice(at), section)

    def _wanted(self, section: Section, wanted: frozenset[int] | None) -> list[int]:
        width = section.layout.width
        if wanted is None:
            return list(range(width))
        clocks = {c for plan in section.plans for c in plan.every}
        return [k for k in range(width) if k in clocks or self._is_wanted(section.first_column + k, wanted)]

    def _is_wanted(self, number: int, wanted: frozenset[int] | None) -> bool:
        """True for what was asked for, and for columns of a table that turned up since."""
        return wanted is None or number in wanted or (self.known is not None and number >= self.known)

    def _learn(self, text: pl.DataFrame, section: Section) -> None:
        """Remember which columns are not plain numbers, so that the next block is quick again."""
        for k, good in enumerate(section.is_number):
            if not good:
                continue
            column = text[column_name(k)]
            if section.layout.decimal == ",":
                column = column.str.replace(",", ".", literal=True)
            failed = column.cast(pl.Float64, strict=False).is_null() & column.is_not_null() & (column != "")
            if failed.any():
                section.is_number[k] = False

    def _other_table(self, lines: list[str], start: int, end: int, section: Section) -> Section | None:
        """The table that begins behind odd lines, or None where they are a repeated heading or a remark."""
        layout = section.layout
        if self._changes >= _MOST_CHANGES:
            self._say(f"its tables change more than {_MOST_CHANGES} times: from then on they count as one")
            return None
        after = lines[end : end + _LOOK]
        parted = [split_line(line, layout.separator) for line in after if line.strip()]
        width = max((len(r) for r in parted[:20]), default=layout.width)
        headings, units, metadata = header_of(lines[start:end], layout.separator, width)
        if not any(headings) or _same(headings, layout.headings):
            return None
        known = next((s for s in self.sections if _same(headings, s.layout.headings)), None)
        if known is not None:
            self._changes += 1
            return known
        rows = [r for r in parted if is_data(r, width)]
        if not rows or len(self.sections) >= _MOST_SECTIONS:
            return None
        headings = (headings + [""] * width)[: max(width, len(headings))]
        units = (units + [""] * len(headings))[: len(headings)]
        new = Layout(layout.separator, layout.quoted, layout.decimal, headings, units, metadata)
        self._changes += 1
        try:
            return self._add(new, rows, rows, source=f"table {len(self.sections) + 1}")
        except LogRefused:
            return None

    def _split(
        self, section: Section, frame: pl.DataFrame, first: int, wanted: frozenset[int] | None
    ) -> Iterator[Piece]:
        """One piece for each clock of a table."""
        rows = np.arange(first, first + frame.height, dtype=np.int64)
        for k, plan in enumerate(section.plans):
            if plan.kind == "rate":
                stamp = (rows * plan.factor).astype(np.float64)
            else:
                own = [frame[column_name(c)] for c in plan.columns]
                stamp = stamps_of(plan, own, section.decimals[plan.columns[-1]], section.states[k])
                if plan.dated is not None:
                    dates = [frame[column_name(c)] for c in plan.dated.columns]
                    see_begin(plan, dates, section.layout.decimal, section.states[k])
            value = {
                section.first_column + c: numbers_of(frame, section, c)
                for c in plan.members
                if self._is_wanted(section.first_column + c, wanted) and column_name(c) in frame.columns
            }
            row = rows
            if len(section.plans) > 1:  # rows in which this source has written nothing
                there = np.isfinite(stamp)
                for array in value.values():
                    there |= np.isfinite(array)
                if not there.all():
                    stamp, row = stamp[there], rows[there]
                    value = {c: array[there] for c, array in value.items()}
            if len(stamp):
                yield Piece(section.first_clock + k, stamp, row, value)


def data_rows(lines: list[str], layout: Layout) -> list[list[str]]:
    """The first rows of readings among some lines, as text."""
    rows = [split_line(line, layout.separator) for line in lines[: 2 * _LOOK] if line.strip()]
    return [row for row in rows if is_data(row, layout.width)][:_LOOK]


def told_rate(metadata: list[str]) -> float | None:
    """Rows a second, where a line above the table tells them, or the time between them."""
    for line in metadata:
        match = _RATE.search(line)
        rate = float(match[1].replace(",", ".")) if match else 0.0
        between = _INTERVAL.search(line) if not match else None
        if between:
            step = float(between[1].replace(",", ".")) * (1e-3 if between[2].casefold() == "ms" else 1.0)
            rate = 1.0 / step if step > 0.0 else 0.0
        if 0.05 <= rate <= 1e5:
            return rate
    return None


def without_lines(block: bytes, count: int) -> tuple[bytes, int]:
    """A block without its first lines, and how many of them are still to come."""
    at = 0
    while count:
        end = block.find(b"\n", at)
        if end < 0:
            return b"", count - 1
        at, count = end + 1, count - 1
    return block[at:], 0


def _filled(frame: pl.DataFrame, section: Section) -> pl.DataFrame:
    """The frame without rows in which nothing is written."""
    clocks = [column_name(c) for plan in section.plans for c in plan.columns]
    if clocks and not frame.select(pl.col(clocks).null_count()).row(0)[0]:
        return frame
    return frame.filter(~pl.all_horizontal(pl.all().is_null()))


def _runs(odd: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], odd.astype(np.int8), [0]])))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _same(a: list[str], b: list[str]) -> bool:
    return [c for c in a if c] == [c for c in b if c]
