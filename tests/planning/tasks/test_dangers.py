"""What would hurt someone, or the engine, if two tasks stood the wrong way round or a person stood alone."""

from __future__ import annotations

from boostwright.planning.tasks import tasks_for
from boostwright.planning.tasks.network import ancestors
from tests.labels import check
from tests.planning.tasks.builds import changed

TASKS = {task.key: task for task in tasks_for(changed({"car.brake_fluid_date": None}))}
BEFORE = ancestors({key: task.after for key, task in TASKS.items()})


@check("common practice", note="locked timing is late at speed; heat goes into valves, exhaust, catalyst")
def test_timing_is_unlocked_and_seen_to_move_before_any_load() -> None:
    unlock = TASKS["baseline.timing_unlock"]
    assert unlock.after == ("baseline.timing_drift",)
    assert unlock.hold is not None
    assert unlock.hold.witness
    assert len(unlock.crew) == 2
    assert unlock.critical
    driven = [key for key, task in TASKS.items() if task.place == "road"]
    assert driven
    for key in driven:
        assert "baseline.timing_unlock" in BEFORE[key], key
        if key.startswith("run."):
            assert "run.timing_unlock" in BEFORE[key], key


@check("common practice", note="brakes, tyres and fluid are looked at before the first full throttle")
def test_brakes_and_fluid_come_before_the_first_road() -> None:
    for key, task in TASKS.items():
        if task.place == "road":
            assert {"baseline.running_gear", "baseline.brake_fluid"} <= BEFORE[key], key


@check(
    "common practice", note="no fuel joint is opened over a hot exhaust, nor alone; dry before it is driven"
)
def test_the_rail_gauge_goes_on_and_off_cold_and_by_two() -> None:
    for key in ("baseline.fuel_pressure", "baseline.gauge_out"):
        task = TASKS[key]
        assert len(task.crew) == 2
        assert task.critical
        assert task.lags
        assert min(lag.seconds for lag in task.lags) >= 3600.0
    out = TASKS["baseline.gauge_out"]
    assert out.hold is not None
    assert out.hold.witness
    assert out.hold.readings == ("fuel_dry",)
    for key, task in TASKS.items():
        if task.place == "road":
            assert "baseline.gauge_out" in BEFORE[key], key


@check("common practice", note="oil in the bores seals rings: leak-down first, the wet test last")
def test_leak_down_comes_between_the_dry_and_the_wet_compression() -> None:
    assert "baseline.compression" in BEFORE["baseline.leak_down"]
    assert "baseline.leak_down" in BEFORE["baseline.compression_wet"]
    dry = TASKS["baseline.compression"]
    assert "oil" not in dry.words
    assert not any(need.item == "engine oil" for need in dry.needs)


@check("common practice", note="heat on penetrant: never alone, the second person with the extinguisher")
def test_manifold_nuts_are_not_heated_alone() -> None:
    assert "flame" in TASKS["strip.nuts"].cautions
    assert len(TASKS["strip.nuts"].crew) == 2
