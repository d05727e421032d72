"""Compiled gas exchange for several operating points side by side: exhaust opening to intake closing.

The pressures on the two sides of an open valve meet within a fraction of a degree at low speed, which an
explicit step cannot follow. Each valve's flow is therefore linearised in the two pressures inside the step (a
rank-two correction solved in closed form). The step is the L-stable second-order W-method ROS2 of Verwer,
Spee, Blom & Hundsdorfer (1999): it keeps its order for any such matrix, and it conserves mass and energy to
round-off because the correction only moves what the valves move.
"""

from __future__ import annotations

import math

from boostwright.physics.kernels.closed_phase import REACH, WEIGHTS
from boostwright.physics.kernels.gas import hermite
from boostwright.physics.kernels.jit import inner, lane, outer
from boostwright.physics.kernels.lane_rates import cylinder_state, port_rates, port_state, rates, shut
from boostwright.physics.kernels.lane_state import (
    A_B,
    A_M,
    A_U,
    B_B,
    B_M,
    B_U,
    D_E,
    D_I,
    H_IN,
    INTO,
    K1,
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
    N_OPEN,
    OUT,
    STRIDE,
    S,
    Y,
    record,
)

__all__ = ["STORE_SHARE", "exchange"]

GAMMA = 1.0 - 1.0 / math.sqrt(2.0)
STORE_SHARE = 0.02
"""Share of the swept mass below which the returned-gas store fades out instead of stopping dead [-]."""


@lane()
def implicit(W, c, runner, n):
    """Solve (I - c A) x = k in place (row K2); A moves what the valves move as pressures move."""
    for v in range(n):
        hi = W[L_HI * STRIDE + v]
        yi = W[L_YI * STRIDE + v]
        he = W[L_HE * STRIDE + v]
        ye = W[L_YE * STRIDE + v]
        c_i = W[A_M * STRIDE + v] + W[A_B * STRIDE + v] * yi + W[A_U * STRIDE + v] * hi
        p_i = -(W[B_M * STRIDE + v] + W[B_B * STRIDE + v] * yi + W[B_U * STRIDE + v] * hi)
        c_e = -(W[A_M * STRIDE + v] + W[A_B * STRIDE + v] * ye + W[A_U * STRIDE + v] * he)
        r_c = W[A_M * STRIDE + v] * W[K2 * STRIDE + v] + W[A_B * STRIDE + v] * W[(K2 + 1) * STRIDE + v]
        r_c += W[A_U * STRIDE + v] * W[(K2 + 2) * STRIDE + v]
        r_p = W[B_M * STRIDE + v] * W[(K2 + 3) * STRIDE + v] + W[B_B * STRIDE + v] * W[(K2 + 4) * STRIDE + v]
        r_p += W[B_U * STRIDE + v] * W[(K2 + 5) * STRIDE + v]
        g_i = W[L_MI_C * STRIDE + v] * r_c + W[L_MI_P * STRIDE + v] * r_p
        g_e = W[L_ME_C * STRIDE + v] * r_c
        a11 = 1.0 - c * (W[L_MI_C * STRIDE + v] * c_i + W[L_MI_P * STRIDE + v] * p_i)
        a12 = -c * W[L_MI_C * STRIDE + v] * c_e
        a21 = -c * W[L_ME_C * STRIDE + v] * c_i
        a22 = 1.0 - c * W[L_ME_C * STRIDE + v] * c_e
        scale = c / (a11 * a22 - a12 * a21)
        d_i = scale * (g_i * a22 - a12 * g_e)
        d_e = scale * (a11 * g_e - a21 * g_i)
        W[D_I * STRIDE + v] = d_i
        W[D_E * STRIDE + v] = d_e
    for v in range(n):
        d_i = W[D_I * STRIDE + v]
        d_e = W[D_E * STRIDE + v]
        out = W[OUT * STRIDE + v]
        W[K2 * STRIDE + v] += d_i - d_e
        W[(K2 + 1) * STRIDE + v] += d_i * W[L_YI * STRIDE + v] - d_e * W[L_YE * STRIDE + v]
        W[(K2 + 2) * STRIDE + v] += d_i * W[L_HI * STRIDE + v] - d_e * W[L_HE * STRIDE + v]
        W[(K2 + 14) * STRIDE + v] += out * d_e
        W[(K2 + 15) * STRIDE + v] += out * d_e * W[L_HE * STRIDE + v]
        W[(K2 + 16) * STRIDE + v] += out * d_e * W[L_YE * STRIDE + v]
        W[(K2 + 17) * STRIDE + v] -= (1.0 - out) * d_e
    if runner:
        for v in range(n):
            d_i = W[D_I * STRIDE + v]
            W[(K2 + 3) * STRIDE + v] -= d_i
            W[(K2 + 4) * STRIDE + v] -= d_i * W[L_YI * STRIDE + v]
            W[(K2 + 5) * STRIDE + v] -= d_i * W[L_HI * STRIDE + v]
    else:
        for v in range(n):
            d_i = W[D_I * STRIDE + v]
            into = W[INTO * STRIDE + v]
            share = into * W[L_SH * STRIDE + v] + (1.0 - into)
            y = into * W[L_YS * STRIDE + v] + (1.0 - into) * W[L_YI * STRIDE + v]
            h = into * W[L_HS * STRIDE + v] + (1.0 - into) * W[L_HI * STRIDE + v]
            W[(K2 + 7) * STRIDE + v] -= share * d_i
            W[(K2 + 8) * STRIDE + v] -= share * d_i * y
            W[(K2 + 9) * STRIDE + v] -= share * d_i * h
            W[(K2 + 12) * STRIDE + v] += (1.0 - share) * d_i
            W[(K2 + 13) * STRIDE + v] += (1.0 - share) * d_i * W[H_IN * STRIDE + v]


@inner()
def geometry(theta, cyl):
    """Volume, its slope, and both effective areas at a crank angle."""
    x = (theta - cyl.theta0) / cyl.dtheta
    V, dV = hermite(x, cyl.volume, cyl.volume_slope, cyl.dtheta)
    A_in, _ = hermite(x, cyl.intake_area, cyl.intake_slope, cyl.dtheta)
    A_ex, _ = hermite(x, cyl.exhaust_area, cyl.exhaust_slope, cyl.dtheta)
    return V, dV, A_in, A_ex


@outer()
def ring(W, n, cyl, step, lanes, rows, trace):
    """Port and runner while both valves are shut, from intake closing to exhaust opening (classic
    Runge-Kutta).

    The gas column goes on swinging; what it does to the next filling depends on where it is when the valve
    opens.
    """
    span = cyl.evo - cyl.theta0
    count = int(math.ceil(span / step - 1.0e-9))
    h = span / count
    shut(W, n)
    if trace.shape[1] > 0:
        record(W, cyl.theta0, 4.0, lanes, rows, trace)
    for _ in range(count):
        for z in range(3, 14):
            for v in range(n):
                W[(Y + z) * STRIDE + v] = W[(S + z) * STRIDE + v]
                W[(K1 + z) * STRIDE + v] = 0.0
                W[(K2 + z) * STRIDE + v] = 0.0
        for q in range(4):
            port_state(W, cyl, n)
            port_rates(W, cyl, n)
            weight = WEIGHTS[q]
            reach = REACH[q] * h
            for z in range(3, 14):
                for v in range(n):
                    W[(K1 + z) * STRIDE + v] += weight * W[(K2 + z) * STRIDE + v]
                    W[(Y + z) * STRIDE + v] = W[(S + z) * STRIDE + v] + reach * W[(K2 + z) * STRIDE + v]
        for z in range(3, 14):
            for v in range(n):
                W[(S + z) * STRIDE + v] += h * W[(K1 + z) * STRIDE + v]


@outer()
def exchange(W, n, cyl, law, steps, work, lanes, rows, trace):
    """Integrate lanes 0..n-1 of ``W`` to intake closing: the port alone until the exhaust opens, then all.

    ``work`` (2, 8): the work integral at the two bottom dead centres [J]. ``lanes`` (8,): the point in each
    lane, -1 for none; used for the trace only.
    """
    runner = cyl.runner_length > 0.0
    if runner:
        ring(W, n, cyl, steps.shut, lanes, rows, trace)
    edges = cyl.edges
    for e in range(edges.size - 1):
        a = edges[e]
        for b in range(2):
            if abs(a - (1.0 + 2.0 * b) * math.pi) < 1.0e-9:
                for v in range(n):
                    work[b, v] = W[(S + 10) * STRIDE + v]
        span = edges[e + 1] - a
        if span <= 1.0e-9:
            continue
        part = cyl.part[e]
        step = steps.blowdown if part == 0.0 else steps.valve if part == 1.0 else steps.filling
        count = int(math.ceil(span / step - 1.0e-9))
        h = span / count
        for j in range(count):
            theta = a + j * h
            for z in range(N_OPEN):
                for v in range(n):
                    W[(Y + z) * STRIDE + v] = W[(S + z) * STRIDE + v]
                    W[(K1 + z) * STRIDE + v] = 0.0
            for stage in range(2):
                V, dV, A_in, A_ex = geometry(theta + stage * h, cyl)
                rates(W, V, dV, A_in, A_ex, cyl, law, stage == 0, n)
                if stage == 0 and trace.shape[1] > 0:
                    record(W, theta, 3.0, lanes, rows, trace)
                for z in range(N_OPEN):
                    for v in range(n):
                        W[(K2 + z) * STRIDE + v] -= 2.0 * W[(K1 + z) * STRIDE + v]
                implicit(W, GAMMA * h, runner, n)
                if stage == 0:
                    for z in range(N_OPEN):
                        for v in range(n):
                            k = W[(K2 + z) * STRIDE + v]
                            W[(K1 + z) * STRIDE + v] = k
                            W[(Y + z) * STRIDE + v] += h * k
                else:
                    for z in range(N_OPEN):
                        for v in range(n):
                            W[(S + z) * STRIDE + v] += h * (
                                1.5 * W[(K1 + z) * STRIDE + v] + 0.5 * W[(K2 + z) * STRIDE + v]
                            )
    for z in range(3):
        for v in range(n):
            W[(Y + z) * STRIDE + v] = W[(S + z) * STRIDE + v]
    V, _, _, _ = geometry(cyl.ivc, cyl)
    cylinder_state(W, V, n)
    if trace.shape[1] > 0:
        record(W, cyl.ivc, 3.0, lanes, rows, trace)
