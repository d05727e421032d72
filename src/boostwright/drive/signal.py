"""The channels of a drive on one even grid, each with its own rate, step and noise."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.time_base import TimeBase, repaired_time
from boostwright.drive.windows import held, noise_of, quantum_of
from boostwright.errors import OutOfRange
from boostwright.readers.drive_log.recording import Channel, Recording

__all__ = ["Signals"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_LONGEST_FILL = 10.0  # seconds of empty grid that stand for a gap, however long it was
_HOLD = 3  # a reading stands for this many of its own periods, then it is no longer known


class Signals:
    """All channels of a recording upon the grid of its quickest clock.

    The grid has one place for each row of that clock, and empty places for its gaps (at most 10 s of them),
    so that windows that count samples do not reach across. Rows that come unevenly are put on an even grid.
    Everything else is worked out when it is asked for, and kept.

    t: (n,) [s] repaired. row: (n,) row of the file. step: [s]. real: (n,) there is a row.
    clocks: what was repaired, one for each clock of the recording; base: which of them makes the grid.
    """

    def __init__(self, recording: Recording) -> None:
        if not recording.clocks or all(c.stamp.size < 2 for c in recording.clocks):
            raise OutOfRange(f"{recording.file}: no rows with a time; a review needs at least two of them.")
        self.recording = recording
        self.clocks: tuple[TimeBase | None, ...] = tuple(
            repaired_time(c.stamp) if np.isfinite(c.stamp).sum() > 1 else None for c in recording.clocks
        )
        self.base = int(
            np.argmax([c.stamp.size if b else 0 for c, b in zip(recording.clocks, self.clocks, strict=True)])
        )
        base = self.clocks[self.base]
        if base is None:
            raise OutOfRange(f"{recording.file}: no clock whose time can be read.")
        self.step = base.step
        self._place, self.t = _grid(base)
        self.real: Mask = np.zeros(self.t.size, dtype=bool)
        self.real[self._place] = True
        source = np.maximum.accumulate(np.where(self.real, np.arange(self.t.size), 0))
        rows = np.zeros(self.t.size, dtype=np.int64)
        rows[self._place] = recording.clocks[self.base].row
        self.row: NDArray[np.int64] = rows[source]
        self._channels: dict[tuple[str, int], Channel] = {}
        for channel in sorted(recording.channels, key=lambda c: c.confidence):
            self._channels[channel.key, channel.cylinder] = channel  # the surest stays
        self._placed: dict[tuple[str, int], Array] = {}
        self._held: dict[tuple[str, int], Array] = {}
        self._figures: dict[tuple[str, int], tuple[int, float, float]] = {}

    def __len__(self) -> int:
        return int(self.t.size)

    def __contains__(self, key: object) -> bool:
        return (key, 0) in self._channels

    def keys(self) -> tuple[tuple[str, int], ...]:
        """Every channel as (key of library.channels, cylinder or 0)."""
        return tuple(self._channels)

    def cylinders(self, key: str) -> tuple[int, ...]:
        """The cylinders of which that quantity is recorded; 0 stands for the whole engine."""
        return tuple(sorted(c for k, c in self._channels if k == key))

    def channel(self, key: str, cylinder: int = 0) -> Channel | None:
        """The channel as it was read."""
        return self._channels.get((key, cylinder))

    def get(self, key: str, cylinder: int = 0) -> Array | None:
        """(n,) SI, the last reading at each place, NaN where none is recent; None if not recorded."""
        name = (key, cylinder)
        if name not in self._channels:
            return None
        if name not in self._held:
            self._held[name] = held(self._on_grid(name), _HOLD * self._period(name) - 1)
        return self._held[name]

    def __getitem__(self, key: str) -> Array:
        found = self.get(key)
        return np.full(self.t.size, np.nan) if found is None else found

    def read(self, key: str, cylinder: int = 0) -> Mask:
        """(n,) where the channel was really read, as far as it shows: filled cells, or changes."""
        name = (key, cylinder)
        placed = self._on_grid(name)
        there = np.isfinite(placed)
        if there.sum() * 2 < self.real.sum() or self._period(name) == 1:
            return there
        there[1:] &= placed[1:] != placed[:-1]
        return there

    def filled(self, key: str, cylinder: int = 0) -> Mask:
        """(n,) where the log has a cell of that channel."""
        return np.isfinite(self._on_grid((key, cylinder)))

    def rate(self, key: str, cylinder: int = 0) -> float:
        """Readings a second."""
        return 1.0 / (self._period((key, cylinder)) * self.step)

    def quantum(self, key: str, cylinder: int = 0) -> float:
        """Step in which the channel is written, SI."""
        return self._figure((key, cylinder))[1]

    def noise(self, key: str, cylinder: int = 0) -> float:
        """Standard deviation of one reading, SI: scatter from one to the next, at least the rounding."""
        return self._figure((key, cylinder))[2]

    def at(self, time: float) -> int:
        """Place of a time on the grid."""
        return int(np.clip(np.searchsorted(self.t, time), 0, self.t.size - 1))

    def samples(self, seconds: float) -> int:
        """A time in samples, at least 1."""
        return max(1, round(seconds / self.step))

    def _on_grid(self, name: tuple[str, int]) -> Array:
        if name not in self._placed:
            channel = self._channels[name]
            placed = np.full(self.t.size, np.nan)
            if channel.clock == self.base:
                placed[self._place] = channel.value
            else:
                self._from_other_clock(channel, placed)
            self._placed[name] = placed
        return self._placed[name]

    def _from_other_clock(self, channel: Channel, placed: Array) -> None:
        clock = self.clocks[channel.clock]
        if clock is None:
            return
        here, there = self.recording.clocks[self.base], self.recording.clocks[channel.clock]
        later = there.start - here.start
        t = clock.t + (later if np.isfinite(later) and clock.t[0] == 0.0 else 0.0)
        keep = np.isfinite(channel.value)
        at = np.searchsorted(self.t, t[keep] - 0.5 * self.step)
        inside = at < self.t.size
        placed[at[inside]] = channel.value[keep][inside]

    def _period(self, name: tuple[str, int]) -> int:
        return self._figure(name)[0]

    def _figure(self, name: tuple[str, int]) -> tuple[int, float, float]:
        """Period in samples, step, noise."""
        if name not in self._figures:
            placed = self._on_grid(name)
            there = np.flatnonzero(np.isfinite(placed))
            if there.size < 3:
                self._figures[name] = (1, 0.0, 0.0)
                return self._figures[name]
            value = placed[there]
            period = max(
                1, int(np.median(np.diff(there[:: there.size // 20_000 or 1]) / (there.size // 20_000 or 1)))
            )
            if period == 1:
                period = _repeat_period(value)
            fresh = (
                value
                if period == 1 or there.size * 2 < placed.size
                else value[np.r_[True, np.diff(value) != 0.0]]
            )
            quantum = quantum_of(fresh)
            self._figures[name] = (period, quantum, noise_of(fresh, quantum))
        return self._figures[name]


def _repeat_period(value: Array) -> int:
    """Samples between two readings of a channel that repeats its value, by how far apart it changes."""
    apart = np.diff(np.flatnonzero(np.diff(value[:400_000]) != 0.0))
    return max(1, int(np.quantile(apart, 0.05))) if apart.size > 20 else 1


def _grid(base: TimeBase) -> tuple[NDArray[np.int64], Array]:
    t, step = base.t, base.step
    if not base.even:
        beyond = np.zeros(t.size)
        beyond[1:] = np.maximum(np.diff(t) - _LONGEST_FILL, 0.0)
        place = np.round((t - np.cumsum(beyond) - t[0]) / step).astype(np.int64)
    else:
        more = np.zeros(t.size, dtype=np.int64)
        for fault in base.faults:
            if fault.kind == "gap":
                more[fault.last] = max(0, round(min(fault.size, _LONGEST_FILL) / step) - 1)
        place = np.arange(t.size, dtype=np.int64) + np.cumsum(more)
    n = int(place[-1]) + 1
    return place, np.interp(np.arange(n), place, t)
