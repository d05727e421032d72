"""A field, a section or a finding in plain words, for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from boostwright.build.catalogue import catalogue
from boostwright.build.explain import Explained, Explanation
from boostwright.build.explain import explain as explain_field
from boostwright.errors import UnknownField
from boostwright.findings.limits import shipped_limits
from boostwright.findings.registry import Rule, rules
from boostwright.views.numbers import say_band

__all__ = ["explained"]

_LABEL = 15


def explained(name: str, width: int = 80) -> str:
    """The explanation, ending in a line break. Raises UnknownField, which names the nearest fields."""
    asked = name.strip()
    if not asked:
        return _sections(width)
    rule = next((r for r in rules() if r.code == asked), None)
    if rule is not None and asked in catalogue().fields:  # a field and the finding on it may share a name
        return _field(explain_field(asked), width) + "\n" + _rule(rule, width)
    if rule is not None:
        return _rule(rule, width)
    try:
        return _field(explain_field(asked), width)
    except UnknownField as unknown:
        word = asked.casefold()
        near = [r for r in rules() if len(word) > 2 and (word in r.code or word in r.subject.casefold())]
        if len(near) == 1:
            return _rule(near[0], width)
        if near:
            rows = _listed(((r.code, r.asks) for r in near), width)
            return "\n".join([f"Findings that speak of '{asked}'", "─" * width, *rows]) + "\n"
        hint = "'boostwright explain' alone lists the sections and the findings."
        raise UnknownField(f"{unknown} {hint}") from None


def _rows(rows: Iterable[tuple[str, str]], width: int) -> list[str]:
    lines: list[str] = []
    for label, text in rows:
        if text:
            lines += textwrap.wrap(
                text,
                width,
                initial_indent=f"  {label}".ljust(_LABEL),
                subsequent_indent=" " * _LABEL,
                break_on_hyphens=False,
            )
    return lines


def _listed(rows: Iterable[tuple[str, str]], width: int) -> list[str]:
    rows = tuple(rows)
    column = min(34, max((len(name) for name, _ in rows), default=0) + 4)
    lines: list[str] = []
    for name, words in rows:
        start = f"  {name}".ljust(column)
        if len(start) > column:
            lines.append(start)
            start = " " * column
        lines += textwrap.wrap(words or "-", width, initial_indent=start, subsequent_indent=" " * column)
    return lines


def _sections(width: int) -> str:
    lines = ["The sections of a build file", "─" * width]
    lines += _listed(((s.name, s.words) for s in catalogue().sections.values()), width)
    lines += ["", "The findings", "─" * width]
    lines += _listed(((r.code, r.asks) for r in rules()), width)
    lines += [
        "",
        *textwrap.wrap("Ask for one by its name, or for a field: boostwright explain engine.bore", width),
    ]
    return "\n".join(lines) + "\n"


def _rule(rule: Rule, width: int) -> str:
    lines = [f"{rule.code}: {rule.subject}", "─" * width]
    rows = [
        ("asks", rule.asks),
        ("asked", f"{rule.demand}."),
        ("stands", f"{rule.capacity}."),
        ("holds when", f"what is asked is {rule.sense.value} what it stands."),
        ("if not", f"{rule.harm_words} ({rule.harm.words})."),
    ]
    for key in rule.limits:
        limit = shipped_limits()[key]
        record = limit.record
        rows.append(
            (
                "limit",
                f"{limit.amount.name}: {say_band(limit.amount)}. {record.reason} Source: {record.source}.",
            )
        )
    return "\n".join(lines + _rows(rows, width)) + "\n"


def _field(told: Explanation, width: int) -> str:
    lines = [f"{told.path}: {told.words}", "─" * width]
    if told.asked:
        lines += textwrap.wrap(f"You asked for '{told.asked}'; this is the nearest.", width)
    if told.about is not Explained.FIELD:
        return "\n".join([*lines, *_listed(told.fields, width)]) + "\n"
    usual = [(f"usual ({source})", text) for source, text in told.spreads]
    rows: list[tuple[str, str]] = [
        ("write", told.written),
        ("units", told.units),
        ("pressure", told.pressure),
        ("allowed", told.allowed + (f": {told.reason}" if told.allowed and told.reason else "")),
        ("usual", told.usual),
        ("measure", told.measure),
        ("if wrong", told.harm),
    ]
    rows += [("choose", f"{word}: {meaning}") for word, meaning in told.choices]
    rows += [("refused", f"{word}: {remedy}") for word, remedy in told.refused]
    rows += [("left out", f"{text}" + (f" ({name})" if name else "")) for name, text in told.defaults]
    rows += [("spread", f"{label.removeprefix('usual ').strip('()')}: {text}") for label, text in usual]
    rows += [("asked for", told.wanted), ("used", told.used)]
    return "\n".join(lines + _rows(rows, width)) + "\n"
