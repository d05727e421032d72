"""A drive's channels side by side on one clock: what power, comparison and learning read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.records import Stretch
from boostwright.drive.signal import Signals
from boostwright.library.channels import channel_kinds

__all__ = ["Rows", "rows_of"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Rows:
    """Channels on one clock.

    t: (n,) repaired time [s], rising. row: (n,) of the file. values: by key of `library.channels`, (n,) SI,
    NaN where nothing was said; of a quantity with one channel for each cylinder the worst of them. notes: of
    a channel, as the reader left them ('gauge, with the barometer of the file').
    """

    t: Array
    row: NDArray[np.int64]
    values: Mapping[str, Array]
    notes: Mapping[str, str] = field(default_factory=dict)

    def has(self, key: str) -> bool:
        """Whether a channel says anything."""
        return key in self.values and bool(np.isfinite(self.values[key]).any())

    def get(self, key: str) -> Array:
        """A channel (n,), all NaN where the log has none."""
        found = self.values.get(key)
        return np.full(self.t.shape, np.nan) if found is None else found

    def cut(self, start: float, end: float) -> Rows:
        """The rows from one moment to another [s]."""
        a, b = np.searchsorted(self.t, (start, end), side="left")
        b = int(b) + 1
        values = {key: column[a:b] for key, column in self.values.items()}
        return Rows(self.t[a:b], self.row[a:b], values, self.notes)

    def of(self, stretch: Stretch) -> Rows:
        """The rows of one stretch."""
        return self.cut(stretch.start, stretch.end)


def rows_of(signals: Signals) -> Rows:
    """The channels of a drive side by side.

    Of a quantity with one channel for each cylinder the greatest stands. The even grid's empty places stay,
    so that windows do not reach across a gap. What no running petrol car can show counts as not read.
    """
    values: dict[str, Array] = {}
    notes: dict[str, str] = {}
    recorded = signals.keys()
    for key, cylinder in recorded:
        column = signals.get(key, cylinder)
        channel = signals.channel(key, cylinder)
        assert column is not None
        assert channel is not None
        kind = channel_kinds().get(key)
        if kind is not None:  # beyond, it is the sensor that speaks and not the car
            with np.errstate(invalid="ignore"):
                sane = (column >= kind.lowest) & (column <= kind.highest)
            column = np.where(sane, column, np.nan)
        values[key] = np.fmax(values[key], column) if key in values else column
        notes[key] = channel.note
    return Rows(signals.t, signals.row, values, notes)
