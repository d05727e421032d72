"""The engine's controller, mixture, work and heat, and the loop that plays a drive.

Torque from heat release with a parabola of spark about MBT (Heywood 1988, figure 9-3, from memory), friction
after Barnes-Moss 1975, the wall film after Aquino 1981 (SAE 810494, from memory), oil's pressure by a gear
pump against a relief spring, and one lump of heat each for block, oil, bay and cooler core.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from tools.drives import state as s
from tools.drives.driver import car_step, driver_step
from tools.drives.gas import charge_step, exhaust_step, gate_step
from tools.drives.kinds import modify

DT = 0.001  # step [s]
EVERY = 10  # steps between two recorded moments


@njit(cache=True)
def friction_pressure(w: float) -> float:
    """Rubbing friction [Pa]: 0.97 + 0.15 n + 0.05 n^2 bar, n in 1000 rpm (Barnes-Moss 1975)."""
    n = w * 30.0 / math.pi / 1000.0
    return (0.97 + 0.15 * n + 0.05 * n * n) * 1e5


@njit(cache=True)
def spark_table(car, w, p_m):  # type: ignore[no-untyped-def]
    """Table spark [deg before top] and MBT there; the shape is that of any small engine, from memory."""
    n = w / car.top
    mbt = 13.0 + 22.0 * (1.0 - math.exp(-n / 0.30)) - 0.10 * (p_m - 95e3) / 1e3
    over = max(p_m - 80e3, 0.0) / 1e3
    return mbt - 0.09 * over * (1.25 - 0.45 * n) - 1.0, mbt


@njit(cache=True)
def controller_step(y, car, man, mod, dt, rough):  # type: ignore[no-untyped-def]
    """Throttle, boost target, lambda target, spark, pulse; the fuel that is let in [kg/s]."""
    y[s.THETA] += dt / 0.05 * (min(y[s.PEDAL] ** 1.25 * 1.0, 1.0) - y[s.THETA])
    n = y[s.W] / car.top
    warm = min(max((353.0 - y[s.T_COOL]) / 60.0, 0.0), 1.2)
    # idle: air slowly, spark at once
    idle = car.idle * (1.0 + 0.35 * warm)
    off = idle - y[s.W]
    idling = y[s.PEDAL] < 0.015 and y[s.RUN] > 0.0 and y[s.W] < 1.6 * idle
    y[s.IDLE_P] = 6.0e-5 * min(max(off, 0.0), 30.0) if idling else 0.0
    if idling:
        y[s.IDLE_I] = min(max(y[s.IDLE_I] + 5.0e-5 * max(off, -12.0) * dt, 0.0), 0.022)
    # boost target: by pedal and speed
    share = min(max((y[s.PEDAL] - 0.45) / 0.4, 0.0), 1.0)
    by_speed = min(max(y[s.W] / car.boost_from, 0.3), 1.0) - 0.12 * max(n - 0.85, 0.0) / 0.15
    y[s.TARGET] = car.p_a + car.boost * share * by_speed
    table, _ = spark_table(car, y[s.W], y[s.P_M])
    hot = max(y[s.T_IN] - 323.0, 0.0) * 0.12 if y[s.P_M] > 0.9 * car.p_a else 0.0
    y[s.SPARK_TABLE] = table - hot
    worst = 0.0
    for i in range(int(car.cylinders)):
        y[s.RETARD + i] = max(y[s.RETARD + i] - 0.7 * dt, 0.0)
        worst += y[s.RETARD + i] / car.cylinders
    spark = y[s.SPARK_TABLE] - worst
    if idling:
        spark += min(max(0.45 * off, -9.0), 9.0) - 9.0
        spark += mod[s.IDLE_WAVE]
    if y[s.FLAT] > 0.0 and y[s.SHIFT] > 0.0:
        spark -= mod[s.CUT_SPARK]
    y[s.SPARK] = spark
    # lambda target
    p = y[s.P_M]
    full = (p - 0.86 * car.p_a) / (0.10 * car.p_a)
    target = 1.0 + (car.lam_full - 1.0) * min(max(full, 0.0), 1.0)
    target += (car.lam_boost - car.lam_full) * min(max((p - car.p_a) / 20e3, 0.0), 1.0)
    after_start = 0.10 * math.exp(-y[s.SINCE_START] / 12.0)
    y[s.LAM_TARGET] = target * (1.0 - 0.11 * warm - after_start)
    closed = p < car.loop_below and y[s.SINCE_START] > 40.0 and warm < 0.3 and y[s.PEDAL] > 0.0
    y[s.CLOSED] = y[s.CLOSED] + dt if y[s.PEDAL] < 0.01 else 0.0
    cut = y[s.CLOSED] > 0.35 and y[s.W] > 1.75 * idle and y[s.T_COOL] > 310.0 and y[s.SHIFT] <= 0.0
    if p > car.cut or y[s.W] > 1.03 * car.top:
        y[s.CUT] = 0.12
    y[s.CUT] -= dt
    if closed and not cut:
        y[s.TRIM] = min(max(y[s.TRIM] + 0.25 * (y[s.LAM_SEEN] - y[s.LAM_TARGET]) * dt, -0.12), 0.12)
    elif p > car.loop_below:
        y[s.TRIM] *= 1.0 - 0.3 * dt
    wanted = y[s.AIR] / (car.afr * y[s.LAM_TARGET]) * (1.0 + y[s.TRIM] + man[s.FUEL_ERROR] + 0.006 * rough)
    if y[s.RUN] == 0.0 or cut or y[s.CUT] > 0.0:
        y[s.PULSE] = 0.0
        y[s.INJ_DUTY] = 0.0
        return 0.0
    # film compensation: two thirds of what it should be
    tau = 0.25 + 0.9 * warm
    wet = 0.22 + 0.12 * warm
    wanted += 0.67 * max((wet * wanted - y[s.FILM] / tau) / (1.0 - wet), -0.6 * wanted)
    cycle = 4.0 * math.pi / max(y[s.W], 15.0)
    dead = car.dead_time * (13.5 / max(y[s.BATTERY], 7.0)) ** 1.6
    known = 1.0 - mod[s.SMALL_INJECTOR]
    pulse = wanted * cycle / car.cylinders / (car.q_injector * known) + dead
    y[s.PULSE] = min(max(pulse, dead), 0.97 * cycle)
    y[s.INJ_DUTY] = y[s.PULSE] / cycle
    real = math.sqrt(max(y[s.P_RAIL] - y[s.P_M], 1e4) / car.rail)
    return (y[s.PULSE] - dead) / cycle * car.cylinders * car.q_injector * known * real * (1.0 - mod[s.FEED])


@njit(cache=True)
def mixture_step(y, car, mod, inject, dt):  # type: ignore[no-untyped-def]
    """Wall film, lambda of the charge, what the controller sees of it, rail pressure."""
    warm = min(max((353.0 - y[s.T_COOL]) / 60.0, 0.0), 1.2)
    tau = 0.25 + 0.9 * warm
    wet = 0.22 + 0.12 * warm
    from_film = y[s.FILM] / tau
    y[s.FILM] += dt * (wet * inject - from_film)
    y[s.FUEL] = ((1.0 - wet) * inject + from_film) * (1.0 + mod[s.RICH])
    burning = inject > 0.0 or y[s.FUEL] > y[s.AIR] / (car.afr * 2.2)
    lam = y[s.AIR] / (car.afr * max(y[s.FUEL], 1e-7)) if burning else 8.0
    y[s.LAM] = min(lam, 8.0)
    # oxygen that the mixture did not leave: a leak draws air at low flow, a missed cycle passes all of it
    leak = mod[s.EXHAUST_LEAK] * math.exp(-(y[s.AIR] + y[s.FUEL]) / 0.012)
    y[s.LEAN_MIXED] = leak + 0.75 * y[s.MISFIRE] * min(lam, 1.5)
    y[s.LAM_SEEN] += dt / 0.25 * (min(y[s.LAM] + y[s.LEAN_MIXED], 1.5) - y[s.LAM_SEEN])
    sag = mod[s.RAIL_SAG] * min(inject / 0.008, 1.5)
    y[s.P_RAIL] += dt / 0.03 * (car.rail * (1.0 - 0.012 * inject / 0.01) + y[s.P_M] - sag - y[s.P_RAIL])
    return burning


@njit(cache=True)
def work_step(y, car, burning, luck, mod, dt):  # type: ignore[no-untyped-def]
    """Torque at the flywheel from the fuel that burns, less friction and pumping."""
    y[s.MISFIRE] += dt / 0.05 * (mod[s.MISSED] - y[s.MISFIRE])
    lam = y[s.LAM] if burning else 8.0
    fires = burning and 0.50 < lam < 1.7
    _, mbt = spark_table(car, y[s.W], y[s.P_M])
    late = mbt - y[s.SPARK]
    by_spark = max(1.0 - 4.2e-4 * late * late, 0.15)
    missed = 0.0
    if mod[s.MISSED] > 0.0:
        missed = 1.0 if luck < mod[s.MISSED] else 0.0
    y[s.HEAT] = min(y[s.AIR] / car.afr, y[s.FUEL]) * car.heating if fires else 0.0
    gross = y[s.HEAT] * car.burn * by_spark * (1.0 - missed)
    w = max(y[s.W], 10.0)
    rub = friction_pressure(y[s.W]) * (1.0 + 0.6 * min(max((353.0 - y[s.T_OIL]) / 60.0, 0.0), 1.3))
    pump = y[s.P_E] - y[s.P_M]
    lost = (rub + pump) * car.displacement / (4.0 * math.pi)
    y[s.POWER_LOSS] = lost * y[s.W]
    y[s.TORQUE] = gross / w - lost * min(y[s.W] / 5.0, 1.0)


@njit(cache=True)
def heat_step(y, car, mod, dt):  # type: ignore[no-untyped-def]
    """Coolant with thermostat and fan, oil, bay; oil and crankcase pressure; battery."""
    into = 0.22 * y[s.HEAT] + 0.5 * y[s.POWER_LOSS]
    valve = min(max((y[s.T_COOL] - car.t_thermostat + 3.0) / 8.0, 0.0), 1.0)
    if y[s.T_COOL] > car.t_thermostat + 8.0:
        y[s.FAN] = 1.0
    elif y[s.T_COOL] < car.t_thermostat + 3.0:
        y[s.FAN] = 0.0
    blown = y[s.FAN] * 420.0 * y[s.RUN]
    give = valve * (60.0 + 95.0 * y[s.V] ** 0.8 + blown) * (1.0 - mod[s.FAN_LOST])
    lost = give * (y[s.T_COOL] - car.t_a) + 14.0 * (y[s.T_COOL] - car.t_a) * (1.0 + 0.1 * y[s.V])
    to_oil = 55.0 * (y[s.T_COOL] - y[s.T_OIL])
    y[s.T_COOL] += dt * (into - lost - to_oil) / 52e3
    y[s.T_OIL] += (
        dt * (to_oil + 0.35 * y[s.POWER_LOSS] - (9.0 + 1.6 * y[s.V]) * (y[s.T_OIL] - car.t_a)) / 11e3
    )
    away = 25.0 + 30.0 * y[s.V]
    bay = (
        car.t_a
        + (9.0 * (y[s.T_COOL] - car.t_a) + 0.012 * y[s.HEAT] + 4.0 * (y[s.T_EX] - 600.0) * y[s.RUN]) / away
    )
    y[s.T_BAY] += dt / 60.0 * (min(bay, 378.0) - y[s.T_BAY])
    thin = math.exp(-(y[s.T_OIL] - 369.0) / 32.0)
    open_pump = car.oil_rate * y[s.W] * min(thin, 6.0)
    full = car.oil_relief * (1.0 - math.exp(-open_pump / car.oil_relief)) * (1.0 + 0.02 * min(thin, 4.0))
    goal = full * (1.0 - mod[s.OIL_LOST]) * (1.0 - mod[s.STARVED])
    y[s.P_OIL] += dt / 0.08 * (goal - y[s.P_OIL])
    blow_by = 0.12e3 + 0.45e3 * (max(y[s.P_M], 3e4) / 1e5 - 0.3) * (0.5 + 0.5 * y[s.W] / car.top)
    blow_by *= y[s.RUN] * (1.0 + mod[s.CASE_RISE])
    y[s.P_CASE] += dt / 0.3 * (blow_by - y[s.P_CASE])
    held = 14.25 - 0.012 * (y[s.T_BAY] - 313.0) - 0.12 * y[s.FAN] + min((y[s.W] - 95.0) * 0.01, 0.0)
    if y[s.RUN] == 0.0:
        held = 12.5 if y[s.SINCE_START] > -0.5 else 10.2
    y[s.BATTERY] += dt / 0.08 * (held - mod[s.VOLTS_LOST] - y[s.BATTERY])
    n = y[s.W] / car.top
    y[s.NOISE_LEVEL] = 0.06 + 0.22 * n * n + 0.05 * min(y[s.P_M] / 1e5, 1.6)


@njit(cache=True)
def run(y, car, plan, events, rough, out, began, ended, snaps, steps, quiet):  # type: ignore[no-untyped-def]
    """Play a drive from state `y`. Returns how many moments were recorded.

    plan: manoeuvres. events: rows of what is planted. rough: (moments, 4) seeded disturbances at 100 Hz. out:
    (moments, STATES) record. began, ended: for each event, true times, NaN before. snaps: the state at the
    start of each event. quiet: an event that must not happen (for the drive without it), or -1.
    """
    dt = DT
    mod = np.zeros(s.MODIFIERS)
    rows = 0
    first = int(np.floor(y[s.TIME] / dt + 0.5))
    for step in range(steps):
        at = int(y[s.AT])
        if at >= len(plan):
            break
        man = plan[at]
        k = min((first + step) // EVERY, len(rough) - 1)
        modify(y, car, events, mod, began, ended, snaps, quiet, dt)
        over = driver_step(y, car, man, dt, rough[k, 0])
        inject = controller_step(y, car, man, mod, dt, rough[k, 1])
        burning = mixture_step(y, car, mod, inject, dt)
        gate_step(y, car, mod, dt, man[s.BOOST_ERROR])
        charge_step(y, car, mod, dt)
        work_step(y, car, burning, rough[k, 3], mod, dt)
        exhaust_step(y, car, dt)
        heat_step(y, car, mod, dt)
        car_step(y, car, mod, man[s.GRADE], dt, rough[k, 2])
        if man[s.BLIP] > 0.0 and y[s.PHASE] == 2 and 0.5 <= y[s.T_PHASE] < 0.5 + dt:
            y[s.RETARD + at % int(car.cylinders)] += man[s.BLIP]
        if (first + step) % EVERY == 0 and rows < len(out):
            out[rows] = y
            rows += 1
        y[s.TIME] += dt
        y[s.T_MAN] += dt
        y[s.T_PHASE] += dt
        y[s.SINCE_START] += dt if y[s.SINCE_START] >= 0.0 else 0.0
        if over:
            y[s.AT] += 1.0
            y[s.PHASE] = 0.0
            y[s.T_PHASE] = 0.0
            y[s.T_MAN] = 0.0
    return rows


def cold_state(car, *, warm: bool) -> np.ndarray:  # type: ignore[no-untyped-def,type-arg]
    """A parked car, its engine off: cold, or warm after an hour's drive."""
    y = np.zeros(s.STATES)
    y[s.P_C] = y[s.P_M] = y[s.P_E] = car.p_a
    y[s.P_RAIL] = car.p_a + car.rail
    y[s.W_T] = 1000.0
    y[s.T_EX] = 500.0
    y[s.BATTERY] = 12.5
    block = 361.0 if warm else car.t_a + 2.0
    y[s.T_COOL], y[s.T_OIL] = block, block - (3.0 if warm else 0.0)
    y[s.T_BAY] = car.t_a + (25.0 if warm else 1.0)
    y[s.T_CORE] = y[s.T_IN] = car.t_a + (8.0 if warm else 0.5)
    y[s.LAM] = y[s.LAM_SEEN] = 1.0
    return y
