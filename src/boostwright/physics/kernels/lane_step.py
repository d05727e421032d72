"""Steps of the gas exchange for a row of lanes or a single one: the two-stage W-method ROS2.

While the intake valve is shut only the cylinder moves (`emptying`), else everything does (`breathing`). A
loop body holds a whole step, so that a lane's numbers stay in registers from its first stage to its second.
"""

from __future__ import annotations

import math

from boostwright.physics.kernels.jit import lane, outer, vector
from boostwright.physics.kernels.lane_rates import (
    Behind,
    Valve,
    Zone,
    behind_valve,
    charge,
    exhaust_flow,
    film,
    film_after,
    geometry,
    intake_flow,
    open_port,
    wall_heat,
)
from boostwright.physics.kernels.lane_state import (
    P_1,
    PER_CV_C,
    PER_CV_P,
    STRIDE,
    T_1,
    T_C,
    T_P,
    U_C,
    U_P,
    UY_C,
    UY_P,
    Y_C,
    Y_P,
    S,
    record,
    record_gas,
)
from boostwright.physics.kernels.lane_valves import (
    Change,
    Slopes,
    breathing_rates,
    emptied,
    implicit,
    linearise,
    second,
    slopes,
    stage,
)
from boostwright.physics.kernels.lanes import LANES

__all__ = ["breathing", "emptying", "keep_port", "last_port"]

GAMMA = 1.0 - 1.0 / math.sqrt(2.0)


@lane()
def load(W, v):
    """The state of lane ``v``."""
    return Change(
        W[S * STRIDE + v], W[(S + 1) * STRIDE + v], W[(S + 2) * STRIDE + v], W[(S + 3) * STRIDE + v],
        W[(S + 4) * STRIDE + v], W[(S + 5) * STRIDE + v], W[(S + 6) * STRIDE + v], W[(S + 7) * STRIDE + v],
        W[(S + 8) * STRIDE + v], W[(S + 9) * STRIDE + v], 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0,
    )  # fmt: skip


@lane()
def last_charge(W, v):
    """What is known of the gas in the cylinder."""
    return Zone(
        W[T_C * STRIDE + v], W[U_C * STRIDE + v], W[Y_C * STRIDE + v], W[PER_CV_C * STRIDE + v],
        W[UY_C * STRIDE + v], 0.0, 0.0, 0.0, 0.0,
    )  # fmt: skip


@lane()
def last_port(W, v):
    """What is known of the gas in the port."""
    return Zone(
        W[T_P * STRIDE + v], W[U_P * STRIDE + v], W[Y_P * STRIDE + v], W[PER_CV_P * STRIDE + v],
        W[UY_P * STRIDE + v], 0.0, 0.0, 0.0, 0.0,
    )  # fmt: skip


@lane()
def keep_charge(W, v, first, z):
    """Remember the gas in the cylinder, and what a record shows of the step's start."""
    W[T_C * STRIDE + v] = z.T
    W[U_C * STRIDE + v] = z.u
    W[Y_C * STRIDE + v] = z.y
    W[PER_CV_C * STRIDE + v] = z.per_cv
    W[UY_C * STRIDE + v] = z.u_y
    W[P_1 * STRIDE + v] = first.p
    W[T_1 * STRIDE + v] = first.T


@lane()
def keep_port(W, v, z):
    """Remember the gas in the port."""
    W[T_P * STRIDE + v] = z.T
    W[U_P * STRIDE + v] = z.u
    W[Y_P * STRIDE + v] = z.y
    W[PER_CV_P * STRIDE + v] = z.per_cv
    W[UY_P * STRIDE + v] = z.u_y


@lane()
def advance_cylinder(W, v, h, x, y):
    """Add the step to cylinder and its counters."""
    W[S * STRIDE + v] += h * (1.5 * x.m + 0.5 * y.m)
    W[(S + 1) * STRIDE + v] += h * (1.5 * x.b + 0.5 * y.b)
    W[(S + 2) * STRIDE + v] += h * (1.5 * x.U + 0.5 * y.U)
    W[(S + 10) * STRIDE + v] += h * (1.5 * x.work + 0.5 * y.work)
    W[(S + 11) * STRIDE + v] += h * (1.5 * x.heat + 0.5 * y.heat)
    W[(S + 14) * STRIDE + v] += h * (1.5 * x.out + 0.5 * y.out)
    W[(S + 15) * STRIDE + v] += h * (1.5 * x.h_out + 0.5 * y.h_out)
    W[(S + 16) * STRIDE + v] += h * (1.5 * x.b_out + 0.5 * y.b_out)
    W[(S + 17) * STRIDE + v] += h * (1.5 * x.back + 0.5 * y.back)


@lane()
def advance_port(W, v, h, x, y, runner):
    """Add the step to port, runner, store and their counters."""
    if runner:
        W[(S + 3) * STRIDE + v] += h * (1.5 * x.mp + 0.5 * y.mp)
        W[(S + 4) * STRIDE + v] += h * (1.5 * x.bp + 0.5 * y.bp)
        W[(S + 5) * STRIDE + v] += h * (1.5 * x.Up + 0.5 * y.Up)
        W[(S + 6) * STRIDE + v] += h * (1.5 * x.q + 0.5 * y.q)
    W[(S + 7) * STRIDE + v] += h * (1.5 * x.ms + 0.5 * y.ms)
    W[(S + 8) * STRIDE + v] += h * (1.5 * x.bs + 0.5 * y.bs)
    W[(S + 9) * STRIDE + v] += h * (1.5 * x.hs + 0.5 * y.hs)
    W[(S + 12) * STRIDE + v] += h * (1.5 * x.fresh + 0.5 * y.fresh)
    W[(S + 13) * STRIDE + v] += h * (1.5 * x.h_fresh + 0.5 * y.h_fresh)


def _emptying(width):
    """The kernel `emptying` for a number of lanes, a constant to the compiler."""

    @vector()
    def emptying(W, cyl, law, a, h, count, lanes, rows, trace):
        """``count`` steps of ``h`` from the angle ``a`` while only the exhaust valve is open."""
        step = GAMMA * h
        no_valve = Valve(0.0, 0.0, 0.0, 0.0, 0.0, True)
        no_store = Behind(0.0, 0.0, 0.0, 0.0, 0.0)
        no_port = Slopes(0.0, 0.0, 0.0)
        g = geometry(a, cyl, law)
        for j in range(count):
            f = g
            g = geometry(a + (j + 1) * h, cyl, law)
            if trace.shape[1] > 0:
                record(W, a + j * h, 3.0, lanes, rows, trace)
            for v in range(width):
                s = load(W, v)
                c = charge(W, v, s.m, s.b, s.U, f.per_V, last_charge(W, v))
                film1 = film(W, v, c, f.ln_V, law)
                e = exhaust_flow(W, v, f.A_ex, cyl.exhaust_reverse, c)
                r = emptied(c, e, wall_heat(W, v, film1, c.T, f.liner, cyl), f.dV)
                n = linearise(slopes(W, v, c, f.per_V), no_port, no_valve, e, no_store, f, c.p, step)
                k = implicit(W, v, r, n, 1.0, True)
                z = charge(W, v, s.m + h * k.m, s.b + h * k.b, s.U + h * k.U, g.per_V, c)
                film2 = film_after(film1, c, z, g.ln_V - f.ln_V, law)
                e = exhaust_flow(W, v, g.A_ex, cyl.exhaust_reverse, z)
                r = emptied(z, e, wall_heat(W, v, film2, z.T, g.liner, cyl), g.dV)
                x = implicit(W, v, second(r, k), n, -1.0, True)
                advance_cylinder(W, v, h, k, x)
                keep_charge(W, v, c, z)
            if trace.shape[1] > 0:
                record_gas(W, lanes, rows, trace)

    return emptying


def _breathing(width, runner):
    """The kernel `breathing` for a number of lanes, with or without runner: constants to the compiler."""

    @vector()
    def breathing(W, cyl, law, a, h, count, lanes, rows, trace):
        """``count`` steps of ``h`` from the angle ``a`` while the intake valve is open."""
        step = GAMMA * h
        per_port = 1.0 / cyl.port_volume if runner else 0.0
        column = cyl.runner_area / cyl.runner_length if runner else 0.0
        no_port = Slopes(0.0, 0.0, 0.0)
        g = geometry(a, cyl, law)
        for j in range(count):
            f = g
            g = geometry(a + (j + 1) * h, cyl, law)
            if trace.shape[1] > 0:
                record(W, a + j * h, 3.0, lanes, rows, trace)
            for v in range(width):
                s = load(W, v)
                c = charge(W, v, s.m, s.b, s.U, f.per_V, last_charge(W, v))
                b = behind_valve(W, v, s.ms, s.bs, s.hs)
                if runner:
                    p = charge(W, v, s.mp, s.bp, s.Up, per_port, last_port(W, v))
                    by_p = slopes(W, v, p, per_port)
                else:
                    p = open_port(W, v, b)
                    by_p = no_port
                film1 = film(W, v, c, f.ln_V, law)
                i = intake_flow(W, v, f.A_in, cyl.intake_reverse, c, p)
                e = exhaust_flow(W, v, f.A_ex, cyl.exhaust_reverse, c)
                Q = wall_heat(W, v, film1, c.T, f.liner, cyl)
                r = breathing_rates(W, v, s, c, p, b, i, e, Q, f.dV, column, runner)
                n = linearise(slopes(W, v, c, f.per_V), by_p, i, e, b, f, c.p, step)
                k = implicit(W, v, r, n, 1.0, runner)

                t = stage(s, k, h)
                z = charge(W, v, t.m, t.b, t.U, g.per_V, c)
                b = behind_valve(W, v, t.ms, t.bs, t.hs)
                if runner:
                    p = charge(W, v, t.mp, t.bp, t.Up, per_port, p)
                    keep_port(W, v, p)
                else:
                    p = open_port(W, v, b)
                film2 = film_after(film1, c, z, g.ln_V - f.ln_V, law)
                i = intake_flow(W, v, g.A_in, cyl.intake_reverse, z, p)
                e = exhaust_flow(W, v, g.A_ex, cyl.exhaust_reverse, z)
                Q = wall_heat(W, v, film2, z.T, g.liner, cyl)
                r = breathing_rates(W, v, t, z, p, b, i, e, Q, g.dV, column, runner)
                x = implicit(W, v, second(r, k), n, -1.0, runner)
                advance_cylinder(W, v, h, k, x)
                advance_port(W, v, h, k, x, runner)
                keep_charge(W, v, c, z)
            if trace.shape[1] > 0:
                record_gas(W, lanes, rows, trace)

    return breathing


emptying_one, emptying_row = _emptying(1), _emptying(LANES)
breathing_one, breathing_row = _breathing(1, True), _breathing(LANES, True)
plain_one, plain_row = _breathing(1, False), _breathing(LANES, False)


@outer()
def emptying(W, width, cyl, law, a, h, count, lanes, rows, trace):
    """`_emptying` for one lane or a full row."""
    if width == 1:
        emptying_one(W, cyl, law, a, h, count, lanes, rows, trace)
    else:
        emptying_row(W, cyl, law, a, h, count, lanes, rows, trace)


@outer()
def breathing(W, width, cyl, law, a, h, count, lanes, rows, trace):
    """`_breathing` for one lane or a full row, with or without runner."""
    if cyl.runner_length > 0.0:
        if width == 1:
            breathing_one(W, cyl, law, a, h, count, lanes, rows, trace)
        else:
            breathing_row(W, cyl, law, a, h, count, lanes, rows, trace)
    elif width == 1:
        plain_one(W, cyl, law, a, h, count, lanes, rows, trace)
    else:
        plain_row(W, cyl, law, a, h, count, lanes, rows, trace)
