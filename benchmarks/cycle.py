"""Times of the engine cycle: converged points, the same cycle by solve_ivp, a reactor cycle by Cantera.

    python benchmarks/cycle.py                    everything, some minutes
    python benchmarks/cycle.py points             only that part; parts: points, solve_ivp, reactors
    python benchmarks/cycle.py --json FILE        also write the figures there

A converged point starts from a state converged 200 rev/min and 10 kPa away, both below and both above, and
ends when the state repeats within 1e-4; the worse of the two is given. docs/benchmarks.md says what the
figures mean.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

import numpy as np
from common import ROOT, Report, Row, Time, arguments, best_time

sys.path.insert(0, str(ROOT))

from benchmarks.references.ivp import FIGURES, IvpCycle, Recipe
from benchmarks.references.reactors import Kind, ReactorCycle
from boostwright.physics.kernels import cycle as kernel
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.defaults import four_valve_two_litre
from boostwright.systems.engine.types import BurnLaw, Fuel, OperatingPoints

PARTS = ("points", "solve_ivp", "reactors")
SPEEDS = (1000.0, 3000.0, 6500.0)  # [rev/min]
BATCHES = (8, 64)
TARGET_POINT = {BurnLaw.ENTRAINMENT: 1.5, BurnLaw.WIEBE: 0.7}  # [ms]
NAMES = {BurnLaw.ENTRAINMENT: "entrainment", BurnLaw.WIEBE: "Wiebe"}
AWAY = ((-200.0, -10.0e3), (200.0, 10.0e3))
ENGINE, FUEL = four_valve_two_litre(), Fuel()
PLENUM, PLENUM_T, EXHAUST, LAM = 98.0e3, 298.15, 105.0e3, 0.88


def point(rpm: float, count: int = 1, away: tuple[float, float] = (0.0, 0.0)) -> OperatingPoints:
    """Full load near best spark; ``count`` points differ in plenum pressure and spark.

    ``away``: to add to speed [rev/min] and plenum pressure [Pa].
    """
    spread = np.linspace(-1.0, 1.0, count) if count > 1 else np.zeros(1)
    spark = -np.radians(11.0 + 8.2 * np.log2(rpm / 1000.0) + 5.0 * spread[::-1])
    speed = np.full(count, (rpm + away[0]) * np.pi / 30.0)
    pressure = PLENUM + away[1] + 12.0e3 * spread
    return OperatingPoints(speed, pressure, PLENUM_T, EXHAUST, LAM, spark)


class Start(NamedTuple):
    """A point and where to start."""

    points: OperatingPoints
    state: np.ndarray


def starts(law: BurnLaw, rpm: float, count: int = 1) -> Iterator[Start]:
    """The point with both of its starts, each converged to 1e-7 at its own conditions."""
    tight = CycleSolver(ENGINE, FUEL, burn_law=law, tolerance=1.0e-7)
    for away in AWAY:
        _, _, status, state, _ = tight.solve(point(rpm, count, away))
        assert not status.any(), f"a start at {rpm} rev/min did not converge"
        yield Start(point(rpm, count), state)


def worse(times: list[Time]) -> Time:
    """The longest of each clock."""
    return Time(max(t.cpu for t in times), max(t.wall for t in times))


def compiled_part(solver: CycleSolver, start: Start) -> Callable[[], None]:
    """Only the compiled cycles of ``solver.solve``, with their arguments ready."""
    kept: list[tuple[Any, ...]] = []
    real = kernel.cycles

    def spy(state: np.ndarray, *rest: Any) -> None:
        kept.append((state.copy(), *rest))
        real(state, *rest)

    kernel.cycles = spy
    try:
        solver.solve(start.points, start.state.copy())
    finally:
        kernel.cycles = real

    def work() -> None:
        for state, *rest in kept:
            real(state.copy(), *rest)

    return work


def time_points(report: Report) -> None:
    """Single points and batches."""
    for law in NAMES:
        solver = CycleSolver(ENGINE, FUEL, burn_law=law)
        report.title(f"converged point at 1e-4, {NAMES[law]}")
        single: list[Time] = []
        for rpm in SPEEDS:
            run, solve, bare, cycles = [], [], [], 0.0
            for start in starts(law, rpm):
                _, results, status, *_ = solver.solve(start.points, start.state.copy())
                assert not status.any(), f"{rpm} rev/min did not converge"
                cycles = max(cycles, float(results[0, kernel.R.cycles]))
                run.append(best_time(lambda s=start, c=solver: c.run(s.points, s.state.copy())))
                solve.append(best_time(lambda s=start, c=solver: c.solve(s.points, s.state.copy())))
                bare.append(best_time(compiled_part(solver, start)))
            label = f"{rpm:.0f} rev/min, {cycles:.0f} cycles"
            report.time(f"{label}: run, figures included", worse(run))
            report.time(f"{label}: solve", worse(solve))
            report.time(f"{label}: compiled part alone", worse(bare))
            single.append(worse(run))
        worst = f"worst of three speeds ({NAMES[law]})"
        report.time(f"{worst}, single point", worse(single), target=TARGET_POINT[law])
        for count in BATCHES:
            many = [
                best_time(lambda s=start, c=solver: c.run(s.points, s.state.copy()), rounds=5)
                for rpm in SPEEDS
                for start in starts(law, rpm, count)
            ]
            report.time(f"{worst}, one of {count} points", worse(many), count, TARGET_POINT[law])


# ------------------------------------------------------------------------------------------- solve_ivp

COLUMNS = [getattr(kernel.R, name) for name in FIGURES]
LADDER = (3.0e-4, 1.0e-4, 3.0e-5, 1.0e-5, 3.0e-6, 1.0e-6, 3.0e-7, 1.0e-7, 1.0e-8)
OPEN = (("DOP853", False), ("RK45", False), ("LSODA", True), ("BDF", True), ("Radau", True))
CLOSED = ("DOP853", "RK45", "LSODA", "BDF", "Radau")
TIGHT = Recipe("DOP853", "DOP853", 1.0e-9, 1.0e-10, True)


def miss(columns: np.ndarray, truth: np.ndarray) -> float:
    """Greatest relative error over work, trapped mass, peak pressure, exhaust enthalpy, wall heat, knock."""
    return float(np.max(np.abs(columns[COLUMNS] / truth[COLUMNS] - 1.0)))


class Quickest(NamedTuple):
    """The quickest recipe that is as accurate as ours."""

    recipe: Recipe
    miss: float
    seconds: float  # over all starts


class Search:
    """Which integrators of SciPy get as close as we do, and which of those is quickest."""

    def __init__(
        self, ivp: IvpCycle, settled: np.ndarray, truth: np.ndarray, bound: float, states: list[np.ndarray]
    ) -> None:
        self.ivp, self.settled, self.truth, self.bound, self.states = ivp, settled, truth, bound, states
        self.best: Quickest | None = None
        self.plain: Quickest | None = None  # one explicit integrator throughout

    def run(self) -> Quickest:
        """First the integrators of the open phase, then those of the closed phase."""
        with np.errstate(all="ignore"):  # trial steps leave the ground of the gas data
            self._descend(lambda rtol: Recipe("DOP853", "DOP853", rtol, rtol))
            self.plain = self.best
            for method, fully in OPEN:
                self._descend(lambda rtol, m=method, f=fully: Recipe("DOP853", m, rtol, 1.0e-7, f))
            assert self.best is not None, "no recipe of solve_ivp came as close as the kernel"
            found = self.best.recipe
            for method in CLOSED:
                self._descend(lambda rtol, m=method: found._replace(closed=m, closed_rtol=rtol))
        return self.best

    def _descend(self, make: Callable[[float], Recipe]) -> None:
        """Tighten until close enough and converging from every start; the next rung may need fewer cycles."""
        good = 0
        for rtol in LADDER:
            good += self._judge(make(rtol))
            if good == 2:
                return

    def _judge(self, recipe: Recipe) -> bool:
        """Whether the recipe will do; remembered where it is the quickest."""
        try:
            error = miss(self.ivp.converge(self.settled, recipe, 1.0e-6, 5).columns, self.truth)
            if not error <= self.bound:
                return False
            seconds = 0.0
            for state in self.states:
                if not self.ivp.converge(state, recipe, 1.0e-4, 12).converged:
                    return False
                seconds += best_time(lambda s=state: self.ivp.converge(s, recipe), 2, 0.0, warm=False).cpu
        except (ArithmeticError, ValueError):
            return False  # a trial step went so far astray that the integrator gave up
        if self.best is None or seconds < self.best.seconds:
            self.best = Quickest(recipe, error, seconds)
        return True


def time_ivp(report: Report) -> None:
    """Our converged point against the same equations by solve_ivp, at equal accuracy, from the same start."""
    for law in NAMES:
        solver = CycleSolver(ENGINE, FUEL, burn_law=law)
        working = CycleSolver(ENGINE, FUEL, burn_law=law, tolerance=1.0e-8)
        ivp = IvpCycle(solver, point(SPEEDS[0]))
        report.title(f"the same cycle by solve_ivp, right-hand side compiled, {NAMES[law]}")
        ratios, plain, batch = [], [], []
        for rpm in SPEEDS:
            ivp.at(solver, point(rpm))
            _, ours, _, settled, _ = working.solve(point(rpm))
            truth = ivp.converge(settled[0], TIGHT, 3.0e-8).columns
            error = miss(ours[0], truth)
            both = list(starts(law, rpm))
            search = Search(ivp, settled[0], truth, error, [start.state[0] for start in both])
            best = search.run()
            r = best.recipe
            how = f"{r.closed} {r.closed_rtol:g} closed, {r.open} {r.rtol:g} open"
            of_plain = search.plain.seconds / best.seconds if search.plain is not None else np.inf
            for start, many in zip(both, starts(law, rpm, 64), strict=True):
                own = best_time(lambda s=start, c=solver: c.solve(s.points, s.state.copy()))
                of_many = best_time(lambda s=many, c=solver: c.solve(s.points, s.state.copy()), 4).cpu / 64
                theirs = best_time(
                    lambda s=start, how=r, i=ivp: i.converge(s.state[0], how), 4, 0.0, warm=False
                )
                ratios.append(theirs.cpu / own.cpu)
                plain.append(of_plain * ratios[-1])
                batch.append(theirs.cpu / of_many)
                report.time(f"{rpm:.0f} rev/min: ours", own, note=f"error {error:.1e}")
                report.time(f"{rpm:.0f} rev/min: solve_ivp", theirs, note=f"error {best.miss:.1e}; {how}")
        name = f"ours faster by, worst of three speeds ({NAMES[law]})"
        report.add(Row(name, min(ratios), "times", None, 25.0, True, "than the best pair of integrators"))
        report.add(Row(name, min(plain), "times", note="than DOP853 throughout"))
        report.add(Row(name, min(batch), "times", note="one of 64 points, than the best pair"))


# -------------------------------------------------------------------------------------------- reactors


NET_LADDER = ((1e-4, 2.0), (1e-5, 2.0), (1e-5, 1.0), (1e-6, 1.0), (1e-6, 0.5), (1e-6, 0.25))
"""Relative tolerance and longest step [degrees], from loose to tight."""


def reactor(kind: Kind, rpm: float, rtol: float, degrees: float, cycles: int = 6) -> tuple[np.ndarray, Time]:
    """Figures of the last of some cycles, and the time of one."""
    at = point(rpm)
    spark = float(np.asarray(at.spark)[0])
    cycle = ReactorCycle(
        ENGINE, rpm * np.pi / 30.0, PLENUM, PLENUM_T, EXHAUST, spark, rtol=rtol, kind=kind,
        step=float(np.radians(degrees)),
    )  # fmt: skip
    for _ in range(cycles - 1):
        cycle.cycle()
    figures = np.array(cycle.cycle()[:3])
    return figures, best_time(cycle.cycle, rounds=5, least=0.0, warm=False)


def time_reactors(report: Report) -> None:
    """One of our cycles, two zones and all, against one of a simpler reactor network."""
    report.title("one cycle as a Cantera reactor network")
    solver = CycleSolver(ENGINE, FUEL)
    working = CycleSolver(ENGINE, FUEL, tolerance=1.0e-8)
    ours, bounds = [], []
    for rpm in SPEEDS:
        start = next(starts(BurnLaw.ENTRAINMENT, rpm))
        _, results, *_ = solver.solve(start.points, start.state.copy())
        taken = best_time(lambda s=start, c=solver: c.solve(s.points, s.state.copy())).cpu
        ours.append(taken / float(results[0, kernel.R.cycles]))
        _, columns, _, settled, _ = working.solve(point(rpm))
        truth = IvpCycle(solver, point(rpm)).converge(settled[0], TIGHT, 3.0e-8).columns
        bounds.append(miss(columns[0], truth))
        note = f"error {bounds[-1]:.1e}"
        report.add(Row(f"{rpm:.0f} rev/min: ours, one cycle", ours[-1] * 1e3, "ms", note=note))
    for kind in Kind:
        ratios = []
        finest = 0.1 if kind is Kind.EQUILIBRIUM else 0.25
        for rpm, own, bound in zip(SPEEDS, ours, bounds, strict=True):
            truth, _ = reactor(kind, rpm, 1.0e-9, finest, 6)
            for rtol, degrees in NET_LADDER:
                figures, taken = reactor(kind, rpm, rtol, degrees)
                error = float(np.max(np.abs(figures / truth - 1.0)))
                if error <= bound:
                    break
            note = f"error {error:.1e}; rtol {rtol:g}, steps to {degrees:g} degrees"
            report.time(f"{rpm:.0f} rev/min: {kind.value}", taken, note=note)
            ratios.append(taken.cpu / own)
        target = None if kind is Kind.LINEAR else 50.0
        report.add(Row(f"ours faster by, worst: {kind.value}", min(ratios), "times", None, target, True))


def main() -> None:
    """Run the parts that were asked for."""
    parts, report = arguments(__doc__, PARTS)
    for name, work in zip(PARTS, (time_points, time_ivp, time_reactors), strict=True):
        if name in parts:
            work(report)
    report.close()


if __name__ == "__main__":
    main()
