"""A whole drive, however long: reviewed stretch by stretch, so that memory is bounded, and joined again."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.drive.pulls import Pull
from boostwright.drive.records import Notice, Stretch
from boostwright.drive.review import CannotShow, Review, review, worst_first
from boostwright.drive.rows import Rows
from boostwright.drive.scene import Scene
from boostwright.readers.drive_log.recording import Recording

__all__ = ["DriveReview", "Excerpt", "Outline", "Recorded", "review_drive", "with_notices"]

Array = NDArray[np.float64]

_AROUND: Final = 3.0  # seconds before and after a notice that are kept for its plot
_LONGEST: Final = 120.0  # of an excerpt [s]; of a longer notice its beginning is kept
_MOST_EXCERPTS: Final = 40
_BIN: Final = 2.0  # seconds of an outline's bin
_OUTLINED: Final = ("engine_speed", "manifold_pressure", "lambda", "coolant_temperature")
_CONTEXT: Final = ("engine_speed", "manifold_pressure", "boost_target", "throttle", "road_speed")


class Recorded(NamedTuple):
    """One channel as it was recorded: what it was taken for, and its own rate, step and noise."""

    key: str
    cylinder: int
    heading: str
    unit: str
    confidence: float
    rate: float  # readings a second
    quantum: float  # SI
    noise: float  # SI, one standard deviation
    note: str


class Excerpt(NamedTuple):
    """The signals around one notice.

    t: (n,) [s]. values: (key, cylinder) -> (n,) SI, NaN where nothing was recorded.
    """

    notice: Notice
    t: Array
    values: dict[tuple[str, int], Array]


class Outline(NamedTuple):
    """A signal over the whole drive: (n,) lowest and highest in bins of equal time, SI."""

    key: str
    t: Array  # middle of each bin [s]
    low: Array
    high: Array


@dataclass(frozen=True, slots=True)
class DriveReview:
    """What a whole drive showed. notices: faults first, by what is at stake, then by how far out they are."""

    file: str
    seconds: float  # of the repaired time base, gaps counted with at most 10 s each
    rows: int
    rate: float  # rows a second
    channels: tuple[Recorded, ...]
    unknown: tuple[str, ...]  # headings that nobody recognised
    notes: tuple[str, ...]
    notices: tuple[Notice, ...]
    stretches: tuple[Stretch, ...]
    pulls: tuple[Pull, ...]
    cannot_show: tuple[CannotShow, ...]
    excerpts: tuple[Excerpt, ...]  # of the worst notices of each kind
    outlines: tuple[Outline, ...] = ()  # what the drive looked like as a whole
    begins: float = 0.0  # the log's own time at its first row [s]

    @property
    def faults(self) -> tuple[Notice, ...]:
        """The notices that are to be mended."""
        return tuple(n for n in self.notices if n.fault)

    def excerpt(self, notice: Notice) -> Excerpt | None:
        """The signals around a notice, None where they were not kept."""
        return next((e for e in self.excerpts if e.notice == notice), None)


def review_drive(
    parts: Iterable[Recording],
    build: Build | None = None,
    *,
    each: Callable[[Scene], None] = lambda _: None,
    told: Callable[[str], None] = lambda _: None,
) -> DriveReview:
    """What a drive shows that comes in one part or in several that overlap.

    parts: in their order. build: for the facts that no log tells. each: called with the scene of every part
    while it is in memory. told: called with a few words before each. Raises OutOfRange as `review`, and where
    there is no part at all.
    """
    from boostwright.errors import OutOfRange

    joined: _Joined | None = None
    for number, part in enumerate(parts, 1):
        told(
            "reviewing the drive" if number == 1 else f"reviewing the drive, row {part.first_row + 1} and on"
        )
        one = review(part, build)
        each(one.scene)
        if joined is None:
            joined = _Joined(part, one)
        joined.add(part, one)
    if joined is None:
        raise OutOfRange("the log has no rows; a review needs at least two of them with a time.")
    return joined.done()


def with_notices(review: DriveReview, more: Iterable[Notice], rows: Rows) -> DriveReview:
    """The review with further notices of the same drive, each in its place, and their signals.

    rows: that hold them.
    """
    fresh = sorted(more, key=worst_first)
    first: dict[str, Notice] = {}
    for notice in fresh:
        first.setdefault(notice.kind, notice)
    excerpts = [*review.excerpts, *(_cut(rows, n) for n in first.values())]
    return replace(
        review,
        notices=tuple(sorted((*review.notices, *fresh), key=worst_first)),
        excerpts=tuple(sorted(excerpts, key=lambda e: worst_first(e.notice))),
    )


def _cut(rows: Rows, notice: Notice) -> Excerpt:
    part = rows.cut(notice.start - _AROUND, min(notice.end, notice.start + _LONGEST) + _AROUND)
    wanted = dict.fromkeys((*notice.channels, *_CONTEXT))
    return Excerpt(notice, np.array(part.t), {(k, 0): np.array(part.get(k)) for k in wanted if part.has(k)})


class _Joined:
    """A review that grows part by part."""

    def __init__(self, part: Recording, first: Review) -> None:
        signals = first.scene.signals
        self.begins = float(signals.t[0])
        self.file, self.rate = Path(part.file).name, 1.0 / signals.step
        self.channels = _recorded(first.scene)
        self.unknown, self.cannot = part.unknown, first.cannot_show
        self.notes: dict[str, None] = {}
        self.notices: list[Notice] = []
        self.stretches: list[Stretch] = []
        self.pulls: list[Pull] = []
        self.excerpts: list[Excerpt] = []
        self.outlines: dict[str, list[Outline]] = {}
        self.seconds, self.rows, self.end = 0.0, 0, -np.inf

    def add(self, part: Recording, one: Review) -> None:
        """Take one part in. Where two overlap, the middle of the overlap parts them: what begins before it
        is the earlier one's, so that nothing is cut by the end of a part and nothing is taken twice.
        """
        signals = one.scene.signals
        middle = (int(signals.row.min()) + self.rows) // 2 if self.rows else -1
        self.notices = [n for n in self.notices if n.first_row < middle or middle < 0]
        self.stretches = [s for s in self.stretches if s.first_row < middle or middle < 0]
        self.pulls = [p for p in self.pulls if p.stretch.first_row < middle or middle < 0]
        late = [n for n in one.notices if n.first_row >= middle]
        fresh = [n for n in late if not any(_same(n, old) for old in self.notices)]
        self.notices += fresh
        self.stretches += [s for s in one.stretches if s.first_row >= middle]
        self.pulls += [p for p in one.pulls if p.stretch.first_row >= middle]
        self.notes.update(dict.fromkeys(part.notes))
        for key in _OUTLINED:
            if key in signals:
                self.outlines.setdefault(key, []).append(_outline(signals.t, signals[key], key, self.end))
        begins = max(float(signals.t[0]), self.end)
        self.seconds += max(0.0, float(signals.t[-1]) - begins)
        self.end = float(signals.t[-1])
        self.rows = max(self.rows, int(signals.row.max()) + 1)
        seen: dict[str, int] = {}
        for notice in sorted(fresh, key=worst_first):
            seen[notice.kind] = seen.get(notice.kind, 0) + 1
            if seen[notice.kind] <= 2:
                self.excerpts.append(_excerpt(one.scene, notice))
        self.excerpts = sorted(self.excerpts, key=lambda e: worst_first(e.notice))[:_MOST_EXCERPTS]

    def done(self) -> DriveReview:
        """The whole."""
        return DriveReview(
            self.file,
            self.seconds,
            self.rows,
            self.rate,
            self.channels,
            self.unknown,
            tuple(self.notes),
            tuple(sorted(self.notices, key=worst_first)),
            tuple(self.stretches),
            tuple(self.pulls),
            self.cannot,
            tuple(self.excerpts),
            tuple(_joined(parts) for parts in self.outlines.values()),
            self.begins,
        )


def _same(one: Notice, other: Notice) -> bool:
    """Whether two parts tell of one thing."""
    together = one.first_row <= other.last_row and other.first_row <= one.last_row
    return together and one.kind == other.kind and one.channels == other.channels


def _recorded(scene: Scene) -> tuple[Recorded, ...]:
    signals, found = scene.signals, []
    for key, cylinder in tuple(signals.keys()):
        channel = signals.channel(key, cylinder)
        assert channel is not None
        found.append(
            Recorded(
                key,
                cylinder,
                channel.heading,
                channel.unit,
                channel.confidence,
                signals.rate(key, cylinder),
                signals.quantum(key, cylinder),
                signals.noise(key, cylinder),
                channel.note,
            )
        )
    return tuple(found)


def _outline(t: Array, value: Array, key: str, after: float) -> Outline:
    """Lowest and highest of each bin of the time after the part before."""
    fresh = (t > after) & np.isfinite(value)
    t, value = t[fresh], value[fresh]
    if t.size == 0:
        nothing = np.zeros(0)
        return Outline(key, nothing, nothing, nothing)
    place = np.floor(t / _BIN).astype(np.int64)
    edge = np.flatnonzero(np.diff(place, prepend=place[0] - 1))
    middle = np.asarray((place[edge] + 0.5) * _BIN, dtype=np.float64)
    return Outline(key, middle, np.minimum.reduceat(value, edge), np.maximum.reduceat(value, edge))


def _joined(parts: list[Outline]) -> Outline:
    """The outlines of several parts as one."""
    t, low, high = (np.concatenate([p[i] for p in parts]) for i in (1, 2, 3))
    return Outline(parts[0].key, t, low, high)


def _excerpt(scene: Scene, notice: Notice) -> Excerpt:
    """The signals of a notice and those that tell what the car did then."""
    signals = scene.signals
    first = signals.at(notice.start - _AROUND)
    last = signals.at(min(notice.end, notice.start + _LONGEST) + _AROUND) + 1
    wanted = [(k, c) for k in (*notice.channels, *_CONTEXT) for c in signals.cylinders(k)]
    values = {}
    for key, cylinder in dict.fromkeys(wanted):
        got = signals.get(key, cylinder)
        if got is not None:
            values[key, cylinder] = np.array(got[first:last])
    return Excerpt(notice, np.array(signals.t[first:last]), values)
