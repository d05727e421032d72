"""A good answer after a bad one of a fault that does not show every time."""

from __future__ import annotations

import pytest

from boostwright.build.recorded import Standing
from boostwright.job.records import Reading, Withdrawal
from boostwright.planning.readings import judged_readings, with_readings
from tests.findings.test_subjects import build


def gas(id: str, time: str, answer: str, when: str = "before") -> Reading:
    return Reading(id, "Tom", f"2025-04-{time}:00.000+00:00", "coolant_gas", answer=answer, when=when)


FOUND = gas("a", "01T10:00", "found")


def newest(*records: Reading | Withdrawal, zone: str = "") -> tuple[Standing, str, str]:
    """State of the newest, what it contradicts, what the build takes."""
    known = build(f'[hours]\ntime_zone = "{zone}"\n' if zone else "")
    last = judged_readings(known, None, records)[-1]
    filled = with_readings(known, records)
    return last.state, "" if last.against is None else last.against.id, filled.words("engine.coolant_gas")


@pytest.mark.parametrize("when", ["before", "after"])
def test_one_good_answer_undoes_nothing(when: str) -> None:
    for time in ("01T10:30", "02T10:00", "30T10:00"):
        found = newest(FOUND, gas("b", time, "none", when))
        assert found == (Standing.OUTSIDE, "a", "found")


def test_many_good_answers_of_the_same_day_undo_nothing() -> None:
    assert newest(FOUND, *(gas(f"n{i}", f"01T1{i}:30", "none") for i in range(5)))[1] == "a"


def test_two_good_answers_of_a_later_day_undo_it() -> None:
    state, against, taken = newest(FOUND, gas("b", "02T07:00", "none"), gas("c", "02T19:00", "none"))
    assert (state, against, taken) == (Standing.INSIDE, "", "none")


def test_a_further_bad_one_begins_anew() -> None:
    rows = (FOUND, gas("b", "02T07:00", "none"), gas("c", "02T19:00", "found"), gas("d", "03T07:00", "none"))
    assert newest(*rows) == (Standing.OUTSIDE, "c", "found")
    assert newest(*rows, gas("e", "04T07:00", "none"))[0] is Standing.INSIDE


def test_taken_back_it_holds_nothing() -> None:
    back = Withdrawal("w", "Tom", "2025-04-01T10:20:00.000+00:00", "a", "wrong fluid")
    assert newest(FOUND, back, gas("b", "01T10:30", "none")) == (Standing.INSIDE, "", "none")


def test_the_day_is_that_of_the_place() -> None:
    """22:30 UTC is half past midnight in the Berlin summer: a later day there."""
    rows = (gas("a", "01T20:00", "found"), gas("b", "01T22:30", "none"), gas("c", "01T23:30", "none"))
    assert newest(*rows)[0] is Standing.OUTSIDE
    assert newest(*rows, zone="Europe/Berlin")[0] is Standing.INSIDE


def test_a_good_answer_alone_is_good() -> None:
    assert newest(gas("b", "01T10:30", "none")) == (Standing.INSIDE, "", "none")
