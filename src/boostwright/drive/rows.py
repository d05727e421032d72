"""A drive's channels side by side on one clock: what power, comparison and learning read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.records import Stretch
from boostwright.readers.drive_log.recording import Recording

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


def rows_of(recording: Recording, time: Array | None = None, **more: Any) -> Rows:
    """The channels of a recording on the clock of its engine speed.

    time: (n,) that clock's stamps, repaired [s]; None: as written, and rows whose stamp does not rise are
    left out. more: further fields of `Rows`. A channel of another clock stands at its last reading, NaN
    beyond five of its own usual steps.
    """
    lead = recording.find("engine_speed") or recording.channels[0]
    clock = recording.clocks[lead.clock]
    t = np.asarray(clock.stamp if time is None else time, dtype=np.float64)
    with np.errstate(invalid="ignore"):
        keep = np.isfinite(t) & (t > np.concatenate([[-np.inf], np.fmax.accumulate(t)[:-1]]))
    t, row = t[keep], clock.row[keep]
    values: dict[str, Array] = {}
    notes: dict[str, str] = {}
    for channel in sorted(recording.channels, key=lambda c: c.confidence):
        own = recording.clocks[channel.clock]
        column = channel.value[keep] if channel.clock == lead.clock else _held(own.stamp, channel.value, t)
        if channel.cylinder and channel.key in values:
            column = np.fmax(values[channel.key], column)
        values[channel.key] = np.asarray(column, dtype=np.float64)
        notes[channel.key] = channel.note
    return Rows(t, row, values, notes, **more)


def _held(stamp: Array, value: Array, t: Array) -> Array:
    """Last readings of another clock at the moments t."""
    known = np.isfinite(stamp) & np.isfinite(value)
    stamp, value = stamp[known], value[known]
    if stamp.size < 2:
        return np.full(t.shape, np.nan)
    order = np.argsort(stamp, kind="stable")
    stamp, value = stamp[order], value[order]
    place = np.searchsorted(stamp, t, side="right") - 1
    age = t - stamp[np.maximum(place, 0)]
    usual = float(np.median(np.diff(stamp)))
    return np.where((place >= 0) & (age <= 5.0 * max(usual, 1e-6)), value[np.maximum(place, 0)], np.nan)
