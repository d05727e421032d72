"""What must not open a gate: readings of the old engine, tasks left out or in trouble, names under a leak."""

from __future__ import annotations

import dataclasses

import pytest

from boostwright.job.records import Reading, Record, Step, TaskEvent, new_id
from boostwright.planning.ladder import Gate, Origin
from boostwright.planning.ladder.done import CAUSE
from boostwright.planning.ladder.gates import gates_of
from boostwright.planning.tasks import tasks_for
from tests.planning.ladder.made import at, build, climbed, ladder, override, tasks_done

NEVER = {t.key: t.hold.never for t in tasks_for(build()) if t.hold is not None and t.hold.never}


@pytest.fixture(scope="module")
def whole() -> list[Record]:
    return climbed()[1]


def event(task: str, what: Step, minutes: float, note: str = "", kind: str = "") -> TaskEvent:
    return TaskEvent(new_id(), "N", at(minutes), task, what.value, note=note, kind=kind)


def gate(step: str, records: list[Record]) -> Gate:
    rungs = ladder(records).rungs
    made = gates_of(rungs, records, never=NEVER)
    return next(one for one in made if one.step == step)


@pytest.mark.parametrize("when", ["before", ""])
def test_a_reading_from_before_the_conversion_opens_no_gate(whole: list[Record], when: str) -> None:
    """Crankcase pressure at idle is read on both sides: the old engine says nothing of the new breather."""
    short = [r for r in whole if getattr(r, "measurement", "") != "crankcase_idle"]
    old = Reading(new_id(), "N", at(5000), "crankcase_idle", (100.0,), when=when)
    assert not gate("warm-up", [*short, old]).own
    new = dataclasses.replace(old, when="after")
    assert gate("warm-up", [*short, new]).own


def test_what_was_read_afterwards_is_not_what_it_was_before(whole: list[Record]) -> None:
    """Hot idle's oil pressure: half of it gone is no new ground to stand on."""
    before = Reading(new_id(), "N", at(-900), "oil_pressure_idle", (2.0e5,), when="before")
    after = Reading(new_id(), "N", at(200), "oil_pressure_idle", (1.0e5,), when="after")
    one = ladder([*whole, before]).rung("warm-up").of("oil_idle_warm")
    two = ladder([*whole, before, after]).rung("warm-up").of("oil_idle_warm")
    alone = ladder([*whole, after]).rung("warm-up").of("oil_idle_warm")
    assert one == two
    assert one is not None
    assert one.middle == pytest.approx(1.9e5)  # less the tenth of a bar that the turbo's feed takes
    assert alone is not None
    assert alone.middle != pytest.approx(0.9e5)
    assert one.origin is Origin.RECORDED


@pytest.mark.parametrize("task", ["prove.fuel_dry", "run.walk_round"])
def test_no_override_of_a_step_stands_in_for_a_look_for_fuel(whole: list[Record], task: str) -> None:
    assert task in NEVER
    short = [r for r in whole if getattr(r, "task", "") != task]
    step = next(rung.key for rung in ladder(short).rungs if task in rung.tasks)
    found = gate(step, [*short, override(step, 6000)])
    assert not found.own
    assert NEVER[task] in found.refused
    other = [r for r in whole if getattr(r, "task", "") != "run.read_log"]
    assert gate("pull-low", [*other, override("pull-low", 6000)]).own


@pytest.mark.parametrize("task", ["prove.fuel_dry", "run.walk_round"])
def test_a_look_for_fuel_is_not_left_out(whole: list[Record], task: str) -> None:
    step = next(rung.key for rung in ladder(whole).rungs if task in rung.tasks)
    found = gate(step, [*whole, event(task, Step.NOT_NEEDED, 5000)])
    assert found.waits == (task,)
    assert any("nobody leaves it out" in why for why in found.why)
    other = [*whole, event("prove.coolant", Step.NOT_NEEDED, 5000)]
    assert gate("cranking", other).own


def test_a_problem_after_a_task_was_done_shuts_its_gate_until_it_is_done_again(whole: list[Record]) -> None:
    trouble = event("prove.charge_leak", Step.PROBLEM, 5000, "a coupler blew off")
    found = gate("first-fire", [*whole, trouble])
    assert found.waits == ("prove.charge_leak",)
    assert any("a coupler blew off" in why for why in found.why)
    paused = [*whole, trouble, event("prove.charge_leak", Step.PAUSED, 5001)]
    assert not gate("first-fire", paused).own
    assert gate("first-fire", [*whole, trouble, event("prove.charge_leak", Step.DONE, 5010)]).own


@pytest.mark.parametrize("kind", [CAUSE, "time lost", "person left"])
def test_a_problem_of_the_clock_takes_nothing_back(whole: list[Record], kind: str) -> None:
    assert gate("first-fire", [*whole, event("prove.charge_leak", Step.PROBLEM, 5000, "2 h", kind)]).own


def test_a_task_that_goes_on_after_it_was_done_is_not_done() -> None:
    found = ladder()
    begun = [*tasks_done(found), event("control.settings", Step.STARTED, 10)]
    assert "control.settings" in gate("key-on", begun).waits


@pytest.mark.parametrize("step", ["", "warm-up", "release"])
def test_harm_under_no_step_or_a_wrong_one_shuts_every_pull(whole: list[Record], step: str) -> None:
    """Three counts of knock are not lost because they were written to a step that reads none."""
    knock = Reading(new_id(), "N", at(5000), "pull_knock", (3.0,), step=step, when="after")
    found = ladder([*whole, knock])
    for pull in ("pull-low", "pull-middle", "pull-high", "full-pull", "heat-soak"):
        assert not found.gate(pull).own
    well = dataclasses.replace(knock, values=(0.0,))
    short = [r for r in whole if not (getattr(r, "measurement", "") == "pull_knock" and r.step == "pull-low")]
    assert not ladder([*short, well]).gate("pull-low").own  # a good one does not count for a step it was not
