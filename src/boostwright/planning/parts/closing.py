"""The parts list of a build: all that joints, sections and tasks ask for, and what is not known of it."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence
from typing import Final

from boostwright.build.document import Build
from boostwright.job.records import PartEvent
from boostwright.library.supplies import supplies
from boostwright.planning.parts.from_build import add_fluids, add_parts, add_ways
from boostwright.planning.parts.from_fasteners import add_fasteners
from boostwright.planning.parts.from_joints import add_joints
from boostwright.planning.parts.from_tasks import add_needs, tools_of
from boostwright.planning.parts.making import Gathered, made
from boostwright.planning.parts.records import Group, Line, PartsList, State
from boostwright.planning.parts.shelf import apply_events, apply_shelf, tools_there
from boostwright.planning.task import Task

__all__ = ["parts_for"]

_STUDS: Final = 2.0  # spare studs and bolts of a joint; one of everything else


def parts_for(build: Build, tasks: Sequence[Task] = (), events: Iterable[PartEvent] = ()) -> PartsList:
    """Everything that the job on this build takes.

    build: from `load_build`. tasks: of its plan; without them what follows from joints and sections alone.
    events: what was recorded of the lines, in order. returns: the list; a line of which something is not
    known stands in it as 'to be found out'. Never raises for a build without faults.
    """
    gathered, left = Gathered(), list[str]()
    planned = frozenset(task.key for task in tasks)
    add_joints(build, planned, gathered, left)
    add_fasteners(build, tasks, gathered, left)
    add_parts(build, planned, gathered)
    add_fluids(build, planned, gathered)
    add_ways(build, gathered)
    add_needs(build, tasks, gathered, left)
    _perhaps(tasks, gathered)
    _add_spares(gathered)
    tools = tools_there(build, tools_of(tasks))
    strange = apply_shelf(build, gathered, frozenset(tool.key for tool in tools))
    strange += apply_events(events, gathered)
    lines = tuple(_asked(line) for line in gathered.lines.values())
    return PartsList(lines, tools, tuple(strange), tuple(left))


def _asked(line: Line) -> Line:
    """A line of which something is to be found out stands as such, whatever is there of it."""
    return dataclasses.replace(line, state=State.FIND) if line.asks else line


def _perhaps(tasks: Iterable[Task], into: Gathered) -> None:
    """What only tasks need that may not arise, such as a broken stud, is laid in and does not count."""
    sure = {task.key for task in tasks if task.odds >= 1.0}
    for key, line in into.lines.items():
        if line.tasks and not line.joints and sure and not sure & set(line.tasks):
            into.lines[key] = dataclasses.replace(line, needed=False, note=line.note or "in case")


def _add_spares(into: Gathered) -> None:
    """One more of each thing that breaks or leaks; of rings a second set. Things that are alike share one."""
    found: dict[tuple[str, str], Line] = {}
    for line in list(into.lines.values()):
        supply = supplies().get(line.item)
        if supply is None or not supply.spare or line.quantity is None or line.asks:
            continue
        count = line.quantity if supply.key == "sealing-ring" else 1.0
        if supply.key in ("stud", "bolt", "bolt-hot", "nut", "nut-locking"):
            count = min(_STUDS, line.quantity)
        like = found.get((line.item, line.what))
        if like is None:
            found[line.item, line.what] = made(
                f"spare.{line.key}", Group.SPARE, supply, line.what, count,
                joints=line.joints, tasks=line.tasks, needed=False, unit=line.unit,
            )  # fmt: skip
        else:
            found[line.item, line.what] = like.also(line.joints, line.tasks)
    for line in found.values():
        into.add(line)
