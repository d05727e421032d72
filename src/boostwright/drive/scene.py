"""What every detector is given: signals, what the engine does when, pulls, and what the build states."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.drive.facts import Facts
from boostwright.drive.pulls import Pull
from boostwright.drive.records import Notice, Reading, Stretch
from boostwright.drive.signal import Signals
from boostwright.drive.stretches import Ways
from boostwright.library.notice_kinds import notice_kinds

__all__ = ["Detector", "Scene", "Watch"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Scene:
    """One drive, ready to be judged."""

    signals: Signals
    ways: Ways
    stretches: tuple[Stretch, ...]
    pulls: tuple[Pull, ...]
    facts: Facts

    def of(self, kind: str) -> tuple[Stretch, ...]:
        """The stretches of one kind."""
        return tuple(s for s in self.stretches if s.kind == kind)

    def places(self, stretch: Stretch) -> slice:
        """The places of a stretch on the grid."""
        return slice(self.signals.at(stretch.start), self.signals.at(stretch.end) + 1)

    def limit(self, kind: str, name: str) -> float:
        """A limit of ``library/notices``, SI."""
        return notice_kinds()[kind].limits[name]

    def stretch_at(self, place: int, *kinds: str) -> Stretch | None:
        """The stretch of one of these kinds that holds a place of the grid."""
        time = float(self.signals.t[min(place, len(self.signals) - 1)])
        return next((s for s in self.stretches if s.kind in kinds and s.start <= time <= s.end), None)

    def notice(
        self,
        kind: str,
        first: int,
        last: int,
        size: Reading,
        ratio: float,
        channels: tuple[str, ...],
        *,
        stretch: Stretch | None = None,
        also: tuple[Reading, ...] = (),
        note: str = "",
    ) -> Notice:
        """A notice from the first to the last place of the grid; the library says if its kind is a fault."""
        rows, t = self.signals.row, self.signals.t
        first, last = max(0, first), min(max(first, last), t.size - 1)
        return Notice(
            kind,
            notice_kinds()[kind].fault,
            float(t[first]),
            float(t[last]),
            int(rows[first]),
            int(rows[last]),
            size,
            float(ratio),
            channels,
            stretch,
            also,
            note,
        )


Detector = Callable[[Scene], list[Notice]]


class Watch(NamedTuple):
    """A detector with what it needs of a log.

    needs: groups of channels, of each of which one must be there. rate: readings a second that the first
    group needs; below it the detector is not asked, and the review says so. better: channels without which it
    judges, but cannot tell what the sentence beside them says.
    """

    kinds: tuple[str, ...]
    find: Detector
    needs: tuple[tuple[str, ...], ...] = ()
    rate: float = 0.0
    better: tuple[tuple[str, str], ...] = ()
