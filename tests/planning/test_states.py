"""Open things and safe states."""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator

import pytest

from boostwright.library.open_things import open_things
from boostwright.planning.scope import forerunners
from boostwright.planning.states import (
    GO_ON,
    MAKE_WHOLE,
    SHUT,
    nearest_safe_state,
    no_returns,
    opened,
    standing_open,
    state_of,
    ways_to_safety,
)
from boostwright.planning.task import Task
from boostwright.planning.tasks import tasks_for
from boostwright.verbs import demo_build
from tests.planning.small_job import small_job

JOB = small_job()
KEYS = [task.key for task in JOB]


def until(key: str) -> list[str]:
    """Everything up to a task, in the order of the job."""
    return KEYS[: KEYS.index(key) + 1]


def orders(tasks: tuple[Task, ...], count: int) -> Iterator[list[str]]:
    """Orders of work that keep to what comes before what, made by chance."""
    for seed in range(count):
        rng, done, left = random.Random(seed), list[str](), {task.key: task for task in tasks}
        while left:
            ready = [t.key for t in left.values() if not any(key in left for key in t.after)]
            done.append(rng.choice(sorted(ready)))
            del left[done[-1]]
        yield done


def test_nothing_done_is_untouched() -> None:
    state = state_of((), (), JOB)
    assert state is not None
    assert state.key == "untouched"


def test_work_on_the_bench_leaves_the_car_untouched() -> None:
    state = state_of(["decide.list", "turbo.bench"], (), JOB)
    assert state is not None
    assert state.key == "untouched"


@pytest.mark.parametrize(
    ("last", "state"),
    [("baseline.go", "untouched"), ("battery.hot_joints", "battery_proven"), ("run.survey", "gate_held_open"),
     ("run.margins", "spring_boost")],
)  # fmt: skip
def test_each_stage_ends_in_its_state(last: str, state: str) -> None:
    found = state_of(until(last), (), JOB)
    assert found is not None
    assert found.key == state


def test_open_fuel_is_no_state_to_leave_a_car_in() -> None:
    done = [*until("strip.oil_out"), "fuel.injectors"]
    assert state_of(done, (), JOB) is None
    near = nearest_safe_state(done, (), JOB)
    assert near.way.by == SHUT
    assert near.way.state.key == "capped"
    assert any("fuel joint" in step for step in near.way.steps)
    assert {"fuel_open", "oil_empty"} <= {thing.key for thing in near.open}


def test_what_is_nearly_done_is_gone_on_with() -> None:
    done = until("run.full_pull")
    ways = ways_to_safety([key for key in done if key != "run.survey"], (), JOB)
    assert any(way.by == GO_ON and way.tasks == ("run.survey",) for way in ways)


def test_a_car_that_is_apart_can_be_made_whole_only_with_what_is_at_hand() -> None:
    back = [way for way in ways_to_safety(until("strip.sump"), (), JOB) if way.by == MAKE_WHOLE]
    assert [way.state.key for way in back] == ["put_back"]
    assert any("gasket" in item for item in back[0].at_hand)
    assert back[0].wait > 0.0, "sealant cures"
    gone = ways_to_safety(until("turbo.on"), (), JOB)
    assert not any(way.by == MAKE_WHOLE for way in gone), "with the turbo on there is no way back in passing"


def test_a_task_in_hand_is_finished_first() -> None:
    done = until("strip.oil_out")
    idle, busy = nearest_safe_state(done, (), JOB), nearest_safe_state(done, ("strip.nuts",), JOB)
    half = nearest_safe_state(done, {"strip.nuts": 0.5}, JOB)
    assert idle.way.seconds < half.way.seconds < busy.way.seconds
    assert busy.way.steps[0].startswith("Finish what is in hand")


def test_every_moment_of_every_order_has_a_safe_state_near() -> None:
    """Fifty orders of work, each stopped after every task and in the middle of every task."""
    for done in orders(JOB, 50):
        for count in range(len(done)):
            for running in ((), (done[count],)):
                near = nearest_safe_state(done[:count], running, JOB)
                assert near.way.seconds + near.way.wait <= 4 * 3600.0
                shut = near.way.by == SHUT
                assert shut or all(thing.key in near.way.state.may or near.way.steps for thing in near.open)


def test_all_that_is_opened_is_closed_at_the_end() -> None:
    for done in orders(JOB, 20):
        assert not opened(done, (), JOB)


def test_a_thing_opened_twice_is_closed_by_the_last() -> None:
    by_key = {task.key: task for task in JOB}
    stand, shut = by_key["strip.battery_off"], by_key["battery.first_start"]
    assert [t.key for t in standing_open([stand, shut, stand])] == ["battery_disconnected"]
    assert not standing_open([stand, shut])


def test_points_of_no_return_say_what_must_be_at_hand() -> None:
    found = no_returns(JOB)
    assert [task.key for task, _ in found] == ["strip.nuts", "strip.sump", "oil.drill"]
    assert all(point.at_hand for _, point in found)
    assert [task.key for task, _ in no_returns(JOB, ["strip.nuts"])] == ["strip.sump", "oil.drill"]


def test_the_table_is_whole() -> None:
    table = open_things()
    for thing in table.things.values():
        assert thing.overnight or thing.close, f"{thing.key} may not stay and cannot be shut"
        assert thing.words.islower() or thing.words[0].islower()
    assert table.states["capped"].may == table.things.keys(), (
        "there must always be a state to shut the car into"
    )
    for one, other in itertools.pairwise(table.states):
        assert one != other


def test_a_car_with_its_manifold_nuts_off_is_no_whole_car() -> None:
    """It must not be started: 'as it was' begins with the nuts on again."""
    tasks = tasks_for(demo_build("sound"))
    found = nearest_safe_state(("strip.nuts",), (), tasks)
    assert "exhaust_loose" in [thing.key for thing in found.open]
    for way in (found.way, *found.others):
        assert way.state.key not in {"put_back", "untouched"} or way.seconds >= 20 * 60.0


def test_after_the_first_pull_on_boost_the_gate_is_no_longer_held_open() -> None:
    tasks = tasks_for(demo_build("sound"))
    keys = [task.key for task in tasks]
    upto = [key for key in keys if not key.startswith("run.")]
    drives = ["run.first_fire", "run.first_drive", "run.survey"]
    runs = [key for key in keys if key.startswith("run.")]
    before = [*upto, *runs[: runs.index("run.pull_low")], *drives]
    held = nearest_safe_state(tuple(dict.fromkeys(before)), (), tasks)
    after = nearest_safe_state((*dict.fromkeys(before), "run.pull_low"), (), tasks)
    assert held.way.state.key == "gate_held_open"
    assert "gate_held_open" not in [way.state.key for way in (after.way, *after.others)]
    assert after.way.state.key == "boost_begun"


REAL = tasks_for(demo_build("sound"))


def up_to(key: str) -> list[str]:
    """Everything that must come before a task, and itself, in the order of the list."""
    before = forerunners([key], REAL)
    return [task.key for task in REAL if task.key in before]


@pytest.mark.parametrize(
    ("opener", "closer", "thing"),
    [
        ("baseline.timing", "baseline.timing_unlock", "timing_locked"),
        ("run.timing", "run.timing_unlock", "timing_locked"),
        ("baseline.fuel_pressure", "baseline.gauge_out", "gauge_in_rail"),
    ],
)
def test_a_check_that_leaves_something_in_is_open_until_it_is_out(
    opener: str, closer: str, thing: str
) -> None:
    done = up_to(opener)
    found = nearest_safe_state(done, (), REAL)
    assert thing in {t.key for t in found.open}
    assert not open_things().things[thing].drives
    assert any("DO NOT DRIVE" in step for step in open_things().things[thing].close)
    assert found.way.steps, "it is not left just so"
    assert thing not in {t.key for t in opened([*done, closer], (), REAL)}


def test_nothing_on_the_road_goes_before_the_timing_is_unlocked() -> None:
    for task in REAL:
        before = forerunners([task.key], REAL)
        if task.place == "road" and task.phase == "baseline":
            assert "baseline.timing_unlock" in before
        if task.place == "road" and task.phase == "run":
            assert "run.timing_unlock" in before


def test_after_a_warm_run_the_car_is_not_called_apart() -> None:
    """All done up to the warm run, only the front is still off: nothing is capped, the battery is on."""
    done = up_to("run.warm_up")
    left = {t.key for t in opened(done, (), REAL)}
    state = state_of(done, (), REAL)
    assert left <= {"front_off", "on_stands", "wheels_off", "timing_locked"}, (
        "what the list leaves off by then"
    )
    assert left
    assert state is not None
    assert state.key == "warm_front_off"
    assert not state.moves
    early = [key for key in done if not key.startswith("run.")]
    apart = state_of([*early, "strip.front"], (), REAL)
    assert apart is None or apart.key != "warm_front_off", "not before it ran"


def test_nobody_runs_the_engine_to_finish_what_is_in_hand_with_the_manifold_loose() -> None:
    """A drive that was begun, or only lacks its reading, is no step of closing up a car that is apart."""
    tasks = tasks_for(demo_build("sound"))
    keys = [task.key for task in tasks]
    done = keys[: keys.index("strip.manifold") + 1]
    hand = ("baseline.full_load", "baseline.warm_idle", "turbo.trial_fit")
    near = nearest_safe_state([key for key in done if key not in hand], hand, tasks)
    words = {task.key: task.words for task in tasks}
    for way in (near.way, *near.others):
        if way.by != GO_ON:
            assert not any(words[key] in step for key in hand[:2] for step in way.steps)
    assert any(words["turbo.trial_fit"] in step for step in near.way.steps)
