"""Measure what docs/numerics.md states: error of the working step by halving, energy and mass account.

    .venv/bin/python tools/measure_steps.py            the two tables on the terminal
    .venv/bin/python tools/measure_steps.py --write    into the page

Half a minute, most of it compiling on a first run.
"""

from __future__ import annotations

import dataclasses
import re
import sys
from pathlib import Path

import numpy as np

from boostwright.systems.engine.conservation import energy_account
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.defaults import four_valve_two_litre
from boostwright.systems.engine.types import CycleResult, EngineGeometry, Fuel, OperatingPoints

PAGE = Path(__file__).resolve().parent.parent / "docs" / "numerics.md"
SPEEDS = np.array([800.0, 1500.0, 3000.0, 6500.0])
REFINED = (1.0, 2.0, 4.0, 16.0)
FIGURES = {
    "imep": "work (imep)",
    "trapped_mass": "trapped mass",
    "residual": "residual share",
    "peak_pressure": "peak pressure",
    "knock_a": "knock integral",
    "exhaust_valve_temperature": "exhaust temperature",
    "pmep": "pumping (pmep)",
}
RUNNER = four_valve_two_litre()
ENGINES = {"with runner": RUNNER, "without": dataclasses.replace(RUNNER, runner_length=0.0)}
CONDITIONS = (
    (800.0, 100.0, 102.0, 298.0, 8.4),
    (3000.0, 100.0, 108.0, 298.0, 24.0),
    (6500.0, 97.0, 135.0, 298.0, 33.0),
    (2000.0, 160.0, 170.0, 320.0, 2.0),
    (4500.0, 180.0, 210.0, 320.0, 8.0),
    (2000.0, 50.0, 102.0, 298.0, 19.2),
    (2200.0, 180.0, 150.0, 310.0, 10.0),
)


def points(
    rpm: np.ndarray | float, kpa: float, back: float, T: float, btdc: np.ndarray | float
) -> OperatingPoints:
    """Conditions in the units of the bench."""
    return OperatingPoints(
        np.asarray(rpm) * np.pi / 30, kpa * 1e3, T, back * 1e3, 0.88, -np.radians(np.asarray(btdc))
    )


def halving(engine: EngineGeometry) -> dict[float, CycleResult]:
    """The same cycles at ever smaller steps."""
    at = points(SPEEDS, 100.0, 103.0, 298.15, 11.0 + 8.2 * np.log2(SPEEDS / 1000.0))
    return {q: CycleSolver(engine, Fuel(), refine=q, tolerance=1e-11).run(at) for q in REFINED}


def halving_table() -> list[str]:
    """Error of each figure at the working step, half and a quarter of it, by speed."""
    speeds = " | ".join(f"{rpm:.0f} rev/min" for rpm in SPEEDS)
    lines = [f"| engine | figure | {speeds} |", f"|---|---|{'---|' * SPEEDS.size}"]
    for name, engine in ENGINES.items():
        runs = halving(engine)
        for figure, words in FIGURES.items():
            exact = getattr(runs[16.0], figure)
            error = [np.abs(getattr(runs[q], figure) / exact - 1) for q in (1.0, 2.0, 4.0)]
            cells = [
                " / ".join(f"{e[i]:.0e}".replace("e-0", "e-") for e in error) for i in range(SPEEDS.size)
            ]
            lines.append(f"| {name} | {words} | {' | '.join(cells)} |")
    return lines


def account_table() -> list[str]:
    """Energy, mass and valve law by condition."""
    lines = [
        "| rev/min | plenum / exhaust kPa | engine | energy at step / half / quarter | mass | valve law |",
        "|---|---|---|---|---|---|",
    ]
    for rpm, kpa, back, T, btdc in CONDITIONS:
        at = points(rpm, kpa, back, T, btdc)
        for name, engine in ENGINES.items():
            rows = [
                energy_account(CycleSolver(engine, Fuel(), refine=q, tolerance=1e-10), at)
                for q in (1.0, 2.0, 4.0)
            ]
            energy = " / ".join(f"{a.residual:+.1e}".replace("e-0", "e-") for a in rows)
            law = " / ".join(f"{a.valve_law:.0e}".replace("e-0", "e-") for a in rows)
            mass = "< 1e-14" if max(abs(a.mass_residual) for a in rows) < 1e-14 else "> 1e-14"
            lines.append(f"| {rpm:.0f} | {kpa:.0f} / {back:.0f} | {name} | {energy} | {mass} | {law} |")
    return lines


def main(arguments: list[str]) -> None:
    """Print the tables, or with --write put them into the page."""
    text = PAGE.read_text(encoding="utf-8")
    for name, lines in (("halving", halving_table()), ("account", account_table())):
        table = "\n".join(lines)
        print(table, "\n")
        text = re.sub(
            rf"(<!-- {name} -->\n).*?(<!-- end -->)",
            lambda found, table=table: f"{found[1]}\n{table}\n\n{found[2]}",
            text,
            flags=re.DOTALL,
        )
    if "--write" in arguments:
        PAGE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
