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
    K2,
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
    STRIDE,
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
    Y,
)
from boostwright.physics.kernels.lanes import fast_exp, fast_log

__all__ = ["cylinder_state", "port_rates", "port_state", "rates", "shut"]

SMOOTH = 3.0e-3  # flow.EPSILON


@lane()
def frozen(W, T, v):
    """Enthalpies h_f, h_b [J/kg] and heat capacities of lane ``v``'s fresh and burned gas at ``T``.

    Written out, since a loop in here would keep the loop over the lanes from becoming vector code.
    """
    t = 1.0e-3 * T
    h_f = W[(HF + 6) * STRIDE + v] * t + W[(HF + 5) * STRIDE + v]
    h_f = h_f * t + W[(HF + 4) * STRIDE + v]
    h_f = h_f * t + W[(HF + 3) * STRIDE + v]
    h_f = h_f * t + W[(HF + 2) * STRIDE + v]
    h_f = h_f * t + W[(HF + 1) * STRIDE + v]
    h_f = h_f * t + W[HF * STRIDE + v]
    h_b = W[(HB + 6) * STRIDE + v] * t + W[(HB + 5) * STRIDE + v]
    h_b = h_b * t + W[(HB + 4) * STRIDE + v]
    h_b = h_b * t + W[(HB + 3) * STRIDE + v]
    h_b = h_b * t + W[(HB + 2) * STRIDE + v]
    h_b = h_b * t + W[(HB + 1) * STRIDE + v]
    h_b = h_b * t + W[HB * STRIDE + v]
    c_f = W[(CPF + 6) * STRIDE + v] * t + W[(CPF + 5) * STRIDE + v]
    c_f = c_f * t + W[(CPF + 4) * STRIDE + v]
    c_f = c_f * t + W[(CPF + 3) * STRIDE + v]
    c_f = c_f * t + W[(CPF + 2) * STRIDE + v]
    c_f = c_f * t + W[(CPF + 1) * STRIDE + v]
    c_f = c_f * t + W[CPF * STRIDE + v]
    c_b = W[(CPB + 6) * STRIDE + v] * t + W[(CPB + 5) * STRIDE + v]
    c_b = c_b * t + W[(CPB + 4) * STRIDE + v]
    c_b = c_b * t + W[(CPB + 3) * STRIDE + v]
    c_b = c_b * t + W[(CPB + 2) * STRIDE + v]
    c_b = c_b * t + W[(CPB + 1) * STRIDE + v]
    c_b = c_b * t + W[CPB * STRIDE + v]
    return W[H0_F * STRIDE + v] + T * h_f, W[H0_B * STRIDE + v] + T * h_b, c_f, c_b


def _frozen_temperatures(s_m, row_T, row_y, row_h, row_R, row_g, row_uy, row_per):
    """The kernel `temperatures` for one volume; its rows are constants to the compiler.

    As arguments of one kernel they would not be, and its loop would stay scalar.
    """
    s_b = s_m + 1
    s_u = s_m + 2

    @lane()
    def temperatures(W, n):
        """Temperature, enthalpy, gas constant, gamma, du/dy of a charge from its mass, burned mass, energy.

        Two Newton steps from the last temperature; the second is carried to the enthalpies to first order.
        """
        for v in range(n):
            per = 1.0 / W[s_m * STRIDE + v]
            y = W[s_b * STRIDE + v] * per
            u = W[s_u * STRIDE + v] * per
            R = W[R_F * STRIDE + v] + y * W[D_R * STRIDE + v]
            T = W[row_T * STRIDE + v]
            h_f, h_b, c_f, c_b = frozen(W, T, v)
            slope = 1.0 / (c_f + y * (c_b - c_f) - R)  # 1/cv
            T += (u - (h_f + y * (h_b - h_f) - R * T)) * slope
            h_f, h_b, c_f, c_b = frozen(W, T, v)
            cp = c_f + y * (c_b - c_f)
            slope *= 2.0 - slope * (cp - R)  # 1/cv at the new temperature, without another division
            step = (u - (h_f + y * (h_b - h_f) - R * T)) * slope
            T += step
            W[row_T * STRIDE + v] = T
            W[row_y * STRIDE + v] = y
            W[row_h * STRIDE + v] = h_f + y * (h_b - h_f) + cp * step
            W[row_R * STRIDE + v] = R
            W[row_g * STRIDE + v] = cp * slope
            W[row_uy * STRIDE + v] = h_b - h_f - W[D_R * STRIDE + v] * T
            W[row_per * STRIDE + v] = per

    return temperatures


cylinder_temperatures = _frozen_temperatures(Y, T_C, Y_C, H_C, RC, G_C, UY_C, PER_M)
port_temperatures = _frozen_temperatures(Y + 3, T_P, Y_P, H_P, RP, G_P, UY_P, D_I)


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
def store_flows(W, up, h, y, forward, v):
    """What the flow towards the port takes from the returned-gas store, or gives to it."""
    share = W[SHARE * STRIDE + v]
    taken = share * up
    W[(K2 + 7) * STRIDE + v] = -taken if forward else -up
    W[(K2 + 8) * STRIDE + v] = -taken * W[Y_ST * STRIDE + v] if forward else -up * y
    W[(K2 + 9) * STRIDE + v] = -taken * W[H_ST * STRIDE + v] if forward else -up * h
    fresh = up - taken if forward else 0.0
    W[(K2 + 12) * STRIDE + v] = fresh
    W[(K2 + 13) * STRIDE + v] = fresh * W[H_IN * STRIDE + v]


@lane()
def slopes(W, per_V, cyl, runner, n):
    """Slopes of both pressures on their masses and energies, and what the valves move."""
    for v in range(n):
        R = W[RC * STRIDE + v]
        T = W[T_C * STRIDE + v]
        y = W[Y_C * STRIDE + v]
        ratio = W[G_C * STRIDE + v] - 1.0  # R/cv
        u = W[H_C * STRIDE + v] - W[RT_C * STRIDE + v]
        u_y = W[UY_C * STRIDE + v]
        dRT = W[D_R * STRIDE + v] * T
        W[A_M * STRIDE + v] = (R * T - dRT * y + ratio * (u_y * y - u)) * per_V
        W[A_B * STRIDE + v] = (dRT - ratio * u_y) * per_V
        W[A_U * STRIDE + v] = ratio * per_V
        w = W[PER_W * STRIDE + v]
        W[L_MI_C * STRIDE + v] = W[MI_C * STRIDE + v] * w
        W[L_MI_P * STRIDE + v] = W[MI_P * STRIDE + v] * w
        W[L_ME_C * STRIDE + v] = W[ME_C * STRIDE + v] * w
        W[L_HI * STRIDE + v] = W[H_I * STRIDE + v]
        W[L_YI * STRIDE + v] = W[Y_I * STRIDE + v]
        W[L_HE * STRIDE + v] = W[H_E * STRIDE + v]
        W[L_YE * STRIDE + v] = W[Y_E * STRIDE + v]
        W[L_SH * STRIDE + v] = W[SHARE * STRIDE + v]
        W[L_YS * STRIDE + v] = W[Y_ST * STRIDE + v]
        W[L_HS * STRIDE + v] = W[H_ST * STRIDE + v]
        W[OUT * STRIDE + v] = 1.0 if W[ME * STRIDE + v] > 0.0 else 0.0
        W[INTO * STRIDE + v] = 1.0 if W[MI * STRIDE + v] >= 0.0 else 0.0
    if runner:
        per_port = 1.0 / cyl.port_volume
        for v in range(n):
            T = W[T_P * STRIDE + v]
            y = W[Y_P * STRIDE + v]
            ratio = W[G_P * STRIDE + v] - 1.0
            u = W[H_P * STRIDE + v] - W[RT_P * STRIDE + v]
            u_y = W[UY_P * STRIDE + v]
            dRT = W[D_R * STRIDE + v] * T
            W[B_M * STRIDE + v] = (W[RT_P * STRIDE + v] - dRT * y + ratio * (u_y * y - u)) * per_port
            W[B_B * STRIDE + v] = (dRT - ratio * u_y) * per_port
            W[B_U * STRIDE + v] = ratio * per_port
    else:
        for v in range(n):
            W[B_M * STRIDE + v] = 0.0
            W[B_B * STRIDE + v] = 0.0
            W[B_U * STRIDE + v] = 0.0


@lane()
def cylinder_state(W, V, n):
    """Temperature, pressure and properties of the charge in the cylinder."""
    cylinder_temperatures(W, n)
    per_V = 1.0 / V
    for v in range(n):
        RT = W[RC * STRIDE + v] * W[T_C * STRIDE + v]
        W[RT_C * STRIDE + v] = RT
        W[P_C * STRIDE + v] = W[Y * STRIDE + v] * RT * per_V


@lane()
def port_state(W, cyl, n):
    """What stands behind the intake valve: the store of returned gas, and the port's pressure and
    temperature.
    """
    runner = cyl.runner_length > 0.0
    for v in range(n):
        m = W[(Y + 7) * STRIDE + v]
        total = m + W[FADE * STRIDE + v]
        both = 1.0 / (m * total)
        per = total * both
        share = m * m * both
        y = W[(Y + 8) * STRIDE + v] * per
        h = W[(Y + 9) * STRIDE + v] * per
        W[SHARE * STRIDE + v] = share
        W[Y_ST * STRIDE + v] = y
        W[H_ST * STRIDE + v] = h
        W[Y_UP * STRIDE + v] = share * y
        W[H_UP * STRIDE + v] = W[H_IN * STRIDE + v] + share * (h - W[H_IN * STRIDE + v])
    if runner:
        port_temperatures(W, n)
        per_port = 1.0 / cyl.port_volume
        for v in range(n):
            RT = W[RP * STRIDE + v] * W[T_P * STRIDE + v]
            W[RT_P * STRIDE + v] = RT
            W[P_P * STRIDE + v] = W[(Y + 3) * STRIDE + v] * RT * per_port
    else:
        for v in range(n):
            y = W[Y_UP * STRIDE + v]
            R = W[R_F * STRIDE + v] + y * W[D_R * STRIDE + v]
            W[Y_P * STRIDE + v] = y
            W[H_P * STRIDE + v] = W[H_UP * STRIDE + v]
            W[RP * STRIDE + v] = R
            W[RT_P * STRIDE + v] = R * W[T_IN * STRIDE + v]
            W[P_P * STRIDE + v] = W[P_PL * STRIDE + v]
            W[G_P * STRIDE + v] = W[CP_IN * STRIDE + v] / (W[CP_IN * STRIDE + v] - R)


@lane()
def valve_flows(W, A_in, A_ex, cyl, n):
    """Flow through both valves, its slopes, and what it carries."""
    if A_in > 0.0:
        for v in range(n):
            m, a, b = nozzle_flow(
                A_in,
                W[P_P * STRIDE + v],
                W[RT_P * STRIDE + v],
                W[G_P * STRIDE + v],
                W[P_C * STRIDE + v],
                W[RT_C * STRIDE + v],
                W[G_C * STRIDE + v],
                cyl.intake_reverse,
            )
            W[MI * STRIDE + v] = m
            W[MI_P * STRIDE + v] = a
            W[MI_C * STRIDE + v] = b
    else:
        for v in range(n):
            W[MI * STRIDE + v] = 0.0
            W[MI_P * STRIDE + v] = 0.0
            W[MI_C * STRIDE + v] = 0.0
    if A_ex > 0.0:
        for v in range(n):
            RT = W[RT_C * STRIDE + v]
            g = W[G_C * STRIDE + v]
            m, a, _ = nozzle_flow(
                A_ex, W[P_C * STRIDE + v], RT, g, W[P_EX * STRIDE + v], RT, g, cyl.exhaust_reverse
            )
            W[ME * STRIDE + v] = m
            W[ME_C * STRIDE + v] = a
    else:
        for v in range(n):
            W[ME * STRIDE + v] = 0.0
            W[ME_C * STRIDE + v] = 0.0
    for v in range(n):
        inward = W[MI * STRIDE + v] >= 0.0
        W[H_I * STRIDE + v] = W[H_P * STRIDE + v] if inward else W[H_C * STRIDE + v]
        W[Y_I * STRIDE + v] = W[Y_P * STRIDE + v] if inward else W[Y_C * STRIDE + v]
        outward = W[ME * STRIDE + v] >= 0.0
        W[H_E * STRIDE + v] = W[H_C * STRIDE + v] if outward else W[H_BACK * STRIDE + v]
        W[Y_E * STRIDE + v] = W[Y_C * STRIDE + v] if outward else W[Y_BACK * STRIDE + v]


@lane()
def cylinder_rates(W, V, dV, cyl, law, n):
    """Mass and energy of the cylinder: valves, work, wall heat; and the counters of both."""
    liner = math.pi * cyl.bore * ((V - cyl.clearance) / cyl.bore_area + cyl.liner_offset)
    area = cyl.piston_area + cyl.head_area + liner
    ln_V = math.log(V)
    for v in range(n):
        T = W[T_C * STRIDE + v]
        p = W[P_C * STRIDE + v]
        ln_p = fast_log(p)
        ln_T = fast_log(T)
        if law == 0:
            h = fast_exp(W[HEAT * STRIDE + v] + 0.8 * (ln_p + W[LN_W * STRIDE + v]) - 0.55 * ln_T)
        else:
            h = fast_exp(
                W[HEAT * STRIDE + v] + 0.8 * (ln_p + W[LN_S * STRIDE + v]) - 0.4 * ln_T - 0.06 * ln_V
            )
        reach = (
            cyl.piston_area * W[T_PIS * STRIDE + v]
            + cyl.head_area * W[T_HEAD * STRIDE + v]
            + liner * W[T_LIN * STRIDE + v]
        )
        w = W[PER_W * STRIDE + v]
        Q = h * (area * T - reach) * w
        mi = W[MI * STRIDE + v] * w
        me = W[ME * STRIDE + v] * w
        ei = mi * W[H_I * STRIDE + v]
        ee = me * W[H_E * STRIDE + v]
        be = me * W[Y_E * STRIDE + v]
        W[K2 * STRIDE + v] = mi - me
        W[(K2 + 1) * STRIDE + v] = mi * W[Y_I * STRIDE + v] - be
        W[(K2 + 2) * STRIDE + v] = ei - ee - Q - p * dV
        W[(K2 + 10) * STRIDE + v] = p * dV
        W[(K2 + 11) * STRIDE + v] = Q
        out = me > 0.0
        W[(K2 + 14) * STRIDE + v] = me if out else 0.0
        W[(K2 + 15) * STRIDE + v] = ee if out else 0.0
        W[(K2 + 16) * STRIDE + v] = be if out else 0.0
        W[(K2 + 17) * STRIDE + v] = 0.0 if out else -me


@lane()
def port_rates(W, cyl, n):
    """Port, runner and store of returned gas."""
    runner = cyl.runner_length > 0.0
    if runner:
        column = cyl.runner_area / cyl.runner_length
        for v in range(n):
            w = W[PER_W * STRIDE + v]
            q = W[(Y + 6) * STRIDE + v]
            forward = q >= 0.0
            size = q if forward else -q
            push = W[P_PL * STRIDE + v] - W[P_P * STRIDE + v] - W[DRAG * STRIDE + v] * size * q
            hq = W[H_UP * STRIDE + v] if forward else W[H_P * STRIDE + v]
            yq = W[Y_UP * STRIDE + v] if forward else W[Y_P * STRIDE + v]
            mi = W[MI * STRIDE + v]
            W[(K2 + 3) * STRIDE + v] = (q - mi) * w
            W[(K2 + 4) * STRIDE + v] = (q * yq - mi * W[Y_I * STRIDE + v]) * w
            W[(K2 + 5) * STRIDE + v] = (
                q * hq - q * W[PER_RHO * STRIDE + v] * push - mi * W[H_I * STRIDE + v]
            ) * w
            W[(K2 + 6) * STRIDE + v] = column * push * w
            store_flows(W, q * w, hq, yq, forward, v)
    else:
        for v in range(n):
            mi = W[MI * STRIDE + v] * W[PER_W * STRIDE + v]
            W[(K2 + 3) * STRIDE + v] = 0.0
            W[(K2 + 4) * STRIDE + v] = 0.0
            W[(K2 + 5) * STRIDE + v] = 0.0
            W[(K2 + 6) * STRIDE + v] = 0.0
            store_flows(W, mi, W[H_I * STRIDE + v], W[Y_I * STRIDE + v], mi >= 0.0, v)


@lane()
def rates(W, V, dV, A_in, A_ex, cyl, law, first, n):
    """Rates per radian of all lanes, from the state in row Y to row K2.

    The rows are fixed, not arguments: only then can the compiler see that the loops do not overlap.
    """
    cylinder_state(W, V, n)
    port_state(W, cyl, n)
    valve_flows(W, A_in, A_ex, cyl, n)
    cylinder_rates(W, V, dV, cyl, law, n)
    port_rates(W, cyl, n)
    if first:
        slopes(W, 1.0 / V, cyl, cyl.runner_length > 0.0, n)


@lane()
def shut(W, n):
    """Both valves shut: nothing passes them."""
    for v in range(n):
        W[MI * STRIDE + v] = 0.0
        W[H_I * STRIDE + v] = 0.0
        W[Y_I * STRIDE + v] = 0.0
