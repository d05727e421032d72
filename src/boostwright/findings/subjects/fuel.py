"""Injectors and pump at the goal."""

from __future__ import annotations

import math

import numpy as np

from boostwright.findings.case import Case, GoalLine
from boostwright.findings.model import (
    Amount,
    Finding,
    Harm,
    Kind,
    LimitRecord,
    Phrase,
    Place,
    Reading,
    Sense,
)
from boostwright.findings.registry import Rule, rule
from boostwright.findings.stated_curve import stated_curve
from boostwright.physics.injection import HEPTANE_DENSITY

__all__ = ["duty", "pump"]

_AIR_SD = 0.09  # of the computed air with class breathing; see field data on unmeasured engines
_AIR_SD_AGREED = 0.04  # at best, where a torque curve of this very engine agrees with the computed one
_PUMP_PER_BAR, _PUMP_PER_BAR_SD = (
    0.08,
    0.04,
)  # share of flow lost for each bar more (common practice, no source)
_PUMP_PER_VOLT, _PUMP_PER_VOLT_SD = (
    0.10,
    0.03,
)  # share of flow lost for each volt less (common practice, no source)


def _fuel_sd(case: Case) -> float:
    """Relative standard deviation of the fuel flow: of the air, and of the mixture really run.

    A stated torque curve narrows the air only as far as it is known and as the computed one agrees with it;
    where they differ by more than the class spread, the difference is the spread.
    """
    air, curve = _AIR_SD, stated_curve(case)
    if curve is not None:
        worst = int(np.argmax(np.abs(curve.ratio - 1.0)))
        off = abs(float(curve.ratio[worst]) - 1.0)
        air = max(off, min(_AIR_SD, max(_AIR_SD_AGREED, float(curve.sd[worst]))))
    return math.hypot(air, 0.02)


def _number(case: Case, field: str) -> tuple[float, float]:
    stated = case.stated(field)
    if stated is None:
        return math.nan, 0.0
    return float(stated.value), float(stated.sd or 0.0)


def _relative(value: float, sd: float) -> float:
    return sd / value if value else 0.0


def _hungriest(goal: GoalLine) -> int:
    return int(np.nanargmax(np.where(goal.settled, goal.result.fuel_flow, np.nan)))


@rule(
    "fuel.injector_duty",
    "Injector duty",
    asks="Do the injectors pass the fuel of full load before they stay open?",
    demand="open time and dead time over two turns of the crank, at the hungriest speed",
    capacity="most useful injector duty",
    harm=Harm.SEVERE,
    harm_words="the top of the pull runs lean and a piston melts",
    sense=Sense.AT_MOST,
    limits=("injector_duty",),
)
def duty(rule: Rule, case: Case) -> Finding | None:
    """duty = (m_fuel / (rho q sqrt(dp/dp_rated)) + dead time) / (time of two turns).

    The flow figure counts in its test fluid: m = q rho_test sqrt(rho/rho_test). A rail that follows the
    outside air loses the boost from its pressure difference.
    """
    goal = case.goal
    if goal is None:
        return None
    flow, flow_sd = _number(case, "injectors.flow")
    rated, _ = _number(case, "injectors.flow_pressure")
    rail, rail_sd = _number(case, "regulator.pressure")
    dead, dead_sd = _number(case, "injectors.dead_time")
    density, _ = _number(case, "fuel.density")
    count, _ = _number(case, "injectors.count")
    follows = case.word("regulator.reference") == "manifold"
    difference = np.full_like(goal.boost, rail) if follows else rail - goal.boost
    test = HEPTANE_DENSITY if case.word("injectors.test_fluid") == "heptane" else density
    mass_flow = flow * math.sqrt(test * density) * np.sqrt(np.maximum(difference, 1.0e4) / rated)
    turns = 4.0 * math.pi / goal.speed
    open_time = goal.result.fuel_flow * turns / count / mass_flow
    duties = np.where(goal.settled, (open_time + dead) / turns, np.nan)
    i = int(np.nanargmax(duties))
    by_flow = float(open_time[i] / turns[i]) * math.sqrt(
        _fuel_sd(case) ** 2 + _relative(flow, flow_sd) ** 2 + (0.5 * rail_sd / float(difference[i])) ** 2
    )
    sd = math.hypot(by_flow, dead_sd / float(turns[i]))
    limit = case.limits["injector_duty"]
    share_now = float(open_time[i] / turns[i])
    share = _sure_share(limit.amount, dead / float(turns[i]), by_flow / share_now, dead_sd / float(turns[i]))
    mended = math.sqrt(float(difference[i]) / rail)  # what a regulator that follows the plenum gives back
    size = flow * share_now * mended / share
    amounts = {
        "fuel": Amount(float(goal.result.fuel_flow[i]), None, Kind.MASS_FLOW),
        "size": Amount(size, None, Kind.INJECTOR_FLOW),
        "rated": Amount(rated, None, Kind.PRESSURE_DIFFERENCE),
        "lost": Amount(float(goal.boost[i]), None, Kind.PRESSURE_DIFFERENCE),
    }
    unreferenced = " The rail follows the outside air, so boost takes {lost} off the pressure at the nozzle."
    return rule.finding(
        Amount(float(duties[i]), sd, Kind.SHARE, "duty at full load, dead time included"),
        limit.amount,
        limit,
        place=Place(float(goal.speed[i])),
        corner=case.corner,
        cause=Phrase(
            "The engine drinks {fuel} here, and each injector must pass its share within two turns of"
            " the crank." + ("" if follows else unreferenced),
            amounts,
        ),
        remedy=_remedy(size > flow, follows, amounts),
        reading=Reading("Read the number on an injector and look up its flow and rated pressure.", 900.0)
        if not case.build.is_stated("injectors.flow")
        else Reading(
            "Measure static fuel pressure before you open the rail: ten minutes, and it settles the"
            " regulator question."
            if rail_sd / rail > 0.02
            else "Have the injectors measured on a bench, all of them at one pressure.",
            600.0 if rail_sd / rail > 0.02 else 3600.0,
        ),
        assumed=""
        if case.build.is_stated("injectors.flow")
        else "No injectors are stated; the usual original ones are assumed.",
        about=("injectors.flow", "injectors.dead_time", "regulator.pressure", "regulator.reference"),
    )


def _sure_share(limit: Amount, dead: float, relative_sd: float, dead_sd: float) -> float:
    """Open time over two turns at which the duty holds for sure: s + dead + 2 sd(s) = limit, by fixed
    point.
    """
    share = limit.value - dead
    for _ in range(40):
        share = limit.value - dead - 2.0 * math.hypot(relative_sd * share, dead_sd, limit.sd or 0.0)
        share = max(share, 0.05)
    return share


def _remedy(bigger: bool, follows: bool, amounts: dict[str, Amount]) -> Phrase:
    """Regulator first, since it costs a hose; then size."""
    steps = [] if follows else ["Connect the regulator to the plenum, or fit one that can be."]
    if bigger:
        steps.append("For a sure hold fit injectors of at least {size} each, rated at {rated}.")
    return Phrase(" ".join(steps) or "Keep this set; have it cleaned and measured before you tune.", amounts)


@rule(
    "fuel.pump_flow",
    "Fuel pump",
    asks="Does the pump deliver the fuel of full load at its real pressure and voltage, with some in hand?",
    demand="fuel of the hungriest speed, times the reserve",
    capacity="stated pump flow, less what higher pressure and lower voltage take",
    harm=Harm.SEVERE,
    harm_words="rail pressure sags at the top of the pull, the engine runs lean and a piston melts",
    sense=Sense.AT_MOST,
    limits=("pump_reserve",),
)
def pump(rule: Rule, case: Case) -> Finding | None:
    """capacity = Q (1 - 0.08/bar (p - p_rated)) (1 - 0.10/V (V_rated - V)); simple: part of a curve, not
    the curve.
    """
    goal = case.goal
    if goal is None:
        return None
    flow, flow_sd = _number(case, "pump.flow")
    rated, _ = _number(case, "pump.flow_pressure")
    volts, volts_sd = _number(case, "pump.voltage")
    rated_volts, _ = _number(case, "pump.flow_voltage")
    rail, rail_sd = _number(case, "regulator.pressure")
    density, _ = _number(case, "fuel.density")
    i = _hungriest(goal)
    follows = case.word("regulator.reference") == "manifold"
    bars = (rail + (float(goal.boost[i]) if follows else 0.0) - rated) / 1.0e5
    sag = rated_volts - volts
    by_pressure, by_voltage = 1.0 - _PUMP_PER_BAR * bars, 1.0 - _PUMP_PER_VOLT * sag
    delivers = flow * max(by_pressure, 0.0) * max(by_voltage, 0.0)
    shares = (
        _relative(flow, flow_sd),
        _PUMP_PER_BAR_SD * bars,
        _PUMP_PER_BAR * rail_sd / 1.0e5,
        _PUMP_PER_VOLT_SD * sag,
        _PUMP_PER_VOLT * volts_sd,
    )
    capacity = Amount(
        delivers, delivers * math.hypot(*shares), Kind.VOLUME_FLOW, "what the pump delivers there"
    )
    limit = case.limits["pump_reserve"]
    need = float(goal.result.fuel_flow[i]) / density * limit.amount.value
    demand = Amount(need, need * _fuel_sd(case), Kind.VOLUME_FLOW, "fuel of full load, reserve included")
    assert demand.sd is not None
    assert capacity.sd is not None
    working = rail + (float(goal.boost[i]) if follows else 0.0)
    amounts = {
        "have": capacity,
        "need": demand,
        "size": Amount(need + 2.0 * demand.sd, None, Kind.VOLUME_FLOW),
        "pressure": Amount(working, None, Kind.PRESSURE_DIFFERENCE),
        "volts": Amount(volts, None, Kind.VOLTAGE),
    }
    return rule.finding(
        demand,
        capacity,
        LimitRecord(
            "pump_reserve",
            limit.record.source,
            limit.record.reason,
            limit.record.edited,
            limit.record.edit_reason,
        ),
        place=Place(float(goal.speed[i])),
        corner=case.corner,
        cause=Phrase(
            "At {pressure} and the {volts} at its own terminals a pump gives less than its label says.",
            amounts,
        ),
        remedy=Phrase(
            "By its middle figure the pump delivers enough: {have:band} against {need:band}. What spoils it"
            " is the spread. Fill a can for 30 s and read the volts: {size} or more in the can at {pressure}"
            " is a sure hold."
            if delivers >= need
            else "Fit a pump that delivers at least {size} at {pressure}, on its own relay and wires.",
            amounts,
        ),
        reading=Reading(
            "Let the pump fill a can for 30 s at this pressure with the engine off and a charger on the"
            " battery, and read the voltage at its terminals. Fuel is out in the open: outdoors,"
            " extinguisher in reach.",
            1800.0,
        ),
        assumed=""
        if case.build.is_stated("pump.flow")
        else "No pump is stated; the usual original one is assumed.",
        about=("pump.flow", "pump.voltage", "regulator.pressure"),
    )
