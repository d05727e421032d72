"""What somebody with a spanner in the hand would trip over: each point once, with what the task must say."""

from __future__ import annotations

import tomllib

import pytest

from boostwright.library import read_text
from boostwright.library.measurements import measurements
from boostwright.planning.task import Task
from boostwright.planning.tasks import tasks_for
from boostwright.planning.tasks.network import ancestors
from tests.labels import check
from tests.planning.tasks.builds import changed
from tests.planning.tasks.forced import forced

with forced({"new pump": True, "relief shim": True, "battery moved": True, "coolant is drained": True}):
    TASKS: dict[str, Task] = {task.key: task for task in tasks_for(changed({}))}
RUNS = tuple(tomllib.loads(read_text("tasks/open_things.toml"))["runs_engine"])

SAYS = [
    (
        "baseline.top_dead_centre",
        "plugs back",
        "the plugs that were out go back before the engine runs again",
    ),
    ("baseline.top_dead_centre", "bar out", "a bar left on the crank is thrown by the starter"),
    ("baseline.leak_down", "hands off belts", "air on a piston turns the crank"),
    ("strip.fuel_pressure_off", "gear out", "a car on stands is never cranked in gear"),
    ("strip.fuel_pressure_off", "rag", "where there is no test port the first joint is opened under a rag"),
    ("strip.coolant_out", "cold", "the cap is opened cold, and the heater's part runs out as well"),
    ("strip.oil_out", "NO OIL", "whoever turns the key reads the wheel first"),
    ("strip.oil_out", "ring", "an old filter ring that stays makes two"),
    ("oil.fill", "Drain plug", "the plug is tightened before oil goes in"),
    ("oil.fill", "NO OIL", "the tag that was hung on comes off"),
    ("fuel.pump", "Level well below", "a full tank runs out of the opening"),
    ("run.plugs", "to the manual's torque", "plugs that were looked at go back to their torque"),
    ("turbo.pipe_welded", "no arc at the car", "an arc beside fuel, battery and controller"),
    ("fuel.timed_flow", "hose back", "what was opened for the test is shut again"),
    ("prove.prime", "to its torque", "the banjo was finger-tight until then"),
    ("prove.crank", "pump fuse out", "nothing may bring fuel while it cranks with its plugs out"),
    (
        "prove.briefing",
        "pump fuse back",
        "what was taken out for cranking goes back in, after the last crank",
    ),
    ("prove.briefing", "Tester off", "what was unplugged for the light is plugged in again"),
    ("run.walk_round", "only when it is cold", "a hot cap scalds"),
    ("run.first_drive", "NO BOOST", "a gate that is tied open is said on the wheel"),
    ("run.pull_low", "Wire off", "the gate that was tied open is let go before boost is wanted"),
    ("run.tighten_50", "wheel", "wheels that were off are tightened again after fifty kilometres"),
    ("control.lambda", "torque", "the sensor's torque is its maker's"),
]


@check("common practice", note="what a mechanic looks for in a job sheet, each with its reason beside it")
@pytest.mark.parametrize(("key", "words", "why"), SAYS, ids=[f"{key}-{words}" for key, words, _ in SAYS])
def test_a_task_says_what_would_be_tripped_over(key: str, words: str, why: str) -> None:
    assert words in TASKS[key].words, why


@check(
    "common practice", note="a torque is the sheet's or the manual's: nothing is tightened 'to torque' alone"
)
def test_no_torque_without_where_it_comes_from() -> None:
    for task in TASKS.values():
        if "to torque" in task.words:
            assert "manual's torque" in task.words, task.key
    for key in (
        "oil.sump_on",
        "oil.fill",
        "prove.plugs_in",
        "prove.car",
        "oil.relief_shim",
        "run.oil_change",
    ):
        assert "manual's torque" in TASKS[key].words, key


@check("common practice", note="an engine runs outdoors or on the road, and somebody says what its gas does")
def test_an_engine_runs_outdoors() -> None:
    indoors = {key for key in RUNS if key in TASKS and TASKS[key].place in {"bay", "bench", "lift"}}
    turned_by_the_starter = {
        "baseline.compression",
        "baseline.compression_wet",
        "prove.crank",
        "prove.crank_timing",
    }
    assert indoors <= turned_by_the_starter
    for key in ("baseline.charging", "battery.first_start", "battery.hot_joints", "run.warm_up", "run.blips"):
        assert "exhaust_gas" in TASKS[key].cautions, key


@check("common practice", note="every drive carries its caution, the last like the first")
def test_every_drive_says_what_a_road_needs() -> None:
    for task in TASKS.values():
        if task.place == "road":
            assert {"road", "safety_cuts"} & set(task.cautions), task.key


@check("common practice", note="a second pair of eyes is there: the one who did the work does not witness it")
def test_who_witnesses_is_there() -> None:
    for task in TASKS.values():
        if task.hold is not None and task.hold.witness and task.phase != "decide":
            assert len(task.crew) >= 2, task.key


@check(
    "common practice", note="nothing is plugged in for the start before the last test without fuel is done"
)
def test_fuel_comes_back_after_the_last_cranking() -> None:
    before = ancestors({key: task.after for key, task in TASKS.items()})
    assert "prove.crank_timing" in before["prove.briefing"]
    assert not [
        key for key in ("prove.car", "prove.plugs_in", "prove.audit") if "fuse back" in TASKS[key].words
    ]


@check("common practice", note="the front pipe runs under most sumps: it is parted first")
def test_the_front_pipe_is_off_before_the_sump() -> None:
    before = ancestors({key: task.after for key, task in TASKS.items()})
    assert "strip.shields" in before["strip.sump"]


@check(
    "common practice",
    note="where the drain enters is seen only while sump, cross member and jack are in place",
)
def test_the_sump_is_marked_on_the_car() -> None:
    before = ancestors({key: task.after for key, task in TASKS.items()})
    assert "oil.mark" in before["strip.sump"]
    assert "strip.shields" in before["oil.mark"]
    assert "still on the car" in TASKS["oil.mark"].words


@check("common practice", note="a sump is drained, then taken off, then drilled, then taken to the welder")
def test_the_sump_is_off_before_it_is_drilled_on_the_bench() -> None:
    before = ancestors({key: task.after for key, task in TASKS.items()})
    assert {"strip.oil_out", "strip.sump"} <= before["oil.drill"]
    assert "oil.drill" in before["oil.to_shop"]


@check("common practice", note="the rail is emptied by running the engine outdoors, before the car is lifted")
def test_the_rail_is_emptied_before_the_car_goes_up() -> None:
    before = ancestors({key: task.after for key, task in TASKS.items()})
    assert "strip.fuel_pressure_off" in before["strip.stands"]
    assert TASKS["strip.fuel_pressure_off"].place == "yard"
    assert any(lag.seconds >= 8 * 3600.0 for lag in TASKS["strip.fuel_pressure_off"].lags)


@check("common practice", note="no more than a quarter of a tank where the tank will be opened")
def test_nobody_fills_the_tank_that_is_to_be_opened() -> None:
    (fuel,) = [need for need in TASKS["baseline.road"].needs if need.item.startswith("fuel")]
    assert fuel.unit == "L"
    assert fuel.quantity <= 12.0


@check("common practice", note="test drives by daylight on a dry road")
def test_every_drive_says_when_there_is_light() -> None:
    said = [task for task in TASKS.values() if task.place == "road"]
    assert len(said) >= 8
    for task in said:
        assert any("08:30 to 16:30" in words and "dry" in words for words in task.amounts), task.key
    summer = changed({"hours.road_from": '"06:00"', "hours.road_until": '"20:30"'})
    drives = [task for task in tasks_for(summer) if task.place == "road"]
    assert all(any("06:00 to 20:30" in words for words in task.amounts) for task in drives)


HOLDS = [("oil.sump_on", "sump_bead"), ("oil.fill", "oil_filled"), ("fuel.pump", "tank_shut")]


@check("common practice", note="what cannot be seen any more once it is shut is seen by two before")
@pytest.mark.parametrize(("key", "reading"), HOLDS)
def test_what_is_shut_is_seen_by_two(key: str, reading: str) -> None:
    hold = TASKS[key].hold
    assert hold is not None
    assert hold.witness
    assert reading in hold.readings
    one = measurements()[reading]
    assert one.witness
    assert one.good == ("yes",)
    assert one.harm
