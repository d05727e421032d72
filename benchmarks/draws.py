"""Times of a sampled check: draws of the whole match at 12 speeds on the ordinary day and five others.

    python benchmarks/draws.py                    256 draws, some minutes
    python benchmarks/draws.py --draws 64         fewer; the target is for 256
    python benchmarks/draws.py --json FILE        also write the figures there

The build is the sound demo with two more days, and what its fit found is used. The compiled parts are loaded
before the clock starts. The reference is one converged point of the engine cycle, Wiebe burn, as one of 64
computed together, in the same run: what it costs hangs on the machine alone, so CPU time of a draw over it
says how much work a draw is.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from common import ROOT, Row, arguments, best_time

sys.path.insert(0, str(ROOT))

from boostwright import verbs
from boostwright.findings.result import CheckResult
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.defaults import four_valve_two_litre
from boostwright.systems.engine.types import BurnLaw, Fuel, OperatingPoints
from boostwright.trust.run import Draws

RPM = np.pi / 30.0
SPEEDS = np.linspace(1000.0, 6500.0, 12) * RPM
WHOLE, FIRST, DRAWS = 90.0, 3.0, 256  # targets [s], and the draws that the first is for
DAYS = """
[[corners]]
name = "hut above the tree line"
temperature = "-25 degC"
altitude = "2400 m"

[[corners]]
name = "quay in a heat wave"
temperature = "39 degC"
altitude = "5 m"
"""
POINTS = 64


def reference() -> float:
    """CPU time of one converged point of many [s]."""
    solver = CycleSolver(four_valve_two_litre(), Fuel(), burn_law=BurnLaw.WIEBE)
    one = np.ones(POINTS)
    points = OperatingPoints(
        np.linspace(1000.0, 6500.0, POINTS) * RPM,
        98.0e3 * one,
        298.15 * one,
        105.0e3 * one,
        0.88 * one,
        np.radians(-22.0) * one,
    )
    return best_time(lambda: solver.run(points), rounds=5).cpu / POINTS


def children() -> float:
    """CPU time of the processes that have ended [s]."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def main() -> None:
    """Time one check with draws."""
    count = DRAWS
    if "--draws" in sys.argv:
        place = sys.argv.index("--draws")
        count = int(sys.argv[place + 1])
        del sys.argv[place : place + 2]
    _, report = arguments(__doc__, ("draws",))
    with tempfile.TemporaryDirectory() as folder:
        for name, text in verbs.demo_files("sound").items():
            (Path(folder) / name).write_text(text + (DAYS if name == "sound.toml" else ""), encoding="utf-8")
        build = verbs.load_build(Path(folder) / "sound.toml")
        fitted = verbs.fit(build)
        verbs.check(build, speeds=SPEEDS, draws=Draws(16), fitted=fitted)
        told: list[float] = []
        before, began = children(), time.perf_counter()

        def partial(_: CheckResult) -> None:
            told.append(time.perf_counter() - began)

        found = verbs.check(build, speeds=SPEEDS, draws=Draws(count), fitted=fitted, partial=partial)
        wall, used = time.perf_counter() - began, children() - before
    assert found.trust is not None
    assert found.trust.draws == count, found.trust.failed
    report.title(f"{count} draws at {SPEEDS.size} speeds on the ordinary day and {len(found.corners)} others")
    own = WHOLE if count == DRAWS else None
    report.add(Row("sampled check: wall", wall, "s", target=own, note=f"cpu of the draws {used:.1f} s"))
    report.add(Row("first answer, the middle: wall", told[0], "s", target=FIRST))
    if len(told) > 1:
        report.add(Row("first odds: wall", told[1], "s"))
    each = used / count
    report.add(Row("a draw: CPU", each * 1e3, "ms"))
    point = reference()
    report.add(Row("reference: a converged point, Wiebe, one of 64: CPU", point * 1e3, "ms"))
    report.add(Row("a draw over the reference", each / point, "points"))
    report.close()


if __name__ == "__main__":
    main()
