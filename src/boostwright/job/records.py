"""The kinds of record: a reading, something that was done, a part that came or broke, a gate opened against
its data, a withdrawal.

Every record carries an id that its writer made up (so that sending it twice keeps it once), who wrote it, and
when it happened. Values are SI; what the person wrote stays beside them.
"""

from __future__ import annotations

import dataclasses
import secrets
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import Enum
from typing import Any, Final

__all__ = [
    "KINDS",
    "Override",
    "PartEvent",
    "Reading",
    "Record",
    "Step",
    "TaskEvent",
    "Withdrawal",
    "batch_ids",
    "batch_of",
    "from_plain",
    "new_id",
    "now",
    "standing",
    "to_plain",
]


_BATCH: Final = 16  # digits that the ids of one batch share


def new_id() -> str:
    """A new id: 32 hexadecimal digits, never the same twice."""
    return secrets.token_hex(16)


def batch_ids(count: int) -> tuple[str, ...]:
    """New ids of records that are written together: their first sixteen digits are the same."""
    first = secrets.token_hex(_BATCH // 2)
    return tuple(f"{first}{secrets.token_hex(_BATCH // 2)}" for _ in range(count))


def batch_of(record_id: str) -> str:
    """What the ids of one batch have in common; no two records share it by chance."""
    return record_id[:_BATCH]


def now() -> str:
    """This moment: UTC, ISO 8601 with milliseconds."""
    return datetime.now(UTC).isoformat(timespec="milliseconds")


@dataclass(frozen=True, slots=True)
class Reading:
    """One measurement as it was taken.

    measurement: its key in the catalogue of measurements. values: one for each place it is taken at, such as
    each cylinder [SI]; empty where the answer is in `answer`. sd: standard deviation of one value [SI]; None
    for the catalogue's. answer: yes, no, a choice or words. when: 'before' the conversion, 'during' it or
    'after' it. step: the commissioning step that it was taken for, else ''. photos: digests of kept photos.
    """

    id: str
    who: str
    time: str
    measurement: str
    values: tuple[float, ...] = ()
    sd: float | None = None
    answer: str = ""
    text: str = ""  # as the person wrote it
    when: str = ""
    step: str = ""
    instrument: str = ""
    witness: str = ""
    note: str = ""
    photos: tuple[str, ...] = ()


class Step(Enum):
    """What can happen to a task."""

    STARTED = "started"
    PAUSED = "paused"
    DONE = "done"
    REOPENED = "reopened"  # was done, has to be done again
    PROBLEM = "problem"  # it stands still for a reason: `note` says which, `kind` of which sort
    NOT_NEEDED = "not needed"


@dataclass(frozen=True, slots=True)
class TaskEvent:
    """Something that happened to one task of the plan. what: a `Step`'s value. kind: of a problem, such as
    'part missing', 'stud broken', 'time lost'. joints: torque values as read back, by the joint's name [N m].
    """

    id: str
    who: str
    time: str
    task: str
    what: str
    witness: str = ""
    note: str = ""
    kind: str = ""
    joints: tuple[tuple[str, float], ...] = ()
    photos: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PartEvent:
    """Something that happened to one line of the parts list. part: its key. what: 'have', 'ordered',
    'missing', 'used', 'broken' or 'not needed'. quantity: there now, in the line's unit. price: of it all
    [EUR]. expected: the day it is to be here, ISO 8601. said: what it is in full, where the list asks for
    it.
    """

    id: str
    who: str
    time: str
    part: str
    what: str
    quantity: float | None = None
    price: float | None = None
    expected: str = ""
    seller: str = ""
    said: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Override:
    """A gate that a person opened although its data do not open it. gate: the step or hold point."""

    id: str
    who: str
    time: str
    gate: str
    reason: str
    witness: str = ""


@dataclass(frozen=True, slots=True)
class Withdrawal:
    """Another record is taken back; both stay. of: the id of that record."""

    id: str
    who: str
    time: str
    of: str
    reason: str = ""


Record = Reading | TaskEvent | PartEvent | Override | Withdrawal

KINDS: Final[Mapping[str, type[Any]]] = {
    "reading": Reading,
    "task": TaskEvent,
    "part": PartEvent,
    "override": Override,
    "withdrawal": Withdrawal,
}
"""The kinds of record by the word that stands for each in plain data."""

_NAMES: Final = {kind: name for name, kind in KINDS.items()}
_PARTS: Final = {kind: tuple(part.name for part in dataclasses.fields(kind)) for kind in KINDS.values()}
_KNOWN: Final = {kind: frozenset(parts) for kind, parts in _PARTS.items()}
_MUST: Final = frozenset({"id", "who", "time"})


def to_plain(record: Record) -> dict[str, Any]:
    """A record as a dictionary of texts, numbers and lists, with its kind under 'kind_of_record'."""
    kind = type(record)
    return {"kind_of_record": _NAMES[kind]} | {name: _listed(getattr(record, name)) for name in _PARTS[kind]}


def _listed(value: Any) -> Any:
    return [_listed(item) for item in value] if isinstance(value, tuple) else value


def _tupled(value: Any) -> Any:
    return tuple(_tupled(item) for item in value) if isinstance(value, list) else value


def from_plain(plain: Mapping[str, Any]) -> Record:
    """The record that `to_plain` wrote. Raises ValueError for what is none."""
    kind = KINDS.get(str(plain.get("kind_of_record")))
    if kind is None:
        raise ValueError(f"there is no kind of record '{plain.get('kind_of_record')}'")
    given = {key: _tupled(value) if isinstance(value, list) else value for key, value in plain.items()}
    del given["kind_of_record"]
    if not _MUST <= given.keys() <= _KNOWN[kind]:
        unknown, missing = given.keys() - _KNOWN[kind], _MUST - given.keys()
        raise ValueError(f"a record with unknown parts {sorted(unknown)} or without {sorted(missing)}")
    try:
        made: Record = kind(**given)
    except TypeError as mishap:
        raise ValueError(str(mishap)) from None
    return made


def standing(records: Iterable[Record]) -> tuple[Record, ...]:
    """The records that count, in their order: those that nobody took back, without the withdrawals.

    A withdrawal of a withdrawal brings the record back.
    """
    kept = list(records)
    gone: set[str] = set()
    for record in reversed(kept):
        if isinstance(record, Withdrawal) and record.id not in gone:
            gone.add(record.of)
    return tuple(r for r in kept if r.id not in gone and not isinstance(r, Withdrawal))
