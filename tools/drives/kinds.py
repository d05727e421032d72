"""The kinds of fault that the engine model plays, and how each acts on it while it lasts."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from tools.drives import state as s

NAMES = (
    "none",
    "overshoot",
    "creep",
    "boost-oscillation",
    "charge-leak",
    "gate-not-shutting",
    "lean-feed",
    "rail-sag",
    "pulse-saturated",
    "misfire",
    "exhaust-leak",
    "rich-under-boost",
    "voltage-sag",
    "knock-tip-in",
    "knock-sustained",
    "shift-cut",
    "idle-hunting",
    "intake-soak",
    "cooler-blocked",
    "coolant-slope",
    "oil-low",
    "oil-starved",
    "clutch-slip",
    "surge-at-lift",
    "crankcase-rise",
)
(
    NONE,
    OVERSHOOT,
    CREEP,
    OSCILLATION,
    CHARGE_LEAK,
    GATE_OPEN,
    LEAN_FEED,
    RAIL,
    SATURATED,
    MISSES,
    EXHAUST,
    RICHER,
    VOLTAGE,
    KNOCK_ONCE,
    KNOCKING,
    SHIFT_CUTS,
    HUNTING,
    SOAKED,
    BLOCKED,
    COOLANT,
    OIL_DOWN,
    STARVING,
    SLIPPING,
    SURGING,
    CASE,
) = range(len(NAMES))

ALWAYS, IN_BOOST, WHILE_SHIFTING, FAST = range(4)  # column OVER: what else must hold for an event to begin


@njit(cache=True)
def _may_begin(y, car, row):  # type: ignore[no-untyped-def]
    """Whether the event's place and moment are here."""
    if y[s.AT] != row[s.WHERE] or y[s.PHASE] != row[s.IN_PHASE] or y[s.T_PHASE] < row[s.DELAY]:
        return False
    over = int(row[s.OVER])
    if over == IN_BOOST:
        return y[s.P_M] > car.p_a + 0.45 * car.boost
    if over == WHILE_SHIFTING:
        return y[s.SHIFT] > 0.0
    if over == FAST:
        return y[s.W] > 0.45 * car.top
    return True


@njit(cache=True)
def _is_over(y, row, since):  # type: ignore[no-untyped-def]
    """Whether the event ends now; DURATION 0 lasts as long as its phase."""
    kind = int(row[s.KIND])
    if kind == OVERSHOOT:
        reached = y[s.P_M] > y[s.TARGET] + row[s.SEVERITY]
        return reached or y[s.PHASE] != row[s.IN_PHASE] or y[s.AT] != row[s.WHERE]
    if row[s.DURATION] > 0.0 and since >= row[s.DURATION]:
        return True
    if kind == SHIFT_CUTS:
        return y[s.SHIFT] <= 0.0
    if row[s.DURATION] > 45.0:  # slow ones outlast their manoeuvre
        return False
    return y[s.PHASE] != row[s.IN_PHASE] or y[s.AT] != row[s.WHERE]


@njit(cache=True)
def modify(y, car, events, mod, began, ended, snaps, quiet, dt):  # type: ignore[no-untyped-def]
    """Begin and end events, and write what those that last do to the model."""
    mod[:] = 0.0
    mod[s.GATE_MOST] = 1.0
    y[s.SHIFT_CUT] = 0.0
    t = y[s.TIME]
    for e in range(len(events)):
        row = events[e]
        if e == quiet or row[s.KIND] == NONE or not math.isnan(ended[e]):
            continue
        if int(row[s.KIND]) == SHIFT_CUTS and y[s.AT] == row[s.WHERE]:
            y[s.SHIFT_CUT] = 1.0
        fresh = False
        if math.isnan(began[e]):
            if not _may_begin(y, car, row):
                continue
            began[e] = t
            snaps[e] = y
            fresh = True
        since = t - began[e]
        if not fresh and _is_over(y, row, since):
            ended[e] = t
            continue
        _act(y, car, mod, row, since, dt)


@njit(cache=True)
def _knock(y, car, row, since, dt):  # type: ignore[no-untyped-def]
    """Retard one cylinder, at once or again and again every EXTRA seconds."""
    every = row[s.EXTRA] if row[s.EXTRA] > 0.0 else 1e9
    hit = since == 0.0 or np.floor((since + dt) / every) > np.floor(since / every)
    if hit:
        place = s.RETARD + int(row[s.WHERE]) % int(car.cylinders)
        y[place] = min(y[place] + row[s.SEVERITY], 12.0)


@njit(cache=True)
def _act(y, car, mod, row, since, dt):  # type: ignore[no-untyped-def]
    """What one event does now."""
    kind, size = int(row[s.KIND]), row[s.SEVERITY]
    if kind == OVERSHOOT:
        mod[s.HOLD_GATE] = 1.0
    elif kind == CREEP:
        mod[s.GATE_MOST] = min(mod[s.GATE_MOST], size)
    elif kind == OSCILLATION:
        mod[s.GATE_WAVE] = size * math.sin(2.0 * math.pi * row[s.EXTRA] * since)
    elif kind == CHARGE_LEAK:
        mod[s.LEAK] = size
    elif kind == GATE_OPEN:
        mod[s.GATE_LEAST] = size
    elif kind == LEAN_FEED:
        mod[s.FEED] = size
    elif kind == RAIL:
        mod[s.RAIL_SAG] = size
    elif kind == SATURATED:
        mod[s.SMALL_INJECTOR] = size
    elif kind == MISSES:
        mod[s.MISSED] = size
    elif kind == EXHAUST:
        mod[s.EXHAUST_LEAK] = size
    elif kind == RICHER:
        mod[s.RICH] = size
    elif kind == VOLTAGE:
        mod[s.VOLTS_LOST] = size
    elif kind in (KNOCK_ONCE, KNOCKING):
        _knock(y, car, row, since, dt)
    else:
        _act_slowly(y, mod, row, kind, size, since)


@njit(cache=True)
def _act_slowly(y, mod, row, kind, size, since):  # type: ignore[no-untyped-def]
    """The rest of the kinds."""
    if kind == SHIFT_CUTS:
        mod[s.CUT_SPARK] = size
    elif kind == HUNTING:
        mod[s.IDLE_WAVE] = size * math.sin(2.0 * math.pi * row[s.EXTRA] * since)
    elif kind == SOAKED:
        mod[s.SOAK] = size
    elif kind == BLOCKED:
        mod[s.COOLING_LOST] = size
    elif kind == COOLANT:
        mod[s.FAN_LOST] = size
    elif kind == OIL_DOWN:
        mod[s.OIL_LOST] = size
    elif kind == STARVING:
        mod[s.STARVED] = size * math.sin(math.pi * min(since / row[s.DURATION], 1.0))
    elif kind == SLIPPING:
        # capacity that much short of what the engine gives now
        carried = max(y[s.TORQUE], 20.0) / row[s.EXTRA]
        mod[s.CLUTCH_LOST] = min(max(1.0 - carried * (1.0 - size), 0.0), 0.95)
    elif kind == SURGING:
        mod[s.BLOW_STUCK] = 1.0
    elif kind == CASE:
        mod[s.CASE_RISE] = size
