"""The driver and the road: what is done with pedal, brake, clutch and lever in each manoeuvre; and the car.

Road load after the usual sum of rolling, slope and drag; the clutch is a stiff viscous joint up to its
friction torque; the tyre creeps in proportion to its force (Eriksson and Nielsen 2014, chapter 13, from
memory).
"""

from __future__ import annotations

import math

from numba import njit

from tools.drives import state as s

G = 9.81


@njit(cache=True)
def input_speed(y, car):  # type: ignore[no-untyped-def]
    """Speed of the gearbox's input shaft [rad/s]; 0 in neutral."""
    gear = int(y[s.GEAR])
    return (
        y[s.V] * (1.0 + y[s.FORCE] / (16.0 * car.mass * G)) / car.wheel_radius * car.gears[gear] * car.final
    )


@njit(cache=True)
def enter(y, phase):  # type: ignore[no-untyped-def]
    """Go to another phase of the manoeuvre."""
    y[s.PHASE] = phase
    y[s.T_PHASE] = 0.0


@njit(cache=True)
def shift_to(y, gear, seconds):  # type: ignore[no-untyped-def]
    """Begin a gear change, unless one is under way."""
    if y[s.SHIFT] <= 0.0 and gear != int(y[s.GEAR]):
        y[s.GEAR_WANTED] = gear
        y[s.SHIFT] = seconds


@njit(cache=True)
def follow(y, car, target, dt, wobble):  # type: ignore[no-untyped-def]
    """Hold or reach a road speed: pedal, brake, gear."""
    reach = 1.3 if target > y[s.V_RAMP] else -1.6
    y[s.V_RAMP] += min(max(target - y[s.V_RAMP], reach * dt), -reach * dt if reach < 0 else reach * dt)
    if abs(target - y[s.V_RAMP]) < 1.7 * dt:
        y[s.V_RAMP] = target
    if y[s.V_RAMP] > y[s.V] + 2.0:
        y[s.V_RAMP] = y[s.V] + 2.0
    if y[s.V_RAMP] < y[s.V] - 2.5:
        y[s.V_RAMP] = y[s.V] - 2.5
    error = y[s.V_RAMP] - y[s.V]
    y[s.PEDAL_I] = min(max(y[s.PEDAL_I] + 0.035 * error * dt, 0.0), 0.55)
    rising = 0.05 if target > y[s.V_RAMP] + 0.1 else 0.0
    pedal = y[s.PEDAL_I] + 0.16 * error + rising + 0.02 * wobble
    y[s.PEDAL] = min(max(pedal, 0.0), 0.75)
    y[s.BRAKE] = min(max(-0.8 * (error + 1.0), 0.0), 3.0)
    if error < -0.7:
        y[s.PEDAL] = 0.0
    gear = int(y[s.GEAR])
    top = len(car.gears) - 1
    w_in = y[s.V] / car.wheel_radius * car.gears[max(gear, 1)] * car.final
    if gear == 0:
        shift_to(y, 1, 0.5)
    elif w_in > (0.46 if error > 0.3 else 0.40) * car.top and gear < top:
        shift_to(y, gear + 1, 0.55)
    elif w_in < 0.215 * car.top and gear > 1:
        shift_to(y, gear - 1, 0.5)


@njit(cache=True)
def pull_step(y, car, man, dt, wobble):  # type: ignore[no-untyped-def]
    """Approach, settle, full pedal to a speed (through gears if so planned), lift. True when over."""
    gear = int(man[s.IN_GEAR])
    ratio = car.gears[gear] * car.final / car.wheel_radius
    if y[s.PHASE] == 0:
        target = man[s.FROM_W] / ratio
        if abs(y[s.V] - target) < 0.8 or y[s.T_PHASE] > 40.0:
            shift_to(y, gear, 0.5)
            y[s.SHIFTS_LEFT] = man[s.SHIFTS]
            enter(y, 1)
        else:
            follow(y, car, target, dt, wobble)
    elif y[s.PHASE] == 1:
        y[s.PEDAL] = 0.12
        y[s.BRAKE] = 0.0
        if y[s.SHIFT] <= 0.0 and y[s.CLUTCH] > 0.99 and y[s.T_PHASE] > 1.2:
            enter(y, 2)
    elif y[s.PHASE] == 2:
        y[s.PEDAL] = min(y[s.PEDAL] + dt / 0.15, man[s.PEDAL_TO])
        y[s.FLAT] = y[s.SHIFT_CUT]
        if y[s.W] > man[s.TO_W] and y[s.SHIFT] <= 0.0:
            if y[s.SHIFTS_LEFT] > 0 and int(y[s.GEAR]) < len(car.gears) - 1:
                y[s.SHIFTS_LEFT] -= 1.0
                shift_to(y, int(y[s.GEAR]) + 1, 0.42 if y[s.FLAT] == 0.0 else 0.30)
            else:
                enter(y, 3)
        if y[s.T_PHASE] > man[s.LASTS]:
            enter(y, 3)
        if y[s.SHIFT] > 0.0 and y[s.FLAT] == 0.0:
            y[s.PEDAL] = 0.0
    else:
        y[s.FLAT] = 0.0
        y[s.PEDAL] = max(y[s.PEDAL] - dt / 0.12, man[s.LIFT_TO] if y[s.T_PHASE] < 1.0 else 0.0)
        y[s.V_RAMP] = y[s.V]
        y[s.PEDAL_I] = 0.1
        return y[s.T_PHASE] > 2.2
    return False


@njit(cache=True)
def driver_step(y, car, man, dt, wobble):  # type: ignore[no-untyped-def]
    """What the driver does now. True when the manoeuvre is over."""
    mode = int(man[s.MODE])
    over = False
    y[s.FLAT] = 0.0
    if mode == s.OFF:
        y[s.RUN] = 0.0
        y[s.PEDAL] = 0.0
        y[s.BRAKE] = 3.0
        y[s.GEAR] = 0.0
        y[s.SINCE_START] = 0.0
        over = y[s.T_MAN] > man[s.LASTS]
    elif mode == s.START:
        y[s.PEDAL] = 0.0
        if y[s.RUN] == 0.0:
            y[s.SINCE_START] = -1.0  # the starter turns
        if y[s.T_MAN] > man[s.LASTS] and y[s.RUN] == 0.0:
            y[s.RUN] = 1.0
            y[s.SINCE_START] = 0.0
        over = y[s.T_MAN] > man[s.LASTS] + 3.0
    elif mode == s.IDLE:
        y[s.PEDAL] = 0.0
        y[s.BRAKE] = 2.0
        y[s.V_RAMP] = 0.0
        y[s.PEDAL_I] = 0.03
        over = y[s.T_MAN] > man[s.LASTS]
    elif mode == s.CRUISE or mode == s.BEND or mode == s.TIP_IN:
        over = cruise_step(y, car, man, dt, wobble)
    elif mode == s.PULL:
        over = pull_step(y, car, man, dt, wobble)
    elif mode == s.STOP:
        y[s.PEDAL] = 0.0
        y[s.BRAKE] = 2.4 if y[s.V] > 1.5 else 1.2
        y[s.V_RAMP] = y[s.V]
        if y[s.V] < 0.1:
            y[s.GEAR] = 0.0
            y[s.SHIFT] = 0.0
            over = True
    else:  # coast
        y[s.PEDAL] = 0.0
        y[s.BRAKE] = 0.0
        y[s.V_RAMP] = y[s.V]
        over = y[s.T_MAN] > man[s.LASTS] or y[s.W] < 0.2 * car.top
    return over


@njit(cache=True)
def cruise_step(y, car, man, dt, wobble):  # type: ignore[no-untyped-def]
    """A speed reached (phase 0) and held (1); with a tip-in also the step (2) and its release (3)."""
    if y[s.PHASE] <= 1 or man[s.MODE] != s.TIP_IN:
        follow(y, car, man[s.SPEED], dt, wobble)
    if y[s.PHASE] == 0:
        if abs(y[s.V] - man[s.SPEED]) < 1.2 or y[s.T_PHASE] > 45.0:
            enter(y, 1)
    elif y[s.PHASE] == 1:
        if man[s.MODE] == s.TIP_IN:
            if y[s.T_PHASE] > 1.5 and y[s.SHIFT] <= 0.0:
                enter(y, 2)
        else:
            return y[s.T_PHASE] > man[s.LASTS]
    elif y[s.PHASE] == 2:
        y[s.BRAKE] = 0.0
        y[s.PEDAL] = min(y[s.PEDAL] + dt / 0.10, man[s.PEDAL_TO])
        if y[s.T_PHASE] > man[s.LASTS] or y[s.W] > 0.9 * car.top:
            enter(y, 3)
    else:
        y[s.PEDAL] = max(y[s.PEDAL] - dt / 0.15, 0.05)
        y[s.V_RAMP] = y[s.V]
        return y[s.T_PHASE] > 1.2
    return False


@njit(cache=True)
def car_step(y, car, mod, grade, dt, gust):  # type: ignore[no-untyped-def]
    """Gear change, clutch, crankshaft and road speed."""
    moving = y[s.V] > 0.5 or y[s.PEDAL] > 0.02
    if y[s.SHIFT] > 0.0:
        y[s.SHIFT] -= dt
        y[s.CLUTCH] = max(y[s.CLUTCH] - dt / 0.08, 0.0)
        if y[s.FLAT] == 0.0:
            y[s.PEDAL] = min(y[s.PEDAL], 0.03)
        if y[s.CLUTCH] <= 0.0:
            y[s.GEAR] = y[s.GEAR_WANTED]
        if y[s.SHIFT] <= 0.0:
            y[s.GEAR] = y[s.GEAR_WANTED]
    elif y[s.GEAR] > 0 and moving:
        y[s.CLUTCH] = min(y[s.CLUTCH] + dt / 0.30, 1.0)
        if y[s.CLUTCH] < 1.0 and y[s.V] > 4.0 and y[s.FLAT] == 0.0:
            y[s.PEDAL] = min(y[s.PEDAL], 0.04 + 0.15 * y[s.CLUTCH])
    else:
        y[s.CLUTCH] = 0.0
    gear = int(y[s.GEAR])
    ratio = car.gears[gear] * car.final / car.wheel_radius
    w_in = input_speed(y, car)
    bite = y[s.CLUTCH]
    if gear > 0 and w_in < 110.0:  # pulling away or coming to rest: the foot saves the engine from stalling
        bite *= min(max((y[s.W] - 85.0) / 120.0, 0.0), 1.0)
        if y[s.BRAKE] > 0.5:
            bite = 0.0
    y[s.SLIP] = y[s.W] - w_in if gear > 0 else 0.0
    capacity = car.clutch * bite * bite * (1.0 - mod[s.CLUTCH_LOST])
    torque = capacity * min(max(y[s.SLIP] / 2.5, -1.0), 1.0) if gear > 0 else 0.0
    accessories = 6.0 + 2.5 * y[s.FAN]
    starter = 0.0
    if y[s.RUN] == 0.0 and y[s.SINCE_START] < -0.5:
        starter = 4.0 * (26.0 - y[s.W])
    y[s.W] += dt * (y[s.TORQUE] + starter - accessories * min(y[s.W] / 20.0, 1.0) - torque) / car.j_engine
    y[s.W] = max(y[s.W], 0.0)
    drive = torque * ratio * (car.efficiency if torque > 0.0 else 1.0 / car.efficiency)
    y[s.FORCE] += dt / 0.03 * (drive - y[s.FORCE])  # the tyre's creep takes a moment to build up
    wind = y[s.V] + 1.5 * gust
    resist = 0.5 * car.p_a / (287.0 * car.t_a) * car.drag_area * wind * abs(wind)
    resist += car.mass * G * (grade + car.rolling * math.tanh(y[s.V] / 0.3))
    resist += car.mass * y[s.BRAKE] * math.tanh(y[s.V] / 0.1)
    y[s.V] += dt * (drive - resist) / (car.mass + car.j_wheels / car.wheel_radius**2)
    y[s.V] = max(y[s.V], 0.0)
