"""The form of an archive: one ZIP file with a manifest, lists as JSON, and contents under their SHA-256."""

from __future__ import annotations

import json
from typing import Annotated, Any, Final

from pydantic import BaseModel, ConfigDict, Field

__all__ = [
    "ARCHIVE_FORMAT",
    "BLOBS",
    "KIND",
    "LARGEST_ARCHIVE",
    "LISTS",
    "MANIFEST",
    "MOST_PARTS",
    "AttachmentRow",
    "KeptRow",
    "Manifest",
    "RevisionRow",
    "as_line",
]

ARCHIVE_FORMAT: Final = 1
"""The number of the form; it grows when a field changes its meaning or goes away."""

KIND: Final = "a job kept by boostwright"
MANIFEST: Final = "manifest.json"
LISTS: Final = ("revisions.jsonl", "records.jsonl", "kept.jsonl", "attachments.jsonl")
BLOBS: Final = "content/"
LARGEST_ARCHIVE: Final = 2 * 1024**3  # of all parts together, unpacked [bytes]
MOST_PARTS: Final = 50_000

_Digest = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
_Number = Annotated[int, Field(ge=1, le=2**31 - 1)]
_Words = Annotated[str, Field(max_length=4000)]


class _Row(BaseModel):
    """Nothing is guessed: a number in quotes is no number, and what is not known here is refused."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)


class Part(_Row):
    """One file in the archive, but for the manifest. size [bytes]."""

    sha256: _Digest
    size: Annotated[int, Field(ge=0, le=LARGEST_ARCHIVE)]


class BuildRow(_Row):
    """Which build it is of."""

    id: Annotated[str, Field(pattern=r"^[0-9a-f]{32}$")]
    name: Annotated[str, Field(min_length=1, max_length=4000)]
    created: _Words


class Manifest(_Row):
    """What the archive holds. program, data: versions of the program that wrote it and of its reference
    data.
    """

    format: int
    kind: str
    program: _Words
    data: _Words
    build: BuildRow
    parts: Annotated[dict[str, Part], Field(max_length=MOST_PARTS)]


class RevisionRow(_Row):
    """One revision of the build file; body and files name contents."""

    number: _Number
    time: _Words
    who: _Words
    why: _Words
    body: _Digest
    files: dict[_Words, _Digest]


class KeptRow(_Row):
    """Something that was computed, such as a fit."""

    number: _Number
    time: _Words
    who: _Words
    kind: _Words
    inputs: _Words
    program: _Words
    data: _Words
    content: Any


class AttachmentRow(_Row):
    """A photo or a log."""

    number: _Number
    time: _Words
    who: _Words
    digest: _Digest
    name: _Words
    note: _Words
    record: _Words


def as_line(plain: Any) -> str:
    """One line of a list; the same content gives the same line."""
    return json.dumps(plain, allow_nan=False, sort_keys=True, separators=(",", ":")) + "\n"
