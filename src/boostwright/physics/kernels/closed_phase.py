"""Compiled closed phase outside the burn: compression of the charge and expansion of burned gas.

Classic fourth-order Runge-Kutta on equal steps between events. Gas models are switched at equal volume, mass
and energy.
"""

from __future__ import annotations

import math

from boostwright.physics.kernels.gas import equilibrium, frozen, frozen_temperature, hermite
from boostwright.physics.kernels.heat import coefficient
from boostwright.physics.kernels.jit import inner, outer

__all__ = [
    "ATM",
    "LN_ATM",
    "REACH",
    "TIMES",
    "WEIGHTS",
    "compress",
    "expand",
    "knock_rates",
    "to_frozen",
    "walls",
]

ATM = 101325.0
LN_ATM = math.log(ATM)
# Runge-Kutta 4: stage times, weights, and how far the next stage reaches along this stage's slope
TIMES = (0.0, 0.5, 0.5, 1.0)
WEIGHTS = (1.0 / 6.0, 1.0 / 3.0, 1.0 / 3.0, 1.0 / 6.0)
REACH = (0.5, 0.5, 1.0, 0.0)


@inner()
def knock_rates(lnp, T):
    """Reciprocal ignition delays [1/s] at octane 100: Douaud & Eyzat 1978, and the guideline-fitted law."""
    a = math.exp(1.7 * (lnp - LN_ATM) - 3800.0 / T) / 17.68e-3
    c = math.exp(1.24 * (lnp - LN_ATM) - 3721.0 / T) / 3.56e-3
    return a, c


@inner()
def walls(V, cyl, c):
    """Wall area [m2] and area times wall temperature [m2 K] at cylinder volume ``V``."""
    liner = math.pi * cyl.bore * ((V - cyl.clearance) / cyl.bore_area + cyl.liner_offset)
    return (
        cyl.piston_area + cyl.head_area + liner,
        cyl.piston_area * c.T_piston + cyl.head_area * c.T_head + liner * c.T_liner,
    )


@inner()
def compress_rates(theta, T, Tk, cyl, gas, c):
    """Single-zone compression of the frozen charge: dT, dT_core, dI_a, dI_c, dW, dQ per radian, and p."""
    V, dV = hermite((theta - cyl.theta0) / cyl.dtheta, cyl.volume, cyl.volume_slope, cyl.dtheta)
    p = c.m * c.R * T / V
    lnp = math.log(p)
    _, _, cp = frozen(T, c.y, c.k, gas)
    h = coefficient(c.heat_law, c.heat_c, lnp, math.log(T), V, c.ln_w_closed, c.ln_s)
    area, reach = walls(V, cyl, c)
    Q = h * (area * T - reach) * c.w
    dT = (-p * dV - Q) / (c.m * (cp - c.R))
    _, _, cpk = frozen(Tk, c.y, c.k, gas)
    dTk = c.R * Tk / cpk * (dT / T - dV / V)
    ka, kc = knock_rates(lnp, Tk)
    return dT, dTk, ka * c.w, kc * c.w, p * dV, Q, p


@outer()
def compress(step, T, cyl, gas, c, out, info, trace, row):
    """Compression from intake closing to spark; returns T and the trace row.

    ``info``: 0 peak pressure and 1 its angle, of a motored cycle only. ``out``: 0 work [J], 1 wall heat [J],
    2 and 3 knock integrals, 4 core temperature [K], 5 unburnt energy [J].
    """
    Tk = out[4]
    span = c.spark - cyl.theta0
    n = max(1, int(math.ceil(span / step - 1.0e-9)))
    h = span / n
    p_old = 0.0
    p_older = 0.0
    for j in range(n):
        t = cyl.theta0 + j * h
        Ts = T
        Tks = Tk
        dT = dTk = dA = dC = dW = dQ = 0.0
        for q in range(4):
            r0, r1, r2, r3, r4, r5, p = compress_rates(t + TIMES[q] * h, Ts, Tks, cyl, gas, c)
            if q == 0:
                if c.law == 2 and p < p_old and p_old >= p_older:
                    o = 0.5 * (p_older - p) / (p_older - 2.0 * p_old + p)  # motored peak by a parabola
                    info[0] = p_old - 0.25 * (p_older - p) * o
                    info[1] = t - h + o * h
                p_older = p_old
                p_old = p
            if q == 0 and row < trace.shape[0]:
                trace[row, 0] = t
                trace[row, 1] = p
                trace[row, 2] = T
                trace[row, 3] = 0.0
                trace[row, 4] = c.m
                trace[row, 5] = c.y * c.m
                row += 1
            w = WEIGHTS[q] * h
            dT += w * r0
            dTk += w * r1
            dA += w * r2
            dC += w * r3
            dW += w * r4
            dQ += w * r5
            Ts = T + REACH[q] * h * r0
            Tks = Tk + REACH[q] * h * r1
        T += dT
        Tk += dTk
        out[0] += dW
        out[1] += dQ
        out[2] += dA
        out[3] += dC
    out[4] = Tk
    if row < trace.shape[0]:
        V, _ = hermite((c.spark - cyl.theta0) / cyl.dtheta, cyl.volume, cyl.volume_slope, cyl.dtheta)
        trace[row, 0] = c.spark
        trace[row, 1] = c.m * c.R * T / V
        trace[row, 2] = T
        trace[row, 3] = 0.0
        trace[row, 4] = c.m
        trace[row, 5] = c.y * c.m
        row += 1
    return T, row


@inner()
def expand_rates(theta, T, p, cyl, gas, c):
    """Expansion of burned gas in equilibrium: dT, dp, dW, dQ per radian."""
    V, dV = hermite((theta - cyl.theta0) / cyl.dtheta, cyl.volume, cyl.volume_slope, cyl.dtheta)
    lnp = math.log(p)
    lnV = math.log(V)
    _, h_T, h_l, R, R_T, R_l = equilibrium(T, lnp, c.k, gas)
    h_p = h_l / p
    R_p = R_l / p
    v = R * T / p
    p_mot = c.p_ref * math.exp(1.32 * (math.log(c.V_ref) - lnV))
    w = 2.28 * c.speed + c.w_burn * max(p - p_mot, 0.0)
    h = coefficient(c.heat_law, c.heat_c, lnp, math.log(T), V, math.log(w), c.ln_s) * c.w
    area, reach = walls(V, cyl, c)
    Q = h * (area * T - reach)
    grow = (R + T * R_T) / p
    dp = (dV + grow * Q / h_T) / (c.m * (grow * (v - h_p) / h_T + (T * R_p - v) / p))
    dT = ((v - h_p) * dp - Q / c.m) / h_T
    return dT, dp, p * dV, Q


@outer()
def expand(theta, T, p, step, cyl, gas, c, out, info, trace, row):
    """Expansion to exhaust opening; returns T, p and the trace row."""
    span = cyl.evo - theta
    if span <= 1.0e-12:
        return T, p, row
    n = max(1, int(math.ceil(span / step - 1.0e-9)))
    h = span / n
    for j in range(n):
        t = theta + j * h
        Ts = T
        ps = p
        dT = dp = dW = dQ = 0.0
        for q in range(4):
            r0, r1, r2, r3 = expand_rates(t + TIMES[q] * h, Ts, ps, cyl, gas, c)
            if q == 0 and row < trace.shape[0]:
                trace[row, 0] = t
                trace[row, 1] = p
                trace[row, 2] = T
                trace[row, 3] = 2.0
                trace[row, 4] = c.m
                trace[row, 5] = c.m
                trace[row, 6] = T
                trace[row, 7] = c.m
                row += 1
            w = WEIGHTS[q] * h
            dT += w * r0
            dp += w * r1
            dW += w * r2
            dQ += w * r3
            Ts = T + REACH[q] * h * r0
            ps = p + REACH[q] * h * r1
        if p > info[0]:
            info[0] = p
            info[1] = t
        T += dT
        p += dp
        out[0] += dW
        out[1] += dQ
    if row < trace.shape[0]:
        trace[row, 0] = cyl.evo
        trace[row, 1] = p
        trace[row, 2] = T
        trace[row, 3] = 2.0
        trace[row, 4] = c.m
        trace[row, 5] = c.m
        trace[row, 6] = T
        trace[row, 7] = c.m
        row += 1
    return T, p, row


@outer()
def to_frozen(T, p, mb, Tu, gas, c):
    """Frozen single zone at exhaust opening with the energy of what is there: T, burned mass, energy.

    With ``mb`` = m, T and p belong to burned gas in equilibrium; else T is the burned zone's and ``Tu`` the
    rest's.
    """
    hb, _, _, R, _, _ = equilibrium(T, math.log(p), c.k, gas)
    U = mb * (hb - R * T)
    burned = mb
    if mb < c.m:
        hf, hbz, _ = frozen(Tu, c.y, c.k, gas)
        U += (c.m - mb) * (hf + c.y * (hbz - hf) - c.R * Tu)
        burned += (c.m - mb) * c.y
    share = min(burned / c.m, 1.0)
    T, _, _, _ = frozen_temperature(U / c.m, share, T, c.k, gas)
    return T, share * c.m, U
