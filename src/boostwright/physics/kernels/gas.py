"""Compiled gas properties: polynomials of fresh and frozen burned gas, spline table of burned gas in
equilibrium.
"""

from __future__ import annotations

import math

from boostwright.physics.kernels.jit import inner

__all__ = ["equilibrium", "frozen", "frozen_at_enthalpy", "frozen_temperature", "hermite"]


@inner()
def hermite(x, values, slopes, dx):
    """Cubic Hermite value and slope at ``x`` steps from the first node; ``dx`` is the step."""
    i = int(x)
    if i < 0:
        i = 0
    if i > values.size - 2:
        i = values.size - 2
    u = x - i
    a = values[i]
    b = values[i + 1]
    sa = slopes[i] * dx
    sb = slopes[i + 1] * dx
    d = b - a
    c2 = 3.0 * d - 2.0 * sa - sb
    c3 = sa + sb - 2.0 * d
    value = a + u * (sa + u * (c2 + u * c3))
    slope = (sa + u * (2.0 * c2 + 3.0 * u * c3)) / dx
    return value, slope


@inner()
def frozen(T, y, k, gas):
    """Enthalpies of fresh and burned gas, cp of their mixture: h_f, h_b [J/kg], cp [J/kg/K]; ``y`` burned
    share.
    """
    t = 1.0e-3 * T
    cf = gas.cp_f[k]
    cb = gas.cp_b[k]
    ef = gas.h_f[k]
    eb = gas.h_b[k]
    cp_f = cf[6]
    cp_b = cb[6]
    h_f = ef[6]
    h_b = eb[6]
    for j in range(5, -1, -1):
        cp_f = cp_f * t + cf[j]
        cp_b = cp_b * t + cb[j]
        h_f = h_f * t + ef[j]
        h_b = h_b * t + eb[j]
    return gas.h0_f[k] + h_f * T, gas.h0_b[k] + h_b * T, cp_f + y * (cp_b - cp_f)


@inner()
def frozen_temperature(u, y, T, k, gas):
    """Temperature [K] at which the frozen mixture has internal energy ``u`` [J/kg]; Newton from the guess
    ``T``.

    Returns T, h_f, h_b, cp at that temperature. The last correction, below 0.5 K, is not looked up again (its
    error is its square times d ln cp/dT / 2, under 3e-5 K) but carried over to the enthalpies to first order.
    """
    R = gas.R_f[k] + y * (gas.R_b[k] - gas.R_f[k])
    h_f = 0.0
    h_b = 0.0
    cp = 1.0
    for _ in range(8):
        h_f, h_b, cp = frozen(T, y, k, gas)
        step = (u - (h_f + y * (h_b - h_f) - R * T)) / (cp - R)
        T += step
        if abs(step) < 0.5:
            h_f += cp * step
            h_b += cp * step
            break
    return T, h_f, h_b, cp


@inner()
def frozen_at_enthalpy(h, y, T, k, gas):
    """Temperature [K] at which the frozen mixture has enthalpy ``h`` [J/kg], and its cp there; Newton from
    ``T``.
    """
    cp = 1.0
    for _ in range(20):
        h_f, h_b, cp = frozen(T, y, k, gas)
        step = (h - h_f - y * (h_b - h_f)) / cp
        T = min(max(T + step, 250.0), 3000.0)
        if abs(step) < 1.0e-7:
            break
    return T, cp


@inner()
def equilibrium(T, lnp, k, gas):
    """Burned gas in equilibrium: h, dh/dT, dh/dlnp, R, dR/dT, dR/dlnp of the table's own spline."""
    x = (T - gas.T0) / gas.dT
    z = (lnp - gas.lnp0) / gas.dlnp
    nT = gas.h_spline.shape[1]
    nP = gas.h_spline.shape[2]
    i = min(max(int(math.floor(x)), 0), nT - 4)
    j = min(max(int(math.floor(z)), 0), nP - 4)
    u = x - i
    v = z - j
    u1 = 1.0 - u
    v1 = 1.0 - v
    a0 = u1 * u1 * u1 / 6.0
    a3 = u * u * u / 6.0
    a1 = (4.0 - 6.0 * u * u + 3.0 * u * u * u) / 6.0
    a2 = 1.0 - a0 - a1 - a3
    b0 = -0.5 * u1 * u1
    b1 = 1.5 * u * u - 2.0 * u
    b3 = 0.5 * u * u
    b2 = -b0 - b1 - b3
    p0 = v1 * v1 * v1 / 6.0
    p3 = v * v * v / 6.0
    p1 = (4.0 - 6.0 * v * v + 3.0 * v * v * v) / 6.0
    p2 = 1.0 - p0 - p1 - p3
    q0 = -0.5 * v1 * v1
    q1 = 1.5 * v * v - 2.0 * v
    q3 = 0.5 * v * v
    q2 = -q0 - q1 - q3
    H = gas.h_spline
    r = gas.r_spline
    h0 = a0 * H[k, i, j] + a1 * H[k, i + 1, j] + a2 * H[k, i + 2, j] + a3 * H[k, i + 3, j]
    h1 = a0 * H[k, i, j + 1] + a1 * H[k, i + 1, j + 1] + a2 * H[k, i + 2, j + 1] + a3 * H[k, i + 3, j + 1]
    h2 = a0 * H[k, i, j + 2] + a1 * H[k, i + 1, j + 2] + a2 * H[k, i + 2, j + 2] + a3 * H[k, i + 3, j + 2]
    h3 = a0 * H[k, i, j + 3] + a1 * H[k, i + 1, j + 3] + a2 * H[k, i + 2, j + 3] + a3 * H[k, i + 3, j + 3]
    t0 = b0 * H[k, i, j] + b1 * H[k, i + 1, j] + b2 * H[k, i + 2, j] + b3 * H[k, i + 3, j]
    t1 = b0 * H[k, i, j + 1] + b1 * H[k, i + 1, j + 1] + b2 * H[k, i + 2, j + 1] + b3 * H[k, i + 3, j + 1]
    t2 = b0 * H[k, i, j + 2] + b1 * H[k, i + 1, j + 2] + b2 * H[k, i + 2, j + 2] + b3 * H[k, i + 3, j + 2]
    t3 = b0 * H[k, i, j + 3] + b1 * H[k, i + 1, j + 3] + b2 * H[k, i + 2, j + 3] + b3 * H[k, i + 3, j + 3]
    h = p0 * h0 + p1 * h1 + p2 * h2 + p3 * h3
    h_T = (p0 * t0 + p1 * t1 + p2 * t2 + p3 * t3) / gas.dT
    h_l = (q0 * h0 + q1 * h1 + q2 * h2 + q3 * h3) / gas.dlnp
    g0 = a0 * r[k, i, j] + a1 * r[k, i + 1, j] + a2 * r[k, i + 2, j] + a3 * r[k, i + 3, j]
    g1 = a0 * r[k, i, j + 1] + a1 * r[k, i + 1, j + 1] + a2 * r[k, i + 2, j + 1] + a3 * r[k, i + 3, j + 1]
    g2 = a0 * r[k, i, j + 2] + a1 * r[k, i + 1, j + 2] + a2 * r[k, i + 2, j + 2] + a3 * r[k, i + 3, j + 2]
    g3 = a0 * r[k, i, j + 3] + a1 * r[k, i + 1, j + 3] + a2 * r[k, i + 2, j + 3] + a3 * r[k, i + 3, j + 3]
    s0 = b0 * r[k, i, j] + b1 * r[k, i + 1, j] + b2 * r[k, i + 2, j] + b3 * r[k, i + 3, j]
    s1 = b0 * r[k, i, j + 1] + b1 * r[k, i + 1, j + 1] + b2 * r[k, i + 2, j + 1] + b3 * r[k, i + 3, j + 1]
    s2 = b0 * r[k, i, j + 2] + b1 * r[k, i + 1, j + 2] + b2 * r[k, i + 2, j + 2] + b3 * r[k, i + 3, j + 2]
    s3 = b0 * r[k, i, j + 3] + b1 * r[k, i + 1, j + 3] + b2 * r[k, i + 2, j + 3] + b3 * r[k, i + 3, j + 3]
    R = p0 * g0 + p1 * g1 + p2 * g2 + p3 * g3
    R_T = (p0 * s0 + p1 * s1 + p2 * s2 + p3 * s3) / gas.dT
    R_l = (q0 * g0 + q1 * g1 + q2 * g2 + q3 * g3) / gas.dlnp
    return h, h_T, h_l, R, R_T, R_l
