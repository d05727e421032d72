"""Form 2: builds with their documents, records, photos; the fits of form 1 move in with the build that they
are of.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import context, op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the tables, carry every fit over, and let the old table go."""
    _builds()
    _records()
    _carry_over()
    op.drop_table("revision")


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)


def _number(name: str) -> sa.Column[int]:
    return sa.Column(name, sa.Integer, nullable=False, autoincrement=False)


def _owner() -> sa.Column[str]:
    return sa.Column("build", sa.Text, sa.ForeignKey("build.id"), nullable=False)


def _digest(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, sa.ForeignKey("blob.digest"), nullable=False)


def _builds() -> None:
    op.create_table(
        "build", sa.Column("id", sa.Text, primary_key=True), _text("name"), _text("created"), _number("head"),
        sa.UniqueConstraint("name", name="build_name"), sqlite_strict=True,
    )  # fmt: skip
    op.create_table(
        "blob", sa.Column("digest", sa.Text, primary_key=True), _number("size"), _text("mime"),
        sa.Column("content", sa.LargeBinary, nullable=False), sqlite_strict=True,
    )  # fmt: skip
    op.create_table(
        "document", _owner(), _number("number"), _text("time"), _text("who"), _text("why"), _text("digest"),
        _digest("body"), sa.PrimaryKeyConstraint("build", "number", name="document_key"), sqlite_strict=True,
    )  # fmt: skip
    op.create_table(
        "document_file", _text("build"), _number("number"), _text("name"), _digest("body"),
        sa.PrimaryKeyConstraint("build", "number", "name", name="document_file_key"),
        sa.ForeignKeyConstraint(
            ["build", "number"], ["document.build", "document.number"], name="document_file_of"
        ), sqlite_strict=True,
    )  # fmt: skip
    op.create_table(
        "desk", _owner(), _text("place"), _number("number"),
        sa.PrimaryKeyConstraint("build", "place", name="desk_key"), sqlite_strict=True,
    )  # fmt: skip


def _records() -> None:
    op.create_table(
        "record", _owner(), _number("number"), _text("id"), _text("kind"), _text("subject"), _text("time"),
        _text("who"), _text("body"), sa.PrimaryKeyConstraint("build", "number", name="record_key"),
        sa.UniqueConstraint("build", "id", name="record_id"), sqlite_strict=True,
    )  # fmt: skip
    op.create_index("record_newest", "record", ["build", "kind", "subject", "number"])
    op.create_table(
        "attachment", _owner(), _number("number"), _text("time"), _text("who"), _digest("digest"),
        _text("name"), _text("note"), _text("record"),
        sa.PrimaryKeyConstraint("build", "number", name="attachment_key"), sqlite_strict=True,
    )  # fmt: skip
    op.create_table(
        "kept", _owner(), _number("number"), _text("time"), _text("who"), _text("kind"), _text("inputs"),
        _text("program"), _text("data"), _text("content"),
        sa.PrimaryKeyConstraint("build", "number", name="kept_key"), sqlite_strict=True,
    )  # fmt: skip


def _carry_over() -> None:
    connection = op.get_bind()
    first = connection.execute(sa.text("SELECT min(time) FROM revision")).scalar()
    if first is None:
        return
    made = {
        "id": context.config.attributes["new_id"],
        "name": context.config.attributes["name"],
        "time": first,
    }
    connection.execute(
        sa.text("INSERT INTO build (id, name, created, head) VALUES (:id, :name, :time, 0)"), made
    )
    connection.execute(
        sa.text(
            "INSERT INTO kept (build, number, time, who, kind, inputs, program, data, content)"
            " SELECT :id, number, time, who, kind, inputs, program, data, content FROM revision"
        ),
        {"id": made["id"]},
    )
