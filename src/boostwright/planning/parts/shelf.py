"""Where each line stands: what the build file and the recorded events say of it."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any, Final

from boostwright.build.document import Build, Row
from boostwright.build.values import Source
from boostwright.job.records import PartEvent
from boostwright.library.supplies import odds
from boostwright.planning.parts.making import Gathered
from boostwright.planning.parts.records import Group, Lead, Line, State, ToolLine, band_of
from boostwright.quantity import nearest

__all__ = ["apply_events", "apply_shelf", "tools_there"]

_STATES: Final[Mapping[str, State]] = {
    "have": State.HAVE,
    "ordered": State.ORDERED,
    "missing": State.MISSING,
    "not-needed": State.NOT_NEEDED,
}
_EVENTS: Final[Mapping[str, State]] = {
    "have": State.HAVE,
    "ordered": State.ORDERED,
    "missing": State.MISSING,
    "used": State.HAVE,
    "broken": State.MISSING,
    "not needed": State.NOT_NEEDED,
}
_ENOUGH: Final = 1e-6


def apply_shelf(build: Build, into: Gathered, tools: frozenset[str] = frozenset()) -> list[str]:
    """Say of each line what the tables [[shelf]] say of it; returns sentences on what no line asks for.

    tools: keys of the tools, which may stand on the shelf, too.
    """
    strange = []
    for row in build.table("shelf"):
        stated = row.get("line")
        if stated is None:
            continue
        key = str(stated.value).strip()
        line = into.lines.get(key)
        if line is None and key not in tools:
            strange.append(_strange(key, f"line {stated.line} of the file", into))
        elif line is not None:
            into.lines[key] = _said(line, row)
    return strange


def tools_there(build: Build, tools: tuple[ToolLine, ...]) -> tuple[ToolLine, ...]:
    """The tools with what the tables [[shelf]] say of them."""
    there = {
        str(row["line"].value).strip()
        for row in build.table("shelf")
        if "line" in row and str(_value(row, "state")) == "have"
    }
    return tuple(tool._replace(there=tool.key in there) for tool in tools)


def _strange(key: str, where: str, into: Gathered) -> str:
    near = nearest(key, into.lines, count=2, cutoff=0.6)
    hint = f" Near it: {', '.join(near)}." if near else ""
    return (
        f"'{key}' ({where}) is on the shelf, and nothing in this build asks for it: was it renamed or"
        f" deleted?{hint}"
    )


def _value(row: Row, name: str) -> Any:
    found = row.get(name)
    return None if found is None else found.value


def _said(line: Line, row: Row) -> Line:
    """A line with what a table says of it."""
    changes: dict[str, Any] = {}
    asks = line.asks
    length = _value(row, "length")
    if length is not None:
        changes["quantity"] = float(length) if line.unit == "m" else line.quantity
        changes["what"] = f"{line.what}, {float(length):g} m long"
        asks = tuple(ask for ask in asks if ask.kind != "length")
    said = _value(row, "is")
    if said is not None:
        changes["what"] = _answered(line, str(changes.get("what", line.what)), str(said))
        asks = tuple(ask for ask in asks if ask.kind == "length")
    changes["asks"] = asks
    price = row.get("price")
    if price is not None:
        paid = price.source is Source.MEASURED or _value(row, "state") == "have"
        words = "paid" if paid else "the build file"
        changes["cost"] = band_of(float(price.value), float(price.sd or 0.0), words)
    changes |= {
        name: str(value)
        for name, value in (("seller", _value(row, "from")), ("other", _value(row, "substitute")))
        if value is not None
    }
    changes |= {
        name: value for name in ("ordered_on", "expected") if isinstance(value := _value(row, name), date)
    }
    if _value(row, "tried") is True:
        changes["tried"] = True
    return _stand(
        dataclasses.replace(line, **changes),
        _STATES[str(_value(row, "state") or "missing")],
        _value(row, "quantity"),
        _value(row, "lead"),
    )


def _answered(line: Line, what: str, said: str) -> str:
    """A line in full once somebody said what it is; where it was only a question, that comes first."""
    if line.group is Group.FIND and line.asks:
        return f"{said} ({what.partition(':')[0]})"
    return f"{what}: {said}"


def _stand(line: Line, state: State, there: float | None, lead: float | None) -> Line:
    """A line in a state, with as much of it as is there. What is short of its quantity is missing."""
    short = there is not None and line.quantity is not None and there < line.quantity - _ENOUGH
    if state is State.HAVE and short:
        state = State.MISSING
    made = dataclasses.replace(line, state=state, there=there)
    if state is State.NOT_NEEDED:
        return dataclasses.replace(made, asks=())
    days = None if lead is None else float(lead) / 86400.0
    if line.expected is not None and line.ordered_on is not None:
        days = float((line.expected - line.ordered_on).days)
        lead_time = Lead(max(days, 0.0), odds().promised_spread, "the seller's day")
        return dataclasses.replace(made, lead=lead_time)
    if days is not None:
        return dataclasses.replace(made, lead=Lead(days, odds().promised_spread, "the build file"))
    return made


def apply_events(events: Iterable[PartEvent], into: Gathered) -> list[str]:
    """Say of each line what was recorded of it, in the order of arrival; returns sentences on the rest."""
    strange = []
    for event in events:
        line = into.lines.get(event.part)
        if line is None:
            strange.append(_strange(event.part, f"recorded by {event.who}, {event.time[:10]}", into))
            continue
        state = _EVENTS.get(event.what)
        if state is None:
            strange.append(f"'{event.part}': nobody knows what '{event.what}' means (by {event.who})")
            continue
        changes: dict[str, Any] = {}
        if event.price is not None:
            changes["cost"] = band_of(event.price, 0.0, f"recorded by {event.who}")
        if event.seller:
            changes["seller"] = event.seller
        if state is State.ORDERED:
            changes["ordered_on"] = _day(event.time)
            changes["expected"] = _day(event.expected) or line.expected
        if event.said:
            changes["what"] = _answered(line, line.what, event.said)
            changes["asks"] = tuple(ask for ask in line.asks if ask.kind == "length")
        if event.what == "broken":
            changes |= {"ordered_on": None, "expected": None, "tried": False}
        into.lines[event.part] = _stand(dataclasses.replace(line, **changes), state, event.quantity, None)
    return strange


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text[:10])
    except ValueError:
        return None
