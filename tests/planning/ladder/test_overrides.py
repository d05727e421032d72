"""A person may open a gate against its data, with name and reason, in sight; some gates never."""

from __future__ import annotations

import pytest

from boostwright.job.records import Record
from boostwright.library.ladder import ladder_steps
from boostwright.planning.ladder import override_fault
from tests.planning.ladder.made import at, climbed, condition, ladder, override, reading, tasks_done

NEVER = [(step.key, name) for step in ladder_steps() for name in step.never if step.key != "more-boost"]
MAY = [s for s in ladder_steps() if not s.never]


@pytest.fixture(scope="module")
def whole() -> list[Record]:
    return climbed()[1]


def without(records: list[Record], step: str, name: str) -> list[Record]:
    return [
        r for r in records if not (getattr(r, "step", "") == step and getattr(r, "measurement", "") == name)
    ]


def test_an_override_opens_a_gate_and_stays_in_sight(whole: list[Record]) -> None:
    short = without(whole, "blips", "blip_peak")
    assert not ladder(short).gate("blips").own
    written = override("blips", 6000)
    found = ladder([*short, written])
    assert found.gate("blips").open
    assert found.gate("blips").override == written
    assert found.overrides == (written,)
    assert found.gate("blips").why  # what was missing is still said
    assert found.gate("release").open


@pytest.mark.parametrize(
    "reason",
    [
        "",
        "   ",
        "ok",
        "because",
        "test test test test",
        "aaaaaaaaaaaaaaaaaaaaaaa",
        "........................",
        "x " * 20,
    ],
)
def test_a_reason_that_says_nothing_opens_nothing(whole: list[Record], reason: str) -> None:
    short = without(whole, "blips", "blip_peak")
    written = override("blips", 6000)
    found = ladder(
        [*short, type(written)(written.id, written.who, written.time, "blips", reason, "A. Smith")]
    )
    assert not found.gate("blips").own
    assert "reason" in found.gate("blips").refused


def test_nobody_cannot_answer_for_it(whole: list[Record]) -> None:
    short = without(whole, "blips", "blip_peak")
    found = ladder([*short, override("blips", 6000, who="  ")])
    assert not found.gate("blips").own
    assert "name" in found.gate("blips").refused


@pytest.mark.parametrize("step", [s for s in ladder_steps() if s.critical], ids=lambda s: s.key)
@pytest.mark.parametrize("witness", ["", "N. Miller", " n. miller "])
def test_a_critical_step_needs_a_second_name(step: object, witness: str) -> None:
    key = step.key  # type: ignore[attr-defined]
    assert override_fault(step, override(key, 0.0)) == ""  # type: ignore[arg-type]
    assert "second person" in override_fault(step, override(key, 0.0, witness=witness))  # type: ignore[arg-type]


@pytest.mark.parametrize(("step", "name"), NEVER)
def test_what_is_never_signed_away_is_not(whole: list[Record], step: str, name: str) -> None:
    """Missing or bad, with two names and a good reason."""
    missing = [*without(whole, step, name), override(step, 6000)]
    assert not ladder(missing).gate(step).own
    assert "No override opens" in ladder(missing).gate(step).refused
    rung = ladder(whole).rung(step)
    bad = reading(rung, name, 5000, 60.0)
    if not bad.values:
        bad = type(bad)(bad.id, "N", at(5000), name, answer="fuel", step=step, witness="A")
    elif bad.values[0] == reading(rung, name, 0.0).values[0]:
        bad = type(bad)(bad.id, "N", at(5000), name, (bad.values[0] + 5.0,), step=step, witness="A")
    found = ladder([*whole, bad, override(step, 6000)])
    assert not found.gate(step).own
    assert not found.gate("release").open


def test_no_override_replaces_a_cut_that_acts_or_a_barred_step(whole: list[Record]) -> None:
    hot = condition(of=None, exhaust=condition().exhaust + 400.0)
    found = ladder([*whole, override("pull-middle", 6000)], spring=hot)
    assert found.rung("pull-middle").barred
    assert not found.gate("pull-middle").own
    assert "may not be gone" in found.gate("pull-middle").refused


def test_an_override_ends_with_the_next_bad_reading_and_with_the_next_change(whole: list[Record]) -> None:
    rung = ladder(whole).rung("first-drive")
    bad = reading(rung, "intake_rise", 5000, 4.0)
    written = override("first-drive", 5100)
    assert ladder([*whole, bad, written]).gate("first-drive").open
    again = reading(rung, "intake_rise", 5200, 4.0)
    found = ladder([*whole, bad, written, again])
    assert not found.gate("first-drive").own
    assert "after the override" in found.gate("first-drive").refused


def test_an_override_of_a_failure_needs_no_way_back(whole: list[Record]) -> None:
    rung = ladder(whole).rung("first-drive")
    bad = reading(rung, "intake_rise", 5000, 4.0)
    assert ladder([*whole, bad]).rungs[ladder([*whole, bad]).here].key == "blips"
    assert ladder([*whole, bad, override("first-drive", 5100)]).gate("release").open


def test_an_override_of_an_open_gate_is_shown_and_changes_nothing(whole: list[Record]) -> None:
    written = override("blips", 6000)
    found = ladder([*whole, written])
    assert found.overrides == (written,)
    assert found.gate("blips").open
    assert found.gate("blips").why == ()


def test_overrides_alone_do_not_climb() -> None:
    """Each step overridden, nothing read: the first step of all refuses."""
    found = ladder()
    records: list[Record] = [
        *tasks_done(found),
        *(override(s.key, 100.0 + i) for i, s in enumerate(ladder_steps())),
    ]
    assert ladder(records).here == 0


def test_some_steps_can_be_overridden() -> None:
    assert {s.key for s in MAY} >= {"blips", "first-retorque", "endurance"}
