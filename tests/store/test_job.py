"""A job: records come back as they were, once each, in their order, without those that were taken back."""

from __future__ import annotations

from pathlib import Path

import pytest

from boostwright.errors import HistoryError
from boostwright.job import Reading, TaskEvent, Withdrawal, new_id, now
from boostwright.store import open_job


def reading(measurement: str = "compression", value: float = 1.1e6) -> Reading:
    return Reading(new_id(), "Ada", now(), measurement, (value, 1.2e6), text="11 12 bar", photos=("ab",))


def test_records_come_back_as_they_were(tmp_path: Path, where: str) -> None:
    one, two = reading(), TaskEvent(new_id(), "Ben", now(), "oil.drill", "done", joints=(("sump", 11.0),))
    with open_job(tmp_path / "car.toml", where) as job:
        assert job.records() == ()
        assert not list(tmp_path.iterdir()), "reading makes no file"
        job.add(one, two)
        job.add(two, one)  # sent again
    with open_job(tmp_path / "car.toml", where) as job:
        assert job.records() == (one, two)


def test_what_was_taken_back_stands_no_more_and_is_still_there(tmp_path: Path, where: str) -> None:
    one, two = reading(), reading("leak_down")
    back = Withdrawal(new_id(), "Ada", now(), one.id)
    with open_job(tmp_path / "car.toml", where) as job:
        job.add(one, two, back)
        assert job.records() == (one, two, back)
        assert job.standing() == (two,)


def test_an_id_is_never_given_to_another_record(tmp_path: Path, where: str) -> None:
    one = reading()
    with open_job(tmp_path / "car.toml", where) as job:
        job.add(one)
        with pytest.raises(HistoryError, match="never changed"):
            job.add(reading("leak_down"), Reading(one.id, "Ada", now(), "compression", (9e5,)))
        assert job.records() == (one,), "nothing of the refused call is kept"
