"""Rates of the exhaust side of an engine, cylinders and manifold, and the implicit part of its step.

See `manifold`, which steps them. Enthalpies count from 0 K of the polynomial, h = T sum c_i t^i/(i+1), t =
T/1000; all gas is burned gas of one composition, so the zero does not matter.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.physics.kernels.flow import nozzle, valve_flow
from boostwright.physics.kernels.heat import coefficient
from boostwright.physics.kernels.jit import inner, outer

__all__ = [
    "N_TOTAL",
    "ExhaustTables",
    "ExhaustTotals",
    "ManifoldPoints",
    "OnePoint",
    "X",
    "implicit",
    "rates",
    "sensible",
    "swallowing",
]

Array = NDArray[np.float64]

ROUND = 2.0e-5
"""1 - (p4/p3)^k below which the turbine's square root at equal pressures is rounded off [-]."""
N_TOTAL = 5


class ExhaustTables(NamedTuple):
    """One engine's exhaust side over the crank angle from exhaust opening on; every interval has the same
    steps.
    """

    steps: int  # in one firing interval
    slots: int  # firing intervals that an exhaust valve is open, rounded up
    halves: int  # 1: one manifold, 2: two
    width: Array  # (steps,) of each step [rad]
    volume: Array  # (slots steps + 1,) of the cylinder [m3]
    volume_slope: Array  # (slots steps + 1,) [m3/rad]
    area: Array  # (slots steps + 1,) effective area of a cylinder's exhaust valves [m2]
    wall: Array  # (slots steps + 1,) wall area of the cylinder [m2]
    reverse: float  # discharge factor for flow back into the cylinder [-]


class ManifoldPoints(NamedTuple):
    """Operating points; every array has shape (n,) unless it says otherwise."""

    omega: Array  # crank speed [rad/s]
    volume: Array  # of one half manifold [m3]
    p4: Array  # behind turbine and gate [Pa]
    turbine: Array  # area times flow constant, both entries together [m2]
    exponent: Array  # of the swallowing form [-]
    alone: Array  # share by which an entry fed alone swallows more than its half [-]
    gate: Array  # effective area of the open gate [m2]
    leak: Array  # effective area between the two halves [m2]
    R: Array  # gas constant [J/kg/K]
    cp: Array  # (n, 7) polynomial of the heat capacity in T/1000 [J/kg/K]
    h: Array  # (n, 7) the same over 1..7
    mass: Array  # that a cylinder must give in a cycle, net [kg]
    enthalpy: Array  # that its gas must have at the valve in the mean [J/kg]
    loss: Array  # heat that it loses on the way into the manifold [J/kg]
    ln_speed: Array  # ln(S_p + 1.4) of Hohenberg's law, S_p mean piston speed [m/s]
    T_wall: Array  # of the cylinder [K]


class OnePoint(NamedTuple):
    """One row of `ManifoldPoints`; made inside the compiled loop."""

    w: float  # 1/omega [s/rad]
    volume: float
    p4: float
    turbine: float
    exponent: float
    alone: float
    gate: float
    leak: float
    R: float
    cp: Array  # (7,)
    h: Array  # (7,)
    loss: float
    heat: float  # constant of the heat law
    ln_speed: float
    T_wall: float


class ExhaustTotals(NamedTuple):
    """Columns of the result, over one firing interval."""

    valve_mass: int = 0  # out of the cylinders, net [kg]
    valve_enthalpy: int = 1  # [J]
    lost: int = 2  # heat lost on the way [J]
    out_mass: int = 3  # through turbine and gate [kg]
    out_enthalpy: int = 4  # [J]
    imbalance: int = 5  # greatest relative one: mass, energy, and the two wishes [-]
    intervals: int = 6  # computed [-]
    opening_mass: int = 7  # in the cylinder at exhaust opening [kg]
    opening_temperature: int = 8  # there [K]
    left_mass: int = 9  # in the cylinder at exhaust closing [kg]


X = ExhaustTotals()


@inner()
def gas_state(u, T, R, cp, h):
    """Temperature [K] at internal energy ``u`` [J/kg] by Newton's method from ``T``; also enthalpy and cp."""
    value = 0.0
    c = 1.0
    for _ in range(8):
        t = 1.0e-3 * T
        c = cp[6]
        e = h[6]
        for j in range(5, -1, -1):
            c = c * t + cp[j]
            e = e * t + h[j]
        value = e * T
        step = (u - value + R * T) / (c - R)
        T += step
        if abs(step) < 0.5:
            value += c * step
            break
    return T, value, c


@inner()
def sensible(T, cp, h):
    """Enthalpy [J/kg] and heat capacity [J/kg/K] at ``T`` [K]."""
    t = 1.0e-3 * T
    c = cp[6]
    e = h[6]
    for j in range(5, -1, -1):
        c = c * t + cp[j]
        e = e * t + h[j]
    return e * T, c


@inner()
def swallowing(conductance, p, RT, p4, exponent):
    """Turbine flow C p/sqrt(RT) s/sqrt(s + eps), s = 1 - (p4/p)^k [kg/s], and its slope on p [kg/s/Pa]."""
    if p <= p4:
        return 0.0, 0.0
    x = p4 / p
    xk = x * x if exponent == 2.0 else math.exp(exponent * math.log(x))
    s = 1.0 - xk
    root = 1.0 / math.sqrt(s + ROUND)
    f = s * root
    k = conductance / math.sqrt(RT)
    return k * p * f, k * (f + exponent * xk * (0.5 * s + ROUND) * root * root * root)


@outer()
def rates(i, stage, linear, y, f, T, W, tab, pt):
    """Rates per radian of state ``y`` into ``f`` at node ``i`` plus ``stage`` of the interval.

    ``T``: temperatures, guess and answer: slots, then halves. ``W`` (10, slots + halves): what the implicit
    part needs, filled where ``linear``. Rows for a slot: slope of a valve's flow on the cylinder's pressure,
    on the manifold's, enthalpy that goes into the manifold, enthalpy that leaves the cylinder, dp/dm, dp/dU,
    wall heat per kelvin. Rows for a half: slope of what leaves it, its cp, its enthalpy, slope
    and enthalpy of what leaks from one half to the other, dp/dm, dp/dU, and
    at any stage its pressure and enthalpy.
    """
    K = tab.slots
    H = tab.halves
    R = pt.R
    cp = pt.cp
    h = pt.h
    w = pt.w
    V = pt.volume
    per_V = 1.0 / V
    p4 = pt.p4
    base = 2 * (K + H)
    for z in range(base + N_TOTAL):
        f[z] = 0.0
    # manifolds and what leaves them
    for a in range(H):
        M = y[2 * K + a]
        T[K + a], hM, cM = gas_state(y[2 * K + H + a] / M, T[K + a], R, cp, h)
        p = M * R * T[K + a] * per_V
        W[6, K + a] = p
        W[7, K + a] = hM
        W[1, K + a] = cM
        if linear:
            u = hM - R * T[K + a]
            W[5, K + a] = R * per_V / (cM - R)
            W[4, K + a] = R * per_V * (T[K + a] - u / (cM - R))
    more = 1.0
    if H == 2:
        pa = W[6, K]
        pb = W[6, K + 1]
        high = max(pa, pb)
        if high > p4:
            more = 1.0 + pt.alone * min(1.0, abs(pa - pb) / (high - p4))
        a = 0 if pa >= pb else 1
        RT = R * T[K + a]
        g = W[1, K + a] / (W[1, K + a] - R)
        psi, psi_x = nozzle(min(pa, pb) / high, g)
        leak = pt.leak * high / math.sqrt(RT) * psi * w
        b = 1 - a
        if linear:
            W[3, K] = -pt.leak / math.sqrt(RT) * psi_x * w
            W[3, K + 1] = W[7, K + a]
        f[2 * K + a] -= leak
        f[2 * K + b] += leak
        f[2 * K + H + a] -= leak * W[7, K + a]
        f[2 * K + H + b] += leak * W[7, K + a]
    for a in range(H):
        p = W[6, K + a]
        hM = W[7, K + a]
        RT = R * T[K + a]
        m, slope = swallowing(more / H * pt.turbine, p, RT, p4, pt.exponent)
        if pt.gate > 0.0:
            c = W[1, K + a]
            mg, sg, _ = valve_flow(pt.gate / H, p, RT, c / (c - R), p4, RT, c / (c - R), 0.0)
            m += mg
            slope += sg
        if linear:
            W[0, K + a] = slope * w
            W[2, K + a] = hM
        f[2 * K + a] -= m * w
        f[2 * K + H + a] -= m * hM * w
        f[base + X.out_mass] += m * w
        f[base + X.out_enthalpy] += m * hM * w
    # cylinders
    last = tab.area.size - 1
    for j in range(K):
        n = j * tab.steps + i + stage
        area = tab.area[n] if n < last else 0.0
        if linear:
            W[0, j] = 0.0
            W[1, j] = 0.0
        if area <= 0.0 and n > 0:
            continue  # shut for good
        Vc = tab.volume[n]
        per_c = 1.0 / Vc
        mc = y[j]
        T[j], hc, cc = gas_state(y[K + j] / mc, T[j], R, cp, h)
        pc = mc * R * T[j] * per_c
        a = j % H
        pM = W[6, K + a]
        if area > 0.0:
            g = cc / (cc - R)
            m, sa, sb = valve_flow(area, pc, R * T[j], g, pM, R * T[K + a], g, tab.reverse)
            out = hc if m >= 0.0 else W[7, K + a]
            lost = pt.loss if m >= 0.0 else 0.0
            if linear:
                u = hc - R * T[j]
                W[0, j] = sa * w
                W[1, j] = sb * w
                W[2, j] = out - lost
                W[3, j] = out
                W[5, j] = R * per_c / (cc - R)
                W[4, j] = R * per_c * (T[j] - u / (cc - R))
            m *= w
            f[j] = -m
            f[K + j] = -m * out
            f[2 * K + a] += m
            f[2 * K + H + a] += m * (out - lost)
            f[base + X.valve_mass] += m
            f[base + X.valve_enthalpy] += m * out
            f[base + X.lost] += m * lost
        if linear:  # the coefficient moves little within a step
            W[6, j] = (
                w * tab.wall[n] * coefficient(1, pt.heat, math.log(pc), math.log(T[j]), Vc, 0.0, pt.ln_speed)
            )
        f[K + j] -= pc * tab.volume_slope[n] + W[6, j] * (T[j] - pt.T_wall)


@outer()
def implicit(r, c, W, K, H):
    """Solve (I - c A) x = r in place; A moves what valves, turbine and gate move as pressures move."""
    base = 2 * (K + H)
    for a in range(H):
        lift = W[4, K + a] * r[2 * K + a] + W[5, K + a] * r[2 * K + H + a]  # of the manifold's pressure
        drag = 1.0 + c * W[0, K + a] * (W[4, K + a] + W[2, K + a] * W[5, K + a])
        for j in range(a, K, H):
            e = W[4, j] + W[3, j] * W[5, j]
            per = 1.0 / (1.0 + c * W[0, j] * e)
            into = c * (W[4, K + a] + W[2, j] * W[5, K + a])
            lift += into * W[0, j] * per * (W[4, j] * r[j] + W[5, j] * r[K + j])
            drag -= into * W[1, j] * per
        W[8, K + a] = lift
        W[9, K + a] = drag
    if H == 2:  # what leaks from half 0 to half 1 as their pressures part
        s = c * W[3, K]
        h = W[3, K + 1]
        e0 = s * (W[4, K] + h * W[5, K])
        e1 = s * (W[4, K + 1] + h * W[5, K + 1])
        d0 = W[9, K] + e0
        d1 = W[9, K + 1] + e1
        det = d0 * d1 - e0 * e1
        p0 = (W[8, K] * d1 + e0 * W[8, K + 1]) / det
        p1 = (W[8, K + 1] * d0 + e1 * W[8, K]) / det
        W[8, K] = p0
        W[8, K + 1] = p1
        q = s * (p0 - p1)
        r[2 * K] -= q
        r[2 * K + 1] += q
        r[2 * K + H] -= q * h
        r[2 * K + H + 1] += q * h
    else:
        W[8, K] /= W[9, K]
    for a in range(H):
        dp = W[8, K + a]
        out = c * W[0, K + a] * dp
        r[2 * K + a] -= out
        r[2 * K + H + a] -= out * W[2, K + a]
        r[base + X.out_mass] += out
        r[base + X.out_enthalpy] += out * W[2, K + a]
        for j in range(a, K, H):
            e = W[4, j] + W[3, j] * W[5, j]
            d = W[0, j] * (W[4, j] * r[j] + W[5, j] * r[K + j]) + W[1, j] * dp
            d *= c / (1.0 + c * W[0, j] * e)
            r[j] -= d
            r[K + j] -= d * W[3, j]
            r[2 * K + a] += d
            r[2 * K + H + a] += d * W[2, j]
            r[base + X.valve_mass] += d
            r[base + X.valve_enthalpy] += d * W[3, j]
            r[base + X.lost] += d * (W[3, j] - W[2, j])
