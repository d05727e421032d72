"""Which tasks count as done behind a gate, and why others do not."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Final

from boostwright.job.records import Record, Step, TaskEvent

__all__ = ["CAUSE", "Tasks"]

CAUSE: Final = "cause found"
"""The kind of a task's problem that says why a step failed."""

_OF_THE_PLAN: Final = frozenset({CAUSE, "time lost", "person left"})  # kinds that take nothing back


class Tasks:
    """What is done, what was opened again, and what a problem was written of since."""

    def __init__(
        self,
        kept: Sequence[Record],
        held: Mapping[str, str],
        never: Mapping[str, str],
        moment: Callable[[str], float],
    ) -> None:
        """kept: standing records. held: tasks whose hold points are shut, with the reason. never: tasks whose
        hold points nobody opens by name, with the reason. moment: of a record's time [s].
        """
        self.held, self.never = held, never
        self.reopened: dict[str, float] = {}
        self.problems: dict[str, str] = {}
        self._done: set[str] = set()
        self._left_out: set[str] = set()
        for event in sorted((r for r in kept if isinstance(r, TaskEvent)), key=lambda r: moment(r.time)):
            self._note(event, moment(event.time))

    def _note(self, event: TaskEvent, at: float) -> None:
        task, what = event.task, event.what
        if what == Step.PROBLEM.value:
            if event.kind not in _OF_THE_PLAN:
                self.problems[task] = event.note
            return
        if what == Step.PAUSED.value:
            return
        for kept in (self._done, self._left_out):
            kept.discard(task)
        self.problems.pop(task, None)
        if what == Step.DONE.value:
            self._done.add(task)
        elif what == Step.NOT_NEEDED.value:
            self._left_out.add(task)
        elif what == Step.REOPENED.value:
            self.reopened[task] = at

    def counts(self, task: str) -> bool:
        """Whether a gate need not wait for a task any more."""
        if task in self.held or task in self.problems:
            return False
        return task in self._done or (task in self._left_out and task not in self.never)

    def waiting(self, task: str) -> str:
        """Why a gate waits for a task."""
        if task in self.held:
            return f"stays held: {task}: {self.held[task]}"
        if task in self.problems:
            return f"a problem stands: {task}: {self.problems[task]}"
        if task in self._left_out:
            return f"nobody leaves it out: {task}: {self.never[task]}"
        return f"not done yet: {task}"
