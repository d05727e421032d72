"""What a step of the ladder says of one reading, where its pulls were computed before; no match runs here."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from boostwright.build.document import Build
    from boostwright.job.records import Reading, Record
    from boostwright.planning.ladder import Ladder
    from boostwright.planning.readings.kept import StepSays

__all__ = ["steps_say"]


def steps_say(
    build: Build, records: Sequence[Record], readings: Sequence[Reading]
) -> tuple[StepSays | None, ...]:
    """The range of each reading's own step and where the reading lies in it.

    build, records: as they stood before the readings. returns: one for each; None where no step or more than
    one reads it and none is named, and where the pulls of this build are not at hand.
    """
    steps = [_step_of(reading) for reading in readings]
    made = _ladder(build, records) if any(steps) else None
    if made is None:
        return (None,) * len(readings)
    return tuple(_says(made, step, one) for step, one in zip(steps, readings, strict=True))


def _step_of(reading: Reading) -> str:
    """The step that a reading was taken for, or the only one that reads it; '' for none."""
    from boostwright.library.ladder import ladder_steps

    reads = [s.key for s in ladder_steps() if any(r.measurement == reading.measurement for r in s.reads)]
    if reading.step:
        return reading.step if reading.step in reads else ""
    return reads[0] if len(reads) == 1 else ""


def _ladder(build: Build, records: Sequence[Record]) -> Ladder | None:
    from boostwright.planning.ladder import day_of, ladder_for
    from boostwright.verbs.kept_pulls import kept_conditions

    conditions = kept_conditions(build, day_of(build, records))
    return None if conditions is None else ladder_for(build, None, records, conditions=conditions)


def _says(made: Ladder, step: str, reading: Reading) -> StepSays | None:
    from boostwright.planning.ladder import judge_reading
    from boostwright.planning.readings.kept import StepSays

    expected = made.rung(step).of(reading.measurement) if step else None
    return None if expected is None else StepSays(step, expected, *judge_reading(expected, reading))
