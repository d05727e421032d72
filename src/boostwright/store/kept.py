"""What was computed of a build and kept: fits. One is never changed; to take it back is an entry too."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, func, insert, select

from boostwright.errors import HistoryError
from boostwright.job import now
from boostwright.store.tables import kept
from boostwright.store.words import kept_text

__all__ = ["Revision", "keep", "newest_kept", "read_kept"]


@dataclass(frozen=True, slots=True)
class Revision:
    """One entry. number: from 1, rising. time: UTC, ISO 8601. inputs: fingerprint of the build. content:
    plain lists, dictionaries, numbers and texts.
    """

    number: int
    time: str
    who: str
    kind: str
    inputs: str
    program: str
    data: str
    content: Any


def keep(connection: Connection, build: str, entry: Revision) -> Revision:
    """Append one entry, whose number and time are given here; the build's row is locked by the caller."""
    last = select(func.max(kept.c.number)).where(kept.c.build == build)
    number, time = (connection.execute(last).scalar() or 0) + 1, now()
    texts = {
        name: kept_text(getattr(entry, name), f"the {name} of an entry")
        for name in ("who", "kind", "inputs", "program", "data")
    }
    try:
        content = json.dumps(entry.content, allow_nan=False, sort_keys=True)
    except (TypeError, ValueError) as mishap:
        raise HistoryError(f"a {entry.kind} cannot be kept: {mishap}.") from None
    connection.execute(
        insert(kept), {"build": build, "number": number, "time": time, "content": content, **texts}
    )
    return Revision(number, time, content=entry.content, **texts)


def read_kept(connection: Connection, build: str, shown: str) -> tuple[Revision, ...]:
    """Every entry, oldest first. shown: names the store in the error where one cannot be read."""
    rows = connection.execute(
        select(
            kept.c.number, kept.c.time, kept.c.who, kept.c.kind, kept.c.inputs, kept.c.program, kept.c.data,
            kept.c.content,
        )
        .where(kept.c.build == build)
        .order_by(kept.c.number)
    )  # fmt: skip
    return tuple(_revision(row, shown) for row in rows)


def _revision(row: Any, shown: str) -> Revision:
    try:
        content = json.loads(row.content)
        return Revision(row.number, row.time, row.who, row.kind, row.inputs, row.program, row.data, content)
    except (ValueError, TypeError):
        raise HistoryError(
            f"{shown}: revision {row.number!r} cannot be read; the file was changed from outside. Move it"
            " away and fit again: the build file itself is whole."
        ) from None


def newest_kept(entries: tuple[Revision, ...], kind: str, inputs: str) -> Revision | None:
    """The newest entry of a kind for a build as it stands; None where it was taken back or there is none."""
    taken: set[int] = set()
    for entry in reversed(entries):
        if entry.kind == f"no {kind}" and isinstance(entry.content, dict):
            of = entry.content.get("of", 0)
            taken.add(of if isinstance(of, int) else 0)
        elif entry.kind == kind and entry.inputs == inputs and entry.number not in taken:
            return entry
    return None
