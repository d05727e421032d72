"""A hold point keeps its task open until its readings are there; plan, ladder and recording say the same."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from boostwright import verbs
from boostwright.build.document import Build
from boostwright.job.records import Override, Reading, Record, Step, TaskEvent, new_id
from boostwright.planning.holds import HoldPoint, hold_points
from boostwright.planning.ladder.gates import gates_of
from boostwright.planning.readings import judged_readings
from boostwright.planning.tasks import tasks_for
from tests.planning.ladder.made import build, ladder

ZERO = datetime(2026, 5, 2, 8, 0, tzinfo=UTC)
WHY = "the manometer broke and the breather was blown through by mouth"


def at(hours: float) -> str:
    return (ZERO + timedelta(hours=hours)).isoformat(timespec="milliseconds")


def done(task: str, hours: float, what: Step = Step.DONE) -> TaskEvent:
    return TaskEvent(new_id(), "L", at(hours), task, what.value, "T")


def answer(key: str, word: str, hours: float, when: str = "", step: str = "") -> Reading:
    return Reading(new_id(), "L", at(hours), key, answer=word, text=word, when=when, step=step, witness="T")


def value(key: str, number: float, hours: float, when: str = "", step: str = "") -> Reading:
    return Reading(new_id(), "L", at(hours), key, (number,), text=str(number), when=when, step=step)


def point(task: str, *records: Record, of: Build | None = None) -> HoldPoint:
    made = build() if of is None else of
    return hold_points(tasks_for(made), judged_readings(made, None, records), records)[task]


def test_done_without_its_reading_stays_held_until_the_reading_comes() -> None:
    event = done("baseline.crankcase", 2)
    shut = point("baseline.crankcase", event)
    assert (shut.open, shut.done, shut.missing) == (False, True, ("crankcase_idle",))
    read = value("crankcase_idle", 300.0, 1, "before")
    assert point("baseline.crankcase", event, read).open
    assert not point("baseline.crankcase", event, value("crankcase_idle", 300.0, 1, "after")).open


def test_outside_once_is_read_again_and_twice_stops() -> None:
    bad = value("coolant_drop", 12e3, 1, "before"), value("coolant_drop", 13e3, 2, "before")
    good = answer("coolant_gas", "none", 1, "before")
    once = point("baseline.coolant", bad[0], good, done("baseline.coolant", 3))
    assert (once.outside, once.twice, once.open) == (("coolant_drop",), (), False)
    twice = point("baseline.coolant", *bad, good)
    assert twice.twice == ("coolant_drop",)


def test_a_reading_serves_one_task_and_what_is_opened_again_wants_a_new_one() -> None:
    first = value("drain_fall", 0.3, 1)
    end = done("oil.mark", 2)
    assert point("oil.mark", first, end).open
    assert point("turbo.drain", first, end).missing == ("drain_fall",)
    assert not point("turbo.drain", first, end, value("drain_fall", 0.3, 3)).missing
    again = done("oil.mark", 4, Step.REOPENED)
    assert point("oil.mark", first, end, again, done("oil.mark", 5)).missing == ("drain_fall",)


def test_a_pull_counts_for_its_own_step_and_the_walk_round_is_looked_at() -> None:
    low = value("pull_peak", 120e3, 1, "after", "pull-low")
    assert "pull_peak" not in point("run.pull_low", low).missing
    assert "pull_peak" in point("run.pull_middle", low).missing
    assert "pull_exhaust_gas" not in point("run.pull_middle").missing  # where the instrument is there
    assert point("run.walk_round").missing == ("walk_round",)
    assert point("run.walk_round", answer("walk_round", "fuel", 1)).twice == ("walk_round",)


@pytest.mark.parametrize(
    ("who", "reason", "opens"),
    [("L", WHY, True), ("", WHY, False), ("L", "", False), ("L", "because", False), ("L", "x" * 40, False)],
)
def test_an_override_wants_name_and_reason(who: str, reason: str, opens: bool) -> None:
    event = done("baseline.crankcase", 1)
    found = point("baseline.crankcase", event, Override(new_id(), who, at(2), "baseline.crankcase", reason))
    assert found.open is opens
    assert bool(found.refused) is not opens


def test_no_override_for_leaking_fuel_nor_against_a_later_reading() -> None:
    wet = Override(new_id(), "L", at(2), "prove.fuel_dry", WHY, "T")
    assert not point("prove.fuel_dry", answer("fuel_dry", "no", 1), wet).open
    early = Override(new_id(), "L", at(1), "baseline.coolant", WHY, "T")
    later = value("coolant_drop", 12e3, 2, "before")
    found = point("baseline.coolant", later, early, answer("coolant_gas", "none", 1, "before"))
    assert "after the override" in found.refused


def test_the_ladder_counts_no_held_task_as_done() -> None:
    found = ladder()
    records = [done(task, 0) for rung in found.rungs for task in rung.tasks]
    free = gates_of(found.rungs, records)
    shut = gates_of(found.rungs, records, held={"run.walk_round": "not on record yet: walk_round"})
    step = [rung.key for rung in found.rungs].index("timing-truth")
    assert free[step].waits == ()
    assert shut[step].waits == ("run.walk_round",)
    assert any("stays held" in why for why in shut[step].why)


def test_plan_ladder_and_record_agree(tmp_path: Path) -> None:
    file = tmp_path / "car.toml"
    for name, text in verbs.demo_files("sound").items():
        (file if name == "sound.toml" else tmp_path / name).write_text(text, encoding="utf-8")
    asked = verbs.AskedEvent("baseline.crankcase", Step.DONE, "Lena", witness="Tom")
    kept = verbs.record_event(file, asked)
    assert any("stays held" in note for note in kept.notes)
    job = verbs.load_job(file)
    tasks = tasks_for(job.build)
    assert verbs.planning.holds_of(job, tasks).unread.keys() == {"baseline.crankcase"}
    with pytest.raises(verbs.events.ReadingError, match="says nothing"):
        verbs.override_hold(file, "baseline.crankcase", who="Lena", reason="because")
    with pytest.raises(verbs.events.ReadingError, match="step of the ladder"):
        verbs.override_hold(file, "warm-up", who="Lena", reason=WHY)
    verbs.override_hold(file, "baseline.crankcase", who="Lena", reason=WHY, witness="Tom")
    after = verbs.load_job(file)
    assert verbs.planning.holds_of(after, tasks).unread == {}
    assert any(isinstance(one, Override) for one in after.records)
    with pytest.raises(verbs.events.ReadingError, match="open already"):
        verbs.override_hold(file, "baseline.crankcase", who="Lena", reason=WHY, witness="Tom")
