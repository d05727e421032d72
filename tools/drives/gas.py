"""Air, exhaust gas and the turbo: a mean-value model that fills and empties its volumes.

Equations from memory of the handbooks: throttle, plenum, exhaust manifold, shaft and gate after Eriksson and
Nielsen 2014, chapters 7 and 8; the compressor's characteristic left of its peak is the cubic of Moore and
Greitzer 1986, with the duct's inertance after Gravdahl and Egeland 1999; right of the peak it is a parabola
of our own. Explicit steps, with the stiff terms taken implicitly (one linearised step).
"""

from __future__ import annotations

import math

from numba import njit

from tools.drives import state as s
from tools.drives.car import CP, CP_EX, GAMMA_EX, R

HEAD_AT_REST = 0.36  # isentropic head over tip speed squared, no flow
HEAD_PEAK = 0.60
FLOW_PEAK = 0.042  # mass flow over density, tip speed and diameter squared
FLOW_END = 0.235  # where the head is nil


@njit(cache=True)
def orifice(area: float, p1: float, t1: float, p2: float, gamma: float) -> float:
    """Flow from 1 to 2 [kg/s], never back: the ideal nozzle, straight near no difference."""
    if p2 >= p1:
        return 0.0
    r = p2 / p1
    critical = (2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0))
    near = 0.97
    at = min(max(r, critical), near)
    flow = math.sqrt(2.0 * gamma / (gamma - 1.0) * (at ** (2.0 / gamma) - at ** (1.0 + 1.0 / gamma)))
    if r > near:
        flow *= (1.0 - r) / (1.0 - near)
    return area * p1 / math.sqrt(R * t1) * flow


@njit(cache=True)
def compressor_head(m: float, u: float, rho: float, d: float) -> tuple[float, float]:
    """Isentropic head [J/kg] at a flow, and its slope by flow."""
    u = max(u, 25.0)
    unit = rho * u * d * d
    phi = m / unit
    half = 0.5 * (HEAD_PEAK - HEAD_AT_REST)
    if phi < FLOW_PEAK:
        x = max(phi, -0.06) / (0.5 * FLOW_PEAK) - 1.0
        psi = HEAD_AT_REST + half * (1.0 + 1.5 * x - 0.5 * x**3)
        slope = half * (1.5 - 1.5 * x * x) / (0.5 * FLOW_PEAK)
        if phi < -0.06:
            psi += 12.0 * (-0.06 - phi)
            slope = -12.0
    else:
        x = (phi - FLOW_PEAK) / (FLOW_END - FLOW_PEAK)
        psi = HEAD_PEAK * (1.0 - x * x)
        slope = -2.0 * HEAD_PEAK * x / (FLOW_END - FLOW_PEAK)
    return psi * u * u, slope * u * u / unit


@njit(cache=True)
def compressor_efficiency(m: float, u: float, rho: float, d: float) -> float:
    """Isentropic efficiency; a hill about its best flow, from memory of what small wheels do."""
    phi = m / (rho * max(u, 25.0) * d * d)
    return max(0.76 - ((phi - 0.105) / 0.20) ** 2, 0.40)


@njit(cache=True)
def breathing(speed_share: float, p_m: float, p_e: float, compression: float) -> float:
    """Volumetric efficiency on plenum conditions; residual gas after Heywood 1988, 6.2, from memory."""
    own = 0.90 + 0.06 * math.sin(math.pi * (speed_share - 0.15)) - 0.16 * max(speed_share - 0.75, 0.0)
    own -= 0.35 * math.exp(-speed_share / 0.12)
    left = (p_e / p_m) ** (1.0 / 1.33)
    return own * (compression - left) / (compression - 1.0)


@njit(cache=True)
def gate_step(y, car, mod, dt, boost_error):  # type: ignore[no-untyped-def]
    """The controller's duty, the actuator, the flap."""
    gauge = y[s.P_M] - car.p_a
    wanted = y[s.TARGET] + boost_error - y[s.P_M]
    on = y[s.TARGET] > car.p_a + 8e3 and gauge > -15e3
    if on:
        if abs(wanted) < 12e3:
            y[s.GATE_I] += 2.2e-5 * wanted * dt
        y[s.GATE_I] = min(max(y[s.GATE_I], -0.25), 0.45)
        steer = max(y[s.TARGET] - car.p_a - car.spring, 0.0) / max(y[s.TARGET] - car.p_a, 8e3) / 0.9
        y[s.DUTY] = min(max(steer + y[s.GATE_I] + 1.4e-5 * wanted, 0.0), 0.95)
        if wanted > 25e3:
            y[s.DUTY] = 0.95
    else:
        y[s.DUTY] = 0.0
        y[s.GATE_I] *= 1.0 - dt
    # the solenoid bleeds the actuator's pressure with a 25 Hz dither
    dither = 0.04 * math.sin(2.0 * math.pi * 25.0 * y[s.TIME]) if on else 0.0
    at_actuator = max(y[s.P_C] - car.p_a, 0.0) * (1.0 - 0.9 * min(max(y[s.DUTY] + dither, 0.0), 1.0))
    lift = (at_actuator + 0.10 * max(y[s.P_E] - car.p_a, 0.0) - 0.97 * car.spring) / (0.35 * car.spring)
    lift = min(max(lift, 0.0), 1.0)
    if mod[s.GATE_WAVE] != 0.0:
        lift = min(max(lift + mod[s.GATE_WAVE], 0.0), 1.0)
    lift = min(max(lift, mod[s.GATE_LEAST]), mod[s.GATE_MOST])
    if mod[s.HOLD_GATE] > 0.0:
        lift = 0.0
    y[s.GATE] += dt / (dt + 0.06) * (lift - y[s.GATE])


@njit(cache=True)
def charge_step(y, car, mod, dt):  # type: ignore[no-untyped-def]
    """Filter, compressor, pipe, cooler, throttle, plenum, cylinders; sets AIR."""
    m_c = y[s.M_C]
    p_1 = car.p_a - car.k_filter * m_c * abs(m_c)
    rho = p_1 / (R * car.t_a)
    u = 0.5 * car.wheel * y[s.W_T]
    head, slope = compressor_head(m_c, u, rho, car.wheel)
    base = 1.0 + head / (CP * car.t_a)
    ratio = max(base, 0.3) ** (CP / R)
    stiff = abs(min(slope, 0.0)) * p_1 / (R * car.t_a) / car.inertance
    y[s.M_C] += dt * (p_1 * ratio - y[s.P_C]) / car.inertance / (1.0 + dt * stiff)
    m_c = y[s.M_C]
    eta = compressor_efficiency(max(m_c, 0.0), u, rho, car.wheel)
    y[s.P_COMP] = max(abs(m_c), 0.25 * FLOW_PEAK * rho * u * car.wheel**2) * max(head, 0.0) / eta
    t_out = car.t_a + max(head, 0.0) / eta / CP

    # cooler: metal between charge and the air of the road
    flow = max(m_c, 0.002)
    cold = 18.0 + 14.0 * y[s.V] ** 0.8
    t_face = car.t_a + 0.25 * (y[s.T_BAY] - car.t_a) * math.exp(-y[s.V] / 4.0)
    give = car.cooler / 0.75 * flow * CP * (1.0 - 0.8 * mod[s.COOLING_LOST])
    y[s.T_CORE] += (
        dt
        * (give * (t_out - y[s.T_CORE]) - cold * (1.0 - mod[s.COOLING_LOST]) * (y[s.T_CORE] - t_face))
        / 5200.0
    )
    t_c = t_out - give / (flow * CP) * (t_out - y[s.T_CORE])
    # warm walls between cooler and plenum
    wall = 3.0
    t_in = (flow * CP * t_c + wall * (y[s.T_BAY] + mod[s.SOAK])) / (flow * CP + wall)
    y[s.T_IN] += dt / 0.25 * (t_in - y[s.T_IN]) * min(1.0, flow / 0.01)

    # throttle
    area = car.a_throttle * (
        0.0034
        + y[s.IDLE_I]
        + y[s.IDLE_P]
        + 0.016 * max(y[s.W] / car.top - 0.2, 0.0)
        + 0.9966 * (1.0 - math.cos(0.5 * math.pi * y[s.THETA]))
    )
    m_th = orifice(area, y[s.P_C], t_c, y[s.P_M], 1.4) - orifice(area, y[s.P_M], y[s.T_IN], y[s.P_C], 1.4)
    m_leak = orifice(mod[s.LEAK], y[s.P_C], t_c, car.p_a, 1.4)
    open_to = 0.0
    if mod[s.BLOW_STUCK] == 0.0 and y[s.P_C] > car.p_a + 4e3:
        open_to = min(max((y[s.P_C] - y[s.P_M] - car.blow_opens) / 10e3, 0.0), 1.0)
    y[s.BLOW] += dt / 0.02 * (open_to - y[s.BLOW])
    m_blow = orifice(car.a_blow * y[s.BLOW], y[s.P_C], t_c, car.p_a, 1.4)
    k_th = abs(m_th) / max(abs(y[s.P_C] - y[s.P_M]), 50.0)
    k_leak = (m_leak + m_blow) / max(y[s.P_C] - car.p_a, 500.0)
    eta_v = breathing(y[s.W] / car.top, y[s.P_M], y[s.P_E], car.compression)
    k_cyl = eta_v * car.displacement * y[s.W] / (4.0 * math.pi) / (R * y[s.T_IN])
    # both volumes in one implicit step, so that what leaves one is what reaches the other
    g_c, g_m = dt * R * t_c / car.v_pipe, dt * R * y[s.T_IN] / car.v_plenum
    a_cc, a_mm = 1.0 + g_c * (k_th + k_leak), 1.0 + g_m * (k_th + k_cyl)
    r_c = g_c * (m_c - m_th - m_leak - m_blow)
    r_m = g_m * (m_th - k_cyl * y[s.P_M])
    det = a_cc * a_mm - g_c * k_th * g_m * k_th
    d_c = (r_c * a_mm + g_c * k_th * r_m) / det
    d_m = (r_m * a_cc + g_m * k_th * r_c) / det
    y[s.P_C] = min(max(y[s.P_C] + d_c, 0.2e5), 4e5)
    y[s.P_M] = min(max(y[s.P_M] + d_m, 6e3), 4e5)
    y[s.AIR] = k_cyl * y[s.P_M]
    m_th += k_th * (d_c - d_m)
    y[s.M_TH] = m_th


@njit(cache=True)
def exhaust_step(y, car, dt):  # type: ignore[no-untyped-def]
    """Exhaust manifold, turbine, gate, shaft."""
    m_in = y[s.AIR] + y[s.FUEL]
    # heat left in the gas: what is neither work nor wall heat
    if m_in > 1e-6 and y[s.HEAT] > 0.0:
        late = 0.10 * max(y[s.SPARK_TABLE] - y[s.SPARK], 0.0) / 10.0
        share = 0.31 + late + 0.04 * min(y[s.W] / car.top, 1.0)
        t_ex = y[s.T_IN] + share * y[s.HEAT] / (m_in * CP_EX) * (0.80 + 0.20 * min(m_in / 0.05, 1.0))
    else:
        t_ex = 420.0
    y[s.T_EX] += dt / 0.15 * (t_ex - y[s.T_EX])
    p_t = car.p_a + car.k_tail * m_in * m_in
    m_t = orifice(car.a_turbine, y[s.P_E], y[s.T_EX], p_t, GAMMA_EX)
    m_g = orifice(car.a_gate * y[s.GATE], y[s.P_E], y[s.T_EX], p_t, GAMMA_EX)
    gain = R * y[s.T_EX] / car.v_exhaust
    k = (m_t + m_g) / max(y[s.P_E] - p_t, 50.0)
    rise = dt * gain * (m_in - m_t - m_g) / (1.0 + dt * gain * k)
    more = 1.0 + rise / max(y[s.P_E] - p_t, 50.0)
    m_t, m_g = m_t * more, m_g * more
    y[s.P_E] += rise
    y[s.P_E] = min(max(y[s.P_E], 0.9 * car.p_a), 6e5)
    drop = 1.0 - (p_t / max(y[s.P_E], p_t)) ** ((GAMMA_EX - 1.0) / GAMMA_EX)
    ideal = math.sqrt(max(2.0 * CP_EX * y[s.T_EX] * drop, 1.0))
    bsr = min(0.5 * 0.92 * car.wheel * y[s.W_T] / ideal, 1.3)
    eta = max(0.68 * (1.0 - ((bsr - 0.65) / 0.65) ** 2), 0.05)
    y[s.P_TURB] = m_t * CP_EX * y[s.T_EX] * drop * eta
    w = max(y[s.W_T], 300.0)
    bearing = 1.6e-6 * w * w * (car.wheel / 0.0545) ** 3
    y[s.W_T] += dt * (0.98 * y[s.P_TURB] - y[s.P_COMP] - bearing) / (car.j_turbo * w)
    y[s.W_T] = min(max(y[s.W_T], 300.0), 30000.0)
    y[s.M_TURB], y[s.M_GATE] = m_t, m_g
