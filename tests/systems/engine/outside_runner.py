"""A motored cycle with an inertance runner, written out plainly and left to SciPy's adaptive integrator.

Same equations as the compiled cycle, none of its code: cylinder, port, gas column and returned gas as one
system of ordinary differential equations, integrated over all 720 degrees, valves shut or open.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from boostwright.physics.gas import Mixture
from boostwright.systems.engine.types import EngineGeometry
from tests.systems.engine.outside_motored import STORE_SHARE, nozzle, opening

Array = NDArray[np.float64]


class WithRunner(NamedTuple):
    """One cycle's end and its measures."""

    mass: float  # [kg]
    temperature: float  # [K]
    peak_pressure: float  # at TDC [Pa]
    pumping: float  # [Pa]
    change: float  # [-]


class Plain:
    """The equations. State: m, U, port m, port U, q, store m, store H, then work, out m, out H."""

    def __init__(
        self, e: EngineGeometry, mix: Mixture, omega: float, p_in: float, T_in: float, p_ex: float
    ) -> None:
        self.e, self.mix, self.omega, self.p_in, self.T_in, self.p_ex = e, mix, omega, p_in, T_in, p_ex
        self.R = mix.R_f
        self.cp = np.array(mix.cp_f)
        self.intake, self.exhaust = opening(e.intake, 0.62, 0.235), opening(e.exhaust, 0.66, 0.225)
        self.bore_area = math.pi / 4 * e.bore**2
        self.h_in, _ = self.gas(T_in)
        self.rho = p_in / (self.R * T_in)
        self.fade = STORE_SHARE * self.rho * e.swept_volume
        self.drag = e.runner_loss / (2 * self.rho * e.runner_area**2)
        self.h_back = self.h_in
        self.last = [T_in + 20.0, T_in]

    def gas(self, T: float) -> tuple[float, float]:
        """Enthalpy and cp."""
        t, h, c = 1e-3 * T, 0.0, 0.0
        for j in range(6, -1, -1):
            c = c * t + float(self.cp[j])
            h = h * t + float(self.cp[j]) / (j + 1)
        return self.mix.h0_f + h * T, c

    def temperature(self, u: float, T: float) -> tuple[float, float, float]:
        """T, h and cp at internal energy ``u``."""
        while True:
            h, c = self.gas(T)
            step = (u - (h - self.R * T)) / (c - self.R)
            T += step
            if not abs(step) > 1e-9:
                return T, *self.gas(T)

    def volume(self, theta: float) -> tuple[float, float]:
        a, l, s = self.e.stroke / 2, self.e.rod, math.sin(theta)  # noqa: E741
        root = math.sqrt(l**2 - (a * s) ** 2)
        travel = a + l - a * math.cos(theta) - root
        return self.e.clearance_volume + self.bore_area * travel, self.bore_area * a * s * (
            1 + a * math.cos(theta) / root
        )

    def flow(
        self, area: float, a: tuple[float, float, float], b: tuple[float, float, float], back: float
    ) -> float:
        """From a to b; each is p, T, cp."""
        if area <= 0.0:
            return 0.0
        g = [side[2] / (side[2] - self.R) for side in (a, b)]
        if a[0] >= b[0]:
            return nozzle(area, a[0], a[1], b[0], self.R, g[0])
        return -back * nozzle(area, b[0], b[1], a[0], self.R, g[1])

    def rates(self, theta: float, s: Array) -> list[float]:
        m, U, mp, Up, q, ms, Hs = (float(x) for x in s[:7])
        V, dV = self.volume(theta)
        T, h, c = self.temperature(U / m, self.last[0])
        Tp, hp, cp = self.temperature(Up / mp, self.last[1])
        self.last = [T, Tp]
        p, pp = m * self.R * T / V, mp * self.R * Tp / self.e.port_volume
        into = self.flow(self.intake(theta), (pp, Tp, cp), (p, T, c), 1.0)
        out = self.flow(self.exhaust(theta), (p, T, c), (self.p_ex, T, c), 0.92)
        h_i, h_o = (hp if into >= 0 else h), (h if out >= 0 else self.h_back)
        share = ms / (ms + self.fade)
        push = self.p_in - pp - self.drag * abs(q) * q
        h_q = share * Hs / ms + (1 - share) * self.h_in if q >= 0 else hp
        taken, given = (share * q, share * q * Hs / ms) if q >= 0 else (q, q * hp)
        w = self.omega
        return [
            (into - out) / w,
            (into * h_i - out * h_o) / w - p * dV,
            (q - into) / w,
            (q * h_q - q * push / self.rho - into * h_i) / w,
            self.e.runner_area / self.e.runner_length * push / w,
            -taken / w,
            -given / w,
            p * dV,
            max(out, 0.0) / w,
            max(out, 0.0) * h / w,
        ]

    def run(self, start: Array, h_back: float, cycles: int) -> WithRunner:
        """Some cycles from intake closing; ``start`` (7,)."""
        e = self.e
        marks = sorted(
            {e.intake.closes - 4 * math.pi, 0.0, e.exhaust.opens, math.pi, e.intake.opens, e.exhaust.closes}
            | {3 * math.pi, e.intake.closes}
        )
        s, peak, pump, change = np.array([*start, 0.0, 0.0, 0.0]), 0.0, 0.0, 1.0
        self.h_back = h_back
        for _ in range(cycles):
            s[7:] = 0.0
            old, work = s.copy(), {}
            for a, b in pairwise(marks):
                scale = np.maximum(np.abs(s), [1e-4, 10, 1e-4, 10, 0.01, 1e-6, 1, 1, 1e-4, 100])
                found = solve_ivp(
                    self.rates, (a, b), s, method="LSODA", rtol=1e-7, atol=1e-9 * scale, max_step=0.1
                )
                s = found.y[:, -1]
                work[b] = s[7]
                if b == 0.0:
                    T, _, _ = self.temperature(s[1] / s[0], self.last[0])
                    peak = s[0] * self.R * T / e.clearance_volume
            pump = work[3 * math.pi] - work[math.pi]
            self.h_back = s[9] / s[8]
            change = float(np.abs(s[:4] / old[:4] - 1).max())
        T, _, _ = self.temperature(s[1] / s[0], self.last[0])
        return WithRunner(float(s[0]), T, float(peak), float(pump) / e.swept_volume, change)
