"""The parts list as CSV for a spreadsheet and as JSON for programs."""

from __future__ import annotations

import csv
import io
import json
from typing import Any, Final, NamedTuple

from boostwright.findings.notes import deference
from boostwright.library.supplies import odds, places
from boostwright.planning.parts import Due, Line, MissingOdds, Money, PartsList, ToolLine

__all__ = ["PARTS_COLUMNS", "PARTS_FORMAT", "Account", "parts_csv", "parts_document"]

PARTS_FORMAT = 1
"""The number of the document's form; it grows when a field changes its meaning or goes away."""

PARTS_COLUMNS: Final = (
    "line", "group", "state", "what", "quantity", "unit", "there", "where", "seller", "price_low_EUR",
    "price_high_EUR", "price_from", "lead_days", "needed_on", "order_by", "too_late", "ordered_on",
    "expected", "spare", "tried", "joints", "tasks", "to_find_out", "instead", "note", "paid_EUR", "is",
)  # fmt: skip
_MARK: Final = "\ufeff"
_COMMANDS: Final = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20", "|", "%")


class Account(NamedTuple):
    """A list with what follows from it. due: None where no day was given."""

    parts: PartsList
    odds: MissingOdds
    money: Money
    due: tuple[Due, ...] | None
    note: str = ""  # a sentence to stand on the page


def parts_csv(account: Account, semicolon: bool = False, mark: bool = False) -> str:
    """The list as CSV after RFC 4180 (rfc4180): a row of names, line ends CR LF, quotes doubled.

    semicolon: fields set apart by semicolons and decimal commas, as spreadsheets in much of Europe read them.
    mark: with the mark in front by which they know UTF-8.
    A text that a spreadsheet would run as a formula gets an apostrophe in front. The last two columns are
    left blank to be filled in.
    """
    text = io.StringIO()
    table = csv.writer(text, delimiter=";" if semicolon else ",", lineterminator="\r\n")
    table.writerow(PARTS_COLUMNS)
    by = {due.key: due for due in account.due or ()}

    def number(value: float | None, form: str = ".6g") -> str:
        said = "" if value is None else format(value, form)
        return said.replace(".", ",") if semicolon else said

    for line in account.parts.lines:
        due = by.get(line.key)
        table.writerow(
            (
                line.key, line.group.value, line.state.value, _cell(line.what), number(line.quantity),
                line.unit, number(line.there), places()[line.where].words, _cell(line.seller),
                number(line.cost.low, ".2f"), number(line.cost.high, ".2f"), line.cost.source,
                number(line.lead.days), "" if due is None else due.needed.isoformat(),
                "" if due is None else due.by.isoformat(), "too late" if due is not None and due.late else "",
                "" if line.ordered_on is None else line.ordered_on.isoformat(),
                "" if line.expected is None else line.expected.isoformat(),
                "" if line.needed else "spare", "yes" if line.tried else "", _cell(", ".join(line.joints)),
                ", ".join(line.tasks), _cell("; ".join(ask.words for ask in line.asks)), _cell(line.other),
                _cell(line.note), "", "",
            )
        )  # fmt: skip
    return (_MARK if mark else "") + text.getvalue()


def _cell(text: str) -> str:
    """A text as a cell that no spreadsheet runs, whatever it leaves away before it."""
    return f"'{text}" if text.lstrip().startswith(_COMMANDS) or text[:1] in ("\t", "\r", "\n") else text


def _line(line: Line) -> dict[str, Any]:
    return {
        "line": line.key,
        "group": line.group.value,
        "state": line.state.value,
        "what": line.what,
        "supply": line.item,
        "quantity": line.quantity,
        "unit": line.unit,
        "there": line.there,
        "where": line.where,
        "seller": line.seller,
        "order": line.order,
        "price": {"low": line.cost.low, "high": line.cost.high, "source": line.cost.source},
        "lead": {"days": line.lead.days, "log_sd": line.lead.log_sd, "source": line.lead.source},
        "ordered_on": None if line.ordered_on is None else line.ordered_on.isoformat(),
        "expected": None if line.expected is None else line.expected.isoformat(),
        "needed": line.needed,
        "tried": line.tried,
        "joints": list(line.joints),
        "tasks": list(line.tasks),
        "to_find_out": [{"kind": ask.kind, "words": ask.words} for ask in line.asks],
        "instead": line.other,
        "note": line.note,
    }


def _tool(tool: ToolLine) -> dict[str, Any]:
    return {
        "tool": tool.key,
        "words": tool.words,
        "way": tool.way,
        "tasks": list(tool.tasks),
        "there": tool.there,
        "price": None if tool.cost is None else {"low": tool.cost.low, "high": tool.cost.high},
    }


def parts_document(account: Account, name: str, version: str, data: str, fingerprint: str) -> str:
    """The list as JSON: money [EUR], lead times [days], odds [-]; quantities in the unit beside them."""
    parts, missing, money = account.parts, account.odds, account.money
    document = {
        "format": PARTS_FORMAT,
        "version": version,
        "data": data,
        "fingerprint": fingerprint,
        "build": name,
        "closed": parts.closed,
        "lines": [_line(line) for line in parts.lines],
        "tools": [_tool(tool) for tool in parts.tools],
        "note": account.note,
        "strange": list(parts.strange),
        "left": list(parts.left),
        "odds": {
            "day": None if missing.day is None else missing.day.isoformat(),
            "today": None if missing.today is None else missing.today.isoformat(),
            "planned": missing.planned,
            "independent": missing.independent,
            "together": missing.together,
            "correlation": odds().together,
            "orders": missing.orders,
            "expected": missing.expected,
            "not_ordered": missing.unordered,
            "source": odds().source,
            "lines": [{"line": o.key, "wrong": o.wrong, "late": o.late} for o in missing.lines],
        },
        "money": {
            **{key: getattr(money, key)._asdict() for key in ("total", "left", "parts", "spares", "tools")},
            "drivers": [driver._asdict() for driver in money.drivers[:12]],
            "budget": money.budget,
            "reserve": money.reserve,
            "over": None if money.over is None else list(money.over),
            "not_compared": money.why_not,
        },
        "order_first": None
        if account.due is None
        else [
            {
                "line": d.key,
                "by": d.by.isoformat(),
                "days": d.days,
                "late": d.late,
                "needed": d.needed.isoformat(),
                "odds": d.odds,
            }
            for d in account.due
        ],
        "defer": deference(),
    }
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
