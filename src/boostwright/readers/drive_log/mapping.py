"""What each column of a log was taken for, what must be asked, and how a person's answers are kept."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, Final, NamedTuple

from boostwright.errors import LogRefused
from boostwright.library.channels import channel_kinds
from boostwright.quantity import Dimension
from boostwright.readers.drive_log.units import unit_named, units_of

__all__ = ["CLOCK", "Candidate", "ColumnMapping", "Mapping", "Question", "fingerprint"]

_VERSION: Final = 1
CLOCK: Final = "time"
"""Stands for a quantity where a column is a clock."""


class Candidate(NamedTuple):
    """One thing that a column can be."""

    key: str  # of library.channels, or 'time'
    unit: str
    cylinder: int
    confidence: float  # 0 to 1
    reason: str


class ColumnMapping(NamedTuple):
    """What one column was taken for. key: '' where it is not read, 'time' where it is a clock."""

    column: int
    heading: str
    unit: str  # as taken
    key: str
    cylinder: int
    confidence: float
    alternatives: tuple[Candidate, ...]
    reason: str
    unit_said: bool = False  # by the file or by a person
    decided: str = "program"  # or person
    source: str = ""  # group or device that the column is of


class Question(NamedTuple):
    """What must be asked rather than guessed: which of the candidates the column is, and why that is open."""

    column: int
    heading: str
    candidates: tuple[Candidate, ...]
    why: str


@dataclass(frozen=True, slots=True)
class Mapping:
    """All columns of one kind of log, and by what such a log is known again."""

    columns: tuple[ColumnMapping, ...]
    fingerprint: str = ""

    def answered(self, heading: str | int, key: str, unit: str = "", cylinder: int = 0) -> Mapping:
        """The mapping with a person's answer for one column, by its heading or its number from 0.

        key: of library.channels, or '' where the column is not to be read. unit: as quantity names it, a
        gauge or absolute pressure with the word ('psi gauge'). Raises LogRefused for an unknown heading, key,
        or unit.
        """
        found = [c for c in self.columns if heading in (c.column, c.heading)]
        if not found:
            known = ", ".join(repr(c.heading) for c in self.columns[:40])
            raise LogRefused(
                "unknown-column", f"the log has no column {heading!r}", f"Its columns are: {known}."
            )
        unit = _checked(key, unit or found[0].unit)
        done = {
            c.column: c._replace(
                key=key,
                unit=unit,
                cylinder=cylinder,
                confidence=1.0,
                alternatives=(),
                unit_said=True,
                reason="a person said so",
                decided="person",
            )
            for c in found
        }
        return replace(self, columns=tuple(done.get(c.column, c) for c in self.columns))

    def to_json(self) -> str:
        """The mapping as JSON text; `from_json` reads it."""
        return json.dumps(
            {
                "version": _VERSION,
                "fingerprint": self.fingerprint,
                "columns": [
                    {**c._asdict(), "alternatives": [a._asdict() for a in c.alternatives]}
                    for c in self.columns
                ],
            },
            indent=1,
            ensure_ascii=False,
        )

    @property
    def told_clocks(self) -> dict[str, str]:
        """By heading: the unit of a clock that a person gave."""
        return {c.heading: c.unit for c in self.columns if c.key == CLOCK and c.decided == "person"}

    @staticmethod
    def from_json(text: str) -> Mapping:
        """The mapping that a text holds. Raises LogRefused where it is none."""
        try:
            raw = json.loads(text)
            if raw["version"] != _VERSION:
                raise ValueError(f"version {raw['version']}")
            columns = tuple(_column(row) for row in raw["columns"])
            return Mapping(columns, str(raw["fingerprint"]))
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
            raise LogRefused(
                "no-mapping", f"this is no mapping of columns: {error}", "Let the program write a new one."
            ) from None


def _column(row: dict[str, Any]) -> ColumnMapping:
    alternatives = tuple(
        Candidate(str(a["key"]), str(a["unit"]), int(a["cylinder"]), float(a["confidence"]), str(a["reason"]))
        for a in row["alternatives"]
    )
    key, unit = str(row["key"]), str(row["unit"])
    return ColumnMapping(
        int(row["column"]),
        str(row["heading"]),
        _checked(key, unit) if key else unit,
        key,
        int(row["cylinder"]),
        float(row["confidence"]),
        alternatives,
        str(row["reason"]),
        bool(row["unit_said"]),
        str(row["decided"]),
        str(row["source"]),
    )


def _checked(key: str, unit: str) -> str:
    """The unit as it is named, once key and unit are known to fit. Raises LogRefused."""
    if not key:
        return unit
    if key == CLOCK:
        if unit and unit_named(unit, Dimension.TIME) is None:  # a date needs none
            raise LogRefused("unknown-unit", f"'{unit}' is no unit of time", "Write one of: s, ms, us, min.")
        return unit
    kind = channel_kinds().get(key)
    if kind is None:
        raise LogRefused(
            "unknown-channel", f"'{key}' is no quantity of a log", f"Known are: {', '.join(channel_kinds())}."
        )
    found = unit_named(unit, kind.dimension)
    names = [u.name for u in units_of(kind.dimension)]
    if not unit and len(names) == 1:
        return names[0]
    if found is None or found.asks:
        why = f"'{unit}' leaves the fuel open" if found else f"'{unit}' is no unit of {kind.dimension.value}"
        raise LogRefused("unknown-unit", why, f"Write one of: {', '.join(names)}.")
    return unit if found.name != unit and unit_named(found.name, kind.dimension) is None else found.name


def fingerprint(headings: Iterable[str], units: Iterable[str], habits: Iterable[str] = ()) -> str:
    """By what a source is known again: its headings, units and habits, not its values or its length."""
    parts = "\x1f".join(headings), "\x1f".join(units), "\x1f".join(habits)
    return hashlib.sha256("\x1e".join(parts).encode("utf-8", "surrogatepass")).hexdigest()[:32]
