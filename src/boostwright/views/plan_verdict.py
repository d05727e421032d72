"""The first lines of a plan: will it be done, what is missing, what that rests on, what to do about it."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Sequence

from boostwright.planning.levers import SHARE, short_of
from boostwright.planning.plan import Plan
from boostwright.views.plan_words import by_words, chance_words, length_words, moment_words

__all__ = ["FITS", "counted_on", "first_line", "short_words", "verdict_lines"]

FITS, SHAKY = 0.8, 0.5
NAMED = 6  # tasks that are named; the others are counted


def _wrap(text: str, width: int, indent: int = 0) -> list[str]:
    return textwrap.wrap(text, width, initial_indent=" " * indent, subsequent_indent=" " * indent)


def verdict_lines(plan: Plan, width: int = 80) -> list[str]:
    """The verdict: chance, what to do at nil odds, what is held, what it rests on, milestones."""
    outlook, calendar = plan.outlook, plan.calendar
    lines = _wrap(first_line(plan), width)
    for text in (*_lacking(plan), *_not_begun(plan), *_missed(plan), *_worth(plan), *_held(plan)):
        lines += _wrap(text, width)
    for doubt in plan.doubts:
        lines += _wrap(f"NOT UNDERSTOOD: {doubt}", width)
    for one in plan.overrides:
        seen = f", seen by {one.witness}" if one.witness else ""
        lines += _wrap(f"Opened against its data: {one.gate}, by {one.who}{seen}: {one.reason}.", width)
    times = dict(outlook.times)
    if plan.held:
        lines += _wrap("No end is named for the whole: with tasks held, nothing says when it is done.", width)
        return lines + _counted(plan, width)
    lines += _wrap(
        f"In one case of two {by_words(calendar, times[0.5])}, in four of five"
        f" {by_words(calendar, times[0.8])}, in 19 of 20 {by_words(calendar, times[0.95])}."
        f" {short_words(short_of(calendar, times[SHARE]))}",
        width,
    )
    for mark in outlook.milestones:
        lines.append(
            f"  {mark.words:<34} {chance_words(mark.chance):>9}  likely {moment_words(calendar, mark.likely)}"
        )
    return lines + _counted(plan, width)


def _counted(plan: Plan, width: int) -> list[str]:
    rests = "; ".join(counted_on(plan))
    return _wrap(f"Counted on: {rests}.", width) if rests else []


def first_line(plan: Plan) -> str:
    """The verdict in a sentence."""
    end = moment_words(plan.calendar, plan.calendar.end, long=True)
    if plan.now >= plan.calendar.end:
        return f"Done by {end}: no, that is past."
    if plan.lacking:
        hours = length_words(plan.second_hours)
        return f"Done by {end}: no, {hours} of two-person work have no second person: {_some(plan.lacking)}."
    odds = plan.outlook.chance.probability
    yes = "likely, " if odds >= FITS else "even odds at best, " if odds >= SHAKY else "no, "
    helped = ", with a second person whenever one is needed" if plan.visits else ""
    return f"Done by {end}: {yes}{chance_words(plan.outlook.chance)}{helped}."


def _some(keys: Sequence[str]) -> str:
    named = list(dict.fromkeys(keys))
    more = len(named) - NAMED
    return ", ".join(named[:NAMED]) + (f" and {more} more" if more > 0 else "")


def _lacking(plan: Plan) -> Iterable[str]:
    if plan.lacking and plan.would_be is not None:
        yield (
            f"With a second person whenever one is needed ({length_words(plan.second_hours)}, listed below)"
            f" it would be {chance_words(plan.would_be)}; the times below count on one."
        )


def _worth(plan: Plan) -> Iterable[str]:
    worth = plan.worth
    if worth is None:
        return
    calendar = plan.calendar
    until = "Find a second person first, and do" if plan.lacking else "Do"
    point = f"; there is no way back from {worth.point} on" if worth.point else ""
    yield (
        f"{until} not begin taking the car apart (first: {worth.first},"
        f" {moment_words(calendar, worth.at)}){point}."
    )
    if worth.last:
        tasks = "task leaves" if worth.tasks == 1 else "tasks leave"
        yield (
            f"The last task worth doing is {worth.last}, {moment_words(calendar, worth.until)}: {worth.tasks}"
            f" {tasks} the car whole, {length_words(worth.seconds)} of work; so do deciding and ordering."
        )
    else:
        yield "Nothing that leaves the car whole is left to do but deciding and ordering."


def _missed(plan: Plan) -> Iterable[str]:
    late = plan.now - plan.calendar.end
    if late >= 0.0:
        end = moment_words(plan.calendar, plan.calendar.end)
        yield (
            f"{end} was {_days(late)} before {moment_words(plan.calendar, plan.now)}; what follows is what is"
            " left from then on. Name a new end with --deadline."
        )


def _not_begun(plan: Plan) -> Iterable[str]:
    """A moment before the plan's first hour costs nothing."""
    at, calendar = plan.wishes.at, plan.calendar
    if at is None or plan.progress.begun or not calendar.days:
        return
    first = min(w.start for w in (*calendar.evenings, *calendar.days))
    if calendar.seconds(at) <= first:
        yield (
            f"{moment_words(calendar, calendar.seconds(at))} is before the first hour of the work,"
            f" {moment_words(calendar, first)}: this is the whole plan, from its start."
        )


def _days(seconds: float) -> str:
    days = seconds / 86400.0
    return length_words(seconds) if days < 2.0 else f"{days:.0f} days"


def _held(plan: Plan) -> Iterable[str]:
    if plan.held:
        first = next(
            (key for key, why in plan.held.items() if not why.startswith("waits for")), next(iter(plan.held))
        )
        count = len(plan.held)
        yield (
            f"HELD: {first}: {_stop(plan.held[first])} {count} task{' is' if count == 1 else 's are'} left"
            f" out until it is settled; times below are for the rest.{_how(plan, first)}"
        )
    if len(plan.kept_open) > NAMED:
        yield (
            f"STAY HELD: {len(plan.kept_open)} tasks were said to be done, but their hold points are shut:"
            f" {_some(tuple(plan.kept_open))}. 'boostwright record FILE --table' writes the sheet of what is"
            " asked, --sheet reads it back."
        )
        return
    for key, why in plan.kept_open.items():
        yield f"STAYS HELD: {key} was said to be done; {_stop(why)}{_how(plan, key)}"


def _stop(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _how(plan: Plan, key: str) -> str:
    """How to give the readings that a task is held for."""
    task = plan.by_key.get(key)
    if task is None or task.hold is None or not task.hold.readings:
        return ""
    why = plan.kept_open.get(key) or plan.held.get(key, "")
    if key not in plan.kept_open and not any(name in why for name in task.hold.readings):
        return ""  # held for something else, which a reading does not settle
    asked = [name for name in task.hold.readings if name in why] or list(task.hold.readings)
    step = f" --step {task.step}" if task.step else ""
    more = "" if len(asked) == 1 else f", likewise {', '.join(asked[1:])}"
    return f" Give it with 'boostwright record FILE {asked[0]} VALUE UNIT{step}'{more}."


def short_words(short: float) -> str:
    """What is missing at the end, or to spare, in four cases of five."""
    if not math.isfinite(short):
        return "More working hours are missing at the end than the plan looks on."
    if short > 0.0:
        return f"In four of five cases up to {length_words(short)} of working time are missing at the end."
    return f"In four of five cases {length_words(-short)} or more are to spare."


def counted_on(plan: Plan) -> Iterable[str]:
    """The assumptions that carry the verdict."""
    calendar = plan.calendar
    desk = [task for task in plan.scope.desk if task.key not in plan.progress.ended]
    if desk:
        work = sum(task.effort.mean * len(task.crew) for task in desk)
        first = min([slot.start for slot in plan.schedule.slots], default=calendar.start)
        yield f"{length_words(work)} at the desk, done before {moment_words(calendar, max(first, plan.now))}"
    if dict(plan.outlook.times)[SHARE] > calendar.end and calendar.after:
        whole = sorted({calendar.moment(w.start).weekday() for w in calendar.days})
        names = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
        days = " and ".join(names[k] for k in whole) if len(whole) < 7 else "day"
        yield f"after the end every whole {days} worked again, and the evenings between"
    for key, at in sorted(plan.due.items(), key=lambda item: item[1])[:NAMED]:
        yield f"the part for {key} there by {moment_words(calendar, at)}, likely but not sure"
    if plan.visits:
        yield f"a second person for {length_words(plan.second_hours)}, each time one is needed"
    coming = [p.name for p in calendar.people if p.goes]
    if coming and dict(plan.outlook.times)[SHARE] > calendar.end:
        yield f"{', '.join(coming)} coming again at the same hours of each later week"
