"""The example scripts run, as they stand, in a process of their own."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

EXAMPLES = sorted((Path(__file__).resolve().parents[2] / "examples").glob("*.py"))


@pytest.mark.parametrize("script", EXAMPLES, ids=lambda p: p.stem)
def test_it_runs(script: Path, tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, str(script)], capture_output=True, text=True, cwd=tmp_path, timeout=300
    )
    assert done.returncode == 0, done.stderr
    assert "N m before" in done.stdout
    assert done.stderr == ""


def test_there_is_one() -> None:
    assert EXAMPLES
