"""What a step of the ladder says of one reading, where its pulls were computed before; no match runs here."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from boostwright.build.document import Build
    from boostwright.job.records import Reading, Record
    from boostwright.planning.readings.kept import StepSays

__all__ = ["step_says"]


def step_says(build: Build, records: Sequence[Record], reading: Reading) -> StepSays | None:
    """The range of a reading's own step and where the reading lies in it.

    build, records: as they stood before the reading. returns: None where no step or more than one reads it
    and none is named, and where the pulls of this build are not at hand.
    """
    from boostwright.library.ladder import ladder_steps
    from boostwright.planning.ladder import day_of, judge_reading, ladder_for
    from boostwright.planning.readings.kept import StepSays
    from boostwright.verbs.kept_pulls import kept_conditions

    reads = [s.key for s in ladder_steps() if any(r.measurement == reading.measurement for r in s.reads)]
    step = reading.step or (reads[0] if len(reads) == 1 else "")
    if step not in reads:
        return None
    conditions = kept_conditions(build, day_of(build, records))
    if conditions is None:
        return None
    expected = ladder_for(build, None, records, conditions=conditions).rung(step).of(reading.measurement)
    if expected is None:
        return None
    state, why = judge_reading(expected, reading)
    return StepSays(step, expected, state, why)
