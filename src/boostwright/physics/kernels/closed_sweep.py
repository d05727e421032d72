"""Compiled closed phases alone: many sparks tried on charges whose state at intake closing stands still."""

from __future__ import annotations

import numpy as np

from boostwright.physics.kernels.cycle import charge_of, closed_part
from boostwright.physics.kernels.gas import hermite
from boostwright.physics.kernels.jit import outer

__all__ = ["closed_sweep"]


@outer()
def closed_sweep(state, cyl, gas, pts, steps, results, end, status):
    """Compression, burn and expansion of every point from its state at intake closing.

    ``state`` (n, 18): left as it is. ``results`` (n, 34): the closed phase's columns are filled, work being
    that between intake closing and exhaust opening. ``end`` (n,): pressure when the exhaust opens [Pa].
    ``status`` (n,): 0 fine, 2 out of bounds or no state to start from, 3 not burned in time.
    """
    trace = np.zeros((0, 22))
    V, _ = hermite((cyl.evo - cyl.theta0) / cyl.dtheta, cyl.volume, cyl.volume_slope, cyl.dtheta)
    for i in range(state.shape[0]):
        if not state[i, 0] > 0.0:
            status[i] = 2
            continue
        c = charge_of(state[i], i, cyl, gas, pts)
        code, burned, _, T, _ = closed_part(state[i], c, cyl, gas, pts, steps, results[i], trace)
        status[i] = code
        if code == 2:
            continue
        share = burned / c.m
        end[i] = c.m * (gas.R_f[c.k] + share * (gas.R_b[c.k] - gas.R_f[c.k])) * T / V
