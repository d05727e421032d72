"""An engine cycle as a Cantera reactor network, as one would write it there.

Simpler than ours, so that the comparison leans towards Cantera: one zone, one heat-transfer coefficient, a
Wiebe law, no runner, no knock, no flame. Three kinds, see `Kind`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from enum import Enum
from typing import Any, NamedTuple

import cantera as ct
import numpy as np

from boostwright.physics.kernels.flow import valve_flow
from boostwright.systems.engine.tables import cylinder_tables
from boostwright.systems.engine.types import EngineGeometry

__all__ = ["Kind", "ReactorCycle", "ReactorFigures"]

SPECIES = ("N2", "O2", "CO2", "H2O", "C3H8")
DISSOCIATED = ("CO", "H2", "OH", "H", "O", "NO")
FRESH = "C3H8:0.0467, O2:0.2060, N2:0.7473"  # by mole, lambda near 0.88
BURNED = "CO2:0.1, H2O:0.17, N2:0.73"
RELEASE = 2.7e6  # heat of the burn per kg of charge [J/kg]
WIEBE, SPAN = 6.908, math.radians(55.0)  # of the burn, with m = 2
HEAT = 500.0  # wall coefficient [W/m2/K]
USUAL_DROP = 4.0e3  # pressure drop at which the linear valve passes what the nozzle does [Pa]


class Kind(Enum):
    """How much of the physics is in it."""

    LINEAR = "heat release, linear valves"  # the library's own valves, flow linear in the pressure drop
    NOZZLE = "heat release, nozzle valves"  # flow controllers that ask for our own valve equation
    EQUILIBRIUM = "equilibrium burned gas, nozzle valves"  # composition set anew after every step of the burn


class ReactorFigures(NamedTuple):
    """One cycle: net work [J], mass at intake closing [kg], peak pressure [Pa], steps taken."""

    work: float
    mass: float
    p_max: float
    steps: int


class ReactorCycle:
    """One cylinder at one speed [rad/s], plenum and exhaust state, spark [rad].

    ``step``: longest step [rad], so that peak and work are seen.
    """

    def __init__(
        self, engine: EngineGeometry, omega: float, p_plenum: float, T_plenum: float, p_exhaust: float,
        spark: float, *, rtol: float, kind: Kind = Kind.NOZZLE, step: float = math.radians(1.0),
    ) -> None:  # fmt: skip
        self.tables, self.omega, self.kind = cylinder_tables(engine), omega, kind
        self.period = 4.0 * np.pi / omega
        all_species = {s.name: s for s in ct.Species.list_from_file("gri30.yaml")}

        names = SPECIES + DISSOCIATED if kind is Kind.EQUILIBRIUM else SPECIES

        def gas(T: float, p: float, X: str) -> ct.Solution:
            phase = ct.Solution(thermo="ideal-gas", species=[all_species[n] for n in names])
            phase.TPX = T, p, X
            return phase

        area = self.tables.bore_area
        self.phase, self.burned = gas(350.0, 1.2e5, FRESH), gas(350.0, 1.2e5, FRESH)
        self.cylinder = ct.IdealGasReactor(self.phase, energy="on", clone=False)
        self.cylinder.volume = float(self.tables.volume[0])
        plenum = ct.Reservoir(gas(T_plenum, p_plenum, FRESH), clone=False)
        manifold = ct.Reservoir(gas(1000.0, p_exhaust, BURNED), clone=False)
        outside = ct.Reservoir(gas(420.0, 1.0e5, BURNED), clone=False)
        self._keep: list[Any] = [plenum, manifold, outside]
        self._keep.append(ct.Wall(outside, self.cylinder, A=area, velocity=self._speed(engine)))
        self._keep.append(ct.Wall(outside, self.cylinder, A=3.0 * area, U=HEAT))
        mass = p_plenum * engine.swept_volume / (288.0 * T_plenum)
        self.spark_time, self.evo_time = ((a - self.tables.theta0) / omega for a in (spark, self.tables.evo))
        self.share = self._burned_share(spark)
        if kind is not Kind.EQUILIBRIUM:
            release = self._release(mass * RELEASE, spark)
            self._keep.append(ct.Wall(outside, self.cylinder, A=1.0, Q=release))
        for opening, port, reverse in (
            (self.tables.intake_area, plenum, self.tables.intake_reverse),
            (self.tables.exhaust_area, manifold, self.tables.exhaust_reverse),
        ):
            lift = self._table(opening)
            if kind is Kind.LINEAR:
                self._keep += self._linear(lift, port)
            else:
                self._keep += self._nozzles(lift, port, reverse)
        self.net = ct.ReactorNet([self.cylinder])
        self.net.rtol, self.net.atol = rtol, rtol * 1.0e-6
        self.net.max_time_step = step / omega

    def _linear(self, lift: Callable[[float], float], port: ct.Reservoir) -> list[Any]:
        """Two one-way valves of the library; they pass what a nozzle does at the usual pressure drop."""
        coefficient = math.sqrt(2.0 * port.thermo.density / USUAL_DROP)  # [kg/s/Pa] per m2 of effective area
        found = []
        for a, b in ((port, self.cylinder), (self.cylinder, port)):
            valve = ct.Valve(a, b, K=coefficient)
            valve.time_function = lift
            found.append(valve)
        return found

    def _nozzles(self, lift: Callable[[float], float], port: ct.Reservoir, reverse: float) -> list[Any]:
        """Two flow controllers, one for each direction, with the flow of a nozzle.

        The intake's own direction is into the cylinder, the exhaust's out of it; ``reverse`` scales the
        other.
        """
        gas, p, RT = self.phase, port.thermo.P, port.thermo.P / port.thermo.density
        gamma = port.thermo.cp / port.thermo.cv
        into, out = (1.0, reverse) if port.thermo.T < 600.0 else (reverse, 1.0)

        def inward(t: float) -> float:
            area, p_c = lift(t), gas.P
            if area <= 0.0 or p_c >= p:
                return 0.0
            return float(valve_flow(area * into, p, RT, gamma, p_c, RT, gamma, 1.0)[0])

        def outward(t: float) -> float:
            area, p_c = lift(t), gas.P
            if area <= 0.0 or p_c <= p:
                return 0.0
            inside = p_c / gas.density, gas.cp / gas.cv
            return float(valve_flow(area * out, p_c, *inside, p, RT, gamma, 1.0)[0])

        return [
            ct.MassFlowController(port, self.cylinder, mdot=inward),
            ct.MassFlowController(self.cylinder, port, mdot=outward),
        ]

    def _speed(self, engine: EngineGeometry) -> Callable[[float], float]:
        """Piston towards the head, the wall's positive direction [m/s]."""
        crank, rod = 0.5 * engine.stroke, engine.rod
        theta0, omega = self.tables.theta0, self.omega

        def piston_speed(t: float) -> float:
            angle = theta0 + omega * t
            s, c = math.sin(angle), math.cos(angle)
            return -omega * crank * s * (1.0 + crank * c / math.sqrt(rod * rod - crank * crank * s * s))

        return piston_speed

    def _burned_share(self, spark: float) -> Callable[[float], float]:
        theta0, omega = self.tables.theta0, self.omega
        return lambda t: 1.0 - math.exp(-WIEBE * (max(0.0, theta0 + omega * t - spark) / SPAN) ** 3)

    def _release(self, energy: float, spark: float) -> Callable[[float], float]:
        theta0, omega = self.tables.theta0, self.omega

        def power(t: float) -> float:
            z = (theta0 + omega * t - spark) / SPAN
            if not 0.0 < z < 2.0:
                return 0.0
            return energy * WIEBE * 3.0 * z * z * math.exp(-WIEBE * z**3) / SPAN * omega

        return power

    def _burn(self, t: float, start: np.ndarray) -> None:
        """Composition at ``t``: what is burned in equilibrium, the rest as at spark; energy kept."""
        gas, burned, x = self.phase, self.burned, self.share(t)
        burned.TPY = max(gas.T, 1000.0), gas.P, start
        burned.equilibrate("TP")
        gas.UVY = gas.u, gas.v, (1.0 - x) * start + x * burned.Y
        self.cylinder.syncState()
        self.net.reinitialize()

    def _table(self, values: np.ndarray) -> Callable[[float], float]:
        n, omega = values.size - 1, self.omega
        grid = [float(v) for v in values]

        def opening(t: float) -> float:
            x = (omega * t / (4.0 * math.pi)) % 1.0 * n
            i = int(x)
            return grid[i] + (x - i) * (grid[i + 1] - grid[i])

        return opening

    def cycle(self) -> ReactorFigures:
        """One cycle from intake closing to intake closing, by the net's own steps; figures on the way."""
        net, cylinder = self.net, self.cylinder
        net.initial_time = 0.0  # every cycle on the same clock; restarts the integrator
        cylinder.volume = float(self.tables.volume[0])
        net.reinitialize()
        mass = cylinder.mass
        p, V, t = [cylinder.thermo.P], [cylinder.volume], 0.0
        equilibrium, start = self.kind is Kind.EQUILIBRIUM, None
        step = net.max_time_step
        while t < self.period:
            if equilibrium and self.spark_time - 1.001 * step < t < self.evo_time:
                if start is None:
                    net.advance(self.spark_time)
                    start = self.phase.Y.copy()
                t = min(max(net.time + step, self.spark_time), self.evo_time)
                net.advance(t)
                self._burn(t, start)
            elif self.period - t > 1.001 * step:
                t = net.step()
            else:
                t = net.advance(self.period)
            p.append(cylinder.thermo.P)
            V.append(cylinder.volume)
        return ReactorFigures(float(np.trapezoid(p, V)), mass, max(p), len(p))
