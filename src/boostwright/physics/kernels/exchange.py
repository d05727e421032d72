"""Compiled gas exchange for one operating point or a row of them: exhaust opening to intake closing.

While the intake valve is shut, port and gas column swing by themselves and are followed by classic
Runge-Kutta. The cylinder, and all of it once the intake valve is open, goes by the linearly implicit steps of
`lane_step`: the L-stable second-order W-method ROS2 of Verwer, Spee, Blom & Hundsdorfer (1999). It keeps its
order for any linearisation, and it conserves mass and energy to round-off because the correction only moves
what the valves move.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from boostwright.physics.kernels.gas import hermite
from boostwright.physics.kernels.jit import lane, outer, vector
from boostwright.physics.kernels.lane_rates import behind_valve, breathed, charge, column_flow
from boostwright.physics.kernels.lane_state import (
    D_R,
    P_1,
    PER_RHO,
    PER_W,
    R_F,
    STRIDE,
    T_1,
    T_C,
    T_P,
    WORKSPACE,
    Y_C,
    S,
    record,
    record_gas,
    settle,
)
from boostwright.physics.kernels.lane_step import breathing, emptying, keep_port, last_port
from boostwright.physics.kernels.lanes import LANES

__all__ = ["STORE_SHARE", "alone", "exchange"]

STORE_SHARE = 0.02
"""Share of the swept mass below which the returned-gas store fades out instead of stopping dead [-]."""


class Swing(NamedTuple):
    """Port, gas column and store of returned gas, or their rates."""

    m: float
    b: float
    U: float
    q: float
    ms: float
    bs: float
    hs: float
    fresh: float
    h_fresh: float


@lane()
def swinging(W, v, s, last, per_port, column):
    """Rates with the intake valve shut, and the gas in the port."""
    z = charge(W, v, s.m, s.b, s.U, per_port, last)
    b = behind_valve(W, v, s.ms, s.bs, s.hs)
    k = column_flow(W, v, s.q, z, b)
    lift = k.flow * k.push * W[PER_RHO * STRIDE + v]
    ms, bs, hs, fresh, h_fresh = breathed(W, v, k.flow, k.h, k.y, k.ahead, b)
    q = column * k.push * W[PER_W * STRIDE + v]
    return Swing(k.flow, k.flow * k.y, k.flow * k.h - lift, q, ms, bs, hs, fresh, h_fresh), z


@lane()
def along(s, h, k):
    """From ``s`` a step ``h`` along the rates ``k``."""
    return Swing(
        s.m + h * k.m, s.b + h * k.b, s.U + h * k.U, s.q + h * k.q, s.ms + h * k.ms, s.bs + h * k.bs,
        s.hs + h * k.hs, s.fresh + h * k.fresh, s.h_fresh + h * k.h_fresh,
    )  # fmt: skip


def _ring(width):
    """The kernel `ring` for a number of lanes, a constant to the compiler."""

    @vector()
    def ring(W, cyl, h, count):
        """Port and runner alone for ``count`` steps of ``h``, by classic Runge-Kutta.

        The gas column goes on swinging; what it does to the next filling depends on where it is when the
        valve opens.
        """
        per_port = 1.0 / cyl.port_volume
        column = cyl.runner_area / cyl.runner_length
        for _ in range(count):
            for v in range(width):
                s = Swing(
                    W[(S + 3) * STRIDE + v], W[(S + 4) * STRIDE + v], W[(S + 5) * STRIDE + v],
                    W[(S + 6) * STRIDE + v], W[(S + 7) * STRIDE + v], W[(S + 8) * STRIDE + v],
                    W[(S + 9) * STRIDE + v], W[(S + 12) * STRIDE + v], W[(S + 13) * STRIDE + v],
                )  # fmt: skip
                k, z = swinging(W, v, s, last_port(W, v), per_port, column)
                total = along(s, h / 6.0, k)
                k, z = swinging(W, v, along(s, 0.5 * h, k), z, per_port, column)
                total = along(total, h / 3.0, k)
                k, z = swinging(W, v, along(s, 0.5 * h, k), z, per_port, column)
                total = along(total, h / 3.0, k)
                k, z = swinging(W, v, along(s, h, k), z, per_port, column)
                total = along(total, h / 6.0, k)
                keep_port(W, v, z)
                W[(S + 3) * STRIDE + v] = total.m
                W[(S + 4) * STRIDE + v] = total.b
                W[(S + 5) * STRIDE + v] = total.U
                W[(S + 6) * STRIDE + v] = total.q
                W[(S + 7) * STRIDE + v] = total.ms
                W[(S + 8) * STRIDE + v] = total.bs
                W[(S + 9) * STRIDE + v] = total.hs
                W[(S + 12) * STRIDE + v] = total.fresh
                W[(S + 13) * STRIDE + v] = total.h_fresh

    return ring


ring_one, ring_row = _ring(1), _ring(LANES)


@outer()
def close(W, width, cyl, lanes, rows, trace):
    """What stands at intake closing: temperatures of cylinder and port to the last digit, pressure; the last
    record.
    """
    V, _ = hermite((cyl.ivc - cyl.theta0) / cyl.dtheta, cyl.volume, cyl.volume_slope, cyl.dtheta)
    for v in range(width):
        settle(W, v, S, T_C, W[T_C * STRIDE + v])
        if cyl.runner_length > 0.0:
            settle(W, v, S + 3, T_P, W[T_P * STRIDE + v])
        R = W[R_F * STRIDE + v] + W[Y_C * STRIDE + v] * W[D_R * STRIDE + v]
        W[T_1 * STRIDE + v] = W[T_C * STRIDE + v]
        W[P_1 * STRIDE + v] = W[S * STRIDE + v] * R * W[T_C * STRIDE + v] / V
    if trace.shape[1] > 0:
        record(W, cyl.ivc, 3.0, lanes, rows, trace)
        record_gas(W, lanes, rows, trace)


@outer()
def exchange(W, width, cyl, law, steps, work, lanes, rows, trace):
    """Integrate the first ``width`` lanes of ``W``, 1 or all, to intake closing: the port alone until the
    intake opens, the cylinder from exhaust opening on, then both.

    ``work`` (2, width): the work integral at the two bottom dead centres [J]. ``lanes`` (width,): the point
    in each lane, -1 for none; used for the trace only.
    """
    edges = cyl.edges
    if cyl.runner_length > 0.0:
        if trace.shape[1] > 0:
            record(W, cyl.theta0, 4.0, lanes, rows, trace)
            record_gas(W, lanes, rows, trace)
        span = cyl.intake_opens - cyl.theta0
        count = int(math.ceil(span / steps.shut - 1.0e-9))
        if width == 1:
            ring_one(W, cyl, span / count, count)
        else:
            ring_row(W, cyl, span / count, count)
    for e in range(edges.size - 1):
        a = edges[e]
        for b in range(2):
            if abs(a - (1.0 + 2.0 * b) * math.pi) < 1.0e-9:
                for v in range(width):
                    work[b, v] = W[(S + 10) * STRIDE + v]
        span = edges[e + 1] - a
        if span <= 1.0e-9:
            continue
        part = cyl.part[e]
        step = steps.blowdown if part == 0.0 else steps.exhaust if part == 1.0 else steps.overlap
        if part == 3.0:
            step = steps.filling
        count = int(math.ceil(span / step - 1.0e-9))
        if edges[e + 1] <= cyl.intake_opens + 1.0e-9:
            emptying(W, width, cyl, law, a, span / count, count, lanes, rows, trace)
        else:
            breathing(W, width, cyl, law, a, span / count, count, lanes, rows, trace)
    close(W, width, cyl, lanes, rows, trace)


@outer()
def alone(W, v, cyl, law, steps, work, lanes, rows, trace):
    """The gas exchange of lane ``v`` by itself."""
    one = np.zeros(WORKSPACE)
    for r in range(WORKSPACE // STRIDE):
        one[r * STRIDE] = W[r * STRIDE + v]
    its_work = np.zeros((2, 1))
    its_lane = np.full(1, lanes[v])
    its_row = np.full(1, rows[v])
    exchange(one, 1, cyl, law, steps, its_work, its_lane, its_row, trace)
    for r in range(WORKSPACE // STRIDE):
        W[r * STRIDE + v] = one[r * STRIDE]
    work[0, v] = its_work[0, 0]
    work[1, v] = its_work[1, 0]
    rows[v] = its_row[0]
