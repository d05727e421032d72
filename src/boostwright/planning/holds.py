"""Hold points: a task whose readings are missing or out of their range is not done, whoever said so.

What stands here is asked by the plan, the ladder and the recording alike, so that all three agree.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from boostwright.build.recorded import Standing
from boostwright.job.records import Override, Record, Step, TaskEvent, standing
from boostwright.library.ladder import ladder_steps
from boostwright.planning.ladder.gates import override_fault
from boostwright.planning.readings.judged import JudgedReading
from boostwright.planning.scope import forerunners
from boostwright.planning.task import Task

__all__ = ["HoldPoint", "hold_points", "override_refused"]

_OUT = (Standing.OUTSIDE, Standing.FAR)


@dataclass(frozen=True, slots=True)
class HoldPoint:
    """How one task's hold point stands.

    missing: keys of readings that are not on record for it. outside: those whose newest one is out of its
    range; twice: among them those that a second reading confirmed, or whose answer is plain. override: by
    which it is open all the same. refused: why an override that was written does not count. done: somebody
    said that the task is done.
    """

    task: Task
    missing: tuple[str, ...]
    outside: tuple[str, ...]
    twice: tuple[str, ...]
    override: Override | None
    refused: str
    done: bool

    @property
    def open(self) -> bool:
        """Whether work may go on past it."""
        return self.override is not None or not (self.missing or self.outside)

    @property
    def why(self) -> str:
        """What stands in the way, in a sentence; '' where nothing does."""
        said = []
        if self.missing:
            said.append(f"not on record yet: {', '.join(self.missing)}")
        once = [key for key in self.outside if key not in self.twice]
        if once:
            said.append(f"out of its range, to be read again another way: {', '.join(once)}")
        if self.twice:
            said.append(f"out of its range, no further before it is understood: {', '.join(self.twice)}")
        if self.refused:
            said.append(f"the override does not count: {self.refused}")
        return "; ".join(said)


def hold_points(
    tasks: Sequence[Task], judged: Iterable[JudgedReading], records: Iterable[Record]
) -> Mapping[str, HoldPoint]:
    """The hold points of a job by task.

    A reading counts for the task whose step it names, on that task's side of the conversion; newer than the
    end of an earlier task that held for the same thing, and than the reopening of its own. judged: every
    standing reading, oldest first.
    """
    kept = standing(records)
    ended, reopened = _moments(kept)
    read: dict[str, list[JudgedReading]] = {}
    for one in judged:
        read.setdefault(one.measurement.key, []).append(one)
    steps = {step.key: step for step in ladder_steps()}
    found = {}
    for task in tasks:
        if task.hold is None or not task.hold.readings:
            continue
        step = steps.get(task.step)
        optional = {row.measurement for row in step.reads if row.optional} if step is not None else set()
        missing, outside = [], []
        for key in task.hold.readings:
            since = max(reopened.get(task.key, -math.inf), _served(task, key, tasks, ended))
            newest = [one for one in read.get(key, ()) if _counts(one, task) and _time(one) > since]
            if newest:
                outside += [newest[-1]] if newest[-1].state in _OUT else []
            elif key not in optional:
                missing.append(key)
        override, refused = _opened(task, outside, reopened.get(task.key, -math.inf), kept)
        found[task.key] = HoldPoint(
            task,
            tuple(missing),
            tuple(one.measurement.key for one in outside),
            tuple(one.measurement.key for one in outside if one.holds_work),
            override,
            refused,
            task.key in ended,
        )
    return found


def _seconds(time: str) -> float:
    try:
        stamp = datetime.fromisoformat(time)
    except ValueError:
        return -math.inf
    return (stamp if stamp.tzinfo is not None else stamp.replace(tzinfo=UTC)).timestamp()


def _time(one: JudgedReading) -> float:
    return _seconds(one.reading.time)


def _moments(kept: Sequence[Record]) -> tuple[dict[str, float], dict[str, float]]:
    """When each task ended, where it did and was not begun again; when it was last reopened [s]."""
    ended: dict[str, float] = {}
    reopened: dict[str, float] = {}
    events = sorted((r for r in kept if isinstance(r, TaskEvent)), key=lambda e: _seconds(e.time))
    for event in events:
        if event.what == Step.DONE.value:
            ended[event.task] = _seconds(event.time)
        elif event.what != Step.PROBLEM.value:
            ended.pop(event.task, None)
        if event.what == Step.REOPENED.value:
            reopened[event.task] = _seconds(event.time)
    return ended, reopened


def _served(task: Task, key: str, tasks: Sequence[Task], ended: Mapping[str, float]) -> float:
    """When the last task before this one ended that held for the same reading [s]."""
    holders = [
        other
        for other in tasks
        if other.hold is not None and key in other.hold.readings and other.key != task.key
    ]
    if not holders:
        return -math.inf
    before = forerunners([task.key], tasks)
    return max((ended[o.key] for o in holders if o.key in before and o.key in ended), default=-math.inf)


def _counts(one: JudgedReading, task: Task) -> bool:
    """Whether a reading was taken for this task's side and step."""
    if task.phase == "run" and one.side != "after":
        return False
    if task.phase == "baseline" and one.side == "after":
        return False
    step = one.reading.step
    if not task.step or step == task.step:
        return True
    shared = sum(any(r.measurement == one.measurement.key for r in s.reads) for s in ladder_steps())
    return not step and shared < 2


def override_refused(task: Task, override: Override, outside: Sequence[JudgedReading], since: float) -> str:
    """Why an override does not open a hold point; '' where it does."""
    fault = override_fault(task, override)
    if fault:
        return fault
    if task.hold is not None and task.hold.never:
        return f"No override opens '{task.key}': {task.hold.never}"
    written = _seconds(override.time)
    newer = [one.measurement.key for one in outside if _time(one) > written]
    if newer:
        return f"'{newer[0]}' went out of its range after the override was written."
    return "" if written > since else "The task was opened again after the override was written."


def _opened(
    task: Task, outside: Sequence[JudgedReading], since: float, kept: Sequence[Record]
) -> tuple[Override | None, str]:
    """The newest override of the task, or of the step that it is, if it counts; else why it does not."""
    names = {task.key, task.step} - {""}
    written = [r for r in kept if isinstance(r, Override) and r.gate in names]
    if not written:
        return None, ""
    newest = max(written, key=lambda r: _seconds(r.time))
    refused = override_refused(task, newest, outside, since)
    return (None, refused) if refused else (newest, "")
