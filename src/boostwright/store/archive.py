"""A whole job as one file: written from one moment of the store, taken in by another as a whole or not at
all.
"""

from __future__ import annotations

import hashlib
import zipfile
from collections.abc import Iterable, Iterator
from typing import IO, Any

from sqlalchemy import Connection, select

from boostwright.errors import ArchiveError
from boostwright.job import to_plain
from boostwright.store.archive_form import (
    ARCHIVE_FORMAT,
    BLOBS,
    KIND,
    LARGEST_ARCHIVE,
    LISTS,
    MANIFEST,
    MOST_PARTS,
    as_line,
)
from boostwright.store.blobs import content_of, read_attachments
from boostwright.store.kept import read_kept
from boostwright.store.records import read_records
from boostwright.store.tables import attachment, blob, build, document, document_file

__all__ = ["write_archive"]

_DAY_ONE = (1980, 1, 1, 0, 0, 0)  # the first day that a ZIP file knows: the same job gives the same bytes


def write_archive(connection: Connection, build_id: str, target: IO[bytes], program: str, data: str) -> None:
    """Write the job into an open file. program, data: versions, for the manifest. Raises ArchiveError where
    it is larger than an archive may be, OSError.
    """
    lists = dict(zip(LISTS, _lists(connection, build_id), strict=True))
    contents = _contents(connection, build_id)
    total = sum(map(len, lists.values())) + sum(size for _, size, _ in contents)
    if total > LARGEST_ARCHIVE or len(contents) + len(lists) > MOST_PARTS:
        raise ArchiveError(
            f"the job is too large for one archive: {total / 1e6:.0f} MB in {len(contents)} contents, where"
            f" {LARGEST_ARCHIVE / 1e6:.0f} MB in {MOST_PARTS} fit. Copy the store itself instead."
        )
    row = connection.execute(select(build.c.name, build.c.created).where(build.c.id == build_id)).one()
    parts = {
        name: {"sha256": hashlib.sha256(text).hexdigest(), "size": len(text)} for name, text in lists.items()
    }
    parts |= {BLOBS + digest: {"sha256": digest, "size": size} for digest, size, _ in contents}
    manifest = {
        "format": ARCHIVE_FORMAT,
        "kind": KIND,
        "program": program,
        "data": data,
        "build": {"id": build_id, "name": row.name, "created": row.created},
        "parts": parts,
    }
    with zipfile.ZipFile(target, "w", allowZip64=False) as packed:
        for name, text in {MANIFEST: as_line(manifest).encode(), **lists}.items():
            packed.writestr(_entry(name, True), text)
        for digest, _, mime in contents:
            packed.writestr(_entry(BLOBS + digest, mime == "text/plain"), content_of(connection, digest))


def _entry(name: str, dense: bool) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name, _DAY_ONE)
    entry.compress_type = zipfile.ZIP_DEFLATED if dense else zipfile.ZIP_STORED
    entry.create_system, entry.external_attr = 3, 0o644 << 16
    return entry


def _lists(connection: Connection, build_id: str) -> Iterator[bytes]:
    """The four lists, in the order of LISTS."""
    yield _lines(_revision_rows(connection, build_id))
    yield _lines(to_plain(one) for one in read_records(connection, build_id))
    yield _lines(
        {
            "number": one.number, "time": one.time, "who": one.who, "kind": one.kind, "inputs": one.inputs,
            "program": one.program, "data": one.data, "content": one.content,
        }
        for one in read_kept(connection, build_id, "the store")
    )  # fmt: skip
    yield _lines(
        {
            "number": one.number, "time": one.time, "who": one.who, "digest": one.digest, "name": one.name,
            "note": one.note, "record": one.record,
        }
        for one in read_attachments(connection, build_id)
    )  # fmt: skip


def _lines(rows: Iterable[Any]) -> bytes:
    return "".join(map(as_line, rows)).encode()


def _revision_rows(connection: Connection, build_id: str) -> Iterator[dict[str, Any]]:
    files: dict[int, dict[str, str]] = {}
    for row in connection.execute(select(document_file).where(document_file.c.build == build_id)):
        files.setdefault(row.number, {})[row.name] = row.body
    rows = connection.execute(
        select(document).where(document.c.build == build_id).order_by(document.c.number)
    ).all()
    for row in rows:
        yield {
            "number": row.number, "time": row.time, "who": row.who, "why": row.why, "body": row.body,
            "files": files.get(row.number, {}),
        }  # fmt: skip


def _contents(connection: Connection, build_id: str) -> list[tuple[str, int, str]]:
    """Digest, size and media type of every content that the build needs."""
    wanted: set[str] = set()
    for column, owner in (
        (document.c.body, document.c.build),
        (document_file.c.body, document_file.c.build),
        (attachment.c.digest, attachment.c.build),
    ):
        wanted.update(connection.execute(select(column).where(owner == build_id).distinct()).scalars())
    found = []
    for digest in sorted(wanted):
        row = connection.execute(select(blob.c.size, blob.c.mime).where(blob.c.digest == digest)).one()
        found.append((digest, row.size, row.mime))
    return found
