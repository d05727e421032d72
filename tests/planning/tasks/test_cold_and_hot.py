"""What is read cold comes before the first start of the day; what is hot is left to cool first."""

from __future__ import annotations

import tomllib

import pytest

from boostwright.library import read_text
from boostwright.library.ladder import ladder_steps
from boostwright.library.measurements import measurements
from boostwright.library.tasks import task_rows
from boostwright.planning.task import Task
from boostwright.planning.tasks import tasks_for
from boostwright.planning.tasks.network import ancestors
from tests.labels import check
from tests.planning.tasks.builds import changed

TASKS: dict[str, Task] = {task.key: task for task in tasks_for(changed({}))}
BEFORE = ancestors({key: task.after for key, task in TASKS.items()})
RUNS = set(tomllib.loads(read_text("tasks/open_things.toml"))["runs_engine"])
COLD = ("trouble_codes", "coolant_cold", "air_cold", "coolant_drop", "oil_pressure_cold")


@check("common practice", note="an engine that stood over night has one temperature, until its first start")
@pytest.mark.parametrize("reading", COLD)
def test_cold_readings_come_before_the_first_start(reading: str) -> None:
    """Nothing that runs the engine comes before them; it may be where one is read."""
    baseline = [t for t in TASKS.values() if t.phase == "baseline"]
    (task,) = [t for t in baseline if t.hold and reading in t.hold.readings]
    assert not BEFORE[task.key] & RUNS
    others = RUNS & TASKS.keys() - {task.key}
    assert all(task.key in BEFORE[key] for key in others if key.startswith("baseline."))


def test_nobody_drives_the_car_in_for_its_cold_readings() -> None:
    assert "do not drive it in" in TASKS["baseline.oil_cold"].words
    assert "stood over night" in measurements()["oil_pressure_cold"].how


@check("common practice", note="plug threads tear out of a hot aluminium head: cooled to the hand first")
@pytest.mark.parametrize(
    ("later", "run"),
    [
        ("baseline.plugs", "baseline.full_load"),
        ("baseline.plugs", "baseline.charging"),
        ("run.plugs", "run.pull_high"),
    ],
)
def test_plugs_wait_for_a_head_that_is_cool_to_the_hand(later: str, run: str) -> None:
    task = TASKS[later]
    (lag,) = [lag for lag in task.lags if lag.task == run]
    assert lag.seconds >= 30 * 60.0
    assert "hand" in task.words


def test_compression_is_taken_warm_and_its_warmth_is_noted() -> None:
    task, how = TASKS["baseline.compression"], measurements()["compression"].how
    assert task.same_stay == ("baseline.plugs",)
    for words in (task.words, how):
        assert "warm to the hand" in words
        assert "temperature" in words.lower()
    assert "Engine hot" not in how


@check("common practice", note="a hot cap scalds: it is opened cold, the gas test goes with the warming up")
def test_the_cap_is_opened_cold() -> None:
    assert "baseline.coolant" in BEFORE["baseline.oil_cold"]
    gas = [
        t.key for t in TASKS.values() if t.phase == "baseline" and t.hold and "coolant_gas" in t.hold.readings
    ]
    assert gas == ["baseline.warm_idle"]
    assert "scald" in TASKS["baseline.warm_idle"].cautions


# ------------------------------------------------------------- one condition, everywhere the same


def everything_about(word: str) -> list[str]:
    """All sentences of tasks, measurements and ladder with a word in them."""
    texts = [text for row in task_rows().values() for text, _ in row.says]
    texts += [text for one in measurements().values() for text in (one.words, one.how)]
    texts += [text for step in ladder_steps() for text in (*step.do, step.watch)]
    return [text for text in texts if word in text]


def test_brakes_are_tried_from_one_speed() -> None:
    texts = [text for text in everything_about("km/h") if "brak" in text.lower() or "stops" in text]
    assert len(texts) >= 3
    assert all("50 km/h" in text for text in texts)


def test_crankcase_pressure_is_read_at_idle_standing_and_at_full_throttle_on_the_road() -> None:
    idle, pull = TASKS["baseline.crankcase"], TASKS["baseline.full_load"]
    assert idle.hold is not None
    assert pull.hold is not None
    assert idle.place == "yard"
    assert idle.hold.readings == ("crankcase_idle",)
    assert pull.place == "road"
    assert "crankcase_pressure" in pull.hold.readings
    for words in (measurements()["crankcase_pressure"].words, pull.words, TASKS["run.oil_change"].words):
        assert "4000 rpm" in words
        assert "full throttle" in words
    assert not [t for t in everything_about("rankcase") if "4000 rpm" in t and "full throttle" not in t]
    assert measurements()["crankcase_idle"].sides == ("before", "after")
