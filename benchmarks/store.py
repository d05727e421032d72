"""Times of the store with a long history: 100,000 task events and readings of one build.

    python benchmarks/store.py                    everything, a minute
    python benchmarks/store.py open               only that part; parts: open, write
    python benchmarks/store.py --json FILE        also write the figures there

The reference of each ratio is Python's own `sqlite3` on the same file in the same run, with the shortest
question that gives the same rows: it is what the layers above it cost.
"""

from __future__ import annotations

import gc
import json
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from common import ROOT, Report, Row, Time, arguments, best_time

sys.path.insert(0, str(ROOT))

from boostwright import verbs
from boostwright.job import Reading, Record, TaskEvent
from boostwright.store import Job, open_job
from boostwright.views import history_page

PARTS = ("open", "write")
RECORDS, TASKS, MEASUREMENTS = 100_000, 140, 90
OPENING = 200.0  # target [ms]
TIME = "2026-03-01T10:00:00.000+00:00"
NEWEST = """
SELECT body FROM record JOIN (
    SELECT max(number) AS newest FROM record WHERE build = ? AND kind = ? GROUP BY subject
) ON number = newest WHERE build = ?
"""


def record(number: int) -> Record:
    """One of the many: a task event and a reading by turns."""
    known = f"{number:032x}"
    if number % 2:
        task = f"phase.task_{number // 2 % TASKS}"
        return TaskEvent(
            known, "Ada", TIME, task, ("started", "done")[number // 2 % 4 > 1], note="as planned"
        )
    measurement = f"reading_{number // 2 % MEASUREMENTS}"
    values = tuple(1.1e6 + number + k for k in range(4))
    return Reading(known, "Ben", TIME, measurement, values, text="11.0 11.1 11.2 11.3 bar", when="before")


def filled(folder: Path) -> Path:
    """A build whose store holds that many records."""
    path = folder / "car.toml"
    for name, text in verbs.demo_files("sound").items():
        (folder / name.replace("sound.toml", "car.toml")).write_text(text, encoding="utf-8")
    with open_job(path) as job:
        job.note_build()
        began = time.perf_counter()
        for first in range(0, RECORDS, 10_000):
            job.add(*map(record, range(first, first + 10_000)))
        print(f"{RECORDS} records written in {time.perf_counter() - began:.1f} s, 10,000 at once")
    return path


def waited(work: Callable[[], object], rounds: int = 9) -> Time:
    """CPU and wall of one call, best of several, without a warm-up of its own."""
    cpu, wall = [], []
    for _ in range(rounds):
        gc.collect()
        c, w = time.process_time(), time.perf_counter()
        work()
        wall.append(time.perf_counter() - w)
        cpu.append(time.process_time() - c)
    return Time(min(cpu), min(wall))


def opening(path: Path) -> tuple[int, int, int]:
    """What a person waits for: the newest revision, where each task stands, the readings by measurement."""
    with open_job(path) as job:
        head = job.head()
        assert head is not None
        job.document(head.number)
        return len(job.newest("task")), len(job.newest("reading")), sum(job.counts("reading").values())


def plain_opening(path: Path) -> int:
    """The same rows by `sqlite3` alone."""
    with closing(sqlite3.connect(path.with_name("car.history.sqlite"))) as store:
        (build,) = store.execute("SELECT id FROM build").fetchone()
        store.execute(
            "SELECT content FROM document JOIN blob ON blob.digest = body WHERE build = ?", (build,)
        ).fetchall()
        for kind in ("task", "reading"):
            for (body,) in store.execute(NEWEST, (build, kind, build)).fetchall():
                json.loads(body)
        rows = store.execute(
            "SELECT subject, count(*) FROM record WHERE build = ? AND kind = ? GROUP BY subject",
            (build, "reading"),
        )
        return sum(count for _, count in rows.fetchall())


def listing(path: Path) -> str:
    """What `boostwright history` prints: the last 40 records, and how many there are."""
    return history_page.history_report(verbs.job_history(path, most=40), 40)


def every(path: Path) -> int:
    """All records as they were written."""
    with open_job(path) as job:
        return len(job.records())


def plain_every(path: Path) -> int:
    """The same rows by `sqlite3` and `json` alone."""
    with closing(sqlite3.connect(path.with_name("car.history.sqlite"))) as store:
        return len([json.loads(body) for (body,) in store.execute("SELECT body FROM record ORDER BY number")])


def time_open(report: Report, path: Path) -> None:
    """Opening the build."""
    report.title(f"opening a build of {RECORDS:,} records; the target is for the wall")
    found = opening(path)
    assert found == (TASKS, MEASUREMENTS, RECORDS // 2), found
    assert plain_opening(path) == RECORDS // 2
    ours, plain = waited(lambda: opening(path)), waited(lambda: plain_opening(path))
    name = "open, newest revision, each task, each measurement: wall"
    report.add(Row(name, ours.wall * 1e3, "ms", target=OPENING, note=f"cpu {ours.cpu * 1e3:.0f} ms"))
    report.time("the same rows by sqlite3", plain)
    report.add(Row("ratio to sqlite3, of the walls", ours.wall / plain.wall, ""))
    assert f"{RECORDS - 39} before these" in listing(path), listing(path)
    report.time("the list of `history`, its last 40", waited(lambda: listing(path)))
    ours, plain = waited(lambda: every(path), 3), waited(lambda: plain_every(path), 3)
    report.time("all records as they were written", ours)
    report.time("the same rows by sqlite3 and json", plain)
    report.add(Row("ratio to sqlite3 and json", ours.cpu / plain.cpu, ""))


def time_write(report: Report, path: Path) -> None:
    """One record, safely on the disk."""
    report.title("writing into it, each on the disk when it returns")
    next_number = iter(range(RECORDS, 10 * RECORDS))

    def one(job: Job) -> None:
        job.add(record(next(next_number)))

    with open_job(path) as job:
        report.time("one record", best_time(lambda: one(job)))
        report.time("the build file, unchanged", best_time(job.note_build))
    asked = verbs.AskedReading("pump_voltage", "13.4 V", who="Ada")
    taken = waited(lambda: verbs.record_reading(path, asked), 3)
    report.time("`record` of one reading, which looks at all that stand", taken)
    with closing(sqlite3.connect(path.with_name("plain.sqlite"), isolation_level=None)) as store:
        store.execute("PRAGMA journal_mode = WAL")
        store.execute("PRAGMA synchronous = FULL")
        store.execute("CREATE TABLE record (body TEXT)")
        body = json.dumps({"note": "x" * 300})
        report.time(
            "one row by sqlite3", best_time(lambda: store.execute("INSERT INTO record VALUES (?)", (body,)))
        )


def main() -> None:
    """Run the parts that were asked for."""
    parts, report = arguments(__doc__, PARTS)
    with tempfile.TemporaryDirectory() as folder:
        path = filled(Path(folder))
        for name, work in zip(PARTS, (time_open, time_write), strict=True):
            if name in parts:
                work(report, path)
    report.close()


if __name__ == "__main__":
    main()
