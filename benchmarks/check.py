"""Times of whole jobs: `boostwright check` as a process, the baseline, the match.

    python benchmarks/check.py                    everything, some minutes
    python benchmarks/check.py process            only that part; parts: process, lines
    python benchmarks/check.py --json FILE        also write the figures there

The first run is given a cache folder of its own, empty, so that everything is compiled; the warm runs use
that same folder. A process is measured by its own CPU time and by the wall; what a person waits is the wall.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from common import ROOT, Report, Row, Time, arguments, best_time

sys.path.insert(0, str(ROOT))

from boostwright import verbs
from boostwright.systems.engine.baseline import baseline
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.defaults import four_valve_two_litre
from boostwright.systems.engine.types import BurnLaw, Fuel
from boostwright.systems.match import MatchSettings, match
from boostwright.systems.stated.engine import engine_of, factors_of, fuel_of
from boostwright.systems.stated.place import ambient_of
from boostwright.systems.stated.turbo import turbo_of

PARTS = ("process", "lines")
RPM = np.pi / 30.0
COMMAND = Path(sys.executable).with_name("boostwright")
ANSWERS = (0, 1, 3)  # a verdict, whichever
FIRST, WARM, PLOTS = 240.0, 3.0, 10.0  # targets [s]


def process(arguments: list[str], cache: Path) -> Time:
    """Run the program once; its CPU time with that of its children, and the wall's."""
    environment = {**os.environ, "XDG_CACHE_HOME": str(cache), "MPLCONFIGDIR": str(cache / "matplotlib")}
    environment.pop("NUMBA_CACHE_DIR", None)
    before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    done = subprocess.run(
        [str(COMMAND), *arguments], env=environment, capture_output=True, text=True, check=False
    )
    wall, after = time.perf_counter() - began, resource.getrusage(resource.RUSAGE_CHILDREN)
    if done.returncode not in ANSWERS:
        raise SystemExit(f"boostwright {' '.join(arguments)} ended with {done.returncode}:\n{done.stderr}")
    return Time(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, wall)


def best(times: list[Time]) -> Time:
    """The best of each clock."""
    return Time(min(t.cpu for t in times), min(t.wall for t in times))


def time_process(report: Report) -> None:
    """First run, warm run, warm run with plots."""
    report.title("`boostwright check` on the sound demo build; the target is for the wall")

    def add(name: str, taken: Time, target: float) -> None:
        report.add(Row(f"{name}: wall", taken.wall, "s", target=target, note=f"cpu {taken.cpu:.2f} s"))

    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        file = place / "sound.toml"
        for name, text in verbs.demo_files("sound").items():
            (place / name).write_text(text, encoding="utf-8")
        cache = place / "cache"
        cache.mkdir()
        add("first run on an empty cache", process(["check", str(file)], cache), FIRST)
        nothing = best([process(["--version"], cache) for _ in range(5)])
        report.add(Row("`boostwright --version`: wall", nothing.wall, "s", note=f"cpu {nothing.cpu:.2f} s"))
        add("warm", best([process(["check", str(file)], cache) for _ in range(7)]), WARM)
        out = ["check", str(file), "--out", str(place / "out")]
        process(out, cache)
        add("warm, with plots", best([process(out, cache) for _ in range(4)]), PLOTS)


def time_lines(report: Report) -> None:
    """Baseline and match, in this process, compiled before."""
    report.title("whole lines")
    speeds = np.linspace(1000.0, 6500.0, 12) * RPM
    for law in (BurnLaw.ENTRAINMENT, BurnLaw.WIEBE):
        solver = CycleSolver(four_valve_two_litre(), Fuel(), burn_law=law)
        taken = best_time(lambda s=solver: baseline(s, speeds), rounds=5)
        report.time(f"baseline of 12 speeds, MBT and knock limit ({law.name.lower()})", taken)
    build = verbs.demo_build("sound")
    engine, fuel, ambient, parts = engine_of(build), fuel_of(build), ambient_of(build), turbo_of(build)
    assert parts is not None
    solver = CycleSolver(engine, fuel, factors=factors_of(build))
    boost = build.number("goal.boost")
    for count in (3, 30):
        line = np.linspace(1500.0, 6300.0, count) * RPM
        rounds = 0

        def fixed(line: np.ndarray = line) -> None:
            nonlocal rounds
            settings = MatchSettings(spark=-0.25)
            found = match(engine, fuel, parts, ambient, boost, line, solver.run, settings=settings)
            rounds = int(found.rounds.max())

        taken = best_time(fixed, rounds=4)
        report.time(f"match of {count} speeds, fixed spark", taken, note=f"{rounds} rounds")
    for count in (3, 30):
        line = np.linspace(1500.0, 6300.0, count) * RPM
        kept: list[dict[str, float]] = []

        def whole(line: np.ndarray = line, kept: list[dict[str, float]] = kept) -> None:
            kept.append(verbs.check(build, speeds=line).seconds)

        taken = best_time(whole, rounds=4)
        report.time(f"check of {count} speeds, in this process", taken)
        for stage in kept[0]:
            quick = min(seconds[stage] for seconds in kept)
            report.add(Row(f"  of it: {stage} (wall)", quick * 1e3, "ms"))


def main() -> None:
    """Run the parts that were asked for."""
    parts, report = arguments(__doc__, PARTS)
    for name, work in zip(PARTS, (time_process, time_lines), strict=True):
        if name in parts:
            work(report)
    report.close()


if __name__ == "__main__":
    main()
