"""A folder named as a log is told as a folder."""

from __future__ import annotations

from pathlib import Path

import pytest

from boostwright.readers.drive_log.opening import LogRefused, _source


def test_a_folder_is_called_one(tmp_path: Path) -> None:
    with pytest.raises(LogRefused, match="is a folder"):
        _source(tmp_path, {})
    with pytest.raises(LogRefused, match=r"there is no file none\.csv"):
        _source(tmp_path / "none.csv", {})
