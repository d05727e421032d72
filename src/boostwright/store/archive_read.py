"""Reading an archive that came from outside: everything is checked before anything of it is used.

Nothing is unpacked to the disk, no name in it is used as a path, and no part is read further than the
manifest says that it goes.
"""

from __future__ import annotations

import hashlib
import json
import os
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Final, NoReturn, TypeVar

from pydantic import BaseModel, TypeAdapter, ValidationError

from boostwright.errors import ArchiveError, HistoryError
from boostwright.job import KINDS, Record, from_plain, to_plain
from boostwright.store.archive_form import (
    ARCHIVE_FORMAT,
    BLOBS,
    KIND,
    LARGEST_ARCHIVE,
    LISTS,
    MANIFEST,
    MOST_PARTS,
    AttachmentRow,
    KeptRow,
    Manifest,
    Part,
    RevisionRow,
    as_line,
)
from boostwright.store.blobs import LARGEST
from boostwright.store.records import subject_of
from boostwright.store.words import kept_text

__all__ = ["Archive", "opened_archive"]

_END: Final = struct.Struct(
    "<4s4H2LH"
)  # of a ZIP file: mark, disks, entries, size and place of the list, comment
_END_MARK: Final = b"PK\x05\x06"
_LONG_MARK: Final = b"PK\x06\x07"  # of the form for more than 4 GB, which we never write
_NO_ZIP: Final = (
    zipfile.BadZipFile, zlib.error, struct.error, EOFError, NotImplementedError, RuntimeError, ValueError
)  # fmt: skip
_ENTRY: Final = 46 + 80  # the most that the list needs for one of our parts [bytes]
_LARGEST_MANIFEST: Final = 16 * 1024 * 1024
_LONGEST_LIST: Final = 512 * 1024 * 1024
_CHECKS: Final[dict[str, TypeAdapter[Any]]] = {name: TypeAdapter(kind) for name, kind in KINDS.items()}

M = TypeVar("M", bound=BaseModel)


class _Fault(Exception):
    """Why a file is no whole archive."""


@dataclass(frozen=True)
class Archive:
    """An archive that was found whole; contents are read one by one, so that photos do not fill the
    memory.
    """

    manifest: Manifest
    revisions: tuple[RevisionRow, ...]
    records: tuple[Record, ...]
    kept: tuple[KeptRow, ...]
    attachments: tuple[AttachmentRow, ...]
    _packed: zipfile.ZipFile

    def content(self, digest: str) -> bytes:
        """The bytes under a digest."""
        try:
            return _read(self._packed, BLOBS + digest, self.manifest.parts[BLOBS + digest])
        except (_Fault, OSError, *_NO_ZIP):
            raise ArchiveError(
                "the archive was changed while it was read. Nothing of it was taken in."
            ) from None


@contextmanager
def opened_archive(path: Path) -> Iterator[Archive]:
    """The archive in a file, checked to its last byte. Raises ArchiveError for what is none or is damaged,
    OSError.
    """
    with ExitStack() as held:
        try:
            file = held.enter_context(path.open("rb"))
            _check_end(file)
            try:
                archive = _whole(held.enter_context(zipfile.ZipFile(file)))
            except OSError as bad:  # a place before the beginning of the file
                raise _Fault(f"it names places that it does not have ({bad.strerror or bad})") from None
        except _Fault as fault:
            raise _refused(path, str(fault)) from None
        except _NO_ZIP as bad:
            raise _refused(path, f"it is no ZIP file that can be read ({bad})") from None
        yield archive


def _refused(path: Path, why: str) -> ArchiveError:
    return ArchiveError(
        f"{path} is not the whole archive of a job: {why}. Nothing of it was taken in. Copy it again from"
        " where it was made, or make it again with `boostwright history FILE --export ARCHIVE`."
    )


def _check_end(file: IO[bytes]) -> None:
    """The end of the file names a list of parts that is no longer than ours can be; read before the list
    is.
    """
    size = file.seek(0, os.SEEK_END)
    if size > LARGEST_ARCHIVE + _ENTRY * MOST_PARTS:
        raise _Fault(f"it is {size / 1e6:.0f} MB long, and {LARGEST_ARCHIVE / 1e6:.0f} MB is the most")
    if size < _END.size:
        raise _Fault("it is too short to be one")
    file.seek(max(0, size - _END.size - 20))
    tail = file.read()
    mark, disk, first_disk, here, entries, length, _, comment = _END.unpack(tail[-_END.size :])
    if mark != _END_MARK or comment or disk or first_disk or here != entries:
        raise _Fault("its end is missing, or something was added to it")
    if entries > MOST_PARTS + 1 or length > _ENTRY * entries or tail.startswith(_LONG_MARK):
        raise _Fault(
            f"it says that it has {entries} parts, with {length} bytes to name them; that is none of ours"
        )
    file.seek(0)


def _whole(packed: zipfile.ZipFile) -> Archive:
    """Everything that the manifest promises is there, and nothing else. Raises _Fault."""
    entries = {entry.filename: entry for entry in packed.infolist()}
    if len(entries) != len(packed.infolist()) or MANIFEST not in entries:
        raise _Fault("a part is there twice" if MANIFEST in entries else f"it has no {MANIFEST}")
    for entry in entries.values():
        if entry.flag_bits & 0x1 or entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise _Fault("a part is locked or packed in a way that is not used here")
    first = entries[MANIFEST].file_size
    if first > _LARGEST_MANIFEST:
        raise _Fault(f"its manifest is {first / 1e6:.0f} MB long")
    manifest = _manifest(_bounded(packed, MANIFEST, first))
    _check_parts(manifest, entries)
    texts = [_lines(_read(packed, name, manifest.parts[name]), name) for name in LISTS]
    archive = Archive(
        manifest,
        tuple(_row(RevisionRow, line, LISTS[0]) for line in texts[0]),
        tuple(_record(line) for line in texts[1]),
        tuple(_row(KeptRow, line, LISTS[2]) for line in texts[2]),
        tuple(_row(AttachmentRow, line, LISTS[3]) for line in texts[3]),
        packed,
    )
    _check_together(archive)
    for name, part in manifest.parts.items():
        if name.startswith(BLOBS):
            _read(packed, name, part)
    return archive


def _manifest(text: bytes) -> Manifest:
    plain = _json(text, MANIFEST)
    if not isinstance(plain, dict) or plain.get("kind") != KIND:
        raise _Fault("its manifest is that of something else")
    form = plain.get("format")
    if isinstance(form, int) and form > ARCHIVE_FORMAT:
        raise _Fault(
            f"it was made by a newer boostwright (form {form}; this one reads form {ARCHIVE_FORMAT})"
        )
    manifest = _valid(Manifest, plain, MANIFEST)
    if manifest.format != ARCHIVE_FORMAT:
        raise _Fault(f"it is of form {manifest.format}, which never was")
    return manifest


def _check_parts(manifest: Manifest, entries: dict[str, zipfile.ZipInfo]) -> None:
    parts = manifest.parts
    odd = (entries.keys() - {MANIFEST}) ^ parts.keys()
    if odd:
        raise _Fault(f"manifest and parts are not the same: {min(odd)[:80]!r}")
    if missing := set(LISTS) - parts.keys():
        raise _Fault(f"it has no {min(missing)}")
    for name, part in parts.items():
        if name not in LISTS and name != BLOBS + part.sha256:
            raise _Fault(f"a part has a name that none of ours has: {name[:80]!r}")
        most = _LONGEST_LIST if name in LISTS else LARGEST
        if part.size > most or entries[name].file_size != part.size:
            raise _Fault(f"{name[:80]} is not as long as it should be")
    total = sum(part.size for part in parts.values())
    if total > LARGEST_ARCHIVE:
        raise _Fault(f"unpacked it has {total / 1e6:.0f} MB, and {LARGEST_ARCHIVE / 1e6:.0f} MB is the most")


def _check_together(archive: Archive) -> None:
    """Numbers without gaps, ids without repeats, contents that are all there and all wanted."""
    for rows, name in ((archive.revisions, LISTS[0]), (archive.attachments, LISTS[3])):
        if [row.number for row in rows] != list(range(1, len(rows) + 1)):
            raise _Fault(f"the numbers in {name} have a gap")
    numbers = [row.number for row in archive.kept]
    if numbers != sorted(set(numbers)):
        raise _Fault(f"the numbers in {LISTS[2]} do not rise")
    ids = {one.id for one in archive.records}
    if len(ids) != len(archive.records) or "" in ids:
        raise _Fault(f"two records in {LISTS[1]} have the same id, or one has none")
    wanted = {digest for row in archive.revisions for digest in (row.body, *row.files.values())}
    wanted |= {row.digest for row in archive.attachments}
    there = {name.removeprefix(BLOBS) for name in archive.manifest.parts if name.startswith(BLOBS)}
    if odd := wanted ^ there:
        raise _Fault(f"a content is missing, or nothing needs it: {min(odd)[:16]}...")


def _read(packed: zipfile.ZipFile, name: str, part: Part) -> bytes:
    content = _bounded(packed, name, part.size)
    if hashlib.sha256(content).hexdigest() != part.sha256:
        raise _Fault(f"{name[:80]} was changed since it was written")
    return content


def _bounded(packed: zipfile.ZipFile, name: str, size: int) -> bytes:
    """A part of exactly that size: more is never unpacked, whatever the file says of itself."""
    with packed.open(name) as opened:
        content = opened.read(size + 1)
    if len(content) != size:
        raise _Fault(f"{name[:80]} has not the length that it should have")
    return content


def _lines(text: bytes, name: str) -> list[bytes]:
    lines = text.split(b"\n")
    if lines.pop():
        raise _Fault(f"{name} ends in the middle of a line")
    return lines


def _no_number(word: str) -> NoReturn:
    raise _Fault(f"{word} stands where a number belongs")


def _json(text: bytes, name: str) -> Any:
    try:
        return json.loads(text.decode("utf-8"), parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise _Fault(f"{name} cannot be read") from None


def _row(kind: type[M], line: bytes, name: str) -> M:
    return _valid(kind, _json(line, name), name)


def _valid(kind: type[M], plain: Any, name: str) -> M:
    try:
        row = kind.model_validate(plain)
        for text in _texts(plain):
            kept_text(text, "a text")
        as_line(plain)
    except ValidationError as mishap:
        first = mishap.errors()[0]
        where = ".".join(str(part)[:40] for part in first["loc"])
        raise _Fault(f"{name}: {where}: {first['msg']}") from None
    except (HistoryError, ValueError) as mishap:
        raise _Fault(f"{name}: {mishap}") from None
    return row


def _texts(plain: Any) -> Iterator[str]:
    """The texts of a row that stand in columns of their own."""
    if isinstance(plain, dict):
        for key, value in plain.items():
            if isinstance(value, str):
                yield value
            elif isinstance(value, dict) and key == "files":
                yield from value


def _record(line: bytes) -> Record:
    name = LISTS[1]
    plain = _json(line, name)
    if not isinstance(plain, dict):
        raise _Fault(f"{name} holds what is no record")
    try:
        one = from_plain(plain)
        _CHECKS[plain["kind_of_record"]].validate_json(line, strict=True)
        if as_line(to_plain(one)) != as_line(plain):
            raise _Fault(f"{name}: a record does not read as it was written")
        for text in (one.id, one.who, one.time, subject_of(one)):
            kept_text(text, "a text of a record")
    except ValidationError as mishap:
        raise _Fault(f"{name}: {mishap.errors()[0]['msg']}") from None
    except (HistoryError, ValueError, TypeError, AttributeError, KeyError) as mishap:
        raise _Fault(f"{name}: {mishap}") from None
    return one
