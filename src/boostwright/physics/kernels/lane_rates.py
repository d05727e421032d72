"""Rates of the gas exchange for several operating points side by side.

The equations are those of `open_phase.open_rates`, which the tests hold this file against; here choices are
made by selection instead of branches, and what depends on the crank angle alone is looked up once for all
lanes.
"""

from __future__ import annotations

import math

from boostwright.physics.kernels.jit import lane
from boostwright.physics.kernels.lane_state import (
    A_B,
    A_M,
    A_U,
    B_B,
    B_M,
    B_U,
    CP_IN,
    CPB,
    CPF,
    D_I,
    D_R,
    DRAG,
    FADE,
    G_C,
    G_P,
    H0_B,
    H0_F,
    H_BACK,
    H_C,
    H_E,
    H_I,
    H_IN,
    H_P,
    H_ST,
    H_UP,
    HB,
    HEAT,
    HF,
    INTO,
    L_HE,
    L_HI,
    L_HS,
    L_ME_C,
    L_MI_C,
    L_MI_P,
    L_SH,
    L_YE,
    L_YI,
    L_YS,
    LN_S,
    LN_W,
    ME,
    ME_C,
    MI,
    MI_C,
    MI_P,
    OUT,
    P_C,
    P_EX,
    P_P,
    P_PL,
    PER_M,
    PER_RHO,
    PER_W,
    R_F,
    RC,
    RP,
    RT_C,
    RT_P,
    SHARE,
    T_C,
    T_HEAD,
    T_IN,
    T_LIN,
    T_P,
    T_PIS,
    UY_C,
    UY_P,
    Y_BACK,
    Y_C,
    Y_E,
    Y_I,
    Y_P,
    Y_ST,
    Y_UP,
)
from boostwright.physics.kernels.lanes import fast_exp, fast_log

__all__ = ["cylinder_state", "port_rates", "port_state", "rates", "shut"]

SMOOTH = 3.0e-3  # flow.EPSILON


@lane()
def frozen(W, T, v):
    """Enthalpies h_f, h_b [J/kg] and heat capacities of lane ``v``'s fresh and burned gas at ``T``."""
    t = 1.0e-3 * T
    h_f = W[(HF + 6) * 8 + v]
    h_b = W[(HB + 6) * 8 + v]
    c_f = W[(CPF + 6) * 8 + v]
    c_b = W[(CPB + 6) * 8 + v]
    for j in (5, 4, 3, 2, 1, 0):
        h_f = h_f * t + W[(HF + j) * 8 + v]
        h_b = h_b * t + W[(HB + j) * 8 + v]
        c_f = c_f * t + W[(CPF + j) * 8 + v]
        c_b = c_b * t + W[(CPB + j) * 8 + v]
    return W[H0_F * 8 + v] + T * h_f, W[H0_B * 8 + v] + T * h_b, c_f, c_b


@lane()
def frozen_temperatures(W, s_m, s_b, s_u, row_T, row_y, row_h, row_R, row_g, row_uy, row_per, n):
    """Temperature, enthalpy, gas constant, gamma, du/dy of a frozen charge from mass, burned mass, energy.

    Two Newton steps from the last temperature; the second is carried to the enthalpies to first order.
    """
    for v in range(n):
        per = 1.0 / W[s_m * 8 + v]
        y = W[s_b * 8 + v] * per
        u = W[s_u * 8 + v] * per
        R = W[R_F * 8 + v] + y * W[D_R * 8 + v]
        T = W[row_T * 8 + v]
        h_f, h_b, c_f, c_b = frozen(W, T, v)
        slope = 1.0 / (c_f + y * (c_b - c_f) - R)  # 1/cv
        T += (u - (h_f + y * (h_b - h_f) - R * T)) * slope
        h_f, h_b, c_f, c_b = frozen(W, T, v)
        cp = c_f + y * (c_b - c_f)
        slope *= 2.0 - slope * (cp - R)  # 1/cv at the new temperature, without another division
        step = (u - (h_f + y * (h_b - h_f) - R * T)) * slope
        T += step
        W[row_T * 8 + v] = T
        W[row_y * 8 + v] = y
        W[row_h * 8 + v] = h_f + y * (h_b - h_f) + cp * step
        W[row_R * 8 + v] = R
        W[row_g * 8 + v] = cp * slope
        W[row_uy * 8 + v] = h_b - h_f - W[D_R * 8 + v] * T
        W[row_per * 8 + v] = per


@lane()
def nozzle_flow(area, p_a, RT_a, g_a, p_b, RT_b, g_b, reverse):
    """Flow from a to b [kg/s] and its slopes on p_a and p_b; `flow.valve_flow` by selection instead of
    branches.
    """
    ahead = p_a >= p_b
    p0 = p_a if ahead else p_b
    p1 = p_b if ahead else p_a
    RT = RT_a if ahead else RT_b
    g = g_a if ahead else g_b
    k = (area if ahead else area * reverse) / math.sqrt(RT)
    e = g - 1.3
    critical = 0.009463223873279242 * e - 0.024456375596192435
    critical = critical * e + 0.064917878120248
    critical = critical * e - 0.18071618877989243
    critical = critical * e + 0.5457277339120477
    both = 1.0 / (p0 * p1)
    raw = p1 * p1 * both
    free = raw > critical
    x = raw if free else critical
    x = min(1.0 - 1e-09, x)
    d = 1.0 - x
    per = 1.0 / (g * (g - 1.0))
    per_g = per * (g - 1.0)
    c = 2.0 * g * g * per
    r = fast_exp(fast_log(x) * per_g)
    r_x = r * per_g * p0 * p0 * both  # d r/dx; 1/x = p0/p1
    s = c * r * (r - x)
    s_d = -c * (2.0 * r * r_x - r - x * r_x)
    root = 1.0 / math.sqrt(d * d + SMOOTH * SMOOTH)
    square = s * d * root
    per_psi = 1.0 / math.sqrt(square)
    psi = square * per_psi
    bend = -0.5 * (s_d * d + s - s * d * d * root * root) * root * per_psi
    slope = bend if free else 0.0
    flow = k * p0 * psi
    up = k * (psi - raw * slope)
    down = k * slope
    return (flow if ahead else -flow), (up if ahead else -down), (down if ahead else -up)


@lane()
def store_flows(W, rate, up, h, y, forward, v):
    """What the flow towards the port takes from the returned-gas store, or gives to it."""
    share = W[SHARE * 8 + v]
    taken = share * up
    W[(rate + 7) * 8 + v] = -taken if forward else -up
    W[(rate + 8) * 8 + v] = -taken * W[Y_ST * 8 + v] if forward else -up * y
    W[(rate + 9) * 8 + v] = -taken * W[H_ST * 8 + v] if forward else -up * h
    fresh = up - taken if forward else 0.0
    W[(rate + 12) * 8 + v] = fresh
    W[(rate + 13) * 8 + v] = fresh * W[H_IN * 8 + v]


@lane()
def slopes(W, per_V, cyl, runner, n):
    """Slopes of both pressures on their masses and energies, and what the valves move."""
    for v in range(n):
        R = W[RC * 8 + v]
        T = W[T_C * 8 + v]
        y = W[Y_C * 8 + v]
        ratio = W[G_C * 8 + v] - 1.0  # R/cv
        u = W[H_C * 8 + v] - W[RT_C * 8 + v]
        u_y = W[UY_C * 8 + v]
        dRT = W[D_R * 8 + v] * T
        W[A_M * 8 + v] = (R * T - dRT * y + ratio * (u_y * y - u)) * per_V
        W[A_B * 8 + v] = (dRT - ratio * u_y) * per_V
        W[A_U * 8 + v] = ratio * per_V
        w = W[PER_W * 8 + v]
        W[L_MI_C * 8 + v] = W[MI_C * 8 + v] * w
        W[L_MI_P * 8 + v] = W[MI_P * 8 + v] * w
        W[L_ME_C * 8 + v] = W[ME_C * 8 + v] * w
        W[L_HI * 8 + v] = W[H_I * 8 + v]
        W[L_YI * 8 + v] = W[Y_I * 8 + v]
        W[L_HE * 8 + v] = W[H_E * 8 + v]
        W[L_YE * 8 + v] = W[Y_E * 8 + v]
        W[L_SH * 8 + v] = W[SHARE * 8 + v]
        W[L_YS * 8 + v] = W[Y_ST * 8 + v]
        W[L_HS * 8 + v] = W[H_ST * 8 + v]
        W[OUT * 8 + v] = 1.0 if W[ME * 8 + v] > 0.0 else 0.0
        W[INTO * 8 + v] = 1.0 if W[MI * 8 + v] >= 0.0 else 0.0
    if runner:
        per_port = 1.0 / cyl.port_volume
        for v in range(n):
            T = W[T_P * 8 + v]
            y = W[Y_P * 8 + v]
            ratio = W[G_P * 8 + v] - 1.0
            u = W[H_P * 8 + v] - W[RT_P * 8 + v]
            u_y = W[UY_P * 8 + v]
            dRT = W[D_R * 8 + v] * T
            W[B_M * 8 + v] = (W[RT_P * 8 + v] - dRT * y + ratio * (u_y * y - u)) * per_port
            W[B_B * 8 + v] = (dRT - ratio * u_y) * per_port
            W[B_U * 8 + v] = ratio * per_port
    else:
        for v in range(n):
            W[B_M * 8 + v] = 0.0
            W[B_B * 8 + v] = 0.0
            W[B_U * 8 + v] = 0.0


@lane()
def cylinder_state(W, state, V, n):
    """Temperature, pressure and properties of the charge in the cylinder."""
    frozen_temperatures(W, state, state + 1, state + 2, T_C, Y_C, H_C, RC, G_C, UY_C, PER_M, n)
    per_V = 1.0 / V
    for v in range(n):
        RT = W[RC * 8 + v] * W[T_C * 8 + v]
        W[RT_C * 8 + v] = RT
        W[P_C * 8 + v] = W[state * 8 + v] * RT * per_V


@lane()
def port_state(W, state, cyl, n):
    """What stands behind the intake valve: the store of returned gas, and the port's pressure and
    temperature.
    """
    runner = cyl.runner_length > 0.0
    for v in range(n):
        m = W[(state + 7) * 8 + v]
        total = m + W[FADE * 8 + v]
        both = 1.0 / (m * total)
        per = total * both
        share = m * m * both
        y = W[(state + 8) * 8 + v] * per
        h = W[(state + 9) * 8 + v] * per
        W[SHARE * 8 + v] = share
        W[Y_ST * 8 + v] = y
        W[H_ST * 8 + v] = h
        W[Y_UP * 8 + v] = share * y
        W[H_UP * 8 + v] = W[H_IN * 8 + v] + share * (h - W[H_IN * 8 + v])
    if runner:
        frozen_temperatures(W, state + 3, state + 4, state + 5, T_P, Y_P, H_P, RP, G_P, UY_P, D_I, n)
        per_port = 1.0 / cyl.port_volume
        for v in range(n):
            RT = W[RP * 8 + v] * W[T_P * 8 + v]
            W[RT_P * 8 + v] = RT
            W[P_P * 8 + v] = W[(state + 3) * 8 + v] * RT * per_port
    else:
        for v in range(n):
            y = W[Y_UP * 8 + v]
            R = W[R_F * 8 + v] + y * W[D_R * 8 + v]
            W[Y_P * 8 + v] = y
            W[H_P * 8 + v] = W[H_UP * 8 + v]
            W[RP * 8 + v] = R
            W[RT_P * 8 + v] = R * W[T_IN * 8 + v]
            W[P_P * 8 + v] = W[P_PL * 8 + v]
            W[G_P * 8 + v] = W[CP_IN * 8 + v] / (W[CP_IN * 8 + v] - R)


@lane()
def valve_flows(W, A_in, A_ex, cyl, n):
    """Flow through both valves, its slopes, and what it carries."""
    if A_in > 0.0:
        for v in range(n):
            m, a, b = nozzle_flow(
                A_in,
                W[P_P * 8 + v],
                W[RT_P * 8 + v],
                W[G_P * 8 + v],
                W[P_C * 8 + v],
                W[RT_C * 8 + v],
                W[G_C * 8 + v],
                cyl.intake_reverse,
            )
            W[MI * 8 + v] = m
            W[MI_P * 8 + v] = a
            W[MI_C * 8 + v] = b
    else:
        for v in range(n):
            W[MI * 8 + v] = 0.0
            W[MI_P * 8 + v] = 0.0
            W[MI_C * 8 + v] = 0.0
    if A_ex > 0.0:
        for v in range(n):
            RT = W[RT_C * 8 + v]
            g = W[G_C * 8 + v]
            m, a, _ = nozzle_flow(A_ex, W[P_C * 8 + v], RT, g, W[P_EX * 8 + v], RT, g, cyl.exhaust_reverse)
            W[ME * 8 + v] = m
            W[ME_C * 8 + v] = a
    else:
        for v in range(n):
            W[ME * 8 + v] = 0.0
            W[ME_C * 8 + v] = 0.0
    for v in range(n):
        inward = W[MI * 8 + v] >= 0.0
        W[H_I * 8 + v] = W[H_P * 8 + v] if inward else W[H_C * 8 + v]
        W[Y_I * 8 + v] = W[Y_P * 8 + v] if inward else W[Y_C * 8 + v]
        outward = W[ME * 8 + v] >= 0.0
        W[H_E * 8 + v] = W[H_C * 8 + v] if outward else W[H_BACK * 8 + v]
        W[Y_E * 8 + v] = W[Y_C * 8 + v] if outward else W[Y_BACK * 8 + v]


@lane()
def cylinder_rates(W, rate, V, dV, cyl, law, n):
    """Mass and energy of the cylinder: valves, work, wall heat; and the counters of both."""
    liner = math.pi * cyl.bore * ((V - cyl.clearance) / cyl.bore_area + cyl.liner_offset)
    area = cyl.piston_area + cyl.head_area + liner
    ln_V = math.log(V)
    for v in range(n):
        T = W[T_C * 8 + v]
        p = W[P_C * 8 + v]
        ln_p = fast_log(p)
        ln_T = fast_log(T)
        if law == 0:
            h = fast_exp(W[HEAT * 8 + v] + 0.8 * (ln_p + W[LN_W * 8 + v]) - 0.55 * ln_T)
        else:
            h = fast_exp(W[HEAT * 8 + v] + 0.8 * (ln_p + W[LN_S * 8 + v]) - 0.4 * ln_T - 0.06 * ln_V)
        reach = (
            cyl.piston_area * W[T_PIS * 8 + v] + cyl.head_area * W[T_HEAD * 8 + v] + liner * W[T_LIN * 8 + v]
        )
        w = W[PER_W * 8 + v]
        Q = h * (area * T - reach) * w
        mi = W[MI * 8 + v] * w
        me = W[ME * 8 + v] * w
        ei = mi * W[H_I * 8 + v]
        ee = me * W[H_E * 8 + v]
        be = me * W[Y_E * 8 + v]
        W[rate * 8 + v] = mi - me
        W[(rate + 1) * 8 + v] = mi * W[Y_I * 8 + v] - be
        W[(rate + 2) * 8 + v] = ei - ee - Q - p * dV
        W[(rate + 10) * 8 + v] = p * dV
        W[(rate + 11) * 8 + v] = Q
        out = me > 0.0
        W[(rate + 14) * 8 + v] = me if out else 0.0
        W[(rate + 15) * 8 + v] = ee if out else 0.0
        W[(rate + 16) * 8 + v] = be if out else 0.0
        W[(rate + 17) * 8 + v] = 0.0 if out else -me


@lane()
def port_rates(W, state, rate, cyl, n):
    """Port, runner and store of returned gas."""
    runner = cyl.runner_length > 0.0
    if runner:
        column = cyl.runner_area / cyl.runner_length
        for v in range(n):
            w = W[PER_W * 8 + v]
            q = W[(state + 6) * 8 + v]
            forward = q >= 0.0
            size = q if forward else -q
            push = W[P_PL * 8 + v] - W[P_P * 8 + v] - W[DRAG * 8 + v] * size * q
            hq = W[H_UP * 8 + v] if forward else W[H_P * 8 + v]
            yq = W[Y_UP * 8 + v] if forward else W[Y_P * 8 + v]
            mi = W[MI * 8 + v]
            W[(rate + 3) * 8 + v] = (q - mi) * w
            W[(rate + 4) * 8 + v] = (q * yq - mi * W[Y_I * 8 + v]) * w
            W[(rate + 5) * 8 + v] = (q * hq - q * W[PER_RHO * 8 + v] * push - mi * W[H_I * 8 + v]) * w
            W[(rate + 6) * 8 + v] = column * push * w
            store_flows(W, rate, q * w, hq, yq, forward, v)
    else:
        for v in range(n):
            mi = W[MI * 8 + v] * W[PER_W * 8 + v]
            W[(rate + 3) * 8 + v] = 0.0
            W[(rate + 4) * 8 + v] = 0.0
            W[(rate + 5) * 8 + v] = 0.0
            W[(rate + 6) * 8 + v] = 0.0
            store_flows(W, rate, mi, W[H_I * 8 + v], W[Y_I * 8 + v], mi >= 0.0, v)


@lane()
def rates(W, state, rate, V, dV, A_in, A_ex, cyl, law, first, n):
    """Rates per radian of all lanes from the state at row ``state`` to the row ``rate``."""
    cylinder_state(W, state, V, n)
    port_state(W, state, cyl, n)
    valve_flows(W, A_in, A_ex, cyl, n)
    cylinder_rates(W, rate, V, dV, cyl, law, n)
    port_rates(W, state, rate, cyl, n)
    if first:
        slopes(W, 1.0 / V, cyl, cyl.runner_length > 0.0, n)


@lane()
def shut(W, n):
    """Both valves shut: nothing passes them."""
    for v in range(n):
        W[MI * 8 + v] = 0.0
        W[H_I * 8 + v] = 0.0
        W[Y_I * 8 + v] = 0.0
