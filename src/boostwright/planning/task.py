"""What a task is: what people do at one go, with what it needs and what it leaves behind."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

__all__ = ["CREW", "PLACES", "Effort", "Hold", "Lag", "Need", "Task"]

CREW = ("lead", "helper", "electrician", "welder", "driver", "observer")
"""What a person can be needed as. A welder may be a machine shop. Driver and observer are two people."""

PLACES = ("desk", "bench", "bay", "lift", "yard", "road", "shop")
"""Where it is done. 'bay': at the car; 'lift': the car on stands or on a lift; 'yard': outdoors."""


@dataclass(frozen=True, slots=True)
class Effort:
    """Three durations of hands-on work [s]: all goes well, the likeliest, hardly anyone takes longer."""

    low: float
    likely: float
    high: float

    def __post_init__(self) -> None:
        if not (0.0 <= self.low <= self.likely <= self.high and math.isfinite(self.high)):
            raise ValueError(f"durations must rise: {self.low:g}, {self.likely:g}, {self.high:g} s")

    @property
    def mean(self) -> float:
        """(low + 4 likely + high) / 6: the mean where the points are read as a beta distribution [s]."""
        return (self.low + 4.0 * self.likely + self.high) / 6.0


@dataclass(frozen=True, slots=True)
class Lag:
    """Time that passes with nobody at work between the end of an earlier task and the start of this one.

    seconds: as planned, the mean where the three points differ. low, high: all goes well, hardly ever longer;
    both 0 where only the one time is known.
    """

    task: str
    seconds: float
    why: str  # 'sealant cures', 'engine cools'
    low: float = 0.0
    high: float = 0.0


@dataclass(frozen=True, slots=True)
class Need:
    """Something that is used up or stays in the car. item: a key of the table of supplies, or words."""

    item: str
    quantity: float = 1.0
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Hold:
    """Work stops here until these are on record and inside their limits.

    readings: keys of measurements. witness: whether a second person must have seen it. rule: the words.
    never: why no override opens it, '' where one can.
    """

    rule: str
    readings: tuple[str, ...] = ()
    witness: bool = False
    never: str = ""


@dataclass(frozen=True, slots=True)
class Task:
    """One task of this build's job.

    key: 'phase.word', the same in every plan. crew: one entry for each person who is needed at once, from
    `CREW`. place: from `PLACES`. odds: that it arises at all (1 for certain; a broken stud has less).
    opens, closes: what stands open on the car after it and what it makes good again, from the table of open
    things; together they decide in which state the car may be left. joints: names of [[fasteners]] that are
    tightened. step: the commissioning step that it is, else ''. why: what in this build brought it in.
    same_stay: tasks that go stale over a night or when people leave: this one follows them in the same stay,
    or they are done anew.
    """

    key: str
    words: str
    phase: str
    crew: tuple[str, ...]
    place: str
    effort: Effort
    after: tuple[str, ...] = ()
    lags: tuple[Lag, ...] = ()
    odds: float = 1.0
    tools: tuple[str, ...] = ()
    needs: tuple[Need, ...] = ()
    hold: Hold | None = None
    stop: str = ""  # when to stop the project or this branch
    cautions: tuple[str, ...] = ()
    joints: tuple[str, ...] = ()
    opens: tuple[str, ...] = ()
    closes: tuple[str, ...] = ()
    critical: bool = False  # never done or signed off alone, never after a long day
    in_one_go: bool = True  # it cannot be left half done over a night
    step: str = ""
    why: str = ""
    source: str = "common practice, no source"
    amounts: tuple[str, ...] = field(default=())  # sentences with this build's own numbers
    same_stay: tuple[str, ...] = ()
