"""A loose exhaust manifold, a broken stud: nobody starts the engine, and nothing is called whole."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from boostwright import verbs
from boostwright.job.records import Step, TaskEvent
from boostwright.planning.calendar import calendar_for
from boostwright.planning.plan import Plan, Wishes, plan_for
from boostwright.planning.progress import progress_of
from boostwright.planning.states import state_of
from boostwright.planning.tasks import tasks_for
from boostwright.planning.troubles import troubles_of, with_branches
from tests.planning.small_job import LISBON, MONDAY, build_with, small_job

AT = datetime(2026, 12, 5, 14, tzinfo=UTC)
BUILD = verbs.demo_build("sound")
TASKS = tasks_for(BUILD)


def event(task: str, step: Step, minutes: float, kind: str = "") -> TaskEvent:
    time = (AT + timedelta(minutes=minutes)).isoformat()
    return TaskEvent(f"{task}{step.value}{minutes}", "L", time, task, step.value, kind=kind)


def planned(*events: TaskEvent) -> Plan:
    return plan_for(
        BUILD, TASKS, AT + timedelta(hours=1), LISBON, records=events,
        wishes=Wishes(samples=200, seconds=0.0), quick=True,
    )  # fmt: skip


def check_nothing_runs(made: Plan) -> None:
    assert made.state_now is not None
    assert "exhaust_loose" in {thing.key for thing in made.state_now.open}
    assert made.state_now.way.steps, "it cannot be left just so"
    order = [slot.task for slot in made.schedule.slots]
    shut = order.index("turbo.manifold_on") if "turbo.manifold_on" in order else len(order)
    assert "baseline.road" not in order
    assert "baseline.road" in made.held
    assert not any(key.startswith("run.") or made.by_key[key].place == "road" for key in order[:shut])


def test_nothing_runs_the_engine_once_the_nuts_are_off() -> None:
    check_nothing_runs(planned(event("strip.nuts", Step.DONE, 0)))


def test_nothing_runs_the_engine_with_a_broken_stud() -> None:
    check_nothing_runs(planned(event("strip.nuts", Step.PROBLEM, 0, "stud broken")))
    check_nothing_runs(
        planned(event("strip.nuts", Step.PROBLEM, 0, "stud broken"), event("strip.nuts", Step.DONE, 5))
    )


def test_a_loose_manifold_is_no_state_to_leave_the_car_in_as_whole() -> None:
    state = state_of(["strip.nuts"], (), TASKS)
    assert state is None or not state.moves
    done = [task.key for task in TASKS if task.phase != "run"]
    assert "turbo.manifold_on" in done, "it is closed by the new manifold"


def test_every_broken_stud_counts_until_it_is_out() -> None:
    calendar = calendar_for(build_with('[[people]]\nname = "L"\n'), MONDAY, LISBON)
    events = [
        event("strip.nuts", Step.PROBLEM, 0, "stud broken"),
        event("strip.nuts", Step.PROBLEM, 5, "stud broken"),
        event("strip.nuts", Step.PROBLEM, 9, "time lost"),
        event("strip.nuts", Step.STARTED, 12),
        event("strip.nuts", Step.DONE, 20),
    ]
    found = troubles_of(progress_of(events, calendar).problems, calendar)
    assert found.studs == 2
    stud = next(t for t in with_branches(small_job(), found) if t.key == "strip.broken_stud")
    assert stud.odds == 1.0
    assert stud.amounts == ("2 studs have broken.",)
    out = [*events, event("strip.broken_stud", Step.DONE, 90)]
    assert troubles_of(progress_of(out, calendar).problems, calendar).studs == 0
