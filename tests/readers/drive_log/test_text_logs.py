"""Text logs of any habit: what was written down comes back, in SI, with the right quantity and clock."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from boostwright.readers.drive_log import Recording, open_log
from tests.readers.drive_log.made import KEYS, SI, cells, drive, put, rounded, table

DRIVE = drive()
WRITTEN = rounded(DRIVE)
TEXT = cells(DRIVE)


def agrees(found: Recording, names: tuple[str, ...] = tuple(KEYS), rows: slice = slice(None)) -> None:
    """Every channel holds what was written down, upon the written clock."""
    for name in names:
        channel = found.find(KEYS[name])
        assert channel is not None, (name, [c.key for c in found.channels])
        np.testing.assert_allclose(
            channel.value, SI[name](WRITTEN[name])[rows], rtol=1e-9, atol=1e-9, err_msg=name
        )
        assert channel.confidence >= 0.6
    np.testing.assert_allclose(found.clocks[0].stamp, WRITTEN["time"][rows], atol=1e-6)
    np.testing.assert_array_equal(found.clocks[0].row, np.arange(len(WRITTEN["time"]))[rows])


HABITS = {
    "comma": {},
    "semicolon and decimal comma": {"separator": ";", "decimal": ","},
    "tab": {"separator": "\t"},
    "tab and decimal comma": {"separator": "\t", "decimal": ","},
    "pipe": {"separator": "|"},
    "unit row": {"unit_row": True},
    "unit row, semicolon": {"unit_row": True, "separator": ";", "decimal": ","},
    "carriage return and line feed": {"end": "\r\n"},
    "carriage return alone": {"end": "\r"},
    "trailing separators": {"trailing": True},
    "lines above": {"above": "Recorder;Bench seven\nDriver;somebody\nRate;10\n\n", "separator": ";"},
    "cells above": {"above": "car,red one,date,2026-05-04\nnote,,,\n"},
    "remarks above": {"above": "# made by hand\n# 10 rows a second\n"},
    "told separator": {"above": "sep=;\n", "separator": ";"},
}


@pytest.mark.parametrize("habit", HABITS)
def test_habits_of_layout(tmp_path: Path, habit: str) -> None:
    agrees(open_log(put(tmp_path, table(TEXT, **HABITS[habit]))).read())


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "latin-1", "cp1252", "utf-16", "utf-16-le", "utf-16-be"]
)
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_encodings(tmp_path: Path, encoding: str, end: str) -> None:
    agrees(open_log(put(tmp_path, table(TEXT, end=end, separator=";"), encoding=encoding)).read())
