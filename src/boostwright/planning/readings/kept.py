"""What came of recording a reading, an event or a sheet."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import tzinfo
from typing import NamedTuple

from boostwright.job.records import Record
from boostwright.planning.ladder.records import Expected, State
from boostwright.planning.readings.judged import JudgedReading
from boostwright.planning.readings.sheet import SheetFault

__all__ = ["Kept", "SheetKept", "StepSays"]


class StepSays(NamedTuple):
    """What a step of the ladder says of a reading. why: a sentence, '' where all is well. early: why the step
    was not to be run yet, '' where it was.
    """

    step: str
    expected: Expected
    state: State
    why: str
    early: str = ""

    @property
    def grave(self) -> int:
        """2: stop. 1: outside, or before its turn. 0: all is well."""
        if self.state is State.BROKEN_OFF:
            return 2
        return 1 if self.early or not self.state.opens else 0


@dataclass(frozen=True, slots=True)
class Kept:
    """What was recorded. judged: of a reading. waits: why it is not in the store yet, else ''. same: it was
    there already. stands_for: fields of the file that it states now, with what the file says there ('').
    more: further records written, or taken back, with it. of_step: what its step of the ladder says. zone: of
    the build's place, None for UTC. files: what was kept with it, a few words each.
    """

    record: Record
    judged: JudgedReading | None = None
    waits: str = ""
    same: bool = False
    notes: tuple[str, ...] = ()
    stands_for: tuple[tuple[str, str], ...] = ()
    contradicts: float = 0.0
    more: tuple[Record, ...] = ()
    of_step: StepSays | None = None
    zone: tzinfo | None = None
    files: tuple[str, ...] = ()


class SheetKept(NamedTuple):
    """What came of a sheet: readings that are new, with their lines; how many were there already; faults.

    of_steps: what the ladder's step says of each of the new ones, None where it says nothing.
    """

    kept: tuple[tuple[int, JudgedReading], ...]
    same: int
    blank: int
    faults: tuple[SheetFault, ...]
    waits: str
    of_steps: tuple[StepSays | None, ...] = ()
    zone: tzinfo | None = None
