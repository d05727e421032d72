"""Run every check of the project, all of them even when one fails, and say at the end how each one went.

    .venv/bin/python tools/checks.py             everything, as `make test` does
    .venv/bin/python tools/checks.py lint types  some of it

Ends with 0 only if all held. What could not be run is said; with BOOSTWRIGHT_SKIPS_FAIL=1 that counts as a
failure.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
BIN = Path(sys.executable).parent
PYTEST_FOUND_NO_TESTS = 5


@dataclass(frozen=True)
class Check:
    """One thing to run: its name on the command line, what it sees to, and the command."""

    name: str
    sees_to: str
    command: tuple[str, ...]


def all_checks() -> tuple[Check, ...]:
    """The checks in the order in which they run: quick ones first."""
    python = sys.executable
    return (
        Check("imports", "contracts between rooms", (str(BIN / "lint-imports"), "--no-logo")),
        Check("lint", "ruff", (python, "-m", "ruff", "check", "--quiet", ".")),
        Check("format", "ruff format", (python, "-m", "ruff", "format", "--check", "--quiet", ".")),
        Check(
            "shell", "shellcheck on the scripts", ("shellcheck", "tools/setup.sh", "tools/lock.sh", ".ci/run")
        ),
        Check("types", "mypy, strict, on src", (python, "-m", "mypy", "--no-error-summary")),
        Check("tests", "pytest", (python, "-m", "pytest", "-q", "-n", "2", "--dist", "worksteal")),
    )


def run(check: Check, environment: dict[str, str]) -> str:
    """Run one check with its output on the terminal; return 'holds', 'fails' or 'not run: ...'."""
    print(f"\n=== {check.name}: {check.sees_to}", flush=True)
    if shutil.which(check.command[0]) is None:
        return f"not run: {check.command[0]} is not installed"
    code = subprocess.run(check.command, cwd=ROOT, env=environment, check=False).returncode
    if check.name == "tests" and code == PYTEST_FOUND_NO_TESTS:
        return "fails (no test was found)"
    return "holds" if code == 0 else f"fails (exit {code})"


def main(names: list[str]) -> int:
    """Run the named checks, or all; print the summary; return the exit code."""
    known = {check.name: check for check in all_checks()}
    unknown = [name for name in names if name not in known]
    if unknown:
        print(f"no such check: {', '.join(unknown)}; there are: {', '.join(known)}", file=sys.stderr)
        return 2
    skips_fail = os.environ.get("BOOSTWRIGHT_SKIPS_FAIL", "") not in ("", "0")
    with tempfile.TemporaryDirectory() as folder:
        not_run_file = Path(folder) / "not-run"
        environment = os.environ | {"BOOSTWRIGHT_NOT_RUN_FILE": str(not_run_file)}
        rows: list[tuple[Check, str, float]] = []
        for check in [known[name] for name in names] or list(known.values()):
            begun = time.monotonic()
            rows.append((check, run(check, environment), time.monotonic() - begun))
        not_run = not_run_file.read_text(encoding="utf-8").splitlines() if not_run_file.exists() else []

    print("\n=== summary")
    for check, outcome, seconds in rows:
        print(f"{check.name:8} {outcome:10} {seconds:6.1f} s   {check.sees_to}")
    not_run += [f"{check.name}: {outcome}" for check, outcome, _ in rows if outcome.startswith("not run")]
    print("\nCould not be run:" if not_run else "\nCould not be run: nothing, all of it ran.")
    for line in not_run:
        print(f"  {line}")
    failed = [check.name for check, outcome, _ in rows if outcome.startswith("fails")]
    if failed:
        print(f"Fails: {', '.join(failed)}")
    return 1 if failed or (not_run and skips_fail) else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
