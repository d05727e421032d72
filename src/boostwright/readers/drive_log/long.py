"""Text logs in long form: one row for each reading, with time, name, value, and maybe unit."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping
from itertools import pairwise
from pathlib import Path
from typing import Final, NamedTuple

import numpy as np
import polars as pl
from numpy.typing import NDArray

from boostwright.errors import LogRefused
from boostwright.readers.drive_log.cells import is_nothing
from boostwright.readers.drive_log.clocks import find_clocks
from boostwright.readers.drive_log.frames import (
    Section,
    column_name,
    numbers_of,
    parse,
    parse_text,
    tell_columns,
)
from boostwright.readers.drive_log.layout import Layout, kind_of
from boostwright.readers.drive_log.names import fits, readings, says
from boostwright.readers.drive_log.pieces import Piece, RawClock, RawColumn
from boostwright.readers.drive_log.stamps import ClockState, stamps_of
from boostwright.readers.drive_log.text import HEAD, TextHabit, blocks
from boostwright.readers.drive_log.wide import BIG, data_rows, without_lines

__all__ = ["LongText", "Roles", "roles_of"]

Array = NDArray[np.float64]
Whole = NDArray[np.int64]

_MOST_NAMES: Final = 3000
_WIDEST: Final = 10


class Roles(NamedTuple):
    """Which column of a long table is what; unit is -1 where it has none."""

    name: int
    value: int
    unit: int


def roles_of(layout: Layout, rows: list[list[str]]) -> Roles | None:
    """The roles of a long table's columns, or None where the table is none."""
    if not 3 <= layout.width <= _WIDEST or len(rows) < 4:
        return None
    heads = layout.headings

    def said(role: str) -> int:
        return next((k for k, h in enumerate(heads) if says(h, "long", role)), -1)

    def column(k: int) -> list[str]:
        return [row[k] for row in rows if k < len(row) and not is_nothing(row[k])]

    kinds = [Counter(kind_of(c) for c in column(k)) for k in range(layout.width)]
    words = [
        k
        for k in range(layout.width)
        if kinds[k]["text"] + kinds[k]["unit"] > 0.7 * sum(kinds[k].values()) > 0
    ]
    name, value, unit = said("name"), said("value"), said("unit")
    if name not in words:
        known = [k for k in words if k != unit and _known_share(column(k)) > 0.3]
        name = known[0] if known else -1
    if name < 0 or not 2 <= len(set(column(name))) <= max(3, len(rows) // 2):
        return None
    clocks = find_clocks(heads, layout.units, rows)
    taken = {name, unit} | {c for p in clocks for c in p.columns}
    numbers = [
        k
        for k in range(layout.width)
        if k not in taken and kinds[k]["number"] > 0.5 * sum(kinds[k].values()) > 0
    ]
    if value in taken or value < 0:
        if len(numbers) != 1:
            return None
        value = numbers[0]
    elif (
        len([k for k in numbers if any(f.score > 0.8 for r in readings(heads[k]) for f in fits(r.name))]) > 1
    ):
        return None  # a wide table that happens to have such headings
    if unit < 0:
        others = [k for k in words if k != name and kinds[k]["unit"] > kinds[k]["text"]]
        unit = others[0] if others else -1
    return Roles(name, value, unit)


def _known_share(cells: list[str]) -> float:
    distinct = set(cells)
    known = sum(any(f.score > 0.8 for r in readings(c) for f in fits(r.name)) for c in distinct)
    return known / max(len(distinct), 1)


class LongText:
    """A text log with one row for each reading."""

    def __init__(
        self,
        path: Path,
        habit: TextHabit,
        layout: Layout,
        roles: Roles,
        head: str,
        later: list[str],
        told: Mapping[str, str],
    ) -> None:
        self.path, self.habit, self.roles = path, habit, roles
        self.columns: list[RawColumn] = []
        self.clocks: list[RawClock] = []
        self.notes: list[str] = []
        self.metadata = layout.metadata
        self.big = habit.size > BIG
        rows = data_rows(head.split("\n")[layout.first_line :], layout)
        far = [row for piece in later for row in data_rows(piece.split("\n")[:60], layout)]
        plans = find_clocks(layout.headings, layout.units, rows, told)
        if not plans:
            raise LogRefused(
                "no-clock",
                "no column of this file is a clock",
                "Log the time, too, and name its column 'time [s]'.",
            )
        self.section = Section(layout, plans[:1], 0, 0)
        tell_columns(self.section, rows + far)
        for k in {roles.name, roles.unit} - {-1}:
            self.section.is_number[k] = False
        self.section.states = [ClockState()]
        self._ids: dict[str, int] = {}
        self._together = self._in_frames(rows)
        self._later = later

    def _in_frames(self, rows: list[list[str]]) -> bool:
        """True where the readings of one moment share its stamp, False where each has its own."""
        at = self.section.plans[0].columns[-1]
        stamps = [row[at] for row in rows if at < len(row)]
        return len(stamps) >= 2 * max(1, sum(a != b for a, b in pairwise(stamps)))

    def start(self, clock: int) -> float:  # noqa: ARG002 - they all begin together
        """The first stamp as seconds since 1970, NaN where the file says nothing."""
        kind = self.section.plans[0].kind
        return math.nan if kind in ("number", "duration", "rate") else self.section.states[0].first

    def learned(self) -> None:
        """Say which cells were no numbers."""
        for k, (count, example) in self.section.strange.items():
            if k == self.roles.value:
                note = f"{count} values are no numbers, like '{example}': they count as empty"
                if note not in self.notes:
                    self.notes.append(note)

    def pieces(self, wanted: frozenset[int] | None = None) -> Iterator[Piece]:
        """All stretches in the order of the file."""
        self.section.states = [ClockState()]
        yield from self._all(blocks(self.path, self.habit), self.section.layout.first_line, wanted)

    def sample(self) -> Iterator[Piece]:
        """Stretches from the beginning and from places all over the file."""
        head = next(blocks(self.path, self.habit, HEAD * 4))
        yield from self._all(iter([head]), self.section.layout.first_line, None)
        for piece in self._later:
            yield from self._all(iter([piece.encode("utf-8", "replace")]), 0, None)

    def _all(self, found: Iterator[bytes], skip: int, wanted: frozenset[int] | None) -> Iterator[Piece]:
        row = 0
        left: tuple[Array, Whole, Array, Whole] | None = None
        for block in found:
            if skip:
                block, skip = without_lines(block, skip)
                if not block:
                    continue
            stamp, ids, value, rows, row = self._read(block, row)
            if left is not None:
                stamp, ids, value, rows = (
                    np.concatenate(p) for p in zip(left, (stamp, ids, value, rows), strict=True)
                )
            if self._together and len(stamp):
                cut = len(stamp) - 1
                same = np.flatnonzero(stamp != stamp[-1])
                cut = int(same[-1]) + 1 if len(same) else 0
                left = (stamp[cut:], ids[cut:], value[cut:], rows[cut:])
                stamp, ids, value, rows = stamp[:cut], ids[:cut], value[:cut], rows[:cut]
            yield from self._made(stamp, ids, value, rows, wanted)
        if left is not None:
            yield from self._made(*left, wanted)

    def _read(self, block: bytes, row: int) -> tuple[Array, Whole, Array, Whole, int]:
        """Stamps, name numbers, values and rows of a block, and the next row."""
        section, roles = self.section, self.roles
        frame = parse(block, section, list(range(section.layout.width)))
        if frame is None:
            frame = parse_text(block, section)
        names = frame[column_name(roles.name)].cast(pl.String).str.strip_chars(' "\t\r')
        keep = names.is_not_null() & (names != "")
        head = section.layout.headings[roles.name]
        if head:
            keep = keep & (names != head)  # a heading that stands again
        keep = keep & ~names.str.starts_with("#")
        if not keep.all():
            frame, names = frame.filter(keep), names.filter(keep)
        plan = section.plans[0]
        stamp = stamps_of(
            plan,
            [frame[column_name(c)] for c in plan.columns],
            section.decimals[plan.columns[-1]],
            section.states[0],
        )
        value = numbers_of(frame, section, roles.value)
        units = frame[column_name(roles.unit)].cast(pl.String) if roles.unit >= 0 else None
        for name in names.unique(maintain_order=True).to_list():
            if name not in self._ids:
                self._add(name, names, units)
        ids = names.replace_strict(
            list(self._ids), list(self._ids.values()), default=-1, return_dtype=pl.Int64
        ).to_numpy()
        rows = np.arange(row, row + frame.height, dtype=np.int64)
        good = ids >= 0
        return stamp[good], ids[good].copy(), value[good], rows[good], row + frame.height

    def _add(self, name: str, names: pl.Series, units: pl.Series | None) -> None:
        if len(self._ids) >= _MOST_NAMES:
            self._ids.setdefault(name, -1)
            return
        number = len(self.columns)
        self._ids[name] = number
        unit = ""
        if units is not None:
            of_it = units.filter((names == name) & units.is_not_null())
            said = [
                u.strip() for u in of_it.unique(maintain_order=True).head(8).to_list() if not is_nothing(u)
            ]
            unit = said[0] if said else ""
            if len(set(said)) > 1:
                self.notes.append(f"'{name}' has the units {', '.join(said[:3])}; taken as {unit}")
        clock = 0 if self._together else number
        self.columns.append(RawColumn(number, name, unit, clock))
        if clock == len(self.clocks):
            plan = self.section.plans[0]
            at = plan.columns[-1]
            self.clocks.append(
                RawClock(
                    self.section.layout.headings[at],
                    plan.unit,
                    plan.sure,
                    plan.reason,
                    -1,
                    "" if self._together else name,
                )
            )

    def _made(
        self, stamp: Array, ids: Whole, value: Array, rows: Whole, wanted: frozenset[int] | None
    ) -> Iterator[Piece]:
        if len(stamp) == 0:
            return
        if not self._together:
            for number in np.unique(ids):
                if wanted is None or int(number) in wanted:
                    here = ids == number
                    yield Piece(int(number), stamp[here], rows[here], {int(number): value[here]})
            return
        frame = _frames_of(stamp, ids)
        count = int(frame.max()) + 1
        first = np.zeros(count, dtype=np.int64)
        first[frame[::-1]] = np.arange(len(frame))[::-1]  # the earliest of each is written last
        made = {}
        for number in np.unique(ids):
            if wanted is None or int(number) in wanted:
                here = ids == number
                column = np.full(count, math.nan)
                column[frame[here]] = value[here]
                made[int(number)] = column
        yield Piece(0, stamp[first], rows[first], made)


def _frames_of(stamp: Array, ids: Whole) -> Whole:
    """By reading (n,): the number of the moment that it is of; a name that comes again begins a new one."""
    changed = np.concatenate(
        [[True], ~((stamp[1:] == stamp[:-1]) | (np.isnan(stamp[1:]) & np.isnan(stamp[:-1])))]
    )
    moment = np.cumsum(changed) - 1
    order = np.lexsort((np.arange(len(ids)), ids, moment))
    m, i = moment[order], ids[order]
    new = np.concatenate([[True], (m[1:] != m[:-1]) | (i[1:] != i[:-1])])
    start = np.maximum.accumulate(np.where(new, np.arange(len(ids)), 0))
    again = np.empty(len(ids), dtype=np.int64)
    again[order] = np.arange(len(ids)) - start
    key = moment * (int(again.max()) + 1) + again
    _, frame = np.unique(key, return_inverse=True)
    return np.asarray(frame, dtype=np.int64)
