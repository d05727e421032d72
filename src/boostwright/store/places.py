"""Where a job is kept: the SQLite file beside the build file, another file, or a database by its URL; and by
whom.
"""

from __future__ import annotations

import getpass
import os
import socket
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from boostwright.errors import HistoryError

if TYPE_CHECKING:
    from sqlalchemy import URL

__all__ = ["ENDING", "Place", "place_of", "who_am_i"]

ENDING: Final = ".history.sqlite"
_PLACE: Final = "BOOSTWRIGHT_STORE"
_WHO: Final = "BOOSTWRIGHT_WHO"
_SERVER: Final = "postgresql+psycopg"
_SERVERS: Final = ("postgresql", "postgres", _SERVER)


@dataclass(frozen=True, slots=True)
class Place:
    """One store as a job sees it.

    url: for SQLAlchemy. path: the SQLite file; None for a server. beside: the file stands beside the build
    file and belongs to it. name: of the build in the store. shown: for people, without any password. desk:
    names the copy of the build file that is worked on, '' for the one beside the store.
    """

    url: URL
    path: Path | None
    beside: bool
    name: str
    shown: str
    desk: str


def who_am_i() -> str:
    """The name under which this person's records stand: BOOSTWRIGHT_WHO, else the login name, else
    'unknown'.
    """
    named = os.environ.get(_WHO, "").strip()
    if named:
        return named
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "unknown"


def place_of(build_file: str | Path, where: str = "") -> Place:
    """The store that is meant.

    where: '' for BOOSTWRIGHT_STORE or, without it, the file beside the build file; else a path of an SQLite
    file or a URL, sqlite:///FILE or postgresql://...; '#NAME' at the end of a URL names the build in that
    store, which otherwise has the name of the build file without its ending. Raises HistoryError for a URL
    of another kind.
    """
    file = Path(build_file)
    own = file.with_name(file.stem + ENDING) if file.name else Path(ENDING)
    wanted = where or os.environ.get(_PLACE, "").strip()
    if not wanted:
        return _file(own, True, file.stem, "")
    if "://" not in wanted:
        path = Path(wanted).expanduser()
        beside = path.absolute() == own.absolute()
        return _file(path, beside, file.stem, "" if beside else _desk(file))
    return _by_url(wanted, file, own)


def _file(path: Path, beside: bool, name: str, desk: str) -> Place:
    from sqlalchemy import URL

    return Place(URL.create("sqlite", database=str(path)), path, beside, name, str(path), desk)


def _desk(file: Path) -> str:
    return f"{socket.gethostname()}:{file.absolute()}"


def _by_url(wanted: str, file: Path, own: Path) -> Place:
    from sqlalchemy import make_url
    from sqlalchemy.exc import ArgumentError

    plain, _, name = wanted.partition("#")
    try:
        url = make_url(plain)
    except (ArgumentError, ValueError):  # its words would show the password
        raise HistoryError(
            "the address of the store cannot be read. Write it like postgresql://NAME@HOST/DATABASE or"
            " sqlite:///FILE; a password with special signs in it must be percent-encoded."
        ) from None
    kind = url.drivername
    if kind in ("sqlite", "sqlite+pysqlite") and url.database and url.database != ":memory:":
        path = Path(url.database)
        beside = path.absolute() == own.absolute() and not name
        return _file(path, beside, name or file.stem, "" if beside else _desk(file))
    if kind not in _SERVERS or not url.database:
        raise HistoryError(
            f"a store cannot be kept at {url.render_as_string(hide_password=True)}: it must be an SQLite file"
            " (sqlite:///FILE) or a database on a PostgreSQL server (postgresql://NAME@HOST/DATABASE)."
        )
    url = url.set(drivername=_SERVER)
    shown = url.set(drivername="postgresql").render_as_string(hide_password=True)
    for secret in url.query:  # libpq takes a password there too
        if "pass" in secret.lower():
            shown = shown.partition("?")[0]
    return Place(url, None, False, name or file.stem, shown, _desk(file))
