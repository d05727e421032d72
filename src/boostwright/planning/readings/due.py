"""What is to be measured now: where the job stands, and what is not on record yet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from boostwright.build.document import Build
from boostwright.build.recorded import Standing
from boostwright.job.records import Reading, Record, Step, TaskEvent, standing
from boostwright.library.measurements import SIDES, Measurement, measurements
from boostwright.library.tasks import task_rows
from boostwright.planning.readings.expected import expected_of
from boostwright.planning.readings.ground import Expected, Ground
from boostwright.planning.readings.into_build import without_readings
from boostwright.planning.readings.judged import JudgedReading, judged_readings, latest_values, side_of
from boostwright.planning.tasks import tasks_for

__all__ = ["Due", "due_now", "side_now"]

_GO = "go_signed"
_BEFORE_PHASES = ("decide", "baseline")
_AFTER_PHASES = ("run",)


class Due(NamedTuple):
    """One measurement that is due. again: its last reading stands outside and wants a second one."""

    measurement: Measurement
    side: str
    expected: Expected | None
    again: JudgedReading | None


def side_now(records: Sequence[Record]) -> str:
    """On which side the job stands: before, until the go-ahead is signed or a later task has begun; during,
    until the engine has run.
    """
    side = "before"
    for record in standing(records):
        if isinstance(record, Reading):
            one = measurements().get(record.measurement)
            if one is None:
                continue
            if one.key == _GO and record.answer in one.good and side == "before":
                side = "during"
            if side_of(record, one) == "after":
                side = "after"
        elif isinstance(record, TaskEvent) and record.what in (Step.STARTED.value, Step.DONE.value):
            phase = record.task.partition(".")[0]
            if phase in _AFTER_PHASES:
                side = "after"
            elif phase not in _BEFORE_PHASES and side == "before":
                side = "during"
    return side


def _of_other_builds(build: Build) -> frozenset[str]:
    """Readings that only hold points of tasks ask for which this build does not have."""
    asked = {key for task in tasks_for(build) if task.hold is not None for key in task.hold.readings}
    held = {key for row in task_rows().values() if row.hold is not None for key, _ in row.hold.readings}
    return frozenset(held - asked)


def due_now(build: Build, records: Sequence[Record], side: str = "") -> tuple[Due, ...]:
    """What is due on one side, '' for the one where the job stands: first what wants a second reading, then
    what nobody has read, in the order of the catalogue.
    """
    side = side or side_now(records)
    if side not in SIDES:
        raise ValueError(f"no side of the conversion is called '{side}'")
    bare = without_readings(build)
    newest: dict[str, JudgedReading] = {}
    for judged in judged_readings(bare, None, records):
        if judged.side == side:
            newest[judged.measurement.key] = judged
    ground = Ground(bare, None, latest_values(records, side))
    again, fresh = [], []
    spared = _of_other_builds(bare)
    for one in measurements().values():
        if side not in one.sides or (one.key in spared and one.key not in newest):
            continue
        last = newest.get(one.key)
        expected = expected_of(one, ground)
        if last is None:
            fresh.append(Due(one, side, expected, None))
        elif last.state in (Standing.OUTSIDE, Standing.FAR) and (not last.holds_work or last.at_once):
            again.append(Due(one, side, expected, last))
    return (*again, *fresh)
