"""The parts list of a build, what follows from it, and what a person says of its lines."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

if TYPE_CHECKING:
    from boostwright.build.document import Build
    from boostwright.findings.result import CheckResult
    from boostwright.job import PartEvent, Record
    from boostwright.planning.parts import PartsList
    from boostwright.planning.parts.sheet import RowFault
    from boostwright.verbs.readings import LoadedJob
    from boostwright.views.parts_table import Account

__all__ = [
    "not_gone_by",
    "note_parts",
    "parts",
    "parts_account",
    "parts_events",
    "parts_needed",
    "read_parts",
]


def parts(
    build: Build, records: Iterable[Record] = (), *, result: CheckResult | None = None, plan: bool = True
) -> PartsList:
    """Everything that the job takes, closed over its joints and tasks.

    build: from `load_build`. records: of its store, in order; the events of parts among them count. result:
    from `check`; it decides on tasks that hang on a finding. plan: False for what joints and sections ask for
    alone. returns: the list; lines of which something is not known stand in it as 'to be found out'.
    """
    from boostwright.planning.parts import parts_for
    from boostwright.planning.tasks import tasks_for

    return parts_for(build, tasks_for(build, result) if plan else (), parts_events(records))


def parts_events(records: Iterable[Record]) -> tuple[PartEvent, ...]:
    """The standing events of parts among the records, in their order."""
    from boostwright.job import PartEvent, standing

    return tuple(record for record in standing(records) if isinstance(record, PartEvent))


def parts_needed(
    job: LoadedJob, found: PartsList, today: datetime, zone: ZoneInfo, result: CheckResult | None = None
) -> dict[str, date]:
    """Line -> the day on which the first task that needs it begins, in the plan by rule, without a search.

    job: from `load_job`. today: this moment. zone: where the car stands, if the build does not say. result:
    of `check`. What is done already needs nothing. Raises BuildFileError for hours that cannot be read,
    NoPlan where a task cannot be planned at all.
    """
    from boostwright.planning.parts import needed_on
    from boostwright.planning.plan import Wishes, plan_for
    from boostwright.planning.tasks import tasks_for

    tasks = tasks_for(job.build, result)
    plan = plan_for(
        job.build, tasks, today, zone, records=job.records, wishes=Wishes(samples=8, seconds=0.0), quick=True
    )
    begins = {slot.task: plan.calendar.moment(slot.start).date() for slot in plan.schedule.slots}
    needed = needed_on(found, begins)
    if begins:  # what only the paper work asks for, such as gloves, is there before the first spanner turns
        desk = dict.fromkeys((task.key for task in plan.scope.desk), min(begins.values()))
        needed = {**needed_on(found, desk), **needed}
    return needed


def not_gone_by(day: date | None, today: date | None) -> None:
    """Nothing, where parts can still be needed on `day`. Raises OutOfRange for a day before `today`."""
    from boostwright.errors import OutOfRange

    if day is not None and today is not None and day < today:
        raise OutOfRange(
            f"The day on which the parts are needed, {day}, has gone by: today is {today}. Name today or a"
            " later day."
        )


def parts_account(
    build: Build,
    found: PartsList,
    *,
    day: date | None = None,
    today: date | None = None,
    needed: Mapping[str, date] | None = None,
    seed: int = 1,
    note: str = "",
) -> Account:
    """A list with the odds that something is missing on `day`, what it costs, what to order first.

    day: on which the parts are needed, and today: from which it is seen; without them nothing counts as late.
    needed: the day of each line, from `parts_needed`, instead of one day. seed: of the draws of the sum of
    money. note: a sentence to stand on the page. Raises OutOfRange for a day that has gone by.
    """
    from boostwright.planning.parts import missing_odds, money, order_first
    from boostwright.views.parts_table import Account

    not_gone_by(day, today)
    timed = today is not None and (day is not None or bool(needed))
    due = order_first(found, day, today, needed) if timed and today is not None else None
    odds = missing_odds(found, day, today, needed)
    return Account(found, odds, money(build, found, seed), due, note)


def read_parts(
    path: str | Path, found: PartsList, who: str = ""
) -> tuple[tuple[PartEvent, ...], tuple[RowFault, ...]]:
    """What was changed in a list as CSV, as events to be noted, and the rows that cannot be used.

    found: the list as it stands. Raises OSError.
    """
    from boostwright.job import now
    from boostwright.planning.parts.sheet import read_parts_sheet
    from boostwright.readers.decode import table_text

    read = read_parts_sheet(table_text(Path(path).read_bytes()), found, who, now())
    return read.events, read.faults


def note_parts(
    path: str | Path, events: Sequence[PartEvent], found: PartsList, where: str = ""
) -> tuple[tuple[PartEvent, ...], str]:
    """Keep what happened to lines of the list in the store of a build file.

    returns: the events as they are kept, and '' or why they wait beside the file until the store can be used.
    found: the list, whose keys the events must name. Raises UnknownField for a key that it does not have,
    with the nearest ones.
    """
    from boostwright.errors import UnknownField
    from boostwright.quantity import nearest
    from boostwright.store.places import who_am_i
    from boostwright.verbs.waiting import add_or_keep

    keys = {line.key for line in found.lines}
    for event in events:
        if event.part not in keys:
            if any(sign in event.part for sign in "*?["):
                groups = sorted({key.partition(".")[0] for key in keys})
                raise UnknownField(
                    f"No line of this build's list is like '{event.part}', and nothing was noted. Its lines"
                    f" begin with {', '.join(groups)}; 'boostwright parts' shows them."
                )
            near = nearest(event.part, keys, count=3, cutoff=0.5)
            hint = f" Near it: {', '.join(near)}." if near else ""
            raise UnknownField(
                f"The parts list has no line '{event.part}'.{hint} Nothing was noted;"
                " 'boostwright parts' shows them."
            )
    kept = tuple(event if event.who else dataclasses.replace(event, who=who_am_i()) for event in events)
    return kept, add_or_keep(path, kept, where)
