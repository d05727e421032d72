"""Logs in ASAM MDF 4, written by asammdf itself: clocks by type, units, conversions, several rates."""

from __future__ import annotations

import datetime as dt
import gc
import importlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from boostwright.errors import LogRefused
from boostwright.readers.drive_log import open_log
from tests.labels import check
from tests.readers.drive_log.made import HEADS, KEYS, SI, Array, drive, rounded

pytestmark = pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")  # of damaged files
asammdf = pytest.importorskip("asammdf")

WRITTEN = rounded(drive())
FAST = ("rpm", "map", "tps", "lambda", "spark")
SLOW = ("clt", "iat", "speed", "battery")
START = dt.datetime(2026, 5, 4, 13, 5, 22, tzinfo=dt.UTC)


def signal(name: str, step: int = 1, samples: Array | None = None, **more: Any) -> Any:
    heading, unit = HEADS[name]
    values = WRITTEN[name][::step] if samples is None else samples
    return asammdf.Signal(values, WRITTEN["time"][::step], name=heading, unit=unit, **more)


def written(path: Path, groups: list[list[Any]]) -> Path:
    file = asammdf.MDF(version="4.10")
    file.header.start_time = START
    for group in groups:
        file.append(group, common_timebase=True)
    file.save(path, overwrite=True)
    file.close()
    return path


@check(
    "reference library", source="asammdf", note="the file is written by it; values come back as they went in"
)
def test_groups_of_different_rates(tmp_path: Path) -> None:
    path = written(tmp_path / "drive.mf4", [[signal(n) for n in FAST], [signal(n, 5) for n in SLOW]])
    log = open_log(path)
    found = log.read()
    assert len(found.clocks) == 2
    for name in (*FAST, *SLOW):
        channel = found.find(KEYS[name])
        assert channel is not None, (name, log.questions)
        step = 1 if name in FAST else 5
        np.testing.assert_allclose(channel.value, SI[name](WRITTEN[name])[::step], rtol=1e-9, atol=1e-9)
        np.testing.assert_allclose(found.clocks[channel.clock].stamp, WRITTEN["time"][::step])
        np.testing.assert_array_equal(found.clocks[channel.clock].row, np.arange(len(channel.value)))
    assert found.clocks[0].start == pytest.approx(START.timestamp())


def test_the_clock_is_known_by_its_type_and_not_by_its_name(tmp_path: Path) -> None:
    path = tmp_path / "drive.mf4"
    file = asammdf.MDF(version="4.10")
    misleading = asammdf.Signal(WRITTEN["time"][::-1].copy(), WRITTEN["time"], name="time", unit="s")
    file.append([signal(n) for n in FAST] + [misleading], common_timebase=True)
    for channel in file.groups[0].channels:
        if channel.channel_type == 2:
            channel.name = "phase counter"
    file.save(path, overwrite=True)
    found = open_log(path).read()
    np.testing.assert_allclose(found.clocks[0].stamp, WRITTEN["time"])


def test_conversions_and_marks_of_bad_readings(tmp_path: Path) -> None:
    raw = np.round(WRITTEN["clt"] + 40.0).astype(np.uint8)
    linear = signal("clt", samples=raw, conversion={"a": 1.0, "b": -40.0})
    bad = np.zeros(len(raw), dtype=bool)
    bad[100:110] = True
    marked = signal("battery", invalidation_bits=bad)
    path = written(tmp_path / "drive.mf4", [[signal(n) for n in FAST], [linear], [marked]])
    found = open_log(path).read()
    coolant, battery = found.find("coolant_temperature"), found.find("battery_voltage")
    assert coolant is not None
    assert battery is not None
    np.testing.assert_allclose(coolant.value, raw - 40.0 + 273.15)
    np.testing.assert_array_equal(np.isnan(battery.value), bad)


def test_stretches_of_a_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = written(tmp_path / "drive.mf4", [[signal(n) for n in FAST], [signal(n, 5) for n in SLOW]])
    monkeypatch.setattr("boostwright.readers.drive_log.mdf._RECORDS", 300)
    whole = open_log(path).read()
    speed = whole.find("engine_speed")
    assert speed is not None
    np.testing.assert_allclose(speed.value, SI["rpm"](WRITTEN["rpm"]))


def test_a_damaged_file_is_refused(tmp_path: Path) -> None:
    path = written(tmp_path / "drive.mf4", [[signal(n) for n in FAST]])
    whole = path.read_bytes()
    for cut in (9, 70, 300, len(whole) // 2):
        path.write_bytes(whole[:cut])
        with pytest.raises(LogRefused) as error:
            open_log(path).read()
        assert error.value.remedy
        del error
        gc.collect()  # what the library left half made complains now, and not in another test


def test_without_the_library_the_message_says_how_to_install_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = written(tmp_path / "drive.mf4", [[signal(n) for n in FAST]])
    plain = importlib.import_module

    def missing(name: str, package: str | None = None) -> Any:
        if name == "asammdf":
            raise ImportError(name)
        return plain(name, package)

    monkeypatch.setattr(importlib, "import_module", missing)
    with pytest.raises(LogRefused, match=r"pip install boostwright\[mdf\]"):
        open_log(path)
