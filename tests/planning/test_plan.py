"""The plan as a whole: from a build, and again from the middle of the work."""

from __future__ import annotations

import dataclasses
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from boostwright import verbs
from boostwright.build.document import Build
from boostwright.errors import BuildFileError
from boostwright.job.records import Record, Step, TaskEvent
from boostwright.planning.levers import levers_for
from boostwright.planning.plan import Plan, Wishes, plan_for
from boostwright.planning.replan import ROUND, STOP, SUBSTITUTE, choices_for
from boostwright.planning.schedule import Delay
from boostwright.planning.scope import AT_THE_CAR
from boostwright.planning.states import nearest_safe_state, runs_engine
from boostwright.planning.task import Effort
from boostwright.planning.tasks import tasks_for
from tests.planning.small_job import LISBON, MONDAY, build_with, small_job

JOB = small_job()
TWO = '[[people]]\nname = "L"\n[[people]]\nname = "H"\nskill = "helper"\n'
QUICK = Wishes(samples=1000, seconds=0.0)
SATURDAY = datetime(2026, 12, 5, 8, tzinfo=UTC)


def plan(text: str = TWO, records: tuple[Record, ...] = (), wishes: Wishes = QUICK, **more: object) -> Plan:
    return plan_for(build_with(text), JOB, MONDAY, LISBON, records=records, wishes=wishes, **more)  # type: ignore[arg-type]


def done_until(key: str) -> tuple[TaskEvent, ...]:
    """Everything up to a task, done as planned, five minutes apart from Saturday 08:00 on."""
    keys = [t.key for t in JOB]
    found = []
    for k, name in enumerate(keys[: keys.index(key) + 1]):
        at = (SATURDAY + timedelta(minutes=5 * k)).isoformat()
        found.append(TaskEvent(f"d{k}", "L", at, name, Step.DONE.value))
    return tuple(found)


def event(key: str, what: Step, at: datetime, **more: str) -> TaskEvent:
    return TaskEvent(f"{key}{what.value}{at}", "L", at.isoformat(), key, what.value, **more)


def test_who_has_gone_home_does_not_help_to_shut_the_car() -> None:
    """The same order and the same Saturday night, with one pair of hands fewer for what can be shared."""
    slow = Wishes(samples=200, seconds=0.0)
    gone = plan(TWO + 'until = "Saturday 13:00"\n', wishes=slow)
    first = gone.nights[0]
    behind = [*gone.progress.ended, "decide.list"]
    behind += [s.task for s in sorted(gone.schedule.slots, key=lambda s: s.end) if s.end <= first.at]
    alone, shared = (
        nearest_safe_state(behind, first.in_hand, gone.tasks, hands, ()).way.seconds for hands in (1, 2)
    )
    assert alone > shared
    assert first.nearest.way.seconds == alone


def test_nothing_that_takes_the_car_apart_is_done_on_an_evening() -> None:
    made = plan(f"{TWO}[hours]\nevenings = 3\n")
    for slot in made.schedule.slots:
        if slot.start < made.calendar.start:
            assert slot.task in made.evening_tasks
            assert slot.task.startswith(("baseline", "battery", "turbo.bench"))


def test_each_night_has_its_state_and_before_the_start_the_car_drives() -> None:
    made = plan(f"{TWO}[hours]\nevenings = 3\n")
    assert made.nights
    for night in made.nights:
        assert night.begin <= night.at
        if night.at < made.calendar.start and not night.nearest.open:
            assert night.nearest.way.state.moves


def test_nobody_works_at_night_on_anything_and_nobody_longer_than_ten_hours() -> None:
    made = plan()
    worked: dict[tuple[str, object], float] = {}
    for slot in made.schedule.slots:
        for piece in slot.pieces:
            start, end = made.calendar.moment(piece.start), made.calendar.moment(piece.end - 1.0)
            assert start.date() == end.date()
            for who in slot.who:
                worked[who, start.date()] = worked.get((who, start.date()), 0.0) + piece.end - piece.start
    assert max(worked.values()) <= 10 * 3600.0


def test_no_critical_task_is_done_alone() -> None:
    for text in (TWO, '[[people]]\nname = "L"\n'):
        made = plan(text)
        windows = {w.name: w.windows for w in made.problem.workers}
        for slot in made.schedule.slots:
            if made.by_key[slot.task].critical:
                there = [
                    name for name, rows in windows.items()
                    if all(any(w.start <= p.start and p.end <= w.end for w in rows) for p in slot.pieces)
                ]  # fmt: skip
                assert len(there) >= 2


def test_alone_the_plan_says_when_a_second_person_is_needed() -> None:
    made = plan('[[people]]\nname = "L"\n')
    pairs = {t.key for t in made.tasks if len(t.crew) > 1}
    assert {key for visit in made.visits for key in visit.tasks} == pairs
    assert made.second_hours >= sum(made.by_key[key].effort.mean for key in pairs) - 60.0 * len(pairs)


def test_the_same_seed_gives_the_same_plan_and_another_another_chance() -> None:
    one, same, other = plan(), plan(), plan(wishes=dataclasses.replace(QUICK, seed=2))
    assert one.outlook == same.outlook
    assert one.schedule.slots == same.schedule.slots
    assert one.outlook.times != other.outlook.times


def test_a_missing_part_makes_it_later_and_never_sooner() -> None:
    wait = Delay("turbo.on", 0.5, Effort(86400.0, 2 * 86400.0, 5 * 86400.0))
    without, with_it = plan(), plan(delays=(wait,))
    assert with_it.outlook.chance.probability < without.outlook.chance.probability
    assert all(b >= a for (_, a), (_, b) in zip(without.outlook.times, with_it.outlook.times, strict=True))


def test_what_is_done_needs_no_time_any_more() -> None:
    half = plan(records=done_until("strip.oil_out"), wishes=QUICK)
    assert not {slot.task for slot in half.schedule.slots} & set(half.progress.ended)
    assert half.state_now is not None
    assert {thing.key for thing in half.state_now.open} == {"on_stands", "battery_disconnected", "oil_empty"}


def test_a_builder_who_takes_longer_is_planned_longer() -> None:
    records: list[Record] = []
    for k, one in enumerate(JOB[1:10]):
        at = SATURDAY + timedelta(minutes=60 * k)
        records.append(event(one.key, Step.STARTED, at))
        records.append(event(one.key, Step.DONE, at + timedelta(seconds=2.0 * one.effort.mean)))
    made = plan(records=tuple(records))
    assert made.learned.pace.median > 1.3
    slot = next(s for s in made.schedule.slots if s.task == "oil.drill")
    mean = made.by_key["oil.drill"].effort.mean
    assert slot.end - slot.start >= made.learned.pace.median * mean


def test_a_moment_of_today_is_today_wherever_the_car_stands() -> None:
    """Saturday 13:00 in Auckland is Saturday 00:00 in UTC; 08:00 there was Friday evening in UTC."""
    zone = ZoneInfo("Pacific/Auckland")
    today = datetime(2026, 12, 5, 13, tzinfo=zone)
    wishes = dataclasses.replace(QUICK, at=datetime(2026, 12, 5, 8, tzinfo=zone).astimezone(UTC))
    made = plan_for(build_with(TWO), JOB, today.astimezone(UTC), zone, wishes=wishes, quick=True)
    assert made.calendar.moment(made.calendar.start).isoformat() == "2026-12-05T08:00:00+13:00"


def test_nothing_is_planned_before_now() -> None:
    at = SATURDAY + timedelta(hours=6, minutes=10)
    made = plan(records=done_until("strip.oil_out"), wishes=dataclasses.replace(QUICK, at=at))
    assert min(slot.start for slot in made.schedule.slots) >= made.calendar.seconds(at)


def test_two_hours_lost_are_two_hours_later_or_more() -> None:
    records = done_until("strip.oil_out")
    at = SATURDAY + timedelta(hours=2)
    wishes = dataclasses.replace(QUICK, at=at)
    lost = event("strip.nuts", Step.PROBLEM, at, kind="time lost", note="2 h")
    before, after = plan(records=records, wishes=wishes), plan(records=(*records, lost), wishes=wishes)
    assert min(s.start for s in after.schedule.slots) >= before.calendar.seconds(at) + 7200.0
    assert after.schedule.finish >= before.schedule.finish


def test_a_person_who_left_does_nothing_more() -> None:
    at = SATURDAY + timedelta(hours=2)
    left = event("strip.nuts", Step.PROBLEM, at, kind="person left", note="H")
    made = plan(records=(*done_until("strip.oil_out"), left), wishes=dataclasses.replace(QUICK, at=at))
    assert not any("H" in slot.who for slot in made.schedule.slots)
    assert made.visits, "what needs two waits for somebody else"


def test_a_broken_stud_brings_its_branch_in() -> None:
    at = SATURDAY + timedelta(hours=2)
    wishes = dataclasses.replace(QUICK, at=at)
    records = done_until("strip.oil_out")
    broke = event("strip.nuts", Step.PROBLEM, at, kind="stud broken")
    before, after = plan(records=records, wishes=wishes), plan(records=(*records, broke), wishes=wishes)
    branch = after.by_key["strip.broken_stud"]
    assert branch.odds == 1.0
    assert after.outlook.times[0][1] > before.outlook.times[0][1]


def test_a_part_that_is_missing_leaves_three_ways() -> None:
    at = SATURDAY + timedelta(hours=2)
    records = (
        *done_until("strip.oil_out"),
        event("turbo.on", Step.PROBLEM, at, kind="part missing", note="2 d"),
    )
    wishes = dataclasses.replace(QUICK, at=at)
    made = plan(records=records, wishes=wishes)
    start = next(s.start for s in made.schedule.slots if s.task == "turbo.on")
    assert start >= made.calendar.seconds(at) + 2 * 86400.0
    found = choices_for(
        made, build_with(TWO), JOB, MONDAY, LISBON, records, others=lambda task: ["the same bore and class"]
    )
    assert [c.by for c in found] == [SUBSTITUTE, ROUND, STOP]
    costs = [c.cost for c in found]
    assert costs[0] <= costs[1] <= costs[2]
    assert found[0].steps == ("the same bore and class",)
    assert found[1].open > 0
    assert "turbo.on" not in found[1].steps


def test_a_reading_outside_its_range_has_its_task_done_again() -> None:
    records = done_until("strip.oil_out")
    made = plan(records=records, again={"strip.oil_out": "metal"})
    assert "strip.oil_out" in {slot.task for slot in made.schedule.slots}


def test_what_is_held_holds_all_that_waits_for_it_and_nothing_else() -> None:
    made = plan(held={"oil.sump_on": "twice outside"})
    assert {"oil.sump_on", "oil.fill", "prove.prime", "run.full_pull"} <= made.held.keys()
    assert "fuel.injectors" not in made.held
    assert made.outlook.chance.probability == 0.0
    assert not {slot.task for slot in made.schedule.slots} & made.held.keys()


def test_an_hour_that_cannot_be_is_a_fault() -> None:
    with pytest.raises(BuildFileError):
        plan(f'{TWO}[hours]\nend = "noon"\n')


def test_a_helper_alone_cannot_lead() -> None:
    from boostwright.errors import NoPlan

    with pytest.raises(NoPlan, match="lead"):
        plan('[[people]]\nname = "H"\nskill = "helper"\n')


def test_what_would_help_is_tried_by_the_same_rule() -> None:
    build = build_with('[[people]]\nname = "L"\n[hours]\nend = "Saturday 20:00"\n')
    made = plan_for(build, JOB, MONDAY, LISBON, wishes=QUICK)
    found = levers_for(made, build, JOB, MONDAY, LISBON)
    assert found[0].words == "as it stands"
    assert found[0].chance.probability <= max(lever.chance.probability for lever in found)
    assert len({lever.words for lever in found}) == len(found)
    more = next(lever for lever in found if lever.words.startswith("a whole day more"))
    assert more.chance.probability > found[0].chance.probability


@pytest.mark.parametrize("name", ["sound", "highland"])
def test_every_demo_build_has_a_plan(name: str) -> None:
    build: Build = verbs.demo_build(name)
    tasks = tasks_for(build)
    made = plan_for(build, tasks, MONDAY, LISBON, wishes=QUICK)
    planned = {slot.task for slot in made.schedule.slots}
    assert planned == {t.key for t in made.scope.job}
    assert made.turning is not None
    assert made.nights
    assert made.points


def test_nobody_works_at_the_car_while_its_engine_turns() -> None:
    """Two people who may do most of it: one under the car while the other starts it is what must not be."""
    build = build_with(f'{TWO}[[people]]\nname = "E"\nskill = "electrician"\n')
    made = plan_for(build, tasks_for(build), MONDAY, LISBON, wishes=QUICK, quick=True)
    by_key = made.by_key
    at_car = [s for s in made.schedule.slots if by_key[s.task].place in AT_THE_CAR and s.end > s.start]
    turning = [s for s in at_car if runs_engine(by_key[s.task])]
    assert len(turning) > 10
    for one in turning:
        for other in at_car:
            if one.task != other.task:
                meet = [
                    (a, b) for a in one.pieces for b in other.pieces if a.start < b.end and b.start < a.end
                ]
                assert not meet, (one.task, other.task)
