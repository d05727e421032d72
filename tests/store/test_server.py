"""The server that the tests start is gone when they are, be it by a signal that no program can catch."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.store.server import NO_SERVER, programs

_STARTS = """
import sys, time
from pathlib import Path
from tests.store.server import running_server
with running_server(Path(sys.argv[1])) as url:
    print(url, flush=True)
    time.sleep(120.0)
"""


def servers(folder: Path) -> list[int]:
    """Processes whose command names that folder."""
    found = []
    for one in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            if str(folder).encode() in one.read_bytes():
                found.append(int(one.parent.name))
        except OSError:
            continue
    return found


@pytest.fixture
def folder() -> Iterator[Path]:
    """One that the server's own person may enter, too."""
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o755)
        yield Path(name)


def test_no_server_stays_behind_when_the_tests_are_killed(folder: Path) -> None:
    found = programs()
    if found is None:
        pytest.skip(NO_SERVER)
    child = subprocess.Popen(
        [sys.executable, "-c", _STARTS, str(found)], stdout=subprocess.PIPE, text=True,
        cwd=Path(__file__).parents[2], env={**os.environ, "TMPDIR": str(folder)},
    )  # fmt: skip
    assert child.stdout is not None
    assert child.stdout.readline().startswith("postgresql://")
    assert servers(folder)
    os.kill(child.pid, signal.SIGKILL)
    child.communicate()
    until = time.monotonic() + 60.0
    while time.monotonic() < until and (servers(folder) or list(folder.iterdir())):
        time.sleep(0.1)
    assert servers(folder) == []
    assert list(folder.iterdir()) == []
