"""Compiled exhaust side of an engine: cylinders blowing down into one manifold, or into two half ones.

All cylinders are alike and fire evenly, so one firing interval holds the whole story: cylinder j of the
``slots`` that are open at once is j intervals further on than the newest. What one interval hands to the next
is iterated until it repeats. A cylinder whose slot is even blows into half 0, odd into half 1; with two
halves they change places after each interval.

The step is the same L-stable W-method as in `exchange` (Verwer, Spee, Blom & Hundsdorfer 1999): each flow is
linearised in the two pressures that drive it, so that pressures which meet within a fraction of a degree
need no small step, and mass and energy are kept to round-off.
"""

from __future__ import annotations

import math

import numpy as np

from boostwright.physics.kernels.heat import constant
from boostwright.physics.kernels.jit import inner, outer
from boostwright.physics.kernels.manifold_rates import (
    N_TOTAL,
    ExhaustTables,
    ExhaustTotals,
    ManifoldPoints,
    OnePoint,
    X,
    implicit,
    rates,
    sensible,
)

__all__ = ["N_RESULT", "ExhaustTables", "ExhaustTotals", "ManifoldPoints", "X", "pulses", "state_size"]

GAMMA = 1.0 - 1.0 / math.sqrt(2.0)
LONGEST = 0.3
"""Longest jump of the manifold's state between two intervals, in logarithms [-]."""
LEAST_RISE = 1.003
"""Pressure over that behind the turbine below which no jump goes [-]."""
N_RESULT = len(X)


def state_size(tables: ExhaustTables) -> int:
    """Numbers in the state of one point: cylinders' and manifolds' mass and energy, and the opening state."""
    return 2 * (tables.slots + tables.halves) + 2


@outer()
def interval(y, T, W, k1, k2, z, tab, pt, trace):
    """One firing interval from state ``y``; ``trace`` (halves, steps, 2) gets p and T of each
    half.

    Returns the sums of outflow and of pressure times its slope, whose ratio says how the outflow follows the
    pressure.
    """
    K = tab.slots
    H = tab.halves
    size = 2 * (K + H) + N_TOTAL
    follow = 0.0
    flow = 0.0
    for i in range(tab.steps):
        h = tab.width[i]
        rates(i, 0, True, y, k1, T, W, tab, pt)
        for a in range(H):
            trace[a, i, 0] = W[6, K + a]
            trace[a, i, 1] = T[K + a]
            follow += W[0, K + a] * W[6, K + a] * h
        flow += k1[2 * (K + H) + X.out_mass] * h
        implicit(k1, GAMMA * h, W, K, H)
        for n in range(size):
            z[n] = y[n] + h * k1[n]
        rates(i, 1, False, z, k2, T, W, tab, pt)
        for n in range(size):
            k2[n] -= 2.0 * k1[n]
        implicit(k2, GAMMA * h, W, K, H)
        for n in range(size):
            y[n] += h * (1.5 * k1[n] + 0.5 * k2[n])
    return flow, follow


@inner()
def jump(dp, dT, a, s, g):
    """How far the manifold still is from repeating after a change of ln p and ln T over one interval.

    Mean-value balance with mass turned over ``a`` times in the interval and an outflow ~ p^s T^-0.5:
    d(ln p, ln T) = -a N (ln p, ln T), N = [[g s, g/2], [(g - 1) s, (g + 1)/2]]; what is left is
    (exp(a N) - 1)^-1 times the change.
    """
    n11 = g * s
    n12 = 0.5 * g
    n21 = (g - 1.0) * s
    n22 = 0.5 * (g + 1.0)
    half = 0.5 * (n11 + n22)
    root = math.sqrt(max(half * half - (n11 * n22 - n12 * n21), 1.0e-12))
    e1 = half + root
    e2 = half - root
    f1 = 1.0 / math.expm1(a * e1)
    f2 = 1.0 / math.expm1(a * e2)
    slope = (f1 - f2) / (e1 - e2)
    level = f1 - slope * e1
    jp = level * dp + slope * (n11 * dp + n12 * dT)
    jT = level * dT + slope * (n21 * dp + n22 * dT)
    return min(max(jp, -LONGEST), LONGEST), min(max(jT, -LONGEST), LONGEST)


@outer()
def first_state(y, p, T3, tab, pts, q):
    """A first guess: manifolds at ``p`` [Pa], ``T3`` [K], older cylinders at that pressure."""
    K = tab.slots
    H = tab.halves
    base = 2 * (K + H)
    R = pts.R[q]
    hM, _ = sensible(T3, pts.cp[q], pts.h[q])
    for a in range(H):
        M = p * pts.volume[q] / (R * T3)
        y[2 * K + a] = M
        y[2 * K + H + a] = M * (hM - R * T3)
    for j in range(1, K):
        m = p * tab.volume[j * tab.steps] / (R * T3)
        y[j] = m
        y[K + j] = m * (hM - R * T3)
    if not (y[base] > 0.0 and y[base + 1] > 0.0):
        y[base] = 1.05 * pts.mass[q]
        y[base + 1] = 1.35 * T3


@outer()
def pulses(state, start, tab, pts, tolerance, limit, results, trace):
    """Every point to its periodic state.

    ``state`` (n, state_size): warm start, or manifold mass 0 for a cold one; replaced by the end. ``start``
    (n, 2): pressure and temperature of the manifold for a cold start. ``results`` (n, N_RESULT). ``trace``
    (n, halves, steps, 2): pressure and temperature at the nodes of the last interval; half 0 is the one that
    the newest cylinder blows into.
    """
    K = tab.slots
    H = tab.halves
    base = 2 * (K + H)
    gain = 2.0 / (1.0 + K)  # what a new cylinder gives differently shows over K intervals
    y = np.zeros(base + N_TOTAL)
    k1 = np.zeros(base + N_TOTAL)
    k2 = np.zeros(base + N_TOTAL)
    z = np.zeros(base + N_TOTAL)
    T = np.zeros(K + H)
    W = np.zeros((10, K + H))
    for q in range(state.shape[0]):
        s = state[q]
        if not s[2 * K] > 0.0:
            first_state(s, start[q, 0], start[q, 1], tab, pts, q)
        R = pts.R[q]
        pt = OnePoint(
            1.0 / pts.omega[q],
            pts.volume[q],
            pts.p4[q],
            pts.turbine[q],
            pts.exponent[q],
            pts.alone[q],
            pts.gate[q],
            pts.leak[q],
            R,
            pts.cp[q],
            pts.h[q],
            pts.loss[q],
            constant(1, 1.0, 1.0),
            pts.ln_speed[q],
            pts.T_wall[q],
        )
        for n in range(K + H):
            T[n] = start[q, 1]
        turn = 0
        while turn < limit:
            turn += 1
            # the newest cylinder opens
            T[0] = s[base + 1]
            h0, _ = sensible(T[0], pts.cp[q], pts.h[q])
            s[0] = s[base]
            s[K] = s[base] * (h0 - R * T[0])
            m0 = 0.0
            u0 = 0.0
            for n in range(base):
                y[n] = s[n]
            for a in range(H):
                m0 += y[2 * K + a]
                u0 += y[2 * K + H + a]
            for n in range(N_TOTAL):
                y[base + n] = 0.0
            flow, follow = interval(y, T, W, k1, k2, z, tab, pt, trace[q])
            m1 = 0.0
            u1 = 0.0
            for a in range(H):
                m1 += y[2 * K + a]
                u1 += y[2 * K + H + a]
            gave = y[base + X.valve_mass]
            h_mean = y[base + X.valve_enthalpy] / gave
            _, cp_mean = sensible(start[q, 1], pts.cp[q], pts.h[q])
            short = pts.mass[q] - gave
            cool = (pts.enthalpy[q] - h_mean) / cp_mean
            flux = y[base + X.valve_enthalpy]
            imbalance = max(abs(m1 - m0) / gave, abs(u1 - u0) / flux)
            imbalance = max(imbalance, abs(short) / pts.mass[q], abs(cool) / start[q, 1])
            for n in range(N_TOTAL):
                results[q, n] = y[base + n]
            results[q, X.imbalance] = imbalance
            results[q, X.opening_mass] = s[base]
            results[q, X.opening_temperature] = s[base + 1]
            results[q, X.left_mass] = y[K - 1]
            # hand on: cylinders grow older, halves change places
            for j in range(K - 1, 0, -1):
                s[j] = y[j - 1]
                s[K + j] = y[K + j - 1]
                T[j] = T[j - 1]
            for a in range(H):
                b = H - 1 - a
                s[2 * K + a] = y[2 * K + b]
                s[2 * K + H + a] = y[2 * K + H + b]
            if not imbalance > tolerance or not imbalance < 1.0e6:
                break
            g = cp_mean / (cp_mean - R)
            s[base] = min(max(s[base] + gain * short, 0.7 * s[base]), 1.4 * s[base])
            s[base + 1] += min(max(gain * g * cool, -200.0), 200.0)
            # the slow part of what is left in the manifolds
            out = max(y[base + X.out_mass], 0.05 * abs(gave))
            dp = math.log(u1 / u0)
            dT = dp - math.log(m1 / m0)
            lean = min(max(follow / max(flow, 1.0e-12), 1.0), 200.0)
            jp, jT = jump(dp, dT, out / m1, lean, g)
            least = min(math.log(LEAST_RISE * pts.p4[q] / trace[q, 0, tab.steps - 1, 0]), 0.0)
            jp = max(jp, least)  # a jump below the outlet would leave a manifold that nothing leaves
            for a in range(H):
                s[2 * K + a] *= math.exp(jp - jT)
                s[2 * K + H + a] *= math.exp(jp)
        results[q, X.intervals] = turn
