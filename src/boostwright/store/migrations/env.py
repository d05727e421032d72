"""What alembic runs before the scripts: it is handed an open connection, inside a transaction."""

from __future__ import annotations

from alembic import context


def run() -> None:
    """Run the scripts that are missing, all of them or none."""
    context.configure(
        connection=context.config.attributes["connection"],
        version_table=context.config.attributes["version_table"],
        transactional_ddl=True,
    )
    context.run_migrations()


if __name__ == "env_py":  # as alembic loads it
    run()
