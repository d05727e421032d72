"""The tables of the store as they are today.

The scripts in `migrations/` make them; a test compares the two.
"""

from __future__ import annotations

from typing import Final

from sqlalchemy import (
    Column,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    PrimaryKeyConstraint,
    Table,
    Text,
    UniqueConstraint,
)

__all__ = [
    "FORM",
    "FORM_TABLE",
    "METADATA",
    "attachment",
    "blob",
    "build",
    "desk",
    "document",
    "document_file",
    "kept",
    "record",
]

FORM: Final = 2
"""The form of the store; a migration adds one."""

FORM_TABLE: Final = "boostwright_form"
"""Where the form stands in a database."""

METADATA: Final = MetaData()


def _text(name: str) -> Column[str]:
    return Column(name, Text, nullable=False)


def _number(name: str) -> Column[int]:
    return Column(name, Integer, nullable=False, autoincrement=False)


def _owner() -> Column[str]:
    return Column("build", Text, ForeignKey("build.id"), nullable=False)


def _digest(name: str) -> Column[str]:
    return Column(name, Text, ForeignKey("blob.digest"), nullable=False)


# One car. head: its newest document, 0 for none. Every writer locks this row first: numbers have no gaps.
build: Final = Table(
    "build", METADATA,
    Column("id", Text, primary_key=True), _text("name"), _text("created"), _number("head"),
    UniqueConstraint("name", name="build_name"), sqlite_strict=True,
)  # fmt: skip

# What is kept by its content: texts of build files and maps, photos, logs.
blob: Final = Table(
    "blob", METADATA,
    Column("digest", Text, primary_key=True), _number("size"), _text("mime"),
    Column("content", LargeBinary, nullable=False), sqlite_strict=True,
)  # fmt: skip

# The build file, revision by revision. digest: over text and the files that it names. body: its bytes.
document: Final = Table(
    "document", METADATA,
    _owner(), _number("number"), _text("time"), _text("who"), _text("why"), _text("digest"), _digest("body"),
    PrimaryKeyConstraint("build", "number", name="document_key"), sqlite_strict=True,
)  # fmt: skip

document_file: Final = Table(
    "document_file", METADATA,
    _text("build"), _number("number"), _text("name"), _digest("body"),
    PrimaryKeyConstraint("build", "number", "name", name="document_file_key"),
    ForeignKeyConstraint(["build", "number"], ["document.build", "document.number"], name="document_file_of"),
    sqlite_strict=True,
)  # fmt: skip

# Which revision a copy of the build file was last known to hold.
desk: Final = Table(
    "desk", METADATA,
    _owner(), _text("place"), _number("number"),
    PrimaryKeyConstraint("build", "place", name="desk_key"), sqlite_strict=True,
)  # fmt: skip

# What people did, read and decided: append-only. subject: a measurement, a task, a gate, or the record that
# is taken back.
record: Final = Table(
    "record", METADATA,
    _owner(), _number("number"), _text("id"), _text("kind"), _text("subject"), _text("time"),
    _text("who"), _text("body"),
    PrimaryKeyConstraint("build", "number", name="record_key"),
    UniqueConstraint("build", "id", name="record_id"), sqlite_strict=True,
)  # fmt: skip
Index("record_newest", record.c.build, record.c.kind, record.c.subject, record.c.number)

# Photos and logs bound to a build or to one of its records. record: its id, '' for the build.
attachment: Final = Table(
    "attachment", METADATA,
    _owner(), _number("number"), _text("time"), _text("who"), _digest("digest"), _text("name"),
    _text("note"), _text("record"),
    PrimaryKeyConstraint("build", "number", name="attachment_key"), sqlite_strict=True,
)  # fmt: skip

# What was computed and is worth keeping: fits. inputs: fingerprint of the build that it is of.
kept: Final = Table(
    "kept", METADATA,
    _owner(), _number("number"), _text("time"), _text("who"), _text("kind"), _text("inputs"),
    _text("program"), _text("data"), _text("content"),
    PrimaryKeyConstraint("build", "number", name="kept_key"), sqlite_strict=True,
)  # fmt: skip
