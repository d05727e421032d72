"""One open store: connections, transactions, its form, and what goes wrong with it in plain words.

Everything that is written is on the disk when a transaction has ended. A writer takes its lock when it
begins, so that none reads what another is about to change.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from typing import Any, Final

from sqlalchemy import Connection, Engine, Table, create_engine, event, inspect, text
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.exc import SQLAlchemyError

from boostwright.errors import HistoryError
from boostwright.store.places import Place
from boostwright.store.tables import FORM, FORM_TABLE

__all__ = ["Database"]

_WAIT: Final = 20  # for another program that is writing [s]
_MARK: Final = 0x62777274  # of our SQLite files, so that nobody else's is taken for one
_DAMAGE: Final = ("malformed", "not a database", "disk I/O error")  # how SQLite says that a file is damaged
_MIGRATING: Final = 0x62777274  # the number of the lock that one migration at a time holds on a server


class Database:
    """The store at one place. It is opened when it is first used, and may be used by many threads."""

    def __init__(self, place: Place) -> None:
        self.place = place
        self._lock = threading.RLock()
        self._ready = False
        self._open: Engine | None = None

    @property
    def there(self) -> bool:
        """False while nothing has been kept at this place: reading it would only make an empty file."""
        path = self.place.path
        try:
            return path is None or path.stat().st_size > 0
        except OSError:
            return False

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection on which everything that is read is of one moment. Raises HistoryError."""
        yield from self._working(writes=False)

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A connection whose changes are kept as a whole when the block ends, or not at all.

        Raises HistoryError.
        """
        yield from self._working(writes=True)

    def close(self) -> None:
        """Let go of the file or the server."""
        with self._lock:
            if self._open is not None:
                self._open.dispose()
            self._open, self._ready = None, False

    def _working(self, writes: bool) -> Iterator[Connection]:
        path = self.place.path
        if path is not None and not path.parent.is_dir():
            raise HistoryError(
                f"{path.parent}: there is no such folder to keep the history in. Make it first, or name a"
                " place that is there."
            )
        try:
            engine = self._prepared()
            with engine.execution_options(writes=writes).connect() as connection:
                if not writes and self.place.path is None:
                    connection.execution_options(isolation_level="REPEATABLE READ")
                with connection.begin():
                    yield connection
        except (SQLAlchemyError, UnicodeError) as mishap:
            raise self.trouble(mishap) from None

    def insert_new(self, connection: Connection, table: Table, *rows: dict[str, Any]) -> None:
        """Add the rows that are not there yet, by the table's keys."""
        if not rows:
            return
        kind = sqlite if self.place.path is not None else postgresql
        connection.execute(kind.insert(table).on_conflict_do_nothing(), list(rows))

    def trouble(self, mishap: Exception) -> HistoryError:
        """The error that says in plain words what the database said."""
        said = " ".join(str(getattr(mishap, "orig", None) or mishap).split())[:200].rstrip(".?!")
        if self.place.path is None:
            return HistoryError(
                f"the store at {self.place.shown} cannot be used: {said}. Check that the server runs and"
                " that the address is right; the build file itself is whole."
            )
        if "locked" in said or "busy" in said:
            return HistoryError(
                f"{self.place.shown} has been held by another program for {_WAIT} s ({said}). Nothing was"
                " written: let the other one end, then run the same command again."
            )
        if any(word in said for word in _DAMAGE):
            return HistoryError(
                f"{self.place.shown} cannot be used as a history: it is damaged, or no history at all"
                f" ({said}). Nothing in it was changed. Before anything else copy it aside, with"
                f" {self.place.path.name}-wal if that is there; then bring back a copy of it, or move it away"
                " and take in an archive with `boostwright history FILE --import`. The build file itself is"
                " whole."
            )
        return HistoryError(
            f"{self.place.shown} cannot be used as a history: {said}. Move it away and run the command"
            " again; the build file itself is whole."
        )

    # ----- opening

    def _prepared(self) -> Engine:
        with self._lock:
            if self._open is None:
                self._open = self._engine()
            if not self._ready:
                if self._form() != FORM:
                    self._migrate()
                self._ready = True
            return self._open

    def _engine(self) -> Engine:
        if self.place.path is None:
            engine = create_engine(
                self.place.url, connect_args={"connect_timeout": _WAIT}, pool_pre_ping=True, pool_size=4
            )
            event.listen(engine, "connect", _server_connected)
            return engine
        url = self.place.url
        path = self.place.path
        if (
            path.exists()
            and not os.access(path.parent, os.W_OK)
            and not path.with_name(path.name + "-wal").exists()
        ):
            url = url.set(database=f"file:{path.absolute()}", query={"immutable": "1", "uri": "true"})
        engine = create_engine(url, connect_args={"timeout": _WAIT})
        event.listen(engine, "connect", _file_connected)
        event.listen(engine, "begin", _begun)
        return engine

    def _form(self) -> int:
        """The form of what is there: 0 for nothing yet.

        Raises HistoryError for one that is newer, or not ours.
        """
        assert self._open is not None
        with self._open.connect() as connection:
            form = _server_form(connection) if self.place.path is None else self._file_form(connection)
        if form > FORM:
            raise HistoryError(
                f"{self.place.shown} was written by a newer boostwright (form {form}); this one knows form"
                f" {FORM}. Use the newer one, or name another place: nothing in it is touched."
            )
        return form

    def _file_form(self, connection: Connection) -> int:
        form = int(connection.exec_driver_sql("PRAGMA user_version").scalar_one())
        mark = int(connection.exec_driver_sql("PRAGMA application_id").scalar_one())
        if mark == _MARK or form > FORM:
            return form
        tables = set(inspect(connection).get_table_names())
        if tables <= {"revision"} and mark == 0:
            return 1 if tables else 0
        raise HistoryError(
            f"{self.place.shown} is a database of another program: nothing in it is touched. Name another"
            " place."
        )

    def _migrate(self) -> None:
        from boostwright.store.migrate import migrate

        assert self._open is not None
        if self.place.path is not None:
            with closing(self._open.raw_connection()) as raw:
                raw.cursor().execute("PRAGMA journal_mode = WAL")
        with self._open.execution_options(writes=True).connect() as connection, connection.begin():
            if self.place.path is None:
                connection.execute(text("SELECT pg_advisory_xact_lock(:number)"), {"number": _MIGRATING})
                form = _server_form(connection)
            else:
                form = self._file_form(connection)  # another program may have been quicker
            if form < FORM:
                migrate(connection, form, self.place.name)
                if self.place.path is not None:
                    connection.exec_driver_sql(f"PRAGMA user_version = {FORM}")
                    connection.exec_driver_sql(f"PRAGMA application_id = {_MARK}")


def _server_form(connection: Connection) -> int:
    if not inspect(connection).has_table(FORM_TABLE):
        return 0
    return int(connection.exec_driver_sql(f"SELECT max(version_num) FROM {FORM_TABLE}").scalar() or 0)  # noqa: S608


def _server_connected(connection: Any, _: object) -> None:
    """Each new connection to a server: nobody waits for ever, and what is committed is on the disk."""
    with connection.cursor() as cursor:
        cursor.execute(f"SET lock_timeout = '{_WAIT}s'")
        cursor.execute("SET synchronous_commit = on")
    connection.commit()


def _file_connected(connection: Any, _: object) -> None:
    """Each new connection to an SQLite file."""
    connection.isolation_level = None  # the library's own BEGIN would be a deferred one
    for setting in (f"busy_timeout = {_WAIT * 1000}", "foreign_keys = ON", "synchronous = FULL"):
        connection.execute(f"PRAGMA {setting}")


def _begun(connection: Connection) -> None:
    """A writer locks at once: one that reads first and locks later is turned away when another was
    quicker.
    """
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
