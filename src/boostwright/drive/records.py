"""What a review is made of: stretches of the drive, and what was noticed in it."""

from __future__ import annotations

from typing import NamedTuple

__all__ = ["Notice", "Reading", "Stretch"]


class Stretch(NamedTuple):
    """A part of the drive in which the engine does one thing."""

    kind: str  # pull, lift, idle, cranking, steady, off
    start: float  # on the repaired time base [s]
    end: float
    first_row: int  # of the file
    last_row: int
    gear: int = 0  # 0 where nobody knows


class Reading(NamedTuple):
    """One figure that carries a notice: SI, with its standard deviation."""

    of: str  # words: 'boost over its target'
    value: float
    sd: float
    dimension: str  # a value of quantity.Dimension
    channel: str = ""  # key of library.channels


class Notice(NamedTuple):
    """Something that happened, with when, how strong, by which channels, and how sure."""

    kind: str  # key of library/notices.toml
    fault: bool  # False: explained (a gear change's torque cut), or harmless
    start: float  # on the repaired time base [s]
    end: float
    first_row: int
    last_row: int
    size: Reading  # the figure that says how bad it is
    ratio: float  # size of the effect in its own standard deviations
    channels: tuple[str, ...]  # keys of library.channels that show it
    stretch: Stretch | None = None  # the pull or lift that it belongs to
    also: tuple[Reading, ...] = ()  # other figures: speed, pressure, gear at that moment
    note: str = ""
