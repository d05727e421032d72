"""Records in the store: added and never changed, read back as they were, the newest of each subject by its
index.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from typing import Any, Final, NamedTuple, TypeVar

from sqlalchemy import Connection, func, insert, select

from boostwright.errors import CannotKeep, HistoryError
from boostwright.job import (
    KINDS,
    Override,
    PartEvent,
    Reading,
    Record,
    TaskEvent,
    Withdrawal,
    from_plain,
    to_plain,
)
from boostwright.store.tables import record
from boostwright.store.words import kept_text

__all__ = [
    "Tally",
    "add_records",
    "counts_of",
    "kind_of",
    "latest_records",
    "newest_of",
    "read_records",
    "records_about",
    "subject_of",
]

_NAMES: Final = {kind: name for name, kind in KINDS.items()}
_AT_ONCE: Final = 500  # ids asked for in one question

T = TypeVar("T")


class Tally(NamedTuple):
    """How many records there are, how many stand and how many were taken back. stand: ids of those that stand
    among the ones that were read.
    """

    records: int
    standing: int
    gone: int
    stand: frozenset[str]


def kind_of(one: Record) -> str:
    """The kind of a record, such as 'reading'."""
    return _NAMES[type(one)]


def subject_of(one: Record) -> str:
    """What a record is about: a measurement, a task, a gate, or the record that is taken back."""
    match one:
        case Reading():
            return one.measurement
        case TaskEvent():
            return one.task
        case PartEvent():
            return one.part
        case Override():
            return one.gate
        case Withdrawal():
            return one.of


def add_records(connection: Connection, build: str, records: Sequence[Record]) -> int:
    """Append the records that are not there yet and return how many; the build's row is locked by the caller.

    Raises HistoryError where an id is already that of another record: nothing is added then.
    """
    rows: dict[str, dict[str, Any]] = {}
    for one in records:
        row = _row(build, one)
        if rows.setdefault(one.id, row)["body"] != row["body"]:
            raise _taken(one.id)
    for some in _parts(list(rows), _AT_ONCE):
        found = select(record.c.id, record.c.body).where(record.c.build == build, record.c.id.in_(some))
        for known, body in connection.execute(found).all():
            if rows.pop(known)["body"] != body:
                raise _taken(known)
    if rows:
        last = select(func.max(record.c.number)).where(record.c.build == build)
        before = connection.execute(last).scalar() or 0
        for number, row in enumerate(rows.values(), before + 1):
            row["number"] = number
        connection.execute(insert(record), list(rows.values()))
    return len(rows)


def _taken(known: str) -> CannotKeep:
    return CannotKeep(
        f"record {known} is in the store with another content. A record is never changed: take it back and"
        " write a new one, with an id of its own."
    )


def _row(build: str, one: Record) -> dict[str, Any]:
    try:
        body = json.dumps(to_plain(one), allow_nan=False, separators=(",", ":"))
    except (TypeError, ValueError) as mishap:
        raise CannotKeep(
            f"a {kind_of(one)} cannot be kept: {mishap}. Its values must be finite numbers and texts."
        ) from None
    texts = {"id": one.id, "subject": subject_of(one), "time": one.time, "who": one.who}
    clean = {name: kept_text(value, f"the {name} of a {kind_of(one)}") for name, value in texts.items()}
    if not clean["id"]:
        raise CannotKeep(
            f"a {kind_of(one)} without an id cannot be kept; boostwright.job.new_id() makes one."
        )
    return {"build": build, "number": 0, "kind": kind_of(one), "body": body, **clean}


def read_records(connection: Connection, build: str) -> tuple[Record, ...]:
    """Every record of a build in the order of arrival."""
    rows = connection.execute(
        select(record.c.id, record.c.body).where(record.c.build == build).order_by(record.c.number)
    )
    return tuple(_record(row) for row in rows.all())


def latest_records(connection: Connection, build: str, most: int) -> tuple[tuple[Record, ...], Tally]:
    """The records that happened last, in the order of arrival, with those that they take back; and how many
    there are in all. Only so many are read.
    """
    of = record.c.build == build
    last = (
        select(record.c.number).where(of).order_by(record.c.time.desc(), record.c.number.desc()).limit(most)
    )
    numbers = set(connection.execute(last).scalars())
    rows = _rows_of(connection, of, record.c.number, sorted(numbers))
    meant = [row.subject for row in rows if row.kind == _NAMES[Withdrawal]]
    while meant:
        more = _rows_of(connection, of, record.c.id, meant)
        more = [row for row in more if row.number not in numbers]
        numbers |= {row.number for row in more}
        rows += more
        meant = [row.subject for row in more if row.kind == _NAMES[Withdrawal]]
    gone = _gone(connection, build)
    counted = connection.execute(select(record.c.kind, func.count()).where(of).group_by(record.c.kind))
    kinds = {row[0]: int(row[1]) for row in counted}
    withdrawn = kinds.pop(_NAMES[Withdrawal], 0)
    taken = 0
    for some in _parts(sorted(gone), _AT_ONCE):
        found = select(func.count()).where(of, record.c.kind != _NAMES[Withdrawal], record.c.id.in_(some))
        taken += connection.execute(found).scalar() or 0
    every = sum(kinds.values())
    kept = tuple(_record(row) for row in sorted(rows, key=lambda row: row.number))
    stand = frozenset(one.id for one in kept if one.id not in gone and not isinstance(one, Withdrawal))
    return kept, Tally(every + withdrawn, every - taken, taken, stand)


def _rows_of(connection: Connection, of: Any, column: Any, values: Sequence[Any]) -> list[Any]:
    found: list[Any] = []
    for some in _parts(values, _AT_ONCE):
        rows = select(record.c.number, record.c.id, record.c.kind, record.c.subject, record.c.body)
        found += connection.execute(rows.where(of, column.in_(some))).all()
    return found


def records_about(connection: Connection, build: str, kind: str, subject: str) -> tuple[Record, ...]:
    """The records of one kind about one subject that nobody took back, oldest first."""
    gone = _gone(connection, build)
    rows = connection.execute(
        select(record.c.id, record.c.body)
        .where(record.c.build == build, record.c.kind == kind, record.c.subject == subject)
        .order_by(record.c.number)
    )
    return tuple(_record(row) for row in rows if row.id not in gone)


def newest_of(connection: Connection, build: str, kind: str) -> dict[str, Record]:
    """Subject -> its newest record of one kind that nobody took back.

    Read from the index: as many rows as subjects.
    """
    gone = _gone(connection, build)
    found: dict[str, Record] = {}
    last = (
        select(record.c.subject, func.max(record.c.number).label("number"))
        .where(record.c.build == build, record.c.kind == kind)
        .group_by(record.c.subject)
        .subquery()
    )
    rows = connection.execute(
        select(record.c.id, record.c.body, record.c.subject)
        .join(last, record.c.number == last.c.number)
        .where(record.c.build == build)
        .order_by(record.c.number)
    ).all()
    for row in rows:
        if row.id not in gone:
            found[row.subject] = _record(row)
        elif before := records_about(connection, build, kind, row.subject):
            found[row.subject] = before[-1]
    return found


def counts_of(connection: Connection, build: str, kind: str) -> dict[str, int]:
    """Subject -> how many records of one kind stand about it, without those that were taken back."""
    rows = connection.execute(
        select(record.c.subject, func.count())
        .where(record.c.build == build, record.c.kind == kind)
        .group_by(record.c.subject)
    )
    counted: dict[str, int] = {row[0]: row[1] for row in rows}
    for some in _parts(sorted(_gone(connection, build)), _AT_ONCE):
        taken = select(record.c.subject).where(
            record.c.build == build, record.c.kind == kind, record.c.id.in_(some)
        )
        for (subject,) in connection.execute(taken):
            counted[subject] -= 1
    return {subject: count for subject, count in counted.items() if count}


def _gone(connection: Connection, build: str) -> set[str]:
    """The ids that are taken back, as `boostwright.job.standing` sees them."""
    rows = connection.execute(
        select(record.c.number, record.c.id, record.c.subject).where(
            record.c.build == build, record.c.kind == "withdrawal"
        )
    )  # put in order here: asked to, SQLite would walk through every record of the build
    gone: set[str] = set()
    for _, known, of in sorted((row.number, row.id, row.subject) for row in rows)[::-1]:
        if known not in gone:
            gone.add(of)
    return gone


def _record(row: Any) -> Record:
    try:
        return from_plain(json.loads(row.body))
    except (ValueError, TypeError, AttributeError) as mishap:
        raise HistoryError(
            f"record {row.id!r} in the store cannot be read ({mishap}); the store was changed from outside."
            " Bring back a copy of it: the build file itself is whole."
        ) from None


def _parts(items: Sequence[T], size: int) -> Iterator[Sequence[T]]:
    return (items[at : at + size] for at in range(0, len(items), size))
