"""What a step of the ladder says of readings that were just taken."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from boostwright.build.document import Build
    from boostwright.build.recorded import Recorded
    from boostwright.job.records import Reading, Record
    from boostwright.planning.ladder import Ladder
    from boostwright.planning.readings.kept import StepSays
    from boostwright.verbs.judging import Progress
    from boostwright.verbs.readings import LoadedJob

__all__ = ["steps_say", "with_step_ranges"]


def steps_say(
    path: str | Path,
    where: str,
    build: Build,
    records: Sequence[Record],
    readings: Sequence[Reading],
    progress: Progress | None = None,
) -> tuple[StepSays | None, ...]:
    """The range of each reading's own step and where the reading lies in it.

    path, where: as of `load_job`. build, records: as they stood before the readings. The match runs for it
    where the pulls of this build are not at hand and a reading is of a step under load, since such a reading
    may say stop; readings of other steps are judged where the pulls are at hand. returns: one for each; None
    where no step or more than one reads it and none is named, and where nothing judges it.
    """
    steps = [_step_of(reading) for reading in readings]
    if not any(steps):
        return (None,) * len(readings)
    loaded = any(_under_load(step) for step in steps)
    made = _whole(path, where, records, progress) if loaded else _ladder(build, records)
    if made is None:
        return (None,) * len(readings)
    return tuple(_says(made, step, one) for step, one in zip(steps, readings, strict=True))


def with_step_ranges(job: LoadedJob, progress: Progress | None = None) -> Build:
    """The build with its recorded readings under load judged by the range of their own steps.

    The catalogue's range of such a reading is that of any engine; the step's is that of this one on the day
    of the pull. Where nothing was read under load, the build is returned as it is.
    """
    from boostwright.job.records import Reading, standing
    from boostwright.planning.ladder import day_of, ladder_for
    from boostwright.verbs.kept_pulls import pulls_of

    read = [r for r in standing(job.records) if isinstance(r, Reading)]
    loaded = {r.id: r for r in read if _under_load(_step_of(r))}
    if not loaded:
        return job.build
    conditions = pulls_of(job.build, day_of(job.build, job.records), progress or _silent)
    made = ladder_for(job.build, None, job.records, conditions=conditions)
    rows = tuple(
        _judged(one, _says(made, _step_of(loaded[one.id]), loaded[one.id])) if one.id in loaded else one
        for one in job.build.recorded
    )
    return replace(job.build, recorded=rows)


def _judged(one: Recorded, says: StepSays | None) -> Recorded:
    """A recorded reading as its step judges it; what was found worse without the step stays so."""
    from boostwright.build.recorded import Standing
    from boostwright.planning.ladder import State

    if says is None or one.at_once:
        return one
    if says.state not in (State.OUTSIDE, State.BROKEN_OFF):
        return one
    expected = says.expected
    stop = f"Break '{says.step}' off: {says.why}. Find the cause first; go back as the ladder says."
    return replace(
        one,
        standing=Standing.OUTSIDE,
        low=expected.low,
        high=expected.high,
        why=f"the range of the step '{says.step}': {expected.how or expected.origin.value}",
        source=expected.origin.value,
        repeated=max(1, one.repeated),
        at_once=stop if says.state is State.BROKEN_OFF else "",
    )


def _silent(_: str) -> None:
    """Say nothing."""


def _step_of(reading: Reading) -> str:
    """The step that a reading was taken for, or the only one that reads it; '' for none."""
    from boostwright.library.ladder import ladder_steps

    reads = [s.key for s in ladder_steps() if any(r.measurement == reading.measurement for r in s.reads)]
    if reading.step:
        return reading.step if reading.step in reads else ""
    return reads[0] if len(reads) == 1 else ""


def _under_load(step: str) -> bool:
    from boostwright.library.ladder import ladder_steps

    return any(one.key == step and one.load for one in ladder_steps())


def _ladder(build: Build, records: Sequence[Record]) -> Ladder | None:
    from boostwright.planning.ladder import day_of, ladder_for
    from boostwright.verbs.kept_pulls import kept_conditions

    conditions = kept_conditions(build, day_of(build, records))
    return None if conditions is None else ladder_for(build, None, records, conditions=conditions)


def _whole(path: str | Path, where: str, records: Sequence[Record], progress: Progress | None) -> Ladder:
    """The ladder with all that its gates hang on, as it stood before the readings."""
    from boostwright.verbs.ladder import ladder_with

    return ladder_with(path, tuple(records), where=where, progress=progress)


def _says(made: Ladder, step: str, reading: Reading) -> StepSays | None:
    from boostwright.planning.ladder import judge_reading
    from boostwright.planning.readings.kept import StepSays

    expected = made.rung(step).of(reading.measurement) if step else None
    if expected is None:
        return None
    return StepSays(step, expected, *judge_reading(expected, reading), _early(made, step))


def _early(made: Ladder, step: str) -> str:
    """Why a step under load was not to be run yet; '' where all before it is open."""
    keys = [rung.key for rung in made.rungs]
    if not _under_load(step) or made.here >= keys.index(step):
        return ""
    return (
        f"Before its turn: the ladder stands at step {made.here + 1}, '{keys[made.here]}', and '{step}' is"
        f" step {keys.index(step) + 1}. No load before all gates in front of it are open."
    )
