"""A build with the readings of its job in it; what of them is due, and how they stand."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from boostwright.job.records import (
    Record,
)

if TYPE_CHECKING:
    from boostwright.build.document import Build
    from boostwright.findings.result import CheckResult
    from boostwright.library.measurements import Measurement
    from boostwright.planning.readings.due import Due
    from boostwright.planning.readings.ground import Expected
    from boostwright.planning.readings.judged import JudgedReading

__all__ = [
    "LoadedJob",
    "due_readings",
    "judged_of",
    "load_job",
    "measurement_and_range",
    "places_of",
    "readings_sheet",
    "used_words",
]


class LoadedJob(NamedTuple):
    """A build with the readings of its job in it, and all records of the job in the order of arrival."""

    build: Build
    records: tuple[Record, ...]


def load_job(path: str | Path, where: str = "") -> LoadedJob:
    """A build file with what its store holds: recorded readings stand in the build as if the file stated
    them.

    where: '' for the store beside the file, or that of BOOSTWRIGHT_STORE; else a path or a URL. Nothing is
    made where nothing was kept. Raises BuildFileError, OSError, HistoryError.
    """
    from boostwright.planning.readings import with_readings
    from boostwright.store import open_job
    from boostwright.verbs import load_build
    from boostwright.verbs.waiting import waiting_records

    build = load_build(path)
    with open_job(path, where) as job:
        records = job.records()
    known = {record.id for record in records}
    records += tuple(record for record in waiting_records(path) if record.id not in known)
    return LoadedJob(with_readings(build, records), records)


def used_words(build: Build) -> str:
    """How many recorded readings a build stands on and what they replace, in a sentence; '' for none."""
    used = [one for one in build.recorded if one.fields]
    if not used:
        return ""
    fields = {path: was for one in used for path, was in zip(one.fields, one.was, strict=True)}
    instead = sum(was is not None for was in fields.values())
    count = f"{len(used)} recorded reading{'s' if len(used) != 1 else ''} used"
    if not instead:
        return f"{count}."
    where = "value" if instead == 1 else "values"
    return f"{count}; {instead} {where} of the file stand{'s' if instead == 1 else ''} back for them."


def judged_of(job: LoadedJob, result: CheckResult | None = None) -> tuple[JudgedReading, ...]:
    """Every standing reading of a job against what this build should show, oldest first."""
    from boostwright.planning.readings import judged_readings

    return judged_readings(job.build, result, job.records)


def due_readings(job: LoadedJob, side: str = "") -> tuple[Due, ...]:
    """What is to be measured now; side: 'before', 'during' or 'after' instead of where the job stands."""
    from boostwright.planning.readings.due import due_now

    return due_now(job.build, job.records, side)


def places_of(build: Build) -> Mapping[str, int]:
    """How many values belong to a reading that is taken at each cylinder or injector."""
    cylinders = build.get("engine.cylinders")
    if cylinders is None:
        return {}
    injectors = build.get("injectors.count")
    count = int(cylinders.value)
    return {"cylinder": count, "injector": count if injectors is None else int(injectors.value)}


def measurement_and_range(job: LoadedJob, name: str, side: str = "") -> tuple[Measurement, Expected | None]:
    """One measurement by its key, and what it should show on this build. Raises ReadingError with near
    names.
    """
    from boostwright.planning.readings import Ground, expected_of, measurement_named, without_readings
    from boostwright.planning.readings.judged import latest_values

    one = measurement_named(name)
    ground = Ground(without_readings(job.build), None, latest_values(job.records, side or one.sides[0]))
    return one, expected_of(one, ground)


def readings_sheet(job: LoadedJob, side: str = "") -> str:
    """The sheet of readings as CSV: what is on record filled in, the rest blank. side: '' for every one."""
    from boostwright.library.measurements import SIDES, measurements
    from boostwright.planning.readings import Ground, expected_of, without_readings
    from boostwright.planning.readings.judged import latest_values
    from boostwright.planning.readings.sheet import Blank, write_sheet
    from boostwright.views.reading_words import range_words

    bare = without_readings(job.build)
    judged = judged_of(job)
    rows: list[Blank] = []
    for at in SIDES if not side else (side,):
        ground = Ground(bare, None, latest_values(job.records, at))
        for one in measurements().values():
            if at not in one.sides:
                continue
            expected = range_words(one, expected_of(one, ground)) if one.dimension else " or ".join(one.good)
            read = [j.reading for j in judged if j.side == at and j.measurement.key == one.key]
            for r in read:
                rows.append(
                    Blank(one, at, expected, r.text, r.who, r.time, r.witness, r.note, r.step, r.instrument)
                )
            if not read:
                rows.append(Blank(one, at, expected))
    return write_sheet(rows)
