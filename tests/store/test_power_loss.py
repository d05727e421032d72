"""What a supply that fails may leave of the files: a write-ahead log cut off at any byte, or with something
else in it; a store file that is too short, or has a strange page.

SQLite recovers by itself (sqlitewal): a frame of the log counts only up to the last whole commit before the
first one whose running sum does not fit. Here that is held against where each commit ended when it was made.
"""

from __future__ import annotations

import random
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from boostwright.errors import HistoryError
from boostwright.job import Reading, Record, now
from boostwright.store import Document, open_job
from tests.labels import check

WRITES = 60
HEAD, FRAME_HEAD, PAGE = (
    32,
    24,
    4096,
)  # of the log, of a frame in it, of the store [bytes]; SQLite's file format
FRAME = FRAME_HEAD + PAGE
STORE, LOG = "car.history.sqlite", "car.history.sqlite-wal"


class Left(NamedTuple):
    """What lay on the disk when the supply failed. ends: of the log after each write [bytes]."""

    store: bytes
    log: bytes
    ends: tuple[int, ...]
    records: tuple[Record, ...]


@pytest.fixture(scope="module")
def left(tmp_path_factory: pytest.TempPathFactory) -> Left:
    """The files as they lie while the program still runs: all that was kept after the first is in the log."""
    folder = tmp_path_factory.mktemp("running")
    path, chance = folder / "car.toml", random.Random(7)
    with open_job(path) as job:
        job.save(Document(b"[car]\n"), based_on=0)
    ends, records = [], []
    holder = sqlite3.connect(
        folder / STORE
    )  # else the log is laid into the store whenever a connection closes
    holder.execute("SELECT count(*) FROM record").fetchone()
    with open_job(path) as job:
        for turn in range(WRITES):
            note = "x" * chance.randrange(6000)
            one = Reading(f"{turn}", "Ada", now(), "compression", (1.0e6 + turn,), note=note)
            job.add(one)
            records.append(one)
            ends.append((folder / LOG).stat().st_size)
        found = Left((folder / STORE).read_bytes(), (folder / LOG).read_bytes(), tuple(ends), tuple(records))
    holder.close()
    assert all((end - HEAD) % FRAME == 0 for end in ends), "whole frames"
    assert len(set(ends)) == WRITES, "each write is in the log"
    return found


@pytest.fixture(scope="module")
def closed(left: Left, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The store file once all of the log was laid into it."""
    folder = laid(tmp_path_factory.mktemp("closed"), left.store, left.log)
    with open_job(folder / "car.toml") as job:
        job.add(left.records[0])
    assert not (folder / LOG).exists()
    return (folder / STORE).read_bytes()


def laid(folder: Path, store: bytes, log: bytes = b"") -> Path:
    folder.mkdir(exist_ok=True)
    (folder / STORE).write_bytes(store)
    if log:
        (folder / LOG).write_bytes(log)
    return folder


def recovered(folder: Path, wanted: tuple[Record, ...]) -> None:
    """Exactly those are there, the file is whole, and it goes on."""
    with open_job(folder / "car.toml") as job:
        assert job.records() == wanted
        assert job.document(1).text == "[car]\n"
        more = Reading("after", "Ben", now(), "compression", (1.0,))
        job.add(more)
        assert job.records() == (*wanted, more)
    with sqlite3.connect(folder / STORE) as store:
        assert store.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    store.close()


@check(
    "published",
    source="sqlitewal",
    note="what a reader takes from a log that ends anywhere; from memory, exact",
)
def test_a_log_cut_off_anywhere_keeps_every_commit_before_the_cut(tmp_path: Path, left: Left) -> None:
    chance = random.Random(2026)
    cuts = [chance.randrange(len(left.log) + 1) for _ in range(100)]
    for number, cut in enumerate([*cuts, 0, HEAD, left.ends[0] - 1, left.ends[0], len(left.log)]):
        folder = laid(tmp_path / f"{number}", left.store, left.log[:cut])
        recovered(folder, left.records[: sum(end <= cut for end in left.ends)])
        shutil.rmtree(folder)


def a_byte(log: bytearray, at: int, chance: random.Random) -> None:
    log[at] ^= chance.randrange(1, 256)


def a_page(log: bytearray, at: int, chance: random.Random) -> None:
    first = HEAD + (at - HEAD) // FRAME * FRAME + FRAME_HEAD
    log[first : first + PAGE] = chance.randbytes(PAGE)


def the_rest(log: bytearray, at: int, chance: random.Random) -> None:
    log[at:] = bytes(len(log) - at)


@check(
    "published",
    source="sqlitewal",
    note="the running sum of the frames: none counts from the first that does not fit; from memory, exact",
)
@pytest.mark.parametrize("spoil", [a_byte, a_page, the_rest])
def test_a_log_with_something_else_in_it_keeps_every_commit_before_that(
    tmp_path: Path, left: Left, spoil: Callable[[bytearray, int, random.Random], None]
) -> None:
    chance = random.Random(11)
    for number in range(20):
        log = bytearray(left.log)
        at = chance.randrange(HEAD, len(log))
        spoil(log, at, chance)
        assert log != left.log
        first = next(k for k, (was, now) in enumerate(zip(left.log, log, strict=True)) if was != now)
        whole = HEAD + (first - HEAD) // FRAME * FRAME
        folder = laid(tmp_path / f"{number}", left.store, bytes(log))
        recovered(folder, left.records[: sum(end <= whole for end in left.ends)])
        shutil.rmtree(folder)


def told_or_whole(folder: Path, records: tuple[Record, ...]) -> str:
    """What was said; '' where everything was read just as it was written. Nothing in between."""
    before = (folder / STORE).read_bytes()
    try:
        with open_job(folder / "car.toml") as job:
            assert job.records() == records, "read, and not what was written"
            assert job.document(1).text == "[car]\n"
        return ""
    except HistoryError as said:
        assert (folder / STORE).read_bytes() == before, "told, and touched all the same"
        return str(said)


def test_a_store_that_is_too_short_is_told(tmp_path: Path, left: Left, closed: bytes) -> None:
    chance = random.Random(3)
    for number in range(100):
        folder = laid(tmp_path / f"{number}", closed[: chance.randrange(1, len(closed))])
        said = told_or_whole(folder, left.records)
        assert STORE in said or "in the store cannot be read" in said
        assert "the build file itself is whole" in said.casefold()
        shutil.rmtree(folder)


def test_a_store_with_a_strange_page_is_told_when_that_is_read(
    tmp_path: Path, left: Left, closed: bytes
) -> None:
    chance, said = random.Random(4), []
    for number in range(100):
        spoilt = bytearray(closed)
        first = chance.randrange(len(closed) // PAGE) * PAGE
        spoilt[first : first + PAGE] = chance.randbytes(PAGE)
        folder = laid(tmp_path / f"{number}", bytes(spoilt))
        said.append(told_or_whole(folder, left.records))
        shutil.rmtree(folder)
    told = [one for one in said if one]
    assert len(told) > 50, "most pages hold records"
    assert any("it is damaged" in one and f"{LOG} if that is there" in one for one in told)
