"""When boost arrives in one build: the engine at the knock limit, and the pulls that answer for it."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.errors import OutOfRange
from boostwright.findings.form import MIDDLE, Form
from boostwright.systems.engine.baseline import Baseline
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.match import KnockLimited, exhaust_gas
from boostwright.systems.stated.charge_air import charge_air_of
from boostwright.systems.stated.engine import engine_of, fuel_of
from boostwright.systems.stated.place import ambient_of
from boostwright.systems.stated.transient import car_of, pulls_of, transient_of
from boostwright.systems.transient import Arrival, boost_arrival, surface_points
from boostwright.systems.transient.engine_surface import knock_limited_surface
from boostwright.systems.turbo import NO_PULSES, Pulses, TurboParts

__all__ = ["arrival_in"]

Array = NDArray[np.float64]

_SPEEDS: Final = 7  # of the surface
_ROWS: Final = 4  # plenum pressures of it
_CYCLES: Final = 2  # in each round of the search for the spark
_ROUGH_STEP: Final = 0.1  # of one draw of many [s]
_MIDDLE_HEAT: Final = 1100.0  # exhaust temperature about which the gas's heat capacity is straight [K]


def arrival_in(
    build: Build,
    solver: CycleSolver,
    base: Baseline,
    turbo: TurboParts,
    pulses: Pulses = NO_PULSES,
    form: Form = MIDDLE,
) -> Arrival:
    """The pulls of a build on an ordinary day, control holding the boost wanted.

    build: document. solver: of its engine and fuel. base: the engine without boost, whose best spark is the
    earliest tried. turbo: its parts. pulses: factors at the speeds of base, or one for all. form: where the
    models lie in their spread; a drawn one is followed without a spread of its own. Raises OutOfRange
    where the cycle gives no usable flow, or the goal lies below the pressure without boost.
    """
    engine, fuel, ambient = engine_of(build), fuel_of(build), ambient_of(build)
    air = charge_air_of(build)
    setup = transient_of(build, turbo, engine, air.volume + air.plenum_volume, ambient.pressure)
    setup = replace(
        setup,
        inertia=setup.inertia * form.inertia,
        start_temperature=setup.start_temperature + form.wall_start,
        step=_ROUGH_STEP if form.drawn else setup.step,
    )
    requests, reference = pulls_of(build, car_of(build))
    speed = _speeds(base.speeds, min(r.start for r in requests))
    lam = build.number("fuel.lambda_boost")
    gas = exhaust_gas(fuel, np.array(lam), np.array(_MIDDLE_HEAT))
    points = surface_points(engine, turbo, ambient, speed, setup.goal_pressure, gas, lam=lam, rows=_ROWS)
    best = np.tile(np.interp(speed, base.speeds, base.mbt_spark), _ROWS)
    finder = KnockLimited(solver, best, cycles=_CYCLES)
    there = Pulses(*(_at(speed, base.speeds, factor) for factor in (pulses.flow, pulses.power)))
    surface = knock_limited_surface(engine, points, finder, finder.first, there)
    if not form.drawn:
        return boost_arrival(turbo, ambient, surface, gas, setup, requests, reference)
    plain = boost_arrival(turbo, ambient, surface, gas, setup, requests, reference, with_spread=False)
    exact = tuple(pull._replace(arrival_sd=0.0, arrival_speed_sd=0.0) for pull in plain.pulls)
    return plain._replace(pulls=exact)


def _speeds(known: Array, lowest: float) -> Array:
    """Speeds of the surface, even from the first pull's start to the top [rad/s]."""
    low = max(float(known[0]), 0.9 * lowest)
    if known[-1] <= low:
        raise OutOfRange("The pulls begin above the speeds at which the engine was computed.")
    return np.linspace(low, float(known[-1]), _SPEEDS)


def _at(speed: Array, known: Array, factor: Array | float) -> Array | float:
    """A factor over speed at other speeds; one for all stays as it is."""
    values = np.asarray(factor, dtype=np.float64)
    return float(values) if values.ndim == 0 else np.interp(speed, known, values)
