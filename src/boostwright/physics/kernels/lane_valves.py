"""The valves of one lane, linear inside a step: rates of all volumes, and the implicit share of a stage.

The pressures on the two sides of an open valve meet within a fraction of a degree at low speed, which an
explicit step cannot follow. Each valve's flow is therefore linearised inside the step: in the two pressures
(a rank-two correction solved in closed form) and in the crank angle, whose share lets the step follow
pressures that have met already instead of falling behind by part of each step.
"""

from __future__ import annotations

from typing import NamedTuple

from boostwright.physics.kernels.jit import lane
from boostwright.physics.kernels.lane_rates import Behind, Valve, breathed, column_flow
from boostwright.physics.kernels.lane_state import D_R, PER_RHO, PER_W, STRIDE

__all__ = [
    "Change",
    "Slopes",
    "breathing_rates",
    "emptied",
    "implicit",
    "linearise",
    "second",
    "slopes",
    "stage",
]


class Change(NamedTuple):
    """The state of a lane, or its rates; entries as `lane_state.N_OPEN` has them."""

    m: float
    b: float
    U: float
    mp: float
    bp: float
    Up: float
    q: float
    ms: float
    bs: float
    hs: float
    work: float
    heat: float
    fresh: float
    h_fresh: float
    out: float
    h_out: float
    b_out: float
    back: float


class Slopes(NamedTuple):
    """Pressure of one volume on its mass, burned mass and energy."""

    m: float
    b: float
    U: float


@lane()
def slopes(W, v, z, per_V):
    """Slopes of a volume's pressure [Pa/kg, Pa/kg, Pa/J]."""
    ratio = z.gamma - 1.0  # R/cv
    dRT = W[D_R * STRIDE + v] * z.T
    u = z.h - z.RT
    return Slopes(
        (z.RT - dRT * z.y + ratio * (z.u_y * z.y - u)) * per_V, (dRT - ratio * z.u_y) * per_V, ratio * per_V
    )


@lane()
def emptied(c, e, Q, dV):
    """Rates of the cylinder and its counters while only the exhaust valve is open."""
    ee = e.flow * e.h
    be = e.flow * e.y
    work = c.p * dV
    return Change(
        -e.flow, -be, -ee - Q - work, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, work, Q, 0.0, 0.0,
        e.flow if e.ahead else 0.0,
        ee if e.ahead else 0.0,
        be if e.ahead else 0.0,
        0.0 if e.ahead else -e.flow,
    )  # fmt: skip


@lane()
def breathing_rates(W, v, s, c, port, b, i, e, Q, dV, column_area, runner):
    """Rates of cylinder, port, runner and store, and the counters."""
    r = emptied(c, e, Q, dV)
    ei = i.flow * i.h
    bi = i.flow * i.y
    if runner:
        k = column_flow(W, v, s.q, port, b)
        lift = k.flow * k.push * W[PER_RHO * STRIDE + v]
        mp = k.flow - i.flow
        bp = k.flow * k.y - bi
        Up = k.flow * k.h - lift - ei
        q = column_area * k.push * W[PER_W * STRIDE + v]
        ms, bs, hs, fresh, h_fresh = breathed(W, v, k.flow, k.h, k.y, k.ahead, b)
    else:
        mp = bp = Up = q = 0.0
        ms, bs, hs, fresh, h_fresh = breathed(W, v, i.flow, i.h, i.y, i.ahead, b)
    return Change(
        r.m + i.flow, r.b + bi, r.U + ei, mp, bp, Up, q, ms, bs, hs,
        r.work, Q, fresh, h_fresh, r.out, r.h_out, r.b_out, r.back,
    )  # fmt: skip


class Valves(NamedTuple):
    """Both valves linearised at the start of a step."""

    c: Slopes  # the cylinder's pressure
    p: Slopes  # the port's
    i: Valve
    e: Valve
    b: Behind
    F_i: float  # what the flows change with the crank angle alone, times gamma h
    F_e: float
    n11: float  # the inverse of the two-by-two system, times gamma h
    n12: float
    n21: float
    n22: float


@lane()
def linearise(c, p, i, e, b, g, p_c, step):
    """Linear form of both valves; ``step`` = gamma h."""
    squeeze = -p_c * g.dV * g.per_V
    c_i = c.m + c.b * i.y + c.U * i.h
    p_i = -(p.m + p.b * i.y + p.U * i.h)
    c_e = -(c.m + c.b * e.y + c.U * e.h)
    a11 = 1.0 - step * (i.by_c * c_i + i.by_p * p_i)
    a12 = -step * i.by_c * c_e
    a21 = -step * e.by_c * c_i
    a22 = 1.0 - step * e.by_c * c_e
    scale = step / (a11 * a22 - a12 * a21)
    return Valves(
        c, p, i, e, b,
        i.flow * g.dln_in + i.by_c * squeeze,
        e.flow * g.dln_ex + e.by_c * squeeze,
        scale * a22, -scale * a12, -scale * a21, scale * a11,
    )  # fmt: skip


@lane()
def implicit(W, v, k, n, sign, runner):
    """Solve (I - gamma h A) x = k + sign gamma h df/dtheta; A: what the valves move as pressures move."""
    r_c = n.c.m * k.m + n.c.b * k.b + n.c.U * k.U
    r_p = n.p.m * k.mp + n.p.b * k.bp + n.p.U * k.Up
    g_i = n.i.by_c * r_c + n.i.by_p * r_p + sign * n.F_i
    g_e = n.e.by_c * r_c + sign * n.F_e
    d_i = n.n11 * g_i + n.n12 * g_e
    d_e = n.n21 * g_i + n.n22 * g_e
    if runner:
        ms, bs, hs, fresh, h_fresh = k.ms, k.bs, k.hs, k.fresh, k.h_fresh
        mp = k.mp - d_i
        bp = k.bp - d_i * n.i.y
        Up = k.Up - d_i * n.i.h
    else:
        d_ms, d_bs, d_hs, d_fresh, d_h = breathed(W, v, d_i, n.i.h, n.i.y, n.i.ahead, n.b)
        ms, bs, hs = k.ms + d_ms, k.bs + d_bs, k.hs + d_hs
        fresh, h_fresh = k.fresh + d_fresh, k.h_fresh + d_h
        mp, bp, Up = k.mp, k.bp, k.Up
    gone = d_e if n.e.ahead else 0.0
    return Change(
        k.m + d_i - d_e,
        k.b + d_i * n.i.y - d_e * n.e.y,
        k.U + d_i * n.i.h - d_e * n.e.h,
        mp, bp, Up, k.q, ms, bs, hs, k.work, k.heat, fresh, h_fresh,
        k.out + gone, k.h_out + gone * n.e.h, k.b_out + gone * n.e.y,
        k.back + (gone - d_e),
    )  # fmt: skip


@lane()
def second(r, k):
    """The second stage's right-hand side."""
    return Change(
        r.m - 2.0 * k.m, r.b - 2.0 * k.b, r.U - 2.0 * k.U, r.mp - 2.0 * k.mp, r.bp - 2.0 * k.bp,
        r.Up - 2.0 * k.Up, r.q - 2.0 * k.q, r.ms - 2.0 * k.ms, r.bs - 2.0 * k.bs, r.hs - 2.0 * k.hs,
        r.work - 2.0 * k.work, r.heat - 2.0 * k.heat, r.fresh - 2.0 * k.fresh,
        r.h_fresh - 2.0 * k.h_fresh, r.out - 2.0 * k.out, r.h_out - 2.0 * k.h_out,
        r.b_out - 2.0 * k.b_out, r.back - 2.0 * k.back,
    )  # fmt: skip


@lane()
def stage(s, k, h):
    """The state that the second stage looks at; counters do not matter to it."""
    return Change(
        s.m + h * k.m, s.b + h * k.b, s.U + h * k.U, s.mp + h * k.mp, s.bp + h * k.bp, s.Up + h * k.Up,
        s.q + h * k.q, s.ms + h * k.ms, s.bs + h * k.bs, s.hs + h * k.hs,
        0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0,
    )  # fmt: skip
