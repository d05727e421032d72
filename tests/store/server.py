"""A PostgreSQL server of our own for the tests: in a folder of its own, on a free port, gone when they end,
and when they are killed.
"""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

__all__ = ["NO_SERVER", "programs", "running_server"]

NO_SERVER = (
    "no PostgreSQL server: install Debian's package 'postgresql', or name one that may be written to in"
    " BOOSTWRIGHT_TEST_POSTGRES"
)
_PEOPLE = ("postgres", "nobody")  # a server does not run as root


def programs() -> Path | None:
    """The folder of the newest server's programs; None where none is installed."""
    folders = [Path(found).parent for found in (shutil.which("initdb"),) if found]
    folders += sorted(
        (p.parent for p in Path("/usr/lib/postgresql").glob("*/bin/initdb")),
        key=lambda p: float(p.parent.name),
        reverse=True,
    )
    return next((f for f in folders if (f / "initdb").exists() and (f / "postgres").exists()), None)


def _person() -> str | None:
    """Whom to run it as: oneself, unless that is root."""
    if os.geteuid() != 0:
        return None
    known = {one.pw_name for one in pwd.getpwall()}
    return next(name for name in _PEOPLE if name in known)


def _free_port() -> int:
    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        return int(asked.getsockname()[1])


@contextmanager
def running_server(bin_folder: Path) -> Iterator[str]:
    """The URL of a fresh server that keeps what it has committed, as a workshop's would."""
    person, port = _person(), _free_port()
    folder = Path(tempfile.mkdtemp(prefix="boostwright-postgres-"))
    data, log = folder / "data", folder / "log"
    control = (str(bin_folder / "pg_ctl"), "-D", str(data), "-w")
    watch = [sys.executable, "-IS", str(Path(__file__).with_name("watch.py")), person or "", str(folder)]
    watcher = subprocess.Popen(
        [*watch, *control, "-m", "immediate", "stop"], stdin=subprocess.PIPE, start_new_session=True
    )
    try:
        folder.chmod(0o755)
        data.mkdir()
        log.touch()
        if person is not None:
            for path in (data, log):
                shutil.chown(path, person)

        def run(*command: str) -> None:
            done = subprocess.run(
                command, user=person, cwd=folder, capture_output=True, text=True, timeout=120
            )
            if done.returncode != 0:
                told = log.read_text(encoding="utf-8", errors="replace")[-2000:]
                raise RuntimeError(f"{command[0]} ended with {done.returncode}: {done.stderr}\n{told}")

        data.chmod(0o700)
        run(
            str(bin_folder / "initdb"), "-D", str(data), "-U", "boostwright", "-A", "trust", "-E", "UTF8",
            "--locale=C", "--no-sync",
        )  # fmt: skip
        options = f"-p {port} -c listen_addresses=127.0.0.1 -c unix_socket_directories='' -c fsync=on"
        run(*control, "-l", str(log), "-o", options, "start")
        yield f"postgresql://boostwright@127.0.0.1:{port}/postgres"
    finally:
        watcher.communicate(timeout=120)  # lets go of the pipe, upon which the watcher stops and clears
