"""Logs in ASAM MDF 4 by asammdf: clocks by the type of a channel, units and conversions of the file."""

from __future__ import annotations

import contextlib
import importlib
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import numpy as np
import polars as pl
from numpy.typing import NDArray

from boostwright.errors import LogRefused
from boostwright.readers.drive_log.cells import clean_column
from boostwright.readers.drive_log.pieces import Piece, RawClock, RawColumn
from boostwright.readers.drive_log.wide import BIG

__all__ = ["MdfFile", "is_mdf"]

Array = NDArray[np.float64]

_MASTERS: Final = (2, 3)  # channel types of ASAM MDF 4: master, virtual master
_TIME: Final = 1  # synchronisation type of a clock; 2 is angle, 3 distance, 4 index
_RECORDS: Final = 200_000
_LOOK: Final = 4_000


def is_mdf(path: Path) -> bool:
    """True where a file begins as ASAM MDF does."""
    with path.open("rb") as file:
        return file.read(8) in (b"MDF     ", b"UnFinMF ")


def _library() -> Any:
    try:
        return importlib.import_module("asammdf")
    except ImportError:
        raise LogRefused(
            "no-mdf-reader",
            "this is a log in ASAM MDF, and the library that reads it is not installed",
            "Install it with `pip install boostwright[mdf]`, or let the logger's program write CSV.",
        ) from None


class MdfFile:
    """A log in ASAM MDF. Raises LogRefused where it cannot be read or has no clock."""

    def __init__(self, path: Path) -> None:
        library = _library()
        self.path = path
        self.columns: list[RawColumn] = []
        self.clocks: list[RawClock] = []
        self.notes: list[str] = []
        self.metadata: list[str] = []
        self.left_out: list[str] = []  # channels of groups without a clock
        self.big = path.stat().st_size > BIG
        self._where: list[tuple[int, int]] = []  # by column: group and channel
        self._groups: list[int] = []  # by clock
        with self._guarded("opened"):
            self._file = library.MDF(str(path))
            self._start = self._file.header.start_time.timestamp()
            for number, group in enumerate(self._file.groups):
                self._take(number, group)
        if not self.clocks:
            raise LogRefused(
                "no-clock",
                f"no group of {path.name} has a clock as its master channel",
                "Record the groups over time, and not over angle, distance or index.",
            )

    @contextlib.contextmanager
    def _guarded(self, what: str) -> Iterator[None]:
        try:
            yield
        except LogRefused:
            raise
        except MemoryError:
            raise
        except Exception as error:  # noqa: BLE001 - a damaged file makes the library raise anything
            raise LogRefused(
                "bad-mdf",
                f"{self.path.name} cannot be {what} as ASAM MDF: {type(error).__name__}: {str(error)[:120]}",
                "Copy it from the logger once more, or let the logger's program write CSV.",
            ) from None

    def _take(self, number: int, group: Any) -> None:
        master = next((c for c in group.channels if c.channel_type in _MASTERS), None)
        name = str(getattr(group.channel_group, "acq_name", "") or "")
        if group.channel_group.cycles_nr == 0:
            return
        if master is None or getattr(master, "sync_type", _TIME) != _TIME:
            kind = {2: "angle", 3: "distance", 4: "index"}.get(
                getattr(master, "sync_type", 0), "no master channel"
            )
            self.notes.append(f"group {number + 1} '{name}' has no clock ({kind}) and was left out")
            left = [c for c in group.channels if c.channel_type not in _MASTERS]
            self.left_out += [str(c.name).split("\\")[0].strip() for c in left]
            return
        clock = len(self.clocks)
        self.clocks.append(RawClock(str(master.name), "s", True, "the master channel by its type", -1, name))
        self._groups.append(number)
        for index, channel in enumerate(group.channels):
            if channel is master or channel.channel_type in _MASTERS:
                continue
            heading = str(channel.name).split("\\")[0].strip()
            unit = str(getattr(channel.conversion, "unit", "") or channel.unit or "").strip("\x00 ")
            self.columns.append(RawColumn(len(self.columns), heading, unit, clock, name))
            self._where.append((number, index))

    def start(self, clock: int) -> float:  # noqa: ARG002 - one start for all groups
        """The start of the record as seconds since 1970."""
        return self._start if self._start > 0.0 else math.nan

    def learned(self) -> None:
        """Nothing: the file says all about itself at its beginning."""

    def pieces(self, wanted: frozenset[int] | None = None) -> Iterator[Piece]:
        """All stretches, the groups side by side."""
        counts = [int(self._file.groups[g].channel_group.cycles_nr) for g in self._groups]
        steps = max(1, -(-max(counts) // _RECORDS))
        for step in range(steps):
            for clock, count in enumerate(counts):
                first, last = count * step // steps, count * (step + 1) // steps
                if last > first:
                    yield self._piece(clock, first, last - first, wanted)

    def sample(self) -> Iterator[Piece]:
        """Stretches from all over the file."""
        counts = [int(self._file.groups[g].channel_group.cycles_nr) for g in self._groups]
        for step in range(16):
            for clock, count in enumerate(counts):
                first = count * step // 16
                if count > first:
                    yield self._piece(clock, first, min(_LOOK, count - first), None)

    def _piece(self, clock: int, first: int, count: int, wanted: frozenset[int] | None) -> Piece:
        group = self._groups[clock]
        with self._guarded("read"):
            stamp = np.asarray(
                self._file.get_master(group, record_offset=first, record_count=count), dtype=np.float64
            )
            row = np.arange(first, first + len(stamp), dtype=np.int64)
            value: dict[int, Array] = {}
            for column in self.columns:
                if column.clock != clock or (wanted is not None and column.number not in wanted):
                    continue
                _, index = self._where[column.number]
                value[column.number] = self._values(group, index, first, count, len(stamp))
        return Piece(clock, stamp, row, value)

    def _values(self, group: int, index: int, first: int, count: int, n: int) -> Array:
        signal = self._file.get(
            group=group, index=index, record_offset=first, record_count=count, ignore_invalidation_bits=True
        )
        samples = np.asarray(signal.samples)
        if samples.ndim != 1 or len(samples) != n or samples.dtype.names:
            return np.full(n, math.nan)
        if samples.dtype.kind in "SUO":
            texts = [s.decode("utf-8", "replace") if isinstance(s, bytes) else str(s) for s in samples]
            return clean_column(pl.Series(texts, dtype=pl.String), "").value
        value = samples.astype(np.float64)
        bad = getattr(signal, "invalidation_bits", None)
        if bad is not None and len(bad) == n:
            value = np.where(np.asarray(bad, dtype=bool), math.nan, value)
        return np.where(np.isfinite(value), value, math.nan)
