"""The log against the truth, and the key against both."""

from __future__ import annotations

import csv
import io
import json
import math
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.labels import check
from tests.tools.drives.conftest import BUILD
from tools.drives import state as s
from tools.drives.drive import Drive, make_drive
from tools.drives.frozen import RECORD, source_hash
from tools.drives.logger import choose_logger, write_down
from tools.drives.sensors import channels
from tools.drives.sight import CLEAR, compare, longest_run, without
from tools.drives.write import csv_text, write_drive

ROOT = Path(__file__).parents[3]


def table(drive: Drive) -> tuple[list[str], list[list[str]]]:
    rows = list(csv.reader(io.StringIO(csv_text(drive))))
    return rows[0], rows[1:]


def of_kind(drive: Drive, kind: str) -> list[dict]:
    return [event for event in drive.key["events"] if event["kind"] == kind]


def span(drive: Drive, event: dict, tail: float = 0.0) -> np.ndarray:
    y = drive.truth.y
    return y[(y[:, s.TIME] >= event["start"]) & (y[:, s.TIME] <= event["end"] + tail)]


def test_the_simulator_is_the_frozen_one() -> None:
    """Who changes it writes the new hash into FROZEN and the reason into README.md."""
    assert RECORD.read_text(encoding="utf-8").split()[0] == source_hash()


def test_it_stands_apart_from_the_models() -> None:
    borrowed = set()
    for path in (ROOT / "tools" / "drives").glob("*.py"):
        for line in path.read_text(encoding="utf-8").splitlines():
            if "boostwright" in line and line.strip().startswith(("from", "import")):
                borrowed.add(line.strip())
    assert borrowed == {
        "from boostwright import load_build",
        "from boostwright.errors import BoostwrightError",
    }


def test_a_seed_makes_the_same_drive_again(clean: Drive) -> None:
    again = make_drive(BUILD, 3, 12.0, clean=True, rate=50.0)
    assert csv_text(again) == csv_text(clean)
    assert again.key == clean.key
    other = make_drive(BUILD, 4, 12.0, clean=True, rate=50.0)
    assert csv_text(other) != csv_text(clean)


def test_a_seed_carries_enough_events_of_enough_kinds(planted: Drive) -> None:
    counts = Counter(event["kind"] for event in planted.key["events"])
    assert counts == planted.key["kinds"]
    assert sum(counts.values()) >= 60
    assert len(counts) >= 20
    assert (
        0 < planted.key["events_that_can_be_seen"] < sum(counts.values())
    )  # some are hidden, and it says so
    for event in planted.key["events"]:
        assert event["can_be_seen"] == bool(event["seen_by"])
        assert event["can_be_seen"] == (event["why_not"] == "")


def test_a_clean_log_carries_no_event_but_plenty_of_everyday(clean: Drive) -> None:
    assert clean.key["events"] == []
    everyday = clean.key["everyday"]
    assert everyday["gear changes"] > 30
    assert everyday["overrun cuts"] > 20
    assert everyday["full pedal"] > 8
    assert everyday["stops"] >= 3
    stamps = [float(row[0]) for row in table(clean)[1]]
    assert min(np.diff(stamps)) > 0.0


def test_the_log_has_enough_channels(clean: Drive) -> None:
    every = channels(np.random.default_rng(1), clean.truth.car)
    assert len(every) + 1 >= 24
    assert len(clean.key["channels"]) == len(every)
    heads, rows = table(clean)
    assert len(heads) == len(clean.logger.present) + 1
    assert len({len(row) for row in rows} | {len(heads)}) == 1


@check(
    "limit",
    note="sd about the noise-free sensor: noise and step/sqrt(12) in quadrature; 5 % for the sample",
)
def test_noise_and_steps_are_those_of_the_key(clean: Drive) -> None:
    for key in ("speed", "map", "lambda", "rail", "oil_pressure"):
        if key not in clean.log.columns:
            continue
        column = clean.log.columns[key]
        channel = next(c for c in clean.logger.present if c.key == key)
        inside = (column.ideal > channel.low + 6 * channel.noise) & (
            column.ideal < channel.high - 6 * channel.noise
        )
        left = column.readings[inside] * channel.step - column.ideal[inside]
        assert np.std(left) == pytest.approx(
            math.hypot(channel.noise, channel.step / math.sqrt(12)), rel=0.05
        )


def test_readings_stay_in_range_and_on_their_steps(planted: Drive) -> None:
    heads, rows = table(planted)
    for i, channel in enumerate(planted.logger.present, start=1):
        assert heads[i] == f"{channel.heading} ({channel.unit})"
        values = np.array([float(row[i]) for row in rows if row[i]])
        assert values.min() >= channel.low - 1e-9
        assert values.max() <= channel.high + 1e-9
        steps = values / channel.step
        assert np.max(np.abs(steps - np.rint(steps))) < 1e-6 / channel.step + 1e-6


def test_rows_and_stamps_of_the_key_are_those_of_the_file(planted: Drive) -> None:
    _, rows = table(planted)
    assert len(rows) == planted.key["rows"]
    kept = planted.log.true[planted.log.kept]
    for event in planted.key["events"]:
        if event["first_row"] is None:
            continue
        assert float(rows[event["first_row"]][0]) == pytest.approx(event["log_start"], abs=1e-3)
        assert float(rows[event["last_row"]][0]) == pytest.approx(event["log_end"], abs=1e-3)
        assert kept[event["first_row"]] >= event["start"] - 1e-6
        if event["first_row"] > 0:
            assert kept[event["first_row"] - 1] < event["start"] + 1e-6


def test_what_the_key_says_happened_in_the_truth(several: list[Drive]) -> None:
    """Over several seeds, so that each kind here is met."""
    met: Counter[str] = Counter()
    for drive in several:
        for event in drive.key["events"]:
            size = event["severity"]["value"]
            y = span(drive, event)
            if event["kind"] == "voltage-sag" and size > 0.5:
                before = drive.truth.y[int(event["start"] * 100) - 1, s.BATTERY]
                assert y[-1, s.BATTERY] < before - 0.4 * size
            elif event["kind"] == "oil-starved" and size > 40:
                before = drive.truth.y[int(event["start"] * 100) - 1, s.P_OIL]
                assert y[:, s.P_OIL].min() / 1e3 < before / 1e3 - 0.5 * size
            elif event["kind"].startswith("knock"):
                place = slice(s.RETARD, s.RETARD + 4)
                assert y[:, place].max() >= 0.9 * min(event["set"]["value"], 12)
            elif event["kind"] == "shift-cut":
                taken = y[:, s.SPARK_TABLE] - y[:, s.SPARK]
                assert taken.max() >= event["set"]["value"] - 0.5
            elif event["kind"] == "rail-sag" and size > 15:
                rail = (y[:, s.P_RAIL] - y[:, s.P_M]) / 1e3
                assert rail.min() < drive.truth.car.rail / 1e3 - 0.7 * size
            elif event["kind"] == "overshoot" and event["set"]["value"] > 10e3:
                tail = span(drive, event, 0.5)
                assert (tail[:, s.P_M] - tail[:, s.TARGET]).max() > 0.5e3 * size
            else:
                continue
            met[event["kind"]] += 1
    assert len(met) >= 4
    assert sum(met.values()) >= 15


def test_clock_faults_are_in_the_stamps(several: list[Drive]) -> None:
    met: Counter[str] = Counter()
    for drive in several:
        stamps = np.array([float(row[0]) for row in table(drive)[1]])
        for event in drive.key["events"]:
            if not event["can_be_seen"] or event["first_row"] is None:
                continue
            near = np.diff(stamps[max(event["first_row"] - 3, 0) : event["last_row"] + 4])
            if event["kind"] == "clock-gap":
                assert near.max() > 0.9 * (event["end"] - event["start"])
            elif event["kind"] == "clock-repeats":
                assert near.min() == pytest.approx(0.0, abs=1e-9)
            elif event["kind"] == "clock-jump-back":
                assert near.min() < 0.0
            else:
                continue
            met[event["kind"]] += 1
    assert set(met) == {"clock-gap", "clock-repeats", "clock-jump-back"}


def test_an_event_without_its_channel_cannot_be_seen(several: list[Drive]) -> None:
    gone = 0
    for drive in several:
        absent = {channel.key for channel in drive.logger.absent}
        for event in drive.key["events"]:
            shown = {sight["channel"] for sight in event["shown_by"]}
            if shown and shown <= absent:
                gone += 1
                assert not event["can_be_seen"]
                assert "no channel" in event["why_not"]
    if gone == 0:
        pytest.fail("no seed here lacks the channels of one of its events; choose other seeds")


@check(
    "limit",
    note="effect over hypot(noise / sqrt(n), scatter): less noise, clearer; none at all with huge noise",
)
def test_sight_follows_the_noise(planted: Drive) -> None:
    truth = planted.truth
    from tools.drives import kinds

    index = next(
        i
        for i in range(len(truth.events))
        if not np.isnan(truth.began[i])
        and int(truth.events[i, s.KIND]) in (kinds.OVERSHOOT, kinds.CREEP, kinds.GATE_OPEN, kinds.CHARGE_LEAK)
    )
    pair = without(
        index,
        truth.y,
        truth.car,
        truth.plan,
        truth.events,
        truth.rough,
        truth.began,
        truth.ended,
        truth.snaps,
    )
    before = pair[0][:, s.TIME] < truth.began[index]
    np.testing.assert_array_equal(pair[0][before], pair[1][before])
    channel = next(c for c in planted.logger.present if c.key == "map")
    found = []
    for noise in (0.01, 1.0, 1000.0):
        sight = compare(replace(channel, noise=noise), *pair, truth.car, planted.log, slip=False)
        by_hand = sight.effect / math.hypot(
            math.hypot(noise, 0.1 / math.sqrt(12)) / math.sqrt(max(sight.readings, 1)), 1.5
        )
        assert sight.ratio == pytest.approx(min(by_hand, 999.0), rel=1e-9)
        found.append(sight.ratio)
    assert found[0] > found[1] > found[2]
    assert found[2] < CLEAR


def test_without_an_event_nothing_differs(planted: Drive) -> None:
    """An event of no strength plays the same drive on, so the difference is nothing but the event."""
    truth = planted.truth
    index = int(np.flatnonzero(~np.isnan(truth.began))[3])
    events = truth.events.copy()
    events[index, s.KIND] = 0
    from tools.drives.engine import EVERY, run

    out = np.zeros((402, s.STATES))
    b, e = truth.began.copy(), truth.ended.copy()
    start = truth.began[index]
    b[b >= start] = np.nan
    e[e >= start] = np.nan
    run(
        truth.snaps[index].copy(),
        truth.car,
        truth.plan,
        events,
        truth.rough,
        out,
        b,
        e,
        np.zeros_like(truth.snaps),
        4000,
        -1,
    )
    _, no_event = without(
        index,
        truth.y,
        truth.car,
        truth.plan,
        truth.events,
        truth.rough,
        truth.began,
        truth.ended,
        truth.snaps,
    )
    lead = no_event[no_event[:, s.TIME] >= start][:60]
    first = np.flatnonzero(np.abs(out[:, s.TIME] - lead[0, s.TIME]) < 1e-6)[0]
    assert EVERY == 10
    np.testing.assert_array_equal(out[first : first + len(lead)], lead)


def test_runs_of_equal_readings() -> None:
    assert longest_run(np.array([1, 1, 2, 2, 2, 3])) == 3
    assert longest_run(np.array([])) == 0


def test_a_slower_channel_repeats_or_stays_empty(clean: Drive) -> None:
    rng = np.random.default_rng(5)
    every = channels(rng, clean.truth.car)
    for holds in (True, False):
        logger = replace(choose_logger(rng, every, rate=50.0), holds=holds, present=every, absent=())
        log = write_down(clean.truth.y[:6000], clean.truth.car, logger, [], rng)
        drive = Drive(clean.truth, logger, log, [], clean.key)
        heads, rows = table(drive)
        column = [row[heads.index("coolant (degC)")] for row in rows]
        assert (column.count("") > 0.9 * len(rows)) is (not holds)


def test_files_and_command(tmp_path: Path, clean: Drive) -> None:
    log, key = write_drive(clean, tmp_path)
    assert (log.name, key.name) == ("clean_3.csv", "clean_3.key.json")
    assert json.loads(key.read_text())["rows"] == len(log.read_text().splitlines()) - 1
    command = [sys.executable, "-m", "tools.drives"]
    done = subprocess.run(
        [*command, str(BUILD), "--seed", "2", "--minutes", "3", "--clean", "--out", str(tmp_path)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=600,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "clean_2.csv").exists()
    for wrong, word in (([str(BUILD), "--minutes", "5"], "25"), (["missing.toml"], "missing.toml")):
        done = subprocess.run(
            [*command, *wrong], cwd=ROOT, capture_output=True, text=True, timeout=600, check=False
        )
        assert done.returncode == 2
        assert word in done.stderr
        assert "Traceback" not in done.stderr
