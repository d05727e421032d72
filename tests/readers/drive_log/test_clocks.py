"""Clocks of any habit: elapsed, epoch, of the day, with dates, over midnight, several in one file."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path

import numpy as np
import pytest

from boostwright.errors import LogRefused
from boostwright.readers.drive_log import Mapping, open_log
from tests.readers.drive_log.made import HEADS, KEYS, SI, cells, drive, put, rounded, table
from tests.readers.drive_log.test_text_logs import agrees

DRIVE = drive()
WRITTEN = rounded(DRIVE)
TEXT = cells(DRIVE)
HEAD = {n: f"{h} [{u}]" if u else h for n, (h, u) in HEADS.items()}
EAST = dt.timezone(dt.timedelta(hours=2))
START = dt.datetime(2026, 5, 4, 13, 5, 22, 120_000, tzinfo=dt.UTC)


def moments(start: dt.datetime = START) -> list[dt.datetime]:
    return [start + dt.timedelta(seconds=float(t)) for t in WRITTEN["time"]]


def clock(form: str, start: dt.datetime = START) -> list[str]:
    return [m.strftime(form)[: -3 if form.endswith("%f") else None] for m in moments(start)]


@pytest.mark.parametrize(
    ("heading", "column"),
    [
        ("Time (ms)", [f"{t * 1e3:.0f}" for t in WRITTEN["time"]]),
        ("time_ms", [f"{t * 1e3:.0f}" for t in WRITTEN["time"]]),
        ("Time", [f"{t * 1e3:.0f}" for t in WRITTEN["time"]]),
        ("timestamp_us", [f"{t * 1e6:.0f}" for t in WRITTEN["time"]]),
        ("Time", [f"{t * 1e6:.0f}" for t in WRITTEN["time"]]),
        ("Time [min]", [f"{t / 60:.9f}" for t in WRITTEN["time"]]),
        ("Zeit [s]", TEXT["time"]),
        ("Temps (s)", TEXT["time"]),
        ("Tiempo_s", TEXT["time"]),
        ("Elapsed", [f"{int(t // 60)}:{t % 60:05.2f}" for t in WRITTEN["time"]]),
        ("Elapsed", [f"{int(t // 60):02d}:{t % 60:06.3f}" for t in WRITTEN["time"]]),
        ("Time", [f"00:{int(t // 60):02d}:{t % 60:06.3f}" for t in WRITTEN["time"]]),
    ],
)
def test_elapsed_time(tmp_path: Path, heading: str, column: list[str]) -> None:
    found = open_log(
        put(tmp_path, table(dict(TEXT) | {"time": column}, heads=HEAD | {"time": heading}))
    ).read()
    assert math.isnan(found.clocks[0].start)
    agrees(found)


@pytest.mark.parametrize(
    ("heading", "column"),
    [
        ("Timestamp", [f"{m.timestamp():.3f}" for m in moments()]),
        ("Timestamp", [f"{m.timestamp() * 1e3:.0f}" for m in moments()]),
        ("time", [f"{m.timestamp() * 1e6:.0f}" for m in moments()]),
        ("epoch ns", [f"{round(m.timestamp() * 1e3)}000000" for m in moments()]),
        ("Time", [m.isoformat(timespec="milliseconds") for m in moments()]),
        ("Time", clock("%Y-%m-%dT%H:%M:%S.%f")),
        ("Time", [t + "Z" for t in clock("%Y-%m-%dT%H:%M:%S.%f")]),
        ("Date/Time", clock("%Y-%m-%d %H:%M:%S.%f")),
        ("Datum/Uhrzeit", clock("%d.%m.%Y %H:%M:%S.%f")),
        ("DateTime", clock("%m/%d/%Y %H:%M:%S.%f", START.replace(day=24))),
        ("DateTime", clock("%d-%b-%Y %H:%M:%S.%f")),
        ("Time", [m.isoformat(timespec="milliseconds") for m in moments(START.astimezone(EAST))]),
    ],
)
def test_clocks_with_a_date(tmp_path: Path, heading: str, column: list[str]) -> None:
    found = open_log(
        put(tmp_path, table(dict(TEXT) | {"time": column}, heads=HEAD | {"time": heading}))
    ).read()
    agrees(found)
    mapping = open_log(tmp_path / "drive.csv").mapping
    assert Mapping.from_json(mapping.to_json()) == mapping
    day = 24 if "/" in column[0] else 4
    assert found.clocks[0].start == pytest.approx(START.replace(day=day).timestamp(), abs=2e-3)


def test_a_clock_over_midnight(tmp_path: Path) -> None:
    late = dt.datetime(2026, 5, 4, 23, 59, 1, tzinfo=dt.UTC)
    found = open_log(
        put(
            tmp_path,
            table(dict(TEXT) | {"time": clock("%H:%M:%S.%f", late)}, heads=HEAD | {"time": "Uhrzeit"}),
        )
    ).read()
    agrees(found)
    assert found.clocks[0].start == pytest.approx(23 * 3600 + 59 * 60 + 1)


def test_date_and_time_in_two_columns(tmp_path: Path) -> None:
    texts = {"date": clock("%d.%m.%Y"), **TEXT, "time": clock("%H:%M:%S.%f")}
    found = open_log(
        put(tmp_path, table(texts, heads=HEAD | {"date": "Datum", "time": "Zeit"}, separator=";"))
    ).read()
    agrees(found)
    assert found.clocks[0].start == pytest.approx(START.timestamp())


def test_clock_in_twelve_hours(tmp_path: Path) -> None:
    column = [f"{m.strftime('%I:%M:%S')}.{m.microsecond // 1000:03d} {m.strftime('%p')}" for m in moments()]
    found = open_log(
        put(tmp_path, table(dict(TEXT) | {"time": column}, heads=HEAD | {"time": "Clock"}))
    ).read()
    agrees(found)
    assert found.clocks[0].start == pytest.approx(13 * 3600 + 5 * 60 + 22.12)


def test_broken_stamps_are_handed_on_as_they_are(tmp_path: Path) -> None:
    stamps = WRITTEN["time"].copy()
    stamps[300:] -= 7.0  # jumps back
    stamps[600:] += 40.0  # a gap
    stamps[701:705] = stamps[700]  # stands still
    column = [f"{t:.2f}" for t in stamps]
    column[900] = "?"
    found = open_log(put(tmp_path, table(dict(TEXT) | {"time": column}, heads=HEAD))).read()
    want = stamps.copy()
    want[900] = math.nan
    np.testing.assert_allclose(found.clocks[0].stamp, want, atol=1e-9)


def test_groups_of_columns_with_their_own_clocks(tmp_path: Path) -> None:
    slow = np.arange(0, len(WRITTEN["time"]), 5)
    lines = ["Time [s],Engine Speed [rpm],Throttle [%],,Time [s],Coolant Temp [°C],Battery [V]"]
    for i in range(len(WRITTEN["time"])):
        left = [TEXT["time"][i], TEXT["rpm"][i], TEXT["tps"][i]]
        right = ["", "", ""]
        if i < len(slow):
            j = slow[i]
            right = [f"{WRITTEN['time'][j] + 0.03:.2f}", TEXT["clt"][j], TEXT["battery"][j]]
        lines.append(",".join([*left, "", *right]))
    found = open_log(put(tmp_path, "\n".join(lines) + "\n")).read()
    assert len(found.clocks) == 2
    coolant, speed = found.find("coolant_temperature"), found.find("engine_speed")
    assert coolant is not None
    assert speed is not None
    np.testing.assert_allclose(found.clocks[speed.clock].stamp, WRITTEN["time"], atol=1e-9)
    np.testing.assert_allclose(found.clocks[coolant.clock].stamp, WRITTEN["time"][slow] + 0.03, atol=1e-9)
    np.testing.assert_allclose(coolant.value, SI["clt"](WRITTEN["clt"][slow]))


def test_tables_below_each_other(tmp_path: Path) -> None:
    fast = {k: TEXT[k] for k in ("time", "rpm", "map", "tps", "lambda", "spark")}
    slow = {k: TEXT[k][::10] for k in ("time", "clt", "iat", "battery", "speed")}
    text = table(fast) + "\nSecond device\n" + table(slow, unit_row=True)
    found = open_log(put(tmp_path, text)).read()
    assert len(found.clocks) == 2
    assert {c.key for c in found.channels} == set(KEYS.values())
    for name in ("rpm", "map", "clt", "speed"):
        channel = found.find(KEYS[name])
        assert channel is not None
        step = 1 if name in fast else 10
        np.testing.assert_allclose(channel.value, SI[name](WRITTEN[name])[::step])
        np.testing.assert_allclose(found.clocks[channel.clock].stamp, WRITTEN["time"][::step])
    assert found.clocks[1].row[0] == len(WRITTEN["time"])


def test_without_a_clock_the_rate_of_the_file_counts(tmp_path: Path) -> None:
    texts = {k: v for k, v in TEXT.items() if k != "time"}
    agrees(open_log(put(tmp_path, table(texts, above="Sample rate: 10 Hz\n"))).read())
    with pytest.raises(LogRefused, match="clock"):
        open_log(put(tmp_path, table(texts), name="none.csv"))


def test_a_clock_whose_unit_nobody_says_is_asked(tmp_path: Path) -> None:
    column = [f"{2 * i}" for i in range(len(WRITTEN["time"]))]
    path = put(tmp_path, table(dict(TEXT) | {"time": column}, heads=HEAD | {"time": "Time"}))
    log = open_log(path)
    (question,) = log.questions
    assert (question.heading, {c.unit for c in question.candidates}) == ("Time", {"s", "ms", "min"})
    answered = open_log(path, mapping=log.mapping.answered("Time", "time", "ms"))
    assert answered.questions == ()
    np.testing.assert_allclose(answered.read().clocks[0].stamp, 0.002 * np.arange(len(column)))
    with pytest.raises(LogRefused, match="no unit of time"):
        log.mapping.answered("Time", "time", "kPa")


def test_another_time_in_the_middle_is_no_second_clock(tmp_path: Path) -> None:
    lap = [f"{t % 40.0:.2f}" for t in WRITTEN["time"]]
    order = {k: v for n in TEXT for k, v in ((n, TEXT[n]), *((("lap", lap),) if n == "tps" else ()))}
    found = open_log(put(tmp_path, table(order, heads=HEAD | {"lap": "Lap time [s]"}))).read()
    assert len(found.clocks) == 1
    agrees(found)


def test_an_index_without_a_heading_is_not_the_clock(tmp_path: Path) -> None:
    order = {"index": [str(i) for i in range(len(WRITTEN["time"]))], **TEXT}
    agrees(open_log(put(tmp_path, table(order, heads=HEAD | {"index": ""}))).read())


def test_rows_that_sum_up_are_no_readings(tmp_path: Path) -> None:
    lines = table(TEXT).split("\n")
    lines[-1:] = ["Max,9000,250.0,100.0,5.000,140.0,140.0,300.0,60.0,18.00", "Mean" + ",1.0" * 9, ""]
    agrees(open_log(put(tmp_path, "\n".join(lines))).read())


def test_the_time_between_rows_above_the_table_counts(tmp_path: Path) -> None:
    texts = {k: v for k, v in TEXT.items() if k != "time"}
    agrees(open_log(put(tmp_path, table(texts, above="Interval: 100 ms\n"))).read())


def test_a_date_beside_elapsed_time_says_when_it_began(tmp_path: Path) -> None:
    texts = {"date": clock("%Y-%m-%d"), "clock": clock("%H:%M:%S.%f"), **TEXT}
    found = open_log(put(tmp_path, table(texts, heads=HEAD | {"date": "Date", "clock": "Clock"}))).read()
    agrees(found)
    assert found.clocks[0].start == pytest.approx(START.timestamp())
