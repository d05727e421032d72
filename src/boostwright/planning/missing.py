"""What may be missing when it is needed: lines of the parts list as delays of tasks."""

from __future__ import annotations

from collections.abc import Sequence

from boostwright.library.supplies import odds
from boostwright.planning.parts import PartsList, State
from boostwright.planning.schedule import Delay
from boostwright.planning.task import Effort, Task

__all__ = ["delays_of"]

DAY = 86400.0
_SAME_DAY = 0.05  # [days] what a shop round the corner takes at least


def delays_of(parts: PartsList, tasks: Sequence[Task], tried: bool = False) -> tuple[Delay, ...]:
    """For each task the chance that one of its lines turns out wrong or lost, and how long the wait is then.

    A line holds up the first task that needs it. Lines of one task are put together: the chance that at least
    one is missing, with the wait of the slowest of them. tried: as if every part had been put in its place
    by hand.
    """
    order = {task.key: k for k, task in enumerate(tasks)}
    chance = odds()
    by_task: dict[str, list[tuple[float, float]]] = {}
    for line in parts.lines:
        keys = [key for key in line.tasks if key in order]
        if not line.counts or not keys or line.state is State.NOT_NEEDED:
            continue
        first = min(keys, key=order.__getitem__)
        wrong = chance.tried if tried or line.tried else chance.untried
        by_task.setdefault(first, []).append((wrong, max(_SAME_DAY, line.lead.days)))
    found = []
    for key, lines in by_task.items():
        fine = 1.0
        for wrong, _ in lines:
            fine *= 1.0 - wrong
        days = max(days for _, days in lines)
        found.append(Delay(key, 1.0 - fine, Effort(0.3 * days * DAY, days * DAY, 2.0 * days * DAY)))
    return tuple(found)
