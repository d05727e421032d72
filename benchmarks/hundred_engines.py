"""Do the bands hold invented engines that follow other laws than the models? Before the fit and after it.

    python benchmarks/hundred_engines.py                        twenty engines, 64 draws each
    python benchmarks/hundred_engines.py --engines 100          what the page shows; seeds 0 to 99
    python benchmarks/hundred_engines.py --json FILE            also write the figures there, for the page
    python benchmarks/hundred_engines.py --without knock        the same engines less one of their departures
    python tools/make_coverage_page.py FILE              writes docs/coverage.md anew

What the engines are: `tests/truth/engines.py`. What is asked: `tests/truth/bands.py`.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from common import machine_note

from boostwright.build.document import Build
from boostwright.errors import BoostwrightError
from tests.truth.bands import QUANTITIES, Together, bands_of, truth_of
from tests.truth.engines import RPM
from tests.truth.fitted import fitted_build_of
from tests.truth.invent import make_truth
from tests.truth.stated import logged_run, stated_build

Array = NDArray[np.float64]

STAGES = ("before", "after")
REGIONS = {
    "below 3000 rpm": (0.0, 3000.0),
    "3000 to 4500 rpm": (3000.0, 4500.0),
    "above 4500 rpm": (4500.0, 1e9),
}
WANTED = (0.80, 0.97)
WHOLE_BAND = 2.0 * 1.6449  # from 5 to 95 % of a normal spread, in spreads


class Task(NamedTuple):
    """One engine to be done."""

    seed: int
    draws: int
    without: str


def engine(task: Task) -> dict[str, Any]:
    """One engine: truth and bands at every speed, as plain numbers; 'trouble' says why a stage is missing."""
    truth = make_truth(task.seed, task.without)
    stock, goal = truth.unboosted(), truth.boosted()
    run = logged_run(truth, stock)
    build = stated_build(truth, run)
    true = truth_of(truth, stock, goal)
    found: dict[str, Any] = {
        "seed": task.seed,
        "speed": {q: _speeds(q, truth.goal.speed, truth.stock.speed) for q in QUANTITIES},
        "truth": {q: v.tolist() for q, v in true.items()},
        "knocks": goal.knocks.tolist(),
        "trouble": {},
    }
    asked: dict[str, tuple[Build, Together | None]] = {"before": (build, None)}
    try:
        fitted, together, fit = fitted_build_of(build)
        asked["after"] = (fitted, together)
        found["fit"] = {"told": fit.told, "chi_square": fit.chi_square, "paths": fit.paths}
        found["fit"] |= {"value": fit.value.tolist(), "sd": fit.sd.tolist()}
    except BoostwrightError as mishap:
        found["trouble"]["after"] = str(mishap)
    for stage, (one, together) in asked.items():
        bands = bands_of(one, truth.goal, truth.stock.speed, task.draws, task.seed, together)
        found[stage] = {
            "low": {q: v.tolist() for q, v in bands.low.items()},
            "middle": {q: v.tolist() for q, v in bands.middle.items()},
            "high": {q: v.tolist() for q, v in bands.high.items()},
            "lost": bands.lost,
        }
    return found


def _speeds(quantity: str, goal: Array, stock: Array) -> list[float]:
    return list((stock if quantity.startswith("stock") else goal) / RPM)


def tabled(
    engines: list[dict[str, Any]], stage: str, quantity: str, low: float, high: float
) -> dict[str, Any]:
    """Coverage of one quantity between two speeds [rpm], with what a cure would need.

    Speeds of one engine go together, so the error is that of engines: the scatter of their own shares over
    the root of their number. off: truth less the middle of the band, in spreads of it; its mean and scatter
    over all points are 0 and 1 where the band is right.
    """
    shares, offs, widths, under = [], [], [], []
    for one in engines:
        if stage not in one:
            continue
        pick = [i for i, v in enumerate(one["speed"][quantity]) if low <= v < high]
        if not pick:
            continue
        t, a, m, b = (
            np.array(values)[pick]
            for values in (
                one["truth"][quantity],
                *(one[stage][k][quantity] for k in ("low", "middle", "high")),
            )
        )
        shares.append(np.mean((t >= a) & (t <= b)))
        under.append(np.mean(t < a))
        offs.append(np.clip((t - m) / np.where(t < m, m - a, b - m) * WHOLE_BAND / 2.0, -9.0, 9.0))
        widths.append(np.mean(b - a))
    if not shares:
        return {"engines": 0}
    joined = np.concatenate(offs)
    n = len(shares)
    return {
        "engines": n,
        "points": int(joined.size),
        "coverage": float(np.mean(shares)),
        "error": float(max(np.std(shares, ddof=1) / math.sqrt(n), 0.5 / joined.size)) if n > 1 else 1.0,
        "under": float(np.mean(under)),
        "bias": float(np.mean(joined)),
        "scatter": float(np.std(joined)),
        "width": float(np.mean(widths)),
    }


def rows_of(engines: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """Every row of the table."""
    for quantity in QUANTITIES:
        for region, (low, high) in {"all speeds": (0.0, 1e9), **REGIONS}.items():
            stages = {stage: tabled(engines, stage, quantity, low, high) for stage in STAGES}
            yield {"quantity": quantity, "words": QUANTITIES[quantity], "region": region, **stages}


def line(row: dict[str, Any]) -> str:
    """One row on the terminal."""
    text = f"{row['quantity']:13s} {row['region']:18s}"
    for stage in STAGES:
        at = row[stage]
        if not at["engines"]:
            text += f" | {stage:6s} {'not computed':>36s}"
            continue
        mark = " " if WANTED[0] <= at["coverage"] <= WANTED[1] else "*"
        text += (
            f" | {stage:6s} {100 * at['coverage']:4.0f} +- {100 * at['error']:2.0f} %{mark} "
            f"off {at['bias']:+5.2f} scatter {at['scatter']:4.2f} width {at['width']:9.3g}"
        )
    return text


def main() -> None:
    """Run the study."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--engines", type=int, default=20)
    parser.add_argument("--draws", type=int, default=64)
    parser.add_argument("--seed", type=int, default=0, help="of the first engine; they count up")
    parser.add_argument(
        "--without", default="", metavar="WHAT", help="breathing, wave or knock: leave it out"
    )
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--json", type=Path, metavar="FILE")
    given = parser.parse_args()
    tasks = [Task(given.seed + i, given.draws, given.without) for i in range(given.engines)]
    began, engines = time.perf_counter(), []
    with ProcessPoolExecutor(given.processes) as pool:
        for found in pool.map(engine, tasks):
            engines.append(found)
            left = (time.perf_counter() - began) / len(engines) * (len(tasks) - len(engines))
            note = "; ".join(f"{stage}: {why}" for stage, why in found["trouble"].items())
            print(f"engine {found['seed']} done, {left / 60:.1f} min left {note}", flush=True)
            if given.json is not None and (len(engines) % 10 == 0 or len(engines) == len(tasks)):
                keep(given, engines, (time.perf_counter() - began) / 60.0)
    for row in rows_of(engines):
        print(line(row))
    print(
        "* outside 80 to 97 %. off, scatter: truth less the middle of the band, in spreads; 0 and 1 are right"
    )


def keep(given: argparse.Namespace, engines: list[dict[str, Any]], minutes: float) -> None:
    """Write what is done so far."""
    document = {
        "machine": machine_note(),
        "engines": len(engines),
        "draws": given.draws,
        "seed": given.seed,
        "without": given.without,
        "minutes": minutes,
        "rows": list(rows_of(engines)),
        "cases": engines,
    }
    given.json.write_text(json.dumps(document) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
