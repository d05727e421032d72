"""From form to form: nothing lost on the way, the tables as the program expects them, a newer form
refused.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import create_engine

from boostwright.errors import HistoryError
from boostwright.job import TaskEvent, new_id, now
from boostwright.store import History, open_job
from boostwright.store.places import place_of
from boostwright.store.tables import FORM, FORM_TABLE, METADATA

# The statement by which the program of form 1 made its file, word for word.
FORM_1 = """
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
ROWS = [
    (1, "2026-03-01T10:00:00+00:00", "Ada", "fit", "ab", "0.1.0", "d1", '{"x": [0.1, 2.0]}'),
    (2, "2026-03-01T11:00:00+00:00", "Ben", "no fit", "ab", "0.1.0", "d1", '{"of": 1}'),
    (4, "2026-03-02T11:00:00+00:00", "Ada", "fit", "cd", "0.1.0", "d2", '{"x": "\\u00e9"}'),
]


def form_1(path: Path, form: int = 1) -> None:
    with sqlite3.connect(path) as store:
        store.execute(FORM_1)
        store.executemany("INSERT INTO revision VALUES (?, ?, ?, ?, ?, ?, ?, ?)", ROWS)
        store.execute(f"PRAGMA user_version = {form}")


def form_of(path: Path) -> int:
    with sqlite3.connect(path) as store:
        return int(store.execute("PRAGMA user_version").fetchone()[0])


@pytest.mark.parametrize("form", [1, 0])  # 0: its program was stopped between its first two steps
def test_a_file_of_form_1_is_carried_over_with_nothing_lost(tmp_path: Path, form: int) -> None:
    form_1(tmp_path / "car.history.sqlite", form)
    history = History(tmp_path / "car.toml")
    kept = history.all()
    assert [(r.number, r.time, r.who, r.kind, r.inputs, r.program, r.data) for r in kept] == [
        row[:7] for row in ROWS
    ]
    assert [r.content for r in kept] == [{"x": [0.1, 2.0]}, {"of": 1}, {"x": "é"}]
    assert history.newest("fit", "ab") is None
    assert history.add("fit", "ab", {}, program="0", data="d").number == 5
    assert form_of(tmp_path / "car.history.sqlite") == FORM
    with open_job(tmp_path / "car.toml") as job:
        job.add(TaskEvent(new_id(), "Ada", now(), "oil.drill", "done"))
        assert len(job.kept()) == 4


def test_a_migration_that_stops_half_way_leaves_the_file_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "car.history.sqlite"
    form_1(path)
    from alembic.operations import Operations

    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Operations, "drop_table", stop)
    with pytest.raises(KeyboardInterrupt):
        History(tmp_path / "car.toml").all()
    monkeypatch.undo()
    with sqlite3.connect(path) as store:
        assert store.execute("SELECT * FROM revision").fetchall() == ROWS
        assert {name for (name,) in store.execute("SELECT name FROM sqlite_master WHERE type = 'table'")} == {
            "revision", "sqlite_sequence"
        }  # fmt: skip
    assert form_of(path) == 1
    assert len(History(tmp_path / "car.toml").all()) == 3


def test_the_scripts_make_the_tables_that_the_program_expects(tmp_path: Path, where: str) -> None:
    with open_job(tmp_path / "car.toml", where) as job:
        job.add(TaskEvent(new_id(), "Ada", now(), "oil.drill", "done"))
    engine = create_engine(place_of(tmp_path / "car.toml", where).url)
    with engine.connect() as connection:
        context = MigrationContext.configure(
            connection, opts={"version_table": FORM_TABLE, "compare_type": True}
        )
        assert compare_metadata(context, METADATA) == []
    engine.dispose()


def test_a_file_of_a_newer_form_is_refused_and_not_touched(tmp_path: Path) -> None:
    path = tmp_path / "car.history.sqlite"
    with open_job(tmp_path / "car.toml") as job:
        job.add(TaskEvent(new_id(), "Ada", now(), "oil.drill", "done"))
    with sqlite3.connect(path) as store:
        store.execute(f"PRAGMA user_version = {FORM + 1}")
    store.close()
    before = path.read_bytes()
    with open_job(tmp_path / "car.toml") as job:
        for act in (job.records, job.kept, lambda: job.add(TaskEvent(new_id(), "A", now(), "t", "done"))):
            with pytest.raises(HistoryError, match=rf"newer boostwright \(form {FORM + 1}\)"):
                act()
    assert path.read_bytes() == before


def test_a_server_of_a_newer_form_is_refused(tmp_path: Path, database: str) -> None:
    import psycopg

    with open_job(tmp_path / "car.toml", database) as job:
        job.add(TaskEvent(new_id(), "Ada", now(), "oil.drill", "done"))
    with psycopg.connect(database, autocommit=True) as connection:
        connection.execute(f"UPDATE {FORM_TABLE} SET version_num = '0009'")
    with open_job(tmp_path / "car.toml", database) as job, pytest.raises(HistoryError, match="newer"):
        job.records()


def test_the_database_of_another_program_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "other.sqlite"
    with sqlite3.connect(path) as store:
        store.execute("CREATE TABLE recipe (name TEXT)")
    store.close()
    before = path.read_bytes()
    with (
        open_job(tmp_path / "car.toml", str(path)) as job,
        pytest.raises(HistoryError, match="of another program: nothing in it is touched"),
    ):
        job.add(TaskEvent(new_id(), "Ada", now(), "oil.drill", "done"))
    assert path.read_bytes() == before


def test_opening_a_store_of_today_loads_no_migration(tmp_path: Path) -> None:
    import subprocess
    import sys

    path = tmp_path / "car.toml"
    with open_job(path) as job:
        job.add(TaskEvent(new_id(), "Ada", now(), "oil.drill", "done"))
    code = (
        "import sys; from boostwright.store import open_job\n"
        f"with open_job({str(path)!r}) as job: assert len(job.records()) == 1\n"
        "print('alembic' in sys.modules)"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert ran.stdout.strip() == "False"
