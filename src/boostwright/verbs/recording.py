"""Recording: a reading, an event of a task, a filled-in sheet; and taking one of them back."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from boostwright.errors import ReadingError
from boostwright.job.records import (
    Reading,
    Record,
    Step,
    TaskEvent,
    Withdrawal,
    new_id,
    now,
    standing,
)
from boostwright.verbs.readings import LoadedJob, judged_of, load_job, places_of

_NAMED = 5  # tasks that are named where many are missing
_LIKELY = 0.5  # odds from which a branch is reckoned with

if TYPE_CHECKING:
    from boostwright.build.document import Build
    from boostwright.build.values import StatedValue
    from boostwright.planning.readings.kept import Kept, SheetKept
    from boostwright.planning.task import Task

__all__ = [
    "AskedEvent",
    "AskedReading",
    "override_hold",
    "record_event",
    "record_reading",
    "record_sheet",
    "take_back",
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


def record_reading(path: str | Path, asked: AskedReading, where: str = "") -> Kept:
    """Record one reading.

    Raises ReadingError: no such measurement, no unit, more than can be true, a wrong count of values; with
    `ask` for a value so far outside that a slip is likelier than a fault, until `sure`. Raises
    BuildFileError, OSError, HistoryError.
    """
    from boostwright.build.recorded import Standing
    from boostwright.planning.readings import read_written, with_readings
    from boostwright.planning.readings.kept import Kept
    from boostwright.planning.readings.when import read_moment
    from boostwright.planning.readings.written import measurement_named
    from boostwright.views.reading_words import far_words

    job = load_job(path, where)
    one = measurement_named(asked.measurement)
    step = _step_named(asked.step)
    side = _side(asked.when, one.sides, job.records)
    _words(asked.note, "note")
    written = read_written(one, asked.text, job.build.barometer, places_of(job.build).get(one.each))
    who = _who(asked.who)
    if one.witness and not asked.witness:
        raise ReadingError(f"{one.words}: two people sign this.", "Name the second one with --witness.")
    if asked.witness and asked.witness.strip().casefold() == who.casefold():
        raise ReadingError("Nobody is their own witness.", "Name another person with --witness.")
    reading = Reading(
        id=new_id(), who=who, time=read_moment(asked.time) if asked.time else now(), measurement=one.key,
        values=written.values, sd=written.sd, answer=written.answer, text=written.text, when=side,
        step=step, instrument=asked.instrument, witness=asked.witness, note=asked.note,
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
    reading, waits = _keep(path, reading, asked.photos, where)
    build = with_readings(job.build, after)
    mine = next((r for r in build.recorded if r.id == reading.id), None)
    stands = () if mine is None else tuple(
        (name, _filed(was)) for name, was in zip(mine.fields, mine.was, strict=True)
    )  # fmt: skip
    contradicts = 0.0 if mine is None else mine.contradicts
    return Kept(reading, judged, waits, same, written.notes, stands, contradicts)


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


def _step_named(name: str) -> str:
    """The key of a step of the ladder; '' for none. Raises ReadingError for one that there is not."""
    from boostwright.library.ladder import ladder_steps
    from boostwright.quantity import nearest

    key, keys = name.strip().casefold(), tuple(step.key for step in ladder_steps())
    if not key or key in keys:
        return key
    near = nearest(key, keys, count=2)
    meant = f"Did you mean {' or '.join(near)}?" if near else f"The steps: {', '.join(keys)}."
    raise ReadingError(f"The ladder has no step '{name[:60]}'.", f"{meant} Nothing is recorded.")


def _stands(reading: Reading, records: Sequence[Record]) -> bool:
    return any(record.id == reading.id for record in standing(records))


def _words(text: str, what: str) -> None:
    if len(text) > MOST_NOTE:
        raise ReadingError(f"The {what} has {len(text)} characters.", f"At most {MOST_NOTE} are kept.")


def _who(name: str) -> str:
    from boostwright.store.places import who_am_i

    who = (name or who_am_i()).strip()
    _words(who, "name")
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


def _keep(path: str | Path, reading: Reading, photos: tuple[Path, ...], where: str) -> tuple[Reading, str]:
    """Keep a reading with its photos."""
    from boostwright.store import open_job
    from boostwright.verbs.waiting import add_or_keep

    if photos:
        digests = []
        with open_job(path, where) as job:
            for photo in photos:
                digests.append(job.attach(photo.read_bytes(), photo.name, record=reading.id).digest)
        reading = dataclasses.replace(reading, photos=tuple(digests))
    return reading, add_or_keep(path, (reading,), where)


@dataclass(frozen=True, slots=True)
class AskedEvent:
    """What a person says of a task. what: a `Step`. kind: of a problem. joints: torques read back [N m]."""

    task: str
    what: Step
    who: str = ""
    time: str = ""
    witness: str = ""
    note: str = ""
    kind: str = ""
    joints: tuple[tuple[str, float], ...] = field(default=())
    torques: tuple[str, ...] = ()  # the same as written, 'JOINT = 24 Nm'


def record_event(path: str | Path, asked: AskedEvent, where: str = "") -> Kept:
    """Record that a task was begun, paused, done, or stands still.

    A critical task is done with a witness, who is another person than the one who did it; a hold point
    stays held until its readings are on record and inside their limits, and
    the notes say so. Raises ReadingError for what is missing and
    for a task that this build does not have.
    """
    from boostwright.planning.readings.kept import Kept
    from boostwright.planning.readings.when import read_moment
    from boostwright.planning.tasks import tasks_for
    from boostwright.verbs.waiting import add_or_keep

    job = load_job(path, where)
    tasks = tasks_for(job.build)
    task = _task_named(asked.task, {one.key: one for one in tasks})
    who = _who(asked.who)
    _words(asked.note, "note")
    notes: tuple[str, ...] = ()
    if asked.what is Step.DONE:
        _witnessed(task, who, asked.witness)
    if asked.torques and asked.what is not Step.DONE:
        raise ReadingError("Torques are read back where a task is done.", "Write --torque with --done TASK.")
    read, against = torques_read(job.build, asked.torques)
    if asked.what is Step.PROBLEM and not asked.note.strip():
        raise ReadingError("A problem needs its words.", "Say what is wrong with --note.")
    event = TaskEvent(
        id=new_id(), who=who, time=read_moment(asked.time) if asked.time else now(), task=task.key,
        what=asked.what.value, witness=asked.witness.strip(), note=asked.note, kind=asked.kind,
        joints=(*asked.joints, *read),
    )  # fmt: skip
    if asked.what is Step.DONE:
        notes = (*against, *_held(task, tasks, job, event))
    if asked.what in {Step.STARTED, Step.DONE}:
        notes = (*notes, *_not_yet(task, tasks, job))
    return Kept(event, waits=add_or_keep(path, (event,), where), notes=notes)


def _task_named(name: str, tasks: Mapping[str, Task]) -> Task:
    from boostwright.quantity import nearest

    key = name.strip().casefold()
    if key in tasks:
        return tasks[key]
    near = nearest(key, tuple(tasks), count=3)
    meant = f"Did you mean {' or '.join(near)}? " if near else ""
    raise ReadingError(f"This build has no task '{name[:60]}'.", f"{meant}'boostwright plan' lists them.")


def _not_yet(task: Task, tasks: tuple[Task, ...], job: LoadedJob) -> tuple[str, ...]:
    """What comes before a task by the plan and is not on record as done; empty where nothing is missing.

    Tasks of the desk count as done by then, and so does a branch that most likely does not arise.
    """
    order = {one.key: one for one in tasks}
    ended: dict[str, bool] = {}
    for record in standing(job.records):
        if isinstance(record, TaskEvent) and Step(record.what) in {Step.DONE, Step.NOT_NEEDED, Step.REOPENED}:
            ended[record.task] = Step(record.what) is not Step.REOPENED
    missing: list[str] = []
    todo = [task.key]
    seen = {task.key}
    while todo:
        one = order[todo.pop()]
        for key in (*one.after, *(lag.task for lag in one.lags)):
            if key in seen or key not in order or ended.get(key):
                continue
            seen.add(key)
            todo.append(key)
            if order[key].place != "desk" and order[key].odds >= _LIKELY:
                missing.append(key)
    if not missing:
        return ()
    first = [one.key for one in tasks if one.key in missing]
    more = f" and {len(first) - _NAMED} more" if len(first) > _NAMED else ""
    names = f"{', '.join(first[:_NAMED])}{more}"
    said = f"OUT OF ORDER: {len(first)} tasks come before {task.key} and are not on record as done: {names}."
    return (f"{said} Nothing that depends on them is safe before they are done.",)


def _witnessed(task: Task, who: str, witness: str) -> None:
    needs = task.critical or (task.hold is not None and task.hold.witness)
    if needs and not witness.strip():
        raise ReadingError(
            f"{task.key} can hurt someone or cost the engine: a second person looks at it before it counts as"
            " done.",
            "Name that person with --witness.",
        )
    if witness.strip() and witness.strip().casefold() == who.casefold():
        raise ReadingError(f"{who} cannot witness their own work on {task.key}.", "Name another person.")


def _held(task: Task, tasks: tuple[Task, ...], job: LoadedJob, event: TaskEvent) -> tuple[str, ...]:
    """Why the task stays held although it was said to be done; empty where its hold point is open."""
    from boostwright.verbs.planning import hold_points_of

    after = LoadedJob(job.build, (*job.records, event))
    point = hold_points_of(after, tasks).get(task.key)
    if point is None or point.open:
        return ()
    assert task.hold is not None
    ways = f"'boostwright record FILE --override {task.key} --who NAME --reason ...' opens it by name"
    never = task.hold.never or ""
    return (
        f"{task.key} stays held and does not count as done; {point.why}. {task.hold.rule}",
        f"Record them. {never}" if never else f"Record them, or {ways}.",
    )


def torques_read(build: Build, texts: Sequence[str]) -> tuple[tuple[tuple[str, float], ...], tuple[str, ...]]:
    """Torques read back, from texts like 'JOINT = 24 Nm': name and value [N m] of each, and what the torque
    sheet says against them. Raises ReadingError for a joint that the build does not have, or no torque.
    """
    from boostwright.quantity import Dimension, QuantityError, nearest, read, write
    from boostwright.verbs.judging import torque

    rows = {row.bolt.name: row for row in torque(build)}
    by_name = {name.casefold(): name for name in rows}
    found: dict[str, float] = {}
    notes = []
    for text in texts:
        left, equals, right = text.rpartition("=")
        name = by_name.get(left.strip().casefold(), "")
        if not equals:
            raise ReadingError(f"'{text[:60]}' names no joint.", "Write it like --torque 'JOINT = 24 Nm'.")
        if not name:
            near = nearest(left.strip(), tuple(rows), count=3)
            meant = f"Did you mean {' or '.join(near)}? " if near else ""
            raise ReadingError(
                f"This build has no joint '{left.strip()[:60]}'.",
                f"{meant}'boostwright torque' lists them.",
            )
        if name in found:
            raise ReadingError(f"The joint '{name}' is named twice.", "Write each joint once.")
        try:
            value = read(right.strip(), Dimension.TORQUE).value
        except QuantityError as mishap:
            raise ReadingError(f"{name}: {mishap}", "Write the torque with its unit, like 24 Nm.") from None
        if not 0.0 < value < 2000.0:
            raise ReadingError(
                f"{name}: {value:g} N m is no torque of a car's joint.", "Above 0, below 2000."
            )
        found[name] = value
        row = rows[name]
        if row.low is None or row.high is None:
            notes.append(f"{name}: the torque sheet is blank here, so nothing says whether it is right.")
        elif not row.low * (1.0 - 1e-9) <= value <= row.high * (1.0 + 1e-9):
            said, low, high = (write(v, "Nm", Dimension.TORQUE, digits=3) for v in (value, row.low, row.high))
            notes.append(f"{name}: {said} is outside the torque sheet's {low} to {high}: once more.")
    return tuple(found.items()), tuple(notes)


def override_hold(
    path: str | Path, name: str, *, who: str, reason: str, witness: str = "", where: str = ""
) -> Kept:
    """Open a task's hold point against its data; it stays on record and in sight.

    who answers for it, for which reason; witness: the second person, whom a critical task asks for. Raises
    ReadingError where it may not be opened so, or stands open already; then nothing is written.
    """
    from boostwright.job.records import Override
    from boostwright.library.ladder import ladder_steps
    from boostwright.planning.holds import override_refused
    from boostwright.planning.readings.kept import Kept
    from boostwright.planning.tasks import tasks_for
    from boostwright.verbs.planning import hold_points_of
    from boostwright.verbs.waiting import add_or_keep

    if name.strip().casefold() in {step.key for step in ladder_steps()}:
        raise ReadingError(
            f"'{name}' is a step of the ladder.", f"'boostwright ladder FILE --override {name}' opens it."
        )
    job = load_job(path, where)
    tasks = tasks_for(job.build)
    task = _task_named(name, {one.key: one for one in tasks})
    point = hold_points_of(job, tasks).get(task.key)
    if point is None:
        raise ReadingError(f"{task.key} has no hold point with readings.", "There is nothing to open.")
    written = Override(new_id(), who.strip(), now(), task.key, reason.strip(), witness.strip())
    fault = override_refused(task, written, (), float("-inf"))
    if fault:
        raise ReadingError(fault, "Nothing is recorded; --who, --reason and --witness say it.")
    if point.open:
        by = f", by {point.override.who}" if point.override is not None else ""
        raise ReadingError(f"The hold point of {task.key} is open already{by}.", "It needs no override.")
    return Kept(written, waits=add_or_keep(path, (written,), where))


def take_back(path: str | Path, record: str = "", who: str = "", reason: str = "", where: str = "") -> Kept:
    """Withdraw a record; both stay in the store, and its effect is gone everywhere.

    record: its id or the beginning of one, '' for the last that stands. Raises ReadingError where there is
    none.
    """
    from boostwright.planning.readings.kept import Kept
    from boostwright.verbs.waiting import add_or_keep

    records = load_job(path, where).records
    stand = standing(records)
    if record:
        found = [one for one in stand if one.id.startswith(record.strip().casefold())]
        if len(found) != 1:
            count = "no standing record" if not found else f"{len(found)} records"
            raise ReadingError(f"{count} of that id.", "'boostwright record FILE --list' shows them.")
        taken = found[0]
    elif stand:
        taken = stand[-1]
    else:
        raise ReadingError("There is nothing to take back.", "Nothing is recorded yet.")
    back = Withdrawal(new_id(), _who(who), now(), taken.id, reason)
    return Kept(taken, waits=add_or_keep(path, (back,), where))


def record_sheet(
    path: str | Path, text: str, *, who: str = "", time: str = "", when: str = "", sure: bool = False,
    where: str = "",
) -> SheetKept:  # fmt: skip
    """Record what a filled-in sheet holds. Where a line is at fault nothing is recorded at all.

    text: the CSV. who, time, when: for rows that leave them out; a time is needed there, so that the same
    sheet read twice is recorded once. sure: values far outside stand as they are. Raises ReadingError,
    HistoryError.
    """
    from boostwright.build.recorded import Standing
    from boostwright.planning.readings.kept import SheetKept
    from boostwright.planning.readings.sheet import SheetFault, read_sheet
    from boostwright.planning.readings.when import read_moment
    from boostwright.verbs.waiting import add_or_keep
    from boostwright.views.reading_words import far_words

    job = load_job(path, where)
    noon = now()[:10] + "T12:00:00.000+00:00"
    moment = read_moment(time) if time else min(noon, now())
    read = read_sheet(
        text,
        who=_who(who),
        time=moment,
        barometer=job.build.barometer,
        places=places_of(job.build),
        when=when,
    )
    known = {record.id for record in job.records}
    fresh = [(line, reading) for line, reading in read.readings if reading.id not in known]
    after = LoadedJob(job.build, (*job.records, *(reading for _, reading in fresh)))
    judged = {one.reading.id: one for one in judged_of(after)}
    faults = list(read.faults)
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
    kept = tuple((line, judged[reading.id]) for line, reading in fresh if reading.id in judged)
    return SheetKept(kept, len(read.readings) - len(fresh), read.blank, (), waits)
