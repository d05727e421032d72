"""Gates open by data and by nothing else: each reading taken away, spoilt, aged or unseen shuts its gate."""

from __future__ import annotations

from dataclasses import replace

import pytest

from boostwright.job.records import Reading, Record, Step, TaskEvent, Withdrawal, new_id
from boostwright.library.ladder import ladder_steps
from boostwright.planning.ladder import CAUSE, Change, State
from tests.planning.ladder.made import at, climbed, ladder, reading, readings

STEPS = [step.key for step in ladder_steps()]
TO_RELEASE = STEPS[: STEPS.index("release") + 1]
READ = [
    (step.key, row.measurement) for step in ladder_steps() for row in step.reads if step.key in TO_RELEASE
]


@pytest.fixture(scope="module")
def whole() -> list[Record]:
    """Records that climb to the release."""
    found, records = climbed()
    assert [gate.step for gate in found.gates if gate.open] == TO_RELEASE
    return records


def without(records: list[Record], step: str, name: str) -> list[Record]:
    return [r for r in records if not (isinstance(r, Reading) and r.step == step and r.measurement == name)]


def one(records: list[Record], step: str, name: str) -> Reading:
    (found,) = (r for r in records if isinstance(r, Reading) and r.step == step and r.measurement == name)
    return found


def test_plausible_readings_open_every_gate_to_the_release(whole: list[Record]) -> None:
    found = ladder(whole)
    assert found.rungs[found.here].key == "more-boost"
    assert all(s.state is State.GOOD for g in found.gates[: found.here] for s in g.readings)


def test_nothing_on_record_opens_nothing() -> None:
    found = ladder()
    assert found.here == 0
    assert not any(gate.open or gate.own for gate in found.gates)


@pytest.mark.parametrize(("step", "name"), READ)
def test_a_reading_taken_away_shuts_its_gate_and_all_later_ones(
    whole: list[Record], step: str, name: str
) -> None:
    found = ladder(without(whole, step, name))
    i = STEPS.index(step)
    expected = found.rungs[i].of(name)
    assert expected is not None
    if expected.optional:
        assert found.gates[i].open
        return
    assert not found.gates[i].own
    assert not any(gate.open for gate in found.gates[i:])
    assert all(gate.open for gate in found.gates[:i])
    assert found.here == i
    assert any("not read yet" in why for why in found.gates[i].why)


@pytest.mark.parametrize(("step", "name"), READ)
def test_a_reading_withdrawn_counts_as_none(whole: list[Record], step: str, name: str) -> None:
    taken = Withdrawal(new_id(), "N", at(5000), one(whole, step, name).id, "read the wrong gauge")
    found = ladder([*whole, taken])
    expected = found.rung(step).of(name)
    assert expected is not None
    assert found.gate(step).open == expected.optional


@pytest.mark.parametrize(("step", "name"), READ)
def test_a_newer_reading_out_of_its_range_shuts_the_gate_again(
    whole: list[Record], step: str, name: str
) -> None:
    rung = ladder(whole).rung(step)
    old = one(whole, step, name)
    bad = replace(old, id=new_id(), time=at(4000))
    bad = (
        replace(bad, answer="no such answer")
        if not old.values
        else replace(bad, values=reading(rung, name, 0.0, 12.0).values)
    )
    if old.values and bad.values == old.values:  # a range of one number: any other is outside
        bad = replace(bad, values=(old.values[0] + 3.0,))
    found = ladder([*whole, bad])
    i = STEPS.index(step)
    assert not found.gates[i].own
    assert not any(gate.open for gate in found.gates[i:])


@pytest.mark.parametrize("step", TO_RELEASE)
def test_a_failed_step_falls_back_one_and_the_second_time_two(whole: list[Record], step: str) -> None:
    """Until a cause is written: then one is enough again."""
    i = STEPS.index(step)
    rung = ladder(whole).rungs[i]
    name = next(e.measurement for e in rung.expected if not e.optional)

    def bad(minutes: float) -> Reading:
        old = one(whole, step, name)
        values = () if not old.values else (old.values[0] + 40.0 * max(1.0, abs(old.values[0])),)
        return replace(
            old, id=new_id(), time=at(minutes), values=values, answer="other" if not values else ""
        )

    once = ladder([*whole, bad(3000)])
    assert once.gates[i].failed == 1
    assert once.gates[i].back == 1
    assert once.here == max(0, i - 1)
    twice = ladder([*whole, bad(3000), bad(3030)])
    assert twice.gates[i].back == 2
    assert twice.here == max(0, i - 2)
    cause = TaskEvent(
        new_id(),
        "N",
        at(3040),
        rung.task,
        Step.PROBLEM.value,
        note="the hose had slipped off its nipple",
        kind=CAUSE,
    )
    assert ladder([*whole, bad(3000), bad(3030), cause]).here == max(0, i - 1)
    empty = replace(cause, note="because")
    assert ladder([*whole, bad(3000), bad(3030), empty]).here == max(0, i - 2)


def test_two_bad_readings_of_one_attempt_are_one_failure(whole: list[Record]) -> None:
    rung = ladder(whole).rung("pull-low")
    bad = [reading(rung, "pull_peak", 3000, 5.0), reading(rung, "pull_duty", 3004, 5.0)]
    assert ladder([*whole, *bad]).gate("pull-low").failed == 1


def test_going_back_and_reading_again_opens_the_way(whole: list[Record]) -> None:
    found = ladder(whole)
    before, rung = found.rung("pull-low"), found.rung("pull-middle")
    records = [*whole, reading(rung, "pull_peak", 3000, 5.0)]
    assert ladder(records).rungs[ladder(records).here].key == "pull-low"
    records += readings(before, 3100)
    assert ladder(records).rungs[ladder(records).here].key == "pull-middle"
    records += readings(rung, 3200)
    assert ladder(records).here == STEPS.index("more-boost")


@pytest.mark.parametrize("step", TO_RELEASE)
def test_a_later_change_of_the_build_makes_what_it_concerns_old(whole: list[Record], step: str) -> None:
    table = next(s for s in ladder_steps() if s.key == step)
    change = Change(at(4000), (f"{table.concerns[0]}.anything",), "N")
    found = ladder(whole, changes=(change,))
    assert not found.gate(step).own
    assert any(s.state is State.OLD for s in found.gate(step).readings)
    concerned = {s.key for s in ladder_steps() if table.concerns[0] in s.concerns}
    for gate in found.gates[: STEPS.index("more-boost")]:
        assert gate.own == (gate.step not in concerned)


def test_a_change_before_the_readings_or_of_something_else_changes_nothing(whole: list[Record]) -> None:
    assert ladder(whole, changes=(Change(at(-500), ("wastegate.spring",)),)).gate("pull-low").open
    assert ladder(whole, changes=(Change(at(4000), ("budget.total", "people.name")),)).gate("release").open


@pytest.mark.parametrize("step", TO_RELEASE)
def test_a_task_opened_again_shuts_its_step(whole: list[Record], step: str) -> None:
    table = next(s for s in ladder_steps() if s.key == step)
    task = table.tasks[0] if table.tasks else table.task
    again = TaskEvent(new_id(), "N", at(4000), task, Step.REOPENED.value)
    found = ladder([*whole, again])
    assert not found.gate(step).own
    if table.tasks:
        assert task in found.gate(step).waits
        done = TaskEvent(new_id(), "N", at(4010), task, Step.DONE.value)
        assert not ladder([*whole, again, done]).gate(step).own  # its readings are older than the change


@pytest.mark.parametrize("step", [s.key for s in ladder_steps() if s.tasks and s.key in TO_RELEASE])
def test_a_task_that_is_not_done_shuts_its_step(whole: list[Record], step: str) -> None:
    task = next(s for s in ladder_steps() if s.key == step).tasks[0]
    records = [r for r in whole if not (isinstance(r, TaskEvent) and r.task == task)]
    assert task in ladder(records).gate(step).waits
    assert not ladder(records).gate(step).own


@pytest.mark.parametrize(
    ("step", "name"), [(s, n) for s, n in READ if n in ("rail_primed", "walk_round", "cut_acts", "drain_wet")]
)
@pytest.mark.parametrize("witness", ["", "  ", "n "])
def test_what_two_must_see_is_not_seen_by_one(
    whole: list[Record], step: str, name: str, witness: str
) -> None:
    alone = replace(one(whole, step, name), who="N", witness=witness)
    found = ladder([*without(whole, step, name), alone])
    assert not found.gate(step).own
    assert any(s.state is State.ALONE for s in found.gate(step).readings)


def test_a_reading_of_another_step_does_not_count_where_several_steps_read_it(whole: list[Record]) -> None:
    peak = one(whole, "pull-low", "pull_peak")
    for step in ("pull-middle", ""):
        other = replace(peak, step=step)
        found = ladder([*without(whole, "pull-low", "pull_peak"), other])
        assert not found.gate("pull-low").own
    cut = one(whole, "cut-test", "cut_acts")
    assert ladder([*without(whole, "cut-test", "cut_acts"), replace(cut, step="")]).gate("cut-test").own


def test_the_order_of_arrival_does_not_decide_which_reading_is_newest(whole: list[Record]) -> None:
    rung = ladder(whole).rung("pull-low")
    bad = reading(rung, "pull_peak", 3000, 6.0)
    good = [*readings(ladder(whole).rung("cut-test"), 3100), *readings(rung, 3200)]
    assert ladder([*whole, bad, *good]).gate("pull-low").own
    assert ladder([*good, bad, *whole]).gate("pull-low").own
    assert not ladder([*good[:-1], bad, *whole]).gate("pull-low").own
