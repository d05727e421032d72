"""The energy and mass account of a cycle by an independent quadrature over all volumes.

Nothing here is shared with the integrator: gas properties, valve flows and wall heat are evaluated anew by
`boostwright.physics` at the recorded states, and integrated over the crank angle by splines. Volumes:
cylinder, intake port, the gas column in the runner (kinetic energy), and the store of gas that was pushed
back towards the plenum.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import NotConverged
from boostwright.physics.gas import (
    Mixture,
    cp_burned_frozen,
    cp_fresh,
    equilibrium,
    h_burned_frozen,
    h_fresh,
)
from boostwright.physics.heat_transfer import (
    hohenberg_coefficient,
    motored_pressure,
    woschni_coefficient,
)
from boostwright.physics.slider_crank import cylinder_volume, volume_slope
from boostwright.physics.valves import EXHAUST_PORT, INTAKE_PORT, valve_flow
from boostwright.systems.engine.cycle import STATUS_WORDS, CycleSolver
from boostwright.systems.engine.tables import valve_areas
from boostwright.systems.engine.types import EngineGeometry, HeatLaw, OperatingPoints

__all__ = ["Account", "energy_account"]

Array = NDArray[np.float64]


class Account(NamedTuple):
    """Energy of one cycle of one cylinder [J]; what the account misses, as shares of the fuel energy drawn
    in.
    """

    fuel_energy: float  # [J]
    work: float  # net, done by the gas [J]
    wall_heat: float  # to the walls [J]
    unburnt: float  # leaves unburnt [J]
    enthalpy_in: float  # with fresh charge from the plenum, chemical part included [J]
    enthalpy_out: float  # to the exhaust manifold, net [J]
    storage: float  # rise of energy in cylinder, port, runner and store over the cycle [J]
    residual: float  # over all volumes [-]
    compression: float  # over the cylinder, phase by phase [-]
    burn: float
    expansion: float
    exchange: float
    port: float  # over port, runner and store [-]
    mass_residual: float  # mass in less mass out less storage, share of the trapped mass [-]
    valve_law: (
        float  # flow by the valve law at the recorded states less flow counted, share of trapped mass [-]
    )
    periodicity: float  # greatest relative change of state over the cycle: how far from repeating [-]


class _Ground(NamedTuple):
    """What the account needs to evaluate rates at recorded states."""

    engine: EngineGeometry
    mix: Mixture
    omega: float
    heat_law: HeatLaw
    heat_factor: float
    walls: Array  # piston, head, liner [K]
    p_ref: float
    V_ref: float
    w_burn: float  # [m/s/Pa]
    lost: float  # [J/kg of charge burned]
    p_plenum: float
    T_inlet: float
    p_exhaust: float
    h_back: float
    port: float  # port volume [m3]

    def volume(self, theta: Array) -> tuple[Array, Array]:
        e = self.engine
        return (
            cylinder_volume(theta, e.bore, e.stroke, e.rod, e.compression_ratio),
            volume_slope(theta, e.bore, e.stroke, e.rod),
        )

    def heat_rate(
        self, p: Array, T: Array, V: Array, zones: tuple[tuple[Array, Array], ...], w: Array
    ) -> Array:
        """Wall heat per radian; ``zones``: pairs of share of the wall and gas temperature."""
        e = self.engine
        area = 0.25 * np.pi * e.bore**2
        liner = np.pi * e.bore * ((V - e.clearance_volume) / area + 4.0e-3)
        surfaces = (e.piston_area_ratio * area, e.head_area_ratio * area, liner)
        if self.heat_law is HeatLaw.WOSCHNI:
            h = woschni_coefficient(e.bore, p, T, w)
        else:
            h = hohenberg_coefficient(V, p, T, e.stroke * self.omega / np.pi)
        total = np.zeros_like(p)
        for share, gas in zones:
            total = total + share * sum(
                a * (gas - wall) for a, wall in zip(surfaces, self.walls, strict=True)
            )
        return np.asarray(self.heat_factor * h * total / self.omega)

    def combustion_velocity(self, p: Array, V: Array) -> Array:
        speed = self.engine.stroke * self.omega / np.pi
        return np.asarray(
            2.28 * speed + self.w_burn * np.maximum(p - motored_pressure(self.p_ref, self.V_ref, V), 0.0)
        )


def _integral(theta: Array, rate: Array) -> float:
    """Integral over the angle of a smooth rate known at the steps."""
    from scipy.interpolate import CubicSpline

    if theta.size < 4:
        return float(np.trapezoid(rate, theta))
    return float(CubicSpline(theta, rate).integrate(theta[0], theta[-1]))


def _frozen_state(mix: Mixture, T: Array, y: Array) -> tuple[Array, Array, Array]:
    """Enthalpy, gas constant and cp of the frozen charge."""
    h = (1 - y) * h_fresh(mix, T) + y * h_burned_frozen(mix, T)
    R = (1 - y) * mix.R_f + y * mix.R_b
    cp = (1 - y) * cp_fresh(mix, T) + y * cp_burned_frozen(mix, T)
    return h, R, cp


def _temperature(mix: Mixture, u: Array, y: Array, guess: Array) -> Array:
    T = np.array(guess)
    for _ in range(50):
        h, R, cp = _frozen_state(mix, T, y)
        step = (u - (h - R * T)) / (cp - R)
        T = T + step
        if np.max(np.abs(step)) < 1e-10:
            break
    return T


class _Phase(NamedTuple):
    start: float  # energy at its first record [J]
    end: float  # energy at its last record [J]
    work: float
    heat: float
    unburnt: float

    @property
    def miss(self) -> float:
        return self.start - self.end - self.work - self.heat - self.unburnt


_NOTHING = _Phase(0.0, 0.0, 0.0, 0.0, 0.0)


def _single_zone(g: _Ground, t: Array) -> _Phase:
    """Compression of the frozen charge."""
    theta, p, T = t[:, 0], t[:, 1], t[:, 2]
    V, dV = g.volume(theta)
    h, R, _ = _frozen_state(g.mix, T, t[:, 5] / t[:, 4])
    energy = t[:, 4] * (h - R * T)
    speed = g.engine.stroke * g.omega / np.pi
    heat = g.heat_rate(p, T, V, ((np.ones_like(p), T),), np.full_like(p, 2.28 * speed))
    return _Phase(float(energy[0]), float(energy[-1]), _integral(theta, p * dV), _integral(theta, heat), 0.0)


def _two_zones(g: _Ground, t: Array) -> _Phase:
    """Burn. What leaves unburnt follows from the mass that burned."""
    theta, p, Tu, Tb, mb, m = t[:, 0], t[:, 1], t[:, 2], t[:, 6], t[:, 7], t[:, 4]
    V, dV = g.volume(theta)
    y = t[:, 5] / m
    h, R, _ = _frozen_state(g.mix, Tu, y)
    hot = equilibrium(g.mix, Tb, p)
    energy = (m - mb) * (h - R * Tu) + mb * (hot.h - hot.R * Tb)
    share = np.minimum(mb * hot.R * Tb / p / V, 1.0)
    T_mean = p * V / ((m - mb) * R + mb * hot.R)
    heat = g.heat_rate(p, T_mean, V, ((1 - share, Tu), (share, Tb)), g.combustion_velocity(p, V))
    return _Phase(
        float(energy[0]),
        float(energy[-1]),
        _integral(theta, p * dV),
        _integral(theta, heat),
        float((mb[-1] - mb[0]) * g.lost),
    )


def _burned(g: _Ground, t: Array) -> _Phase:
    """Expansion of burned gas in equilibrium."""
    theta, p, T, m = t[:, 0], t[:, 1], t[:, 2], t[:, 4]
    V, dV = g.volume(theta)
    hot = equilibrium(g.mix, T, p)
    energy = m * (hot.h - hot.R * T)
    heat = g.heat_rate(p, T, V, ((np.ones_like(p), T),), g.combustion_velocity(p, V))
    return _Phase(float(energy[0]), float(energy[-1]), _integral(theta, p * dV), _integral(theta, heat), 0.0)


class _Exchange(NamedTuple):
    start: float  # cylinder energy at exhaust opening [J]
    end: float
    work: float
    heat: float
    into: float  # through the intake valve [J]
    out: float  # through the exhaust valve [J]
    enthalpy_in: float  # from the plenum [J]
    stored: float  # rise in port, runner, store [J]
    mass_miss: float  # [kg]
    valve_law: float  # counted less recomputed flow through both valves, greatest of both [kg]

    @property
    def cylinder(self) -> float:
        return self.start - self.end - self.work - self.heat + self.into - self.out

    @property
    def port(self) -> float:
        return self.enthalpy_in - self.into - self.stored


def _both_ways(
    area: Array, a: tuple[Array, Array, Array, Array], b: tuple[Array, Array, Array, Array], reverse: float
) -> Array:
    """Flow from a to b [kg/s]; each side is pressure, temperature, gas constant, gamma."""
    low = np.minimum(a[0], b[0])
    ahead = valve_flow(area, a[0], a[1], low, a[2], a[3])
    back = valve_flow(area * reverse, b[0], b[1], low, b[2], b[3])
    return np.where(a[0] >= b[0], ahead, -back)


class _Segments(NamedTuple):
    """Records between valve events, where everything is smooth."""

    theta: Array
    ends: list[int]

    def over(self, rate: Array) -> float:
        """Integral of a rate over the angle."""
        return sum(
            _integral(self.theta[a : b + 1], rate[a : b + 1])
            for a, b in zip(self.ends[:-1], self.ends[1:], strict=True)
            if b > a
        )

    def along(self, value: Array, counter: Array) -> float:
        """Integral of ``value`` over what a counter counted, both as cubics between the records."""
        from scipy.interpolate import CubicSpline, PchipInterpolator

        nodes, weights = np.polynomial.legendre.leggauss(5)
        total = 0.0
        for a, b in zip(self.ends[:-1], self.ends[1:], strict=True):
            if b - a < 3:
                steps = np.diff(counter[a : b + 1])
                total += float(np.sum(0.5 * (value[a:b] + value[a + 1 : b + 1]) * steps))
                continue
            x = self.theta[a : b + 1]
            count, smooth = (
                PchipInterpolator(x, counter[a : b + 1]).derivative(),
                CubicSpline(x, value[a : b + 1]),
            )
            half = 0.5 * np.diff(x)[:, None]
            at = 0.5 * (x[1:] + x[:-1])[:, None] + half * nodes
            total += float(np.sum(half * weights * smooth(at) * count(at)))
        return total


def _open(g: _Ground, s: Array, before: Array, edges: Array) -> _Exchange:
    """Gas exchange: enthalpies anew at every record, along the masses that the counters counted."""
    from boostwright.physics.kernels.exchange import STORE_SHARE

    theta, m, y, U = s[:, 0], s[:, 4], s[:, 5] / s[:, 4], s[:, 6]
    V, dV = g.volume(theta)
    T = _temperature(g.mix, U / m, y, s[:, 2])
    h, R, cp = _frozen_state(g.mix, T, y)
    p = m * R * T / V
    store = s[:, 11]
    share = store / (store + STORE_SHARE * g.p_plenum * g.engine.swept_volume / (g.mix.R_f * g.T_inlet))
    h_in = float(h_fresh(g.mix, g.T_inlet))
    h_up = share * s[:, 13] / store + (1 - share) * h_in
    y_up = share * s[:, 12] / store
    runner = g.engine.runner_length > 0.0
    if runner:
        y_port = s[:, 8] / s[:, 7]
        T_port = _temperature(g.mix, s[:, 9] / s[:, 7], y_port, np.full_like(m, g.T_inlet))
        h_port, R_port, cp_port = _frozen_state(g.mix, T_port, y_port)
        p_port = s[:, 7] * R_port * T_port / g.port
    else:
        y_port, h_port, T_port = y_up, h_up, np.full_like(m, g.T_inlet)
        R_port = (1 - y_port) * g.mix.R_f + y_port * g.mix.R_b
        cp_port = np.full_like(m, float(cp_fresh(g.mix, g.T_inlet)))
        p_port = np.full_like(m, g.p_plenum)
    inside = (p, T, R, cp / (cp - R))
    outside = (p_port, T_port, R_port, cp_port / (cp_port - R_port))
    manifold = (np.full_like(p, g.p_exhaust), T, R, inside[3])
    mi = _both_ways(valve_areas(g.engine.intake, INTAKE_PORT, theta), outside, inside, INTAKE_PORT.reverse)
    me = _both_ways(
        valve_areas(g.engine.exhaust, EXHAUST_PORT, theta), inside, manifold, EXHAUST_PORT.reverse
    )
    speed = g.engine.stroke * g.omega / np.pi
    heat = g.heat_rate(p, T, V, ((np.ones_like(p), T),), np.full_like(p, 6.18 * speed))
    cuts = np.searchsorted(theta, edges[1:-1] - 1e-9)
    segments = _Segments(theta, [0, *(int(c) for c in cuts), theta.size - 1])

    gone, came = s[:, 18], s[:, 21]  # counted out to and back from the manifold [kg]
    entered = m - m[0] + gone - came  # through the intake valve, net [kg]
    fresh = s[:, 16]
    rho = g.p_plenum / (g.mix.R_f * g.T_inlet)

    def held(row: Array) -> tuple[float, float]:
        """Energy and mass in port, runner and store at one record."""
        if not runner:
            return float(row[13]), float(row[11])
        kinetic = 0.5 * row[10] ** 2 * g.engine.runner_length / (rho * g.engine.runner_area)
        return float(row[9] + kinetic + row[13]), float(row[7] + row[11])

    first, last = held(before), held(s[-1])
    h_valve = np.where(mi >= 0, h_port, h)
    mass_miss = fresh[-1] - gone[-1] + came[-1] - (m[-1] - m[0]) - (last[1] - first[1])
    law = max(
        abs(segments.over(mi) / g.omega - entered[-1]), abs(segments.over(me) / g.omega - gone[-1] + came[-1])
    )
    return _Exchange(
        float(U[0]),
        float(U[-1]),
        segments.over(p * dV),
        segments.over(heat),
        segments.along(h_valve, entered),
        segments.along(h, gone) - g.h_back * float(came[-1]),
        float(fresh[-1]) * h_in,
        last[0] - first[0],
        float(mass_miss),
        float(law),
    )


def energy_account(solver: CycleSolver, point: OperatingPoints) -> Account:
    """Energy and mass account of the converged cycle at one operating point.

    The residual falls with the step of the integration; the distance from periodicity is reported apart.
    Raises NotConverged where there is no cycle to account for.
    """
    from boostwright.physics.kernels.cycle import R as column

    inputs, results, status, _, traces = solver.solve(point, rows=int(9000 * solver.refine))
    if status[0] == 2:
        raise NotConverged(STATUS_WORDS[int(status[0])])
    r, t = results[0], traces[0]
    t = t[: int(np.argmax(t[:, 4] == 0.0))]
    mix, k = inputs.found[0], inputs.kernel
    V_ref = float(solver.tables.volume[0])
    g = _Ground(
        engine=solver.engine,
        mix=mix,
        omega=float(k.omega[0]),
        heat_law=solver.heat_law,
        heat_factor=float(k.heat_factor[0]),
        walls=r[[column.t_piston, column.t_head, column.t_liner]],
        p_ref=float(r[column.p_ivc]),
        V_ref=V_ref,
        w_burn=float(3.24e-3 * solver.engine.swept_volume * r[column.t_ivc] / (r[column.p_ivc] * V_ref)),
        lost=float(k.loss[0] * mix.lhv * mix.fuel_fraction * (1.0 - r[column.burned])),
        p_plenum=float(k.p_plenum[0]),
        T_inlet=float(k.T_inlet[0]),
        p_exhaust=float(k.p_exhaust[0]),
        h_back=float(r[column.h_out] / r[column.m_out]),
        port=solver.engine.port_volume,
    )
    parts = [t[t[:, 3] == code] for code in (0.0, 1.0, 2.0, 3.0, 4.0)]
    compression = _single_zone(g, parts[0])
    burn = _two_zones(g, parts[1]) if parts[1].shape[0] > 1 else _NOTHING
    expansion = _burned(g, parts[2]) if parts[2].shape[0] > 1 else _NOTHING
    # port and runner swing on while the valves are shut: their account starts at intake closing
    before = parts[4][0] if parts[4].shape[0] else parts[3][0]
    exchange = _open(g, parts[3], before, solver.tables.edges)
    fuel = float(r[column.fresh] * mix.fuel_fraction * mix.lhv)
    phases = (compression, burn, expansion)
    work = sum(x.work for x in phases) + exchange.work
    heat = sum(x.heat for x in phases) + exchange.heat
    unburnt = sum(x.unburnt for x in phases)
    storage = exchange.end - compression.start + exchange.stored
    # energy handed from phase to phase (flame kernel, merging, freezing) is part of the account
    miss = exchange.enthalpy_in - exchange.out - work - heat - unburnt - storage
    return Account(
        fuel_energy=fuel,
        work=work,
        wall_heat=heat,
        unburnt=unburnt,
        enthalpy_in=exchange.enthalpy_in,
        enthalpy_out=exchange.out,
        storage=storage,
        residual=miss / fuel,
        compression=compression.miss / fuel,
        burn=burn.miss / fuel,
        expansion=expansion.miss / fuel,
        exchange=exchange.cylinder / fuel,
        port=exchange.port / fuel,
        mass_residual=exchange.mass_miss / float(r[column.mass]),
        valve_law=exchange.valve_law / float(r[column.mass]),
        periodicity=float(r[column.change]),
    )
