"""Records that the store could not take wait beside the build and are not lost."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from boostwright import verbs
from boostwright.errors import HistoryError
from boostwright.job.records import Reading, now
from boostwright.store import Job, open_job
from boostwright.verbs.waiting import add_or_keep, hand_over, waiting_file, waiting_records


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


def test_a_hand_over_that_broke_off_goes_on(file: Path) -> None:
    """What another program took and did not put in before it was killed."""
    add_or_keep(file, [reading("c" * 32)])
    taken = waiting_file(file).with_name(f"{waiting_file(file).name}.taken-1-00")
    from boostwright.job.records import to_plain

    taken.write_text(json.dumps(to_plain(reading("a" * 32))) + "\n", encoding="utf-8")
    assert hand_over(file) == 1
    assert hand_over(file) == 0
    with open_job(file) as opened:
        assert {one.id for one in opened.records()} == {"a" * 32, "c" * 32}
    assert not taken.exists()


def test_a_spoilt_waiting_file_is_said_with_its_line(file: Path) -> None:
    waiting_file(file).write_text('{"kind_of_record": "reading"}\n', encoding="utf-8")
    with pytest.raises(HistoryError, match="line 1"):
        verbs.load_job(file)
