"""Form 1: fits beside a build file, in one table."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the table as the first form had it."""
    op.create_table(
        "revision",
        sa.Column("number", sa.Integer, primary_key=True),
        *(
            sa.Column(name, sa.Text, nullable=False)
            for name in ("time", "who", "kind", "inputs", "program", "data", "content")
        ),
    )
