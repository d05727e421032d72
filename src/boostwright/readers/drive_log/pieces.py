"""What every kind of log becomes before its quantities are known: columns and stretches of rows."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

__all__ = ["LogSource", "Piece", "RawClock", "RawColumn", "joined"]

Array = NDArray[np.float64]


class RawColumn(NamedTuple):
    """One column of a file as it is written."""

    number: int  # from 0, over all tables of the file
    heading: str
    unit: str  # text of a row of units, of the cells, or of the file's own record; '' for none
    clock: int
    source: str = ""


class RawClock(NamedTuple):
    """One clock of a file."""

    heading: str
    unit: str
    sure: bool  # that the unit is this one
    reason: str
    column: int  # its number among the file's columns, -1 where it has none
    source: str = ""


class Piece(NamedTuple):
    """A stretch of rows upon one clock."""

    clock: int
    stamp: Array  # (n,) [s], NaN where none could be read
    row: NDArray[np.int64]  # (n,)
    value: dict[int, Array]  # by column number: (n,) as written, NaN where there is none


class LogSource(Protocol):
    """A file that was opened. Columns and clocks may grow while its pieces are read."""

    columns: list[RawColumn]
    clocks: list[RawClock]
    notes: list[str]
    metadata: list[str]
    big: bool  # too big to be held whole

    def start(self, clock: int) -> float:
        """The first stamp as seconds since 1970, NaN where nobody knows."""

    def pieces(self, wanted: frozenset[int] | None = None) -> Iterator[Piece]:
        """All stretches in the order of the file; of the wanted columns, or of all."""

    def learned(self) -> None:
        """Take over what the rows said, after some or all were read."""

    def sample(self) -> Iterator[Piece]:
        """Stretches from all over the file, for a look at its values."""


def joined(pieces: list[Piece]) -> dict[int, Piece]:
    """One piece for each clock."""
    by_clock: dict[int, list[Piece]] = {}
    for piece in pieces:
        by_clock.setdefault(piece.clock, []).append(piece)
    return {clock: one_piece(found) for clock, found in by_clock.items()}


def one_piece(found: list[Piece]) -> Piece:
    """Pieces of one clock laid end to end; a column that one of them lacks is NaN there."""
    if len(found) == 1:
        return found[0]
    columns = sorted({c for p in found for c in p.value})
    value = {
        c: np.concatenate([p.value[c] if c in p.value else np.full(len(p.stamp), np.nan) for p in found])
        for c in columns
    }
    return Piece(
        found[0].clock,
        np.concatenate([p.stamp for p in found]),
        np.concatenate([p.row for p in found]),
        value,
    )
