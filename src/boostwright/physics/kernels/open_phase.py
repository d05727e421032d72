"""The gas exchange's rate equations of one operating point, as the textbook writes them.

The production path is `exchange`, which treats eight points side by side; the tests hold it against this
form, and so does an independent integration by a library solver. State entries: see `exchange.N_OPEN`.
"""

from __future__ import annotations

import math

from boostwright.physics.kernels.closed_phase import walls
from boostwright.physics.kernels.flow import valve_flow
from boostwright.physics.kernels.gas import frozen_temperature, hermite
from boostwright.physics.kernels.heat import coefficient
from boostwright.physics.kernels.jit import inner

__all__ = ["open_rates"]


@inner()
def open_rates(theta, s, f, Tc, Tp, cyl, gas, c, b):
    """Rates of the open phase per radian into ``f``; returns both temperatures [K] and the cylinder pressure
    [Pa].

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
    mi, _, _ = valve_flow(A_in, pp, Rp * Tp, cpp / (cpp - Rp), p, R * Tc, g, cyl.intake_reverse)
    me, _, _ = valve_flow(A_ex, p, R * Tc, g, b.p_exhaust, R * Tc, g, cyl.exhaust_reverse)
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

    return Tc, Tp, p
