"""What would help: how much later or sooner than its end it is done with other evenings, hours and hands."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np

from boostwright.build.document import Build
from boostwright.errors import NoPlan
from boostwright.planning.calendar import SECOND, Calendar, Person, calendar_for, people_of
from boostwright.planning.plan import Plan
from boostwright.planning.problem import Problem, Schedule
from boostwright.planning.schedule import Delay, probability_by, sampled, time_for
from boostwright.planning.setting import Setting, Wishes, counted_from, setting_of
from boostwright.planning.stand_in import by_rule, lent, stood_in
from boostwright.planning.task import Task
from boostwright.planning.turning import WorkClock
from boostwright.uncertainty.odds import Odds

__all__ = ["SHARE", "Lever", "levers_for", "short_of"]

ENOUGH = 0.8
"""From here on it fits."""

SHARE = 0.8
"""In this share of the runs it is done with no more than the hours said."""

SAMPLES = 1600
LEAST = 7
"""So many are tried in any case, so that one sees what each alone does."""

MOST_EVENINGS = 6

_LATEST = 3  # weeks by which the work may be put off for a lever that needs days before it


class Lever(NamedTuple):
    """One change of evenings, hours or hands.

    chance: that it is done by `end`, its own end. likely: when it is done in one case of two. short: working
    hours that are missing at the end in four cases of five [s]; negative: to spare; inf where the plan does
    not look as far. brings: by how much that is less than as it stands [s].
    """

    words: str
    chance: Odds
    likely: datetime | None
    fits: bool
    end: datetime | None = None
    short: float = math.inf
    brings: float = 0.0


class _Try(NamedTuple):
    """One change. tried: with every part tried before. adds: nobody has less time in it than as it stands.
    early: it has more evenings. fresh: it needs an order of its own. chained: it adds to the one before it.
    """

    words: str
    wishes: Wishes
    tried: bool = False
    adds: bool = True
    early: bool = False
    fresh: bool = False
    chained: bool = False


class _Found(NamedTuple):
    """What is reached. likely: the end in one case of two, counted from the end that is wanted [s]."""

    chance: Odds
    likely: float
    short: float


def short_of(calendar: Calendar, finish: float) -> float:
    """Working hours between the end and a finish [s]; negative where it is done before the end."""
    if not math.isfinite(finish):
        return math.inf
    clock = WorkClock((*calendar.evenings, *calendar.days, *calendar.after))
    worked = clock.worked(np.array([calendar.end, finish]))
    return float(worked[1] - worked[0])


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
    """The plan as it is, without its evenings, and with more of everything.

    It ends where it fits or nothing is left to try. Each is tried with the order of the plan as it was found
    and, with more evenings, with what suits an evening put first; where other people come in, with an order
    by rule, which those after it take over. Every figure is the best that one of its orders reaches, and what
    only adds is never worse than what it adds to: nobody has to use it. The builder's pace is drawn alike in
    all of them. delays, sure: what may be missing as it is, and with every part tried in its place before.
    """
    moment = plan.wishes.at or today
    base = _tried(plan.problem, plan.calendar, plan, [plan.schedule], delays)
    found = [_lever("as it stands", base, plan.calendar, base)]
    all_of_it, last = plan.schedule, base
    for trial in _trials(plan, build):
        weeks = _weeks(build, moment, zone, trial.wishes)
        if weeks is None:  # the days that it needs are gone, and the date stands
            continue
        words = trial.words + ("", ", a week later", ", two weeks later", ", three weeks later")[weeks]
        if say is not None:
            say(f"what if: {words}")
        wishes = dataclasses.replace(trial.wishes, weeks=weeks)
        at = _peopled(setting_of(build, tasks, today, zone, wishes, delays=delays), plan)
        order = _by_rule(at, plan) if trial.fresh else all_of_it if trial.chained else plan.schedule
        orders = [order]
        if trial.early:
            orders.append(_early(order, at))
        if trial.fresh and not trial.chained:
            orders.append(plan.schedule)
        reached = _tried(at.problem, at.calendar, plan, orders, sure if trial.tried else delays)
        if trial.adds:
            floor = last if trial.chained else base
            reached = _best(reached, floor)
        if trial.chained:
            all_of_it, last = order, reached
        found.append(_lever(words, reached, at.calendar, base))
        if found[-1].fits and len(found) >= LEAST:
            break
    return tuple(found)


def _best(one: _Found, other: _Found) -> _Found:
    """The better of each figure."""
    chance = one.chance if one.chance.probability >= other.chance.probability else other.chance
    return _Found(chance, min(one.likely, other.likely), min(one.short, other.short))


def _lever(words: str, reached: _Found, calendar: Calendar, base: _Found) -> Lever:
    at = calendar.end + reached.likely
    likely = calendar.moment(at) if at < 1e9 else None
    brings = base.short - reached.short if math.isfinite(reached.short) else 0.0
    return Lever(
        words, reached.chance, likely, reached.chance.probability >= ENOUGH, calendar.moment(calendar.end),
        reached.short, brings,
    )  # fmt: skip


def _weeks(build: Build, moment: datetime, zone: ZoneInfo, wishes: Wishes) -> int | None:
    """By how many weeks the work must be put off for its first hour to lie ahead; None where none will do."""
    for weeks in range(_LATEST + 1):
        later = moment + timedelta(weeks=weeks)
        calendar = calendar_for(
            build, later, zone, people=wishes.people, evenings=wishes.evenings, end=wishes.end,
            earlier=wishes.earlier, begun=None if wishes.at is None else later,
        )  # fmt: skip
        first = min((w.start for w in (*calendar.evenings, *calendar.days)), default=calendar.start)
        if first >= calendar.seconds(moment):
            return weeks
    return None


def _peopled(at: Setting, plan: Plan) -> Setting:
    """With the stand-in that the plan has, where nobody came in for it."""
    has = any(w.name == SECOND for w in at.problem.workers)
    if has or not plan.lacking or at.calendar.people != plan.calendar.people:
        return at
    second = next((w for w in plan.problem.workers if w.name == SECOND), None)
    since = 0.0 if second is None or not second.windows else second.windows[0].start
    return stood_in(at, since + at.calendar.end - plan.calendar.end)


def _by_rule(at: Setting, plan: Plan) -> Schedule:
    """An order by rule; the plan's own where the rule finds none."""
    try:
        return by_rule(at.problem, plan.wishes.seed)
    except NoPlan:
        return plan.schedule


def _early(order: Schedule, at: Setting) -> Schedule:
    """The order with what suits an evening before all else; nothing of it waits for anything else."""
    key = {slot.task: (slot.task not in at.early, slot.start, slot.end) for slot in order.slots}
    ranked = sorted(order.slots, key=lambda slot: key[slot.task])
    return dataclasses.replace(
        order, slots=tuple(s._replace(start=float(k), end=float(k)) for k, s in enumerate(ranked))
    )


def _tried(
    problem: Problem, calendar: Calendar, plan: Plan, orders: Sequence[Schedule], delays: Sequence[Delay]
) -> _Found:
    """The best that some orders reach with these people and hours."""
    best: _Found | None = None
    names = {worker.name for worker in problem.workers}
    new = next((name for name in names if name not in {w.name for w in plan.problem.workers}), "")
    for order in orders:
        slots = tuple(
            slot._replace(who=tuple(new if name not in names and new else name for name in slot.who))
            for slot in order.slots
        )
        runs = sampled(
            lent(problem, new if new and plan.lacking else SECOND),
            dataclasses.replace(order, slots=slots),
            samples=SAMPLES,
            seed=plan.wishes.seed,
            delays=counted_from((d for d in delays if any(s.task == d.task for s in slots)), calendar),
        )
        likely, late = (float(t) for t in time_for(runs, (0.5, SHARE)))
        reached = _Found(probability_by(runs, calendar.end), likely - calendar.end, short_of(calendar, late))
        best = reached if best is None else _best(best, reached)
    assert best is not None
    return best


def _trials(plan: Plan, build: Build) -> list[_Try]:
    base = dataclasses.replace(plan.wishes, samples=SAMPLES)
    have = len(plan.calendar.evenings)
    more = (*(plan.wishes.people or people_of(build)), Person("one more", "home"))
    tried = "every part tried in its place before"
    found: list[_Try] = []

    def change(words: str, how: _Try, **changes: Any) -> None:
        found.append(how._replace(words=words, wishes=dataclasses.replace(base, **changes)))

    usual = _Try("", base)
    if have:
        change("without the evenings", usual._replace(adds=False), evenings=0)
    change(tried, usual._replace(tried=True))
    if have < MOST_EVENINGS:
        change(
            f"{MOST_EVENINGS} evenings before, the car driven by day",
            usual._replace(early=True),
            evenings=MOST_EVENINGS,
        )
    many = max(MOST_EVENINGS, have)
    if not build.flag("hours.car_may_stand"):
        change(
            f"{many} evenings before, the car left standing",
            usual._replace(early=True),
            evenings=many,
            may_stand=True,
        )
    change("one more person who has worked on cars, all the time", usual._replace(fresh=True), people=more)
    change("a whole day more before", usual, earlier=1)
    everything: dict[str, Any] = {"people": more, "evenings": many, "may_stand": True}
    chained = _Try("", base, tried=True, chained=True)
    change(
        f"{tried}, {many} evenings, the car left standing, one more person",
        chained._replace(fresh=True),
        **everything,
    )
    for days in (1, 2, 3, 4):
        count = "a whole day" if days == 1 else f"{days} whole days"
        change(f"all that, and {count} more before", chained, earlier=days, **everything)
    return found
