"""Rates of the gas exchange for one lane; called inside loops over the lanes.

The equations are those of `open_phase.open_rates`, which the tests hold this file against; here choices are
made by selection instead of branches, so that a loop over the lanes becomes vector code, and nothing is
stored between, so that a single lane runs out of the processor's registers.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from boostwright.physics.kernels.gas import hermite
from boostwright.physics.kernels.jit import inner, lane
from boostwright.physics.kernels.lane_state import (
    CP_IN,
    D_R,
    DRAG,
    FADE,
    H_BACK,
    H_IN,
    HEAT,
    P_EX,
    P_PL,
    PER_W,
    R_F,
    STRIDE,
    T_HEAD,
    T_IN,
    T_LIN,
    T_PIS,
    Y_BACK,
    frozen,
)
from boostwright.physics.kernels.lanes import fast_exp, fast_log, near_power

__all__ = [
    "Behind",
    "Column",
    "Geometry",
    "Valve",
    "Zone",
    "behind_valve",
    "breathed",
    "charge",
    "column_flow",
    "exhaust_flow",
    "film",
    "film_after",
    "geometry",
    "intake_flow",
    "open_port",
    "wall_heat",
]

SMOOTH = 3.0e-3  # flow.EPSILON


class Geometry(NamedTuple):
    """What depends on the crank angle alone."""

    V: float  # [m3]
    per_V: float
    dV: float  # [m3/rad]
    A_in: float  # effective areas [m2]
    A_ex: float
    dln_in: float  # d ln A/d theta
    dln_ex: float
    liner: float  # exposed liner [m2]
    ln_V: float  # 0 where the heat law does not ask for it


class Zone(NamedTuple):
    """The charge of one volume; the first five are what the next step starts from."""

    T: float
    u: float  # [J/kg]
    y: float  # burned share
    per_cv: float
    u_y: float  # du/dy at constant T
    p: float
    h: float
    RT: float
    gamma: float


class Behind(NamedTuple):
    """What flows forward from the plenum: returned gas first, then fresh charge."""

    share: float  # of returned gas
    y_store: float
    h_store: float
    y: float  # of the blend
    h: float


class Valve(NamedTuple):
    """Flow through a valve, per radian: intake into, exhaust out of the cylinder."""

    flow: float  # [kg/rad]
    by_c: float  # its slope on the cylinder's pressure [kg/rad/Pa]
    by_p: float  # on the port's
    h: float  # what it carries
    y: float
    ahead: bool  # intake into, exhaust out of the cylinder


class Column(NamedTuple):
    """Flow from the plenum towards the valve, per radian."""

    flow: float
    push: float  # what drives the gas column [Pa]
    h: float
    y: float
    ahead: bool


@inner()
def geometry(theta, cyl, law):
    """Volume and effective areas at a crank angle, with their slopes."""
    x = (theta - cyl.theta0) / cyl.dtheta
    V, dV = hermite(x, cyl.volume, cyl.volume_slope, cyl.dtheta)
    A_in, dA_in = hermite(x, cyl.intake_area, cyl.intake_slope, cyl.dtheta)
    A_ex, dA_ex = hermite(x, cyl.exhaust_area, cyl.exhaust_slope, cyl.dtheta)
    A_in = max(A_in, 0.0)
    A_ex = max(A_ex, 0.0)
    return Geometry(
        V,
        1.0 / V,
        dV,
        A_in,
        A_ex,
        dA_in / A_in if A_in > 0.0 else 0.0,
        dA_ex / A_ex if A_ex > 0.0 else 0.0,
        math.pi * cyl.bore * ((V - cyl.clearance) / cyl.bore_area + cyl.liner_offset),
        math.log(V) if law != 0 else 0.0,
    )


@lane()
def charge(W, v, m, burned, U, per_V, last):
    """Temperature and properties of a charge from its mass, burned mass and energy.

    The temperature is carried on from the ``last`` known to first order in u and y, then corrected by one
    Newton step that is carried on to the enthalpy: together good to the fourth power of the change.
    """
    per = 1.0 / m
    y = burned * per
    u = U * per
    R = W[R_F * STRIDE + v] + y * W[D_R * STRIDE + v]
    T = last.T + (u - last.u - last.u_y * (y - last.y)) * last.per_cv
    h_f, h_b, c_f, c_b = frozen(W, T, v)
    cp = c_f + y * (c_b - c_f)
    per_cv = last.per_cv * (2.0 - last.per_cv * (cp - R))  # without another division
    per_cv *= 2.0 - per_cv * (cp - R)
    h = h_f + y * (h_b - h_f)
    step = (u - (h - R * T)) * per_cv
    T += step
    RT = R * T
    return Zone(
        T,
        u,
        y,
        per_cv,
        h_b - h_f - W[D_R * STRIDE + v] * T,
        m * RT * per_V,
        h + cp * step,
        RT,
        cp * per_cv,
    )


@lane()
def behind_valve(W, v, mass, burned, enthalpy):
    """Store of returned gas and what it makes of the flow towards the valve."""
    total = mass + W[FADE * STRIDE + v]
    both = 1.0 / (mass * total)
    per = total * both
    share = mass * mass * both
    y = burned * per
    h = enthalpy * per
    fresh = W[H_IN * STRIDE + v]
    return Behind(share, y, h, share * y, fresh + share * (h - fresh))


@lane()
def open_port(W, v, b):
    """Where there is no runner the valve breathes from the plenum."""
    R = W[R_F * STRIDE + v] + b.y * W[D_R * STRIDE + v]
    cp = W[CP_IN * STRIDE + v]
    return Zone(
        W[T_IN * STRIDE + v],
        0.0,
        b.y,
        0.0,
        0.0,
        W[P_PL * STRIDE + v],
        b.h,
        R * W[T_IN * STRIDE + v],
        cp / (cp - R),
    )


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
    r = near_power(x, per_g)
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
def intake_flow(W, v, area, reverse, c, port):
    """Through the intake valve."""
    flow, by_p, by_c = nozzle_flow(area, port.p, port.RT, port.gamma, c.p, c.RT, c.gamma, reverse)
    w = W[PER_W * STRIDE + v]
    ahead = flow >= 0.0
    return Valve(flow * w, by_c * w, by_p * w, port.h if ahead else c.h, port.y if ahead else c.y, ahead)


@lane()
def exhaust_flow(W, v, area, reverse, c):
    """Through the exhaust valve."""
    flow, by_c, _ = nozzle_flow(area, c.p, c.RT, c.gamma, W[P_EX * STRIDE + v], c.RT, c.gamma, reverse)
    w = W[PER_W * STRIDE + v]
    ahead = flow >= 0.0
    return Valve(
        flow * w,
        by_c * w,
        0.0,
        c.h if ahead else W[H_BACK * STRIDE + v],
        c.y if ahead else W[Y_BACK * STRIDE + v],
        ahead,
    )


@lane()
def film(W, v, c, ln_V, law):
    """Heat transfer coefficient over the speed [W/m2/K s/rad]; `heat.coefficient`."""
    over_T = -0.55 if law == 0 else -0.4
    over_V = 0.0 if law == 0 else -0.06
    exponent = W[HEAT * STRIDE + v] + 0.8 * fast_log(c.p) + over_T * fast_log(c.T) + over_V * ln_V
    return fast_exp(exponent) * W[PER_W * STRIDE + v]


@lane()
def film_after(before, a, b, dln_V, law):
    """The coefficient at ``b``, a step after it was ``before`` at ``a``, to second order in the change."""
    over_T = -0.55 if law == 0 else -0.4
    over_V = 0.0 if law == 0 else -0.06
    per = 1.0 / (a.p * a.T)
    x = (b.p - a.p) * a.T * per
    z = (b.T - a.T) * a.p * per
    e = 0.8 * x * (1.0 - 0.5 * x) + over_T * z * (1.0 - 0.5 * z) + over_V * dln_V
    return before * (1.0 + e * (1.0 + 0.5 * e))


@lane()
def wall_heat(W, v, h, T, liner, cyl):
    """Heat to piston, head and liner per radian [J/rad]."""
    area = cyl.piston_area + cyl.head_area + liner
    reach = cyl.piston_area * W[T_PIS * STRIDE + v] + cyl.head_area * W[T_HEAD * STRIDE + v]
    reach += liner * W[T_LIN * STRIDE + v]
    return h * (area * T - reach)


@lane()
def column_flow(W, v, q, port, b):
    """The gas column in the runner: what it carries and what drives it."""
    ahead = q >= 0.0
    size = q if ahead else -q
    push = W[P_PL * STRIDE + v] - port.p - W[DRAG * STRIDE + v] * size * q
    flow = q * W[PER_W * STRIDE + v]
    return Column(flow, push, b.h if ahead else port.h, b.y if ahead else port.y, ahead)


@lane()
def breathed(W, v, flow, h, y, ahead, b):
    """What the flow towards the valve takes from the returned-gas store or gives to it: mass, burned mass,
    enthalpy of the store, fresh mass and its enthalpy, per radian.
    """
    taken = b.share * flow
    fresh = flow - taken if ahead else 0.0
    return (
        -taken if ahead else -flow,
        -taken * b.y_store if ahead else -flow * y,
        -taken * b.h_store if ahead else -flow * h,
        fresh,
        fresh * W[H_IN * STRIDE + v],
    )
