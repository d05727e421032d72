"""The figures of each pull: boost peak, time to boost, overshoot, creep, oscillation, target met or not."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from boostwright.drive.records import Stretch
from boostwright.drive.signal import Signals

__all__ = ["Pull", "pulls_of"]


class Pull(NamedTuple):
    """One pull in one gear: its stretch, its places on the grid (last: one past the end), figures in SI."""

    stretch: Stretch
    first: int
    last: int
    after_shift: bool
    speed_from: float  # [rad/s]
    speed_to: float


def pulls_of(signals: Signals, stretches: tuple[Stretch, ...]) -> tuple[Pull, ...]:
    """Every pull with its figures."""
    shifts = [s.end for s in stretches if s.kind == "shift"]
    speed = signals["engine_speed"]
    found = []
    for s in stretches:
        if s.kind != "pull":
            continue
        first, last = signals.at(s.start), signals.at(s.end) + 1
        inside = speed[first:last]
        found.append(
            Pull(
                s,
                first,
                last,
                any(abs(s.start - end) < 0.5 for end in shifts),
                float(np.nanmin(inside)),
                float(np.nanmax(inside)),
            )
        )
    return tuple(found)
