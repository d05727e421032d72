"""What is told of a job's history, as plain records: all that is kept, and what a way back has done."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import tzinfo
from pathlib import Path

from boostwright.job import Record
from boostwright.store.blobs import Attachment
from boostwright.store.documents import FileRevision
from boostwright.store.kept import Revision

__all__ = ["JobHistory", "Restored"]


@dataclass(frozen=True)
class JobHistory:
    """What is kept of a build. standing: ids of the records that nobody took back. file: how the file on the
    disk stands to it: 'none' where nothing is kept or there is no file, 'newest', 'older' or 'changed';
    holds: the revision that the file holds, 0 for none. count: of all records, of those that stand and those
    that were taken back; `records` may be the last of them only. zone: of the build's place, None where its
    file states none: then times are said in UTC.
    """

    name: str
    shown: str
    revisions: tuple[FileRevision, ...]
    records: tuple[Record, ...]
    standing: frozenset[str]
    kept: tuple[Revision, ...]
    attachments: tuple[Attachment, ...]
    file: str
    holds: int
    count: tuple[int, int, int] = (0, 0, 0)
    zone: tzinfo | None = None


@dataclass(frozen=True)
class Restored:
    """A revision that was brought back. saved: the new revision. before: the one that the file's text was
    kept as, None where it was kept already. written: the files that were written. left: names beside the
    build file that were not, because they lead out of its folder.
    """

    saved: FileRevision
    before: FileRevision | None
    written: tuple[Path, ...]
    left: tuple[str, ...]
