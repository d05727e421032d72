"""What the timed scripts share: taking times, saying on which machine, tables, results as JSON.

    python benchmarks/common.py        says which machine this is

Two clocks are read. CPU time of the process is what the work costs; wall time is what a person waits, and on
a machine that does other things too it tells about those as well. The best of several rounds is kept of each:
everything that disturbs makes a round longer, never shorter. Trust ratios within one run.
"""

from __future__ import annotations

import argparse
import datetime as dt
import gc
import importlib.metadata
import json
import os
import platform
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

__all__ = ["ROOT", "Report", "Row", "Time", "arguments", "best_time", "machine_note"]

ROOT = Path(__file__).resolve().parent.parent
PACKAGES = ("boostwright", "numpy", "numba", "llvmlite", "scipy", "cantera")


class Time(NamedTuple):
    """Seconds for one call, the best round of each clock."""

    cpu: float
    wall: float


def best_time(work: Callable[[], object], rounds: int = 9, least: float = 0.02, warm: bool = True) -> Time:
    """Time of one call of ``work``: best of ``rounds``, each repeated until it lasts ``least`` seconds."""
    if warm:
        work()
    began = time.perf_counter()
    work()
    repeat = max(1, round(least / max(time.perf_counter() - began, 1.0e-7)))
    cpu, wall = [], []
    gc.disable()
    try:
        for _ in range(rounds):
            c, w = time.process_time(), time.perf_counter()
            for _ in range(repeat):
                work()
            wall.append((time.perf_counter() - w) / repeat)
            cpu.append((time.process_time() - c) / repeat)
    finally:
        gc.enable()
    return Time(min(cpu), min(wall))


def _processor() -> str:
    try:
        for line in Path("/proc/cpuinfo").read_text().splitlines():
            if line.startswith("model name"):
                return line.split(":", 1)[1].strip()
    except OSError:
        pass
    return platform.processor() or platform.machine()


def _version(package: str) -> str:
    try:
        return importlib.metadata.version(package)
    except importlib.metadata.PackageNotFoundError:
        return "not installed"


def _commit() -> str:
    command = ["git", "-c", f"safe.directory={ROOT}", "describe", "--always", "--dirty"]
    try:
        return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout.strip()
    except (OSError, subprocess.CalledProcessError):
        return "unknown"


def machine_note() -> dict[str, str]:
    """Which machine, which versions, when, and how busy it was."""
    busy = " ".join(f"{x:.1f}" for x in os.getloadavg()) if hasattr(os, "getloadavg") else "unknown"
    return {
        "date": dt.datetime.now(dt.UTC).strftime("%Y-%m-%d %H:%M UTC"),
        "processor": f"{_processor()}, {os.cpu_count()} cores",
        "system": f"{platform.system()} {platform.machine()}",
        "python": platform.python_version(),
        "packages": ", ".join(f"{p} {_version(p)}" for p in PACKAGES),
        "commit": _commit(),
        "load over 1, 5, 15 minutes": busy,
    }


class Row(NamedTuple):
    """One figure; ``target`` as a limit with its direction, None where there is none."""

    name: str
    value: float
    unit: str
    wall: float | None = None
    target: float | None = None
    at_least: bool = False
    note: str = ""

    @property
    def reached(self) -> bool | None:
        """Whether the target is met; None without one."""
        if self.target is None:
            return None
        return self.value >= self.target if self.at_least else self.value <= self.target

    def line(self) -> str:
        """One line of the table."""
        wall = "" if self.wall is None else f"{self.wall:9.3g}"
        goal, mark = "", ""
        if self.target is not None:
            goal = f"{'>=' if self.at_least else '<='} {self.target:g}"
            mark = "reached" if self.reached else "MISSED"
        start = f"{self.name:58s} {self.value:9.3g} {self.unit:6s}{wall:>9s}"
        return f"{start}  {goal:8s} {mark:8s}{self.note}".rstrip()


class Report:
    """Collects rows, prints each as it comes, and writes all of them at the end."""

    def __init__(self, json_file: Path | None = None) -> None:
        self.json_file = json_file
        self.part = ""
        self.parts: list[str] = []
        self.rows: list[Row] = []
        self.machine = machine_note()
        for key, value in self.machine.items():
            print(f"{key}: {value}")
        print("CPU time, best of several rounds; the column 'wall' has the same by the clock on the wall")

    def title(self, text: str) -> None:
        """Begin a part."""
        self.part = text
        print(f"\n{text}\n{'':58s} {'cpu':>9s} {'':6s}{'wall':>9s}  {'target':8s}", flush=True)

    def say(self, text: str) -> None:
        """A line that is no figure."""
        print(text, flush=True)

    def add(self, row: Row) -> None:
        """Keep a figure and show it."""
        self.rows.append(row)
        self.parts.append(self.part)
        print(row.line(), flush=True)

    def time(self, name: str, taken: Time, per: int = 1, target: float | None = None, note: str = "") -> None:
        """A time in milliseconds, divided by ``per``; ``target`` in ms."""
        self.add(Row(name, taken.cpu * 1e3 / per, "ms", taken.wall * 1e3 / per, target, note=note))

    def close(self) -> None:
        """Say what was missed; write the JSON file."""
        missed = [row for row in self.rows if row.reached is False]
        self.machine["load at the end"] = machine_note()["load over 1, 5, 15 minutes"]
        print(f"\nload at the end: {self.machine['load at the end']}")
        print(f"targets missed: {len(missed)} of {sum(r.target is not None for r in self.rows)}")
        for row in missed:
            print("  " + row.line())
        if self.json_file is not None:
            rows = [
                {"part": part, **row._asdict(), "reached": row.reached}
                for part, row in zip(self.parts, self.rows, strict=True)
            ]
            text = json.dumps({"machine": self.machine, "rows": rows}, indent=1)
            self.json_file.write_text(text + "\n", encoding="utf-8")


def arguments(description: str | None, parts: Sequence[str]) -> tuple[list[str], Report]:
    """Read the command line: which parts, and where to put the JSON."""
    parser = argparse.ArgumentParser(
        description=description, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("parts", nargs="*", metavar="PART", help=f"of: {', '.join(parts)}; all if left out")
    parser.add_argument("--json", type=Path, metavar="FILE", help="also write the figures there")
    given = parser.parse_args()
    unknown = [p for p in given.parts if p not in parts]
    if unknown:
        parser.error(f"there is no part {', '.join(unknown)}; there are: {', '.join(parts)}")
    return given.parts or list(parts), Report(given.json)


if __name__ == "__main__":
    for key, value in machine_note().items():
        print(f"{key}: {value}")
    sys.exit(0)
