"""Records that the store could not take wait beside the build and are not lost."""

from __future__ import annotations

import dataclasses
import multiprocessing
from pathlib import Path

import pytest

from boostwright import verbs
from boostwright.errors import CannotKeep, HistoryError
from boostwright.job.records import Reading, now
from boostwright.store import Job, open_job
from boostwright.verbs.waiting import add_or_keep, hand_over, waiting_records


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "car.toml"
    path.write_text(verbs.demo_text("planted"), encoding="utf-8")
    return path


def reading(id: str) -> Reading:
    return Reading(id, "Lena", now(), "pump_voltage", (12.5,), when="before", text="12.5 V")


def busy(self: Job, *records: object) -> None:
    raise HistoryError("the store is busy: another program is writing.")


def test_a_busy_store_loses_nothing(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patched:
        patched.setattr(Job, "add", busy)
        said = add_or_keep(file, [reading("a" * 32)])
        assert "Nothing is lost" in said
        assert add_or_keep(file, [reading("b" * 32)])
        assert [one.id for one in waiting_records(file)] == ["a" * 32, "b" * 32]
        job = verbs.load_job(file)
        assert [one.id for one in job.records] == ["a" * 32, "b" * 32]
        assert job.build.number("pump.voltage") == 12.5
    assert add_or_keep(file, [reading("c" * 32)]) == ""
    with open_job(file) as opened:
        assert [one.id for one in opened.records()] == ["a" * 32, "b" * 32, "c" * 32]
    assert not list(file.parent.glob("*waiting*"))


def test_a_name_with_signs_that_a_search_reads_finds_what_waits(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "car [2]*.toml"
    path.write_text(verbs.demo_text("planted"), encoding="utf-8")
    monkeypatch.setattr(Job, "add", busy)
    add_or_keep(path, [reading("a" * 32)])
    assert [one.id for one in waiting_records(path)] == ["a" * 32]
    assert waiting_records(tmp_path / "car 2.toml") == ()


def _busy_half_the_time(path: str, name: str, count: int) -> None:
    """A program whose store is held by another for every second of its records."""
    add = Job.add
    for number in range(count):
        Job.add = busy if number % 2 else add  # type: ignore[method-assign, assignment]
        add_or_keep(path, [reading(f"{name}{number}")])


def test_programs_that_wait_and_hand_over_at_once_lose_nothing(file: Path) -> None:
    """One writes what waits while another takes it into the store."""
    context = multiprocessing.get_context("fork")
    programs = [context.Process(target=_busy_half_the_time, args=(str(file), name, 20)) for name in "abc"]
    for one in programs:
        one.start()
    for one in programs:
        one.join(120.0)
        assert one.exitcode == 0
    hand_over(file)
    with open_job(file) as opened:
        assert {one.id for one in opened.records()} == {f"{name}{k}" for name in "abc" for k in range(20)}
    assert not list(file.parent.glob("*waiting*"))


def test_a_spoilt_waiting_file_is_said_with_its_line(file: Path) -> None:
    file.with_name("car.waiting-1.jsonl").write_text('{"kind_of_record": "reading"}\n', encoding="utf-8")
    with pytest.raises(HistoryError, match="line 1"):
        verbs.load_job(file)


@pytest.mark.parametrize("who", ["Ada\udcff", "A\0", "A" * 5000])
def test_what_no_store_can_keep_is_refused_and_does_not_wait(file: Path, who: str) -> None:
    """Else everything that is recorded after it would wait behind it for ever."""
    with pytest.raises(CannotKeep):
        add_or_keep(file, [dataclasses.replace(reading("a" * 32), who=who)])
    assert add_or_keep(file, [reading("b" * 32)]) == ""
