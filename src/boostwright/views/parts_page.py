"""The parts list on a terminal and on paper: what is missing, where to buy it, costs, what to order first."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import Final

from boostwright.findings.notes import deference
from boostwright.library.supplies import places
from boostwright.planning.parts import Band, Due, Group, Line, PartsList, State
from boostwright.planning.parts.records import slug
from boostwright.views.files import write_text
from boostwright.views.parts_table import Account, parts_csv, parts_document

__all__ = ["account_words", "parts_report", "write_parts"]

_MARKS: Final = {
    State.HAVE: "[x]",
    State.ORDERED: "[>]",
    State.MISSING: "[ ]",
    State.FIND: "[?]",
    State.NOT_NEEDED: "[-]",
}
_MOST_DUE: Final = 8
_MOST_DRIVERS: Final = 4
_MOST_WHY: Final = 3


def parts_report(account: Account, name: str, stamp: str = "", width: int = 80, missing: bool = False) -> str:
    """The list as one text ending in a line break. missing: only what is not there yet."""
    width = max(60, min(width, 100))
    parts = account.parts
    lines = [f"Parts list: {name}", "─" * width]
    for sentence in account_words(account):
        lines += textwrap.wrap(sentence, width)
    lines += _asked(parts, width)
    if account.due:
        lines += _due(account, width)
    shown = [line for line in parts.lines if not missing or line.state in (State.MISSING, State.FIND)]
    due = {one.key: one for one in account.due or ()}
    for key, place in places().items():
        here = [line for line in shown if line.where == key and not _stands_first(line)]
        if here:
            lines += ["", f"{place.words[:1].upper()}{place.words[1:]} ({place.hours})"]
            lines += [row for alike in _sorted(here) for row in _block(alike, due, account.odds.today, width)]
    if not missing:
        lines += _tools(parts, width)
        lines += _rest("Taken for there", parts.left, width)
    lines += _rest("On the shelf, and nothing asks for it", parts.strange, width)
    lines += ["", "─" * width]
    lines += textwrap.wrap(
        "[x] there  [>] ordered  [ ] missing  [?] to be found out  [-] not needed. Prices are those that 1 in"
        " 10 and 9 in 10 offers stay below; where no bill stands they are common practice, without a source.",
        width,
    )
    lines += textwrap.wrap(deference(), width)
    if stamp:
        lines.append(stamp)
    return "\n".join(lines) + "\n"


def _stands_first(line: Line) -> bool:
    """Whether a line is a question that nobody has answered, which the page begins with."""
    return line.group is Group.FIND and line.state is State.FIND


def account_words(account: Account) -> Iterator[str]:
    """The list in sentences: how far it is, the odds on the day, the money."""
    parts, missing = account.parts, account.odds
    counts = {state: sum(line.state is state for line in parts.counted) for state in State}
    spares = sum(not line.needed for line in parts.lines)
    ahead = sum(line.state is State.FIND and line.ordered_on is not None for line in parts.counted)
    early = f" ({ahead} of them ordered all the same)" if ahead else ""
    yield (
        f"{len(parts.counted)} lines that the job needs: {counts[State.HAVE]} there,"
        f" {counts[State.ORDERED]} ordered, {counts[State.MISSING]} missing, {counts[State.FIND]} to be found"
        f" out{early}; and {spares} spares."
    )
    yield from _odds_words(account)
    money = account.money
    yield (
        f"It costs {_euro(money.total.low)} to {_euro(money.total.high)} EUR in 8 of 10 cases, half of them"
        f" below {_euro(money.total.middle)} EUR; still to be paid {_euro(money.left.low)} to"
        f" {_euro(money.left.high)} EUR."
    )
    if money.over is not None and money.budget is not None:
        kept = f", {_euro(money.reserve)} EUR of it kept back" if money.reserve else ""
        inside = f" and goes into the reserve in {_percent(money.over[0])}" if money.reserve else ""
        yield (
            f"Budget {_euro(money.budget)} EUR{kept}: the list goes beyond it in {_percent(money.over[1])} of"
            f" cases{inside}."
        )
    elif money.why_not:
        yield f"Not held against a budget: {money.why_not}."
    drivers = [
        f"{parts.line(one.key).what.partition(':')[0]} {_percent(one.of_spread)}"
        for one in money.drivers[:_MOST_DRIVERS]
        if one.of_spread > 0.0
    ]
    if drivers:
        yield f"What makes the sum unsure: {', '.join(drivers)}."
    if missing.unordered:
        yield f"{missing.unordered} lines are not even ordered: as it stands the job cannot be finished."
    late = [due for due in account.due or () if due.late and parts.line(due.key).counts]
    if late:
        one = len(late) == 1
        yield (
            f"{len(late)} of them {'comes' if one else 'come'} too late for {'its' if one else 'their'} first"
            " task in more than 1 of 10 cases, even if ordered today."
        )
    if account.note:
        yield account.note


def _odds_words(account: Account) -> Iterator[str]:
    missing = account.odds
    if not missing.lines:
        return
    when = f"on {missing.day}" if missing.day else "on the day for being wrong (name a day for lateness)"
    if missing.planned:
        when = f"when its first task begins by the plan, from {missing.day} on"
    settled = ", all that is missing ordered today" if missing.unordered and missing.day else ""
    yield (
        f"At least one line is missing {when}{settled}: {_percent(missing.independent)} if each goes its own"
        f" way, {_percent(missing.together)} where lines of one seller (else one kind of shop:"
        f" {missing.orders} orders) hang together; {missing.expected:.1f} lines on average."
    )


def _percent(share: float) -> str:
    if 0.0 < share < 0.01 or 0.99 < share < 1.0:
        return (
            f"{100 * share:.1f} %"
            if 0.001 <= share <= 0.999
            else ("under 0.1 %" if share < 0.5 else "over 99.9 %")
        )
    return f"{100 * share:.0f} %"


def _euro(value: float | None) -> str:
    """A sum with no more figures than it deserves."""
    if value is None:
        return "?"
    if value < 10.0:
        return f"{value:.1f}".removesuffix(".0")
    return f"{value:.0f}" if value < 1000.0 else f"{round(value, -1):.0f}"


def _price(band: Band) -> str:
    low, high = _euro(band.low), _euro(band.high)
    return f"{high} EUR" if low == high else f"{low} to {high} EUR"


def _asked(parts: PartsList, width: int) -> list[str]:
    """What is to be found out, first of all."""
    if not parts.open:
        return []
    lines = ["", "To be found out before anything is ordered"]
    for line in parts.open:
        lines += _hanging(f"[?] {line.key}", width, 2, 6)
        for ask in line.asks:
            of = "" if line.group is Group.FIND or line.what in ask.words else f" ({line.what})"
            lines += _hanging(f"{ask.words}{of}", width, 6, 6)
    lines += _hanging(
        "Answer in the joints of the file; or in a table [[shelf]] with line = the key, and is = what it is"
        " (a hose: length).",
        width,
        2,
        2,
    )
    return lines


def _due(account: Account, width: int) -> list[str]:
    assert account.due is not None
    lines = ["", "To be ordered first (so that it is there in 9 of 10 cases)"]
    for due in account.due[:_MOST_DUE]:
        line = account.parts.line(due.key)
        other = f"; instead: {line.other}" if due.late and line.other else ""
        what = line.what.partition(":")[0]
        lines += _hanging(f"{what} ({due.key}): {_order_words(due)}{other}", width, 2, 6)
    if len(account.due) > _MOST_DUE:
        lines.append(f"  and {len(account.due) - _MOST_DUE} more; each says its day below")
    return lines


def _order_words(due: Due) -> str:
    """By when a line must be ordered, or that it is too late for that."""
    if due.late:
        chance = _percent(1.0 - due.odds)
        return f"too late for {due.needed} by {due.days} days of lead; ordered today it is there in {chance}"
    return f"order by {due.by} for {due.needed}"


def _sorted(lines: Iterable[Line]) -> list[list[Line]]:
    """The lines by their groups; those that are alike and stand alike together."""
    order = list(Group)
    found: dict[tuple[object, ...], list[Line]] = {}
    for line in sorted(lines, key=lambda line: order.index(line.group)):
        alike = (line.what, line.unit, line.state, line.seller, line.needed, line.expected)
        found.setdefault(alike if line.quantity is not None else (line.key,), []).append(line)
    return list(found.values())


def _block(alike: list[Line], due: Mapping[str, Due], today: date | None, width: int) -> list[str]:
    """One line, or several that are one thing to buy. due: by when each must be ordered."""
    line = alike[0]
    quantity = None if line.quantity is None else sum(one.quantity or 0.0 for one in alike)
    if quantity is not None and line.unit:
        fine = 100.0 if quantity < 1.0 else 10.0  # nobody cuts or pours finer
        quantity = math.ceil(fine * quantity - 1e-6) / fine
    amount = "? " if quantity is None else f"{quantity:.4g} "
    amount += f"{line.unit} " if line.unit else "x "
    rows = _hanging(f"{_MARKS[line.state]} {amount}{line.what}", width, 2, 6)
    cost = Band(sum(one.cost.low for one in alike), sum(one.cost.high for one in alike), line.cost.source)
    facts = [", ".join(one.key for one in alike), _price(cost)]
    if line.state is State.ORDERED:
        gone_by = line.expected is not None and today is not None and line.expected < today
        facts.append(
            f"was to be here {line.expected}: ask the seller"
            if gone_by
            else f"to be here {line.expected}"
            if line.expected
            else "ordered"
        )
    elif line.state is State.FIND and line.ordered_on is not None:
        facts.append(f"ordered {line.ordered_on}, with the question open")
    facts += [
        f"{one.there:g} there" for one in alike if one.there is not None and one.state is not State.HAVE
    ]
    if line.seller:
        facts.append(line.seller)
    first = min((due[one.key] for one in alike if one.key in due), key=lambda one: one.by, default=None)
    if first is not None:
        facts.append(_order_words(first))
    if not line.needed:
        facts.append("spare")
    why = _why(alike)
    if why and line.needed:
        facts.append(why)
    facts += dict.fromkeys(one.note for one in alike if one.note)
    return [*rows, *_hanging("; ".join(facts), width, 6, 6)]


def _why(alike: Iterable[Line]) -> str:
    """What it is for, where the keys do not say it: the joints, else the tasks."""
    said = {name: None for one in alike for name in (one.joints or one.tasks) if slug(name) not in one.key}
    names = list(said)
    more = f" and {len(names) - _MOST_WHY} more" if len(names) > _MOST_WHY else ""
    return f"for {', '.join(names[:_MOST_WHY])}{more}" if names else ""


def _tools(parts: PartsList, width: int) -> list[str]:
    lines: list[str] = []
    for way, title in (("hire", "To hire"), ("borrow", "To borrow, or to hire"), ("own", "Tools to lay out")):
        here = [tool for tool in parts.tools if tool.way == way]
        if not here:
            continue
        lines += ["", title]
        if way == "own":
            lines += _hanging(", ".join(tool.words for tool in here), width, 2, 2)
            continue
        for tool in here:
            price = f", {_price(tool.cost)} a weekend" if tool.cost is not None else ""
            lines += _hanging(
                f"[{'x' if tool.there else ' '}] {tool.words}{price} ({', '.join(tool.tasks[:4])})",
                width,
                2,
                6,
            )
    return lines


def _rest(title: str, sentences: Iterable[str], width: int) -> list[str]:
    rows = [row for text in sentences for row in _hanging(text, width, 2, 4)]
    return ["", title, *rows] if rows else []


def _hanging(text: str, width: int, first: int, then: int) -> list[str]:
    return textwrap.wrap(
        text, width, initial_indent=" " * first, subsequent_indent=" " * then, break_on_hyphens=False
    )


def write_parts(
    account: Account,
    name: str,
    folder: Path,
    version: str,
    data: str,
    fingerprint: str,
    semicolon: bool = False,
) -> tuple[Path, ...]:
    """Write parts.txt (for print), parts.csv and parts.json; returns their paths. Raises OSError.

    semicolon: the CSV for spreadsheets that also want a mark in front to take it for UTF-8.
    """
    folder.mkdir(parents=True, exist_ok=True)
    stamp = f"boostwright {version} · data {data} · inputs {fingerprint[:16]}"
    written = []
    for ending, text in (
        ("txt", parts_report(account, name, stamp, 90)),
        ("csv", parts_csv(account, semicolon, mark=semicolon)),
        ("json", parts_document(account, name, version, data, fingerprint)),
    ):
        path = folder / f"parts.{ending}"
        write_text(path, text)
        written.append(path)
    return tuple(written)
