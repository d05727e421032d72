"""Times and gaps of the plan: a whole job, its runs, and problems whose best answer is known.

    python benchmarks/schedule.py              everything, some minutes
    python benchmarks/schedule.py plan         only that part; parts: plan, runs, shops
    python benchmarks/schedule.py --json FILE  also write the figures there

The reference for the runs is NumPy drawing as many beta distributed numbers as there are durations. The
search has a budget of its own count, so that its wall time depends on what else the machine does.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from common import ROOT, Report, Row, arguments, best_time

sys.path.insert(0, str(ROOT))

from boostwright import verbs
from boostwright.planning.problem import Problem, Schedule, Worker
from boostwright.planning.schedule import sampled, schedule
from boostwright.planning.task import CREW
from boostwright.planning.tasks import tasks_for
from tests.planning.schedule.test_published import job_shop, shops
from tests.sample_network import network, weekend

PARTS = ("plan", "runs", "shops")
TASKS, SAMPLES = 140, 10000
SHOPS = ("ft06", "la16", "la18", "la19", "la20", "abz5", "abz6", "ft10", "orb02", "orb04", "orb08")


def whole_job() -> Problem:
    """The work on the sound demo build, for two people who can do all of it."""
    with tempfile.TemporaryDirectory() as folder:
        for name, text in verbs.demo_files("sound").items():
            (Path(folder) / name).write_text(text, encoding="utf-8")
        build = verbs.load_build(Path(folder) / "sound.toml")
    hours = weekend(12)
    people = tuple(Worker(name, frozenset(CREW), hours) for name in ("one", "two"))
    return Problem(tasks_for(build), people, {"bay": 2, "lift": 1, "road": 1, "yard": 1})


def plan(report: Report, name: str, problem: Problem) -> Schedule:
    """Time the plan of one problem and say how far from the best it can be."""
    told: list[float] = []
    began = time.perf_counter()
    found = schedule(problem, seconds=20.0, progress=lambda _: told.append(time.perf_counter() - began))
    wall = time.perf_counter() - began
    report.title(f"{name}: {len(problem.tasks)} tasks, {len(problem.workers)} people")
    report.add(Row("first plan: wall", told[0], "s", target=1.0))
    report.add(Row("whole plan: wall", wall, "s", note="budget 20 s of two free cores"))
    report.add(Row("gap", 100.0 * found.gap, "%", target=2.0, note=f"kept up by {found.bound_by}"))
    report.add(Row("gap in hours", (found.finish - found.bound) / 3600.0, "h"))
    report.add(Row("proven", float(found.proven), ""))
    report.add(Row("ended by its own count", float(found.repeatable), ""))
    return found


def main() -> None:
    """Measure the parts that were asked for."""
    parts, report = arguments(__doc__, PARTS)
    if "plan" in parts:
        for seed in (1, 2, 5):
            plan(report, f"made-up network {seed}", network(TASKS, seed=seed))
        plan(report, "the sound demo build", whole_job())
    if "runs" in parts:
        problem = network(TASKS, seed=1)
        order = schedule(problem, seconds=0.0)
        rng = np.random.default_rng(1)
        taken = best_time(lambda: sampled(problem, order, samples=SAMPLES), rounds=5)
        reference = best_time(lambda: rng.beta(3.0, 3.0, (SAMPLES, TASKS)), rounds=5)
        report.title(f"{SAMPLES} finish times of {TASKS} tasks")
        report.time("runs", taken, target=2000.0)
        report.time("reference: as many beta draws by NumPy", reference)
        report.add(Row("runs over the reference: CPU", taken.cpu / reference.cpu, "times"))
    if "shops" in parts:
        report.title("job shops with a known best finish")
        for name in SHOPS:
            best = shops()[name]["metadata"]["optimum"]
            began = time.perf_counter()
            found = schedule(job_shop(shops()[name]), seconds=40.0, early=False)
            note = f"finish {found.finish / 60.0:g}, bound {found.bound / 60.0:g}, best {best}"
            report.add(Row(name, time.perf_counter() - began, "s", note=note))
    report.close()


if __name__ == "__main__":
    main()
