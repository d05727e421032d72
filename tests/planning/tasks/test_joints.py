"""Torque values beside the tasks: with their source, or the task is a hold point."""

from __future__ import annotations

import pytest

from boostwright.library import read_text
from boostwright.planning.task import Task
from boostwright.planning.tasks import tasks_for
from boostwright.planning.tasks.ground import Ground
from boostwright.planning.tasks.joints import KINDS, tightened
from boostwright.verbs import demo_build, demo_builds, torque
from tests.labels import check
from tests.mutation_builds import with_its_map


def task(key: str, name: str = "sound") -> Task:
    return next(one for one in tasks_for(demo_build(name)) if one.key == key)


@pytest.mark.parametrize("name", demo_builds())
def test_every_joint_of_the_file_is_tightened_by_a_task(name: str) -> None:
    build = demo_build(name)
    tightened_there = {joint for one in tasks_for(build) for joint in one.joints}
    for row in build.table("fasteners"):
        if row["clamps"].value in KINDS:
            assert row["name"].value in tightened_there


def test_a_printed_torque_stands_with_its_page() -> None:
    (sentence,) = [text for text in task("turbo.manifold_on").amounts if text.startswith("manifold to head")]
    assert "24 Nm" in sentence
    assert "workshop manual, exhaust, page 11" in sentence
    assert "9 off" in sentence


@pytest.mark.parametrize("name", demo_builds())
def test_the_values_are_those_of_the_torque_sheet(name: str) -> None:
    build = demo_build(name)
    words = [text for one in tasks_for(build) for text in one.amounts]
    for row in torque(build):
        if row.bolt.clamps in KINDS and row.low is not None:
            assert any(text.startswith(f"{row.bolt.name}: ") and row.source in text for text in words)


@check("common practice", note="no joint is tightened by a number that nobody can show")
def test_without_its_page_a_torque_makes_the_task_a_hold_point() -> None:
    spoilt = read_text("builds/sound.toml").replace('page = "workshop manual, exhaust, page 11"\n', "")
    found = next(one for one in tasks_for(with_its_map(spoilt)) if one.key == "turbo.manifold_on")
    assert found.hold is not None
    assert "torque_found" in found.hold.readings
    assert "not on which page" in found.hold.rule
    sound = task("turbo.manifold_on").hold
    assert sound is not None
    assert "torque_found" not in sound.readings


def test_a_hot_joint_that_the_file_does_not_know_stops_the_task() -> None:
    text = read_text("builds/sound.toml")
    without = text[: text.index("[[fasteners]]")]
    for key in ("turbo.manifold_on", "turbo.on", "turbo.down_pipe"):
        found = next(one for one in tasks_for(with_its_map(without)) if one.key == key)
        assert found.joints == ()
        assert found.hold is not None
        assert "no [[fasteners]] in the file" in found.hold.rule


def test_what_must_not_be_tightened_again_is_not() -> None:
    text = read_text("builds/sound.toml").replace('locking = "nut"', 'locking = "adhesive"', 1)
    again = tightened(Ground(with_its_map(text)), ["manifold"], again=True)
    assert again.names == ()
    assert "not again" in again.words[0]
    first = tightened(Ground(with_its_map(text)), ["manifold"])
    assert first.names == ("manifold to head",)


def test_by_feel_is_a_stop_of_its_own() -> None:
    hold = task("turbo.on", "planted").hold
    assert hold is not None
    assert "by feel" in hold.rule
