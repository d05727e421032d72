"""What changed between two texts of a build file: field by field where both can be read, else line by
line.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass

from boostwright.build.document import Build, Row
from boostwright.build.values import StatedValue
from boostwright.errors import BuildFileError
from boostwright.readers.build_file import read_build
from boostwright.store.documents import Document

__all__ = ["Change", "Difference", "difference"]


@dataclass(frozen=True, slots=True)
class Change:
    """One field. before, after: as it was written, with where it comes from; '' where it is not stated.
    line: in the newer text, else in the older one.
    """

    field: str
    before: str
    after: str
    line: int | None


@dataclass(frozen=True, slots=True)
class Difference:
    """changes: None where one of the texts cannot be read as a build. lines: as `diff -u` writes them.
    files: those beside the build file whose content differs.
    """

    changes: tuple[Change, ...] | None
    lines: tuple[str, ...]
    files: tuple[str, ...]

    @property
    def none(self) -> bool:
        """True when the two are the same, byte for byte."""
        return not self.lines and not self.files


def difference(old: Document, new: Document) -> Difference:
    """What changed from one document to another."""
    lines = difflib.unified_diff(
        old.text.splitlines(), new.text.splitlines(), "older", "newer", lineterm="", n=1
    )
    names = sorted({*old.files, *new.files})
    files = tuple(name for name in names if old.files.get(name) != new.files.get(name))
    before, after = _fields(old), _fields(new)
    changes = None if before is None or after is None else _changes(before, after)
    told = tuple(lines)
    if not told and old.body != new.body:
        told = ("only the ends of its lines differ",)
    return Difference(changes, told, files)


def _changes(before: Mapping[str, StatedValue], after: Mapping[str, StatedValue]) -> tuple[Change, ...]:
    found = []
    for name in [*after, *(name for name in before if name not in after)]:
        old, new = before.get(name), after.get(name)
        if old is None or new is None or _meaning(old) != _meaning(new):
            sources = old is None or new is None or old.source is not new.source
            place = new or old
            found.append(
                Change(name, _said(old, sources), _said(new, sources), place.line if place else None)
            )
    return tuple(found)


def _meaning(value: StatedValue) -> tuple[object, ...]:
    return value.value, value.sd, value.source, value.kind


def _said(value: StatedValue | None, with_source: bool) -> str:
    if value is None:
        return ""
    text = value.text or str(value.value)
    return f"{text} ({value.source.value})" if with_source else text


def _fields(document: Document) -> dict[str, StatedValue] | None:
    def beside(name: str) -> bytes:
        if name not in document.files:
            raise FileNotFoundError(name)
        return document.files[name]

    try:
        build = read_build(document.body, "", beside)
    except BuildFileError:
        return None
    return {**build.values, **_rows(build)}


def _rows(build: Build) -> dict[str, StatedValue]:
    """The fields of the lists of tables, each under its row's name or, without one, its place in the list."""
    found = {}
    for section, rows in build.tables.items():
        names = [_name(row) for row in rows]
        for number, (row, name) in enumerate(zip(rows, names, strict=True), 1):
            label = name if name and names.count(name) == 1 else str(number)
            found.update({f"{section}[{label}].{key}": value for key, value in row.items()})
    return found


def _name(row: Row) -> str:
    named = row.get("name")
    return str(named.value) if named is not None else ""
