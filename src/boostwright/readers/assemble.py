"""From statements to sections: which value stands under which name, what is unknown, doubled or missing."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final

from boostwright.build.catalogue import Ask, Catalogue, Section
from boostwright.build.faults import Fault
from boostwright.quantity import nearest
from boostwright.readers.toml_lines import Statement

__all__ = ["RESERVED", "Entry", "Filled", "assemble"]

RESERVED: Final = ("source", "note")
"""Names that every section may use: where its values come from, and a remark."""

_MOST_TABLES: Final = 500


@dataclass(slots=True)
class Entry:
    """One value as it stands in the file."""

    value: Any
    line: int
    column: int
    written: str
    broken: bool = False


@dataclass(slots=True)
class Filled:
    """One section, or one table of a list section, as it stands in the file."""

    section: str
    line: int
    entries: dict[str, Entry] = field(default_factory=dict)
    source: Entry | None = None


@dataclass(slots=True)
class _State:
    catalogue: Catalogue
    faults: list[Fault]
    found: dict[str, list[Filled]]
    top_source: Entry | None = None
    strange: dict[str, int] = field(default_factory=dict)  # unknown sections already reported


def assemble(
    parts: list[Statement], known: Catalogue, last_line: int, faults: list[Fault]
) -> tuple[dict[str, list[Filled]], Entry | None]:
    """The sections that the statements fill, and the source that the file states for all.

    Unknown and doubled names, sections of the wrong form and missing sections are appended to `faults`.
    """
    state = _State(known, faults, {})
    prefix: tuple[str, ...] = ()
    current: Filled | None = None
    skipping = False
    for part in parts:
        if part.header:
            prefix = part.path[1:]
            current = _open(part, state)
            skipping = current is None
            continue
        if skipping:
            continue
        path = prefix + part.path
        if current is None:
            _top(part, state)
        else:
            _put(current, path, part, state)
    for section in known.sections.values():
        if section.required and section.name not in state.found:
            must = [f.name for f in section.fields if f.ask is Ask.MUST]
            faults.append(
                Fault(
                    "missing-section",
                    last_line,
                    section.name,
                    "nothing",
                    f"[{section.name}]",
                    f"the section [{section.name}] is missing: {section.words}",
                    f"Add [{section.name}]" + (f" with {', '.join(must)}." if must else "."),
                )
            )
    return state.found, state.top_source


def _open(part: Statement, state: _State) -> Filled | None:
    name = part.path[0]
    section = state.catalogue.sections.get(name)
    if section is None:
        section = _unknown_section(name, part, state)
        if section is None:
            return None
        name = section.name
    there = state.found.get(name)
    if section.many:
        if not part.many and len(part.path) == 1:
            state.faults.append(
                Fault(
                    "wrong-form",
                    part.line,
                    name,
                    f"[{name}]",
                    f"[[{name}]]",
                    f"there can be several {name}",
                    f"Write [[{name}]], once for each.",
                )
            )
        if there and len(part.path) > 1:
            return there[-1]
        filled = Filled(name, part.line)
        if there is None:
            state.found[name] = [filled]
        elif len(there) < _MOST_TABLES:
            there.append(filled)
        return filled
    if part.many:
        state.faults.append(
            Fault(
                "wrong-form",
                part.line,
                name,
                f"[[{name}]]",
                f"[{name}]",
                f"there is only one {name}",
                f"Write [{name}].",
            )
        )
    if there:
        if len(part.path) == 1:
            state.faults.append(
                Fault(
                    "duplicate-section",
                    part.line,
                    name,
                    f"[{name}]",
                    "each section once",
                    f"the section [{name}] already stands on line {there[0].line}",
                    "Move these lines there.",
                )
            )
        return there[0]
    filled = Filled(name, part.line)
    state.found[name] = [filled]
    return filled


def _unknown_section(name: str, part: Statement, state: _State) -> Section | None:
    """Report an unknown section once; returns the one that a near spelling meant, so that it is read."""
    sections = state.catalogue.sections
    folded = {known.casefold(): known for known in sections}
    near = nearest(name, sections, count=2, cutoff=0.7)
    meant = folded.get(name.casefold()) or (near[0] if near else "")
    if name not in state.strange:
        state.strange[name] = part.line
        shown = name[:60]
        remedy = (
            f"Write [{meant}]."
            if meant
            else "Take it out, or see which sections there are: boostwright explain."
        )
        state.faults.append(
            Fault(
                "unknown-section",
                part.line,
                shown,
                f"[{shown}]",
                "a known section",
                f"there is no section [{shown}]",
                remedy,
            )
        )
    return sections[meant] if meant and meant not in state.found else None


def _top(part: Statement, state: _State) -> None:
    """A pair before the first section."""
    name = part.path[0] if part.path else ""
    if len(part.path) == 1 and name == "source" and not isinstance(part.value, (dict, list)):
        state.top_source = Entry(part.value, part.line, part.column, part.written, part.broken)
        return
    if name in state.catalogue.sections and (len(part.path) > 1 or isinstance(part.value, (dict, list))):
        many = isinstance(part.value, list)
        tables = part.value if isinstance(part.value, list) else [part.value]
        for table in tables[:_MOST_TABLES]:
            header = Statement(part.line, (name,), True, many)
            section = state.catalogue.sections[name]
            filled = (
                state.found[name][0] if name in state.found and not section.many else _open(header, state)
            )
            if filled is not None:
                rest = Statement(
                    part.line, part.path, False, False, table, part.column, part.written, part.broken
                )
                _put(filled, part.path[1:], rest, state)
        return
    homes = [s for s, names in state.catalogue.names_by_section.items() if name in names]
    where = f"Put it under [{homes[0]}]." if homes else "Put it under its section."
    state.faults.append(
        Fault(
            "no-section",
            part.line,
            name[:60],
            part.written,
            "inside a section",
            f"'{name[:60]}' stands before the first section",
            where,
            part.column,
        )
    )


def _put(filled: Filled, path: tuple[str, ...], part: Statement, state: _State) -> None:
    """Put a value into a section; an inline table where a field's name would be is taken apart."""
    if not path:
        if not isinstance(part.value, dict):
            state.faults.append(
                Fault(
                    "wrong-form",
                    part.line,
                    filled.section,
                    part.written,
                    f"[{filled.section}]",
                    f"{filled.section} is a section, not a value",
                    f"Write [{filled.section}] and its values below.",
                    part.column,
                )
            )
            return
        for name, value in list(part.value.items())[:200]:
            one = Statement(part.line, (name,), False, False, value, part.column, _shown(value))
            _put(filled, (name,), one, state)
        return
    name = path[0]
    value = part.value
    for inner in reversed(path[1:]):
        value = {inner: value}
    entry = Entry(value, part.line, part.column, part.written, part.broken)
    names = state.catalogue.names_by_section[filled.section]
    if name in RESERVED and name not in names:
        if name == "source":
            if filled.source is not None:
                _doubled(filled, name, entry, filled.source.line, state)
            else:
                filled.source = entry
        return
    known = _known_name(filled, name, entry, names.keys(), state)
    if not known:
        return
    there = filled.entries.get(known)
    if there is None:
        filled.entries[known] = entry
    elif isinstance(there.value, dict) and isinstance(value, dict) and len(path) > 1:
        clash = [key for key in value if key in there.value]
        if clash:
            _doubled(filled, f"{known}.{clash[0][:60]}", entry, there.line, state)
        else:
            there.value.update(value)
    else:
        _doubled(filled, known, entry, there.line, state)


def _known_name(filled: Filled, name: str, entry: Entry, names: Any, state: _State) -> str:
    """The catalogue's name that is meant, or ''; a name that is not exactly right is reported."""
    if name in names:
        return name
    shown = name[:60]
    near = nearest(name, names, count=2)
    homes = [
        s for s, theirs in state.catalogue.names_by_section.items() if name in theirs and s != filled.section
    ]
    if homes:
        remedy = f"It belongs under [{homes[0]}]."
    elif near:
        remedy = f"Did you mean {' or '.join(near)}?"
    else:
        remedy = f"See what [{filled.section}] can say: boostwright explain {filled.section}."
    state.faults.append(
        Fault(
            "unknown-key",
            entry.line,
            f"{filled.section}.{shown}",
            entry.written,
            "",
            f"[{filled.section}] has no '{shown}'",
            remedy,
        )
    )
    if near and not homes and near[0] not in filled.entries and near[0] not in ("source", "note"):
        close = nearest(name, [near[0]], count=1, cutoff=0.8)
        return close[0] if close else ""
    return ""


def _doubled(filled: Filled, name: str, entry: Entry, first: int, state: _State) -> None:
    state.faults.append(
        Fault(
            "duplicate-key",
            entry.line,
            f"{filled.section}.{name}",
            entry.written,
            "each name once",
            f"'{name}' already stands on line {first}",
            "Keep the right one and take the other out.",
            entry.column,
        )
    )


def _shown(value: Any) -> str:
    text = str(value)
    return text if len(text) <= 60 else text[:57] + "..."
