"""Which of the tasks the hours are for, who does what, and what may be done on an evening before.

Before the hours comes the desk, after them the kilometres; while the car must still drive, only what leaves
it drivable can be done.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from boostwright.errors import OutOfRange
from boostwright.library.working_hours import working_hours
from boostwright.planning.calendar import SECOND, Calendar
from boostwright.planning.problem import Worker
from boostwright.planning.task import Task
from boostwright.quantity import nearest

__all__ = ["Manned", "Scope", "evening_ready", "forerunners", "manned", "scope_of"]

AT_THE_CAR = frozenset({"bay", "lift", "yard", "road"})


@dataclass(frozen=True, slots=True)
class Scope:
    """The plan's tasks parted.

    desk: to be done before the first hour at the car. job: what the hours are for, up to the goal. later:
    what waits for kilometres. milestones: key and words of each that the job has.
    """

    desk: tuple[Task, ...]
    job: tuple[Task, ...]
    later: tuple[Task, ...]
    milestones: tuple[tuple[str, str], ...]


def forerunners(keys: Iterable[str], tasks: Sequence[Task]) -> frozenset[str]:
    """The keys and everything that must be done before them."""
    by_key = {task.key: task for task in tasks}
    found: set[str] = set()
    todo = list(keys)
    while todo:
        key = todo.pop()
        if key not in found and key in by_key:
            found.add(key)
            todo += [*by_key[key].after, *(lag.task for lag in by_key[key].lags)]
    return frozenset(found)


def scope_of(tasks: Sequence[Task], goal: str = "") -> Scope:
    """Part the tasks of a build.

    goal: the task at which the work counts as done; '' for the table's. What it does not wait for comes
    later: of the last phases only, or of all where the goal lies before these. Raises OutOfRange where the
    build has no such task and for one of the desk, which no hours are planned for.
    """
    table = working_hours()
    keys = {task.key for task in tasks}
    if goal and goal not in keys:
        near = nearest(goal, keys, 2)
        hint = f" Near it: {', '.join(near)}." if near else ""
        raise OutOfRange(f"this build has no task '{goal}'.{hint}")
    wanted = goal or next((key for key in table.goals if key in keys), "")
    needed = forerunners([wanted], tasks) if wanted else frozenset(keys)
    desk = [task for task in tasks if task.phase in table.desk]
    rest = [task for task in tasks if task.phase not in table.desk]
    if goal and all(task.key != goal for task in rest):
        raise OutOfRange(
            f"'{goal}' is done at the desk, before the hours that a plan is for. Name a task at the car or"
            " the bench."
        )
    early = any(task.key == goal and task.phase not in table.ends for task in rest)
    ends = {t.key for t in rest if (early or t.phase in table.ends) and t.key not in needed}
    behind = {task.key for task in rest if forerunners([task.key], tasks) & (ends - needed)} | ends
    job = [task for task in rest if task.key not in behind]
    in_job = {task.key for task in job}
    marks = tuple((key, words) for key, words in table.milestones.items() if key in in_job)
    return Scope(tuple(desk), tuple(job), tuple(t for t in rest if t.key in behind), marks)


def evening_ready(tasks: Sequence[Task], may_stand: bool = False) -> frozenset[str]:
    """Tasks that can be done on an evening before, with the car still driven by day.

    Those at the car only in the phases that leave it drivable; those at desk, bench or shop once nothing
    before them takes the car apart. may_stand: the car need not drive; everything can.
    """
    if may_stand:
        return frozenset(task.key for task in tasks)
    phases = working_hours().evening_phases
    bound = {t.key for t in tasks if t.place in AT_THE_CAR and t.phase not in phases}
    return frozenset(t.key for t in tasks if not forerunners([t.key], tasks) & bound)


@dataclass(frozen=True, slots=True)
class Manned:
    """Tasks whose crews the people of the build can make up.

    workers: with a second person where one is needed. guided: keys of tasks in which someone acts under the
    eye of one who knows, with the words of it.
    """

    tasks: tuple[Task, ...]
    workers: tuple[Worker, ...]
    guided: Mapping[str, str]


def manned(tasks: Sequence[Task], calendar: Calendar) -> Manned:
    """Fit every crew to the people there are; nothing falls away.

    Where two who know are asked for and one is there, the other acts under that one's eye. Where more people
    are needed than there are, a second person is planned for. One who works alone does alone what one can.
    """
    workers = [w for w in calendar.workers if w.windows or w.name == SECOND]
    own = [w for w in workers if w.name != SECOND]
    hands = [w for w in own if w.can != {"welder"}]
    alone = calendar.alone or len(hands) == 1
    most = max((len(task.crew) for task in tasks if "welder" not in task.crew), default=1)
    if most > len(hands) and not any(w.name == SECOND for w in workers):
        windows = max((w.windows for w in hands), key=len, default=())
        workers.append(Worker(SECOND, frozenset({"helper", "observer"}), windows))
    made, guided = [], dict[str, str]()
    for task in tasks:
        crew, words = _crew(task, own, workers, alone)
        if words:
            guided[task.key] = words
        made.append(task if crew == task.crew else dataclasses.replace(task, crew=crew))
    return Manned(tuple(made), tuple(workers), guided)


def _crew(
    task: Task, own: Sequence[Worker], everyone: Sequence[Worker], alone: bool
) -> tuple[tuple[str, ...], str]:
    """The crew as the people can make it up, and what that means in words."""
    people = own if len(task.crew) <= len(own) and not (alone and len(task.crew) > 1) else everyone
    crew = task.crew
    if alone and len(crew) == 1 and crew[0] in {"helper", "observer"}:
        return ("lead",), ""
    if _match(crew, people):
        return crew, ""
    for keep in range(len(crew)):  # one who knows keeps the part, the others help
        tried = tuple(name if i == keep or name == "welder" else "helper" for i, name in enumerate(crew))
        if len(crew) > 1 and crew[keep] not in {"helper", "observer"} and _match(tried, people):
            lost = [name for name, new in zip(crew, tried, strict=True) if name != new]
            return tried, f"{' and '.join(lost)}: under the eye of one who knows"
    return crew, ""


def _match(crew: Sequence[str], people: Sequence[Worker]) -> bool:
    """Whether each place of a crew can be filled with another person (augmenting paths)."""
    taken: dict[int, int] = {}

    def fill(place: int, seen: set[int]) -> bool:
        for k, person in enumerate(people):
            if crew[place] in person.can and k not in seen:
                seen.add(k)
                if k not in taken or fill(taken[k], seen):
                    taken[k] = place
                    return True
        return False

    return all(fill(place, set()) for place in range(len(crew)))
