"""The commissioning ladder on a terminal: where one stands, what is in the way, the step that comes next."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence

from boostwright.findings.notes import deference
from boostwright.job.records import Override
from boostwright.library.measurements import measurements
from boostwright.planning.ladder import Expected, Gate, Ladder, Origin, Rung, Stands, State
from boostwright.views.ladder_words import (
    air_lines,
    expected_words,
    mark_of,
    reading_words,
    stop_words,
    unit_words,
)
from boostwright.views.numbers import fill

__all__ = ["card", "ladder_report", "override_lines", "sheet"]

_FORM_FEED = "\f"
_BLANK = "________"


def ladder_report(
    ladder: Ladder,
    *,
    every: bool = False,
    step: str = "",
    stamp: str = "",
    width: int = 80,
) -> str:
    """The ladder as one text ending in a line break.

    every: each step as a card; else the next one alone. step: this step alone. stamp: version and
    fingerprint, printed at the end. Raises KeyError for a step that is none.
    """
    width = max(60, min(width, 100))
    lines = [f"Commissioning ladder: {ladder.name}", "─" * width]
    if step:
        lines += [*_wrapped(air_lines(ladder.air), width), ""]
        lines += card(ladder, ladder.rung(step), width)
    else:
        lines += _wrapped(_headline(ladder), width)
        lines += _wrapped(air_lines(ladder.air), width)
        for warning in ladder.warnings:
            lines += _wrapped(warning, width)
        lines += ["", *_rungs(ladder, width)]
        shown = ladder.rungs if every else ladder.rungs[ladder.here : ladder.here + 1]
        for rung in shown:
            lines += ["", "─" * width, *card(ladder, rung, width)]
    lines += override_lines(ladder.overrides, width)
    lines += ["", "─" * width]
    lines += _wrapped(
        "Printed is the middle with two standard deviations; a reading beyond three shuts its gate. STOP:"
        " break off there, whatever the rest says.",
        width,
    )
    lines += _wrapped(deference(), width)
    if stamp:
        lines.append(stamp)
    return "\n".join(lines) + "\n"


def _wrapped(text: str, width: int, first: str = "", then: str = "") -> list[str]:
    return textwrap.wrap(text, width, initial_indent=first, subsequent_indent=then or first)


def _headline(ladder: Ladder) -> str:
    if ladder.here >= len(ladder.rungs):
        return "Every gate is open: the ladder is climbed."
    rung = ladder.rungs[ladder.here]
    return f"You are at step {rung.number} of {len(ladder.rungs)}: {fill(rung.words)} ({rung.key})."


def _rungs(ladder: Ladder, width: int) -> list[str]:
    """One line a step: number, state, words."""
    lines = []
    for i, (rung, gate) in enumerate(zip(ladder.rungs, ladder.gates, strict=True)):
        state = "open" if gate.open else "next" if i == ladder.here else "shut"
        if rung.barred:
            state = "not to be gone"
        elif gate.override is not None and gate.own:
            state = f"opened by {gate.override.who}"
        line = f"{rung.number:2}  {fill(rung.words)}"
        lines.append(f"{line[: width - 24]:<{width - 23}}{state[:23]:>23}")
    return lines


# --------------------------------------------------------------------------------------------------- one card


def card(ladder: Ladder, rung: Rung, width: int) -> list[str]:
    """One step: what must be done before, what to do, what to expect, where to break off, what stands."""
    gate = ladder.gate(rung.key)
    lines = [f"{rung.number}  {fill(rung.words)}  [{rung.key}]"]
    for one in rung.barred:
        lines += _wrapped(f"THIS STEP MAY NOT BE GONE: {one}.", width, "   ")
    if gate.failed and not gate.own:
        times = "once" if gate.failed == 1 else f"{gate.failed} times"
        back = _back_words(ladder, rung, gate)
        lines += _wrapped(f"BROKEN OFF {times}. {back}", width, "   ")
    if gate.refused:
        lines += _wrapped(f"The override does not count: {gate.refused}", width, "   ")
    if gate.override is not None:
        lines += _wrapped(_override_words(gate.override), width, "   ")
    lines += _in_the_way(gate, width)
    lines += _wrapped(f"who    {_people(rung.people)}", width, "   ", "          ")
    lines.append("   STOP at once")
    for stop in rung.stop:
        lines += _wrapped(stop, width, "     - ", "       ")
    lines += _wrapped(f"then: {rung.on_stop}", width, "     ", "     ")
    for caution in rung.cautions:
        lines += _wrapped(f"take care: {caution.text}", width, "   ", "     ")
    lines += _tasks(rung, gate, ladder.names, width)
    lines.append("   do")
    for number, action in enumerate(rung.do, 1):
        lines += _wrapped(f"{number}. {fill(action)}", width, "     ", "        ")
    lines += _wrapped(f"watch  {rung.watch}", width, "   ", "          ")
    lines.append("   readings, each by its key")
    for stand in gate.readings:
        lines += _reading(stand, width)
    typed = f"boostwright record FILE KEY VALUE UNIT --step {rung.key} --who NAME"
    if any(one.witness for one in rung.expected):
        typed += " --witness NAME, another one, where a second person sees it"
    lines += _wrapped(f"type   {typed}", width, "   ", "            ")
    lines += _wrapped(f"keep   {' '.join(rung.evidence)}", width, "   ", "          ")
    return lines


def _in_the_way(gate: Gate, width: int) -> list[str]:
    """What keeps the gate shut, the worst in full; what is only not read yet is counted."""
    if gate.open:
        return []
    missing = [s for s in gate.readings if s.state is State.MISSING and not s.expected.optional]
    plain = {f"{measurements()[s.expected.measurement].words}: {s.state.value}" for s in missing}
    shut = [w for w in gate.why if w not in plain and not w.startswith("this step may not")]
    if missing:
        count = "1 reading is" if len(missing) == 1 else f"{len(missing)} readings are"
        shut.append(f"{count} not read yet")
    lines = ["   in the way"] if shut else []
    for why in shut:
        lines += _wrapped(f"{why}.", width, "     - ", "       ")
    return lines


def _back_words(ladder: Ladder, rung: Rung, gate: Gate) -> str:
    target = ladder.rungs[max(0, rung.number - 1 - gate.back)]
    text = f"Go back to step {target.number}, {fill(target.words)}, and read again from there."
    if gate.back > 1:
        text += " It failed twice: write the cause on record, then one step back is enough."
    return text


def _people(people: Sequence[str]) -> str:
    names = ", ".join(people)
    return f"{names}: {len(people)} people, never one alone" if len(people) > 1 else names


def _tasks(rung: Rung, gate: Gate, names: Mapping[str, str], width: int) -> list[str]:
    """The tasks that must be done before; those that this build's plan does not have are left out."""
    asked = [task for task in rung.tasks if not names or task in names]
    lines = ["   before"] if asked else []
    for task in asked:
        mark = " " if task in gate.waits else "+"
        words = textwrap.shorten(names.get(task, ""), max(20, width - len(task) - 14), placeholder=" ...")
        lines.append(f"     [{mark}] {task}{f': {words}' if words else ''}")
    return lines


def _reading(stand: Stands, width: int) -> list[str]:
    expected, one = stand.expected, measurements()[stand.expected.measurement]
    extra = " (where the instrument is there)" if expected.optional else ""
    extra += " (a second person sees it)" if expected.witness else ""
    lines = _wrapped(f"[{mark_of(stand.state)}] {one.words}{extra}", width, "     ", "         ")
    stop = stop_words(expected)
    said = expected_words(expected) + (f"; {stop}" if stop else "")
    lines += _wrapped(f"{expected.measurement}  {said}", width, "         ", "           ")
    if expected.low is None and expected.high is None and one.dimension is not None and one.unit:
        lines += _wrapped(f"in {unit_words(one)}", width, "           ")
    if expected.stands is not None and expected.stop_high is not None:
        lines += _wrapped(f"STOP because: {expected.stop_high.why}", width, "         ")
    basis = expected.how if expected.origin is not Origin.TRADE else ""
    source = "common practice, no source" if expected.origin is Origin.TRADE else expected.origin.value
    if one.dimension is not None:
        lines += _wrapped(f"from: {f'{basis}; ' if basis else ''}{source}", width, "         ")
    if stand.reading is not None:
        who = stand.reading.who + (f", seen by {stand.reading.witness}" if stand.reading.witness else "")
        said = f"read {reading_words(stand.reading, expected)} ({who}, {stand.reading.time[:16]}): "
        said += stand.state.value
        lines += _wrapped(said + (f"; {stand.why}" if stand.why else ""), width, "         ")
    return lines


# -------------------------------------------------------------------------------------------------- overrides


def _override_words(override: Override) -> str:
    by = override.who + (f" with {override.witness}" if override.witness else "")
    return f"OPENED AGAINST ITS DATA by {by}, {override.time[:16]}: {override.reason}"


def override_lines(overrides: Sequence[Override], width: int) -> list[str]:
    """Every override on record, for the foot of every page; nothing where there is none."""
    if not overrides:
        return []
    lines = ["", "Gates that people opened against their data, on every page from now on:"]
    for one in overrides:
        lines += _wrapped(f"{one.gate}: {_override_words(one)}", width, "  ", "    ")
    return lines


# ------------------------------------------------------------------------------------------------------ paper


def sheet(ladder: Ladder, *, step: str = "", stamp: str = "", width: int = 80) -> str:
    """Paper for the observer: one step a page, with blanks; pages are divided by form feeds.

    step: this step alone. Raises KeyError for a step that is none.
    """
    width = max(60, min(width, 80))
    rungs = (ladder.rung(step),) if step else ladder.rungs
    return _FORM_FEED.join("\n".join(_page(ladder, rung, stamp, width)) + "\n" for rung in rungs)


def _page(ladder: Ladder, rung: Rung, stamp: str, width: int) -> list[str]:
    lines = [
        f"{ladder.name}, step {rung.number} of {len(ladder.rungs)}",
        fill(rung.words).upper(),
        "=" * width,
    ]
    for one in rung.barred:
        lines += _wrapped(f"THIS STEP MAY NOT BE GONE: {one}.", width)
    lines += _wrapped(f"Who: {_people(rung.people)}.", width)
    lines += _wrapped(air_lines(ladder.air), width)
    for number, action in enumerate(rung.do, 1):
        lines += _wrapped(f"{number}. {fill(action)}", width, "", "   ")
    lines.append("-" * width)
    for expected in rung.expected:
        lines += _blank(expected, width)
    lines.append("-" * width)
    lines.append("STOP AT ONCE")
    for stop in rung.stop:
        lines += _wrapped(stop, width, "- ", "  ")
    lines += _wrapped(rung.on_stop, width)
    for caution in rung.cautions:
        lines += _wrapped(caution.text, width, "! ", "  ")
    lines += override_lines(tuple(o for o in ladder.overrides), width)
    lines += ["", f"driver {_BLANK}{_BLANK}   observer {_BLANK}{_BLANK}   date {_BLANK}"[:width]]
    if stamp:
        lines.append(stamp[:width])
    return lines


def _blank(expected: Expected, width: int) -> list[str]:
    one = measurements()[expected.measurement]
    lines = _wrapped(one.words + (" *" if expected.witness else ""), width)
    stop = stop_words(expected)
    left = f"{expected.measurement}  {expected_words(expected)}" + (f"; {stop}" if stop else "")
    room = width - len(_BLANK) - 2
    wrapped = _wrapped(left.strip(), room, "  ")
    wrapped[-1] = f"{wrapped[-1]:<{room}}  {_BLANK}"
    return [*lines, *wrapped]
