"""The plan as JSON, as CSV and as an iCalendar file."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any, Final

from boostwright.job.records import to_plain
from boostwright.library.cautions import deference
from boostwright.planning.levers import SHARE, Lever, short_of
from boostwright.planning.plan import Plan
from boostwright.planning.replan import Choice
from boostwright.planning.states import Nearest
from boostwright.planning.tasks import LeftOut
from boostwright.planning.tasks.cautions import cautions_along
from boostwright.uncertainty.odds import Odds
from boostwright.views.plan_verdict import counted_on

__all__ = ["PLAN_FORMAT", "plan_csv", "plan_document", "plan_ics"]

PLAN_FORMAT: Final = 1
"""The number of the document's form; it grows when a field changes its meaning or goes away."""

_COLUMNS: Final = (
    "start", "end", "hands_on_min", "task", "who", "place", "words", "hold_point", "readings", "witness",
    "stop", "cautions", "odds", "done_by", "witnessed_by", "time",
)  # fmt: skip


def _time(plan: Plan, seconds: float | None) -> str | None:
    if seconds is None or not math.isfinite(seconds):
        return None
    return plan.calendar.moment(seconds).isoformat(timespec="minutes")


def plan_document(
    plan: Plan,
    version: str,
    data: str,
    fingerprint: str,
    levers: Sequence[Lever] = (),
    choices: Sequence[Choice] = (),
    left_out: Sequence[LeftOut] = (),
) -> str:
    """The plan as JSON: times with their zone to the minute, lengths [s], chances [-]; null for never."""
    outlook, turning = plan.outlook, plan.turning
    shown = cautions_along([plan.by_key[slot.task] for slot in plan.schedule.slots])
    document = {
        "format": PLAN_FORMAT,
        "version": version,
        "data": data,
        "fingerprint": fingerprint,
        "build": plan.name,
        "start": _time(plan, plan.calendar.start),
        "end": _time(plan, plan.calendar.end),
        "now": _time(plan, plan.now) if plan.progress.begun or plan.wishes.at else None,
        "zone": str(plan.calendar.zone),
        "chance": _odds(outlook.chance),
        "missing_seconds": _known(short_of(plan.calendar, dict(outlook.times)[SHARE])),
        "counted_on": tuple(counted_on(plan)),
        "worth_doing": None
        if plan.worth is None
        else {
            "last": plan.worth.last or None,
            "until": _time(plan, plan.worth.until),
            "tasks": plan.worth.tasks,
            "seconds": plan.worth.seconds,
            "apart_from": plan.worth.first,
            "no_return": plan.worth.point or None,
        },
        "done_by": {f"{share:g}": _time(plan, at) for share, at in outlook.times},
        "likeliest_day": {"date": outlook.day or None, "share": outlook.day_share},
        "milestones": [
            {
                "task": m.task,
                "words": m.words,
                "chance": _odds(m.chance),
                "likely": _time(plan, m.likely),
                "late": _time(plan, m.late),
            }
            for m in outlook.milestones
        ],
        "drivers": [d._asdict() for d in outlook.drivers],
        "way_back": None
        if turning is None
        else {
            "share": turning.share,
            "turn_back_by": _time(plan, turning.back),
            "shut_up_by": _time(plan, turning.shut),
        },
        "order": {
            "finish": _time(plan, plan.schedule.finish),
            "bound": _time(plan, plan.schedule.bound),
            "gap": plan.schedule.gap,
            "proven": plan.schedule.proven,
            "bound_by": plan.schedule.bound_by,
        },
        "slots": [_slot(plan, k, shown) for k in range(len(plan.schedule.slots))],
        "nights": [
            {
                "at": _time(plan, n.at),
                "begin": _time(plan, n.begin),
                "in_hand": n.in_hand,
                **_state(n.nearest),
            }
            for n in plan.nights
        ],
        "state_now": None if plan.state_now is None else _state(plan.state_now),
        "second_person": {
            "seconds": plan.second_hours,
            "lacking": plan.lacking,
            "chance_with_one": None if plan.would_be is None else _odds(plan.would_be),
            "visits": [
                {"from": _time(plan, v.start), "until": _time(plan, v.end), "tasks": v.tasks}
                for v in plan.visits
            ],
        },
        "no_return": [
            {"task": t.key, "words": p.words, "at_hand": p.at_hand} for t, p in plan.points
        ],
        "desk": [task.key for task in plan.scope.desk if task.key not in plan.progress.ended],
        "later": [task.key for task in plan.scope.later],
        "parts": {
            "hampered_share": plan.hampered,
            "waited_for": {key: _time(plan, at) for key, at in plan.due.items()},
        },
        "not_understood": plan.doubts,
        "held": dict(plan.held),
        "kept_open": dict(plan.kept_open),
        "overrides": [to_plain(one) for one in plan.overrides],
        "pace": {
            "median": plan.learned.pace.median,
            "spread": plan.learned.pace.spread,
            "booked_tasks": plan.learned.seen,
        },
        "what_if": [
            {
                "words": lever.words,
                "chance": _odds(lever.chance),
                "likely": None if lever.likely is None else lever.likely.isoformat(timespec="minutes"),
                "fits": lever.fits,
                "end": None if lever.end is None else lever.end.isoformat(timespec="minutes"),
                "missing_seconds": lever.short if math.isfinite(lever.short) else None,
                "gains_seconds": lever.brings,
            }
            for lever in levers
        ],
        "choices": [_choice(choice) for choice in choices],
        "left_out": [{"task": item.key, "because": item.because} for item in left_out],
        "assumed": plan.calendar.notes,
        "samples": outlook.samples,
        "seed": plan.wishes.seed,
        "defer": deference(),
    }  # fmt: skip
    return json.dumps(document, indent=2, ensure_ascii=False) + "\n"


def _known(seconds: float) -> float | None:
    return seconds if math.isfinite(seconds) else None


def _odds(odds: Odds) -> dict[str, float | None]:
    """A probability with one standard deviation of its sampling."""
    error = odds.sampling_error
    return {"value": odds.probability, "sampling_sd": error if math.isfinite(error) else None}


def _slot(plan: Plan, k: int, shown: Any) -> dict[str, Any]:
    slot = plan.schedule.slots[k]
    task = plan.by_key[slot.task]
    hold = task.hold
    return {
        "task": task.key,
        "words": task.words,
        "start": _time(plan, slot.start),
        "end": _time(plan, slot.end),
        "pieces": [[_time(plan, p.start), _time(plan, p.end)] for p in slot.pieces],
        "who": slot.who,
        "place": task.place,
        "effort": [task.effort.low, task.effort.likely, task.effort.high],
        "odds": task.odds,
        "hold": None
        if hold is None
        else {"rule": hold.rule, "readings": hold.readings, "witness": hold.witness},
        "stop": task.stop,
        "cautions": [*shown[task.key].full, *shown[task.key].short],
        "critical": task.critical,
        "opens": task.opens,
        "closes": task.closes,
        "step": task.step,
        "guided": plan.guided.get(task.key, ""),
    }


def _state(nearest: Nearest) -> dict[str, Any]:
    way = nearest.way
    return {
        "open": [thing.key for thing in nearest.open],
        "forbidden": list(dict.fromkeys(word for thing in nearest.open for word in thing.forbid)),
        "state": way.state.key,
        "by": way.by,
        "seconds": way.seconds,
        "wait": way.wait,
        "steps": way.steps,
        "others": [
            {"state": w.state.key, "by": w.by, "seconds": w.seconds, "wait": w.wait} for w in nearest.others
        ],
    }


def _choice(choice: Choice) -> dict[str, Any]:
    return {
        "task": choice.task,
        "by": choice.by,
        "words": choice.words,
        "chance": _odds(choice.chance),
        "likely": None if choice.likely is None else choice.likely.isoformat(timespec="minutes"),
        "late": None if choice.late is None else choice.late.isoformat(timespec="minutes"),
        "costs": choice.cost if math.isfinite(choice.cost) else None,
        "steps": choice.steps,
        "open": choice.open,
    }


def plan_csv(plan: Plan) -> str:
    """The list as CSV, one row a task, with empty columns to fill in by hand."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(_COLUMNS)
    shown = cautions_along([plan.by_key[slot.task] for slot in plan.schedule.slots])
    for slot in plan.schedule.slots:
        task = plan.by_key[slot.task]
        hold = task.hold
        table.writerow(
            (
                _time(plan, slot.start), _time(plan, slot.end), round(task.effort.mean / 60.0), task.key,
                " + ".join(slot.who), task.place, task.words, hold.rule if hold else "",
                " ".join(hold.readings) if hold else "", "yes" if hold and hold.witness else "", task.stop,
                " ".join((*shown[task.key].full, *shown[task.key].short)), f"{task.odds:g}", *("",) * 3,
            )
        )  # fmt: skip
    return text.getvalue()


def plan_ics(plan: Plan, stamp: datetime, fingerprint: str, version: str) -> str:
    """The plan as a calendar file (rfc5545): one event for each piece of a task, in UTC.

    stamp: when it was made. Lines end in CR LF and are folded at 75 octets, as the standard wants.
    """
    made = _utc(stamp)
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        f"PRODID:-//boostwright//plan {version}//EN",
        "CALSCALE:GREGORIAN",
    ]
    for slot in plan.schedule.slots:
        task = plan.by_key[slot.task]
        who = ", ".join(slot.who)
        for number, piece in enumerate(slot.pieces):
            if piece.end <= piece.start:
                continue
            told = [task.words]
            if task.hold is not None:
                told.append(f"HOLD: {task.hold.rule}")
            if task.stop:
                told.append(f"STOP: {task.stop}")
            lines += [
                "BEGIN:VEVENT",
                f"UID:{task.key}.{number}.{fingerprint[:16]}@boostwright",
                f"DTSTAMP:{made}",
                f"DTSTART:{_utc(plan.calendar.moment(piece.start))}",
                f"DTEND:{_utc(plan.calendar.moment(piece.end))}",
                f"SUMMARY:{_escaped(f'{task.key} ({who})')}",
                f"DESCRIPTION:{_escaped(chr(10).join(told))}",
                f"CATEGORIES:{task.phase}",
                "END:VEVENT",
            ]
    lines.append("END:VCALENDAR")
    return "".join(f"{_folded(line)}\r\n" for line in lines)


def _utc(moment: datetime) -> str:
    return moment.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")


def _escaped(text: str) -> str:
    """Text as section 3.3.11 wants it."""
    for plain, written in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\n", "\\n")):
        text = text.replace(plain, written)
    return text


def _folded(line: str) -> str:
    """A line in pieces of at most 75 octets, no character cut in two (section 3.1)."""
    pieces, size, piece = [], 0, ""
    for letter in line:
        width = len(letter.encode("utf-8"))
        if size + width > 75:
            pieces.append(piece)
            piece, size = "", 1  # the blank that a further line begins with
        piece += letter
        size += width
    return "\r\n ".join([*pieces, piece])
