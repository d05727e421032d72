"""The build file as a document: each change is a revision with who, when and why, and none is ever
overwritten.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from sqlalchemy import Connection, insert, select, update

from boostwright.errors import ConflictError, HistoryError
from boostwright.job import now
from boostwright.store.blobs import content_of, digest_of, keep_blobs
from boostwright.store.database import Database
from boostwright.store.tables import build, desk, document, document_file
from boostwright.store.words import kept_text

__all__ = [
    "Document",
    "FileRevision",
    "Noted",
    "document_of",
    "head_of",
    "read_document",
    "read_revisions",
    "save_document",
    "seen_at",
    "set_seen",
]


@dataclass(frozen=True, slots=True)
class Document:
    """The bytes of a build file and of the files that it names, by their names in it."""

    body: bytes
    files: Mapping[str, bytes] = field(default_factory=dict)

    @property
    def digest(self) -> str:
        """SHA-256 over all of it."""
        parts = [digest_of(self.body), {name: digest_of(part) for name, part in self.files.items()}]
        return hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()

    @property
    def text(self) -> str:
        """The build file's text; bytes that are no UTF-8 are shown as such."""
        return self.body.decode("utf-8", "backslashreplace")


@dataclass(frozen=True, slots=True)
class FileRevision:
    """One revision of a build file. number: from 1, rising. time: UTC, ISO 8601."""

    number: int
    time: str
    who: str
    why: str
    digest: str


@dataclass(frozen=True, slots=True)
class Noted:
    """How a build file stands to its history.

    state: 'kept' where its change is now a revision, 'same' where it holds the newest, 'behind' where it is
    an older revision and the store went on without it. number: of the revision that the file holds. head: of
    the newest.
    """

    state: str
    number: int
    head: int


def read_document(path: Path) -> Document:
    """The build file on the disk, with the files that it names as far as they can be read. Raises OSError."""
    from boostwright.errors import BuildFileError
    from boostwright.readers.build_file import read_build
    from boostwright.readers.decode import LARGEST_FILE

    body = path.read_bytes()
    files: dict[str, bytes] = {}

    def beside(name: str) -> bytes:
        with (path.parent / name).open("rb") as opened:
            content = opened.read(LARGEST_FILE + 1)
        if len(content) <= LARGEST_FILE:
            files[name] = content
        return content

    with suppress(BuildFileError):  # a faulty file is kept as it is
        read_build(body, str(path), beside)
    return Document(body, files)


def read_revisions(connection: Connection, build_id: str) -> tuple[FileRevision, ...]:
    """Every revision, oldest first."""
    rows = connection.execute(
        select(document.c.number, document.c.time, document.c.who, document.c.why, document.c.digest)
        .where(document.c.build == build_id)
        .order_by(document.c.number)
    )
    return tuple(FileRevision(*row) for row in rows)


def head_of(connection: Connection, build_id: str) -> FileRevision | None:
    """The newest revision, None where there is none yet."""
    row = connection.execute(
        select(document.c.number, document.c.time, document.c.who, document.c.why, document.c.digest)
        .join(build, (build.c.id == document.c.build) & (build.c.head == document.c.number))
        .where(build.c.id == build_id)
    ).first()
    return None if row is None else FileRevision(*row)


def document_of(connection: Connection, build_id: str, number: int) -> Document:
    """What the file and those that it names held in a revision.

    Raises HistoryError where there is none such.
    """
    here = (document.c.build == build_id) & (document.c.number == number)
    body = connection.execute(select(document.c.body).where(here)).scalar()
    if body is None:
        newest = connection.execute(select(build.c.head).where(build.c.id == build_id)).scalar() or 0
        there = (
            f"there are 1 to {newest}" if newest > 1 else f"there {'is only 1' if newest else 'is none yet'}"
        )
        raise HistoryError(f"there is no revision {number} of this build; {there}.")
    of = (document_file.c.build == build_id) & (document_file.c.number == number)
    rows = connection.execute(select(document_file.c.name, document_file.c.body).where(of))
    files = {
        name: content_of(connection, digest) for name, digest in sorted((row.name, row.body) for row in rows)
    }
    return Document(content_of(connection, body), files)


def save_document(
    store: Database,
    connection: Connection,
    build_id: str,
    new: Document,
    *,
    based_on: int,
    who: str,
    why: str,
) -> FileRevision:
    """Keep a document as the newest revision; the build's row is locked by the caller.

    based_on: the revision that the writer had before the eyes, 0 for none. Where it is no longer the newest,
    a ConflictError is raised that carries both texts, and nothing is written; not where both wrote the same.
    """
    head = head_of(connection, build_id)
    number = 0 if head is None else head.number
    if head is not None and head.digest == new.digest:
        return head
    if number != based_on:
        if head is None:
            raise HistoryError(f"there is no revision {based_on} to go on from: the store is still empty.")
        theirs = document_of(connection, build_id, number).text
        raise ConflictError(based_on, new.text, theirs, (head.number, head.who, head.time))
    contents = {digest_of(part): part for part in (new.body, *new.files.values())}
    keep_blobs(store, connection, contents)
    made = FileRevision(
        number + 1, now(), kept_text(who, "the name"), kept_text(why, "the reason"), new.digest
    )
    row = {"build": build_id, "number": made.number}
    told = {"time": made.time, "who": made.who, "why": made.why, "digest": made.digest}
    connection.execute(insert(document), {**row, **told, "body": digest_of(new.body)})
    for name, part in new.files.items():
        named = {"name": kept_text(name, "the name of a file"), "body": digest_of(part)}
        connection.execute(insert(document_file), {**row, **named})
    moved = connection.execute(
        update(build).where(build.c.id == build_id, build.c.head == number).values(head=made.number)
    )
    if moved.rowcount != 1:  # the lock on the row rules it out; a store without locks must still lose nothing
        raise HistoryError("the build was changed at the same moment; nothing was written. Run it again.")
    return made


def seen_at(connection: Connection, build_id: str, place: str) -> int:
    """The revision that the copy of the file at a place last held; 0 where none is known."""
    held = select(desk.c.number).where(desk.c.build == build_id, desk.c.place == place)
    return connection.execute(held).scalar() or 0


def set_seen(store: Database, connection: Connection, build_id: str, place: str, number: int) -> None:
    """Remember which revision the copy at a place holds."""
    row = {"build": build_id, "place": kept_text(place, "the place of the file"), "number": number}
    store.insert_new(connection, desk, row)
    connection.execute(
        update(desk).where(desk.c.build == build_id, desk.c.place == place).values(number=number)
    )
