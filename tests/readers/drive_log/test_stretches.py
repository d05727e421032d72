"""Large logs in stretches: nothing is lost, and stretches overlap as asked."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from boostwright.readers.drive_log import Recording, open_log, opening
from boostwright.readers.drive_log import long as long_logs
from boostwright.readers.drive_log import text as text_of_logs
from boostwright.readers.drive_log import wide as wide_logs
from tests.readers.drive_log.made import HEADS, KEYS, SI, Array, cells, drive, put, rounded, table

DRIVE = drive(seconds=600.0)
WRITTEN = rounded(DRIVE)
TEXT = cells(DRIVE)


@pytest.fixture
def large(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every file counts as too large to be held, and comes in blocks of 20 kB."""
    for module in (wide_logs, long_logs):
        monkeypatch.setattr(module, "BIG", 0)
        monkeypatch.setattr(
            module, "blocks", lambda path, habit, size=0: text_of_logs.blocks(path, habit, 20_000)
        )
    for module in (wide_logs, opening):
        monkeypatch.setattr(module, "HEAD", 10_000)


def glued(parts: list[Recording], key: str) -> tuple[Array, Array]:
    """Rows and values of a channel over all stretches, each row once."""
    rows, values = [], []
    for part in parts:
        channel = part.find(key)
        if channel is None:
            continue
        clock = part.clocks[channel.clock]
        rows.append(clock.row)
        values.append(channel.value)
    row, first = np.unique(np.concatenate(rows), return_index=True)
    return row, np.concatenate(values)[first]


def test_stretches_hold_all_and_overlap(tmp_path: Path, large: None) -> None:
    log = open_log(put(tmp_path, table(TEXT, separator=";", decimal=",", unit_row=True)))
    assert log._held is None
    parts = list(log.parts(rows=1500, overlap_seconds=20.0))
    assert len(parts) >= 4
    for name in KEYS:
        row, value = glued(parts, KEYS[name])
        np.testing.assert_array_equal(row, np.arange(len(WRITTEN["time"])))
        np.testing.assert_allclose(value, SI[name](WRITTEN[name]), err_msg=name)
    for before, after in pairwise(parts):
        start, end = after.clocks[0].stamp[0], before.clocks[0].stamp[-1]
        assert end - 20.0 <= start <= end - 19.0
        assert after.first_row == after.clocks[0].row[0]
        assert len(before.clocks[0].stamp) < 1500 + 3 * 200 + 400


def test_a_held_file_in_stretches_is_the_same(tmp_path: Path) -> None:
    log = open_log(put(tmp_path, table(TEXT)))
    parts = list(log.parts(rows=1000, overlap_seconds=5.0))
    assert len(parts) > 4
    row, value = glued(parts, "engine_speed")
    np.testing.assert_array_equal(row, np.arange(len(WRITTEN["time"])))
    np.testing.assert_allclose(value, SI["rpm"](WRITTEN["rpm"]))
    assert [p.first_row for p in log.parts(rows=1000, overlap_seconds=0.0)][:3] == [0, 1000, 2000]


def test_a_large_long_file_in_stretches(tmp_path: Path, large: None) -> None:
    names = [n for n in HEADS if n != "time"]
    lines = ["time [s];name;value"]
    for i, t in enumerate(TEXT["time"][:3000]):
        lines += [f"{t};{HEADS[n][0]} [{HEADS[n][1]}];{TEXT[n][i]}" for n in names]
    parts = list(open_log(put(tmp_path, "\n".join(lines) + "\n")).parts(rows=1000, overlap_seconds=2.0))
    for name in ("rpm", "clt"):
        row, value = glued(parts, KEYS[name])
        np.testing.assert_array_equal(row, np.arange(3000) * len(names))
        np.testing.assert_allclose(value, SI[name](WRITTEN[name][:3000]))


def test_a_table_that_turns_up_late_in_a_large_file_is_recognised(tmp_path: Path, large: None) -> None:
    fast = {k: TEXT[k] for k in ("time", "rpm", "map", "tps", "lambda", "spark")}
    slow = {k: TEXT[k][::10] for k in ("time", "clt", "iat", "battery", "speed")}
    text = table(fast) + "\nSecond device\n" + table(slow)
    parts = list(open_log(put(tmp_path, text)).parts(rows=2000))
    row, value = glued(parts, "coolant_temperature")
    np.testing.assert_allclose(value, SI["clt"](WRITTEN["clt"])[::10])
    assert row[0] == len(TEXT["time"])


def test_units_and_words_that_appear_late_are_read_in_a_large_file(tmp_path: Path, large: None) -> None:
    texts = {k: list(v) for k, v in TEXT.items()}
    texts["map"] = [c if i < 5000 else f"{c} kPa" for i, c in enumerate(texts["map"])]
    texts["lambda"] = [c if i % 7 or i < 4000 else "n/a" for i, c in enumerate(texts["lambda"])]
    parts = list(open_log(put(tmp_path, table(texts))).parts(rows=1500))
    _, value = glued(parts, "manifold_pressure")
    np.testing.assert_allclose(value, SI["map"](WRITTEN["map"]))
    row, value = glued(parts, "lambda")
    np.testing.assert_array_equal(np.isnan(value), (row >= 4000) & (row % 7 == 0))
