"""Problems as recorded, and parts that may be missing."""

from __future__ import annotations

import dataclasses
import math
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright import verbs
from boostwright.job.records import Step, TaskEvent
from boostwright.planning.calendar import calendar_for
from boostwright.planning.missing import delays_of
from boostwright.planning.parts import Group, Lead, Line, PartsList, State, parts_for
from boostwright.planning.parts.odds import any_together
from boostwright.planning.schedule import Delay
from boostwright.planning.task import Effort
from boostwright.planning.tasks import tasks_for
from boostwright.planning.troubles import KINDS, arrival_of, misread, troubles_of, with_branches
from tests.labels import check
from tests.planning.small_job import LISBON, MONDAY, build_with, small_job

CALENDAR = calendar_for(build_with('[[people]]\nname = "L"\n'), MONDAY, LISBON)
AT = datetime(2026, 12, 5, 14, tzinfo=UTC)
SECONDS = CALENDAR.seconds(AT)


def problem(kind: str, note: str = "", task: str = "turbo.on") -> TaskEvent:
    return TaskEvent("p", "L", AT.isoformat(), task, Step.PROBLEM.value, kind=kind, note=note)


@pytest.mark.parametrize(
    ("note", "hours"),
    [
        ("2 d", 48.0),
        ("90 min", 1.5),
        ("Tuesday 10:00", 68.0),
        ("turbo gasket, Tuesday 10:00", 68.0),
        ("studs, M8, 2 d", 48.0),
        ("2026-12-07 09:00", 43.0),
    ],
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
    note="20 000 draws of each task against the quadrature over the common factor of each order; four"
    " sampling errors",
)
@pytest.mark.parametrize("name", ["sound", "highland"])
def test_the_chance_that_something_is_missing_is_that_of_its_lines(name: str) -> None:
    build = verbs.demo_build(name)
    tasks = tasks_for(build)
    parts = parts_for(build, tasks)
    order = {t.key: k for k, t in enumerate(tasks)}
    by_task: dict[str, dict[str, list[float]]] = {}
    for line in parts.counted:
        keys = [key for key in line.tasks if key in order]
        if keys:
            orders = by_task.setdefault(min(keys, key=order.__getitem__), {})
            orders.setdefault(line.order, []).append(0.002 if line.tried else 0.015)
    drawn = {d.task: d.odds for d in delays_of(parts, tasks)}
    for task, orders in by_task.items():
        wanted = 1.0 - math.prod(1.0 - any_together(each, 0.5) for each in orders.values())
        error = math.sqrt(wanted * (1.0 - wanted) / 20_000)
        assert drawn.get(task, 0.0) == pytest.approx(wanted, abs=4.0 * error), task
    tried = {d.task: d.odds for d in delays_of(parts, tasks, tried=True)}
    assert all(odds <= drawn[task] for task, odds in tried.items())


def test_what_is_on_its_way_holds_up_its_task_where_it_is_late() -> None:
    """An order of four weeks is in time for a start in two months and not for one in two days."""
    today = date(2025, 5, 1)
    task = next(t for t in tasks_for(verbs.demo_build("sound")) if t.key == "turbo.on")
    line = Line(
        "part.turbo", Group.PART, "turbo", tasks=("turbo.on",), state=State.ORDERED, ordered_on=today,
        lead=Lead(28.0, 0.25, "judgement"), tried=True,
    )  # fmt: skip
    (near,) = delays_of(PartsList((line,)), [task], today=today, begin=today + timedelta(2))
    assert near.odds > 0.99
    assert near.wait.likely == pytest.approx(26 * 86400.0, rel=0.02)
    (far,) = delays_of(PartsList((line,)), [task], today=today, begin=today + timedelta(60))
    assert far.odds < 0.01
    for seen in (dataclasses.replace(line, state=s) for s in (State.MISSING, State.FIND)):
        (at_once,) = delays_of(PartsList((seen,)), [task], today=today, begin=today + timedelta(2))
        assert at_once.odds < 0.01, "what nobody has ordered is for the parts list to say"
        (counted,) = delays_of(
            PartsList((seen,)), [task], today=today, begin=today + timedelta(2), unordered=True
        )
        assert counted.odds == near.odds


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


@given(st.sampled_from([*KINDS, "", "stud brocken"]) | st.text(max_size=30), st.text(max_size=60))
def test_what_nobody_can_read_is_told_and_never_raises(kind: str, note: str) -> None:
    wrong, can = misread(kind, note, ("L", "H"))
    assert bool(wrong) == bool(can)
    if kind and kind not in KINDS:
        assert wrong
        assert all(name in can for name in KINDS)
    if kind == "person left":
        assert bool(wrong) == (note.strip() not in {"L", "H"})
    if kind in {"", "other", "stud broken"}:
        assert not wrong


def test_what_is_read_leaves_no_doubt_and_what_is_not_says_what_is_taken() -> None:
    assert misread("time lost", "2 h", ()) == ("", "")
    for note in ("2 d", "turbo gasket, Tuesday 10:00", "gasket, unknown", "unknown"):
        assert misread("part missing", note, ()) == ("", "")
    assert "does not say when" in misread("part missing", "gasket on Tuesday, perhaps", ())[0]
    wrong, can = misread("time lost", "ages", ())
    assert "ages" in wrong
    assert "2 h" in can
    wrong, can = misread("part mising", "2 d", ())
    assert "part missing" in can
    assert "Did you mean 'part missing'?" in can
