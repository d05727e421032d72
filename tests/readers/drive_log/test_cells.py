"""Cells of any habit: units, thousands marks, words for nothing, quotes, rows too long and too short."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from boostwright.errors import LogRefused
from boostwright.readers.drive_log import open_log
from boostwright.readers.drive_log.cells import read_cell
from tests.readers.drive_log.made import HEADS, KEYS, SI, cells, drive, put, rounded, table
from tests.readers.drive_log.test_text_logs import agrees

DRIVE = drive()
WRITTEN = rounded(DRIVE)
TEXT = cells(DRIVE)
BARE = {name: heading for name, (heading, _) in HEADS.items()}


@pytest.mark.parametrize(
    ("text", "decimal", "value", "unit"),
    [
        ("98.2 kPa", ".", 98.2, "kpa"),
        ("98,2 kPa", ",", 98.2, "kpa"),
        ("1,250", ".", 1250.0, ""),
        ("1.250", ",", 1250.0, ""),
        ("1.250,5", ",", 1250.5, ""),
        ("1,250.5", ".", 1250.5, ""),
        ("1 250", ".", 1250.0, ""),
        ("1'250.5", ".", 1250.5, ""),
        ("1,250,000", "", 1250000.0, ""),
        ("2.5", ",", 2.5, ""),
        ("-0,5", "", -0.5, ""),
        ("\u22123.5", ".", -3.5, ""),
        ("1.5e3", ".", 1500.0, ""),
        ("+7", ".", 7.0, ""),
        ("12.5%", ".", 12.5, "%"),
        ("85 °C", ".", 85.0, "°c"),
        ("ON", ".", 1.0, ""),
        ("off", ".", 0.0, ""),
        ("N", ".", 0.0, ""),
    ],
)
def test_one_cell(text: str, decimal: str, value: float, unit: str) -> None:
    got = read_cell(text, decimal)
    assert got is not None
    assert got == (pytest.approx(value), unit)


@pytest.mark.parametrize("text", ["---", "n/a", "NaN", "#N/A", "", "inf", "1.#QNAN", "null"])
def test_words_for_nothing(text: str) -> None:
    got = read_cell(text, ".")
    assert got is not None
    assert math.isnan(got[0])


@pytest.mark.parametrize("text", ["abc", "12:30:05", "2026-05-04", "1.2.3.4", "12 13 14 x 9"])
def test_what_is_no_number(text: str) -> None:
    assert read_cell(text, ".") is None


def test_units_in_the_cells(tmp_path: Path) -> None:
    texts = {n: [f"{c} {HEADS[n][1]}".strip() for c in column] for n, column in TEXT.items()}
    log = open_log(put(tmp_path, table(texts, heads=BARE)))
    agrees(log.read())
    assert all(c.unit_said for c in log.mapping.columns if c.key not in ("lambda", "manifold_pressure", ""))


def test_units_in_the_cells_only_from_the_middle_on(tmp_path: Path) -> None:
    n = len(TEXT["time"])
    texts = {
        k: [c if i < n // 2 or not HEADS[k][1] else f"{c} {HEADS[k][1]}" for i, c in enumerate(v)]
        for k, v in TEXT.items()
    }
    agrees(open_log(put(tmp_path, table(texts, heads=BARE))).read())


def test_thousands_marks(tmp_path: Path) -> None:
    texts = dict(TEXT) | {"rpm": [f'"{int(v):,}"' for v in WRITTEN["rpm"]]}
    agrees(open_log(put(tmp_path, table(texts))).read())
    german = {k: [c.replace(".", ",") for c in v] for k, v in TEXT.items()}
    german["rpm"] = [f"{int(v):,}".replace(",", ".") for v in WRITTEN["rpm"]]
    agrees(open_log(put(tmp_path, table(german, separator=";"), name="german.csv")).read())


def test_quoted_cells_with_decimal_commas(tmp_path: Path) -> None:
    texts = {k: [f'"{c.replace(".", ",")}"' for c in v] for k, v in TEXT.items()}
    agrees(open_log(put(tmp_path, table(texts))).read())


def test_everything_in_quotes(tmp_path: Path) -> None:
    texts = {k: [f'"{c}"' for c in v] for k, v in TEXT.items()}
    heads = {n: f'"{h} ({u})"' if u else f'"{h}"' for n, (h, u) in HEADS.items()}
    agrees(open_log(put(tmp_path, table(texts, heads=heads))).read())


@pytest.mark.parametrize("word", ["", "---", "NaN", "n/a", "#N/A", "null", "-"])
def test_empty_cells_become_nan_and_nothing_else_does(tmp_path: Path, word: str) -> None:
    texts = {k: list(v) for k, v in TEXT.items()}
    texts["lambda"] = [c if i % 4 == 0 else word for i, c in enumerate(texts["lambda"])]
    texts["clt"] = [c if i % 10 == 0 else word for i, c in enumerate(texts["clt"])]
    found = open_log(put(tmp_path, table(texts))).read()
    agrees(found, tuple(n for n in KEYS if n not in ("lambda", "clt")))
    for name, step in (("lambda", 4), ("clt", 10)):
        channel = found.find(KEYS[name])
        assert channel is not None
        every = np.arange(len(channel.value))
        np.testing.assert_array_equal(np.isfinite(channel.value), every % step == 0)
        np.testing.assert_allclose(channel.value[::step], SI[name](WRITTEN[name])[::step])


def test_a_heading_that_stands_again_in_the_middle_is_no_row(tmp_path: Path) -> None:
    lines = table(TEXT).split("\n")
    lines[400:400] = [lines[0]]
    lines[800:800] = ["", lines[0], ""]
    agrees(open_log(put(tmp_path, "\n".join(lines))).read())


def test_remarks_and_empty_lines_between_the_rows(tmp_path: Path) -> None:
    lines = table(TEXT).split("\n")
    lines[300:300] = ["# a remark, made while driving", "", ",,,,,,,,,"]
    lines[900:900] = ["// lap 2"]
    agrees(open_log(put(tmp_path, "\n".join(lines))).read())


def test_more_cells_than_headings(tmp_path: Path) -> None:
    lines = table(TEXT).split("\n")
    lines = [lines[0]] + [line + ",7,8" if line else line for line in lines[1:]]
    agrees(open_log(put(tmp_path, "\n".join(lines))).read())


def test_a_torn_row_is_left_out_and_said(tmp_path: Path) -> None:
    lines = table(TEXT).split("\n")
    lines[500] = lines[500] + lines[501]  # two rows in one
    found = open_log(put(tmp_path, "\n".join(lines))).read()
    speed = found.find("engine_speed")
    assert speed is not None
    assert math.isnan(speed.value[499])
    assert any("row" in note for note in found.notes), found.notes
    short = table(TEXT).split("\n")
    short[600] = ",".join(short[600].split(",")[:4])
    found = open_log(put(tmp_path, "\n".join(short), name="short.csv")).read()
    battery, speed = found.find("battery_voltage"), found.find("engine_speed")
    assert battery is not None
    assert speed is not None
    assert math.isnan(battery.value[599])
    assert speed.value[599] == pytest.approx(WRITTEN["rpm"][599] * math.pi / 30)


def test_a_last_row_that_was_cut_off_is_left_out(tmp_path: Path) -> None:
    text = table(TEXT).rstrip("\n")
    found = open_log(put(tmp_path, text[:-12])).read()
    battery = found.find("battery_voltage")
    assert battery is not None
    assert np.isfinite(battery.value).sum() <= len(WRITTEN["time"]) - 1
    agree = battery.value[:-1]
    np.testing.assert_allclose(agree, WRITTEN["battery"][: len(agree)])


def test_empty_and_double_headings(tmp_path: Path) -> None:
    texts = dict(TEXT)
    heads = {n: f"{h} [{u}]" if u else h for n, (h, u) in HEADS.items()}
    texts["blank"], heads["blank"] = ["5"] * len(TEXT["time"]), ""
    texts["again"], heads["again"] = TEXT["rpm"], heads["rpm"]
    texts["rest"], heads["rest"] = ["0.0"] * len(TEXT["time"]), heads["clt"]
    log = open_log(put(tmp_path, table(texts, heads=heads)))
    agrees(log.read())
    assert [c.key for c in log.read().channels].count("engine_speed") == 1
    assert sum("twice" in note for note in log.notes) == 2


def test_gears_and_switches(tmp_path: Path) -> None:
    n = len(TEXT["time"])
    texts = dict(TEXT) | {
        "gear": ["N" if i < 200 else str(1 + i % 5) for i in range(n)],
        "fan": ["ON" if i % 90 < 30 else "OFF" for i in range(n)],
    }
    heads = {k: f"{h} [{u}]" if u else h for k, (h, u) in HEADS.items()} | {"gear": "Gear", "fan": "Fan"}
    found = open_log(put(tmp_path, table(texts, heads=heads))).read()
    agrees(found)
    gear = found.find("gear")
    assert gear is not None
    assert set(gear.value[:200]) == {0.0}
    assert gear.value[203] == 1 + 203 % 5
    assert "Fan" in found.unknown


def test_cells_of_one_column_in_two_units(tmp_path: Path) -> None:
    texts = {k: list(v) for k, v in TEXT.items()}
    texts["map"] = [
        f"{c} kPa" if i % 3 else f"{v / 100:.4f} bar"
        for i, (c, v) in enumerate(zip(TEXT["map"], WRITTEN["map"], strict=True))
    ]
    texts["clt"] = [
        f"{c} °C" if i < 500 else f"{v * 1.8 + 32:.2f} °F"
        for i, (c, v) in enumerate(zip(TEXT["clt"], WRITTEN["clt"], strict=True))
    ]
    heads = {n: f"{h} [{u}]" if u and n not in ("map", "clt") else h for n, (h, u) in HEADS.items()}
    found = open_log(put(tmp_path, table(texts, heads=heads))).read()
    agrees(found)
    assert sum("cells in" in note for note in found.notes) == 2


def test_a_quotation_that_never_ends_costs_no_more_than_its_row(tmp_path: Path) -> None:
    texts = {k: [f'"{c}"' if k == "lambda" else c for c in v] for k, v in TEXT.items()}
    lines = table(texts).rstrip("\n").split("\n")
    found = open_log(put(tmp_path, "\n".join([*lines, '"']))).read()
    speed = found.find("engine_speed")
    assert speed is not None
    np.testing.assert_allclose(speed.value[: len(lines) - 1], SI["rpm"](WRITTEN["rpm"]))


def test_commas_that_part_cells_and_decimals_are_refused(tmp_path: Path) -> None:
    with pytest.raises(LogRefused, match="nobody can tell which"):
        open_log(put(tmp_path, table(TEXT, decimal=",")))
