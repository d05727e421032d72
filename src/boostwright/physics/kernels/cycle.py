"""Compiled engine cycles: one cylinder, many operating points, each iterated to its periodic state.

A cycle runs from intake closing to intake closing: compress, burn, expand, exchange. What one cycle hands to
the next (the 16 numbers of ``STATE``) is iterated until it repeats.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from boostwright.physics.kernels.burn import burn, merge, wiebe_law
from boostwright.physics.kernels.closed_phase import compress, expand, to_frozen
from boostwright.physics.kernels.gas import frozen, hermite
from boostwright.physics.kernels.heat import constant
from boostwright.physics.kernels.jit import outer
from boostwright.physics.kernels.open_phase import N_OPEN, STORE_SHARE, exchange
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
        pts.spark[i],
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
def one_cycle(z, i, cyl, gas, pts, steps, res, trace):
    """One cycle from the state ``z``, replaced by the state a cycle later; fills ``res``; returns a status.

    Status: 0 fine, 2 a number went out of bounds, 3 the charge was not burned when the exhaust opened.
    """
    status = 0
    c = charge_of(z, i, cyl, gas, pts)
    b = boundary_of(z, i, cyl, gas, pts)
    out = np.zeros(6)
    info = np.zeros(7)
    out[4] = z[12]
    T, row = compress(steps.compression, z[12], cyl, gas, c, out, trace, 0)
    V, _ = hermite((c.spark - cyl.theta0) / cyl.dtheta, cyl.volume, cyl.volume_slope, cyl.dtheta)
    res[R.t_spark] = T
    res[R.p_spark] = c.m * c.R * T / V
    law = wiebe_law(T, V, c, gas, pts.durations)
    t, Tu, T, p, mb, row = burn(steps.burn, T, cyl, gas, c, law, out, info, trace, row)
    if not (p > 0.0 and T > 200.0 and Tu > 150.0):
        return 2
    if t < cyl.evo - 1.0e-9:
        V, _ = hermite((t - cyl.theta0) / cyl.dtheta, cyl.volume, cyl.volume_slope, cyl.dtheta)
        T, p = merge(Tu, T, p, mb, V, gas, c)
        mb = c.m
        T, p, row = expand(t, T, p, steps.expansion, cyl, gas, c, out, info, trace, row)
    elif mb < 0.995 * c.m:
        status = 3
    if not (p > 0.0 and T > 200.0):
        return 2
    res[R.m_evo] = mb / c.m
    T, burned, U = to_frozen(T, p, mb, Tu, gas, c)

    s = np.zeros(N_OPEN)
    s[0] = c.m
    s[1] = burned
    s[2] = U
    for j in range(3, 10):
        s[j] = z[j]
    work = np.zeros(2)
    Tc, Tp, p_end, row = exchange(s, T, z[13], cyl, gas, c, b, steps, work, trace, row)
    if not (s[0] > 0.0 and p_end > 0.0 and Tc > 100.0):
        return 2

    res[R.work] = out[0] + s[10]
    res[R.pump] = work[1] - work[0]
    res[R.mass] = c.m
    res[R.burned] = c.y
    res[R.t_ivc] = z[12]
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
    res[R.heat] = out[1] + s[11]
    res[R.unburnt] = out[5]
    res[R.fresh] = s[12]
    res[R.h_fresh] = s[13]
    res[R.m_out] = s[14]
    res[R.h_out] = s[15]
    res[R.b_out] = s[16]
    res[R.m_back] = s[17]
    res[R.t_piston] = c.T_piston
    res[R.t_head] = c.T_head
    res[R.t_liner] = c.T_liner

    # what the next cycle starts from, and how far it moved
    change = abs(s[0] - z[0]) / z[0]
    change = max(change, abs(s[1] / s[0] - c.y))
    change = max(change, abs(Tc - z[12]) / z[12])
    if cyl.runner_length > 0.0:
        change = max(change, abs(Tp - z[13]) / z[13])
        change = max(change, abs(s[3] - z[3]) / z[3])
        change = max(change, abs(s[6] - z[6]) / (s[12] * c.omega))
    mean = s[15] / s[14] if s[14] > 0.0 else z[10]
    y_back = s[16] / s[14] if s[14] > 0.0 else z[11]
    change = max(change, abs(mean - z[10]) * 1.0e-6 * s[17] / c.m)
    change = max(change, abs(s[12] - z[14]) / s[12])
    for j in range(10):
        z[j] = s[j]
    z[10] = mean
    z[11] = y_back
    z[12] = Tc
    z[13] = Tp
    z[14] = s[12]
    if c.law != 0:
        change = max(change, 0.02 * abs(info[3] - z[15]))
    z[15] = info[3]
    res[R.change] = change
    return status


@outer()
def cycles(state, cyl, gas, pts, steps, results, status, trace):
    """Every operating point to its periodic state.

    ``state`` (n, 16): start values, mass 0 = cold start; replaced by the converged state. ``results`` (n,
    32). ``status`` (n,): 0 converged, 1 not within the cycles allowed, 2 out of bounds, 3 not burned in time.
    ``trace`` (n, rows, 22): crank-angle records of the last cycle, or rows = 0.
    """
    for i in range(state.shape[0]):
        z = state[i]
        if not z[0] > 0.0:
            cold_start(z, i, pts.mixture[i], cyl, gas, pts)
        code = 1
        for c in range(steps.max_cycles):
            code = one_cycle(z, i, cyl, gas, pts, steps, results[i], trace[i])
            results[i, R.cycles] = c + 1.0
            if code == 2:
                z[0] = 0.0
                break
            if results[i, R.change] <= steps.tolerance:
                break
        else:
            if code == 0:
                code = 1
        status[i] = code
