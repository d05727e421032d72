"""Files that are no record of a drive are refused with the reason, or judged in part; drives are not."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from boostwright.errors import LogRefused
from boostwright.readers.drive_log import open_log
from tests.labels import check
from tests.readers.drive_log.made import AIR, HEADS, Array, cells, drive, put, table

DRIVE = drive()
ROWS = len(DRIVE["time"])
SPANS = {
    "rpm": (0.0, 8000.0),
    "map": (10.0, 250.0),
    "tps": (0.0, 100.0),
    "lambda": (0.7, 1.3),
    "clt": (-40.0, 140.0),
    "iat": (-40.0, 140.0),
    "speed": (0.0, 250.0),
    "spark": (-10.0, 50.0),
    "battery": (8.0, 16.0),
}


def logged(folder: Path, columns: dict[str, Array], extra: dict[str, str] | None = None) -> Path:
    heads = {n: f"{h} [{u}]" if u else h for n, (h, u) in HEADS.items()} | (extra or {})
    return put(folder, table(cells(columns, dict.fromkeys(columns, 3)), heads=heads))


def played(course: dict[str, Array]) -> dict[str, Array]:
    """Columns that run through their spans: course from 0 to 1 for each."""
    return {"time": DRIVE["time"]} | {n: low + (high - low) * course[n] for n, (low, high) in SPANS.items()}


def refused(path: Path) -> LogRefused:
    with pytest.raises(LogRefused) as error:
        open_log(path)
    assert error.value.remedy
    assert path.name in str(error.value)
    return error.value


@pytest.mark.parametrize("seed", range(3))
def test_a_drive_is_no_such_thing(tmp_path: Path, seed: int) -> None:
    log = open_log(logged(tmp_path, drive(seconds=90.0 + 40.0 * seed, seed=seed)))
    assert log.limits == ()


def test_a_sweep_of_all_values_at_once(tmp_path: Path) -> None:
    triangle = np.abs((np.arange(ROWS) / 200.0) % 2.0 - 1.0)
    assert refused(logged(tmp_path, played(dict.fromkeys(SPANS, triangle)))).code == "demo-sweep"


def test_a_sweep_of_each_value_at_its_own_pace(tmp_path: Path) -> None:
    course = {n: np.abs((np.arange(ROWS) / (110.0 + 37.0 * k)) % 2.0 - 1.0) for k, n in enumerate(SPANS)}
    assert refused(logged(tmp_path, played(course))).code == "demo-sweep"


def test_an_emulator_that_repeats_itself(tmp_path: Path) -> None:
    x = np.arange(ROWS) / 150.0
    course = {
        n: 0.5 + 0.3 * np.sin(2 * np.pi * x + k) + 0.15 * np.sin(6 * np.pi * x + 2 * k)
        for k, n in enumerate(SPANS)
    }
    assert refused(logged(tmp_path, played(course))).code == "emulator"


@check("common practice", note="throttle and manifold, engine and road speed hang together in every car")
def test_an_emulator_in_which_nothing_hangs_together(tmp_path: Path) -> None:
    rng = np.random.default_rng(5)
    walks = {n: np.convolve(rng.normal(0.0, 1.0, ROWS + 60), np.ones(61) / 61, "valid") for n in SPANS}
    course = {n: (w - w.min()) / np.ptp(w) for n, w in walks.items()}
    assert refused(logged(tmp_path, played(course))).code == "emulator"


@check("common practice", note="throttle and manifold, engine and road speed hang together in every car")
@pytest.mark.parametrize("seed", range(3))
def test_pieces_of_different_minutes_side_by_side(tmp_path: Path, seed: int) -> None:
    long, shift = drive(seconds=400.0, seed=seed), 331 + 246 * seed
    pieces = {n: np.roll(v, shift * k)[:ROWS] for k, (n, v) in enumerate(long.items()) if n != "time"}
    assert refused(logged(tmp_path, {"time": long["time"][:ROWS]} | pieces)).code == "emulator"


def test_one_sick_sensor_is_no_emulator(tmp_path: Path) -> None:
    sick = drive()
    sick["map"] = 60.0 + 12.0 * np.random.default_rng(3).standard_normal(ROWS).clip(-2.0, 3.0)
    assert open_log(logged(tmp_path, sick)).limits == ()  # engine and road still go together
    del sick["speed"]
    (limit,) = open_log(logged(tmp_path, sick)).limits
    assert "goes with nothing else" in limit


@pytest.mark.parametrize("way", ["z", "01"])
def test_columns_prepared_for_statistics(tmp_path: Path, way: str) -> None:
    made = {"time": DRIVE["time"]}
    for name, value in DRIVE.items():
        if name != "time":
            made[name] = (
                (value - value.mean()) / value.std() if way == "z" else (value - value.min()) / np.ptp(value)
            )
    assert refused(logged(tmp_path, made)).code == "standardised"


def test_a_bench_test_is_judged_in_part(tmp_path: Path) -> None:
    rng = np.random.default_rng(2)
    level = np.repeat(np.arange(6), ROWS // 6)
    rpm = 1500.0 + 700.0 * level + rng.normal(0.0, 3.0, ROWS)
    made = dict(DRIVE) | {
        "rpm": rpm,
        "map": 60.0 + 12.0 * level + rng.normal(0.0, 0.3, ROWS),
        "tps": 30.0 + 10.0 * level + rng.normal(0.0, 0.2, ROWS),
        "lambda": 1.0 - 0.02 * level + rng.normal(0.0, 0.004, ROWS),
        "spark": 30.0 - 2.0 * level + rng.normal(0.0, 0.2, ROWS),
    }
    del made["speed"]
    log = open_log(logged(tmp_path, made))
    assert any("bench" in limit for limit in log.limits)


@check("common practice", note="a diesel has no throttle depression at idle and burns lean under load")
def test_a_diesel_is_refused(tmp_path: Path) -> None:
    load = DRIVE["tps"] / 100.0
    made = dict(DRIVE) | {
        "rpm": np.minimum(DRIVE["rpm"], 4300.0),
        "map": AIR + 1.0 + 90.0 * load + np.random.default_rng(1).normal(0.0, 0.4, ROWS),
        "lambda": 3.2 - 1.7 * load,
    }
    del made["spark"]
    assert refused(logged(tmp_path, made)).code == "diesel"
    without = {n: v for n, v in made.items() if n != "lambda"}
    assert any("diesel" in limit for limit in open_log(logged(tmp_path, without)).limits)


@check("common practice", note="without load a diesel has the air in its manifold, and burns a part of it")
def test_a_diesel_that_never_idles_and_is_very_lean_is_refused(tmp_path: Path) -> None:
    load = DRIVE["tps"] / 100.0
    made = dict(DRIVE) | {
        "rpm": np.clip(DRIVE["rpm"], 1600.0, 4300.0),
        "map": AIR + 1.0 + 90.0 * load + np.random.default_rng(1).normal(0.0, 0.4, ROWS),
        "lambda": 9.0 - 7.3 * np.sqrt(load),
    }
    for name in ("spark", "tps"):
        del made[name]
    assert refused(logged(tmp_path, made)).code == "diesel"


def test_a_pull_of_petrol_alone_whose_fuel_is_unknown_is_no_diesel(tmp_path: Path) -> None:
    n = 80
    t = np.arange(n) / 10.0
    pull = {
        "time": t,
        "rpm": 2000.0 + 450.0 * t,
        "map": 150.0 + 40.0 * np.tanh(t),
        "lambda": 12.1 - 0.05 * t,
        "speed": 40.0 + 9.0 * t,
    }
    heads = {"lambda": "AFR"}
    assert not any("diesel" in limit for limit in open_log(logged(tmp_path, pull, heads)).limits)


def test_a_table_of_something_else(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    lines = ["time [s];rainfall [mm];humidity [%];wind from [deg]"]
    lines += [
        f"{60 * i};{rng.random():.2f};{60 + 9 * rng.random():.1f};{360 * rng.random():.0f}"
        for i in range(400)
    ]
    assert refused(put(tmp_path, "\n".join(lines))).code == "no-engine"


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "empty"),
        (b"   \n\n", "empty"),
        (b"just a line of words\nand another one\nand one more\n", "no-rows"),
        (bytes(range(256)) * 40, "no-text"),
        (b"\x89PNG\r\n\x1a\n" + bytes(4000), "no-text"),
        (b"time,rpm\n", "no-rows"),
    ],
)
def test_files_that_hold_no_table(tmp_path: Path, content: bytes, code: str) -> None:
    path = put(tmp_path, content)
    with pytest.raises(LogRefused) as error:
        open_log(path)
    assert error.value.code == code, str(error.value)
    assert error.value.remedy


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(LogRefused, match="no file"):
        open_log(tmp_path / "nowhere.csv")
    with pytest.raises(LogRefused, match="is a folder"):
        open_log(tmp_path)
    with pytest.raises(LogRefused, match="40 to 110 kPa"):
        open_log(tmp_path / "nowhere.csv", place_pressure=1.0)


def test_one_pull_and_one_start_are_no_show(tmp_path: Path) -> None:
    n = 60
    rise = np.linspace(0.0, 1.0, n)
    rng = np.random.default_rng(4)
    pull = {
        "time": 0.05 * np.arange(n), "rpm": 2500.0 + 3500.0 * rise + rng.normal(0.0, 4.0, n),
        "map": 110.0 + 60.0 * rise + rng.normal(0.0, 0.2, n), "speed": 60.0 + 80.0 * rise,
        "lambda": 0.92 - 0.1 * rise + rng.normal(0.0, 0.002, n), "iat": 30.0 + 12.0 * rise,
    }  # fmt: skip
    assert open_log(logged(tmp_path, pull)).read().find("engine_speed") is not None
    begin = {name: value[:250] for name, value in drive(seconds=500.0).items()}  # at rest, start, idle
    assert open_log(logged(tmp_path, begin)).read().find("engine_speed") is not None
