"""Taking an archive into a store: the job as a whole, or what it has that the same job in the store has not
yet.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, insert, select, update

from boostwright.errors import ArchiveError
from boostwright.store.archive_form import AttachmentRow, KeptRow, RevisionRow
from boostwright.store.archive_read import Archive
from boostwright.store.blobs import keep_blobs, read_attachments
from boostwright.store.database import Database
from boostwright.store.documents import Document, read_revisions
from boostwright.store.kept import read_kept
from boostwright.store.records import add_records
from boostwright.store.tables import attachment, build, document, document_file, kept

__all__ = ["TakenIn", "take_in"]


@dataclass(frozen=True, slots=True)
class TakenIn:
    """How much of an archive was new to the store."""

    revisions: int
    records: int
    kept: int
    attachments: int


def take_in(store: Database, connection: Connection, archive: Archive, name: str, here: str) -> TakenIn:
    """Bring an archive into the store, in the caller's transaction.

    name: what the build is called in this store. here: id of the build of that name that is there already,
    '' for none. A job that is there already is gone on with where one side is ahead of the other; raises
    ArchiveError where another build stands here, or where both sides went on without each other.
    """
    given = archive.manifest.build
    if here and here != given.id:
        raise ArchiveError(
            f"the archive is of the build '{given.name}', and another build is kept here as '{name}'."
            " Nothing was taken in. Name a file of another name, and its history begins with the archive."
        )
    if not here:
        row = {"id": given.id, "name": name, "created": given.created, "head": 0}
        store.insert_new(connection, build, row)
        known = connection.execute(select(build.c.name).where(build.c.id == given.id)).scalar()
        if known != name:
            raise ArchiveError(
                f"this store keeps that very build already, as '{known}'. Nothing was taken in. Name the"
                " file like that, or end the store's URL with '#" + str(known) + "'."
            )
    connection.execute(select(build.c.head).where(build.c.id == given.id).with_for_update())
    revisions = _new_revisions(connection, archive)
    entries = _new_kept(connection, archive)
    photos = _new_attachments(connection, archive)
    for digest in sorted({d for row in revisions for d in (row.body, *row.files.values())}):
        keep_blobs(store, connection, {digest: archive.content(digest)})
    for digest in sorted({row.digest for row in photos}):
        keep_blobs(store, connection, {digest: archive.content(digest)})
    _write(connection, archive, revisions, entries, photos)
    return TakenIn(
        len(revisions), add_records(connection, given.id, archive.records), len(entries), len(photos)
    )


def _apart(what: str) -> ArchiveError:
    return ArchiveError(
        f"the {what} here and in the archive went on without each other. Nothing was taken in. Import it"
        " beside a file of another name, and compare the two."
    )


def _document(archive: Archive, row: RevisionRow) -> Document:
    return Document(archive.content(row.body), {name: archive.content(d) for name, d in row.files.items()})


def _new_revisions(connection: Connection, archive: Archive) -> tuple[RevisionRow, ...]:
    there = read_revisions(connection, archive.manifest.build.id)
    for mine, theirs in zip(there, archive.revisions, strict=False):
        same = (mine.time, mine.who, mine.why) == (theirs.time, theirs.who, theirs.why)
        if not same or mine.digest != _document(archive, theirs).digest:
            raise _apart("revisions of the build file")
    return archive.revisions[len(there) :]


def _new_kept(connection: Connection, archive: Archive) -> tuple[KeptRow, ...]:
    there = {one.number: one for one in read_kept(connection, archive.manifest.build.id, "the store")}
    new = []
    for row in archive.kept:
        mine = there.get(row.number)
        if mine is None:
            new.append(row)
        elif any(getattr(mine, part) != value for part, value in row):
            raise _apart("fits")
    if new and there and new[0].number < max(there):
        raise _apart("fits")
    return tuple(new)


def _new_attachments(connection: Connection, archive: Archive) -> tuple[AttachmentRow, ...]:
    there = read_attachments(connection, archive.manifest.build.id)
    known = {(one.digest, one.name, one.note, one.record) for one in there}
    new = [row for row in archive.attachments if (row.digest, row.name, row.note, row.record) not in known]
    return tuple(row.model_copy(update={"number": n}) for n, row in enumerate(new, len(there) + 1))


def _write(
    connection: Connection,
    archive: Archive,
    revisions: tuple[RevisionRow, ...],
    entries: tuple[KeptRow, ...],
    photos: tuple[AttachmentRow, ...],
) -> None:
    owner = {"build": archive.manifest.build.id}
    for row in revisions:
        plain: dict[str, Any] = row.model_dump(exclude={"files"})
        connection.execute(insert(document), {**owner, **plain, "digest": _document(archive, row).digest})
        for name, digest in row.files.items():
            connection.execute(
                insert(document_file), {**owner, "number": row.number, "name": name, "body": digest}
            )
    if revisions:
        newest = update(build).where(build.c.id == owner["build"]).values(head=revisions[-1].number)
        connection.execute(newest)
    for entry in entries:
        content = json.dumps(entry.content, allow_nan=False, sort_keys=True)
        connection.execute(insert(kept), {**owner, **entry.model_dump(), "content": content})
    for photo in photos:
        connection.execute(insert(attachment), {**owner, **photo.model_dump()})
