"""Compiled gas exchange: exhaust opening to intake closing, by a linearly implicit two-stage step.

The pressures on the two sides of an open valve meet within a fraction of a degree at low speed, which an
explicit step cannot follow. Each valve's flow is therefore linearised in the two pressures inside the step (a
rank-two correction solved in closed form). The step is the L-stable second-order W-method ROS2 of Verwer,
Spee, Blom & Hundsdorfer (1999), which keeps its order for any such matrix and conserves mass and energy to
round-off because the correction only moves what the valves move.

State (18): 0 cylinder mass, 1 burned mass, 2 energy; 3 port mass, 4 burned, 5 energy; 6 runner flow;
7 returned-gas store mass, 8 burned, 9 enthalpy; integrals since exhaust opening: 10 work, 11 wall heat,
12 fresh mass drawn from the plenum, 13 its enthalpy, 14 mass out to the manifold, 15 its enthalpy, 16 its
burned mass, 17 mass back from the manifold.
"""

from __future__ import annotations

import math

import numpy as np

from boostwright.physics.kernels.closed_phase import walls
from boostwright.physics.kernels.flow import valve_flow
from boostwright.physics.kernels.gas import frozen_temperature, hermite
from boostwright.physics.kernels.heat import coefficient
from boostwright.physics.kernels.jit import inner, outer

__all__ = ["N_OPEN", "STORE_SHARE", "exchange", "open_rates"]

N_OPEN = 18
N_LIN = 18
GAMMA = 1.0 - 1.0 / math.sqrt(2.0)
STORE_SHARE = 0.02
"""Share of the swept mass below which the returned-gas store fades out instead of stopping dead [-]."""


@inner()
def open_rates(theta, s, f, lin, slopes, Tc, Tp, cyl, gas, c, b):
    """Rates of the open phase per radian into ``f``; what the implicit step needs into ``lin``; returns Tc,
    Tp, p.

    ``c``: the charge and what is constant over the cycle; ``b``: the states at the boundaries.
    """
    k = c.k
    x = (theta - cyl.theta0) / cyl.dtheta
    V, dV = hermite(x, cyl.volume, cyl.volume_slope, cyl.dtheta)
    A_in, _ = hermite(x, cyl.intake_area, cyl.intake_slope, cyl.dtheta)
    A_ex, _ = hermite(x, cyl.exhaust_area, cyl.exhaust_slope, cyl.dtheta)
    R_f = gas.R_f[k]
    dR = gas.R_b[k] - R_f

    m = s[0]
    per = 1.0 / m
    y = s[1] * per
    Tc, hf, hb, cp = frozen_temperature(s[2] * per, y, Tc, k, gas)
    R = R_f + y * dR
    per_V = 1.0 / V
    p = m * R * Tc * per_V
    h = hf + y * (hb - hf)
    g = cp / (cp - R)

    p_pl = b.p_plenum
    # what comes from upstream: the store of returned gas first, then fresh charge
    share = s[7] / (s[7] + b.fade)
    per_store = 1.0 / s[7]
    y_store = s[8] * per_store
    h_store = s[9] * per_store
    h_fresh = b.h_fresh
    y_up = share * y_store
    h_up = share * h_store + (1.0 - share) * h_fresh

    runner = cyl.runner_length > 0.0
    if runner:
        mp = s[3]
        per_port = 1.0 / mp
        yp = s[4] * per_port
        Tp, hfp, hbp, cpp = frozen_temperature(s[5] * per_port, yp, Tp, k, gas)
        Rp = R_f + yp * dR
        pp = mp * Rp * Tp / b.port
        hp = hfp + yp * (hbp - hfp)
        q = s[6]
    else:
        yp = y_up
        Tp = b.T_inlet
        Rp = R_f + yp * dR
        cpp = b.cp_fresh
        pp = p_pl
        hp = h_up
        hfp = hp
        hbp = hp
        mp = 1.0
        q = 0.0

    # valves
    mi, mi_r, mi_c = valve_flow(A_in, pp, Rp * Tp, cpp / (cpp - Rp), p, R * Tc, g, cyl.intake_reverse)
    me, me_c, _ = valve_flow(A_ex, p, R * Tc, g, b.p_exhaust, R * Tc, g, cyl.exhaust_reverse)
    hi = hp if mi >= 0.0 else h
    yi = yp if mi >= 0.0 else y
    he = h if me >= 0.0 else b.h_back
    ye = y if me >= 0.0 else b.y_back

    # wall heat
    hc = coefficient(c.heat_law, c.heat_c, math.log(p), math.log(Tc), V, c.ln_w_open, c.ln_s)
    area, reach = walls(V, cyl, c)
    Q = hc * (area * Tc - reach)

    w = c.w
    f[0] = (mi - me) * w
    f[1] = (mi * yi - me * ye) * w
    f[2] = (mi * hi - me * he - Q) * w - p * dV
    if runner:
        push = p_pl - pp - b.drag * abs(q) * q  # drives the gas column [Pa]
        lift = q * push / b.rho  # rate of its kinetic energy [W]
        forward = q >= 0.0
        hq = h_up if forward else hp
        yq = y_up if forward else yp
        f[3] = (q - mi) * w
        f[4] = (q * yq - mi * yi) * w
        f[5] = (q * hq - lift - mi * hi) * w
        f[6] = b.column * push * w
        up = q
    else:
        f[3] = 0.0
        f[4] = 0.0
        f[5] = 0.0
        f[6] = 0.0
        up = mi
        hq = hi
        yq = yi
    if up >= 0.0:
        f[7] = -share * up * w
        f[8] = -share * up * y_store * w
        f[9] = -share * up * h_store * w
        f[12] = (1.0 - share) * up * w
        f[13] = (1.0 - share) * up * h_fresh * w
    else:
        f[7] = -up * w
        f[8] = -up * yq * w
        f[9] = -up * hq * w
        f[12] = 0.0
        f[13] = 0.0
    f[10] = p * dV
    f[11] = Q * w
    if me >= 0.0:
        f[14] = me * w
        f[15] = me * he * w
        f[16] = me * ye * w
        f[17] = 0.0
    else:
        f[14] = 0.0
        f[15] = 0.0
        f[16] = 0.0
        f[17] = -me * w

    if not slopes:
        return Tc, Tp, p
    # slopes of pressure on (mass, burned mass, energy), and of the flows on pressure
    cv = cp - R
    u_y = hb - hf - dR * Tc
    u = h - R * Tc
    ratio = R / cv
    lin[0] = (R * Tc - Tc * dR * y + ratio * (u_y * y - u)) * per_V
    lin[1] = (Tc * dR - ratio * u_y) * per_V
    lin[2] = ratio * per_V
    cvp = cpp - Rp
    if runner:
        u_yp = hbp - hfp - dR * Tp
        ratio = Rp / cvp
        per_V = 1.0 / b.port
        lin[3] = (Rp * Tp - Tp * dR * yp + ratio * (u_yp * yp - (hp - Rp * Tp))) * per_V
        lin[4] = (Tp * dR - ratio * u_yp) * per_V
        lin[5] = ratio * per_V
    else:
        lin[3] = 0.0
        lin[4] = 0.0
        lin[5] = 0.0
    lin[6] = mi_c * w
    lin[7] = mi_r * w if runner else 0.0
    lin[8] = me_c * w
    lin[9] = hi
    lin[10] = yi
    lin[11] = he
    lin[12] = ye
    lin[13] = 1.0 if me >= 0.0 else 0.0
    lin[14] = share if mi >= 0.0 else -1.0
    lin[15] = y_store
    lin[16] = h_store
    lin[17] = h_fresh
    return Tc, Tp, p


@inner()
def implicit_solve(r, lin, c, up_is_valve):
    """Solve (I - c A) x = r in place, A the rank-two valve matrix in ``lin``."""
    hi = lin[9]
    yi = lin[10]
    he = lin[11]
    ye = lin[12]
    pc_i = lin[0] + lin[1] * yi + lin[2] * hi  # rise of cylinder pressure per kg through the intake valve
    pr_i = -(lin[3] + lin[4] * yi + lin[5] * hi)
    pc_e = -(lin[0] + lin[1] * ye + lin[2] * he)
    rc = lin[0] * r[0] + lin[1] * r[1] + lin[2] * r[2]
    rr = lin[3] * r[3] + lin[4] * r[4] + lin[5] * r[5]
    g_i = lin[6] * rc + lin[7] * rr
    g_e = lin[8] * rc
    a11 = 1.0 - c * (lin[6] * pc_i + lin[7] * pr_i)
    a12 = -c * lin[6] * pc_e
    a21 = -c * lin[8] * pc_i
    a22 = 1.0 - c * lin[8] * pc_e
    det = a11 * a22 - a12 * a21
    di = c * (g_i * a22 - a12 * g_e) / det
    de = c * (a11 * g_e - a21 * g_i) / det
    r[0] += di - de
    r[1] += di * yi - de * ye
    r[2] += di * hi - de * he
    if not up_is_valve:
        r[3] -= di
        r[4] -= di * yi
        r[5] -= di * hi
    return di, de


@inner()
def pass_on(r, lin, di, de, direct):
    """Pass the implicit change of the valve flows on to what lies outside cylinder and port."""
    if lin[13] > 0.0:
        r[14] += de
        r[15] += de * lin[11]
        r[16] += de * lin[12]
    else:
        r[17] -= de
    if not direct:
        return
    share = lin[14]
    if share >= 0.0:  # the valve breathes from the store and the plenum
        r[7] -= share * di
        r[8] -= share * di * lin[15]
        r[9] -= share * di * lin[16]
        r[12] += (1.0 - share) * di
        r[13] += (1.0 - share) * di * lin[17]
    else:
        r[7] -= di
        r[8] -= di * lin[10]
        r[9] -= di * lin[9]


@outer()
def exchange(s, Tc, Tp, cyl, gas, c, b, steps, work, trace, row):
    """Integrate from exhaust opening to intake closing; returns Tc, Tp, pressure at the end and next trace
    row.

    ``work``: the work integral at the two bottom dead centres [J].
    """
    k1 = np.empty(N_OPEN)
    k2 = np.empty(N_OPEN)
    w = np.empty(N_OPEN)
    lin = np.empty(N_LIN)
    edges = cyl.edges
    direct = cyl.runner_length <= 0.0
    p = 0.0
    for e in range(edges.size - 1):
        a = edges[e]
        if abs(a - math.pi) < 1.0e-9:
            work[0] = s[10]
        elif abs(a - 3.0 * math.pi) < 1.0e-9:
            work[1] = s[10]
        span = edges[e + 1] - a
        if span <= 1.0e-9:
            continue
        part = cyl.part[e]
        step = steps.blowdown if part == 0.0 else steps.valve if part == 1.0 else steps.filling
        n = int(math.ceil(span / step - 1.0e-9))
        h = span / n
        for j in range(n):
            theta = a + j * h
            Tc, Tp, p = open_rates(theta, s, k1, lin, True, Tc, Tp, cyl, gas, c, b)
            if row < trace.shape[0]:
                trace[row, 0] = theta
                trace[row, 1] = p
                trace[row, 2] = Tc
                trace[row, 3] = 3.0
                for z in range(N_OPEN):
                    trace[row, 4 + z] = s[z]
                row += 1
            di, de = implicit_solve(k1, lin, GAMMA * h, direct)
            pass_on(k1, lin, di, de, direct)
            for z in range(N_OPEN):
                w[z] = s[z] + h * k1[z]
            T2, Tp2, _ = open_rates(theta + h, w, k2, lin, False, Tc, Tp, cyl, gas, c, b)
            for z in range(N_OPEN):
                k2[z] -= 2.0 * k1[z]
            di, de = implicit_solve(k2, lin, GAMMA * h, direct)
            pass_on(k2, lin, di, de, direct)
            for z in range(N_OPEN):
                s[z] += h * (1.5 * k1[z] + 0.5 * k2[z])
            Tc = T2
            Tp = Tp2
    Tc, Tp, p = open_rates(cyl.ivc, s, k1, lin, False, Tc, Tp, cyl, gas, c, b)
    if row < trace.shape[0]:
        trace[row, 0] = cyl.ivc
        trace[row, 1] = p
        trace[row, 2] = Tc
        trace[row, 3] = 3.0
        for z in range(N_OPEN):
            trace[row, 4 + z] = s[z]
        row += 1
    if row < trace.shape[0]:
        trace[row, 4] = 0.0  # a longer earlier cycle may have left rows behind
    return Tc, Tp, p, row
