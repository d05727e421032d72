"""Recording what happened to a task: begun, done with torques read back, held, opened by name."""

from __future__ import annotations

import fnmatch
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from boostwright.errors import ReadingError
from boostwright.job.names import another
from boostwright.job.records import Override, Step, TaskEvent, batch_ids, new_id, now, standing
from boostwright.verbs.readings import LoadedJob, load_job
from boostwright.verbs.recording import keep_photos, length_checked, moment_of, name_of

_NAMED = 5  # tasks that are named where many are missing
_LIKELY = 0.5  # odds from which a branch is reckoned with

if TYPE_CHECKING:
    from boostwright.build.document import Build
    from boostwright.planning.readings.kept import Kept
    from boostwright.planning.task import Task

__all__ = [
    "AskedEvent",
    "is_pattern",
    "override_hold",
    "record_event",
    "record_events",
    "tasks_meant",
    "torques_read",
]


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
    photos: tuple[Path, ...] = ()
    torques: tuple[str, ...] = ()  # the same as written, 'JOINT = 24 Nm'


def record_event(path: str | Path, asked: AskedEvent, where: str = "") -> Kept:
    """Record that a task was begun, paused, done, or stands still.

    A critical task is done with a witness, who is another person than the one who did it, and left out with a
    witness and a reason; a look for leaking fuel is not left out at all. A hold point
    stays held until its readings are on record and inside their limits, and
    the notes say so. Raises ReadingError for what is missing and
    for a task that this build does not have.
    """
    return record_events(path, asked, (asked.task,), where)


def record_events(path: str | Path, asked: AskedEvent, names: Sequence[str], where: str = "") -> Kept:
    """The same for several tasks at once, in the order of the plan: all are written, or none is.

    asked: what is said of each; its own task is not read. names: keys, or patterns like 'baseline.*'. The
    records share the first digits of their ids, so that `take_back` finds them together. Raises ReadingError.
    """
    from boostwright.planning.moments import stated_zone
    from boostwright.planning.readings.kept import Kept
    from boostwright.planning.tasks import tasks_for
    from boostwright.verbs.waiting import add_or_keep

    job = load_job(path, where)
    tasks = tasks_for(job.build)
    meant = tasks_meant(names, tasks)
    who = name_of(asked.who)
    length_checked(asked.note, "note")
    if asked.what is Step.DONE:
        for task in meant:
            _witnessed(task, who, asked.witness)
    if asked.what is Step.NOT_NEEDED:
        for task in meant:
            _left_out(task, who, asked)
    read, against = _torques_of(job.build, asked, len(meant))
    if asked.what is Step.PROBLEM and not asked.note.strip():
        raise ReadingError("A problem needs its words.", "Say what is wrong with --note.")
    if asked.what is Step.PROBLEM:
        _problem_read(asked, job.build)
    elif asked.kind:
        raise ReadingError("--kind belongs to --problem TASK.", "Leave it out.")
    moment = moment_of(job.build, asked.time)
    ids = batch_ids(len(meant)) if len(meant) > 1 else (new_id(),)
    digests, files = keep_photos(path, asked.photos, ids, where)
    events = tuple(
        TaskEvent(
            id=one, who=who, time=moment, task=task.key, what=asked.what.value, witness=asked.witness.strip(),
            note=asked.note, kind=asked.kind, joints=(*asked.joints, *read), photos=digests,
        )
        for one, task in zip(ids, meant, strict=True)
    )  # fmt: skip
    after = LoadedJob(job.build, (*job.records, *events))
    notes: tuple[str, ...] = against
    if asked.what is Step.DONE:
        notes += _held(meant, tasks, after)
    if asked.what in {Step.STARTED, Step.DONE}:
        others = after if asked.what is Step.DONE else job
        for task in meant:
            notes += _not_yet(task, tasks, others)
    return Kept(
        events[0], waits=add_or_keep(path, events, where), notes=notes, more=events[1:],
        zone=stated_zone(job.build), files=files,
    )  # fmt: skip


def _problem_read(asked: AskedEvent, build: Build) -> None:
    """Raises ReadingError for a kind or a note that no plan could use."""
    from boostwright.planning.calendar import people_of
    from boostwright.planning.troubles import misread

    wrong, can = misread(asked.kind, asked.note, [person.name for person in people_of(build)])
    if wrong:
        raise ReadingError(f"{wrong[0].upper()}{wrong[1:]}.", can)


def _torques_of(
    build: Build, asked: AskedEvent, tasks: int
) -> tuple[tuple[tuple[str, float], ...], tuple[str, ...]]:
    if asked.torques and (asked.what is not Step.DONE or tasks > 1):
        raise ReadingError(
            "Torques are read back where one task is done.", "Write --torque with --done TASK."
        )
    return torques_read(build, asked.torques)


def tasks_meant(names: Sequence[str], tasks: Sequence[Task]) -> tuple[Task, ...]:
    """The tasks of keys and patterns, in the order of the plan, each once. A pattern leaves out what most
    likely does not arise, such as a broken stud: that is named by its key. Raises ReadingError.
    """
    known = {one.key: one for one in tasks}
    found: set[str] = set()
    for name in names:
        key = name.strip().casefold()
        if not key:
            raise ReadingError("No task is named.", "Write its key, like strip.sump.")
        if is_pattern(key):
            hits = [hit for hit in fnmatch.filter(known, key) if known[hit].odds >= _LIKELY]
            if not hits:
                raise ReadingError(
                    f"No task of this build is like '{name[:60]}'.", "'boostwright plan' lists them."
                )
            found.update(hits)
        else:
            found.add(_task_named(name, known).key)
    return tuple(task for task in tasks if task.key in found)


def is_pattern(name: str) -> bool:
    """Whether a name stands for several tasks, like 'baseline.*'."""
    return any(sign in name for sign in "*?[")


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
    if witness.strip() and not another(witness, who):
        raise ReadingError(f"{who} cannot witness their own work on {task.key}.", "Name another person.")


def _left_out(task: Task, who: str, asked: AskedEvent) -> None:
    """Raises ReadingError where a task cannot be called not needed, or not so; a branch that is likely not to
    come can."""
    from boostwright.planning.ladder.gates import says_nothing

    if task.odds < _LIKELY or not (task.critical or task.hold is not None):
        return
    if task.hold is not None and task.hold.never:
        raise ReadingError(f"{task.key} is never left out. {task.hold.never}", "Nothing is recorded.")
    if says_nothing(asked.note):
        raise ReadingError(
            f"{task.key} is looked at before the work goes on: it is not left out without a reason.",
            "Say in a sentence why this car does not need it with --note.",
        )
    _witnessed(task, who, asked.witness)


def _held(meant: Sequence[Task], tasks: tuple[Task, ...], after: LoadedJob) -> tuple[str, ...]:
    """Which tasks stay held although they were said to be done; empty where their hold points are open."""
    from boostwright.verbs.planning import hold_points_of

    points = hold_points_of(after, tasks)
    notes: list[str] = []
    for task in meant:
        point = points.get(task.key)
        if point is None or point.open:
            continue
        assert task.hold is not None
        ways = f"'boostwright record FILE --override {task.key} --who NAME --reason ...' opens it by name"
        never = task.hold.never or ""
        notes += (
            f"{task.key} stays held and does not count as done; {point.why}. {task.hold.rule}",
            f"Record them. {never}" if never else f"Record them, or {ways}.",
        )
    return tuple(notes)


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
    from boostwright.library.ladder import ladder_steps
    from boostwright.planning.holds import override_refused
    from boostwright.planning.moments import stated_zone
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
    return Kept(written, waits=add_or_keep(path, (written,), where), zone=stated_zone(job.build))
