"""The exhaust side written again for a library solver, with temperatures as states."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from scipy.integrate import solve_ivp

from boostwright.physics import valves
from boostwright.physics.gas import Mixture, cp_burned_frozen, h_burned_frozen
from boostwright.physics.heat_transfer import hohenberg_coefficient
from boostwright.physics.nozzle import nozzle_flow
from boostwright.physics.slider_crank import cylinder_volume, volume_slope
from boostwright.systems.engine.types import EngineGeometry

WALL = 450.0  # cylinder wall [K]
ENDS = 2.12  # crown and roof over the bore's area


class Rig(NamedTuple):
    """One operating point of the exhaust side."""

    engine: EngineGeometry
    gas: Mixture
    omega: float
    volume: float  # manifold [m3]
    turbine: Any  # callable (p, T) -> kg/s
    gate: float  # [m2]
    p4: float
    opening: tuple[float, float]  # mass [kg] and temperature [K] in a cylinder at exhaust opening
    port_loss: float  # [J/kg]
    steady: float | None = None  # pressure that the cylinders see instead of the manifold's [Pa]


class Story(NamedTuple):
    """The last firing interval, on an even grid of time."""

    time: np.ndarray
    p: np.ndarray
    T: np.ndarray
    flow_in: np.ndarray
    enthalpy_in: np.ndarray  # [W]
    flow_out: np.ndarray
    given: float  # by the cylinders over the interval [kg]


def _valve(rig: Rig, area: float, p: float, T: float, p3: float, T3: float) -> float:
    R = rig.gas.R_b
    hot, low = (T, p3 / p) if p >= p3 else (T3, p / p3)
    gamma = float(cp_burned_frozen(rig.gas, hot)) / (float(cp_burned_frozen(rig.gas, hot)) - R)
    flow = area * max(p, p3) / np.sqrt(R * hot) * float(valves.smooth_flow_function(low, gamma))
    return float(flow) if p >= p3 else -float(flow) * valves.EXHAUST_PORT.reverse


def _terms(rig: Rig, t: float, y: np.ndarray) -> tuple[np.ndarray, float, float, float]:
    """Rates, inflow and its enthalpy, outflow; t from the start of the interval [s]."""
    e, mix, R = rig.engine, rig.gas, rig.gas.R_b
    firing = 4 * np.pi / e.cylinders
    M, T3 = y[-2], y[-1]
    p3 = M * R * T3 / rig.volume
    rates = np.zeros_like(y)
    m_in, h_in = 0.0, 0.0
    for j in range((y.size - 2) // 2):
        theta = e.exhaust.opens + rig.omega * t + j * firing
        if theta >= e.exhaust.closes:
            continue
        m, T = y[2 * j], y[2 * j + 1]
        V = float(cylinder_volume(theta, e.bore, e.stroke, e.rod, e.compression_ratio))
        clearance = float(cylinder_volume(0.0, e.bore, e.stroke, e.rod, e.compression_ratio))
        dV = float(volume_slope(theta, e.bore, e.stroke, e.rod)) * rig.omega
        p = m * R * T / V
        lift = valves.cam_lift(theta, e.exhaust.opens, e.exhaust.closes, e.exhaust.lift, e.exhaust.cam_powers)
        area = float(valves.effective_area(lift, e.exhaust.diameter, e.exhaust.count, valves.EXHAUST_PORT))
        seen = p3 if rig.steady is None else rig.steady
        flow = _valve(rig, area, p, T, seen, T3)
        h, cp = float(h_burned_frozen(mix, T)), float(cp_burned_frozen(mix, T))
        donor = h if flow >= 0 else float(h_burned_frozen(mix, T3))
        speed = e.stroke * rig.omega / np.pi
        wall = ENDS * np.pi / 4 * e.bore**2 + 4 * (V - clearance) / e.bore
        Q = float(hohenberg_coefficient(V, p, T, speed)) * wall * (T - WALL)
        rates[2 * j] = -flow
        rates[2 * j + 1] = (-flow * (donor - (h - R * T)) - p * dV - Q) / (m * (cp - R))
        m_in += flow
        h_in += flow * (donor - (rig.port_loss if flow >= 0 else 0.0))
    out = float(rig.turbine(p3, T3))
    gamma = float(cp_burned_frozen(mix, T3)) / (float(cp_burned_frozen(mix, T3)) - R)
    out += float(nozzle_flow(rig.gate, p3, T3, rig.p4, R, gamma)) if rig.gate else 0.0
    h3, cp3 = float(h_burned_frozen(mix, T3)), float(cp_burned_frozen(mix, T3))
    rates[-2] = m_in - out
    rates[-1] = (h_in - m_in * (h3 - R * T3) - out * R * T3) / (M * (cp3 - R))
    return rates, m_in, h_in, out


def last_interval(rig: Rig, p3: float, T3: float, intervals: int, nodes: int = 400) -> Story:
    """Run so many firing intervals from a guess and tell the last one."""
    e, R = rig.engine, rig.gas.R_b
    firing = 4 * np.pi / e.cylinders
    ages = int(np.ceil((e.exhaust.closes - e.exhaust.opens) / firing - 1e-9))
    y = np.zeros(2 * ages + 2)
    for j in range(1, ages):
        theta = e.exhaust.opens + j * firing
        V = float(cylinder_volume(theta, e.bore, e.stroke, e.rod, e.compression_ratio))
        y[2 * j : 2 * j + 2] = p3 * V / (R * T3), T3
    y[-2:] = p3 * rig.volume / (R * T3), T3
    span = firing / rig.omega
    given = 0.0
    for _ in range(intervals):
        y[:2] = rig.opening
        before = y[0:-2:2].sum()
        found = solve_ivp(
            lambda t, s: _terms(rig, t, s)[0], (0.0, span), y, method="LSODA", rtol=1e-7, atol=1e-10,
            dense_output=True, max_step=span / 60,
        )  # fmt: skip
        given = before - found.y[0:-2:2, -1].sum()
        y = found.y[:, -1].copy()
        y[2:-2] = y[:-4].copy()
    time = np.linspace(0.0, span, nodes + 1)
    states = found.sol(time)
    terms = [_terms(rig, t, s) for t, s in zip(time, states.T, strict=True)]
    return Story(
        time,
        states[-2] * R * states[-1] / rig.volume,
        states[-1],
        np.array([q[1] for q in terms]),
        np.array([q[2] for q in terms]),
        np.array([q[3] for q in terms]),
        given,
    )
