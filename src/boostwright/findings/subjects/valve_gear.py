"""Valve springs: whether pulses lift the shut exhaust valve, and whether valves stay on their cams."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import numpy as np
from scipy.optimize import brentq

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import sure_demand
from boostwright.findings.worst import Line, worst_number
from boostwright.physics.valve_gear import float_speed, spring_reserve

__all__ = ["valve_float", "valve_seat"]

PULSE_SD: Final = 0.12  # of a computed pulse peak at the valve, above the air outside
SHAPE_SD: Final = 0.15  # of the acceleration, from the shape of the lobe (judgement)
FILLING: Final = 0.9  # pressure in the cylinder while it fills, over that of the plenum (judgement)
FILLING_SD: Final = 0.05  # of that (judgement)
_FEWEST = 1.0  # N; a force below this lifts nothing


@rule(
    "strength.valve_seat",
    "Exhaust valves on their seats",
    asks="Do the springs hold the shut exhaust valve against the pulses of the other cylinders?",
    demand="seat load of the springs over the greatest pulse in the manifold, less the pressure of the"
    " filling cylinder, on the valve's area",
    capacity="seat load over the force of the pulses that keeps a valve shut",
    harm=Harm.WEAR,
    harm_words="exhaust blows back into the filling cylinder, which knocks; valve and seat are beaten",
    sense=Sense.AT_LEAST,
    limits=("valve_seat",),
)
def valve_seat(rule: Rule, case: Case) -> Finding | None:
    """Silent where no pulse stands above the pressure of the filling cylinder, and with one cylinder alone.

    Holds where F_seat >= k A (p_pulse - c p_plenum). The difference of two pressures is less well known than
    either: its spread is 12 % of the pulse above the air outside and 5 % of the plenum's pressure.
    """
    load = case.stated("engine.valve_seat_load")
    area = math.pi / 4 * case.engine.exhaust.diameter**2
    seen = worst_number(case, lambda line: _lifting(line) * area)
    if case.engine.cylinders < 2 or load is None or seen is None or seen[0] < _FEWEST:
        return None
    force, found = seen
    limit = case.limits["valve_seat"]
    ratio = float(load.value) / force
    pulse = float(found.goal.pulse_peak_pressure[found.place]) - found.line.ambient_pressure
    filling = float(found.goal.plenum_pressure[found.place])
    force_sd = area * math.hypot(case.left(PULSE_SD) * pulse, FILLING_SD * filling)
    by_load = ratio * float(load.sd or 0.0) / float(load.value)
    by_force = (
        limit.amount.value * force_sd / force
    )  # the force is a difference: it moves the side of the limit
    demand = Amount(ratio, math.hypot(by_load, by_force), Kind.RATIO, "seat load over force of the pulses")
    asked = Amount(limit.amount.value, math.hypot(limit.amount.sd or 0.0, by_force), Kind.RATIO)
    alone = Amount(ratio, by_load, Kind.RATIO)
    wanted = sure_demand(asked, alone, rule.sense, rule.harm, relative=True) * force
    stated = case.build.is_stated("engine.valve_seat_load")
    amounts = {
        "pulse": Amount(pulse, None, Kind.PRESSURE_GAUGE),
        "force": Amount(force, None, Kind.SPRING_LOAD),
        "wanted": Amount(wanted, None, Kind.SPRING_LOAD),
    }
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(found.speed),
        corner=found.corner,
        cause=Phrase(
            "Pulses of {pulse} in the manifold push each shut exhaust valve off its seat with {force}"
            " while its cylinder fills.",
            amounts,
        ),
        remedy=Phrase(
            "Leave the springs; {wanted} on the seat is enough."
            if float(load.value) >= wanted
            else "Fit springs with {wanted} or more on the seat, or a larger turbine housing: less"
            " pressure before it, smaller pulses.",
            amounts,
        ),
        assumed="" if stated else "No valve_seat_load is stated; that of common road engines is assumed.",
        reading=Reading("Spring tester at the fitted height, head off; else the handbook.", 1800.0),
        about=("engine.valve_seat_load", "engine.exhaust_valve_diameter", "turbo.turbine_housing"),
    )


def _lifting(line: Line) -> np.ndarray:
    """Pressure that pushes a shut exhaust valve open while its cylinder fills [Pa]."""
    return np.asarray(line.goal.pulse_peak_pressure - FILLING * line.goal.plenum_pressure)


@rule(
    "strength.valve_float",
    "Valve springs at the speed limit",
    asks="Do the springs keep the intake valves on their cams up to the speed limit?",
    demand="force of the springs over the inertia of the valve on the lobe, at the speed limit",
    capacity="spring force over inertia wanted",
    harm=Harm.DAMAGE,
    harm_words="a valve leaves its cam and bounces, and at worst meets the piston",
    sense=Sense.AT_LEAST,
    limits=("valve_spring",),
)
def valve_float(rule: Rule, case: Case) -> Finding | None:
    """min over the lobe of spring force over m a. Silent where load at full lift or mass is not stated."""
    open_load, mass = case.stated("engine.valve_open_load"), case.stated("engine.valve_mass")
    seat, top = case.stated("engine.valve_seat_load"), case.stated("engine.speed_limit")
    if open_load is None or mass is None or seat is None or top is None:
        return None
    train, omega = case.engine.intake, float(top.value)
    at_seat = min(float(seat.value), float(open_load.value))

    def reserve(load: float, on_seat: float = at_seat) -> float:
        """Spring force over inertia with so much at full lift and on the seat [-]."""
        return float(
            spring_reserve(
                on_seat, load, float(mass.value), train.lift, train.closes - train.opens, omega,
                train.cam_powers,
            )
        )  # fmt: skip

    ratio = reserve(float(open_load.value))
    softer = reserve(float(open_load.value), max(at_seat - float(seat.sd or 0.0), 0.0))
    spread = math.sqrt(
        (1.0 - softer / ratio) ** 2
        + (float(open_load.sd or 0.0) / float(open_load.value)) ** 2
        + (float(mass.sd or 0.0) / float(mass.value)) ** 2
        + SHAPE_SD**2
    )
    limit = case.limits["valve_spring"]
    demand = Amount(ratio, ratio * spread, Kind.RATIO, "spring force over inertia")
    wanted = sure_demand(limit.amount, demand, rule.sense, rule.harm, relative=True)
    safe = float(float_speed(ratio, omega, wanted))
    load = _load_for(wanted, reserve, float(open_load.value)) if safe < omega else float(open_load.value)
    amounts = {
        "safe": Amount(safe, None, Kind.ENGINE_SPEED),
        "floats": Amount(float(float_speed(ratio, omega)), None, Kind.ENGINE_SPEED),
        "load": Amount(load, None, Kind.SPRING_LOAD),
        "seat": Amount(at_seat, None, Kind.SPRING_LOAD),
    }
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(omega),
        cause=Phrase(
            "Inertia grows with the square of the speed; with this lobe the valve would leave its cam"
            " at {floats}.",
            amounts,
        ),
        remedy=Phrase(
            "Measure the springs and weigh the valve first: as little as is known of them, no limit is sure."
            if not math.isfinite(safe)
            else "Leave springs and limit; up to {safe} is sure."
            if safe >= omega
            else "Lower the speed limit to {safe}, or fit springs with {load} at full lift, and no less than"
            " {seat} on the seat."
            if math.isfinite(load)
            else "Lower the speed limit to {safe}: stiffer springs alone do not make it sure.",
            amounts,
        ),
        reading=Reading(
            "Spring tester at the height of full lift; weigh valve, retainer and tappet.", 2400.0
        ),
        about=("engine.valve_open_load", "engine.valve_mass", "engine.speed_limit", "engine.intake_lift"),
    )


def _load_for(wanted: float, reserve: Callable[[float], float], load: float) -> float:
    """Load at full lift with which the reserve is as wanted, the seat load as it is, to the next 10 N [N].

    NaN where none up to ten times today's is enough.
    """
    if not math.isfinite(wanted) or reserve(10.0 * load) < wanted:
        return math.nan
    if reserve(load) >= wanted:
        return load
    found = float(brentq(lambda more: reserve(more) - wanted, load, 10.0 * load, xtol=0.1))
    return 10.0 * math.ceil(found / 10.0 + 0.01)
