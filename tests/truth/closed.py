"""The closed part of a cycle, from intake closing to exhaust opening, in plain NumPy and in integral form.

This is not the program's way: no rates are integrated. Every step finds the pressure at which the energy of
both zones equals what was there less work, wall heat and unburnt energy, so energy closes to round-off at any
step. Gas data are the program's; wall heat, burn and knock are passed in. All cycles run side by side.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.physics.gas import (
    Mixture,
    cp_burned_frozen,
    cp_fresh,
    equilibrium,
    h_burned_frozen,
    h_fresh,
)
from boostwright.physics.slider_crank import cylinder_volume, mean_piston_speed
from boostwright.systems.engine.types import EngineGeometry

__all__ = ["Burn", "Closed", "Inlet", "Laws", "run_closed"]

Array = NDArray[np.float64]

COMPRESSION_STEPS = 24
BURN_STEPS = 60
EXPANSION_STEPS = 16
MOST_TURNS = 12
KNOCK_END = 0.85  # burned share at which the knock integral stops [-]
START = 5.0e-4  # least burned share that is kept as a zone of its own [-]
LINER_AT_TDC = 4.0e-3  # [m]


class Inlet(NamedTuple):
    """The charge at intake closing; arrays (n,)."""

    omega: Array  # [rad/s]
    mass: Array  # [kg]
    residual: Array  # burned share by mass [-]
    temperature: Array  # [K]
    walls: Array  # (n, 3) piston, head, liner [K]


class Burn(NamedTuple):
    """When the charge burns: start and end [rad] (n,), and the burned share at angles (m, n) -> (m, n)."""

    start: Array
    end: Array
    share: Callable[[Array], Array]


@dataclass(frozen=True)
class Laws:
    """The laws of one engine. heat(p, T, gas constant, mean piston speed) [W/m2/K]; knock(p, T, residual mole
    fraction) growth of the integral [1/s]; unburnt: share of the fuel's energy that leaves unburnt [-].
    """

    heat: Callable[[Array, Array, float, Array], Array]
    knock: Callable[[Array, Array, Array], Array]
    unburnt: float


class Closed(NamedTuple):
    """What the closed part comes to; arrays (n,)."""

    work: Array  # on the piston [J]
    heat: Array  # to the walls [J]
    unburnt: Array  # energy not released [J]
    energy_before: Array  # internal energy at intake closing [J]
    energy_after: Array  # at exhaust opening, of the states that are there [J]
    peak_pressure: Array  # [Pa]
    knock: Array  # integral up to 85 % burned [-]
    ca10: Array  # [rad]
    ca50: Array
    ca90: Array
    pressure_after: Array  # at exhaust opening [Pa]
    temperature_after: Array  # [K]


@dataclass
class _Charge:
    """The charge on its way; arrays (n,)."""

    V: Array
    p: Array
    Tu: Array  # of the unburned zone, or of all of it before the burn
    Tb: Array
    share: Array  # burned
    core: Array  # adiabatic core of the unburned gas [K]
    energy: Array
    work: Array
    heat: Array
    unburnt: Array
    integral: Array
    peak: Array


class _Setting(NamedTuple):
    """What does not change over the closed part."""

    engine: EngineGeometry
    mix: Mixture
    laws: Laws
    inlet: Inlet
    gas: Array  # gas constant of the fresh charge with its residual [J/kg/K]
    speed: Array  # mean piston speed [m/s]
    loss: Array  # energy not released per kg of charge that burns [J/kg]
    mole: Array  # residual mole fraction [-]

    def h_unburned(self, T: Array) -> Array:
        y = self.inlet.residual
        return np.asarray((1.0 - y) * h_fresh(self.mix, T) + y * h_burned_frozen(self.mix, T))

    def cp_unburned(self, T: Array) -> Array:
        y = self.inlet.residual
        return np.asarray((1.0 - y) * cp_fresh(self.mix, T) + y * cp_burned_frozen(self.mix, T))

    def volume(self, theta: Array) -> Array:
        e = self.engine
        return cylinder_volume(theta, e.bore, e.stroke, e.rod, e.compression_ratio)

    def walls(self, V: Array) -> tuple[Array, Array]:
        """Wall area [m2], and area times wall temperature [m2 K]."""
        e = self.engine
        flat = 0.25 * np.pi * e.bore**2
        liner = np.pi * e.bore * ((V - e.clearance_volume) / flat + LINER_AT_TDC)
        crown, roof = e.piston_area_ratio * flat, e.head_area_ratio * flat
        piston, head, wall = self.inlet.walls.T
        return crown + roof + liner, crown * piston + roof * head + liner * wall


def run_closed(engine: EngineGeometry, mix: Mixture, inlet: Inlet, burn: Burn, laws: Laws) -> Closed:
    """Compress, burn and expand all cycles side by side.

    engine, mix: of all of them. inlet, burn: arrays (n,). laws: of this engine. Steps are equal parts of each
    cycle's own compression, burn and expansion.
    """
    y = inlet.residual
    gas = (1.0 - y) * mix.R_f + y * mix.R_b
    at = _Setting(
        engine,
        mix,
        laws,
        inlet,
        gas,
        mean_piston_speed(engine.stroke, inlet.omega),
        laws.unburnt * mix.lhv * mix.fuel_fraction * (1.0 - y),
        y / (y + (1.0 - y) * mix.R_f / mix.R_b),
    )
    begin = engine.intake.closes - 4.0 * np.pi
    finish = engine.exhaust.opens
    end = np.minimum(burn.end, finish - np.radians(2.0))
    marks = np.concatenate(
        [
            _parts(np.full_like(end, begin), burn.start, COMPRESSION_STEPS),
            _parts(burn.start, end, BURN_STEPS)[1:],
            _parts(end, np.full_like(end, finish), EXPANSION_STEPS)[1:],
        ]
    )
    shares = burn.share(marks)
    shares = np.where(shares < START, 0.0, np.where(shares > 1.0 - 1.0e-6, 1.0, shares))
    shares[: COMPRESSION_STEPS + 1] = 0.0
    volumes = at.volume(marks)
    now = _start(at, volumes[0])
    before = now.energy.copy()
    for j in range(1, len(marks)):
        _step(at, now, volumes[j], shares[j], (marks[j] - marks[j - 1]) / inlet.omega)
    ca = (_reached(marks, shares, level) for level in (0.1, 0.5, 0.9))
    return Closed(
        now.work, now.heat, now.unburnt, before, now.energy, now.peak, now.integral, *ca,
        now.p, now.Tb,
    )  # fmt: skip


def _parts(a: Array, b: Array, n: int) -> Array:
    return np.asarray(a + (b - a) * np.linspace(0.0, 1.0, n + 1)[:, None])


def _start(at: _Setting, V: Array) -> _Charge:
    T, m = at.inlet.temperature.copy(), at.inlet.mass
    zero = np.zeros_like(T)
    p = m * at.gas * T / V
    energy = m * (at.h_unburned(T) - at.gas * T)
    return _Charge(
        V, p, T, np.full_like(T, 2500.0), zero, T.copy(), energy, zero.copy(), zero.copy(), zero.copy(),
        zero.copy(), p.copy(),
    )  # fmt: skip


def _heat_flow(at: _Setting, V: Array, p: Array, Tu: Array, Tb: Array, share: Array) -> tuple[Array, Array]:
    """Wall heat of unburned gas per its mass [W/kg], and of all of the charge [W]."""
    m = at.inlet.mass
    T = p * V / (m * ((1.0 - share) * at.gas + share * at.mix.R_b))
    h = at.laws.heat(p, T, at.mix.R_b, at.speed)
    area, reach = at.walls(V)
    v_u = at.gas * Tu / p
    part_u = np.clip((1.0 - share) * m * v_u / V, 0.0, 1.0)
    by_unburned = h * (area * Tu - reach)
    by_burned = h * (area * Tb - reach)
    return by_unburned * v_u / V, part_u * by_unburned + (1.0 - part_u) * by_burned


def _step(at: _Setting, now: _Charge, V: Array, share: Array, dt: Array) -> None:
    """One step to the volume V and the burned share, in dt [s]."""
    lost = at.loss * (share - now.share) * at.inlet.mass
    p, Tu, Tb, flow = _balanced(at, now, V, share, dt, lost)
    work = 0.5 * (now.p + p) * (V - now.V)
    core = now.core
    for _ in range(2):  # no wall heat in the core
        v = 0.5 * (at.gas * now.core / now.p + at.gas * core / p)
        core = now.core + v * (p - now.p) / at.cp_unburned(0.5 * (now.core + core))
    grown = share - now.share
    counted = np.where(
        grown > 0.0,
        np.clip((KNOCK_END - now.share) / np.maximum(grown, 1.0e-12), 0.0, 1.0),
        now.share < KNOCK_END,
    )
    k0, k1 = at.laws.knock(now.p, now.core, at.mole), at.laws.knock(p, core, at.mole)
    now.integral = now.integral + _log_mean(k0, k1) * dt * counted
    now.work, now.heat, now.unburnt = now.work + work, now.heat + flow * dt, now.unburnt + lost
    now.V, now.p, now.Tu, now.Tb, now.share, now.core = V, p, Tu, Tb, share, core
    now.peak = np.maximum(now.peak, p)
    now.energy = _energy(at, p, V, Tu, Tb, share)


def _balanced(
    at: _Setting, now: _Charge, V: Array, share: Array, dt: Array, lost: Array
) -> tuple[Array, Array, Array, Array]:
    """Pressure, both temperatures and mean heat flow [W] at which the energy over the step closes."""
    m = at.inlet.mass
    burning = share > 0.0
    v0 = at.gas * now.Tu / now.p
    q0, Q0 = _heat_flow(at, now.V, now.p, now.Tu, now.Tb, now.share)
    p = now.p * (now.V / V) ** 1.33 * (1.0 + 2.0 * (share - now.share))
    Tu, Tb, q1, Q1 = now.Tu, now.Tb, q0, Q0
    older: tuple[Array, Array] | None = None
    for _ in range(MOST_TURNS):
        if burning.any():
            Tu = _unburned(at, now, p, v0, 0.5 * (q0 + q1) * dt)
            room = np.maximum(V - (1.0 - share) * m * at.gas * Tu / p, 0.0)
            R = equilibrium(at.mix, Tb, p).R
            hot = room * p / (np.maximum(share * m, 1.0e-12) * R)
            Tb = np.where(burning, np.clip(hot, 400.0, 3600.0), now.Tb)
        # before the burn the volume fixes the temperature
        Tu = np.where(burning, Tu, p * V / (m * at.gas))
        goal = now.energy - 0.5 * (now.p + p) * (V - now.V) - 0.5 * (Q0 + Q1) * dt - lost
        off = _energy(at, p, V, Tu, Tb, share) - goal
        slope = 3.6 * V
        if older is not None:
            with np.errstate(divide="ignore", invalid="ignore"):
                measured = (off - older[1]) / (p - older[0])
            slope = np.where((measured > 0.5 * V) & (measured < 40.0 * V), measured, slope)
        older = (p, off)
        if np.all(np.abs(off) < 1.0e-8 * p * V):
            break
        p = p - np.clip(off / slope, -0.2 * p, 0.2 * p)
        q1, Q1 = _heat_flow(at, V, p, Tu, Tb, share)
    return p, Tu, Tb, 0.5 * (Q0 + Q1)


def _energy(at: _Setting, p: Array, V: Array, Tu: Array, Tb: Array, share: Array) -> Array:
    """Internal energy of both zones in their states [J]."""
    m = at.inlet.mass
    unburned = (1.0 - share) * m * (at.h_unburned(Tu) - at.gas * Tu)
    if not (share > 0.0).any():
        return np.asarray(unburned)
    state = equilibrium(at.mix, Tb, p)
    return np.asarray(unburned + np.where(share > 0.0, share * m * (state.h - state.R * Tb), 0.0))


def _log_mean(a: Array, b: Array) -> Array:
    """Mean of a rate that grows exponentially from a to b."""
    ratio = np.log(np.maximum(b, 1.0e-30) / np.maximum(a, 1.0e-30))
    flat = np.abs(ratio) < 1.0e-6
    return np.asarray(np.where(flat, 0.5 * (a + b), (b - a) / np.where(flat, 1.0, ratio)))


def _unburned(at: _Setting, now: _Charge, p: Array, v0: Array, heat: Array) -> Array:
    """Temperature of the unburned zone at the new pressure: dh = v dp - q, by the mean of both ends."""
    Tu = now.Tu
    for _ in range(2):
        v = 0.5 * (v0 + at.gas * Tu / p)
        Tu = now.Tu + (v * (p - now.p) - heat) / at.cp_unburned(0.5 * (now.Tu + Tu))
    return np.clip(Tu, 250.0, 1500.0)


def _reached(marks: Array, shares: Array, level: float) -> Array:
    """Angle at which the burned share passes a level [rad] (n,)."""
    found = np.full(marks.shape[1], np.nan)
    for i in range(marks.shape[1]):
        row = shares[:, i]
        k = int(np.searchsorted(row, level))
        if 0 < k < len(row):
            part = (level - row[k - 1]) / (row[k] - row[k - 1])
            found[i] = marks[k - 1, i] + part * (marks[k, i] - marks[k - 1, i])
    return found
