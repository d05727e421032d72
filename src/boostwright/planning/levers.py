"""What would help: the chance to be done in time with other evenings, hours and hands."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from boostwright.build.document import Build
from boostwright.planning.calendar import Person, people_of
from boostwright.planning.plan import Plan, Wishes, plan_for
from boostwright.planning.schedule import Delay
from boostwright.planning.task import Task
from boostwright.uncertainty.odds import Odds

__all__ = ["Lever", "levers_for"]

ENOUGH = 0.8
"""From here on it fits."""

SAMPLES = 4000
LEAST = 7
"""So many are tried in any case, so that one sees what each alone does."""


class Lever(NamedTuple):
    """One change of evenings, hours or hands. likely: when it is done in one case of two."""

    words: str
    chance: Odds
    likely: datetime | None
    fits: bool


class _Try(NamedTuple):
    words: str
    wishes: Wishes
    tried: bool = False
    days: int = 0  # before the start that it needs


def levers_for(
    plan: Plan,
    build: Build,
    tasks: Sequence[Task],
    today: datetime,
    zone: ZoneInfo,
    *,
    delays: Sequence[Delay] = (),
    sure: Sequence[Delay] = (),
    say: Callable[[str], None] | None = None,
) -> tuple[Lever, ...]:
    """The plan as it is by the same quick rule, without its evenings, and with more of everything.

    It ends where it fits or nothing is left to try. Every one is an order by rule, not searched, so that
    they compare. delays, sure: what may be missing as it is, and with every part tried in its place before.
    """
    found: list[Lever] = []
    spare = int((plan.calendar.start - plan.now) / 86400.0)
    for trial in _trials(plan, build):
        weeks = max(0, -(-(trial.days - spare) // 7))
        words = (
            trial.words + ("", ", a week later", ", two weeks later", ", three weeks later")[min(weeks, 3)]
        )
        if say is not None:
            say(f"what if: {words}")
        tried = plan_for(
            build, tasks, today + timedelta(weeks=weeks), zone, wishes=trial.wishes, quick=True,
            delays=sure if trial.tried else delays,
        )  # fmt: skip
        likely = tried.outlook.times[0][1]
        moment = tried.calendar.moment(likely) if likely < 1e9 else None
        chance = tried.outlook.chance
        found.append(Lever(words, chance, moment, chance.probability >= ENOUGH))
        if found[-1].fits and len(found) >= LEAST:
            break
    return tuple(found)


def _trials(plan: Plan, build: Build) -> list[_Try]:
    base = dataclasses.replace(plan.wishes, seconds=0.0, samples=SAMPLES)
    have = len(plan.calendar.evenings)
    more = (*(plan.wishes.people or people_of(build)), Person("one more", "home"))
    tried = "every part tried in its place before"
    found = [_Try("as it stands", base)]

    def change(words: str, sure: bool = False, **changes: Any) -> None:
        days = changes.get("evenings", 0) + changes.get("earlier", 0)
        found.append(_Try(words, dataclasses.replace(base, **changes), sure, days))

    if have:
        change("without the evenings", evenings=0)
    change(tried, sure=True)
    if have < 6:
        change("6 evenings before, the car driven by day", evenings=6)
    if not build.flag("hours.car_may_stand"):
        change("6 evenings before, the car left standing", evenings=6, may_stand=True)
    change("one more person who has worked on cars, all the time", people=more)
    change("a whole day more before", earlier=1)
    all_of_it: dict[str, Any] = {"people": more, "evenings": max(6, have), "may_stand": True}
    change(f"{tried}, 6 evenings, the car left standing, one more person", sure=True, **all_of_it)
    for days in (1, 2, 3, 4):
        count = "a whole day" if days == 1 else f"{days} whole days"
        change(f"all that, and {count} more before", sure=True, earlier=days, **all_of_it)
    return found
