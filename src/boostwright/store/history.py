"""An append-only history beside a build file, in one SQLite file.

A revision is never changed: to take one back is a revision too. Each is written in one transaction, so that a
lost supply leaves the history as it was.
"""

from __future__ import annotations

import getpass
import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from boostwright.errors import HistoryError

__all__ = ["History", "Revision"]

_FORM: Final = 1  # of the file; it grows when the table changes
_ENDING: Final = ".history.sqlite"
_WAIT: Final = 10.0  # for another program that is writing [s]
_TABLE: Final = """
CREATE TABLE IF NOT EXISTS revision (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    time TEXT NOT NULL,
    who TEXT NOT NULL,
    kind TEXT NOT NULL,
    inputs TEXT NOT NULL,
    program TEXT NOT NULL,
    data TEXT NOT NULL,
    content TEXT NOT NULL
) STRICT
"""
_ALL: Final = "SELECT number, time, who, kind, inputs, program, data, content FROM revision ORDER BY number"


@dataclass(frozen=True, slots=True)
class Revision:
    """One entry. number: from 1, rising. time: UTC, ISO 8601. inputs: fingerprint of the build. content:
    plain lists, dictionaries, numbers and texts.
    """

    number: int
    time: str
    who: str
    kind: str
    inputs: str
    program: str
    data: str
    content: Any


class History:
    """The history of one build file."""

    def __init__(self, build_file: str | Path) -> None:
        """build_file: the build's own file; the history stands beside it as NAME.history.sqlite."""
        file = Path(build_file)
        self.path = file.with_name(file.stem + _ENDING)

    def add(self, kind: str, inputs: str, content: Any, *, program: str, data: str) -> Revision:
        """Append one revision and return it once it is safely on the disk. Raises HistoryError."""
        text = json.dumps(content, allow_nan=False, sort_keys=True)
        now = datetime.now(UTC).isoformat(timespec="seconds")
        who = _who()
        with self._open(write=True) as store, store:
            row = store.execute(
                "INSERT INTO revision (time, who, kind, inputs, program, data, content)"
                " VALUES (?, ?, ?, ?, ?, ?, ?)",
                (now, who, kind, inputs, program, data, text),
            )
            number = int(row.lastrowid or 0)
        return Revision(number, now, who, kind, inputs, program, data, content)

    def all(self) -> tuple[Revision, ...]:
        """Every revision, oldest first; none where there is no history. Raises HistoryError."""
        if not self.path.exists():
            return ()
        with self._open(write=False) as store:
            store.text_factory = bytes  # a spoilt file may hold no text where text belongs
            rows = store.execute(_ALL).fetchall()
        return tuple(self._revision(row) for row in rows)

    def newest(self, kind: str, inputs: str) -> Revision | None:
        """The newest revision of a kind for a build as it stands; None where it was taken back or is none."""
        taken: set[int] = set()
        for revision in reversed(self.all()):
            if revision.kind == f"no {kind}" and isinstance(revision.content, dict):
                taken.add(int(revision.content.get("of", 0)))
            elif revision.kind == kind and revision.inputs == inputs and revision.number not in taken:
                return revision
        return None

    def _revision(self, row: tuple[Any, ...]) -> Revision:
        try:
            texts = [bytes(value).decode("utf-8") for value in row[1:]]
            time, who, kind, inputs, program, data, text = texts
            content, number = json.loads(text), int(row[0])
        except (ValueError, TypeError):
            raise HistoryError(
                f"{self.path}: revision {row[0]!r} cannot be read; the file was changed from outside. Move it"
                " away and fit again: the build file itself is whole."
            ) from None
        return Revision(number, time, who, kind, inputs, program, data, content)

    @contextmanager
    def _open(self, write: bool) -> Iterator[sqlite3.Connection]:
        try:
            with closing(sqlite3.connect(self.path, timeout=_WAIT)) as store:
                if write:
                    store.execute("PRAGMA synchronous = FULL")
                    store.execute(_TABLE)
                    form = store.execute("PRAGMA user_version").fetchone()[0]
                    if form == 0:
                        store.execute(f"PRAGMA user_version = {_FORM}")
                        store.commit()
                form = store.execute("PRAGMA user_version").fetchone()[0]
                if form > _FORM:
                    raise HistoryError(
                        f"{self.path} was written by a newer boostwright (form {form}); this one knows form"
                        f" {_FORM}. Use the newer one, or move the file away: nothing in it is touched."
                    )
                yield store
        except (sqlite3.Error, UnicodeDecodeError) as mishap:
            raise HistoryError(
                f"{self.path} cannot be used as a history: {mishap}. Move it away and run the command again;"
                " the build file itself is whole."
            ) from None


def _who() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "unknown"
