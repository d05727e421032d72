"""What would help: the chance to be done in time with other evenings, hours and hands."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import NamedTuple
from zoneinfo import ZoneInfo

from boostwright.build.document import Build
from boostwright.planning.calendar import Person, people_of
from boostwright.planning.outlook import Chance
from boostwright.planning.plan import Plan, Wishes, plan_for
from boostwright.planning.schedule import Delay
from boostwright.planning.task import Task

__all__ = ["Lever", "levers_for"]

ENOUGH = 0.8
"""From here on it fits."""

SAMPLES = 4000


class Lever(NamedTuple):
    """One change of evenings, hours or hands. likely: when it is done in one case of two."""

    words: str
    chance: Chance
    likely: datetime | None
    fits: bool


class _Try(NamedTuple):
    words: str
    wishes: Wishes


def levers_for(
    plan: Plan,
    build: Build,
    tasks: Sequence[Task],
    today: datetime,
    zone: ZoneInfo,
    *,
    delays: Sequence[Delay] = (),
    say: Callable[[str], None] | None = None,
) -> tuple[Lever, ...]:
    """The plan as it is by the same quick rule, without its evenings, and with more of everything, until it
    fits or nothing is left to try. Every one is an order by rule, not searched, so that they compare.
    """
    found: list[Lever] = []
    for trial in _trials(plan, build):
        if say is not None:
            say(f"what if: {trial.words}")
        tried = plan_for(build, tasks, today, zone, wishes=trial.wishes, delays=delays)
        likely = tried.outlook.times[0][1]
        moment = tried.calendar.moment(likely) if likely < 1e9 else None
        chance = tried.outlook.chance
        found.append(Lever(trial.words, chance, moment, chance.value >= ENOUGH))
        if found[-1].fits and len(found) > 2:
            break
    return tuple(found)


def _trials(plan: Plan, build: Build) -> list[_Try]:
    base = dataclasses.replace(plan.wishes, seconds=0.0, samples=SAMPLES)
    have = len(plan.calendar.evenings)
    more = (*people_of(build), Person("one more", "home"))
    third = "with one more person who has worked on cars, all the time"
    found = [_Try("as it stands", base)]
    if have:
        found.append(_Try("without the evenings", dataclasses.replace(base, evenings=0)))

    def change(words: str, **changes: object) -> None:
        found.append(_Try(words, dataclasses.replace(base, **changes)))  # type: ignore[arg-type]

    for count in (2, 4, 6):
        if count > have:
            change(f"with {count} evenings before, the car driven by day", evenings=count)
    if have and not build.flag("hours.car_may_stand"):
        change(f"with the {have} evenings, the car left standing", may_stand=True)
    change(third, people=more)
    change("starting one day earlier", earlier=1)
    for count in (4, 6):
        if count >= have:
            change(f"with {count} evenings before, the car left standing", evenings=count, may_stand=True)
    change(
        "with one more person, 6 evenings before and the car left standing",
        people=more, evenings=6, may_stand=True,
    )  # fmt: skip
    for days in (1, 2, 3, 4, 5):
        change(
            f"with one more person, 6 evenings, the car left standing, and {days} whole"
            f" {'day' if days == 1 else 'days'} more",
            people=more, evenings=6, may_stand=True, earlier=days,
        )  # fmt: skip
    return found
