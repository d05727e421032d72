"""Recording what was read: one reading, or a filled-in sheet."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import tzinfo
from pathlib import Path
from typing import TYPE_CHECKING

from boostwright.errors import ReadingError
from boostwright.job.names import another
from boostwright.job.records import (
    Reading,
    Record,
    new_id,
    now,
    standing,
)
from boostwright.verbs.readings import LoadedJob, judged_of, load_job, places_of
from boostwright.verbs.step_range import steps_say

if TYPE_CHECKING:
    from boostwright.build.document import Build
    from boostwright.build.values import StatedValue
    from boostwright.planning.readings.judged import JudgedReading
    from boostwright.planning.readings.kept import Kept, SheetKept
    from boostwright.planning.readings.sheet import SheetFault
    from boostwright.verbs.judging import Progress

__all__ = [
    "AskedReading",
    "keep_photos",
    "length_checked",
    "moment_of",
    "name_of",
    "record_reading",
    "record_sheet",
]

MOST_NOTE = 2000  # characters


@dataclass(frozen=True, slots=True)
class AskedReading:
    """What a person wants recorded. time: '' for now. sure: the figure was looked at twice."""

    measurement: str
    text: str
    who: str = ""
    time: str = ""
    when: str = ""
    step: str = ""
    instrument: str = ""
    witness: str = ""
    note: str = ""
    photos: tuple[Path, ...] = ()
    sure: bool = False


def record_reading(
    path: str | Path, asked: AskedReading, where: str = "", progress: Progress | None = None
) -> Kept:
    """Record one reading.

    Raises ReadingError: no such measurement, no unit, more than can be true, a wrong count of values; with
    `ask` for a value so far outside that a slip is likelier than a fault, until `sure`. Raises
    BuildFileError, OSError, HistoryError.
    """
    from boostwright.build.recorded import Standing
    from boostwright.planning.moments import stated_zone
    from boostwright.planning.readings import read_written, with_readings
    from boostwright.planning.readings.kept import Kept
    from boostwright.planning.readings.written import measurement_named, step_named
    from boostwright.views.reading_words import far_words

    job = load_job(path, where)
    one = measurement_named(asked.measurement)
    step = step_named(asked.step)
    side = _side(asked.when, one.sides, job.records)
    length_checked(asked.note, "note")
    written = read_written(one, asked.text, job.build.barometer, places_of(job.build).get(one.each))
    who = name_of(asked.who)
    if one.witness and not asked.witness.strip():
        raise ReadingError(f"{one.words}: two people sign this.", "Name the second one with --witness.")
    if asked.witness.strip() and not another(asked.witness, who):
        raise ReadingError("Nobody is their own witness.", "Name another person with --witness.")
    reading = Reading(
        id=new_id(), who=who, time=moment_of(job.build, asked.time), measurement=one.key,
        values=written.values, sd=written.sd, answer=written.answer, text=written.text, when=side,
        step=step, instrument=asked.instrument, witness=asked.witness.strip(), note=asked.note,
    )  # fmt: skip
    if asked.time:
        from boostwright.planning.readings.sheet import sheet_id

        reading = dataclasses.replace(reading, id=sheet_id(reading))
    same = any(record.id == reading.id for record in job.records)
    after = (*job.records, *(() if same else (reading,)))
    judged = next(
        j for j in judged_of(LoadedJob(job.build, after)) if j.reading.id == reading.id
    ) if _stands(reading, after) else None  # fmt: skip
    far = judged is not None and judged.state is Standing.FAR and judged.repeated < 2
    if far and not asked.sure and not same and judged is not None and not judged.at_once:
        assert judged.value is not None
        assert judged.expected is not None
        raise ReadingError(
            far_words(one, judged.value, judged.expected),
            "Nothing is recorded. Look at unit and decimal point, read it again, then write it with --again,"
            " or with --sure if it stands as it is.",
            ask=True,
        )
    reading, waits, files = _keep(path, reading, asked.photos, where)
    build = with_readings(job.build, after)
    mine = next((r for r in build.recorded if r.id == reading.id), None)
    stands = () if mine is None else tuple(
        (name, _filed(was)) for name, was in zip(mine.fields, mine.was, strict=True)
    )  # fmt: skip
    contradicts = 0.0 if mine is None else mine.contradicts
    (says,) = steps_say(path, where, job.build, job.records, (reading,), progress)
    notes = (*written.notes, *_after_harm(job, judged, reading.id))
    return Kept(
        reading,
        judged,
        waits,
        same,
        notes,
        stands,
        contradicts,
        of_step=says,
        zone=stated_zone(job.build),
        files=files,
    )


def _after_harm(job: LoadedJob, judged: JudgedReading | None, own: str) -> tuple[str, ...]:
    """That a reading inside follows one whose harm does not wait; empty where it does not."""
    from boostwright.build.recorded import Standing
    from boostwright.planning.moments import stated_zone
    from boostwright.views.clock import said_moment

    if judged is None or judged.state is not Standing.INSIDE or not judged.measurement.at_once:
        return ()
    same = [
        one
        for one in judged_of(job)
        if one.measurement.key == judged.measurement.key
        and one.reading.step == judged.reading.step
        and one.reading.id != own
    ]
    if not same or not same[-1].at_once:
        return ()
    last = same[-1].reading
    when = said_moment(last.time, stated_zone(job.build))
    said = (
        f"it contradicts the reading of {when} by {last.who}, and stands for it from now on. If nothing was"
        " mended between the two, trust the worse one: take this one back and find the cause."
    )
    return (said,)


def _filed(was: StatedValue | None) -> str:
    """What the file says, in its own unit; '' for nothing."""
    from boostwright.build.catalogue import FieldType, catalogue
    from boostwright.build.limits import value_text

    if was is None:
        return ""
    known = catalogue().field(was.path)
    if known.type is not FieldType.QUANTITY:
        return str(was.value)
    values = was.value if isinstance(was.value, tuple) else (was.value,)
    return ", ".join(value_text(known, float(value)) for value in values)


def _stands(reading: Reading, records: Sequence[Record]) -> bool:
    return any(record.id == reading.id for record in standing(records))


def length_checked(text: str, what: str) -> None:
    """Raises ReadingError for more words than are kept."""
    if len(text) > MOST_NOTE:
        raise ReadingError(f"The {what} has {len(text)} characters.", f"At most {MOST_NOTE} are kept.")


def moment_of(build: Build, text: str) -> str:
    """A moment as a person writes it, in UTC; now for ''. Without a zone it is the time of the build's place.

    Raises ReadingError.
    """
    from boostwright.planning.readings.when import read_moment

    return read_moment(text, zone=_zone(build)) if text else now()


def _zone(build: Build) -> tzinfo | None:
    """Of the build's place; None where the file names none. Raises ReadingError."""
    from boostwright.planning.moments import MomentError, zone_of

    stated = build.get("hours.time_zone")
    try:
        return None if stated is None else zone_of(str(stated.value))
    except MomentError as mishap:
        raise ReadingError(
            f"hours.time_zone '{stated and stated.value}': {mishap}.", "Mend it there."
        ) from None


def name_of(name: str) -> str:
    """Who it was, else the computer's user. Raises ReadingError for a name too long."""
    from boostwright.store.places import who_am_i

    who = (name or who_am_i()).strip()
    length_checked(who, "name")
    return who


def _side(asked: str, sides: tuple[str, ...], records: Sequence[Record]) -> str:
    """The side that is asked for; else the one where the job stands, if it is read there, else its first."""
    from boostwright.library.measurements import SIDES
    from boostwright.planning.readings.due import side_now

    if asked:
        if asked not in SIDES:
            raise ReadingError(f"'{asked[:30]}' is no side of the conversion.", f"Write {', '.join(SIDES)}.")
        return asked
    here = side_now(records)
    return here if here in sides else sides[0]


def _keep(
    path: str | Path, reading: Reading, photos: tuple[Path, ...], where: str
) -> tuple[Reading, str, tuple[str, ...]]:
    """Keep a reading with its photos: it, why it waits, what was kept in words."""
    from boostwright.verbs.waiting import add_or_keep

    digests, files = keep_photos(path, photos, (reading.id,), where)
    reading = dataclasses.replace(reading, photos=digests)
    return reading, add_or_keep(path, (reading,), where), files


def keep_photos(
    path: str | Path, photos: Sequence[Path], records: Sequence[str], where: str
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Keep photos with records of these ids: their digests, and what was kept in words.

    What is no picture by its first bytes is kept as a log, and said. Raises OSError before anything is kept.
    """
    from boostwright.store import open_job
    from boostwright.store.blobs import kind_of_content

    contents = [(photo.name, photo.read_bytes()) for photo in photos]
    if not contents:
        return (), ()
    digests, words = [], []
    with open_job(path, where) as job:
        for name, content in contents:
            for record in records:
                kept = job.attach(content, name, record=record)
            digests.append(kept.digest)
            kind = kind_of_content(content).partition("/")[0]
            if kind in ("image", "video"):
                words.append(f"{name}, {'a picture' if kind == 'image' else 'a film'}")
            else:
                words.append(f"{name}: not a picture by its first bytes; kept as a log")
    return tuple(digests), tuple(words)


def _behind(fresh: Sequence[tuple[int, Reading]], moment: str, records: Sequence[Record]) -> list[SheetFault]:
    """Lines without a time of their own that would be put behind a reading of the same."""
    from boostwright.planning.readings.sheet import SheetFault

    last = {(r.measurement, r.step): r.time for r in standing(records) if isinstance(r, Reading)}
    remedy = "Write when it was read, in the column 'time' or with --time."
    return [
        SheetFault(line, f"{one.measurement} was read at {last[one.measurement, one.step][:16]} UTC", remedy)
        for line, one in fresh
        if one.time == moment and last.get((one.measurement, one.step), "") > moment
    ]


def record_sheet(
    path: str | Path, text: str, *, who: str = "", time: str = "", when: str = "", sure: bool = False,
    where: str = "", progress: Progress | None = None,
) -> SheetKept:  # fmt: skip
    """Record what a filled-in sheet holds. Where a line is at fault nothing is recorded at all.

    text: the CSV. who, time, when: for rows that leave them out; a time is needed there, so that the same
    sheet read twice is recorded once. sure: values far outside stand as they are. Raises ReadingError,
    HistoryError.
    """
    from boostwright.build.recorded import Standing
    from boostwright.planning.moments import stated_zone
    from boostwright.planning.readings.kept import SheetKept
    from boostwright.planning.readings.sheet import SheetFault, read_sheet
    from boostwright.verbs.waiting import add_or_keep
    from boostwright.views.reading_words import far_words

    job = load_job(path, where)
    noon = now()[:10] + "T12:00:00.000+00:00"
    moment = moment_of(job.build, time) if time else min(noon, now())
    read = read_sheet(
        text,
        who=name_of(who),
        time=moment,
        barometer=job.build.barometer,
        places=places_of(job.build),
        when=when,
        zone=_zone(job.build),
    )
    known = {record.id for record in job.records}
    fresh = [(line, reading) for line, reading in read.readings if reading.id not in known]
    after = LoadedJob(job.build, (*job.records, *(reading for _, reading in fresh)))
    judged = {one.reading.id: one for one in judged_of(after)}
    faults = [*read.faults, *([] if time else _behind(fresh, moment, job.records))]
    for line, reading in fresh:
        one = judged.get(reading.id)
        if one is None or sure or one.state is not Standing.FAR or one.repeated >= 2 or one.at_once:
            continue
        assert one.value is not None
        assert one.expected is not None
        remedy = "Look at unit and decimal point; --sure takes it as it is."
        faults.append(SheetFault(line, far_words(one.measurement, one.value, one.expected), remedy))
    if faults:
        return SheetKept((), len(read.readings) - len(fresh), read.blank, tuple(sorted(faults)), "")
    waits = add_or_keep(path, [reading for _, reading in fresh], where) if fresh else ""
    shown = [(line, reading) for line, reading in fresh if reading.id in judged]
    kept = tuple((line, judged[reading.id]) for line, reading in shown)
    says = steps_say(path, where, job.build, job.records, [r for _, r in shown], progress)
    return SheetKept(
        kept, len(read.readings) - len(fresh), read.blank, (), waits, says, stated_zone(job.build)
    )
