"""Records that the store could not take: kept in a file beside the build until it can."""

from __future__ import annotations

import json
import time
from collections.abc import Sequence
from contextlib import suppress
from glob import escape
from pathlib import Path

from boostwright.errors import CannotKeep, ConflictError, HistoryError
from boostwright.job.records import Record, from_plain, new_id, to_plain
from boostwright.store import open_job

__all__ = ["add_or_keep", "hand_over", "waiting_files", "waiting_records"]

_WAITING = ".waiting-"
_ENDING = ".jsonl"


def waiting_files(path: str | Path) -> list[Path]:
    """The files in which records of a build file wait, the oldest first.

    Each is written once, as a whole, and goes once it is in the store: nobody ever adds to one that another
    program may be about to take away.
    """
    file = Path(path)
    return sorted(file.parent.glob(f"{escape(file.stem + _WAITING)}*{_ENDING}"))


def waiting_records(path: str | Path) -> tuple[Record, ...]:
    """The records that wait. Raises HistoryError for a line that holds none."""
    return tuple(one for file in waiting_files(path) for one in _held(file))


def _held(file: Path) -> list[Record]:
    """The records that one file holds; none where it has gone: they are in the store then."""
    try:
        lines = file.read_text("utf-8").splitlines()
    except FileNotFoundError:  # another program has just put it into the store
        return []
    except UnicodeDecodeError as mishap:
        raise HistoryError(
            f"{file} holds no records: {mishap}. Move it away; the store and the build file are whole."
        ) from None
    found: list[Record] = []
    for number, line in enumerate(lines, 1):
        if not line.strip():
            continue
        try:
            found.append(from_plain(json.loads(line)))
        except (ValueError, TypeError, AttributeError) as mishap:
            raise HistoryError(
                f"{file}, line {number} holds no record: {mishap}. Mend or take out that line; the store"
                " and the build file are whole."
            ) from None
    return found


def _wait(path: str | Path, records: Sequence[Record]) -> Path:
    """Write the records into a file of their own, whole or not at all."""
    from boostwright.views.files import write_new

    file = Path(path)
    name = f"{file.stem}{_WAITING}{time.time_ns():020}-{new_id()[:8]}{_ENDING}"
    waits = file.with_name(name)
    write_new(waits, "".join(f"{json.dumps(to_plain(one), ensure_ascii=False)}\n" for one in records))
    return waits


def add_or_keep(path: str | Path, records: Sequence[Record], where: str = "") -> str:
    """Put records into the store, with those that waited; where it cannot take them, let them wait. The build
    file is kept too where it was changed.

    returns: '' when they are in the store, else why they wait and where. Raises CannotKeep for what no store
    can keep, OSError when they can be kept in neither place.
    """
    try:
        hand_over(path, where)
        with open_job(path, where) as job:
            job.add(*records)
            with suppress(ConflictError, OSError):  # what was recorded stands; the history tells of the file
                job.note_build(path)
    except CannotKeep:  # to wait would not help, and whatever comes after it would wait behind it
        raise
    except HistoryError as mishap:
        file = _wait(path, records)
        return f"{mishap} Nothing is lost: it waits in {file.name} and goes in with the next command."
    return ""


def hand_over(path: str | Path, where: str = "") -> int:
    """Put what waits into the store and return how much it was. Raises HistoryError; then all waits on."""
    files = waiting_files(path)
    if not files:
        return 0
    records = [one for file in files for one in _held(file)]
    with open_job(path, where) as job:
        job.add(*records)  # what another program has just put there is kept once
    for file in files:
        file.unlink(missing_ok=True)
    return len(records)
