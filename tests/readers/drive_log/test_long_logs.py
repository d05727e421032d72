"""Text logs with one row for each reading."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from boostwright.readers.drive_log import open_log
from tests.readers.drive_log.made import HEADS, KEYS, SI, cells, drive, put, rounded
from tests.readers.drive_log.test_text_logs import agrees

WRITTEN = rounded(drive())
TEXT = cells(drive())
NAMES = [n for n in HEADS if n != "time"]


@pytest.mark.parametrize(
    ("head", "separator", "with_unit"),
    [
        ("time,name,value,unit", ",", True),
        ("Zeit;Kanal;Wert;Einheit", ";", True),
        ("timestamp\tsignal\tvalue", "\t", False),
        ("", ",", False),
    ],
)
def test_readings_of_one_moment_share_its_stamp(
    tmp_path: Path, head: str, separator: str, with_unit: bool
) -> None:
    lines = [head] if head else []
    for i, t in enumerate(TEXT["time"]):
        for n in NAMES:
            name, unit = HEADS[n]
            name = name if with_unit or not unit else f"{name} ({unit})"
            lines.append(separator.join([t, name, TEXT[n][i], *([unit] if with_unit else [])]))
    found = open_log(put(tmp_path, "\n".join(lines) + "\n")).read()
    for name in NAMES:
        channel = found.find(KEYS[name])
        assert channel is not None, name
        np.testing.assert_allclose(channel.value, SI[name](WRITTEN[name]), err_msg=name)
    np.testing.assert_allclose(found.clocks[0].stamp, WRITTEN["time"])
    np.testing.assert_array_equal(found.clocks[0].row, np.arange(len(WRITTEN["time"])) * len(NAMES))


def test_each_reading_with_its_own_stamp(tmp_path: Path) -> None:
    lines = ["time [s];name;value"]
    for i in range(len(TEXT["time"])):
        for k, n in enumerate(NAMES):
            if n in ("clt", "iat") and i % 5:
                continue
            lines.append(f"{WRITTEN['time'][i] + 0.003 * k:.3f};{HEADS[n][0]} [{HEADS[n][1]}];{TEXT[n][i]}")
    found = open_log(put(tmp_path, "\n".join(lines) + "\n")).read()
    for k, name in enumerate(NAMES):
        channel = found.find(KEYS[name])
        assert channel is not None, name
        step = 5 if name in ("clt", "iat") else 1
        np.testing.assert_allclose(channel.value, SI[name](WRITTEN[name])[::step])
        np.testing.assert_allclose(
            found.clocks[channel.clock].stamp, WRITTEN["time"][::step] + 0.003 * k, atol=1e-9
        )


def test_a_wide_table_with_a_column_of_words_is_no_long_one(tmp_path: Path) -> None:
    lines = ["Time [s],Name,Engine Speed [rpm],Manifold Absolute Pressure [kPa],Value"]
    for i, t in enumerate(TEXT["time"]):
        lines.append(f"{t},{('idle', 'drive')[i % 2]},{TEXT['rpm'][i]},{TEXT['map'][i]},3.5")
    agrees(open_log(put(tmp_path, "\n".join(lines) + "\n")).read(), ("rpm", "map"))
