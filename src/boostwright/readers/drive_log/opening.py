"""Opening a recorded drive: what it holds, what must be asked, and its channels, whole or in stretches."""

from __future__ import annotations

from collections.abc import Iterator
from collections.abc import Mapping as Mapping_
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

import numpy as np

from boostwright.errors import LogRefused
from boostwright.readers.drive_log.clocks import WRITTEN
from boostwright.readers.drive_log.convert import Air, air_of, recording_of
from boostwright.readers.drive_log.evidence import SEA_LEVEL, Scene, scene_of
from boostwright.readers.drive_log.layout import find_layout
from boostwright.readers.drive_log.long import LongText, roles_of
from boostwright.readers.drive_log.mapping import (
    CLOCK,
    Candidate,
    ColumnMapping,
    Mapping,
    Question,
    fingerprint,
)
from boostwright.readers.drive_log.mdf import MdfFile, is_mdf
from boostwright.readers.drive_log.pieces import LogSource, Piece, joined
from boostwright.readers.drive_log.recognise import recognise
from boostwright.readers.drive_log.recording import Recording
from boostwright.readers.drive_log.text import HEAD, habit_of, probes
from boostwright.readers.drive_log.verdict import judge
from boostwright.readers.drive_log.wide import WideText, data_rows

__all__ = ["OpenLog", "open_log"]


_AIR_MATTERS: Final = 2e3  # [Pa] so far off, the columns are looked at again
_PROBES: Final = 16  # places of a file that are looked at beside its beginning


@dataclass(slots=True)
class OpenLog:
    """A recorded drive that was opened: its mapping, its questions, and its limits are known."""

    path: Path
    mapping: Mapping
    questions: tuple[Question, ...]
    limits: tuple[str, ...]  # what may be judged only in part, and why
    notes: tuple[str, ...]
    air: Air
    _source: LogSource
    _held: list[Piece] | None = field(default=None, repr=False)

    def read(self) -> Recording:
        """The whole drive. Raises LogRefused where the file cannot be read after all."""
        pieces = self._held if self._held is not None else list(self._source.pieces(self._wanted()))
        return self._recording(joined(pieces), None)

    def parts(self, rows: int = 1_000_000, overlap_seconds: float = 60.0) -> Iterator[Recording]:
        """The drive in stretches of so many rows, each beginning so long before the end of the one before.

        rows: of the file, at least 1000. overlap_seconds: [s], on each clock.
        """
        rows = max(int(rows), 1000)
        kept: list[Piece] = []
        count = 0
        source = iter(self._held) if self._held is not None else self._source.pieces(self._wanted())
        for piece in source:
            self._meet_new_columns(piece)
            kept.append(piece)
            count += len(piece.stamp)
            while count >= rows:
                whole = joined(kept)
                ready, kept, count = self._cut(whole, rows, overlap_seconds)
                yield self._recording(ready, None)
        if kept:
            yield self._recording(joined(kept), None)

    def _meet_new_columns(self, piece: Piece) -> None:
        """Recognise the columns of a table that turned up only while a large file was read."""
        known = {c.column for c in self.mapping.columns}
        fresh = [c for c in self._source.columns if c.clock == piece.clock and c.number not in known]
        if not fresh:
            return
        found = recognise(fresh, scene_of({piece.clock: piece}), self.air.pressure)
        self.mapping = replace(self.mapping, columns=(*self.mapping.columns, *found.columns))
        self.notes = (*self.notes, *(f"'{q.heading}' is not read: {q.why}" for q in found.questions))

    def _cut(
        self, whole: dict[int, Piece], rows: int, overlap: float
    ) -> tuple[dict[int, Piece], list[Piece], int]:
        """The next stretch, what is carried on, and how many of its rows are new."""
        total = sum(len(p.stamp) for p in whole.values())
        ready, rest = whole, []
        if total > rows * 1.5:
            ready = {}
            for clock, piece in whole.items():
                at = -(-len(piece.stamp) * rows // total)
                ready[clock] = _slice(piece, 0, at)
                rest.append(_slice(piece, at, len(piece.stamp)))
        tail = [_tail(piece, overlap, rows // 2) for piece in ready.values()]
        carried = [p for p in tail if len(p.stamp)]
        return ready, carried + rest, sum(len(p.stamp) for p in rest)

    def _wanted(self) -> frozenset[int]:
        return frozenset(c.column for c in self.mapping.columns if c.key)

    def _recording(self, pieces: dict[int, Piece], first: int | None) -> Recording:
        starts = {clock: self._source.start(clock) for clock in pieces}
        unknown = tuple(
            c.heading
            for c in self.mapping.columns
            if not c.key and c.heading and c.column in self._data_columns()
        )
        if isinstance(self._source, MdfFile):
            unknown += tuple(self._source.left_out)
        return recording_of(
            self.path.name,
            pieces,
            self.mapping.columns,
            self._source.clocks,
            starts,
            self.air,
            self.notes + tuple(self._source.notes),
            unknown,
            first,
        )

    def _data_columns(self) -> frozenset[int]:
        return frozenset(c.number for c in self._source.columns if c.clock >= 0)


def _slice(piece: Piece, start: int, end: int) -> Piece:
    return Piece(
        piece.clock,
        piece.stamp[start:end],
        piece.row[start:end],
        {c: v[start:end] for c, v in piece.value.items()},
    )


def _tail(piece: Piece, overlap: float, most: int) -> Piece:
    """The end of a piece from so long before its last stamp on, copied so that the rest can go."""
    good = np.flatnonzero(np.isfinite(piece.stamp))
    if len(good) == 0 or overlap <= 0.0:
        return _slice(piece, len(piece.stamp), len(piece.stamp))
    late = piece.stamp[good] >= piece.stamp[good[-1]] - overlap
    early = np.flatnonzero(~late)
    start = int(good[early[-1]]) + 1 if len(early) else 0
    start = max(start, len(piece.stamp) - most)
    cut = _slice(piece, start, len(piece.stamp))
    return Piece(cut.clock, cut.stamp.copy(), cut.row.copy(), {c: v.copy() for c, v in cut.value.items()})


def open_log(
    path: str | Path, *, mapping: Mapping | None = None, place_pressure: float | None = None
) -> OpenLog:
    """Open a recorded drive and find out what its columns are.

    mapping: what a person said of the columns of such a file before. place_pressure: air pressure of the
    place [Pa absolute], for gauge pressures of a file without a barometer.
    Raises LogRefused where the file cannot be read, or is no record of a drive.
    """
    path = Path(path)
    if place_pressure is not None and not 4e4 <= place_pressure <= 1.1e5:
        raise LogRefused(
            "out-of-range",
            f"the air pressure of the place is given as {place_pressure:g} Pa, and 40 to 110 kPa is possible",
            "Give it in Pa absolute, like 95000.",
        )
    source = _source(path, mapping.told_clocks if mapping is not None else {})
    held = None
    if source.big:
        whole = joined(list(source.sample()))
    else:
        held = list(source.pieces())
        whole = joined(held)
        held = list(whole.values())
    source.learned()
    if isinstance(source, WideText):
        source.known = len(source.columns)
    if not any(len(p.stamp) for p in whole.values()):
        raise LogRefused(
            "no-rows", f"no row of {path.name} could be read", "Look whether it was copied whole."
        )
    scene = scene_of(whole)
    return _opened(path, source, held, scene, mapping, place_pressure)


def _opened(
    path: Path,
    source: LogSource,
    held: list[Piece] | None,
    scene: Scene,
    mapping: Mapping | None,
    place: float | None,
) -> OpenLog:
    columns = [c for c in source.columns if c.clock >= 0]
    found = recognise(columns, scene, place or SEA_LEVEL, mapping)
    air = air_of(found.columns, scene, place)
    if air.known and abs(air.pressure - (place or SEA_LEVEL)) > _AIR_MATTERS:
        found = recognise(columns, scene, air.pressure, mapping)
        air = air_of(found.columns, scene, place)
    told = mapping.told_clocks if mapping is not None else {}
    clocks, asked = _clocks(source, told)
    print_of = fingerprint([c.heading for c in source.columns], [c.unit for c in source.columns])
    whole = Mapping(tuple(sorted((*found.columns, *clocks), key=lambda c: c.column)), print_of)
    try:
        limits = judge(scene, found.columns, found.questions, air, path.name)
    except LogRefused as error:
        error.mapping = whole
        raise
    if air.needed and not air.known:
        limits.append(
            "gauge pressures were made absolute with the standard atmosphere, 101.3 kPa: the file has no"
            " barometer and nobody gave the pressure of the place"
        )
    return OpenLog(path, whole, (*asked, *found.questions), tuple(limits), found.notes, air, source, held)


def _clocks(source: LogSource, told: Mapping_[str, str]) -> tuple[list[ColumnMapping], list[Question]]:
    """What the clocks were taken for, and the question where nothing says their unit."""
    mapped, asked = [], []
    for clock in source.clocks:
        if clock.column < 0:
            continue
        by_person = clock.heading in told
        decided = "person" if by_person else "program"
        sure = clock.sure or by_person
        others = () if sure else tuple(Candidate(CLOCK, u, 0, 0.4, clock.reason) for u in ("s", "ms", "min"))
        written = by_person or clock.reason == WRITTEN
        mapped.append(
            ColumnMapping(
                clock.column, clock.heading, clock.unit, CLOCK, 0, 1.0 if sure else 0.5, others, clock.reason,
                written, decided, clock.source,
            )
        )  # fmt: skip
        if not sure:
            why = f"nobody says the unit of this clock; it is taken in {clock.unit}: {clock.reason}"
            asked.append(Question(clock.column, clock.heading, others, why))
    return mapped, asked


def _source(path: Path, told: Mapping_[str, str]) -> LogSource:
    if path.is_dir():
        raise LogRefused("no-file", f"{path} is a folder", "Name the log inside it.")
    if not path.is_file():
        raise LogRefused("no-file", f"there is no file {path.name}", "Look at its name and its folder.")
    if is_mdf(path):
        return MdfFile(path)
    habit = habit_of(path)
    with path.open("rb") as file:
        raw = file.read(HEAD + habit.bom)[habit.bom :]
    head = raw.decode(habit.encoding, "replace").replace("\r\n", "\n").replace("\r", "\n").replace("\0", "")
    later = probes(path, habit, _PROBES) if habit.size > HEAD else []
    layout = find_layout(head, later)
    roles = roles_of(layout, data_rows(head.split("\n")[layout.first_line :], layout))
    if roles is not None:
        return LongText(path, habit, layout, roles, head, later, told)
    return WideText(path, habit, layout, head, later, told)
