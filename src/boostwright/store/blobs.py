"""Content kept by its SHA-256: texts of build files and maps, photos, logs; and what a photo or a log is
bound to.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import IO, Any, Final

from sqlalchemy import Connection, func, insert, select, text

from boostwright.errors import HistoryError
from boostwright.job import now
from boostwright.store.database import Database
from boostwright.store.tables import attachment, blob
from boostwright.store.words import kept_text

__all__ = [
    "LARGEST",
    "PIECE",
    "Attachment",
    "attach",
    "content_of",
    "copy_content",
    "digest_of",
    "keep_blobs",
    "kind_of_content",
    "read_attachments",
]

LARGEST: Final = 64 * 1024 * 1024
"""The most that one photo or log may hold [bytes]: hours of a logged drive, or any photo of a telephone."""

PIECE: Final = 4 * 1024 * 1024
"""What is copied at once [bytes]."""

_BEGINNINGS: Final = (
    (0, b"\xff\xd8\xff", "image/jpeg"),
    (0, b"\x89PNG\r\n\x1a\n", "image/png"),
    (0, b"GIF87a", "image/gif"),
    (0, b"GIF89a", "image/gif"),
    (8, b"WEBP", "image/webp"),
    (4, b"ftypheic", "image/heic"),
    (4, b"ftypheix", "image/heic"),
    (4, b"ftypmif1", "image/heif"),
    (4, b"ftypavif", "image/avif"),
    (4, b"ftyp", "video/mp4"),
    (0, b"II*\x00", "image/tiff"),
    (0, b"MM\x00*", "image/tiff"),
    (0, b"%PDF-", "application/pdf"),
    (0, b"\x1f\x8b\x08", "application/gzip"),
    (0, b"PK\x03\x04", "application/zip"),
)  # of a file, by which its kind is told: offset, bytes, media type


@dataclass(frozen=True, slots=True)
class Attachment:
    """A photo or a log. record: id of the record that it is bound to, '' for the build. mime: by its first
    bytes, never by its name. size [bytes].
    """

    number: int
    time: str
    who: str
    digest: str
    name: str
    note: str
    record: str
    mime: str
    size: int


def digest_of(content: bytes) -> str:
    """SHA-256 in hexadecimal digits: the name under which a content is kept."""
    return hashlib.sha256(content).hexdigest()


def kind_of_content(content: bytes) -> str:
    """The media type as the first bytes tell it; 'text/plain' for what reads as UTF-8 text."""
    for at, beginning, mime in _BEGINNINGS:
        if content[at : at + len(beginning)] == beginning and (
            mime != "image/webp" or content[:4] == b"RIFF"
        ):
            return mime
    head = content[:65536]
    try:
        text = head.decode("utf-8")
    except UnicodeDecodeError as mishap:
        if mishap.start < len(head) - 3 or len(content) == len(head):
            return "application/octet-stream"
        text = head[: mishap.start].decode("utf-8")
    if all(sign >= " " or sign in "\t\r\n\f" for sign in text):
        return "text/plain"
    return "application/octet-stream"


def keep_blobs(store: Database, connection: Connection, contents: dict[str, bytes]) -> None:
    """Keep contents by their digests; one that is there already is not written again."""
    for digest, content in contents.items():
        if connection.execute(select(blob.c.size).where(blob.c.digest == digest)).scalar() is None:
            row = {
                "digest": digest,
                "size": len(content),
                "mime": kind_of_content(content),
                "content": content,
            }
            store.insert_new(connection, blob, row)


def content_of(connection: Connection, digest: str) -> bytes:
    """The content of that digest. Raises HistoryError where there is none, or where it is not what was
    kept.
    """
    found = connection.execute(select(blob.c.content).where(blob.c.digest == digest)).scalar()
    if found is None:
        raise _nothing(digest)
    content = bytes(found)
    if digest_of(content) != digest:
        raise _not_that(digest)
    return content


def _nothing(digest: str) -> HistoryError:
    return HistoryError(f"nothing is kept under {digest[:64]!r}. `boostwright history FILE` lists what is.")


def _not_that(digest: str) -> HistoryError:
    return HistoryError(
        f"what is kept under {digest[:16]}... is not what was put there: the store was changed from"
        " outside. Bring back a copy of it."
    )


def copy_content(
    connection: Connection,
    digest: str,
    target: IO[bytes],
    told: Callable[[int, int], None] | None = None,
) -> int:
    """Write the content of that digest into an open file, a piece at a time, and return its size [bytes].

    told: is called with how much is written and how much there is [bytes]. Raises HistoryError where there
    is none, and, after the last piece, where it is not what was kept: the caller throws the file away then.
    """
    size = connection.execute(select(blob.c.size).where(blob.c.digest == digest)).scalar()
    if size is None:
        raise _nothing(digest)
    summed, done = hashlib.sha256(), 0
    for piece in _pieces(connection, digest):
        target.write(piece)
        summed.update(piece)
        done += len(piece)
        if told is not None:
            told(done, max(size, done))
    if summed.hexdigest() != digest:
        raise _not_that(digest)
    return done


def _pieces(connection: Connection, digest: str) -> Iterator[bytes]:
    """A content in pieces, of which no more than one is in the memory."""
    if connection.dialect.name == "sqlite":
        row = connection.execute(text("SELECT rowid FROM blob WHERE digest = :of"), {"of": digest}).scalar()
        raw = connection.connection.driver_connection
        assert raw is not None
        with raw.blobopen("blob", "content", row, readonly=True) as opened:
            while piece := opened.read(PIECE):
                yield piece
        return
    first = 1
    while True:
        part = select(func.substring(blob.c.content, first, PIECE)).where(blob.c.digest == digest)
        piece = bytes(connection.execute(part).scalar() or b"")
        if not piece:
            return
        yield piece
        first += len(piece)


def attach(
    store: Database,
    connection: Connection,
    build: str,
    content: bytes,
    name: str,
    *,
    who: str,
    note: str,
    record: str,
) -> Attachment:
    """Keep a photo or a log and bind it; the build's row is locked by the caller.

    The same one is bound once.
    """
    if not content:
        raise HistoryError(
            f"{name}: the file is empty, so there is nothing to keep. Check that it was copied."
        )
    if len(content) > LARGEST:
        raise HistoryError(
            f"{name}: {len(content) / 1e6:.1f} MB, and {LARGEST / 1e6:.0f} MB at most can be kept as one"
            " file. Make the photo smaller, or cut the log to the pull."
        )
    digest = digest_of(content)
    row: dict[str, Any] = {
        "name": kept_text(name, "the name of the file"),
        "note": kept_text(note, "the note"),
        "record": kept_text(record, "the id of the record"),
    }
    same = (row["name"], row["note"], row["record"], digest)
    there = read_attachments(connection, build)
    for one in there:
        if (one.name, one.note, one.record, one.digest) == same:
            return one
    keep_blobs(store, connection, {digest: content})
    last = select(func.max(attachment.c.number)).where(attachment.c.build == build)
    number = (connection.execute(last).scalar() or 0) + 1
    row |= {
        "build": build,
        "number": number,
        "time": now(),
        "who": kept_text(who, "the name"),
        "digest": digest,
    }
    connection.execute(insert(attachment), row)
    return read_attachments(connection, build)[-1]


def read_attachments(connection: Connection, build: str) -> tuple[Attachment, ...]:
    """The photos and logs of a build, oldest first, without their content."""
    rows = connection.execute(
        select(
            attachment.c.number, attachment.c.time, attachment.c.who, attachment.c.digest, attachment.c.name,
            attachment.c.note, attachment.c.record, blob.c.mime, blob.c.size,
        )
        .join(blob, blob.c.digest == attachment.c.digest)
        .where(attachment.c.build == build)
        .order_by(attachment.c.number)
    )  # fmt: skip
    return tuple(Attachment(*row) for row in rows)
