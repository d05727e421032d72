"""Records that the store could not take: kept in a file beside the build until it can."""

from __future__ import annotations

import json
import os
import time
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from boostwright.errors import ConflictError, HistoryError
from boostwright.job.records import Record, from_plain, to_plain
from boostwright.store import open_job

__all__ = ["add_or_keep", "hand_over", "waiting_file", "waiting_records"]

_ENDING = ".waiting.jsonl"


def waiting_file(path: str | Path) -> Path:
    """Where records of a build file wait."""
    file = Path(path)
    return file.with_name(file.stem + _ENDING)


def _files(path: str | Path) -> list[Path]:
    """Those that a hand-over took and did not end, in the order in which they were taken; then the one that
    waits.
    """
    file = waiting_file(path)
    taken = sorted(file.parent.glob(f"{file.name}.taken-*"))
    return [*taken, *([file] if file.exists() else [])]


def waiting_records(path: str | Path) -> tuple[Record, ...]:
    """The records that wait. Raises HistoryError for a line that holds none."""
    found: list[Record] = []
    for file in _files(path):
        try:
            lines = file.read_text("utf-8").splitlines()
        except FileNotFoundError:  # another program has just put it into the store
            continue
        for number, line in enumerate(lines, 1):
            if not line.strip():
                continue
            try:
                found.append(from_plain(json.loads(line)))
            except (ValueError, AttributeError) as mishap:
                raise HistoryError(
                    f"{file}, line {number} holds no record: {mishap}. Mend or take out that line; the store"
                    " and the build file are whole."
                ) from None
    return tuple(found)


def _append(path: str | Path, records: Sequence[Record]) -> Path:
    file = waiting_file(path)
    text = "".join(f"{json.dumps(to_plain(one), ensure_ascii=False)}\n" for one in records)
    with file.open("a", encoding="utf-8") as opened:
        opened.write(text)
        opened.flush()
        os.fsync(opened.fileno())
    return file


def add_or_keep(path: str | Path, records: Sequence[Record], where: str = "") -> str:
    """Put records into the store, with those that waited; where it cannot take them, let them wait. The build
    file is kept too where it was changed.

    returns: '' when they are in the store, else why they wait and where. Raises OSError when they can be kept
    in neither place.
    """
    try:
        hand_over(path, where)
        with open_job(path, where) as job:
            job.add(*records)
            with suppress(ConflictError, OSError):  # what was recorded stands; the history tells of the file
                job.note_build(path)
    except HistoryError as mishap:
        file = _append(path, records)
        return f"{mishap} Nothing is lost: it waits in {file.name} and goes in with the next command."
    return ""


def hand_over(path: str | Path, where: str = "") -> int:
    """Put what waits into the store and return how much it was. Raises HistoryError; then all waits on."""
    file = waiting_file(path)
    if file.exists():
        with suppress(FileNotFoundError):  # another program took it
            file.rename(file.with_name(f"{file.name}.taken-{time.time_ns():020}-{os.getpid()}"))
    taken = [one for one in _files(path) if one != file]
    if not taken:
        return 0
    records = waiting_records(path)
    with open_job(path, where) as job:
        job.add(*records)
    for one in taken:
        one.unlink(missing_ok=True)
    return len(records)
