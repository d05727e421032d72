"""TOML read statement by statement, so that every value knows its line and one slip does not hide the rest.

The standard library's parser reads each statement; this module finds where statements begin and end, and
carries on after one that cannot be read.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from typing import Any, Final

from boostwright.build.faults import Fault

__all__ = ["LONGEST_LINE", "MOST_LINES", "Statement", "statements"]

MOST_LINES: Final = 5000
LONGEST_LINE: Final = 2000
_LONGEST_STATEMENT: Final = 40_000
_DEEPEST: Final = 8
_MOST_PARTS: Final = 6

_CONTROL = r"\x00-\x08\x0a-\x1f\x7f"
_COMMENT = rf"[ \t]*(?:\#[^{_CONTROL}]*)?"
_FAST_PAIR = re.compile(
    r"[ \t]*([A-Za-z0-9_-]+)[ \t]*=[ \t]*"
    rf'(?:"([^"\\{_CONTROL}]*)"|([+-]?(?:0|[1-9][0-9]{{0,14}})(?:\.[0-9]{{1,15}})?)|(true|false))' + _COMMENT
)
_FAST_HEADER = re.compile(
    r"[ \t]*(?:\[[ \t]*([A-Za-z0-9_-]+)[ \t]*\]|\[\[[ \t]*([A-Za-z0-9_-]+)[ \t]*\]\])" + _COMMENT
)
_BLANK = re.compile(_COMMENT)
_BAD_CONTROL = re.compile(rf"[{_CONTROL}]")
_TOKEN = re.compile(r'"""|\'\'\'|"(?:[^"\\]|\\.)*"|\'[^\']*\'|[\[\]{}#"\']')
_NAME = r"(?:[A-Za-z0-9_-]+|\"[^\"\\]*\"|'[^']*')"
_KEY = re.compile(rf"[ \t]*({_NAME}(?:[ \t]*\.[ \t]*{_NAME})*)[ \t]*=")
_LOOKS_NEW = re.compile(
    r"[ \t]*(?:[A-Za-z_][A-Za-z0-9_.-]*[ \t]*=|\[\[?[A-Za-z_][A-Za-z0-9_.-]*\]?\][ \t]*(?:#.*)?$)"
)
_AT = re.compile(r"\(at line (\d+), column (\d+)\)|\(at end of document\)")
_LOOSE = re.compile(r"[ \t]*([A-Za-z_][A-Za-z0-9_-]{0,40})[ \t]*(?::[ \t]+|[ \t]+(?=[0-9\"']))(.+)")

_WORDS: Final = (  # what the parser says -> what we say
    ("Unclosed array", "a list is opened with [ and never closed"),
    ("Unclosed inline table", "a table is opened with { and never closed"),
    ("Unterminated string", "a text is opened with a quote and never closed"),
    ("Illegal character '\\n'", "a text is opened with a quote and never closed"),
    ("Unescaped '\\'", "a backslash in a text needs a second one before it"),
    ("Invalid hex value", "a backslash in a text needs a second one before it"),
    ("Duplicate inline table key", "the same name stands twice inside { }"),
    ("Cannot overwrite a value", "the same name stands twice"),
    ("Cannot declare", "the same name stands twice"),
    ("Invalid initial character for a key part", "there is no name before the '='"),
    ("Expected '=' after a key", "there is no '=' after the name"),
    ("Expected newline or end of document", "there is something after the value that does not belong to it"),
    ("Invalid date or datetime", "this is not a date; write 2025-03-31"),
)


@dataclass(frozen=True, slots=True)
class Statement:
    """One statement of the file. A header has `many` for [[double]] brackets; a pair has a value."""

    line: int
    path: tuple[str, ...]
    header: bool
    many: bool = False
    value: Any = None
    column: int = 1  # where the value begins
    written: str = ""  # the value as the file has it
    broken: bool = False  # the value could not be read; the fault is already reported


def statements(lines: list[str], faults: list[Fault], most_faults: int) -> list[Statement]:
    """The statements of the lines in order; what cannot be read is appended to `faults`, at most so many."""
    found: list[Statement] = []
    if len(lines) > MOST_LINES:
        said, most = f"{len(lines)} lines", f"up to {MOST_LINES} lines"
        why = "a build file is a few hundred lines of text"
        faults.append(
            Fault("too-large", MOST_LINES + 1, "", said, most, why, "Check that this is the build file.")
        )
        lines = lines[:MOST_LINES]
    at = 0
    while at < len(lines) and len(faults) < most_faults:
        line = lines[at]
        short = len(line) <= LONGEST_LINE
        pair = _FAST_PAIR.fullmatch(line) if short else None
        if pair:
            found.append(_simple(pair, at + 1))
        elif _BLANK.fullmatch(line):
            pass
        elif not short:
            faults.append(_too_long(line, at + 1))
        else:
            if _BAD_CONTROL.search(line):
                faults.append(_control(line, at + 1))
                line = lines[at] = _BAD_CONTROL.sub(" ", line)
            header = _FAST_HEADER.fullmatch(line)
            if header:
                found.append(Statement(at + 1, (header[1] or header[2],), True, header[2] is not None))
            elif line.lstrip(" \t").startswith("["):
                _header(line, at + 1, found, faults)
            elif not _BLANK.fullmatch(line):
                at = _pair(lines, at, found, faults)
                continue
        at += 1
    return found


def _simple(pair: re.Match[str], line: int) -> Statement:
    """The statement of a name with a plain text, number or flag on one line."""
    name, text, number, truth = pair.groups()
    column = pair.start(pair.lastindex or 1) + 1
    if text is not None:
        return Statement(line, (name,), False, False, text, column, text)
    if number is not None:
        value = float(number) if "." in number else int(number)
        return Statement(line, (name,), False, False, value, column, number)
    return Statement(line, (name,), False, False, truth == "true", column, truth)


def _too_long(line: str, number: int) -> Fault:
    name, said = _name_of(line), f"{len(line)} characters"
    most, why = f"up to {LONGEST_LINE} characters", "this line is too long to be read by a person"
    return Fault("too-long", number, name, said, most, why, "Break it up, or take it out.")


def _control(line: str, number: int) -> Fault:
    found = _BAD_CONTROL.search(line)
    sign, column = (ord(found[0]), found.start() + 1) if found else (0, None)
    why, remedy = "this line holds a character that cannot be seen", "Delete it, or write the line anew."
    said = f"character U+{sign:04X}"
    return Fault("control-character", number, _name_of(line), said, "plain text", why, remedy, column)


def _name_of(line: str) -> str:
    match = _KEY.match(line[:LONGEST_LINE])
    return match[1] if match and len(match[1]) <= 60 else ""


def _header(line: str, number: int, found: list[Statement], faults: list[Fault]) -> None:
    many = line.lstrip(" \t").startswith("[[")
    try:
        tree: Any = tomllib.loads(line) if line.count(".") <= _MOST_PARTS else None
    except (ValueError, RecursionError):
        tree = None
    path: list[str] = []
    while isinstance(tree, (dict, list)) and tree:
        if isinstance(tree, list):
            tree = tree[0]
            continue
        name, tree = next(iter(tree.items()))
        path.append(name)
    if path:
        found.append(Statement(number, tuple(path), True, many))
        return
    guess = re.search(r"[A-Za-z_][A-Za-z0-9_-]{0,40}", line)
    name = guess[0] if guess else "engine"
    brackets = f"[[{name}]]" if many else f"[{name}]"
    faults.append(
        Fault(
            "broken-header",
            number,
            "",
            _short(line),
            brackets,
            "this section header cannot be read",
            f"Write {brackets} on a line of its own.",
        )
    )
    if guess:
        found.append(Statement(number, (name,), True, many, broken=True))


def _pair(lines: list[str], at: int, found: list[Statement], faults: list[Fault]) -> int:
    """Read the pair that begins at line index `at`; returns the index of the line after it."""
    line = lines[at]
    key = _KEY.match(line)
    if key is None:
        _no_pair(line, at + 1, found, faults)
        return at + 1
    end, trouble = _end(lines, at, key.end())
    text = "\n".join(lines[at:end])
    column = key.end() + 1 + len(line[key.end() :]) - len(line[key.end() :].lstrip())
    written = text[key.end() :].strip()
    parts = _parts(key[1])
    if parts > _MOST_PARTS:
        trouble = "the name has too many parts"
    if not trouble:
        try:
            tree: Any = tomllib.loads(text)
        except (ValueError, RecursionError) as error:
            trouble = _in_words(str(error))
            where = _AT.search(str(error))
            if where and where[1] == "1":
                column = int(where[2])
        else:
            path: list[str] = []
            while isinstance(tree, dict) and len(tree) == 1 and len(path) < parts:
                name, tree = next(iter(tree.items()))
                path.append(name)
            found.append(Statement(at + 1, tuple(path), False, False, tree, column, _short(written)))
            return end
    name = key[1].strip()
    rescued = _rescue(written)
    remedy = (
        f'Write {_short(name)} = "{_short(rescued)}".'
        if rescued
        else "Write the line anew, or put a # before it."
    )
    faults.append(
        Fault(
            "broken-value", at + 1, _short(name), _short(written), 'name = "value"', trouble, remedy, column
        )
    )
    path = [part.strip().strip("\"'") for part in name.split(".")[: _MOST_PARTS + 1]]
    found.append(
        Statement(
            at + 1, tuple(path), False, False, rescued or None, column, _short(written), broken=not rescued
        )
    )
    return end


def _no_pair(line: str, number: int, found: list[Statement], faults: list[Fault]) -> None:
    """Report a line without '='; a name and a value beside each other are read all the same."""
    loose = _LOOSE.fullmatch(line)
    if loose is None:
        form, why = (
            'name = "value", [section] or # comment',
            "this is neither a value nor a section nor a comment",
        )
        remedy = "Put a # before it if it is a remark."
        faults.append(Fault("broken-line", number, "", _short(line), form, why, remedy))
        return
    name, value = loose[1], loose[2].strip().strip("\"'")
    why, remedy = "there is no '=' between name and value", f'Write {name} = "{_short(value)}".'
    faults.append(Fault("no-equals", number, name, _short(line), 'name = "value"', why, remedy))
    found.append(Statement(number, (name,), False, value=value, written=value))


def _rescue(written: str) -> str:
    """The text that a person most likely meant by an unquoted or half-quoted value, or ''."""
    if "\n" in written or len(written) > 60:
        return ""
    bare = written.split("#")[0].strip().strip("\"'").strip()
    return bare if re.fullmatch(r"[0-9A-Za-z+\-][^\"'\[\]{}\\=]*", bare) else ""


def _parts(key: str) -> int:
    return len(re.findall(r"\"[^\"\\]*\"|'[^']*'|[A-Za-z0-9_-]+", key))


def _end(lines: list[str], at: int, start: int) -> tuple[int, str]:
    """Where the value from (line `at`, column `start`) ends: (index after its last line, trouble or '')."""
    depth = 0
    number = at
    size = 0
    position = start
    while number < len(lines):
        line = lines[number]
        size += len(line)
        if size > _LONGEST_STATEMENT or len(line) > LONGEST_LINE:
            return at + 1, "this value goes on for too long"
        if number > at and depth and _LOOKS_NEW.match(line):
            return number, "a list is opened with [ and never closed"
        if number > at and _BAD_CONTROL.search(line):
            line = lines[number] = _BAD_CONTROL.sub(" ", line)
        token = _TOKEN.search(line, position)
        while token:
            mark = token[0]
            position = token.end()
            if mark == "#":
                break
            if mark in "[{":
                depth += 1
                if depth > _DEEPEST:
                    return at + 1, "lists are nested too deeply"
            elif mark in "]}":
                depth -= 1
            elif mark in ('"""', "'''"):
                closing = line.find(mark, position)
                while closing < 0:
                    number += 1
                    if number >= len(lines) or number - at > 200:
                        return at + 1, "a text is opened with three quotes and never closed"
                    line = lines[number]
                    size += len(line)
                    if size > _LONGEST_STATEMENT:
                        return at + 1, "this value goes on for too long"
                    closing = line.find(mark, 0)
                position = closing + 3
                while position < len(line) and line[position] == mark[0] and position < closing + 5:
                    position += 1
            elif mark in "\"'":
                return number + 1, "a text is opened with a quote and never closed"
            token = _TOKEN.search(line, position)
        if depth <= 0:
            return number + 1, ""
        number += 1
        position = 0
        if number - at > 400:
            break
    return at + 1, "a list is opened with [ and never closed"


def _in_words(problem: str) -> str:
    for theirs, ours in _WORDS:
        if theirs in problem:
            return ours
    return "the value after '=' cannot be read"


def _short(text: str) -> str:
    text = text.strip().replace("\n", " ")
    return text if len(text) <= 60 else text[:57] + "..."
