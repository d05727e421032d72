"""The program's bands for an invented engine at prescribed states, and whether the truth lies in them.

A draw is the program's own: what is not known of the build and of the models (`trust.unknowns`), at one set
of values; the cycle then runs at the states that the goal prescribes, so that no turbo stands between. A
band reaches from 5 to 95 % of the draws, by order statistics that hold nine in ten whatever their number.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.errors import BoostwrightError
from boostwright.findings.form import Form
from boostwright.systems.engine.baseline import full_load_points
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.spark import LATEST, limited_spark
from boostwright.systems.engine.types import CycleResult, OperatingPoints
from boostwright.systems.stated.engine import engine_of, factors_of, fuel_of, losses_of
from boostwright.systems.stated.place import ambient_of
from boostwright.trust.unknowns import drawn_build, drawn_form, unknowns_of
from boostwright.uncertainty.design import Design
from tests.truth.engines import Conditions, Outcome, Truth

__all__ = ["QUANTITIES", "Bands", "Held", "bands_of", "held", "truth_of"]

Array = NDArray[np.float64]
Together = Mapping[tuple[str, str], float]

QUANTITIES: Final = {
    "torque": "torque under boost",
    "air": "air under boost",
    "peak": "peak pressure under boost",
    "spark": "spark under boost, at its limit",
    "ca50": "half-burned moment under boost",
    "exhaust": "exhaust temperature under boost, behind the manifold",
    "valve": "exhaust temperature under boost, at the valve",
    "stock torque": "torque without boost",
    "stock air": "air without boost",
}
LOW, HIGH = 0.05, 0.95


class Bands(NamedTuple):
    """From 5 to 95 % of the draws, by quantity; arrays over speed. lost: draws that the models refused."""

    low: dict[str, Array]
    middle: dict[str, Array]
    high: dict[str, Array]
    draws: int
    lost: int


class Held(NamedTuple):
    """Where the truth lies against a band; arrays over speed, by quantity."""

    inside: dict[str, NDArray[np.bool_]]
    below: dict[str, NDArray[np.bool_]]  # of the band's lower end
    width: dict[str, Array]  # of the band, in the quantity's unit


def truth_of(truth: Truth, stock: Outcome, goal: Outcome) -> dict[str, Array]:
    """What the engine truly does, by quantity [SI]. The factory's margin counts in `stock`."""
    del truth
    return {**_goal_figures(goal, goal.spark, goal.exhaust_temperature, goal.valve_temperature),
            "stock torque": stock.torque, "stock air": stock.air_flow}  # fmt: skip


def bands_of(
    build: Build,
    goal: Conditions,
    stock_speed: Array,
    draws: int,
    seed: int,
    together: Together | None = None,
) -> Bands:
    """The bands of a build. goal: prescribed states. stock_speed: crank speeds without boost [rad/s]. draws:
    how many. together: correlations of a fit.
    """
    unknowns = unknowns_of(build, together)
    design = Design(unknowns.marginals, unknowns.correlation, replicates=1, seed=seed)
    found: list[dict[str, Array]] = []
    for k in range(draws):
        values = design.block(k)[0]
        drawn = drawn_build(build, unknowns.names, values)
        try:
            found.append(_drawn(drawn, drawn_form(unknowns.names, values), goal, stock_speed))
        except (BoostwrightError, ValueError):  # a burn too slow for its curve to be fitted gives the latter
            continue
    stacks = {name: np.stack([one[name] for one in found]) for name in QUANTITIES}

    def at(share: float) -> dict[str, Array]:
        return {name: np.nanquantile(rows, share, axis=0, method="weibull") for name, rows in stacks.items()}

    return Bands(at(LOW), at(0.5), at(HIGH), len(found), draws - len(found))


def held(bands: Bands, true: dict[str, Array]) -> Held:
    """Where the truth lies."""
    inside = {n: (true[n] >= bands.low[n]) & (true[n] <= bands.high[n]) for n in QUANTITIES}
    below = {n: true[n] < bands.low[n] for n in QUANTITIES}
    return Held(inside, below, {n: bands.high[n] - bands.low[n] for n in QUANTITIES})


def _drawn(build: Build, form: Form, goal: Conditions, stock_speed: Array) -> dict[str, Array]:
    """The program's answer at one draw, by quantity."""
    solver = CycleSolver(
        engine_of(build),
        fuel_of(build),
        factors=factors_of(build, form.heat_law),
        burn_law=form.burn_law,
        heat_law=form.heat_law,
        knock_law=form.knock_law,
    )
    ambient, losses = ambient_of(build), losses_of(build)
    stock = full_load_points(
        stock_speed,
        ambient.pressure,
        ambient.temperature,
        build.number("fuel.lambda_full_load"),
        intake_drop=losses.intake,
        exhaust_rise=losses.exhaust,
    )
    n = goal.speed.size
    points = _joined(goal.points(np.full(n, -0.3)).spread(), stock)
    limits = limited_spark(solver, points)
    spark = np.where(np.isfinite(limits.used), limits.used, LATEST)
    boosted = _part(limits.at_used, slice(0, n))
    off = form.spark_off(goal.speed, build.number("engine.speed_limit"))
    return {
        **_goal_figures(
            boosted, spark[:n] + off, boosted.exhaust_manifold_temperature, boosted.exhaust_valve_temperature
        ),
        "stock torque": limits.at_used.torque[n:],
        "stock air": limits.at_used.air_flow[n:],
    }


def _goal_figures(
    result: CycleResult | Outcome, spark: Array, exhaust: Array, valve: Array
) -> dict[str, Array]:
    return {
        "torque": result.torque,
        "air": result.air_flow,
        "peak": result.peak_pressure,
        "spark": spark,
        "ca50": result.ca50,
        "exhaust": exhaust,
        "valve": valve,
    }


def _joined(a: OperatingPoints, b: OperatingPoints) -> OperatingPoints:
    pairs = zip(a.arrays(), b.arrays(), strict=True)
    return OperatingPoints(*(np.concatenate(pair) for pair in pairs))


def _part(result: CycleResult, rows: slice) -> CycleResult:
    return CycleResult(*(field[rows] for field in result))
