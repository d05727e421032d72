"""A job: one build in a store, with everything that was kept of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import IO, TYPE_CHECKING, Any, Self

from sqlalchemy import Connection, select

from boostwright.errors import HistoryError
from boostwright.job import Record, Withdrawal, new_id, now, standing
from boostwright.store.blobs import Attachment, attach, content_of, copy_content, read_attachments
from boostwright.store.database import Database
from boostwright.store.documents import (
    Document,
    FileRevision,
    Noted,
    document_of,
    head_of,
    read_document,
    read_revisions,
    save_document,
    seen_at,
    set_seen,
)
from boostwright.store.kept import Revision, keep, read_kept
from boostwright.store.places import Place, place_of, who_am_i
from boostwright.store.records import (
    Tally,
    add_records,
    counts_of,
    latest_records,
    newest_of,
    read_records,
    records_about,
)
from boostwright.store.tables import build

if TYPE_CHECKING:
    from boostwright.store.archive_take import TakenIn

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

    def prepare(self) -> None:
        """Make the store where there is none, and bring it to today's form."""
        with self._store.writing():
            pass

    # ----- records

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

    def latest(self, most: int) -> tuple[tuple[Record, ...], Tally]:
        """The records that happened last, so many at most and those that they take back, in the order of
        arrival; and how many there are in all.
        """
        if not self._store.there:
            return (), Tally(0, 0, 0, frozenset())
        with self._store.reading() as connection:
            return latest_records(connection, self._id(connection), most)

    def standing(self) -> tuple[Record, ...]:
        """The records that nobody took back."""
        return standing(self.records())

    def newest(self, kind: str) -> dict[str, Record]:
        """Subject -> its newest standing record of one kind: 'reading' by measurement, 'task' by task,
        'override' by gate. Answered from an index: the records in between are not read.
        """
        if not self._store.there:
            return {}
        with self._store.reading() as connection:
            return newest_of(connection, self._id(connection), kind)

    def about(self, kind: str, subject: str) -> tuple[Record, ...]:
        """The standing records of one kind about one subject, oldest first."""
        if not self._store.there:
            return ()
        with self._store.reading() as connection:
            return records_about(connection, self._id(connection), kind, subject)

    def counts(self, kind: str) -> dict[str, int]:
        """Subject -> how many standing records of one kind there are."""
        if not self._store.there:
            return {}
        with self._store.reading() as connection:
            return counts_of(connection, self._id(connection), kind)

    def undo(self, who: str = "", reason: str = "") -> Record | None:
        """Take the last standing record back and return it; None where there is none. Nothing is deleted."""
        if not self._store.there:
            return None
        with self._store.writing() as connection:
            known = self._locked(connection)
            stand = standing(read_records(connection, known))
            if not stand:
                return None
            back = Withdrawal(new_id(), who or who_am_i(), now(), stand[-1].id, reason)
            add_records(connection, known, (back,))
            return stand[-1]

    # ----- build file

    def revisions(self) -> tuple[FileRevision, ...]:
        """Every revision of the build file, oldest first."""
        if not self._store.there:
            return ()
        with self._store.reading() as connection:
            return read_revisions(connection, self._id(connection))

    def head(self) -> FileRevision | None:
        """The newest revision; None where there is none."""
        if not self._store.there:
            return None
        with self._store.reading() as connection:
            return head_of(connection, self._id(connection))

    def document(self, number: int) -> Document:
        """The bytes of a revision. Raises HistoryError for a number that is none."""
        if not self._store.there:
            raise HistoryError(f"there is no revision {number} of this build; nothing is kept of it yet.")
        with self._store.reading() as connection:
            return document_of(connection, self._id(connection), number)

    def save(self, document: Document, *, based_on: int, who: str = "", why: str = "") -> FileRevision:
        """Keep a document as the newest revision.

        based_on: the revision that it was made from, 0 for none. Raises ConflictError, with both texts, where
        the store went on since; nothing is written then.
        """
        with self._store.writing() as connection:
            return save_document(
                self._store, connection, self._locked(connection), document,
                based_on=based_on, who=who or who_am_i(), why=why,
            )  # fmt: skip

    def note_build(self, path: str | Path | None = None, who: str = "", why: str = "") -> Noted:
        """Keep the build file as it stands on the disk, where it was changed since its newest revision.

        path: None for the job's own file. Raises OSError where it cannot be read, ConflictError where both
        this copy and the store were changed since they were last the same. A copy that was not changed while
        the store went on is 'behind', and nothing is written.
        """
        file = self.file if path is None else Path(path)
        file.stat()  # before a store is made for what is not there
        with self._store.writing() as connection:
            known = self._locked(connection)
            held = read_document(file)  # now, so that no later state of it was kept by another program
            head = head_of(connection, known)
            newest = 0 if head is None else head.number
            base = self._base(connection, known, held.digest)
            if base is not None and base.number != newest and base.digest == held.digest:
                set_seen(self._store, connection, known, self.place.desk, base.number)
                return Noted("behind", base.number, newest)
            begun = base.number if base is not None else newest if self.place.beside else 0
            saved = save_document(
                self._store, connection, known, held, based_on=begun, who=who or who_am_i(), why=why
            )
            set_seen(self._store, connection, known, self.place.desk, saved.number)
            return Noted("same" if saved.number == newest else "kept", saved.number, saved.number)

    def _base(self, connection: Connection, known: str, digest: str) -> FileRevision | None:
        """The revision that this copy came from: the one it was last seen to hold, else one that is the
        same.
        """
        every = read_revisions(connection, known)
        seen = seen_at(connection, known, self.place.desk)
        if every and seen == every[-1].number:
            return every[-1]
        same = next((one for one in reversed(every) if one.digest == digest), None)
        return same or (every[seen - 1] if 0 < seen <= len(every) else None)

    def restore(
        self, number: int, held: Document | None = None, who: str = "", why: str = ""
    ) -> tuple[Document, FileRevision, FileRevision | None]:
        """Make an older revision the newest one, as a revision of its own; the file itself is the caller's
        to write.

        held: what the file holds now; where no revision holds that, it is kept first. returns: what the file
        is to hold, its revision, and the one that `held` was kept as. Raises HistoryError for a number that
        is none, and where another device made a newer revision that this copy never held: nobody goes past
        that without having seen it.
        """
        who = who or who_am_i()
        with self._store.writing() as connection:
            known = self._locked(connection)
            old, every = document_of(connection, known, number), read_revisions(connection, known)
            newest, before = every[-1].number, None
            seen = seen_at(connection, known, self.place.desk)
            if (
                not self.place.beside
                and number != newest != seen
                and (held is None or held.digest != every[-1].digest)
            ):
                raise HistoryError(
                    f"{every[-1].who} made revision {newest} meanwhile, which this copy of the file never"
                    f" held; nothing was written. See it with --diff {newest}, bring it in with"
                    f" --restore {newest}, and then go back to {number} if you still want to."
                )
            if held is not None and held.digest not in {one.digest for one in every}:
                reason = f"as the file stood before revision {number} was brought back"
                before = save_document(
                    self._store, connection, known, held, based_on=newest, who=who, why=reason
                )
                newest = before.number
            reason = why or f"revision {number} brought back"
            saved = save_document(self._store, connection, known, old, based_on=newest, who=who, why=reason)
            return old, saved, before

    def hold(self, number: int) -> None:
        """Remember that the job's own file now holds that revision."""
        with self._store.writing() as connection:
            set_seen(self._store, connection, self._locked(connection), self.place.desk, number)

    # ----- photos, logs

    def attach(
        self, content: bytes, name: str, *, record: str = "", note: str = "", who: str = ""
    ) -> Attachment:
        """Keep a photo or a log. record: id of the record that it belongs to; '' for the build as a whole."""
        with self._store.writing() as connection:
            return attach(
                self._store, connection, self._locked(connection), content, name,
                who=who or who_am_i(), note=note, record=record,
            )  # fmt: skip

    def attachments(self) -> tuple[Attachment, ...]:
        """The photos and logs, oldest first, without their content."""
        if not self._store.there:
            return ()
        with self._store.reading() as connection:
            return read_attachments(connection, self._id(connection))

    def content(self, digest: str) -> bytes:
        """What was kept under a digest. Raises HistoryError where there is nothing."""
        if not self._store.there:
            raise HistoryError(f"nothing is kept under {digest[:64]!r}.")
        with self._store.reading() as connection:
            return content_of(connection, digest)

    def copy_content(
        self, digest: str, target: IO[bytes], told: Callable[[int, int], None] | None = None
    ) -> int:
        """Write what was kept under a digest into an open file, piece by piece; returns its size [bytes].

        told: is called with how much is written and how much there is [bytes]. Raises HistoryError where
        there is nothing, or where it is not what was kept: what is in the file is to be thrown away then.
        """
        if not self._store.there:
            raise HistoryError(f"nothing is kept under {digest[:64]!r}.")
        with self._store.reading() as connection:
            return copy_content(connection, digest, target, told)

    # ----- what is computed

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

    # ----- archives

    def export(self, target: IO[bytes], *, program: str, data: str) -> None:
        """Write the whole job into an open file. program, data: versions, for the archive's manifest."""
        from boostwright.store.archive import write_archive

        if not self._store.there:
            raise HistoryError("nothing is kept of this build yet, so there is nothing to export.")
        with self._store.reading() as connection:
            known = self._id(connection)
            if not known:
                raise HistoryError("nothing is kept of this build yet, so there is nothing to export.")
            write_archive(connection, known, target, program, data)

    def take_in(self, path: str | Path) -> TakenIn:
        """Bring an archive into this store under this job's name; as a whole or not at all.

        Raises ArchiveError where it is none, is damaged, or does not go with what is kept here; OSError.
        """
        from boostwright.store.archive_read import opened_archive
        from boostwright.store.archive_take import take_in

        with opened_archive(Path(path)) as archive, self._store.writing() as connection:
            return take_in(self._store, connection, archive, self.place.name, self._id(connection))

    # ----- the build's row

    def _id(self, connection: Connection) -> str:
        """The build's id, '' while nothing is kept of it.

        In the store beside a file, the only build is its.
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
