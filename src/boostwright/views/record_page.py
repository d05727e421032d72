"""Readings on a terminal and as JSON: what was just recorded, what is due, what stands."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Sequence
from datetime import tzinfo
from itertools import zip_longest
from typing import TYPE_CHECKING, Any

from boostwright.build.recorded import Standing
from boostwright.findings.notes import caution, deference
from boostwright.job.records import Override, Reading, Record, Step, TaskEvent, Withdrawal, to_plain
from boostwright.library.measurements import SIDES, Measurement
from boostwright.planning.ladder.records import State
from boostwright.planning.progress import STUD_BROKE
from boostwright.planning.troubles import PASSING
from boostwright.views.clock import said_moment, zone_words
from boostwright.views.ladder_words import expected_words, stop_words
from boostwright.views.reading_words import (
    compared_words,
    of_a_step,
    range_words,
    say_reading,
    spread_words,
    state_words,
    verdict_words,
)

if TYPE_CHECKING:
    from boostwright.planning.readings import Expected, JudgedReading
    from boostwright.planning.readings.due import Due
    from boostwright.planning.readings.kept import Kept, SheetKept, StepSays
    from boostwright.planning.readings.sheet import SheetFault
    from boostwright.planning.task import Task

__all__ = [
    "RECORD_FORMAT",
    "due_report",
    "explain_report",
    "kept_report",
    "list_report",
    "meant_report",
    "record_document",
    "sheet_report",
    "undone_report",
]

RECORD_FORMAT = 1
"""The number of the document's form; it grows when a field changes its meaning or goes away."""

_LADDER = "boostwright ladder FILE gives the range at the step's own condition"
_ID = 8  # digits of an id that are shown


def _wrapped(text: str, width: int, indent: int = 4) -> list[str]:
    space = " " * indent
    return textwrap.wrap(text, width, initial_indent=space, subsequent_indent=space, break_on_hyphens=False)


def _row(label: str, text: str, width: int) -> list[str]:
    """'    expected  9.6 to 15.8 bar gauge', the words hanging under themselves."""
    return textwrap.wrap(
        text, width, initial_indent=f"    {label:<9} ", subsequent_indent=" " * 14, break_on_hyphens=False
    )


def kept_report(kept: Kept, width: int = 80) -> str:
    """What was recorded, with its verdict, ending in a line break."""
    width = max(60, min(width, 100))
    record = kept.record
    if isinstance(record, Reading) and kept.judged is not None:
        lines = _reading_lines(kept.judged, width, kept.of_step, kept.zone)
    else:
        lines = [line for one in (record, *kept.more) for line in _wrapped(_line_of(one), width, 0)]
    for name, was in kept.stands_for:
        said = f"stands for {name}" + (
            f", where the file says {was}" if was else ", which the file leaves open"
        )
        lines += _row("so", said + ".", width)
    if kept.contradicts:
        lines += _row(
            "but",
            "The file says something else, by more than both spreads: 'boostwright check' shows it as a"
            " finding until one of the two is mended.",
            width,
        )
    lines += [line for words in kept.files for line in _row("kept", words, width)]
    for note in kept.notes:
        first = note.split(" ", 1)[0]
        lines += _row(
            "note", note if "." in first else note[0].upper() + note[1:], width
        )  # a key stays as it is
    if isinstance(record, TaskEvent) and record.what == Step.PROBLEM.value:
        lines += _row("do", _problem_next(record.kind), width)
    if kept.same:
        lines += _row("", "It was on record already; nothing was added.", width)
    elif kept.waits:
        lines += _row("waits", kept.waits, width)
    else:
        lines += _row(
            "recorded", f"{record.id[:_ID]}, {said_moment(record.time, kept.zone)}, {record.who}", width
        )
    return "\n".join(lines) + "\n"


def undone_report(kept: Kept, width: int = 80) -> str:
    """What was taken back, ending in a line break."""
    width = max(60, min(width, 100))
    lines = []
    for one in (kept.record, *kept.more):
        when = said_moment(one.time, kept.zone)
        lines += _wrapped(f"Taken back: {_line_of(one)} ({one.id[:_ID]}, of {when})", width, 0)
    lines += _wrapped("It counts no more, and stays on record as taken back; nothing is deleted.", width, 0)
    if kept.waits:
        lines += _row("waits", kept.waits, width)
    return "\n".join(lines) + "\n"


def meant_report(meant: Sequence[Task], what: str, width: int = 80) -> str:
    """Which tasks a pattern stands for, before anything is written."""
    width = max(60, min(width, 100))
    count = "1 task" if len(meant) == 1 else f"{len(meant)} tasks"
    lines = [f"'--{what}' means {count}. NOTHING IS RECORDED YET:"]
    for task in meant:
        lines += textwrap.wrap(
            f"{task.key}: {task.words}", width, initial_indent="  ", subsequent_indent="      ",
            break_on_hyphens=False,
        )  # fmt: skip
    lines += _wrapped("Say it again with --yes, and they are; '--undo' then takes all of it back.", width, 0)
    return "\n".join(lines) + "\n"


def _reading_lines(
    judged: JudgedReading, width: int, says: StepSays | None = None, zone: tzinfo | None = None
) -> list[str]:
    one, reading = judged.measurement, judged.reading
    read = say_reading(one, reading.values, reading.answer)
    spread = spread_words(one, reading.sd)
    lines = _wrapped(f"{one.words}: {read}{f' {spread} each' if spread else ''}", width, 0)
    if judged.at_once:
        lines = [*_wrapped(f"If that is what it shows: {judged.at_once}", width, 0), "", *lines]
    if says is not None:
        lines += _step_lines(says, width)
    else:
        wanted = range_words(one, judged.expected)
        if wanted:
            lines += _row("limits" if of_a_step(one) else "expected", wanted, width)
        if of_a_step(one):
            lines += _row("see", _LADDER, width)
        if judged.expected is not None and judged.state is not Standing.OPEN:
            lines += _row("because", f"{judged.expected.why} ({judged.expected.source})", width)
        lines += _row(state_words(judged.state), verdict_words(judged, zone), width)
    told = compared_words(one, judged.comparison)
    if told:
        lines += _row("change", told, width)
    return lines


_OF_STATE = {
    State.GOOD: "inside",
    State.UNUSUAL: "inside",
    State.OUTSIDE: "OUTSIDE",
    State.BROKEN_OFF: "STOP",
}


def _step_lines(says: StepSays, width: int) -> list[str]:
    """The step's own range, and where the reading lies in it."""
    stop = stop_words(says.expected)
    lines = _row("expected", expected_words(says.expected) + (f"; {stop}" if stop else ""), width)
    source = says.expected.origin.value
    lines += _row("from", f"{says.expected.how}; {source}" if says.expected.how else source, width)
    early = _row("EARLY", says.early, width) if says.early else []
    verdict = f"{says.state.value} in the step '{says.step}'{f': {says.why}' if says.why else ''}."
    shown = _row(_OF_STATE.get(says.state, "kept"), verdict[0].upper() + verdict[1:], width)
    return [*lines, *early, *shown]


def _line_of(record: Record) -> str:
    if isinstance(record, TaskEvent):
        seen = f", seen by {record.witness}" if record.witness else ""
        note = f": {record.note}" if record.note else ""
        kind = f", {record.kind}," if record.kind else ""
        return f"{record.task} {record.what}{kind} by {record.who}{seen}{note}"
    if isinstance(record, Override):
        return f"{record.gate} opened by {record.who} against its data: {record.reason}"
    if isinstance(record, Withdrawal):
        return f"{record.of[:_ID]} taken back by {record.who}{f': {record.reason}' if record.reason else ''}"
    if isinstance(record, Reading):
        return f"{record.measurement} {record.text}"
    return str(to_plain(record))


def _problem_next(kind: str) -> str:
    """What to do after a problem was written down."""
    again = "'boostwright plan FILE' puts the rest in a new order and says what can be done meanwhile."
    if kind in PASSING:
        return again
    stop = (
        "Stop there and make it safe; no more force on it"
        if kind == STUD_BROKE
        else "Stop there and make it safe"
    )
    return f"{stop}. Do not start the engine before it is mended and looked at. {again}"


def due_report(due: Sequence[Due], side: str, name: str, width: int = 80) -> str:
    """What is due, with why, how, instrument and cautions."""
    width = max(60, min(width, 100))
    lines = [f"Readings due, {SIDES[side]}: {name}", "─" * width]
    if not due:
        lines += _wrapped("Nothing is due: every reading of this side is on record.", width, 0)
    minutes = sum(row.measurement.minutes for row in due)
    if due:
        hours = f"{minutes / 60.0:.1f} h" if minutes >= 90 else f"{minutes:.0f} min"
        count = "1 reading" if len(due) == 1 else f"{len(due)} readings"
        missed = " What is not read now cannot be read later." if side == "before" else ""
        lines += _wrapped(f"{count}, about {hours} in all.{missed}", width, 0)
    cautions: dict[str, None] = {}
    for row in due:
        one = row.measurement
        each = f", one for each {one.each}" if one.each else ""
        lines += ["", f"{one.key}", *_wrapped(f"{one.words}{each}", width)]
        if row.again is not None:
            last = say_reading(one, row.again.reading.values, row.again.reading.answer)
            lines += _row("again", f"{last} stands outside; read it another way.", width)
        wanted = range_words(one, row.expected)
        if wanted:
            lines += _row("limits" if of_a_step(one) else "expected", wanted, width)
        if of_a_step(one):
            lines += _row("see", _LADDER, width)
        lines += _row("how", one.how, width)
        lines += _row("with", one.instrument + (f"; {one.minutes:.0f} min" if one.minutes else ""), width)
        lines += _row("why", one.why, width)
        cautions |= dict.fromkeys(one.cautions)
    if cautions:
        lines += ["", "─" * width]
        for key in cautions:
            lines += _wrapped(caution(key).text, width, 0)
        lines += _wrapped(deference(), width, 0)
    return "\n".join(lines) + "\n"


def explain_report(one: Measurement, expected: Expected | None, width: int = 80) -> str:
    """One measurement in full."""
    width = max(60, min(width, 100))
    lines = [one.key, *_wrapped(one.words, width)]
    if one.each:
        lines += _row("values", f"one for each {one.each}", width)
    if one.choices:
        for word, meaning in one.choices.items():
            lines += _row(word, meaning, width)
    wanted = range_words(one, expected)
    if wanted:
        lines += _row("expected", wanted, width)
    if expected is not None:
        lines += _row("because", f"{expected.why} ({expected.source})", width)
        if expected.about:
            lines += _row("rests on", ", ".join(expected.about), width)
    lines += _row("how", one.how, width)
    lines += _row("with", one.instrument, width)
    lines += _row("when", " or ".join(SIDES[side] for side in one.sides), width)
    if one.minutes:
        lines += _row("takes", f"about {one.minutes:.0f} min", width)
    if one.field:
        lines += _row("states", one.field, width)
    if one.repeat_source:
        lines += _row("scatter", one.repeat_source, width)
    lines += _row("why", one.why, width)
    if one.harm:
        lines += _row("else", one.harm, width)
    if one.witness:
        lines += _row("witness", "Two people sign this.", width)
    for key in one.cautions:
        lines += _wrapped(caution(key).text, width)
    if one.cautions:
        lines += _wrapped(deference(), width)
    return "\n".join(lines) + "\n"


def list_report(
    judged: Sequence[JudgedReading],
    records: Sequence[Record],
    name: str,
    width: int = 80,
    zone: tzinfo | None = None,
) -> str:
    """Everything on record, oldest first, with what was taken back. zone: of the times; None for UTC."""
    width = max(60, min(width, 100))
    verdicts = {one.reading.id: one for one in judged}
    back = {one.of for one in records if isinstance(one, Withdrawal)}
    lines = [f"On record: {name}; {zone_words(zone)}", "─" * width]
    if not records:
        lines += _wrapped("Nothing is on record yet.", width, 0)
    for record in sorted(records, key=lambda one: one.time):
        when = said_moment(record.time, zone, named=False)
        one = verdicts.get(record.id)
        if one is not None:
            read = say_reading(one.measurement, one.reading.values, one.reading.answer)
            text = f"{one.measurement.words}: {read} ({one.side}, {state_words(one.state)})"
            if one.against is not None:
                against = said_moment(one.against.time, zone, named=False)
                text += f"; contradicts that of {against} by {one.against.who}, which stands"
        else:
            text = _line_of(record)
            if record.id in back:
                text += " (taken back)"
        head = f"{record.id[:_ID]}  {when}  {record.who}  "
        lines += textwrap.wrap(head + text, width, subsequent_indent=" " * 10, break_on_hyphens=False)
    outside = sum(one.state in (Standing.OUTSIDE, Standing.FAR) for one in judged)
    if outside:
        lines += ["", f"{outside} of {len(judged)} readings outside what this build should show."]
    return "\n".join(lines) + "\n"


def grave(one: JudgedReading, says: StepSays | None) -> int:
    """2: stop. 1: outside its range, or before its turn. 0: all is well, or nothing judges it."""
    if one.holds_work or (says is not None and says.grave == 2):
        return 2
    out = one.state not in (Standing.INSIDE, Standing.OPEN)
    return 1 if (out if says is None else says.grave) else 0


def sheet_report(kept: SheetKept, file: str, width: int = 80) -> str:
    """What came of a sheet: faults by line, or what is on record now."""
    width = max(60, min(width, 100))
    if kept.faults:
        count = "1 fault" if len(kept.faults) == 1 else f"{len(kept.faults)} faults"
        lines = [f"✕ {file}: {count}. Nothing was recorded."]
        for fault in kept.faults:
            lines += ["", *_fault(fault, file, width)]
        lines += ["", *_wrapped("Mend these and read the sheet again.", width, 0)]
        return "\n".join(lines) + "\n"
    new = "1 new reading" if len(kept.kept) == 1 else f"{len(kept.kept)} new readings"
    lines = [f"{file}: {new}, {kept.same} on record already, {kept.blank} rows without a value."]
    rows = [(grave(one, says), one, says) for (_, one), says in zip_longest(kept.kept, kept.of_steps)]
    stop, out = (sum(1 for worst, _, _ in rows if worst == k) for k in (2, 1))
    if rows:
        lines.append(f"{len(rows) - stop - out} inside or not judged, {out} OUTSIDE, {stop} STOP.")
    for _, one, says in sorted(rows, key=lambda row: -row[0]):
        lines += ["", *_reading_lines(one, width, says, kept.zone)]
    if kept.waits:
        lines += ["", *_wrapped(kept.waits, width, 0)]
    return "\n".join(lines) + "\n"


def _fault(fault: SheetFault, file: str, width: int) -> list[str]:
    where = f"{file}:{fault.line}  {fault.why}"
    head = textwrap.wrap(where, width, break_long_words=False, break_on_hyphens=False)  # a path stays whole
    return [*head, *_row("do", fault.remedy, width)]


# ----------------------------------------------------------------------------------------------- JSON


def _expected(expected: Expected | None) -> dict[str, Any] | None:
    if expected is None:
        return None
    return {
        "low": expected.low,
        "high": expected.high,
        "middle": expected.middle,
        "sd": expected.sd,
        "why": expected.why,
        "source": expected.source,
        "about": list(expected.about),
    }


def _judged(one: JudgedReading) -> dict[str, Any]:
    change = one.comparison
    return {
        "reading": to_plain(one.reading),
        "words": one.measurement.words,
        "side": one.side,
        "state": one.state.value,
        "holds_work": one.holds_work,
        "at_once": one.at_once,
        "contradicts": None if one.against is None else one.against.id,
        "repeated": one.repeated,
        "place": one.place,
        "expected": _expected(one.expected),
        "change": None
        if change is None
        else {
            "before": change.before,
            "after": change.after,
            "change": change.change,
            "sd": change.sd,
            "chance": change.chance,
            "real": change.real,
            "place": change.place,
            "counts": list(change.counts),
        },
    }


def _of_step(says: StepSays | None) -> dict[str, Any] | None:
    if says is None:
        return None
    return {
        "step": says.step,
        "low": says.expected.low,
        "high": says.expected.high,
        "stop_below": None if says.expected.stop_low is None else says.expected.stop_low.value,
        "stop_above": None if says.expected.stop_high is None else says.expected.stop_high.value,
        "answers": list(says.expected.good),
        "state": says.state.value,
        "why": says.why,
        "early": says.early,
    }


def _due(row: Due) -> dict[str, Any]:
    one = row.measurement
    return {
        "measurement": one.key,
        "words": one.words,
        "side": row.side,
        "each": one.each,
        "unit": one.unit,
        "pressure": None if one.pressure is None else one.pressure.value,
        "expected": _expected(row.expected),
        "good": list(one.good),
        "how": one.how,
        "instrument": one.instrument,
        "minutes": one.minutes,
        "why": one.why,
        "again": None if row.again is None else row.again.reading.id,
    }


def record_document(
    name: str,
    version: str,
    data: str,
    fingerprint: str,
    *,
    judged: Sequence[JudgedReading] = (),
    records: Sequence[Record] = (),
    due: Sequence[Due] | None = None,
    kept: Kept | None = None,
    sheet: SheetKept | None = None,
) -> str:
    """The same as JSON, SI units; parts that were not asked for are left out."""
    document: dict[str, Any] = {
        "format": RECORD_FORMAT,
        "version": version,
        "data": data,
        "fingerprint": fingerprint,
        "build": name,
    }
    if kept is not None:
        document["recorded"] = to_plain(kept.record)
        if kept.more:
            document["with_it"] = [to_plain(one) for one in kept.more]
        document["judged"] = None if kept.judged is None else _judged(kept.judged)
        document["of_step"] = _of_step(kept.of_step)
        document["waits"] = kept.waits
        document["was_there"] = kept.same
        document["notes"] = list(kept.notes)
        document["stands_for"] = [{"field": f, "file_says": was} for f, was in kept.stands_for]
        document["against_file"] = bool(kept.contradicts)
    elif sheet is not None:
        document["recorded"] = [
            {**_judged(one), "of_step": _of_step(says)}
            for (_, one), says in zip_longest(sheet.kept, sheet.of_steps)
        ]
        document["was_there"] = sheet.same
        document["blank"] = sheet.blank
        document["faults"] = [fault._asdict() for fault in sheet.faults]
        document["waits"] = sheet.waits
    elif due is not None:
        document["due"] = [_due(row) for row in due]
    else:
        document["readings"] = [_judged(one) for one in judged]
        document["records"] = [to_plain(one) for one in records]
    return json.dumps(document, indent=2, ensure_ascii=False) + "\n"
