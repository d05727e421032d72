"""Bringing a store to today's form, all of it in the caller's transaction.

Loaded only where that is needed.
"""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection

from boostwright.job import new_id
from boostwright.store.tables import FORM_TABLE

__all__ = ["migrate"]


def migrate(connection: Connection, form: int, name: str) -> None:
    """Run the scripts that are missing.

    form: of the store, 0 for an empty one. name: of the build that fits of form 1 belong to.
    """
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).with_name("migrations")).replace("%", "%%"))
    config.attributes.update(connection=connection, version_table=FORM_TABLE, name=name, new_id=new_id())
    if form == 1:
        command.stamp(config, "0001")
    command.upgrade(config, "head")
