"""The plan as a text: verdict first, then evenings, then the list by day, with what may be left open."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Sequence

from boostwright.library.cautions import deference
from boostwright.planning.levers import Lever
from boostwright.planning.plan import Night, Plan
from boostwright.planning.problem import Slot, Window
from boostwright.planning.replan import ROUND, Choice
from boostwright.planning.schedule import Driver
from boostwright.planning.states import GO_ON, Nearest
from boostwright.planning.task import Task
from boostwright.planning.tasks import LeftOut
from boostwright.planning.tasks.cautions import Shown, cautions_along, licences
from boostwright.views.plan_verdict import FITS, verdict_lines
from boostwright.views.plan_words import (
    chance_words,
    clock,
    date_words,
    length_words,
    mark_of,
    moment_words,
)

__all__ = ["head_report", "left_out_report", "list_report", "plan_report", "rest_report", "state_lines"]


_CODES = 4  # findings named in the first lines


def plan_report(
    plan: Plan,
    levers: Sequence[Lever] = (),
    choices: Sequence[Choice] = (),
    stamp: str = "",
    width: int = 80,
) -> str:
    """The whole plan as one text ending in a line break."""
    return head_report(plan, width) + rest_report(plan, levers, choices, stamp, width)


def head_report(plan: Plan, width: int = 80, breaks: Sequence[str] = ()) -> str:
    """The name and the verdict, with which the whole report begins."""
    width = max(60, min(width, 100))
    lines = [f"Plan: {plan.name}", "─" * width, *verdict_lines(plan, width)]
    if breaks:
        more = f" and {len(breaks) - _CODES} more" if len(breaks) > _CODES else ""
        some = "1 finding of the check breaks"
        count = some if len(breaks) == 1 else f"{len(breaks)} findings of the check break"
        lines += _wrap(
            f"The parts first: {count}: {', '.join(breaks[:_CODES])}{more}. 'boostwright check' says why; no"
            " plan mends that, so settle it before money is spent and metal is cut.",
            width,
        )
    return "\n".join(lines) + "\n"


def rest_report(
    plan: Plan,
    levers: Sequence[Lever] = (),
    choices: Sequence[Choice] = (),
    stamp: str = "",
    width: int = 80,
) -> str:
    """All that comes after the verdict: what would help, the way back, the list."""
    width = max(60, min(width, 100))
    lines = _help(plan, levers, width)
    lines += _back(plan, width)
    lines += _now(plan, width)
    lines += _choices(choices, width)
    lines += _before(plan, width)
    lines += _second(plan, width)
    lines += _points(plan, width)
    lines += _list(plan, width)
    lines += _later(plan, width)
    lines += ["", "─" * width]
    for note in _notes(plan):
        lines += _wrap(note, width)
    lines += _wrap(deference(), width)
    if stamp:
        lines.append(stamp)
    return "\n".join(lines) + "\n"


def _wrap(text: str, width: int, indent: int = 0, hang: int | None = None) -> list[str]:
    rest = " " * (indent if hang is None else hang)
    return textwrap.wrap(text, width, initial_indent=" " * indent, subsequent_indent=rest)


def _help(plan: Plan, levers: Sequence[Lever], width: int) -> list[str]:
    if not levers:
        return []
    fits = plan.outlook.chance.probability >= FITS
    lines = ["", "What would change it" if fits else "It does not fit. What would make it fit"]
    lines.append(f"  {'odds':>9}  {'its end':<10}  {'missing':>7}  {'gains':>5}")
    for lever in levers:
        end = "" if lever.end is None else f"{lever.end:%a} {lever.end.day} {lever.end:%b}"
        head = f"  {chance_words(lever.chance):>9}  {end:<10}  {_hours(lever.short):>7}"
        head += f"  {_hours(lever.brings):>5}  "
        lines += textwrap.wrap(lever.words, width, initial_indent=head, subsequent_indent=" " * len(head))
    best = next((lever for lever in levers if lever.fits), None)
    if best is None and not fits:
        lines += _wrap(
            "None of these makes it fit: it is more than one weekend's work. Plan for several, or give tasks"
            " to a workshop.",
            width,
        )
    lines += _wrap(
        "Missing: working hours between its own end and the moment by which it is done in four of five cases;"
        " below nought: to spare. Gains: how many fewer that are than as it stands. Each uses the order of"
        " this plan or one by a quick rule, not searched anew.",
        width,
        2,
    )
    return lines


def _hours(seconds: float) -> str:
    """'12 h'; '-' where it is past all hours of the plan."""
    if not math.isfinite(seconds):
        return "-"
    hours = seconds / 3600.0
    return f"{hours:.1f} h" if 0.05 <= abs(hours) < 9.95 else f"{hours:.0f} h"


def _back(plan: Plan, width: int) -> list[str]:
    turning, calendar = plan.turning, plan.calendar
    if turning is None:
        return []
    share = f"{100.0 * turning.share:.0f}\u00a0%"
    lines = ["", "The way back"]
    if plan.worth is not None and plan.worth.at >= calendar.end:
        return lines + _wrap(
            "Nothing is taken apart before the end, so that there is nothing to put back.", width, 2
        )
    if turning.back is not None:
        lines += _wrap(
            f"Put back as it was by the end, with {share}: only if you turn back by"
            f" {moment_words(calendar, turning.back)}.",
            width, 2,
        )  # fmt: skip
    else:
        lines += _wrap(f"With {share} there is no moment left at which it can be put back in time.", width, 2)
    if turning.shut is not None:
        lines += _wrap(
            f"Shut up safely by the end, with {share}: begin by {moment_words(calendar, turning.shut)}.",
            width, 2,
        )  # fmt: skip
    return lines


def _now(plan: Plan, width: int) -> list[str]:
    """The state of the car in the middle of the work."""
    if plan.state_now is None:
        return []
    progress = plan.progress
    moment = moment_words(plan.calendar, plan.now)
    lines = ["", f"As it stands, {moment}"]
    left = [task for task in plan.tasks if task.key not in progress.ended]
    lines += _wrap(
        f"{len(plan.tasks) - len(left)} of {len(plan.tasks)} tasks done, {len(progress.running)} in hand,"
        f" {len(progress.paused)} laid down.",
        width, 2,
    )  # fmt: skip
    seen = plan.learned
    if seen.seen:
        lines += _wrap(
            f"You take {seen.pace.median:.2f} times as long as planned, as far as {seen.seen} booked"
            f" {'task tells' if seen.seen == 1 else 'tasks tell'} (they alone: {seen.plain:.2f}); the rest is"
            " planned with that.",
            width, 2,
        )  # fmt: skip
    for event in progress.problems:
        words = event.kind or "a problem"
        note = f", {event.note.strip().rstrip('.')}" if event.note.strip() else ""
        lines += _wrap(f"{event.task}: {words}{note}.", width, 2)
    lines += state_lines(plan.state_now, width, 2)
    if progress.last:
        lines += _wrap(
            f"Before you go on, look again at {_last_words(len(progress.last))}, and put the wrench once more"
            f" on the last joint: {', '.join(progress.last)}.",
            width, 2,
        )  # fmt: skip
    return lines


def _last_words(count: int) -> str:
    return "the last task that was done" if count == 1 else f"the last {('two', 'three')[count - 2]} tasks"


def state_lines(nearest: Nearest, width: int = 80, indent: int = 2) -> list[str]:
    """What stands open, and how to leave the car: a note to whoever comes next."""
    way = nearest.way
    lines = []
    if nearest.open:
        lines += _wrap("Open: " + "; ".join(thing.words for thing in nearest.open) + ".", width, indent)
        forbid = dict.fromkeys(word for thing in nearest.open for word in thing.forbid)
        if forbid:
            lines += _wrap("MIND: " + "; ".join(forbid) + ".", width, indent)
    how = f"To leave it: {way.by}, {length_words(way.seconds)}" if way.steps else "It can be left so"
    lines += _wrap(f"{how}; then it is '{way.state.words}' and {way.state.drives}.", width, indent)
    if way.wait > 0.0:
        lines += _wrap(f"Then {length_words(way.wait)} to wait: {way.wait_why}.", width, indent)
    if way.by != GO_ON:
        for step in way.steps:
            lines += _wrap(f"- {step}", width, indent + 2, indent + 4)
    return lines


def _choices(choices: Sequence[Choice], width: int) -> list[str]:
    """The ways on where something stands still."""
    lines: list[str] = []
    for task in dict.fromkeys(choice.task for choice in choices):
        lines += ["", f"{task} stands still. Three ways on"]
        for choice in choices:
            if choice.task != task:
                continue
            later = "no later" if choice.cost < 60.0 else f"{length_words(choice.cost)} later"
            when = (
                ""
                if choice.likely is None
                else f", likely {choice.likely:%a} {choice.likely.day} {choice.likely:%b}"
            )
            lines += _wrap(
                f"{choice.by}: {choice.words}; {chance_words(choice.chance)} in time{when} ({later}).",
                width,
                2,
                4,
            )
            if choice.by == ROUND:
                lines += _wrap(f"{choice.open} tasks can go on: {', '.join(choice.steps)}.", width, 4)
            else:
                lines += [line for step in choice.steps for line in _wrap(f"- {step}", width, 4, 6)]
    return lines


def list_report(plan: Plan, stamp: str = "", width: int = 80) -> str:
    """The list by day alone, for the wall."""
    width = max(60, min(width, 100))
    lines = [f"Plan: {plan.name}", "─" * width, *verdict_lines(plan, width), *_list(plan, width)]
    lines += ["", "─" * width, *_wrap(deference(), width), *([stamp] if stamp else [])]
    return "\n".join(lines) + "\n"


def _before(plan: Plan, width: int) -> list[str]:
    """The desk, and the evenings."""
    lines = []
    desk = [task for task in plan.scope.desk if task.key not in plan.progress.ended]
    if desk:
        work = sum(task.effort.mean * len(task.crew) for task in desk)
        first = min([slot.start for slot in plan.schedule.slots], default=plan.calendar.start)
        lines += ["", f"At the desk, before {moment_words(plan.calendar, first)}"]
        lines += _wrap(
            f"{len(desk)} tasks, about {length_words(work)} in all, are taken as done by then and not planned"
            " here: " + ", ".join(task.key.partition(".")[2].replace("_", " ") for task in desk) + ".",
            width, 2,
        )  # fmt: skip
    evenings = [w for w in plan.calendar.evenings if w.end > plan.now]
    if evenings:
        lines += ["", "The evenings before", *_evenings(plan, evenings, width)]
    return lines


def _evenings(plan: Plan, evenings: Sequence[Window], width: int) -> list[str]:
    """What is done on each; evenings in a row with nothing on them stand in one line."""
    lines: list[str] = []
    empty: list[str] = []

    def fold() -> None:
        if empty:
            days = empty[0] if len(empty) == 1 else f"{empty[0]} to {empty[-1]}"
            lines.extend(_wrap(f"{days}  nothing that leaves the car drivable is left", width, 2, 19))
            empty.clear()

    for window in evenings:
        slots = [
            s for s in plan.schedule.slots if any(window.start <= p.start < window.end for p in s.pieces)
        ]
        moment = plan.calendar.moment(window.start)
        day = f"{moment:%a} {moment.day} {moment:%b}"
        if slots:
            fold()
            names = ", ".join(slot.task for slot in slots)
            lines += _wrap(f"{day} {clock(moment)}  {names}", width, 2, 19)
        else:
            empty.append(day)
    fold()
    return lines


def _second(plan: Plan, width: int) -> list[str]:
    if not plan.visits:
        return []
    tasks = {key for visit in plan.visits for key in visit.tasks}
    lines = ["", "A second person"]
    lines += _wrap(
        f"{len(tasks)} tasks are not for one person alone; a second is needed for"
        f" {length_words(plan.second_hours)} in all, at these times:",
        width, 2,
    )  # fmt: skip
    for visit in plan.visits:
        start, end = plan.calendar.moment(visit.start), plan.calendar.moment(visit.end)
        names = ", ".join(visit.tasks)
        lines += _wrap(
            f"{start:%a} {start.day} {start:%b} {clock(start)}-{clock(end)}  {names}", width, 4, 27
        )
    return lines


def _points(plan: Plan, width: int) -> list[str]:
    if not plan.points:
        return []
    lines = ["", "No way back from here on; at hand before"]
    for task, point in plan.points:
        lines += _wrap(f"{task.key}: {point.words}", width, 2)
        lines += [line for item in point.at_hand for line in _wrap(f"[ ] {item}", width, 4, 8)]
    return lines


def _list(plan: Plan, width: int) -> list[str]:
    """Every task by day."""
    order = [plan.by_key[slot.task] for slot in plan.schedule.slots]
    shown = cautions_along(order)
    lines, day = list[str](), ""
    nights = list(plan.nights)
    for slot in plan.schedule.slots:
        while nights and nights[0].at <= slot.start:
            lines += _night(plan, nights.pop(0), width)
        name = date_words(plan.calendar.moment(slot.start))
        if name != day:
            lines += ["", name, "─" * len(name)]
            day = name
        lines += _entry(plan, slot, shown[slot.task], width)
    return lines


def _entry(plan: Plan, slot: Slot, shown: Shown, width: int) -> list[str]:
    task = plan.by_key[slot.task]
    start, end = plan.calendar.moment(slot.start), plan.calendar.moment(slot.end)
    late = "" if start.date() == end.date() else f" (on {end:%a})"
    times = f"{clock(start)}-{clock(end)}"
    if slot.end <= slot.start:
        times, late = f"{clock(start)} if   ", ""
    who = ", ".join(slot.who)
    mark = mark_of(task)
    head = f"{times}{late}  {who}  {task.key}" + (f"  [{mark}]" if mark else "")
    lines = [head, *_wrap(task.words, width, 4)]
    if task.odds < 1.0:
        lines += _wrap(
            f"Only if it comes to it (in {100.0 * task.odds:.0f} of 100 cases, {_three(task)}).", width, 4
        )
    for words in task.amounts:
        lines += _wrap(words, width, 4)
    if task.hold is not None:
        witness = " Seen by a second person." if task.hold.witness else ""
        lines += _wrap(f"HOLD: {task.hold.rule}{witness}", width, 4)
    if task.stop:
        lines += _wrap(f"STOP: {task.stop}", width, 4)
    if task.key in plan.guided:
        lines += _wrap(f"Crew: {plan.guided[task.key]}.", width, 4)
    lines += [line for text in shown.full for line in _wrap(f"! {text}", width, 4, 6)]
    if shown.short:
        lines += _wrap("! " + "; ".join(shown.short), width, 4, 6)
    return lines


def _three(task: Task) -> str:
    effort = task.effort
    return f"{length_words(effort.low)} to {length_words(effort.high)}"


def _night(plan: Plan, night: Night, width: int) -> list[str]:
    moment = plan.calendar.moment(night.at)
    lines = ["", f"Leaving it, {date_words(moment)} {clock(moment)}"]
    if night.begin < night.at:
        lines += _wrap(f"Begin to close up at {clock(plan.calendar.moment(night.begin))}.", width, 2)
    if night.in_hand:
        lines += _wrap("Half done and laid down: " + ", ".join(night.in_hand) + ".", width, 2)
    return lines + state_lines(night.nearest, width, 2)


def _later(plan: Plan, width: int) -> list[str]:
    if not plan.scope.later:
        return []
    work = sum(task.effort.mean for task in plan.scope.later)
    names = ", ".join(task.key.partition(".")[2].replace("_", " ") for task in plan.scope.later)
    goal = plan.wishes.goal
    lines = ["", f"After {goal}" if goal else "After it, when the kilometres are on"]
    return lines + _wrap(f"{names}: about {length_words(work)}.", width, 2)


def _notes(plan: Plan) -> Iterable[str]:
    yield from plan.calendar.notes
    order = plan.schedule
    if order.slots:
        how = (
            "the best there is"
            if order.proven
            else f"at most {100.0 * order.gap:.0f}\u00a0% longer than the best"
        )
        yield f"The order of the work is {how} (what holds it: {order.bound_by or 'the work itself'})."
    if plan.delays:
        yield (
            f"Counted in: at least one part is missing or wrong in {100.0 * plan.hampered:.0f} of 100 runs,"
            " until each was tried in its place."
        )
    outlook = plan.outlook
    yield (
        f"Chances are from {outlook.samples} runs of this order with other durations, seed"
        f" {plan.wishes.seed}."
    )
    if outlook.drivers:
        names = ", ".join(_driver(driver) for driver in outlook.drivers[:4])
        yield f"What moves the end most (rank correlation): {names}."
    yield from licences(plan.tasks)


def _driver(driver: Driver) -> str:
    """What moves the end, in words."""
    words = {
        "pace": "your own pace, shared by all tasks",
        "task": driver.name,
        "pause": f"the pause {driver.name}",
        "delay": f"a part missing at {driver.name}",
    }
    return f"{words[driver.what]} ({driver.correlation:.2f})"


def left_out_report(left: Sequence[LeftOut], width: int = 80) -> str:
    """What this build does not need, with the reason."""
    width = max(60, min(width, 100))
    lines = [f"Left out: {len(left)} tasks", "─" * width]
    for item in left:
        lines += [item.key, *_wrap(item.words, width, 4), *_wrap(f"because {item.because}", width, 4)]
    return "\n".join(lines) + "\n"
