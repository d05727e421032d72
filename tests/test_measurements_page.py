"""docs/readings.md carries the catalogue as it is."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def test_the_page_is_current() -> None:
    """docs/readings.md is what tools/make_measurements_page.py writes."""
    tool = ROOT / "tools" / "make_measurements_page.py"
    command = [sys.executable, str(tool), "--check"]
    done = subprocess.run(command, capture_output=True, timeout=120, check=False)
    assert done.returncode == 0, "run: .venv/bin/python tools/make_measurements_page.py"
