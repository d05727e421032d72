"""A drive whose readings are the cycle's own, at a truth that is drawn: what the comparison must give back.

This is the model against itself: it shows that bands, signs and slopes are right, and is no evidence that the
model is. That is what the drives of the simulator are for.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.drive.records import Stretch
from boostwright.drive.rows import Rows
from boostwright.physics.fuel import stoichiometric_air_fuel_ratio
from boostwright.physics.injection import dead_time, delivered_mass_flow
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.types import ModelFactors, OperatingPoints
from boostwright.systems.stated.engine import engine_of, factors_of, fuel_of
from boostwright.systems.stated.fuel_side import fuel_side_of

Array = NDArray[np.float64]
RPM = np.pi / 30
OUTSIDE = 97.4e3
RAIL = 300e3  # across the injectors [Pa]
STEADY = ((1800.0, 35e3), (2200.0, 50e3), (2600.0, 65e3), (3000.0, 80e3))  # rpm, manifold pressure


def states(seconds: float = 6.0, rate: float = 10.0) -> tuple[Array, Array, Array, tuple[Stretch, ...]]:
    """Time, speed, manifold pressure of two pulls and four steady stretches, and the stretches."""
    t, w, p, found = [], [], [], []
    at = 0.0
    for k in range(2):
        own = np.arange(0.0, seconds, 1 / rate)
        way = own / seconds
        found.append(Stretch("pull", at, at + own[-1], 0, 0))
        t.append(at + own)
        w.append((1900 + 3900 * way) * RPM)
        p.append(99e3 + (38e3 - 4e3 * k) * np.clip(4 * way - 0.3, 0, 1))
        at += seconds + 3.0
    for speed, pressure in STEADY:
        own = np.arange(0.0, 3.0, 1 / rate)
        found.append(Stretch("steady", at, at + own[-1], 0, 0))
        t.append(at + own)
        w.append(np.full(own.shape, speed * RPM))
        p.append(np.full(own.shape, pressure))
        at += 6.0
    return np.concatenate(t), np.concatenate(w), np.concatenate(p), tuple(found)


def logged(
    build: Build,
    factors: ModelFactors | None = None,
    flow: float = 1.0,
    noise: float = 0.0,
    seed: int = 0,
    sensors: dict[str, float] | None = None,
    **more: Any,
) -> tuple[Rows, tuple[Stretch, ...]]:
    """Rows of that drive.

    factors, flow: of the true engine, and of its injectors over those stated. noise: share. sensors: what is
    added to a channel as it is logged; lambda: a share. more: channels put in their place.
    """
    t, w, p, stretches = states()
    n = t.size
    lam = np.where(p > 95e3, 0.82, 1.0)
    spark = np.radians(np.where(p > 95e3, 20.0, 32.0))
    T = np.full(n, 305.0)
    back = OUTSIDE + np.maximum(1.2 * (p - OUTSIDE), 12e3 * (w / (6000 * RPM)) ** 2)
    solver = CycleSolver(engine_of(build), fuel_of(build), factors=factors or factors_of(build))
    states_of, back_to = np.unique(np.stack([w, p, T, back, lam, -spark]), axis=1, return_inverse=True)
    once = solver.run(OperatingPoints(*states_of))
    air, exhaust = (
        np.asarray(c)[back_to.ravel()] for c in (once.air_flow, once.exhaust_manifold_temperature)
    )
    parts = fuel_side_of(build)
    i = parts.injectors
    rate = delivered_mass_flow(i.flow * flow, RAIL, parts.density, i.rated_difference, i.test_density)
    dead = dead_time(13.8, RAIL, i.dead_time, i.dead_time_slope, i.dead_time_difference)
    ratio = float(stoichiometric_air_fuel_ratio(parts.ethanol_share))
    pulse = air / (ratio * lam) * 4 * np.pi / w / i.count / rate + dead
    values = {
        "engine_speed": w,
        "manifold_pressure": p,
        "intake_temperature": T,
        "lambda": lam,
        "spark_advance": spark,
        "back_pressure": back,
        "injector_pulse": pulse,
        "battery_voltage": np.full(n, 13.8),
        "fuel_pressure_difference": np.full(n, RAIL),
        "exhaust_temperature": exhaust - 50.0,
        "air_flow": air,
        "barometer": np.full(n, OUTSIDE),
        "knock_retard": np.zeros(n),
    }
    rng = np.random.default_rng(seed)
    for key, off in (sensors or {}).items():
        values[key] = values[key] * (1 + off) if key in ("lambda", "air_flow") else values[key] + off
    if noise:
        for key in ("injector_pulse", "air_flow", "lambda"):
            values[key] = values[key] * (1 + noise * rng.normal(size=n))
    for key, value in more.items():
        values[key] = np.broadcast_to(
            np.asarray(value(values) if callable(value) else value, dtype=float), (n,)
        )
    return Rows(t, np.arange(n), values), stretches


def pulls_of(stretches: tuple[Stretch, ...]) -> list[Stretch]:
    return [s for s in stretches if s.kind == "pull"]


def steady_of(stretches: tuple[Stretch, ...]) -> list[Stretch]:
    return [s for s in stretches if s.kind == "steady"]


def drawn(build: Build, rng: np.random.Generator) -> tuple[ModelFactors, dict[str, float]]:
    """Factors of an engine drawn from what the build leaves open, and each move in its own unit."""
    f = factors_of(build)
    z = {name: float(rng.normal()) for name in ("breathing", "slope", "friction", "burn", "heat", "cooling")}
    moved = replace(
        f,
        breathing=f.breathing * np.exp(0.08 * z["breathing"]),
        breathing_slope=f.breathing_slope + 0.08 * z["slope"],
        friction=f.friction * np.exp(0.15 * z["friction"]),
        burn=f.burn * np.exp(0.2 * z["burn"]),
        heat=f.heat * np.exp(0.15 * z["heat"]),
        exhaust_cooling=f.exhaust_cooling * np.exp(0.25 * z["cooling"]),
    )
    return moved, z
