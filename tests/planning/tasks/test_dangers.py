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
