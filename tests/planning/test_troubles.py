"""Problems as recorded, and parts that may be missing."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright import verbs
from boostwright.job.records import Step, TaskEvent
from boostwright.planning.calendar import calendar_for
from boostwright.planning.missing import delays_of
from boostwright.planning.parts import parts_for
from boostwright.planning.schedule import Delay
from boostwright.planning.task import Effort
from boostwright.planning.tasks import tasks_for
from boostwright.planning.troubles import KINDS, arrival_of, troubles_of, with_branches
from tests.labels import check
from tests.planning.small_job import LISBON, MONDAY, build_with, small_job

CALENDAR = calendar_for(build_with('[[people]]\nname = "L"\n'), MONDAY, LISBON)
AT = datetime(2026, 12, 5, 14, tzinfo=UTC)
SECONDS = CALENDAR.seconds(AT)


def problem(kind: str, note: str = "", task: str = "turbo.on") -> TaskEvent:
    return TaskEvent("p", "L", AT.isoformat(), task, Step.PROBLEM.value, kind=kind, note=note)


@pytest.mark.parametrize(
    ("note", "hours"), [("2 d", 48.0), ("90 min", 1.5), ("Tuesday 10:00", 68.0), ("2026-12-07 09:00", 43.0)]
)
def test_the_note_says_when_a_part_comes(note: str, hours: float) -> None:
    assert arrival_of(problem("part missing", note), CALENDAR) == SECONDS + 3600.0 * hours


def test_without_a_note_the_usual_wait_counts() -> None:
    usual = Delay("turbo.on", 0.1, Effort(1.0, 5 * 86400.0, 10 * 86400.0))
    assert arrival_of(problem("part missing"), CALENDAR, [usual]) == SECONDS + 5 * 86400.0
    assert arrival_of(problem("part missing"), CALENDAR) > SECONDS


@given(st.sampled_from([*KINDS, "fell over", ""]), st.text(max_size=40))
def test_any_problem_has_a_meaning(kind: str, note: str) -> None:
    found = troubles_of([problem(kind, note)], CALENDAR)
    assert all(at >= 0.0 and math.isfinite(at) for at in found.waits.values())
    assert found.studs + len(found.waits) + len(found.gone) + (found.lost_until > 0.0) == 1


def test_what_nobody_knows_waits_for_the_next_morning() -> None:
    found = troubles_of([problem("it looks odd")], CALENDAR)
    assert CALENDAR.moment(found.waits["turbo.on"]) == datetime(2026, 12, 6, 8, tzinfo=LISBON)


def test_each_broken_stud_takes_its_time() -> None:
    one = troubles_of([problem("stud broken")], CALENDAR)
    two = troubles_of([problem("stud broken"), problem("stud broken")], CALENDAR)
    job = small_job()
    efforts = [
        next(t for t in with_branches(job, found) if t.key == "strip.broken_stud").effort.mean
        for found in (one, two)
    ]
    assert efforts[1] == pytest.approx(2.0 * efforts[0])
    without = tuple(t for t in job if t.key != "strip.broken_stud")
    made = with_branches(without, one)
    assert next(t for t in made if t.key == "strip.broken_stud").after == ("strip.nuts",)
    assert "strip.broken_stud" in next(t for t in made if t.key == "strip.manifold").after


@check(
    "limit",
    note="lines that fail independently: the chance that none does is the product over lines, however they"
    " are put together by tasks",
)
@pytest.mark.parametrize("name", ["sound", "highland"])
def test_the_chance_that_something_is_missing_is_that_of_its_lines(name: str) -> None:
    build = verbs.demo_build(name)
    tasks = tasks_for(build)
    parts = parts_for(build, tasks)
    keys = {t.key for t in tasks}
    delays = delays_of(parts, tasks)
    lines = [line for line in parts.lines if line.counts and any(key in keys for key in line.tasks)]
    none = math.prod(1.0 - (0.002 if line.tried else 0.015) for line in lines)
    assert math.prod(1.0 - d.odds for d in delays) == pytest.approx(none)
    tried = delays_of(parts, tasks, tried=True)
    assert all(b.odds <= a.odds for a, b in zip(delays, tried, strict=True))


def test_a_part_holds_up_the_first_task_that_needs_it() -> None:
    build = verbs.demo_build("sound")
    tasks = tasks_for(build)
    order = {t.key: k for k, t in enumerate(tasks)}
    parts = parts_for(build, tasks)
    delayed = {d.task for d in delays_of(parts, tasks)}
    for line in parts.lines:
        keys = sorted((key for key in line.tasks if key in order), key=order.__getitem__)
        if line.counts and keys:
            assert keys[0] in delayed


def test_a_clock_that_is_ahead_loses_no_record() -> None:
    from boostwright.planning.plan import Wishes, plan_for

    done = TaskEvent("d", "L", (AT + timedelta(hours=3)).isoformat(), "baseline.compression", "done")
    made = plan_for(
        build_with('[[people]]\nname = "L"\n'), small_job(), AT, LISBON, records=[done],
        wishes=Wishes(samples=200, seconds=0.0), quick=True,
    )  # fmt: skip
    assert "baseline.compression" in made.progress.ended
