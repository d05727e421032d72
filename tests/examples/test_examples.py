"""The example scripts run, as they stand, in a process of their own."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

EXAMPLES = sorted((Path(__file__).resolve().parents[2] / "examples").glob("*.py"))


SAID = {
    "check_a_build": ("N m before",),
    "from_list_to_ladder": (
        "of 100 runs",
        ": needed on 2026-04-",
        "read ",
        "13.4 V",
        "next on the ladder: ",
        "1 revision, 1 record; photo back: gauge.jpg",
    ),
}  # what each must have printed


@pytest.mark.parametrize("script", EXAMPLES, ids=lambda p: p.stem)
def test_it_runs(script: Path, tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, str(script)], capture_output=True, text=True, cwd=tmp_path, timeout=300
    )
    assert done.returncode == 0, done.stderr
    assert [words for words in SAID[script.stem] if words not in done.stdout] == []
    assert done.stderr == ""


def test_there_is_one() -> None:
    assert {script.stem for script in EXAMPLES} == SAID.keys()
