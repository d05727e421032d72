"""What a recorded drive is after it was read: clocks as written, and channels in SI upon them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = ["Channel", "Clock", "Recording"]

Array = NDArray[np.float64]


class Clock(NamedTuple):
    """Time stamps of one source as they were written: they may stand still, jump back, or leave gaps.

    stamp: (n,) [s], NaN where a stamp could not be read; elapsed time as written, other clocks from their
    first stamp. row: (n,) row of the file or of the source, from 0, headings and unit rows not counted.
    start: the first stamp as time of day and date where the file says it [s since 1970, UTC if it says so],
    NaN else.
    """

    stamp: Array
    row: NDArray[np.int64]
    source: str = ""  # file, group or device where several are joined
    start: float = float("nan")


class Channel(NamedTuple):
    """One recognised quantity.

    value: (n,) SI, absolute or gauge as `library.channels` says, aligned with its clock; NaN where the cell
    was empty or no number. Values outside the kind's range are kept: that is for the review to judge.
    """

    key: str  # of library.channels
    value: Array
    clock: int  # index into Recording.clocks
    heading: str  # as written in the file
    unit: str  # as it was taken, in the file's own spelling where it says one
    unit_said: bool  # by the file or by the person, and not concluded from the values
    confidence: float  # 0 to 1, that this is the quantity and this the unit
    cylinder: int = 0  # 1 and up where it is of one cylinder
    note: str = ""  # what the person ought to know: 'gauge, with the barometer of the file'


@dataclass(frozen=True, slots=True)
class Recording:
    """One drive, or one stretch of a long one that is read in stretches."""

    file: str
    clocks: tuple[Clock, ...]
    channels: tuple[Channel, ...]
    first_row: int = 0  # of this stretch in the file
    notes: tuple[str, ...] = ()  # what the reader had to repair, leave out or take for granted
    unknown: tuple[str, ...] = ()  # headings that nobody recognised

    def find(self, key: str, cylinder: int = 0) -> Channel | None:
        """The surest channel of that quantity, or None."""
        found = [c for c in self.channels if c.key == key and c.cylinder == cylinder]
        return max(found, key=lambda c: c.confidence, default=None)
