"""Times of the match: 30 speeds at their knock limit, compiled turbo side against the plain one.

    python benchmarks/match.py                    everything, about a minute
    python benchmarks/match.py wiebe              only that law; parts: wiebe, entrainment, points
    python benchmarks/match.py --json FILE        also write the figures there

The sound demo build, one corner (its own weather, nothing moved), warm: the kernels are compiled and the
compressor is tabulated. The plain form is the same match with the turbo side in NumPy, in the same run.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import numpy as np
from common import Report, Row, arguments, best_time

from boostwright import verbs
from boostwright.physics.compressor_table import tabulated
from boostwright.physics.turbine import ExhaustGas
from boostwright.systems.engine.baseline import baseline
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.types import BurnLaw
from boostwright.systems.match import KnockLimited, MatchResult, MatchSettings, match
from boostwright.systems.stated.engine import engine_of, factors_of, fuel_of
from boostwright.systems.stated.place import ambient_of
from boostwright.systems.stated.turbo import turbo_of
from boostwright.systems.turbo import NO_PULSES, QuickTurbo, turbo_point

PARTS = ("wiebe", "entrainment", "points")
LAWS = {"wiebe": BurnLaw.WIEBE, "entrainment": BurnLaw.ENTRAINMENT}
TARGETS = {"wiebe": 150.0, "entrainment": None}  # [ms]
SPEEDS = np.linspace(1200.0, 6500.0, 30) * math.pi / 30.0
LAM = 0.85
BUILD = verbs.demo_build("sound")


@contextmanager
def plain_turbo_side() -> Iterator[None]:
    """Without the compiled form of the turbo side."""
    kept = QuickTurbo.of
    QuickTurbo.of = classmethod(lambda *_: None)  # type: ignore[method-assign, assignment]
    try:
        yield
    finally:
        QuickTurbo.of = kept  # type: ignore[method-assign]


def matcher(law: BurnLaw) -> Callable[[], MatchResult]:
    """The match of the demo build, its baseline done beforehand."""
    engine, fuel, outside = engine_of(BUILD), fuel_of(BUILD), ambient_of(BUILD)
    solver = CycleSolver(engine, fuel, factors=factors_of(BUILD), burn_law=law)
    parts = turbo_of(BUILD)
    assert parts is not None
    best_spark = baseline(solver, SPEEDS, outside.pressure, outside.temperature, 0.88).mbt_spark
    goal = BUILD.number("goal.boost")
    settings = MatchSettings(lam=LAM)

    def work() -> MatchResult:
        finder = KnockLimited(solver, best_spark)
        return match(
            engine, fuel, parts, outside, goal, SPEEDS, solver.run, spark_for=finder, settings=settings
        )

    return work


def matches(report: Report, name: str) -> None:
    """The whole match, and how far the two forms are apart."""
    report.title(f"match of {SPEEDS.size} speeds at their knock limit, {name} burn law")
    work = matcher(LAWS[name])
    ours, quick = best_time(work, rounds=9), work()
    report.time("compiled turbo side", ours, target=TARGETS[name], note=f"{quick.rounds.max()} rounds")
    with plain_turbo_side():
        theirs, plain = best_time(work, rounds=5), work()
    report.time("plain turbo side", theirs, note=f"{plain.rounds.max()} rounds")
    report.add(Row("plain over compiled", theirs.cpu / ours.cpu, "x", theirs.wall / ours.wall))
    both = quick.settled & plain.settled
    apart = np.abs(quick.points.plenum_pressure / plain.points.plenum_pressure - 1)[both]
    report.add(Row("greatest difference of the plenum pressure", float(apart.max(initial=0.0)), "-"))
    report.add(Row("points that did not settle", float(np.sum(~quick.settled)), "-"))


def points(report: Report) -> None:
    """The turbo side alone: rows of plenum pressures at many speeds."""
    report.title("turbo side alone, points of a search")
    parts, outside = turbo_of(BUILD), ambient_of(BUILD)
    assert parts is not None
    compiled = QuickTurbo.of(parts)
    assert compiled is not None
    table = tabulated(parts.compressor_map)
    hot = np.linspace(1050.0, 1200.0, 72)
    gas, fuel = ExhaustGas(290.0, 1305.0, 0.24, hot), np.full(72, 0.08)
    for rows in (1, 24):
        plenum = np.broadcast_to(np.linspace(1.05, 1.9, rows)[:, None] * 100e3, (rows, 72))
        air = np.linspace(0.02, 0.13, 72) * plenum / 150e3
        ours = best_time(lambda p=plenum, a=air: compiled.at(outside, a, fuel, p, hot, gas, NO_PULSES))  # type: ignore[misc]
        theirs = best_time(
            lambda p=plenum, a=air: turbo_point(  # type: ignore[misc]
                parts, outside, a, fuel * a, p, hot, gas, NO_PULSES, table
            )
        )
        report.time(f"compiled, {rows} x 72 points", ours)
        report.time("plain, compressor by the same table", theirs)
        report.add(Row("plain over compiled", theirs.cpu / ours.cpu, "x", theirs.wall / ours.wall))


def main() -> None:
    """Run the parts that were asked for."""
    parts, report = arguments(__doc__, PARTS)
    for part in parts:
        if part == "points":
            points(report)
        else:
            matches(report, part)
    report.close()


if __name__ == "__main__":
    main()
