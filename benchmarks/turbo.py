"""Times of the turbo side: root finder against the library's, compressor point, turbo point, match.

    python benchmarks/turbo.py

The match runs the real cycle at a fixed spark. Take ratios; the figures hang on the machine.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from scipy.optimize import elementwise

from boostwright.library import read_bytes
from boostwright.physics.compressor import operating_point, pressure_ratio_of_head
from boostwright.physics.compressor_fit import MeasuredPoints, fit_points
from boostwright.physics.roots import bracketed_root
from boostwright.physics.turbine import ExhaustGas
from boostwright.readers.compressor_map import read_compressor_map
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.defaults import four_valve_two_litre
from boostwright.systems.engine.types import Fuel
from boostwright.systems.match import MatchSettings, match
from boostwright.systems.turbo import Ambient, Cooler, Restriction, TurboParts, turbo_point

AMBIENT = Ambient(100e3, 298.15)
GAS = ExhaustGas(290.0, 1305.0, 0.24, 1150.0)


def seconds(work: Callable[[], object], repeat: int) -> float:
    """Best of three rounds, for one call."""
    work()
    rounds = []
    for _ in range(3):
        began = time.perf_counter()
        for _ in range(repeat):
            work()
        rounds.append((time.perf_counter() - began) / repeat)
    return min(rounds)


def _demo_map() -> MeasuredPoints:
    """The points of the demo build's compressor map."""
    points, _ = read_compressor_map(read_bytes("builds/sound_compressor.csv"))
    columns = (points.speed, points.flow, points.pressure_ratio, points.efficiency)
    return MeasuredPoints(*(np.array(c, dtype=np.float64) for c in columns), 298.0, 1e5)


def main() -> None:
    """Run everything and print one line each."""
    parts = TurboParts.from_sizes(
        (0.0445, 0.0590),
        (0.050, 0.044, 0.60 * 0.0254),
        inlet=Restriction(2.5e3, 0.15, 1.17),
        charge_pipes=Restriction(2.3e3, 0.15, 1.9),
        exhaust=Restriction(22e3, 0.15, 0.374),
        cooler=Cooler(Restriction(4e3, 0.15, 2.0, 1.8), effectiveness=0.72),
    )
    flow = np.linspace(0.06, 0.16, 60)
    phi_mach = flow / (1.168 * 346.1 * parts.exducer**2)
    low, high = np.full(60, 0.6), np.full(60, 1.5)

    def excess(mach: np.ndarray, q: np.ndarray) -> np.ndarray:
        return pressure_ratio_of_head(parts.compressor_map(q / mach, mach).psi, mach) - 1.9

    ours = seconds(lambda: bracketed_root(lambda x: excess(x, phi_mach), low, high), 20)
    theirs = seconds(lambda: elementwise.find_root(excess, (low, high), args=(phi_mach,)), 20)
    print(f"root finder, 60 points: {ours * 1e3:.2f} ms; the library's {theirs * 1e3:.2f} ms")
    point = seconds(lambda: operating_point(parts.compressor_map, parts.exducer, flow, 1.9, 298.15, 1e5), 20)
    print(f"compressor point, 60 at once: {point * 1e3:.2f} ms")
    measured = _demo_map()
    fit = seconds(lambda: fit_points(measured, 0.0545), 1)
    fitted = fit_points(measured, 0.0545).map
    point = seconds(lambda: operating_point(fitted, 0.0545, flow, 1.7, 298.15, 1e5), 20)
    print(f"the same on a map from {measured.flow.size} points: {point * 1e3:.2f} ms; fit {fit * 1e3:.0f} ms")
    turbo = seconds(lambda: turbo_point(parts, AMBIENT, flow, flow / 12.5, 180e3, 1150.0, GAS), 10)
    print(f"turbo point, 60 at once: {turbo * 1e3:.2f} ms")

    engine, fuel = four_valve_two_litre(9.0), Fuel(ron=98.0)
    solver = CycleSolver(engine, fuel)
    speeds = np.linspace(1200, 6300, 30) * np.pi / 30
    rounds = 0

    def whole() -> None:
        nonlocal rounds
        line = match(
            engine, fuel, parts, AMBIENT, 60e3, speeds, solver.run, settings=MatchSettings(spark=-0.25)
        )
        rounds = int(line.rounds.max())

    print(f"match of 30 speeds, fixed spark: {seconds(whole, 1) * 1e3:.0f} ms in {rounds} rounds")


if __name__ == "__main__":
    main()
