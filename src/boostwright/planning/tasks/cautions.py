"""Cautions along the plan: the whole sentence where a danger is met first, a few words after that."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final, NamedTuple

from boostwright.library.cautions import caution_rows
from boostwright.planning.task import Task

__all__ = ["REST", "TIRED_AFTER", "Shown", "cautions_along", "licences"]

TIRED_AFTER: Final = 10.0 * 3600.0
"""Work of one person in a day after which no critical task is begun [s]; common practice, no source."""

REST: Final = "tired"
"""The caution that stands at the first critical task: not after ten hours of work, not after midnight."""


class Shown(NamedTuple):
    """What stands beside one task: sentences met for the first time, reminders of those met before."""

    full: tuple[str, ...]
    short: tuple[str, ...]


def cautions_along(tasks: Iterable[Task]) -> Mapping[str, Shown]:
    """For each task in the order given (the plan's), its cautions; each sentence stands once in the plan.

    Raises KeyError for a caution that the library does not hold.
    """
    met: set[str] = set()
    found: dict[str, Shown] = {}
    for task in tasks:
        keys = (*task.cautions, REST) if task.critical and REST not in met else task.cautions
        rows = [caution_rows()[key] for key in dict.fromkeys(keys)]
        found[task.key] = Shown(
            tuple(row.text for row in rows if row.key not in met),
            tuple(row.short for row in rows if row.key in met),
        )
        met.update(row.key for row in rows)
    return found


def licences(tasks: Iterable[Task]) -> tuple[str, ...]:
    """What in these tasks is for licensed or official people only, each sentence once."""
    keys = dict.fromkeys(key for task in tasks for key in task.cautions)
    return tuple(row.licence for key in keys if (row := caution_rows()[key]).licence)
