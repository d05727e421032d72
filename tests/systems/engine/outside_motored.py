"""A motored cycle with valves as a Cantera reactor network: same engine, none of our code but its dimensions.

The cylinder is a reactor behind a moving wall. Each valve is a pair of flow controllers whose flow follows
from the states on its two sides. Gas pushed back into the intake waits in a reactor at plenum pressure and
goes in again first; what leaves by the exhaust is gathered in another, whose temperature is what comes back.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from scipy.interpolate import CubicSpline

from boostwright.systems.engine.types import EngineGeometry, Fuel, ValveTrain
from tests.systems.engine.outside_gas import charge

SMOOTHING = 3e-3  # near equal pressures, as our valve law states it
STORE_SHARE = 0.02  # of the swept mass, as our store of returned gas states it


class Motored(NamedTuple):
    """One cycle's end and its measures."""

    mass: float  # at intake closing [kg]
    temperature: float  # there [K]
    peak_pressure: float  # at TDC [Pa]
    pumping: float  # between the bottom dead centres, over swept volume [Pa]
    change: float  # of the mass over the last cycle [-]


def opening(valves: ValveTrain, c: float, x0: float) -> Callable[[float], float]:
    """Effective area over the crank angle: five-term cam, C_f = c tanh(L/D/x0) on valve head area."""
    p, q, r = valves.cam_powers
    c2 = -p * q * r / ((p - 2) * (q - 2) * (r - 2))
    cp = 2 * q * r / ((p - 2) * (q - p) * (r - p))
    cq = -2 * p * r / ((q - 2) * (q - p) * (r - q))
    cr = 2 * p * q / ((r - 2) * (r - p) * (r - q))
    head = valves.count * math.pi / 4 * valves.diameter**2 * valves.flow_factor * c

    def area(theta: float) -> float:
        x = abs((2 * theta - valves.opens - valves.closes) / (valves.closes - valves.opens))
        if x >= 1.0:
            return 0.0
        lift = valves.lift * (1 + c2 * x**2 + cp * x**p + cq * x**q + cr * x**r)
        return head * math.tanh(lift / valves.diameter / x0)

    return area


def nozzle(area: float, p: float, T: float, p_down: float, R: float, g: float) -> float:
    """Flow [kg/s] through an ideal nozzle, rounded off near equal pressures."""
    x = p_down / p
    if x <= (2 / (g + 1)) ** (g / (g - 1)):
        psi = math.sqrt(g) * (2 / (g + 1)) ** ((g + 1) / (2 * (g - 1)))
    else:
        d = 1 - x
        square = 2 * g / (g - 1) * (x ** (2 / g) - x ** ((g + 1) / g)) * d / math.hypot(d, SMOOTHING)
        psi = math.sqrt(max(square, 0.0))
    return area * p / math.sqrt(R * T) * psi


class Rig:
    """One engine at one speed between a plenum and an exhaust manifold, without heat loss."""

    def __init__(
        self, ct: Any, e: EngineGeometry, omega: float, p_in: float, T_in: float, p_ex: float, lam: float
    ):
        self.ct, self.e, self.omega = ct, e, omega
        self.p_in, self.T_in, self.p_ex, self.lam = p_in, T_in, p_ex, lam
        self.start = e.intake.closes - 4 * math.pi
        self.bore_area = math.pi / 4 * e.bore**2
        self.swept = self.bore_area * e.stroke
        self.intake, self.exhaust = opening(e.intake, 0.62, 0.235), opening(e.exhaust, 0.66, 0.225)
        events = (e.exhaust.opens, e.intake.opens, e.exhaust.closes)
        self.marks = sorted({0.0, math.pi, 2 * math.pi, 3 * math.pi, *events, e.intake.closes})

    def volume(self, theta: float) -> float:
        a, l = self.e.stroke / 2, self.e.rod  # noqa: E741
        travel = a + l - a * math.cos(theta) - math.sqrt(l**2 - (a * math.sin(theta)) ** 2)
        return self.swept / (self.e.compression_ratio - 1) + self.bore_area * travel

    def slope(self, theta: float) -> float:
        a, l, s = self.e.stroke / 2, self.e.rod, math.sin(theta)  # noqa: E741
        return self.bore_area * a * s * (1 + a * math.cos(theta) / math.sqrt(l**2 - (a * s) ** 2))

    def cycle(self, T: float, p: float, back: float, store: tuple[float, float]) -> tuple[Any, ...]:
        """From intake closing to intake closing."""
        ct, tank = self.ct, Fuel()
        gases = [charge(ct, tank, self.lam) for _ in range(6)]
        states = ((T, p), (self.T_in, self.p_in), (back, self.p_ex), (store[1], self.p_in), (back, self.p_ex))
        for gas, state in zip(gases, (*states, (self.T_in, self.p_in)), strict=True):
            gas.TP = state
        in_cylinder, fresh, behind, returned, gone, around = gases
        cylinder = ct.IdealGasReactor(in_cylinder, clone=False)
        cylinder.volume = self.volume(self.start)
        plenum, manifold, outside = (ct.Reservoir(g, clone=False) for g in (fresh, behind, around))
        waiting = ct.IdealGasConstPressureReactor(returned, clone=False)
        waiting.volume = store[0] / returned.density
        gathered = ct.IdealGasConstPressureReactor(gone, clone=False)
        gathered.volume = 1e-9 / gone.density
        for reactor in (cylinder, waiting, gathered):
            reactor.chemistry_enabled = False
        R = ct.gas_constant / in_cylinder.mean_molecular_weight
        g_in = fresh.cp_mass / (fresh.cp_mass - R)
        fade = STORE_SHARE * fresh.density * self.swept
        known: dict[str, Any] = {"at": None}

        def flows(t: float) -> tuple[float, float]:
            gas = cylinder.phase
            key = (t, gas.P, gas.T)
            if known["at"] == key:
                return known["flows"]  # type: ignore[no-any-return]
            _, P, T = key
            g = gas.cp_mass / (gas.cp_mass - R)
            theta = self.start + self.omega * t
            a_in, a_ex = self.intake(theta), self.exhaust(theta)
            if self.p_in >= P:
                into = nozzle(a_in, self.p_in, self.T_in, P, R, g_in) if a_in else 0.0
            else:
                into = -nozzle(a_in, P, T, self.p_in, R, g) if a_in else 0.0
            if self.p_ex <= P:
                out = nozzle(a_ex, P, T, self.p_ex, R, g) if a_ex else 0.0
            else:
                out = -0.92 * nozzle(a_ex, self.p_ex, T, P, R, g) if a_ex else 0.0
            known["at"], known["flows"] = key, (into, out)
            return into, out

        def share() -> float:
            m = max(waiting.mass - 1e-10, 0.0)
            return m / (m + fade)

        keep = [  # the network does not keep these alive
            ct.Wall(
                cylinder,
                outside,
                A=1.0,
                velocity=lambda t: self.slope(self.start + self.omega * t) * self.omega,
            ),
            ct.MassFlowController(plenum, cylinder, mdot=lambda t: max(flows(t)[0], 0.0) * (1 - share())),
            ct.MassFlowController(waiting, cylinder, mdot=lambda t: max(flows(t)[0], 0.0) * share()),
            ct.MassFlowController(cylinder, waiting, mdot=lambda t: max(-flows(t)[0], 0.0)),
            ct.MassFlowController(cylinder, gathered, mdot=lambda t: max(flows(t)[1], 0.0)),
            ct.MassFlowController(manifold, cylinder, mdot=lambda t: max(-flows(t)[1], 0.0)),
        ]
        net = ct.ReactorNet(
            [waiting, gathered, cylinder]
        )  # flows are set last by the cylinder, with all states new
        net.rtol, net.atol = 1e-7, 1e-13
        net.max_time_step = math.radians(1.0) / self.omega
        peak, pumping, theta = 0.0, 0.0, self.start
        for mark in self.marks:
            angles = np.linspace(theta, mark, max(8, int(np.degrees(mark - theta))) + 1)
            pressure = [cylinder.phase.P]
            for angle in angles[1:]:
                net.advance((angle - self.start) / self.omega)
                pressure.append(cylinder.phase.P)
            if mark == 0.0:
                peak = cylinder.phase.P
            if math.pi < mark <= 3 * math.pi:
                rate = np.array(pressure) * np.array([self.slope(a) for a in angles])
                pumping += float(CubicSpline(angles, rate).integrate(angles[0], angles[-1]))
            theta = mark
            net.reinitialize()
        del keep
        end = cylinder.phase
        return cylinder.mass, end.T, end.P, peak, pumping, gathered.phase.T, (waiting.mass, waiting.phase.T)

    def run(self, T: float, p: float, back: float, cycles: int) -> Motored:
        """Some cycles from a first guess of charge temperature, pressure, and of what comes back."""
        store, mass, change = (1e-7, self.T_in), 0.0, 1.0
        for _ in range(cycles):
            old = mass
            mass, T, p, peak, pumping, back, store = self.cycle(T, p, back, store)
            change = abs(old / mass - 1)
        return Motored(mass, T, peak, pumping / self.swept, change)
