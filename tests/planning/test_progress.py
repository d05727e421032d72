"""Records as progress, and the builder's pace."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.job.records import Step, TaskEvent, Withdrawal
from boostwright.planning.calendar import calendar_for
from boostwright.planning.progress import Progress, first_work, learned_pace, progress_of
from boostwright.planning.schedule import HOME
from tests.labels import check
from tests.planning.small_job import LISBON, MONDAY, build_with, small_job, task

CALENDAR = calendar_for(build_with('[[people]]\nname = "L"\n'), MONDAY, LISBON)
SATURDAY = datetime(2026, 12, 5, 8, tzinfo=UTC)


def event(key: str, what: Step, minutes: float, **more: str) -> TaskEvent:
    at = (SATURDAY + timedelta(minutes=minutes)).isoformat()
    return TaskEvent(f"{key}-{what.value}-{minutes}", "L", at, key, what.value, **more)


def test_a_task_that_was_started_and_done_has_its_time() -> None:
    found = progress_of([event("a.x", Step.STARTED, 0), event("a.x", Step.DONE, 50)], CALENDAR)
    assert found.worked["a.x"] == 3000.0
    assert found.ended["a.x"] == CALENDAR.seconds(SATURDAY) + 3000.0


def test_breaks_and_nights_do_not_count() -> None:
    records = [
        event("a.x", Step.STARTED, 240), event("a.x", Step.PAUSED, 260), event("a.x", Step.STARTED, 615),
        event("a.x", Step.DONE, 24 * 60 + 30),
    ]  # fmt: skip
    found = progress_of(records, CALENDAR)
    assert found.worked["a.x"] == (20 + 30 + 30) * 60.0, "ten hours end at 18:45"


def test_what_is_reopened_is_to_be_done_again() -> None:
    records = [event("a.x", Step.DONE, 0), event("a.x", Step.REOPENED, 5)]
    found = progress_of(records, CALENDAR)
    assert not found.ended
    assert found.repeats == {"a.x": 1}


def test_what_was_taken_back_never_was() -> None:
    done = event("a.x", Step.DONE, 0)
    back = Withdrawal("w", "L", done.time, done.id)
    assert not progress_of([done, back], CALENDAR).begun


def test_a_problem_stands_until_the_task_goes_on() -> None:
    records = [event("a.x", Step.STARTED, 0), event("a.x", Step.PROBLEM, 10, kind="part missing")]
    found = progress_of(records, CALENDAR)
    assert [p.kind for p in found.problems] == ["part missing"]
    assert found.paused == {"a.x": 600.0}
    later = progress_of([*records, event("a.x", Step.STARTED, 20)], CALENDAR)
    assert not later.problems


def test_only_what_lies_before_a_moment_counts() -> None:
    records = [event("a.x", Step.STARTED, 0), event("a.x", Step.DONE, 30)]
    found = progress_of(records, CALENDAR, SATURDAY + timedelta(minutes=10))
    assert found.running == {"a.x": 600.0}


def test_the_last_three_are_looked_at_again() -> None:
    found = progress_of([event(f"a.{k}", Step.DONE, k) for k in range(5)], CALENDAR)
    assert found.last == ("a.4", "a.3", "a.2")


def test_the_desk_is_no_beginning() -> None:
    records = [event("decide.list", Step.DONE, 0), event("a.x", Step.STARTED, 9)]
    found = first_work(records, ["decide.list"])
    assert found is not None
    assert found == SATURDAY + timedelta(minutes=9)


@given(
    st.lists(st.tuples(st.sampled_from(["a.x", "a.y"]), st.sampled_from(list(Step)), st.integers(0, 5000)))
)
def test_any_row_of_events_is_a_state(rows: list[tuple[str, Step, int]]) -> None:
    found = progress_of([event(key, what, minutes) for key, what, minutes in rows], CALENDAR)
    assert not found.ended.keys() & found.running.keys()
    assert not found.running.keys() & found.paused.keys()
    assert all(spent >= 0.0 for spent in (*found.worked.values(), *found.paused.values()))


def seen(ratio: float, count: int) -> Progress:
    tasks = small_job()[:count]
    return Progress(worked={t.key: ratio * t.effort.mean for t in tasks})


def test_without_records_the_pace_is_what_is_usual() -> None:
    found = learned_pace(Progress(), small_job())
    assert (found.pace.median, found.pace.spread) == pytest.approx((HOME.median, HOME.spread))
    assert found.seen == 0


def test_a_slow_builder_is_planned_slow_and_never_slower_than_booked() -> None:
    few, many = learned_pace(seen(1.5, 3), small_job()), learned_pace(seen(1.5, 20), small_job())
    assert 1.0 < few.pace.median < many.pace.median < 1.5 * 1.1
    assert many.pace.spread < few.pace.spread < HOME.spread
    assert few.plain == pytest.approx(1.5)


@check(
    "published",
    source="gelman2013",
    note="equation 2.12, normal mean with known variance: precisions add, the mean is weighted by them; from"
    " memory; worked by hand for one booked task",
)
def test_one_booked_task_moves_the_pace_by_its_precision() -> None:
    one = task("a.x", 60.0)
    ratio = 1.4
    sd = 0.4  # the least; the three points alone say 0.24
    assert (one.effort.high - one.effort.low) / (6.0 * one.effort.mean) < sd
    weights = (1.0 / 0.25**2, 1.0 / sd**2)
    log = weights[1] * (math.log(ratio) + 0.5 * sd**2) / sum(weights)
    found = learned_pace(Progress(worked={"a.x": ratio * one.effort.mean}), [one])
    assert found.pace.median == pytest.approx(math.exp(log), rel=1e-12)
    assert found.pace.spread == pytest.approx(sum(weights) ** -0.5, rel=1e-12)


def test_every_broken_stud_stands_until_the_studs_are_out_whatever_else_is_recorded() -> None:
    found = progress_of(
        [
            event("strip.nuts", Step.PROBLEM, 0, kind="stud broken", note="third"),
            event("strip.nuts", Step.PROBLEM, 20, kind="stud broken", note="fourth"),
            event("strip.nuts", Step.PROBLEM, 40, kind="time lost", note="2 h"),
            event("strip.nuts", Step.DONE, 60),
        ],
        CALENDAR,
    )
    assert [one.note for one in found.problems] == ["third", "fourth"]
    out = event("strip.broken_stud", Step.DONE, 120)
    more = event("strip.nuts", Step.PROBLEM, 130, kind="stud broken", note="fifth")
    found = progress_of(
        [event("strip.nuts", Step.PROBLEM, 0, kind="stud broken", note="third"), out, more], CALENDAR
    )
    assert [one.note for one in found.problems] == ["fifth"]
