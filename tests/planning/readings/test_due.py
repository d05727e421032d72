"""What is due: on which side the job stands, what is missing, what wants a second reading."""

from __future__ import annotations

import pytest

from boostwright.job.records import Reading, Record, TaskEvent, Withdrawal
from boostwright.library.measurements import measurements
from boostwright.planning.readings.due import due_now, side_now
from tests.findings.test_subjects import build


def _at(day: int) -> str:
    return f"2025-04-{day:02}T10:00:00.000+00:00"


def _reading(
    key: str, *values: float, id: str = "a", day: int = 1, answer: str = "", when: str = ""
) -> Reading:
    return Reading(id, "L", _at(day), key, tuple(values), answer=answer, when=when)


def test_at_first_all_of_before_is_due_in_the_order_of_the_catalogue() -> None:
    due = [row.measurement.key for row in due_now(build(), [])]
    possible = [key for key, one in measurements().items() if "before" in one.sides]
    assert due == [key for key in possible if key in due]
    assert {"law_answer", "compression", "leak_down", "coolant_gas", "go_signed"} <= set(due)


def test_what_only_other_builds_need_is_not_due() -> None:
    """A battery that stays where it is has no cable to prove; one that moves has."""
    stays = {row.measurement.key for row in due_now(build(), [], "during")}
    boot = build(rest='[battery]\nposition = "boot"\ncable_area = "50 mm2"\ncable_length = "5 m"\n')
    moves = {row.measurement.key for row in due_now(boot, [], "during")}
    assert "cable_insulation" not in stays
    assert "cable_insulation" in moves
    assert "turbo_axial_play" in stays & moves


def test_what_is_on_record_is_not_due_and_what_was_taken_back_is_again() -> None:
    rows: list[Record] = [_reading("oil_pressure_idle", 1.5e5)]
    assert "oil_pressure_idle" not in {row.measurement.key for row in due_now(build(), rows)}
    rows.append(Withdrawal("w", "L", _at(2), "a"))
    assert "oil_pressure_idle" in {row.measurement.key for row in due_now(build(), rows)}


def test_a_reading_outside_once_comes_first_and_twice_not_at_all() -> None:
    rows: list[Record] = [_reading("coolant_drop", 15e3)]
    first = due_now(build(), rows)[0]
    assert first.measurement.key == "coolant_drop"
    assert first.again is not None
    rows.append(_reading("coolant_drop", 16e3, id="b", day=2))
    assert "coolant_drop" not in {row.measurement.key for row in due_now(build(), rows)}


@pytest.mark.parametrize(
    ("records", "side"),
    [
        ([], "before"),
        ([_reading("go_signed", answer="no")], "before"),
        ([_reading("go_signed", answer="yes")], "during"),
        ([TaskEvent("t", "L", _at(1), "baseline.codes", "done")], "before"),
        ([TaskEvent("t", "L", _at(1), "strip.sump", "started")], "during"),
        ([TaskEvent("t", "L", _at(1), "run.first_fire", "done")], "after"),
        ([_reading("compression", 1.3e6, when="after")], "after"),
        ([_reading("go_signed", answer="yes"), Withdrawal("w", "L", _at(2), "a")], "before"),
    ],
)
def test_where_the_job_stands(records: list[Record], side: str) -> None:
    assert side_now(records) == side


def test_another_side_can_be_asked_for() -> None:
    assert all("after" in row.measurement.sides for row in due_now(build(), [], "after"))
    with pytest.raises(ValueError, match="no side"):
        due_now(build(), [], "later")
