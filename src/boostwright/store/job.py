"""A job: one build in a store, with everything that was kept of it."""

from __future__ import annotations

from pathlib import Path
from types import TracebackType
from typing import Any, Self

from sqlalchemy import Connection, select

from boostwright.job import Record, new_id, now, standing
from boostwright.store.database import Database
from boostwright.store.kept import Revision, keep, read_kept
from boostwright.store.places import Place, place_of, who_am_i
from boostwright.store.records import add_records, read_records
from boostwright.store.tables import build

__all__ = ["Job", "open_job"]


def open_job(build_file: str | Path, where: str = "") -> Job:
    """The job of a build file; use it in a `with` block.

    where: '' for BOOSTWRIGHT_STORE or, without it, NAME.history.sqlite beside the build file; else the path
    of another SQLite file, or a URL (sqlite:///FILE, postgresql://NAME@HOST/DATABASE), where '#NAME' at the
    end names the build in that store. Nothing is made before something is kept. Raises HistoryError for a
    place that can be none; what cannot be opened is said at the first use.
    """
    return Job(Path(build_file), place_of(build_file, where))


class Job:
    """One build in a store. Every method raises HistoryError where the store cannot be used."""

    def __init__(self, file: Path, place: Place) -> None:
        self.file = file
        self.place = place
        self._store = Database(place)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, mishap: BaseException | None, where: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the store."""
        self._store.close()

    # ---------------------------------------------------------------------------------------- records

    def add(self, *records: Record) -> None:
        """Append records; they are on the disk when this returns. One that is there already is kept once."""
        if records:
            with self._store.writing() as connection:
                add_records(connection, self._locked(connection), records)

    def records(self) -> tuple[Record, ...]:
        """Every record in the order of arrival."""
        if not self._store.there:
            return ()
        with self._store.reading() as connection:
            return read_records(connection, self._id(connection))

    def standing(self) -> tuple[Record, ...]:
        """The records that nobody took back."""
        return standing(self.records())

    # ---------------------------------------------------------------------------------------- what is
    # computed

    def keep(self, kind: str, inputs: str, content: Any, *, program: str, data: str) -> Revision:
        """Keep something that was computed, such as a fit. inputs: fingerprint of the build that it is of."""
        with self._store.writing() as connection:
            entry = Revision(0, "", who_am_i(), kind, inputs, program, data, content)
            return keep(connection, self._locked(connection), entry)

    def kept(self) -> tuple[Revision, ...]:
        """Everything that was kept so, oldest first."""
        if not self._store.there:
            return ()
        with self._store.reading() as connection:
            return read_kept(connection, self._id(connection), self.place.shown)

    # ---------------------------------------------------------------------------------------- the build's row

    def _id(self, connection: Connection) -> str:
        """The build's id, '' while nothing of it is kept.

        The only build of the store beside a file is the file's.
        """
        found = connection.execute(select(build.c.id).where(build.c.name == self.place.name)).scalar()
        if found is None and self.place.beside:
            others = connection.execute(select(build.c.id).limit(2)).scalars().all()
            found = others[0] if len(others) == 1 else None
        return found or ""

    def _locked(self, connection: Connection) -> str:
        """The build's id with its row locked for this writer; the row is made where there is none."""
        found = self._id(connection)
        if not found:
            made = {"id": new_id(), "name": self.place.name, "created": now(), "head": 0}
            self._store.insert_new(connection, build, made)
            found = self._id(connection)
        connection.execute(select(build.c.head).where(build.c.id == found).with_for_update())
        return found
