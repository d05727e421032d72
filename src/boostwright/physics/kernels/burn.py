"""Compiled two-zone burn, by turbulent entrainment or by a Wiebe law.

The equations of the two zones use the derivatives of the gas table's own spline, so energy is conserved
whatever the table's error. The kernel of the flame is burned, and the zones are merged, at equal volume, mass
and energy.
"""

from __future__ import annotations

import math

import numpy as np

from boostwright.physics.kernels.closed_phase import (
    LN_ATM,
    REACH,
    TIMES,
    WEIGHTS,
    knock_rates,
    walls,
)
from boostwright.physics.kernels.gas import equilibrium, frozen, hermite
from boostwright.physics.kernels.heat import coefficient
from boostwright.physics.kernels.jit import inner, outer
from boostwright.physics.kernels.records import WiebeLaw

__all__ = ["BURNED_ENOUGH", "KERNEL_SHARE", "burn", "merge", "wiebe_law"]

KERNEL_SHARE = 5.0e-4
"""Burned mass share with which the flame starts at spark [-]."""
BURNED_ENOUGH = 0.9995
"""Burned share at which the two zones are merged [-]."""
LN_298 = math.log(298.0)


@inner()
def flame(ln_share, lnh, cyl):
    """Flame area over R^2 and radius over R at ln of the enclosed volume share and ln(h/R)."""
    ni, nj = cyl.flame_area.shape
    x = (lnh - cyl.flame_lnh0) / cyl.flame_dlnh
    x = min(max(x, 0.0), ni - 1.000001)
    z = math.exp(min(ln_share, 0.0) / 3.0) * (nj - 1)
    z = min(z, nj - 1.000001)
    a = int(x)
    b = int(z)
    u = x - a
    v = z - b
    A = cyl.flame_area
    r = cyl.flame_radius
    w00 = (1.0 - u) * (1.0 - v)
    w01 = (1.0 - u) * v
    w10 = u * (1.0 - v)
    w11 = u * v
    return (
        w00 * A[a, b] + w01 * A[a, b + 1] + w10 * A[a + 1, b] + w11 * A[a + 1, b + 1],
        w00 * r[a, b] + w01 * r[a, b + 1] + w10 * r[a + 1, b] + w11 * r[a + 1, b + 1],
    )


@inner()
def turbulence(lnT, lnp, rho, cyl, gas, c):
    """Turbulence intensity u' and laminar flame speed [m/s], and the rate 1/tau at which an eddy burns out
    [1/s].

    u' = C_u S_p (rho/rho_TDC)^(1/3), L = 0.2 h_TDC (rho/rho_TDC)^(-1/3), tau = lambda_T/S_L, lambda_T^2 = 15
    nu L/u'.
    """
    ratio = math.exp(math.log(rho / c.rho_tdc) / 3.0)
    intensity = cyl.tumble * c.speed * ratio
    scale = 0.2 * c.h_tdc / ratio
    nu = 3.3e-7 * math.exp(0.7 * lnT) / rho
    S_L = c.S_L * math.exp(gas.flame_T[c.k] * (lnT - LN_298) + gas.flame_p[c.k] * (lnp - LN_ATM))
    return intensity, S_L, S_L / math.sqrt(15.0 * nu * scale / intensity)


@inner()
def entrainment(V, lnV, lnT, lnp, rho, mb, me, cyl, gas, c):
    """Turbulent entrainment: dm_e and dm_b per radian.

    dm_e/dt = rho A_f (u_e + S_L), dm_b/dt = rho A_f S_L + (m_e - m_b)/tau, u_e = u'(1 - exp(-r_f/r_c)).
    """
    intensity, S_L, rate = turbulence(lnT, lnp, rho, cyl, gas, c)
    radius = 0.5 * cyl.bore
    V_f = V - (c.m - me) / rho
    share = max(V_f / V, 1.0e-9)
    area, r_f = flame(math.log(share), lnV - cyl.ln_disc, cyl)
    entry = intensity * (1.0 - math.exp(-r_f * radius / cyl.kernel_radius))
    fade = max(min(1.0, (c.m - me) / (0.001 * c.m)), 0.0)
    front = rho * area * radius * radius * fade
    return front * (entry + S_L) * c.w, (front * S_L + (me - mb) * rate) * c.w


@inner()
def wiebe(theta, c, law):
    """Burned mass per radian of x = (1 - exp(-a z^(m+1)))/(1 - exp(-a)), a = 6.908."""
    z = (theta - law.start) / law.span
    if z <= 0.0 or z >= 1.0:
        return 0.0
    e = law.exponent
    zm = math.exp((e - 1.0) * math.log(z))
    return c.m * 6.908 * e * zm / law.span * math.exp(-6.908 * zm * z) / (1.0 - math.exp(-6.908))


@inner()
def burn_rates(theta, s, f, cyl, gas, c, law):
    """Rates of the two-zone burn per radian into ``f``.

    0 unburned T, 1 burned T, 2 pressure, 3 burned mass, 4 entrained mass, 5 core T, 6 and 7 knock integrals,
    8 work, 9 wall heat, 10 unburnt energy.
    """
    V, dV = hermite((theta - cyl.theta0) / cyl.dtheta, cyl.volume, cyl.volume_slope, cyl.dtheta)
    Tu = s[0]
    Tb = s[1]
    p = s[2]
    mb = s[3]
    mu = c.m - mb
    gone = mu < 1.0e-7 * c.m
    if gone:
        mu = 1.0e-7 * c.m
    lnp = math.log(p)
    lnT = math.log(Tu)
    lnV = math.log(V)
    hf, hbz, cpu = frozen(Tu, c.y, c.k, gas)
    hu = hf + c.y * (hbz - hf)
    vu = c.R * Tu / p
    hb, h_T, h_l, R, R_T, R_l = equilibrium(Tb, lnp, c.k, gas)
    h_p = h_l / p
    R_p = R_l / p
    vb = R * Tb / p
    if c.law == 0:
        de, dm = entrainment(V, lnV, lnT, lnp, 1.0 / vu, mb, s[4], cyl, gas, c)
    else:
        dm = wiebe(theta, c, law)
        de = dm

    # wall heat: the zones share the walls by volume; Woschni's velocity grows with pressure above motoring
    T_mean = p * V / (mu * c.R + mb * R)
    p_mot = c.p_ref * math.exp(1.32 * (math.log(c.V_ref) - lnV))
    w = 2.28 * c.speed + c.w_burn * max(p - p_mot, 0.0)
    h = coefficient(c.heat_law, c.heat_c, lnp, math.log(T_mean), V, math.log(w), c.ln_s) * c.w
    area, reach = walls(V, cyl, c)
    share = min(mb * vb / V, 1.0)
    Qu = h * (1.0 - share) * (area * Tu - reach)
    Qb = h * share * (area * Tb - reach)
    if gone:
        Qb += Qu
        Qu = 0.0

    release = Qb - dm * (hu - hb - c.lost)  # what leaves the burned zone
    grow = (R + Tb * R_T) / p
    left = mu * (c.R * vu / (cpu * p) - vu / p) + mb * (grow * (vb - h_p) / h_T + (Tb * R_p - vb) / p)
    right = dV - dm * (vb - vu) + c.R / p * Qu / cpu + grow * release / h_T
    dp = right / left
    f[0] = (vu * dp - Qu / mu) / cpu
    f[1] = ((vb - h_p) * dp - release / mb) / h_T
    f[2] = dp
    f[3] = dm
    f[4] = de
    _, _, cpk = frozen(s[5], c.y, c.k, gas)
    f[5] = c.R * s[5] / (cpk * p) * dp
    ka, kc = knock_rates(lnp, s[5])
    f[6] = ka * c.w
    f[7] = kc * c.w
    f[8] = p * dV
    f[9] = Qu + Qb
    f[10] = dm * c.lost


def wiebe_place(x):
    """(-ln(1 - x (1 - e^-a))/a), the (m+1)th power of the place where the share ``x`` is burned."""
    return -math.log(1.0 - x * (1.0 - math.exp(-6.908))) / 6.908


PLACE_KERNEL = wiebe_place(KERNEL_SHARE)
PLACE_10 = wiebe_place(0.1)
PLACE_90 = wiebe_place(0.9)


@outer()
def wiebe_law(T, V, c, gas, durations):
    """The Wiebe law for the state at spark: durations from the fit, exponent from their ratio."""
    p = c.m * c.R * T / V
    S_L = c.S_L * math.exp(
        gas.flame_T[c.k] * (math.log(T) - LN_298) + gas.flame_p[c.k] * (math.log(p) - LN_ATM)
    )
    x1 = math.log(c.speed)
    x2 = math.log(S_L)
    x3 = math.log(c.m / V)
    e = durations.early
    d = durations.main
    x4 = math.log(T)
    early = math.exp(e[0] + e[1] * x1 + e[2] * x2 + e[3] * x3 + c.late * (e[4] + e[5] * c.late) + e[6] * x4)
    main = math.exp(d[0] + d[1] * x1 + d[2] * x2 + d[3] * x3 + c.late * (d[4] + d[5] * c.late) + d[6] * x4)
    n = durations.exponent.size
    u = min(max((early / main - durations.ratio0) / durations.dratio, 0.0), n - 1.000001)
    i = int(u)
    exponent = durations.exponent[i] + (u - i) * (durations.exponent[i + 1] - durations.exponent[i])
    z0 = math.exp(math.log(PLACE_KERNEL) / exponent)
    z1 = math.exp(math.log(PLACE_10) / exponent)
    z9 = math.exp(math.log(PLACE_90) / exponent)
    span = main / (z9 - z1)
    return WiebeLaw(c.spark - z0 * span, span, exponent)


@outer()
def start_flame(T, p, V, gas, c):
    """Burn the kernel at once, mass, volume and energy kept: T_u, T_b (adiabatic flame), p, burned mass."""
    hf, hb, cpu = frozen(T, c.y, c.k, gas)
    U = c.m * (hf + c.y * (hb - hf) - c.R * T)
    mb = KERNEL_SHARE * c.m
    mu = c.m - mb
    Tb = 2600.0
    Tu = T
    for _ in range(60):
        hf, hb, cpu = frozen(Tu, c.y, c.k, gas)
        hu = hf + c.y * (hb - hf)
        h, h_T, _, R, R_T, _ = equilibrium(Tb, math.log(p), c.k, gas)
        d = (hu - h) / h_T
        Tb += d
        err = U + p * V - mu * hu - mb * (h + h_T * d)
        Tu += err / (mu * cpu)
        pn = (mu * c.R * Tu + mb * (R + R_T * d) * Tb) / V
        settled = abs(d) < 1.0e-7 and abs(pn - p) < 1.0e-11 * p
        p = pn
        if settled:
            break
    return Tu, Tb, p, mb


@outer()
def burn(step, T, cyl, gas, c, law, out, info, trace, row):
    """Burn from spark until all is burned or the exhaust opens; returns the angle, the state, and the trace
    row.

    ``info``: 0 peak pressure, 1 its angle, 2..4 CA10, CA50, CA90, 5 highest burned T, 6 highest unburned T.
    """
    s = np.empty(11)
    w = np.empty(11)
    f = np.empty(11)
    first = np.empty(11)
    total = np.empty(11)
    V, _ = hermite((c.spark - cyl.theta0) / cyl.dtheta, cyl.volume, cyl.volume_slope, cyl.dtheta)
    s[0], s[1], s[2], s[3] = start_flame(T, c.m * c.R * T / V, V, gas, c)
    s[4] = s[3]
    s[5] = out[4]
    s[6] = out[2]
    s[7] = out[3]
    s[8] = out[0]
    s[9] = out[1]
    s[10] = 0.0
    knock_a = -1.0
    knock_c = -1.0
    if c.law == 0:  # the step must follow the burn-out of an eddy
        rho = s[2] / (c.R * s[0])
        _, _, rate = turbulence(math.log(s[0]), math.log(s[2]), rho, cyl, gas, c)
        step = min(step, 1.2 * c.omega / rate)
    n = max(1, int(math.ceil((cyl.evo - c.spark) / step - 1.0e-9)))
    h = (cyl.evo - c.spark) / n
    last = law.start + law.span if c.law != 0 else cyl.evo + 1.0
    x_old = s[3] / c.m
    p_old = s[2]
    p_older = s[2]
    t = c.spark
    for j in range(n):
        t = c.spark + j * h
        a6 = s[6]
        a7 = s[7]
        for z in range(11):
            w[z] = s[z]
            total[z] = 0.0
        for q in range(4):
            burn_rates(t + TIMES[q] * h, w, f, cyl, gas, c, law)
            if q == 0:
                for z in range(11):
                    first[z] = f[z]
                if row < trace.shape[0]:
                    trace[row, 0] = t
                    trace[row, 1] = s[2]
                    trace[row, 2] = s[0]
                    trace[row, 3] = 1.0
                    trace[row, 4] = c.m
                    trace[row, 5] = c.y * c.m
                    trace[row, 6] = s[1]
                    trace[row, 7] = s[3]
                    trace[row, 8] = s[4]
                    row += 1
            for z in range(11):
                total[z] += WEIGHTS[q] * f[z]
                w[z] = s[z] + REACH[q] * h * f[z]
        for z in range(11):
            s[z] += h * total[z]
        if c.law != 0:
            s[4] = s[3]
        x = s[3] / c.m
        # angle marks and the cut-off of the knock integral by the cubic through both ends of the step
        g0 = first[3] * h / c.m
        g1 = f[3] * h / c.m
        for q in range(3):
            mark = (0.1, 0.5, 0.9)[q]
            if x_old < mark <= x:
                info[2 + q] = t + h * crossing(x_old, x, g0, g1, mark)
        if knock_a < 0.0 and x >= c.knock_end:
            u = crossing(x_old, x, g0, g1, c.knock_end)
            knock_a = cubic(a6, s[6], first[6] * h, f[6] * h, u)
            knock_c = cubic(a7, s[7], first[7] * h, f[7] * h, u)
            info[6] = s[0]
        info[5] = max(info[5], s[1])
        # peak pressure by the parabola through three points
        if s[2] < p_old and p_old >= p_older and p_old > info[0]:
            d = p_older - 2.0 * p_old + s[2]
            if j > 0 and d < 0.0:
                o = 0.5 * (p_older - s[2]) / d
                info[0] = p_old - 0.25 * (p_older - s[2]) * o
                info[1] = t + o * h
            else:
                info[0] = p_old
                info[1] = t
        p_older = p_old
        p_old = s[2]
        x_old = x
        t = c.spark + (j + 1) * h
        if x >= BURNED_ENOUGH or t >= last or not s[2] > 0.0:
            break
    if row < trace.shape[0]:
        trace[row, 0] = t
        trace[row, 1] = s[2]
        trace[row, 2] = s[0]
        trace[row, 3] = 1.0
        trace[row, 4] = c.m
        trace[row, 5] = c.y * c.m
        trace[row, 6] = s[1]
        trace[row, 7] = s[3]
        trace[row, 8] = s[4]
        row += 1
    if knock_a < 0.0:
        knock_a = s[6]
        knock_c = s[7]
        info[6] = s[0]
    if s[2] > info[0]:
        info[0] = s[2]
        info[1] = t
    out[0] = s[8]
    out[1] = s[9]
    out[2] = knock_a
    out[3] = knock_c
    out[4] = s[5]
    out[5] = s[10]
    return t, s[0], s[1], s[2], s[3], row


@outer()
def cubic(a, b, sa, sb, u):
    """Hermite cubic on the unit step."""
    d = b - a
    return a + u * (sa + u * ((3.0 * d - 2.0 * sa - sb) + u * (sa + sb - 2.0 * d)))


@outer()
def crossing(a, b, sa, sb, mark):
    """Where in the unit step the Hermite cubic from a to b passes ``mark``; Newton inside a bracket."""
    lo = 0.0
    hi = 1.0
    u = (mark - a) / (b - a)
    for _ in range(30):
        value = cubic(a, b, sa, sb, u) - mark
        if value > 0.0:
            hi = u
        else:
            lo = u
        d = b - a
        slope = sa + u * (2.0 * (3.0 * d - 2.0 * sa - sb) + 3.0 * u * (sa + sb - 2.0 * d))
        new = u - value / slope if slope != 0.0 else 0.5 * (lo + hi)
        if not lo < new < hi:
            new = 0.5 * (lo + hi)
        if abs(new - u) < 1.0e-12:
            return new
        u = new
    return u


@outer()
def merge(Tu, Tb, p, mb, V, gas, c):
    """One zone of burned gas in equilibrium with the mass, volume and energy of the two: T, p."""
    hf, hbz, _ = frozen(Tu, c.y, c.k, gas)
    hb, _, _, R, _, _ = equilibrium(Tb, math.log(p), c.k, gas)
    U = (c.m - mb) * (hf + c.y * (hbz - hf) - c.R * Tu) + mb * (hb - R * Tb)
    T = Tb
    for _ in range(30):
        h, h_T, _, R, R_T, _ = equilibrium(T, math.log(p), c.k, gas)
        d = (U / c.m - (h - R * T)) / (h_T - R - T * R_T)
        T += d
        p = c.m * (R + R_T * d) * T / V
        if abs(d) < 1.0e-8:
            break
    return T, p
