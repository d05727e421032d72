"""Killed in the middle of writes, hundreds of times: what was acknowledged is there, and the store is whole.

Two children write into one store, and tell each record once the store has said that it is kept; each is
killed, at a moment drawn by chance, with a signal that no program can catch. This shows what a killed program
leaves behind; what a lost supply may leave is tried in `test_power_loss`.
"""

from __future__ import annotations

import gc
import os
import random
import select
import signal
import sqlite3
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, NoReturn

import pytest

from boostwright.errors import ConflictError
from boostwright.job import Reading, TaskEvent, now
from boostwright.store import Document, Job, open_job

AT_ONCE = 2  # children that write into one store
KILLS, GROUPS = 220, 5  # each group on a store of its own, so that reading it back stays short
KILLS_OF_CLIENTS = 24
LONGEST = 0.12  # that a child lives after a first word [s]; a write takes some milliseconds


def write_until_killed(job: Job, run: int, tell: int) -> NoReturn:
    """What the child does. Each line that it tells is a promise: `run.turn` is kept."""
    for turn in range(10_000):
        one = Reading(f"{run}.{turn}", "Ada", now(), "compression", (1.0e6 + turn,), note="x" * 400)
        two = TaskEvent(f"{run}.{turn}b", "Ben", now(), "oil.drill", "done")
        job.add(one, two)
        if turn % 5 == 4 and (saved := save(job, f"{run}.{turn}")):
            os.write(tell, f"document {saved} {run}.{turn}\n".encode())
        os.write(tell, f"record {run}.{turn}\n".encode())
        time.sleep(0.002)  # else the other one would hardly ever be let in
    os._exit(3)


def warm(path: Path, where: str) -> Job:
    """A job whose statements are worked out, and which holds nothing open: each child goes on from here with
    a connection of its own, and spends its short life writing.
    """
    job = open_job(path, where)
    job.add(
        Reading("0", "Ada", now(), "compression", (1.0,)), TaskEvent("0b", "Ben", now(), "oil.drill", "done")
    )
    assert save(job, "0") == 1
    assert job._store._open is not None
    job._store._open.dispose()
    return job


def save(job: Job, text: str) -> int:
    """The number of the revision that the text became; 0 where the other child was quicker."""
    head = job.head()
    try:
        return job.save(Document(text.encode() * 50), based_on=head.number if head else 0).number
    except ConflictError:
        return 0


def child_of(job: Job, run: int) -> tuple[int, int]:
    """A child that writes: its id, and where it is heard."""
    hear, tell = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(hear)
            write_until_killed(job, run, tell)
        finally:
            os._exit(4)
    os.close(tell)
    return child, hear


def killed_children(job: Job, runs: Iterable[int], chance: random.Random, longest: float) -> list[list[str]]:
    """What each child told before it was killed; a line that it had not ended is no promise."""
    told, statuses = [], []
    running = [(chance.random() * longest, *child_of(job, run)) for run in runs]
    if chance.random() < 0.8:  # until one has told something; else none may even have opened the store
        select.select([hear for _, _, hear in running], [], [], 60.0)
    began = time.monotonic()
    for moment, child, _ in sorted(running):
        time.sleep(max(0.0, began + moment - time.monotonic()))
        os.kill(child, signal.SIGKILL)
    for _, child, hear in running:
        with os.fdopen(hear, "rb") as heard:
            told.append(heard.read().decode().rpartition("\n")[0].splitlines())
        statuses.append(os.waitpid(child, 0)[1])
    for status in statuses:
        assert os.WIFSIGNALED(status), f"a child ended by itself, with {os.waitstatus_to_exitcode(status)}"
    return told


def check(job: Job, promised: list[str], known: Iterable[str] | None = None) -> None:
    """Every promise is kept, and no write is there by half. known: ids of all records, if they were read."""
    records = {one.id for one in job.records()} if known is None else set(known)
    lost = [line for line in promised if line.startswith("record ") and line.split()[1] not in records]
    assert not lost, f"acknowledged and gone: {lost[:5]}"
    for one in records:
        pair = {one.rstrip("b"), one.rstrip("b") + "b"}
        assert pair <= records, "half a write is there"
    revisions = job.revisions()
    assert [one.number for one in revisions] == list(range(1, len(revisions) + 1))
    for line in promised:
        if line.startswith("document "):
            _, number, text = line.split()
            assert job.document(int(number)).text == text * 50


def kill_many(
    kills: int, path: Path, where: str, seed: int, longest: float, look: Callable[[], Any] = lambda: None
) -> tuple[list[str], int]:
    """Kill as many children, and check after each. Returns every promise, and how many kills fell between a
    write and its promise.
    """
    chance = random.Random(20260301 + seed)
    promised: list[str] = []
    in_a_write = 0
    begun = warm(path, where)
    gc.freeze()  # so that a child copies no more of this program than it uses
    for first in range(1, kills + 1, AT_ONCE):
        runs = range(first, first + AT_ONCE)
        told = killed_children(begun, runs, chance, longest)
        promised += [line for lines in told for line in lines]
        look()
        with open_job(path, where) as job:
            known = [one.id for one in job.records()]
            for run, lines in zip(runs, told, strict=True):
                kept = sum(one.startswith(f"{run}.") for one in known)
                in_a_write += kept > 2 * sum(line.startswith("record ") for line in lines)
            check(job, [line for lines in told for line in lines], known)
    gc.unfreeze()
    with open_job(path, where) as job:
        check(job, promised)
    return promised, in_a_write


def test_a_file_survives_kills(tmp_path: Path) -> None:
    promises = in_writes = 0
    for group in range(GROUPS):
        path, where = tmp_path / f"{group}.toml", str(tmp_path / f"{group}.sqlite")
        with open_job(path, where) as job:
            job.prepare()

        def whole(where: str = where) -> None:
            with sqlite3.connect(where) as store:
                assert store.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
                assert store.execute("PRAGMA foreign_key_check").fetchall() == []
            store.close()

        promised, in_a_write = kill_many(KILLS // GROUPS, path, where, group, LONGEST, whole)
        promises, in_writes = promises + len(promised), in_writes + in_a_write
    assert promises > KILLS, f"{promises} promises: the children hardly wrote, so that little was tried"
    assert in_writes > 0, "no kill fell between a write and its promise"


def test_a_server_survives_kills_of_its_clients(tmp_path: Path, database: str) -> None:
    path = tmp_path / "car.toml"
    with open_job(path, database) as job:
        job.prepare()
    promised, _ = kill_many(KILLS_OF_CLIENTS, path, database, 99, 2 * LONGEST)
    assert len(promised) > KILLS_OF_CLIENTS / 2


def test_the_first_opening_survives_kills(tmp_path: Path) -> None:
    """The tables are made in one transaction: a file half made is one that is not made yet."""
    chance = random.Random(5)
    for run in range(20):
        path = tmp_path / f"{run}.toml"
        killed_child_early(path, chance.random() * 0.15)
        with open_job(path) as job:
            job.add(TaskEvent("1", "Ada", now(), "oil.drill", "done"))
            assert len(job.records()) == 1 or run
            job.add(TaskEvent("2", "Ada", now(), "oil.drill", "done"))


def killed_child_early(path: Path, life: float) -> None:
    child = os.fork()
    if child == 0:
        try:
            with open_job(path) as job:
                job.prepare()
            time.sleep(10.0)
        finally:
            os._exit(0)
    time.sleep(life)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)


@pytest.mark.parametrize("broken", ["document", "promise", "half"])
def test_the_check_can_fail(tmp_path: Path, broken: str) -> None:
    """A store that lost a promise, or holds half a write, is seen."""
    with open_job(tmp_path / "car.toml") as job:
        job.add(
            Reading("0.0", "Ada", now(), "compression", (1.0,)), TaskEvent("0.0b", "B", now(), "t", "done")
        )
        if broken == "promise":
            with pytest.raises(AssertionError, match="acknowledged and gone"):
                check(job, ["record 0.1"])
        elif broken == "half":
            job.add(TaskEvent("0.1b", "B", now(), "t", "done"))
            with pytest.raises(AssertionError, match="half a write"):
                check(job, ["record 0.0"])
        else:
            job.save(Document(b"another"), based_on=0)
            with pytest.raises(AssertionError):
                check(job, ["document 1 0.0"])
