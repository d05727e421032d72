"""Going back to a revision writes over nothing that is kept nowhere, and past no revision unseen."""

from __future__ import annotations

from pathlib import Path

import pytest

from boostwright import verbs
from boostwright.errors import HistoryError
from boostwright.store import Job, open_job
from tests.store.conftest import database, server, where

__all__ = ["database", "server", "where"]  # the fixtures of both kinds of store


@pytest.fixture
def car(tmp_path: Path) -> Path:
    path = tmp_path / "car.toml"
    path.write_text("one")
    verbs.keep_file(path)
    path.write_text("two")
    verbs.keep_file(path)
    return path


def test_an_edit_while_a_revision_comes_back_is_not_lost(car: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody saves the file in an editor after it was read and before it is written."""
    plain = Job.restore

    def slow(self: Job, *given: object) -> object:
        done = plain(self, *given)  # type: ignore[arg-type]
        car.write_text("by hand")
        return done

    with monkeypatch.context() as patched:
        patched.setattr(Job, "restore", slow)
        with pytest.raises(HistoryError, match="changed while the revision was being brought back"):
            verbs.restore_revision(car, 1)
    assert car.read_text() == "by hand"
    verbs.restore_revision(car, 1)
    assert car.read_text() == "one"
    with open_job(car) as job:
        assert b"by hand" in [job.document(one.number).body for one in job.revisions()]


def test_a_map_that_the_file_names_no_more_is_kept_before_it_is_written_over(tmp_path: Path) -> None:
    files = next(f for n in verbs.demo_builds() if len(f := verbs.demo_files(n)) > 1)
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="utf-8", newline="")
    build, a_map = (tmp_path / name for name in list(files)[:2])
    verbs.keep_file(build)
    build.write_text("names no map")
    a_map.write_text("measured anew")
    verbs.restore_revision(build, 1)
    assert a_map.read_bytes() == files[a_map.name].encode()
    with open_job(build) as job:
        kept = [job.document(one.number) for one in job.revisions()]
    assert b"measured anew" in [one.files.get(a_map.name) for one in kept]


def test_nobody_goes_back_past_a_revision_that_they_never_saw(tmp_path: Path, where: str) -> None:
    bench, office = tmp_path / "bench" / "car.toml", tmp_path / "office" / "car.toml"
    for path in (bench, office):
        path.parent.mkdir()
        path.write_text("one")
        verbs.keep_file(path, where=where)
    bench.write_text("two")
    verbs.keep_file(bench, "Ada", where=where)
    office.write_text("one")
    bench.write_text("three")
    verbs.keep_file(bench, "Ada", where=where)
    with pytest.raises(HistoryError, match="Ada made revision 3 meanwhile"):
        verbs.restore_revision(office, 1, where=where)
    assert office.read_text() == "one"
    verbs.restore_revision(office, 3, where=where)
    assert verbs.restore_revision(office, 1, where=where).saved.number == 4
    assert office.read_text() == "one"
