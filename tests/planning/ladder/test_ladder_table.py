"""The table of steps is whole: order, people, readings, rules, what to do when it is broken off."""

from __future__ import annotations

import pytest

from boostwright import verbs
from boostwright.build.catalogue import catalogue
from boostwright.findings.notes import caution
from boostwright.library.ladder import ladder_steps, what_on_stop
from boostwright.library.measurements import measurements
from boostwright.planning.ladder.expected import RULES
from boostwright.planning.task import CREW
from boostwright.planning.tasks import tasks_for
from tests.planning.ladder.made import condition, ladder

KEYS = (
    "key-on",
    "cranking",
    "cranking-timing",
    "first-fire",
    "timing-truth",
    "warm-up",
    "first-retorque",
    "blips",
    "first-drive",
    "cut-test",
    "pull-low",
    "pull-middle",
    "pull-high",
    "plug-look",
    "full-pull",
    "heat-soak",
    "endurance",
    "release",
    "more-boost",
)


def test_the_steps_stand_in_their_order() -> None:
    assert tuple(step.key for step in ladder_steps()) == KEYS


@pytest.mark.parametrize("step", ladder_steps(), ids=lambda s: s.key)
def test_each_step_says_all_that_it_must(step: object) -> None:
    one = next(s for s in ladder_steps() if s is step)
    assert one.do
    assert one.watch
    assert one.stop
    assert one.evidence
    assert one.reads
    assert one.cautions
    assert set(one.people) <= set(CREW)
    assert one.on_stop in what_on_stop()
    assert all(caution(key).text for key in one.cautions)
    assert all(section in catalogue().sections for section in one.concerns)
    if one.load in ("road", "spring", "goal"):
        assert one.people == ("driver", "observer")  # one drives, another reads
        assert {"road", "law"} & set(one.cautions)
        assert one.on_stop == "lift"


def test_every_rule_that_a_measurement_names_is_there_and_every_rule_is_named() -> None:
    read = {row.measurement for step in ladder_steps() for row in step.reads}
    named = {measurements()[name].expected for name in read if measurements()[name].dimension is not None}
    assert named - {"trade", ""} <= set(RULES)
    assert set(RULES) <= named


def test_every_running_measurement_is_read_in_some_step() -> None:
    import tomllib

    from boostwright.library import read_folder

    mine = tomllib.loads(read_folder("measurements")["running.toml"])
    read = {row.measurement for step in ladder_steps() for row in step.reads}
    assert set(mine) == read & set(mine) == set(mine)


def test_before_an_engine_runs_there_is_no_load_and_a_pull_comes_after_the_cut_was_tried() -> None:
    order = [step.load for step in ladder_steps()]
    assert order.index("spring") > [s.key for s in ladder_steps()].index("cut-test")
    assert order.index("goal") == len(order) - 1
    assert "road" not in order[: order.index("road")]
    pulls = [step.reach for step in ladder_steps() if step.key.startswith("pull-") or step.key == "full-pull"]
    assert pulls == sorted(pulls)
    assert pulls[-1] == 1.0


def test_range_limit_and_what_parts_stand_rise_in_this_order_on_the_sound_build() -> None:
    """Band < broken off < what the parts stand, for every reading of every step that may be gone."""
    for rung in ladder().rungs:
        if rung.barred:
            continue
        for e in rung.expected:
            if e.high is not None and e.stop_high is not None:
                assert e.high <= e.stop_high.value, (rung.key, e.measurement)
            if e.low is not None and e.stop_low is not None:
                assert e.low >= e.stop_low.value, (rung.key, e.measurement)
            if e.stands is not None and e.stop_high is not None:
                assert e.stop_high.value < e.stands.value, (rung.key, e.measurement)


def test_every_number_of_a_step_has_a_range_a_basis_and_every_limit_a_reason() -> None:
    for rung in ladder(spring=condition()).rungs:
        for e in rung.expected:
            if measurements()[e.measurement].dimension is None:
                assert e.good
                continue
            assert e.low is not None or e.high is not None, (rung.key, e.measurement)
            for limit in (e.stop_low, e.stop_high):
                if limit is not None:
                    assert limit.why
                    assert limit.source


def test_no_gap_is_left_in_a_sentence() -> None:
    from boostwright.views.numbers import fill

    for rung in ladder().rungs:
        for phrase in (rung.words, *rung.do):
            assert "{" not in fill(phrase)
            assert "not known" not in fill(phrase)


@pytest.mark.parametrize("name", verbs.demo_builds())
def test_no_step_waits_for_what_the_plan_does_later(name: str) -> None:
    """Every task that a step names comes before the step's own task in the plan, on every road there."""
    plan = {task.key: task for task in tasks_for(verbs.demo_build(name))}

    def before(key: str, seen: set[str]) -> set[str]:
        for earlier in (*plan[key].after, *(lag.task for lag in plan[key].lags)):
            if earlier in plan and earlier not in seen:
                seen.add(earlier)
                before(earlier, seen)
        return seen

    asked = 0
    for step in ladder_steps():
        if step.task not in plan:
            continue
        wanted = {task for task in step.tasks if task in plan}
        assert wanted <= before(step.task, set()), step.key
        asked += len(wanted)
    assert asked > 10


def test_no_load_with_the_spark_locked_and_no_pull_without_oil_or_with_a_rod_nobody_saw() -> None:
    """A spark that stays locked for the light does not follow the load: it is unlocked before the warm-up."""
    steps = {step.key: step for step in ladder_steps()}
    assert "run.timing_unlock" in steps["warm-up"].tasks
    assert "run.front_on" in steps["first-drive"].tasks  # the cooler's air has no other way then
    for key in ("pull-low", "pull-middle", "pull-high", "full-pull"):
        assert "pull_oil" in steps[key].never
    assert "rod_untied" in steps["pull-low"].never
    for step in ladder_steps():
        assert "pull_knock" in step.never or not any(row.measurement == "pull_knock" for row in step.reads)
