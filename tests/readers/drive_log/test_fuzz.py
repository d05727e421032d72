"""Damaged logs: whatever the bytes, the reader answers with a recording or a refusal, and soon.

tools/fuzz_logs.py makes the files and runs as many as wanted by hand.
"""

from __future__ import annotations

import contextlib
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from boostwright.errors import LogRefused
from boostwright.readers.drive_log import Channel, Clock, Recording, open_log
from tests.readers.drive_log.made import put
from tools import fuzz_logs as fuzz

BLOCKS, SIZE = 8, 200  # and 400 of hypothesis below: 2,000


@pytest.mark.parametrize("block", range(BLOCKS))
def test_damaged_files(block: int) -> None:
    tally = fuzz.run(10_000_000 + block * SIZE, SIZE)
    assert not tally.failures, tally.failures[:5]
    assert sum(tally.counts.values()) == SIZE
    assert tally.counts["read"] > SIZE / 5  # both ways are walked
    assert tally.counts["refused"] > SIZE / 20


CELL = st.one_of(
    st.floats(allow_nan=True, allow_infinity=True).map(repr),
    st.integers(-(10**20), 10**20).map(str),
    st.sampled_from(
        ["", "-", "NaN", "1,5", "1.234,5", "12:30:01.5", "2026-02-30", "ON", "98.2 kPa", '"', "°", "1e400"]
    ),
    st.text(max_size=6),
)
HEADING = st.one_of(
    st.sampled_from(
        ["Time", "Zeit [s]", "RPM", "MAP [kPa]", "Lambda", "AFR", "name", "value", "unit", "Datum", ""]
    ),
    st.text(max_size=12),
)


@st.composite
def tables(draw: Any) -> str:
    width = draw(st.integers(1, 6))
    mark = draw(st.sampled_from([",", ";", "\t", "|", " "]))
    heads = draw(st.lists(HEADING, min_size=width, max_size=width))
    rows = draw(st.lists(st.lists(CELL, min_size=0, max_size=width + 2), min_size=0, max_size=12))
    counted = draw(st.booleans())
    lines = [mark.join(heads)]
    lines += [mark.join([str(k / 10), *row] if counted else row) for k, row in enumerate(rows)]
    return draw(st.sampled_from(["\n", "\r\n", "\r"])).join(lines)


@settings(max_examples=400, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(tables())
def test_tables_of_strange_cells(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    path = tmp_path_factory.getbasetemp() / "strange.csv"
    assert fuzz.judge(text.encode("utf-8", "replace"), path)[0] in ("read", "refused"), fuzz.judge(
        text.encode("utf-8", "replace"), path
    )


def test_the_judge_sees_what_must_not_happen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def answer(error: Exception) -> Any:
        def opened(path: Path) -> Any:
            raise error

        return opened

    path = tmp_path / "x.csv"
    for error in (KeyError("x"), RecursionError(), LogRefused("", "so", "Do it."), LogRefused("x", "so", "")):
        monkeypatch.setattr(fuzz, "open_log", answer(error))
        assert fuzz.judge(b"", path)[0] == "failed"
    monkeypatch.setattr(fuzz, "open_log", answer(LogRefused("x", "so", "Do it.")))
    assert fuzz.judge(b"", path)[0] == "refused"

    stamps, rows, good = np.arange(3.0), np.arange(3), np.ones(3)
    clock = Clock(stamps, rows)
    channel = Channel("throttle", good, 0, "TPS", "%", True, 0.9)
    assert fuzz.trouble_with(Recording("x", (clock,), (channel,))) == ""
    for wrong in (
        channel._replace(key="thrust"),
        channel._replace(clock=1),
        channel._replace(value=np.ones(2)),
        channel._replace(value=np.array([1.0, np.inf, 1.0])),
        channel._replace(confidence=0.0),
    ):
        assert fuzz.trouble_with(Recording("x", (clock,), (wrong,)))
    assert fuzz.trouble_with(Recording("x", (Clock(stamps, rows[::-1]),), ()))
    assert fuzz.trouble_with(Recording("x", (Clock(np.array([0.0, np.inf, 1.0]), rows),), ()))


PATHOLOGICAL = {
    "one endless line": b"time,rpm," + b"1," * 2_000_000,
    "only separators": b";" * 300_000 + b"\n" + b";" * 300_000,
    "many columns": b",".join(b"c%d" % k for k in range(3000)) + b"\n" + (b"1," * 2999 + b"2\n") * 20,
    "open quotes": b'time [s],"rpm\n' + b'"1,2\n' * 30_000,
    "tables that change with every row": b"time,rpm\n0,1\n0,1\n" + b"time,rpm\n1,2\ntime,map\n1,2\n" * 4000,
    "a heading in every second row": b"time,rpm,map\n" + b"0.1,900,40\ntime,rpm,map\n" * 20_000,
    "other words in every cell": b"time,rpm,map\n"
    + b"".join(b"%d,x%d,y%d\n" % (k, k, k) for k in range(60_000)),
    "long numbers": b"time,rpm\n" + b"".join(b"%d,%s\n" % (k, b"1" * 3000) for k in range(600)),
    "many names": b"time,name,value\n" + b"".join(b"%d,n%d,%d\n" % (k // 50, k, k) for k in range(40_000)),
}


@pytest.mark.parametrize("name", PATHOLOGICAL)
def test_nothing_takes_long(tmp_path: Path, name: str) -> None:
    path = put(tmp_path, PATHOLOGICAL[name])
    began = time.process_time()
    with contextlib.suppress(LogRefused):
        open_log(path).read()
    assert time.process_time() - began < fuzz.SLOW
