"""What may be missing when it is needed: lines of the parts list as delays of tasks."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from zoneinfo import ZoneInfo

import numpy as np

from boostwright.build.document import Build
from boostwright.job import Record
from boostwright.planning.calendar import calendar_for
from boostwright.planning.moments import at_clock
from boostwright.planning.parts import Line, PartsList, arrivals
from boostwright.planning.plan import Wishes
from boostwright.planning.progress import first_work
from boostwright.planning.schedule import Delay, Draws
from boostwright.planning.scope import scope_of
from boostwright.planning.task import Effort, Task

__all__ = ["delays_of", "first_day"]

_SAME_DAY = 0.05 * 86400.0  # what a shop round the corner takes at least [s]
_SAMPLES = 20_000
_UTC = ZoneInfo("UTC")
_POINTS = (0.05, 0.5, 0.95)  # of the waits, for 'all goes well', 'the likeliest', 'hardly anyone longer'


def delays_of(
    parts: PartsList,
    tasks: Sequence[Task],
    tried: bool = False,
    *,
    today: date | None = None,
    begin: date | None = None,
    zone: ZoneInfo = _UTC,
    unordered: bool = False,
    seed: int = 1,
) -> tuple[Delay, ...]:
    """For each task the chance that one of its lines is wrong or late, and how long the wait is then.

    Drawn by `parts.arrivals`, and the draws go along, so that lines of one order hang together, within a task
    and between tasks. A line holds up the first task that needs it, until it is there; what is wrong is found
    as the task would begin, and got anew. Odds and waits are those of a task that begins on the day `begin`.
    tried: as if every part had been put in its place by hand. today, begin: the days from which it is seen
    and on which the work begins; without them nothing is late. zone: of the place, whose days they are.
    unordered: what nobody has ordered counts as ordered today; else as there in time, and the parts list says
    by when to order it.
    """
    order = {task.key: k for k, task in enumerate(tasks)}
    held: dict[str, list[Line]] = {}
    for line in parts.counted:
        keys = [key for key in line.tasks if key in order]
        if keys:
            held.setdefault(min(keys, key=order.__getitem__), []).append(line)
    asked = [line for lines in held.values() for line in lines]
    if not asked:
        return ()
    drawn = arrivals(
        dataclasses.replace(parts, lines=tuple(asked)),
        _SAMPLES,
        seed,
        today=today,
        needed={} if begin is None else {line.key: begin for line in asked},
        tried=tried,
        unordered=unordered,
    )
    since = None if today is None else at_clock(today, 0, zone)
    waits, first, found = drawn.wait, 0, []
    for key, lines in held.items():
        mine = slice(first, first + len(lines))
        first += len(lines)
        again = drawn.again[:, mine].max(axis=1)
        there = (drawn.here + drawn.again)[:, mine].max(axis=1)  # of what is late and wrong: one on the other
        late = (drawn.here[:, mine] > 0.0).any(axis=1)
        if not (late | (again > 0.0)).any():
            continue
        wait = waits[:, mine].max(axis=1)
        some = wait[wait > 0.0]
        points = np.quantile(some, _POINTS) if some.size else np.zeros(len(_POINTS))
        low, likely, high = (float(t) for t in np.maximum(points, _SAME_DAY))
        draws = Draws(
            np.where(late, there, -np.inf), np.where(again > 0.0, np.maximum(again, _SAME_DAY), 0.0), since
        )
        found.append(Delay(key, some.size / _SAMPLES, Effort(low, likely, high), draws))
    return tuple(found)


def first_day(
    build: Build,
    tasks: Sequence[Task],
    today: datetime,
    zone: ZoneInfo,
    records: Iterable[Record] = (),
    wishes: Wishes | None = None,
) -> date:
    """The day on which the work at the car begins, or began; the arguments are those of `plan_for`.

    Raises BuildFileError for hours that cannot be read.
    """
    wished = wishes or Wishes()
    begun = first_work(tuple(records), (task.key for task in scope_of(tasks, wished.goal).desk)) or wished.at
    calendar = calendar_for(
        build, today, zone, begun=begun, people=wished.people, evenings=wished.evenings, end=wished.end,
        earlier=wished.earlier,
    )  # fmt: skip
    return calendar.moment(calendar.start).date()
