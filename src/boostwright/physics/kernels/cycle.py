"""Compiled engine cycles: one cylinder, many operating points, each iterated to its periodic state.

A cycle runs from intake closing to intake closing: compress, burn, expand, exchange. What one cycle hands to
the next (the 18 numbers of ``STATE``) is iterated until it repeats.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from boostwright.physics.kernels.burn import burn, merge, wiebe_law
from boostwright.physics.kernels.closed_phase import compress, expand, to_frozen
from boostwright.physics.kernels.exchange import STORE_SHARE, alone, exchange
from boostwright.physics.kernels.gas import frozen, frozen_at_enthalpy, hermite
from boostwright.physics.kernels.heat import constant
from boostwright.physics.kernels.jit import outer
from boostwright.physics.kernels.lane_state import N_OPEN, P_1, STRIDE, T_C, T_P, WORKSPACE, S, fill_lane
from boostwright.physics.kernels.lanes import LANES
from boostwright.physics.kernels.records import Boundary, Charge

__all__ = ["N_RESULT", "N_STATE", "N_TRACE", "STATE", "R", "Z", "cycles"]

STATE = (
    "mass",
    "burned_mass",
    "energy",
    "port_mass",
    "port_burned",
    "port_energy",
    "runner_flow",
    "store_mass",
    "store_burned",
    "store_enthalpy",
    "back_enthalpy",
    "back_burned",
    "temperature",
    "port_temperature",
    "fresh_mass",
    "ca50",
    "plenum_pressure",
    "omega",
)
N_STATE = len(STATE)
N_TRACE = 4 + N_OPEN


class _Columns(NamedTuple):
    """Columns of the result array, per cylinder and cycle."""

    work: int = 0  # whole cycle [J]
    pump: int = 1  # between the bottom dead centres [J]
    mass: int = 2  # at intake closing [kg]
    burned: int = 3  # burned share at intake closing [-]
    t_ivc: int = 4
    p_max: int = 5
    a_max: int = 6
    ca10: int = 7
    ca50: int = 8
    ca90: int = 9
    t_burned: int = 10
    t_unburned: int = 11
    knock_a: int = 12
    knock_c: int = 13
    heat: int = 14  # wall heat, whole cycle [J]
    unburnt: int = 15  # energy that leaves unburnt [J]
    fresh: int = 16  # fresh charge drawn from the plenum per cycle, net [kg]
    h_fresh: int = 17  # its enthalpy [J]
    m_out: int = 18  # gross mass out to the manifold [kg]
    h_out: int = 19  # its enthalpy [J]
    b_out: int = 20  # its burned mass [kg]
    m_back: int = 21  # mass back from the manifold [kg]
    change: int = 22  # greatest relative change of state over the last cycle [-]
    cycles: int = 23
    t_piston: int = 24
    t_head: int = 25
    t_liner: int = 26
    t_spark: int = 27  # charge temperature at spark [K]
    p_spark: int = 28  # [Pa]
    p_ivc: int = 29
    m_evo: int = 30  # burned share when the exhaust opens [-]
    heat_closed: int = 31  # wall heat between intake closing and exhaust opening [J]
    t_out: int = 32  # temperature of what leaves to the manifold, mean by mass and enthalpy [K]
    cp_out: int = 33  # its heat capacity [J/kg/K]


R = _Columns()
N_RESULT = len(R)
Z = {name: j for j, name in enumerate(STATE)}


@outer()
def cold_start(z, i, k, cyl, gas, pts):
    """A first guess of the periodic state."""
    p = pts.p_plenum[i]
    T_in = pts.T_inlet[i]
    V = cyl.volume[0]
    y = 0.05
    T = T_in + 45.0
    Rm = gas.R_f[k] + y * (gas.R_b[k] - gas.R_f[k])
    m = p * V / (Rm * T)
    hf, hb, _ = frozen(T, y, k, gas)
    z[0] = m
    z[1] = y * m
    z[2] = m * (hf + y * (hb - hf) - Rm * T)
    hin, _, _ = frozen(T_in, 0.0, k, gas)
    volume = cyl.port_volume if cyl.port_volume > 0.0 else 1.0e-4
    mp = p * volume / (gas.R_f[k] * T_in)
    z[3] = mp
    z[4] = 0.0
    z[5] = mp * (hin - gas.R_f[k] * T_in)
    z[6] = 0.0
    z[7] = 1.0e-4 * m
    z[8] = 0.0
    z[9] = z[7] * hin
    _, hex_, _ = frozen(1000.0, 1.0, k, gas)
    z[10] = hex_
    z[11] = 1.0
    z[12] = T
    z[13] = T_in
    z[14] = m * (1.0 - y)
    z[15] = math.radians(8.0)
    z[16] = 0.0
    z[17] = 0.0


@outer()
def charge_of(z, i, cyl, gas, pts):
    """What stays the same over the coming cycle, from the state ``z`` at intake closing."""
    k = pts.mixture[i]
    omega = pts.omega[i]
    m = z[0]
    y = z[1] / m
    T = z[12]
    Rm = gas.R_f[k] + y * (gas.R_b[k] - gas.R_f[k])
    V = cyl.volume[0]
    p = m * Rm * T / V
    speed = cyl.stroke * omega / math.pi
    # mean wall temperatures follow the charge mass flux [kg/s/m2]
    flux = max(z[14], 1.0e-9) * omega / (4.0 * math.pi) / cyl.bore_area
    g = math.exp(0.66 * math.log(flux / 2.5))
    x_mole = y / (y + (1.0 - y) / gas.burned_moles[k])
    dilution = max(0.1, 1.0 - 2.06 * math.exp(0.77 * math.log(max(x_mole, 1.0e-9))))
    return Charge(
        k,
        m,
        y,
        Rm,
        omega,
        1.0 / omega,
        speed,
        pts.heat_law,
        constant(pts.heat_law, cyl.bore, pts.heat_factor[i]),
        math.log(speed + 1.4),
        math.log(2.28 * speed),
        math.log(6.18 * speed),
        p,
        V,
        3.24e-3 * cyl.swept * T / (p * V),
        pts.loss[i] * gas.lhv[k] * gas.fuel_fraction[k] * (1.0 - y),
        pts.coolant[i] + 110.0 * g,
        pts.coolant[i] + 80.0 * g,
        pts.coolant[i] + 25.0 * g,
        pts.burn_law,
        min(max((z[15] - math.radians(8.0)) / math.radians(10.0), -2.0), 5.0),
        0.98 * m / cyl.clearance,
        gas.flame_speed[k] * dilution,
        cyl.clearance / cyl.bore_area,
        cyl.evo if pts.burn_law == 2 else pts.spark[i],
        pts.knock_end[i],
    )


@outer()
def boundary_of(z, i, cyl, gas, pts):
    """Plenum and manifold as the coming cycle sees them."""
    k = pts.mixture[i]
    T = pts.T_inlet[i]
    h, _, cp = frozen(T, 0.0, k, gas)
    rho = pts.p_plenum[i] / (gas.R_f[k] * T)
    return Boundary(
        pts.p_plenum[i],
        T,
        h,
        cp,
        rho,
        STORE_SHARE * rho * cyl.swept,
        pts.p_exhaust[i],
        cyl.runner_area / cyl.runner_length if cyl.runner_length > 0.0 else 0.0,
        cyl.runner_loss / (2.0 * rho * cyl.runner_area**2),
        cyl.port_volume,
        z[10],
        z[11],
    )


@outer()
def carry_over(z, i, pts):
    """Fit a state converged elsewhere to this point: charge in proportion to pressure, flow to pressure and
    speed.
    """
    if z[16] > 0.0:
        r = pts.p_plenum[i] / z[16]
        for j in range(10):
            z[j] *= r
        z[6] *= pts.omega[i] / z[17]
        z[14] *= r
    z[16] = pts.p_plenum[i]
    z[17] = pts.omega[i]


@outer()
def closed_results(res, c, T_ivc, out, info, burned):
    """The closed phase's columns of the results."""
    res[R.m_evo] = burned
    res[R.work] = out[0]
    res[R.mass] = c.m
    res[R.burned] = c.y
    res[R.t_ivc] = T_ivc
    res[R.p_ivc] = c.p_ref
    res[R.p_max] = info[0]
    res[R.a_max] = info[1]
    res[R.ca10] = info[2]
    res[R.ca50] = info[3]
    res[R.ca90] = info[4]
    res[R.t_burned] = info[5]
    res[R.t_unburned] = info[6]
    res[R.knock_a] = out[2]
    res[R.knock_c] = out[3]
    res[R.heat_closed] = out[1]
    res[R.unburnt] = out[5]
    res[R.t_piston] = c.T_piston
    res[R.t_head] = c.T_head
    res[R.t_liner] = c.T_liner


@outer()
def closed_part(z, c, cyl, gas, pts, steps, res, trace):
    """Compress, burn and expand; fills ``res``. Returns status, burned mass, energy, T at exhaust opening,
    row.

    Status: 0 fine, 2 a number went out of bounds, 3 the charge was not burned when the exhaust opened.
    """
    status = 0
    out = np.zeros(6)
    info = np.zeros(7)
    out[4] = z[12]
    T, row = compress(steps.compression, z[12], cyl, gas, c, out, info, trace, 0)
    V, _ = hermite((c.spark - cyl.theta0) / cyl.dtheta, cyl.volume, cyl.volume_slope, cyl.dtheta)
    res[R.t_spark] = T
    res[R.p_spark] = c.m * c.R * T / V
    if c.law == 2:
        hf, hb, _ = frozen(T, c.y, c.k, gas)
        closed_results(res, c, z[12], out, info, 0.0)
        return 0, c.y * c.m, c.m * (hf + c.y * (hb - hf) - c.R * T), T, row
    law = wiebe_law(T, V, c, gas, pts.durations)
    t, Tu, T, p, mb, row = burn(steps.burn, T, cyl, gas, c, law, out, info, trace, row)
    if not (p > 0.0 and T > 200.0 and Tu > 150.0):
        return 2, 0.0, 0.0, 0.0, row
    if t < cyl.evo - 1.0e-9:
        V, _ = hermite((t - cyl.theta0) / cyl.dtheta, cyl.volume, cyl.volume_slope, cyl.dtheta)
        T, p = merge(Tu, T, p, mb, V, gas, c)
        mb = c.m
        T, p, row = expand(t, T, p, steps.expansion, cyl, gas, c, out, info, trace, row)
    elif mb < 0.995 * c.m:
        status = 3
    if not (p > 0.0 and T > 200.0):
        return 2, 0.0, 0.0, 0.0, row
    T, burned, U = to_frozen(T, p, mb, Tu, gas, c)
    closed_results(res, c, z[12], out, info, mb / c.m)
    return status, burned, U, T, row


@outer()
def hand_on(z, W, v, work, omega, law, k, cyl, gas, res):
    """Finish ``res`` from lane ``v`` after the gas exchange, and put what the next cycle starts from into
    ``z``.

    Returns False where the lane holds nonsense. ``res``'s change: how far the state moved over the cycle.
    """
    m = W[S * STRIDE + v]
    Tc = W[T_C * STRIDE + v]
    Tp = W[T_P * STRIDE + v]
    if not (m > 0.0 and W[P_1 * STRIDE + v] > 0.0 and Tc > 100.0 and Tc < 5000.0):
        return False
    res[R.work] += W[(S + 10) * STRIDE + v]
    res[R.pump] = work[1, v] - work[0, v]
    res[R.heat] = res[R.heat_closed] + W[(S + 11) * STRIDE + v]
    fresh = W[(S + 12) * STRIDE + v]
    out = W[(S + 14) * STRIDE + v]
    h_out = W[(S + 15) * STRIDE + v]
    b_out = W[(S + 16) * STRIDE + v]
    back = W[(S + 17) * STRIDE + v]
    res[R.fresh] = fresh
    res[R.h_fresh] = W[(S + 13) * STRIDE + v]
    res[R.m_out] = out
    res[R.h_out] = h_out
    res[R.b_out] = b_out
    res[R.m_back] = back
    change = abs(m - z[0]) / z[0]
    change = max(change, abs(W[(S + 1) * STRIDE + v] / m - z[1] / z[0]))
    change = max(change, abs(Tc - z[12]) / z[12])
    if cyl.runner_length > 0.0:
        change = max(change, abs(Tp - z[13]) / z[13])
        change = max(change, abs(W[(S + 3) * STRIDE + v] - z[3]) / z[3])
        change = max(change, abs(W[(S + 6) * STRIDE + v] - z[6]) / (fresh * omega))
    mean = h_out / out if out > 0.0 else z[10]
    y_mean = b_out / out if out > 0.0 else z[11]
    res[R.t_out], res[R.cp_out] = frozen_at_enthalpy(mean, y_mean, 1100.0, k, gas)
    change = max(change, abs(mean - z[10]) * 1.0e-6 * back / m)
    change = max(change, abs(fresh - z[14]) / fresh)
    if law == 1:
        change = max(change, 0.02 * abs(res[R.ca50] - z[15]))
    for j in range(10):
        z[j] = W[(S + j) * STRIDE + v]
    z[10] = mean
    z[11] = y_mean
    z[12] = Tc
    z[13] = Tp
    z[14] = fresh
    z[15] = res[R.ca50]
    res[R.change] = change
    return True


@outer()
def cycles(state, cyl, gas, pts, steps, results, status, trace):
    """Every operating point to its periodic state, eight side by side.

    ``state`` (n, 18): start values, mass 0 = cold start; replaced by the converged state. ``results`` (n,
    34). ``status`` (n,): 0 converged, 1 not within the cycles allowed, 2 out of bounds, 3 not burned in time.
    ``trace`` (n, rows, 22): crank-angle records of the last cycle, or rows = 0. A point's answer does not
    depend on the points beside it; a lane that is done takes the next point in line. A point is done once a
    cycle has moved its state by no more than the tolerance.
    """
    n = state.shape[0]
    W = np.zeros(WORKSPACE)
    work = np.zeros((2, LANES))
    lanes = np.full(LANES, -1)
    rows = np.zeros(LANES, dtype=np.int64)
    codes = np.zeros(LANES, dtype=np.int64)
    waiting = 0
    while True:
        # fill empty lanes, run the closed part of each
        busy = 0
        for v in range(LANES):
            while True:
                if lanes[v] < 0:
                    if waiting >= n:
                        break
                    i = waiting
                    waiting += 1
                    lanes[v] = i
                    results[i, R.cycles] = 0.0
                    if not state[i, 0] > 0.0:
                        cold_start(state[i], i, pts.mixture[i], cyl, gas, pts)
                    carry_over(state[i], i, pts)
                i = lanes[v]
                c = charge_of(state[i], i, cyl, gas, pts)
                b = boundary_of(state[i], i, cyl, gas, pts)
                code, burned, U, T, row = closed_part(state[i], c, cyl, gas, pts, steps, results[i], trace[i])
                if code == 2:
                    status[i] = 2
                    state[i, 0] = 0.0
                    lanes[v] = -1
                    continue
                codes[v] = code
                rows[v] = row
                fill_lane(W, v, c, b, gas, state[i], c.m, burned, U, T)
                busy = v + 1
                break
        if busy == 0:
            return
        # a full row of lanes runs as vector code, a short one does not: from three points on, idle lanes
        # repeat a busy one
        last = busy - 1
        if busy > 2:
            busy = LANES
        for v in range(busy):
            if lanes[v] < 0:
                for r in range(WORKSPACE // STRIDE):
                    W[r * STRIDE + v] = W[r * STRIDE + last]
        if busy == LANES:
            exchange(W, LANES, cyl, pts.heat_law, steps, work, lanes, rows, trace)
        else:
            for v in range(busy):
                if lanes[v] >= 0:
                    alone(W, v, cyl, pts.heat_law, steps, work, lanes, rows, trace)
        for v in range(busy):
            i = lanes[v]
            if i < 0:
                continue
            results[i, R.cycles] += 1.0
            fine = hand_on(
                state[i], W, v, work, pts.omega[i], pts.burn_law, pts.mixture[i], cyl, gas, results[i]
            )
            if not fine:
                status[i] = 2
                state[i, 0] = 0.0
                lanes[v] = -1
            elif results[i, R.change] <= steps.tolerance:
                status[i] = codes[v]
                lanes[v] = -1
            elif results[i, R.cycles] >= steps.max_cycles:
                status[i] = codes[v] if codes[v] != 0 else 1
                lanes[v] = -1
