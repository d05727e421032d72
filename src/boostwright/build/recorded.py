"""A reading from the job's records as it stands in a build: what was expected and what it replaced."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from boostwright.build.values import StatedValue
from boostwright.quantity import Dimension, PressureKind

__all__ = ["Recorded", "Standing"]


class Standing(Enum):
    """How a reading stands to what was expected of it."""

    INSIDE = "inside"
    OUTSIDE = "outside"
    FAR = "far outside"
    OPEN = "not judged"  # nothing says what to expect


@dataclass(frozen=True, slots=True)
class Recorded:
    """One recorded reading inside a build.

    key: of the measurement; words: what it is. side: 'before', 'during' or 'after' the conversion. values
    [SI] with sd, the standard deviation of one of them; answer: where it is a word. standing: of its
    worst value, that at `place` (from 0). low, high: what was expected there [SI], None for an open end;
    why: where that comes from. repeated: how many readings of the same thing, this one among them, stand
    outside on the same side. fields: fields of the build file in which it stands. was: what the file
    states there, with None for nothing. contradicts: the file states a value there that lies beyond both
    spreads. used: False for one so far outside that it waits for a second one, or that contradicts an earlier
    one; against: which one that is, in words. at_once: what to do before anything else, where it shows harm
    that no second reading may cost. fell: how far a pull's power lies below that of one before it, '' where
    it does not.
    """

    id: str
    key: str
    words: str
    side: str
    time: str
    who: str
    instrument: str
    standing: Standing
    values: tuple[float, ...] = ()
    sd: float = 0.0
    answer: str = ""
    text: str = ""
    dimension: Dimension | None = None
    pressure: PressureKind | None = None
    unit: str = ""
    place: int = 0
    each: str = ""
    low: float | None = None
    high: float | None = None
    why: str = ""
    source: str = ""
    repeated: int = 0
    fields: tuple[str, ...] = ()
    was: tuple[StatedValue | None, ...] = ()
    contradicts: float = 0.0  # greatest distance from the file in joint standard deviations; 0 for none
    used: bool = True
    harm: str = ""
    at_once: str = ""
    fell: str = ""
    against: str = ""
