"""Compiled turbo side: charge side, turbine and gate flow at many operating points, for a search.

The equations are those of the plain form, `systems.turbo.turbo_point` with the compressor read from its
table: each step here names the function that it follows. Points stand in rows (k) and columns (n); what is
one for a whole column, outside air and exhaust gas, is worked out once for it.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.physics.kernels.jit import inner, outer

__all__ = ["Columns", "Found", "TurboNumbers", "turbo_side"]

Array = NDArray[np.float64]

R_AIR = 287.05
CP_AIR = 1005.0
GAMMA_AIR = 1.4
LEAST_PRESSURE = 0.3
COLDEST_OUTLET = 0.5
CHOKED_AT = 3.0
NEARLY_EQUAL = 0.98
"""As in the plain forms: compressor, turbo point, turbine and nozzle."""
CHARGE_ROUNDS = 60
CHARGE_TOLERANCE = 1.0e-7
"""Of the pressure after the compressor, for what is left when the rounds end [-]."""
FIRST_GAIN = 0.1
"""What a round leaves of the change of the one before, until there are two to tell it [-]."""
LEAST_WARMTH = 0.1
"""Of the compressor's rise that a cooler leaves, in the first guess [-]."""
POWER_EXPONENT = 1.6
SECANT_STEPS = 8
SECANT_TOLERANCE = 1.0e-6
"""Of the pressure across the turbine, in the last step; what is left is a hundredth of that [-]."""
BISECTIONS = 60
DROP_STEPS = 8
DROP_TOLERANCE = 1.0e-4
"""Of the temperature, in the last step; Newton's method leaves a tenth of its square [-]."""
HOLDS, TURBINE_SHORT, COMPRESSOR_SHORT = 0.0, 1.0, 2.0
OUT_OF_RANGE, CHARGE_OPEN, EXHAUST_OPEN = 1, 2, 3
"""What the whole call comes back with where a point was not asked properly, or an inner solve stayed open."""


class TurboNumbers(NamedTuple):
    """The parts as numbers, and the compressor's table (see `compressor_table.CompressorTable`)."""

    exducer: float  # of the compressor [m]
    turbine_diameter: float  # [m]
    turbine_area: float  # effective [m2]
    exponent: float  # of the swallowing form [-]
    peak: float  # best turbine efficiency [-]
    best_ratio: float  # blade speed ratio where it is [-]
    floor: float  # least efficiency [-]
    friction: float  # of the bearings at 1 rad/s [W]
    friction_exponent: float  # [-]
    inlet: Array  # (terms, 2) coefficient and exponent: loss times density over flow [Pa kg/m3]
    charge_pipes: Array
    core: Array
    exhaust: Array
    log_flow: Array  # (f,)
    lowest: Array  # (f,)
    highest: Array  # (f,)
    mach: Array  # (f, r)
    work: Array  # (f, r)


class ColumnPlaces(NamedTuple):
    """What is one for a column: rows of the array of columns."""

    pressure: int = 0  # outside air [Pa]
    temperature: int = 1  # [K]
    fuel: int = 2  # over air [-]
    T3: int = 3  # at the turbine [K]
    R: int = 4  # exhaust gas, as in `turbine.ExhaustGas`
    cp_ref: int = 5
    slope: int = 6
    T_ref: int = 7
    flow_factor: int = 8  # of pulses [-]
    power_factor: int = 9  # [-]
    cp3: int = 10  # from here on filled by the kernel: heat capacity at T3 [J/kg/K]
    sound: int = 11  # speed of sound outside [m/s]
    root: int = 12  # sqrt(R T3) [m/s]
    gamma: int = 13  # of the exhaust gas at T3 [-]
    critical: int = 14  # its critical pressure ratio [-]
    most: int = 15  # turbine's flow over its inlet pressure with no pressure behind [kg/s/Pa]


class FoundPlaces(NamedTuple):
    """What is found, each (k, n): places in the array of results."""

    plenum_temperature: int = 0  # [K]
    inlet_pressure: int = 1  # [Pa]
    outlet_pressure: int = 2  # after the compressor [Pa]
    mach: int = 3  # blade Mach number [-]
    speed: int = 4  # shaft [rad/s]
    ratio: int = 5  # attained by the compressor [-]
    outlet_temperature: int = 6  # of the compressor [K]
    power: int = 7  # of the compressor [W]
    compressor_status: int = 8  # -1 below the table, 1 above, 0 on it
    friction: int = 9  # of the bearings [W]
    exhaust_flow: int = 10  # [kg/s]
    p4: int = 11  # [Pa]
    p3: int = 12  # [Pa]
    turbine_flow: int = 13  # [kg/s]
    surplus: int = 14  # [W]
    status: int = 15  # 0 holds, 1 turbine short, 2 compressor short
    gate_area: int = 16  # that passes what the turbine leaves over [m2]


Columns = ColumnPlaces()
Found = FoundPlaces()
C = Columns
F = Found


@inner()
def through(terms, m):
    """Pressure loss times density of a row of parts [Pa kg/m3] at a flow ``m`` [kg/s]."""
    total = 0.0
    for i in range(terms.shape[0]):
        n = terms[i, 1]
        total += terms[i, 0] * (m * m if n == 2.0 else m**n)
    return total


@inner()
def catmull_rom(t):
    """Weights of the four neighbours at a share ``t`` of the step (`compressor_table`)."""
    return (
        0.5 * t * (t * (2.0 - t) - 1.0),
        0.5 * (t * t * (3.0 * t - 5.0) + 2.0),
        0.5 * t * (t * (4.0 - 3.0 * t) + 1.0),
        0.5 * t * t * (t - 1.0),
    )


@inner()
def place(x, size):
    """Step in which ``x`` lies, kept on the table."""
    i = int(x)
    return min(max(i, 0), size - 2)


@outer()
def read(values, i, across, j, t):
    """Cubic through four by four neighbours: row ``i`` with weights ``across``, column ``j`` and a share
    ``t`` of its step.
    """
    rows, columns = values.shape
    along = catmull_rom(t)
    total = 0.0
    for k in range(4):
        r = min(max(i + k - 1, 0), rows - 1)
        line = 0.0
        for n in range(4):
            line += along[n] * values[r, min(max(j + n - 1, 0), columns - 1)]
        total += across[k] * line
    return total


@outer()
def drop(entropy, T3, cp3, slope):
    """Isentropic drop [J/kg] at R ln(p3/p4) (`turbine.isentropic_drop`); ``cp3`` at T3.

    Newton's method on z = ln(T3/T), from its series; the last, small step is carried over to the temperature
    to first order.
    """
    a = slope * T3 / cp3
    q = entropy / cp3
    z = q * (1.0 + 0.5 * a * q * (1.0 + q * (a - 1.0 / 3.0)))
    T = T3
    for _ in range(DROP_STEPS):
        T = T3 * math.exp(-z)
        change = (q - z + a * (z - 1.0 + T / T3)) * cp3 / (cp3 - slope * (T3 - T))
        z += change
        if abs(change) < DROP_TOLERANCE:
            T -= T * change
            break
    return (T3 - T) * (cp3 - slope * 0.5 * (T3 - T))


@outer()
def swallowed(p, p4, most, exponent):
    """Turbine flow [kg/s] (`turbine.turbine_flow`); ``most``: area k/sqrt(R T3), times p the flow at no
    pressure behind.
    """
    if p <= p4:
        return 0.0
    x = p4 / p
    power = x * x if exponent == 2.0 else x**exponent
    return most * p * math.sqrt(1.0 - power)


@outer()
def pressure_for(flow, p4, most, exponent):
    """Pressure at which the turbine swallows a flow [Pa] (`turbine.inlet_pressure_for_flow`)."""
    y = flow / most
    if exponent == 2.0:
        return math.sqrt(p4 * p4 + y * y)
    y /= p4
    z = math.sqrt(1.0 + y * y * max(1.0, 2.0 / exponent))
    for _ in range(30):
        error = z * z - z ** (2.0 - exponent) - y * y
        change = error / (2.0 * z - (2.0 - exponent) * z ** (1.0 - exponent))
        z = max(z - change, 1.0)
        if abs(change) < 1.0e-12 * z:
            break
    return p4 * z


@outer()
def work(flow, p, p4, speed, col, parts):
    """Power of the turbine [W], pulses included (`turbine_unit.work_of`)."""
    fall = drop(col[C.R] * math.log(p / p4), col[C.T3], col[C.cp3], col[C.slope])
    spouting = math.sqrt(2.0 * max(fall, 1.0e-6))
    x = 0.5 * speed * parts.turbine_diameter / (spouting * parts.best_ratio)
    eta = min(max(parts.peak * x * (2.0 - x), parts.floor), parts.peak)
    return col[C.power_factor] * flow * fall * eta


@outer()
def balance(shut, given, wanted, near, p4, speed, col, parts):
    """Exhaust pressure at which the turbine gives the power wanted [Pa], and 0 where it was not found.

    given: its power at the pressure ``shut``, with the gate shut, above the one wanted. near: a pressure to
    try first. Secants in the logarithms of power and of pressure across the wheel; where they stray, halving.
    """
    most = col[C.most]
    u = math.log(shut - p4)
    slope = POWER_EXPONENT
    error = math.log(given / wanted)
    for turn in range(SECANT_STEPS):
        step = min(max(-error / slope, -3.0), 3.0)
        if turn == 0 and p4 < near < shut:
            first = math.log(near - p4) - u
            if first < -SECANT_TOLERANCE:
                step = first
        u += step
        p = p4 + math.exp(u)
        if abs(step) <= SECANT_TOLERANCE:
            if p <= shut * (1.0 + 1.0e-9):
                return p
            break
        was = error
        there = work(swallowed(p, p4, most, parts.exponent), p, p4, speed, col, parts)
        error = math.log(max(there, 1.0e-9) / wanted)
        measured = (error - was) / step
        if 0.5 < measured < 5.0:
            slope = measured
    low, high = p4, shut
    for _ in range(BISECTIONS):
        p = 0.5 * (low + high)
        if work(swallowed(p, p4, most, parts.exponent), p, p4, speed, col, parts) < wanted:
            low = p
        else:
            high = p
        if high - low <= 1.0e-9 * high:
            return 0.5 * (low + high)
    return 0.0


@outer()
def gate_area(flow, p3, p4, col):
    """Effective area through which the gate's flow passes [m2] (`wastegate.area_for_flow`)."""
    if not flow > 0.0:
        return 0.0
    g = col[C.gamma]
    x = min(max(p4 / p3, col[C.critical]), 1.0)
    inside = min(x, NEARLY_EQUAL)
    r = math.exp(math.log(inside) / g)
    psi = math.sqrt(2.0 * g / (g - 1.0) * r * (r - inside))
    psi *= math.sqrt(min(1.0, (1.0 - x) / (1.0 - NEARLY_EQUAL)))
    return flow * col[C.root] / (p3 * psi) if psi > 0.0 else 0.0


@outer()
def charge_side(plenum, m, effectiveness, near, col, parts, found):
    """From air filter to plenum by fixed point (`turbo.point`); the compressor by its table
    (`compressor_table.table_point`). A guess that does not settle is beyond the compressor. Returns whether
    the numbers are numbers.

    near: a plenum temperature to begin with [K]. The rounds end when what they would still move, told by
    their last two changes, is below the tolerance; it is added (Aitken).
    """
    sound = col[C.sound]
    p_amb, T_amb = col[C.pressure], col[C.temperature]
    inlet = max(p_amb - through(parts.inlet, m) * R_AIR * T_amb / p_amb, LEAST_PRESSURE * p_amb)
    pipes, core = through(parts.charge_pipes, m), through(parts.core, m)
    flows, ratios = parts.mach.shape
    log_flow = math.log(m * R_AIR * T_amb / (inlet * sound * parts.exducer * parts.exducer))
    x = (log_flow - parts.log_flow[0]) / (parts.log_flow[1] - parts.log_flow[0])
    x = min(max(x, 0.0), flows - 1.0)
    i = place(x, flows)
    across = catmull_rom(x - i)
    a, b, c, d = across
    before, after = max(i - 1, 0), min(i + 2, flows - 1)
    low, high = parts.lowest, parts.highest
    lowest = a * low[before] + b * low[i] + c * low[i + 1] + d * low[after]
    highest = a * high[before] + b * high[i] + c * high[i + 1] + d * high[after]
    T_plenum = max(near, T_amb)
    T_out = T_amb + (T_plenum - T_amb) / max(1.0 - effectiveness, LEAST_WARMTH)
    outlet = plenum + pipes * R_AIR * T_plenum / plenum
    outlet += core * R_AIR * (T_out + T_plenum) / (outlet + plenum)
    change = 0.0
    wanted, v, rise = 0.0, 0.0, 0.0
    j, t = 0, 0.0
    settled = False
    for turn in range(CHARGE_ROUNDS):
        if turn > 0:
            last, was = outlet, change
            outlet = plenum + pipes * R_AIR * T_plenum / plenum
            outlet += core * R_AIR * (T_out + T_plenum) / (outlet + last)
            change = outlet - last
            gain = change / was if turn > 1 else FIRST_GAIN
            settled = abs(change * gain) <= CHARGE_TOLERANCE * outlet * (1.0 - gain)
            if settled and turn > 1:
                outlet += change * gain / (1.0 - gain)
        wanted = math.log(outlet / inlet)
        v = (wanted - lowest) / (highest - lowest)
        y = min(max(v, 0.0), 1.0) * (ratios - 1)
        j = place(y, ratios)
        t = y - j
        value = read(parts.work, i, across, j, t)
        rise = sound * sound * max(value, 0.0)
        T_out = T_amb + rise / CP_AIR
        T_plenum = T_out - effectiveness * (T_out - T_amb)
        if settled:
            break
    mach = read(parts.mach, i, across, j, t)
    mach = min(max(mach, parts.mach[0, 0]), parts.mach[0, ratios - 1])
    found[F.plenum_temperature] = T_plenum
    found[F.inlet_pressure] = inlet
    found[F.outlet_pressure] = outlet
    found[F.mach] = mach
    found[F.speed] = 2.0 * mach * sound / parts.exducer
    found[F.ratio] = math.exp(min(max(wanted, lowest), highest))
    found[F.outlet_temperature] = T_out
    found[F.power] = m * rise
    found[F.compressor_status] = -1.0 if v < 0.0 else (1.0 if v > 1.0 else 0.0)
    if not settled:  # losses about as large as the pressure itself: no compressor stands there
        found[F.compressor_status] = 1.0
    return math.isfinite(outlet)


@outer()
def turbine_side(m, near, col, parts, found):
    """Turbine, bearings and gate at a known compressor point (`turbo.point`). Returns whether the exhaust
    pressure was found.

    near: an exhaust pressure to begin with [Pa].
    """
    T3, most = col[C.T3], col[C.most]
    friction = parts.friction * found[F.speed] ** parts.friction_exponent
    wanted = found[F.power] + friction
    flow = m * (1.0 + col[C.fuel])
    T4 = max(T3 - wanted / (flow * col[C.cp3]), COLDEST_OUTLET * T3)
    p4 = math.sqrt(col[C.pressure] ** 2 + 2.0 * col[C.R] * T4 * through(parts.exhaust, flow))
    shut = pressure_for(flow, p4, most, parts.exponent)
    given = work(flow, shut, p4, found[F.speed], col, parts)
    surplus = given - wanted
    p3, passed, good = shut, flow, True
    if surplus > 0.0:
        p3 = balance(shut, given, wanted, near, p4, found[F.speed], col, parts)
        good = p3 > 0.0
        passed = swallowed(p3, p4, most, parts.exponent)
    found[F.friction] = friction
    found[F.exhaust_flow] = flow
    found[F.p4] = p4
    found[F.p3] = p3
    found[F.turbine_flow] = passed
    found[F.surplus] = surplus
    found[F.status] = HOLDS if surplus >= 0.0 else TURBINE_SHORT
    if found[F.compressor_status] > 0.0:
        found[F.status] = COMPRESSOR_SHORT
    found[F.gate_area] = gate_area(flow - passed, p3, p4, col)
    return good


@outer()
def fill(col, parts):
    """Work out what is one for a column; returns whether it was asked properly."""
    T3, fuel = col[C.T3], col[C.fuel]
    if not (0.0 < T3 < math.inf and 0.0 < fuel < math.inf):
        return False
    cp3 = col[C.cp_ref] + col[C.slope] * (T3 - col[C.T_ref])
    g = cp3 / (cp3 - col[C.R])
    constant = math.sqrt(g) * (2.0 / (g + 1.0)) ** ((g + 1.0) / (2.0 * (g - 1.0)))
    constant /= math.sqrt(1.0 - CHOKED_AT**-parts.exponent)
    root = math.sqrt(col[C.R] * T3)
    col[C.cp3] = cp3
    col[C.sound] = math.sqrt(GAMMA_AIR * R_AIR * col[C.temperature])
    col[C.root] = root
    col[C.gamma] = g
    col[C.critical] = (2.0 / (g + 1.0)) ** (g / (g - 1.0))
    col[C.most] = col[C.flow_factor] * parts.turbine_area * constant / root
    return True


@outer()
def turbo_side(plenum, air, effectiveness, near_temperature, near_exhaust, columns, parts, found):
    """Operating points at plenum pressures [Pa], air flows [kg/s] and cooler effectivenesses, each (k, n).

    near_temperature, near_exhaust: guesses of plenum temperature [K] and exhaust pressure [Pa], (k, n); any
    will do. columns: (n, 16) by `Columns`, the first ten given. found: (17, k, n) by `Found`, filled here.
    Returns 0, or what went wrong.
    """
    k, n = plenum.shape
    one = np.empty(found.shape[0])
    for j in range(n):
        if not fill(columns[j], parts):
            return OUT_OF_RANGE
    for i in range(k):
        for j in range(n):
            col = columns[j]
            p, m = plenum[i, j], air[i, j]
            if not (0.0 < p < math.inf and 0.0 < m < math.inf):
                return OUT_OF_RANGE
            if not charge_side(p, m, effectiveness[i, j], near_temperature[i, j], col, parts, one):
                return CHARGE_OPEN
            if not turbine_side(m, near_exhaust[i, j], col, parts, one):
                return EXHAUST_OPEN
            for q in range(one.size):
                found[q, i, j] = one[q]
    return 0
