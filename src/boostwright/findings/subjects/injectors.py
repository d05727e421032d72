"""Injectors: long enough at the top, and still exact at idle."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.fuel_case import at, fuel_flow_sd, fuel_parts, fuel_spread, number, usual_line
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.worst import worst_number
from boostwright.physics.fuel_line import Reference
from boostwright.systems.fuel_side import FuelLine, FuelParts, idle_pulse

__all__ = ["duty", "smallest_pulse"]

_IDLE_SD = 0.20  # of the computed fuel flow at idle; see systems.engine.idle
_UNREFERENCED = " The rail follows the outside air, so boost takes {lost} off the pressure at the nozzle."
_ASSUMED = "No injectors are stated; the usual original ones are assumed."


@rule(
    "fuel.injector_duty",
    "Injector duty",
    asks="Do the injectors pass the fuel of full load before they stay open?",
    demand="open time and dead time over two turns of the crank, at the hungriest speed of the worst day",
    capacity="most useful injector duty",
    harm=Harm.SEVERE,
    harm_words="the top of the pull runs lean and a piston melts",
    sense=Sense.AT_MOST,
    limits=("injector_duty",),
)
def duty(rule: Rule, case: Case) -> Finding | None:
    """duty = (m_fuel/(rho_test q sqrt(rho/rho_test) sqrt(dp/dp_rated)) + dead time)/(time of two turns).

    dp: rail less plenum, both absolute; droop, and the boost where the rail does not follow it, taken off.
    """
    parts = fuel_parts(case)
    found = worst_number(case, lambda line: usual_line(case, line).duty)
    if found is None:
        return None
    value, there = found
    here, turns = at(parts, there), 4.0 * math.pi / there.speed
    follows = parts.regulator.reference is Reference.MANIFOLD
    held = float(here.set_difference[0])
    share = float(_shares(here, turns)[0][0])
    relative = math.hypot(
        fuel_flow_sd(case, there),
        fuel_spread(case, lambda p: _shares(at(p, there), turns)[0]) / share,
        0.0 if follows else 0.5 * float(there.goal.boost_sd[there.place]) / held,
    )
    dead_sd = fuel_spread(case, lambda p: _shares(at(p, there), turns)[1])
    limit = case.limits["injector_duty"]
    flow, rated, rail = parts.injectors.flow, parts.injectors.rated_difference, parts.regulator.pressure
    # the size is for a rail that follows the plenum: the regulator comes first
    mended = replace(parts, regulator=replace(parts.regulator, reference=Reference.MANIFOLD))
    share_then, dead_then = (float(v[0]) for v in _shares(at(mended, there), turns))
    size = flow * share_then / _sure_share(limit.amount, dead_then, relative, dead_sd)
    amounts = {
        "fuel": Amount(float(there.goal.result.fuel_flow[there.place]), None, Kind.MASS_FLOW),
        "size": Amount(size, None, Kind.INJECTOR_FLOW),
        "rated": Amount(rated, None, Kind.PRESSURE_DIFFERENCE),
        "lost": Amount(float(there.goal.boost[there.place]), None, Kind.PRESSURE_DIFFERENCE),
        "across": Amount(held, None, Kind.PRESSURE_DIFFERENCE),
    }
    stated = case.build.is_stated("injectors.flow")
    _, rail_sd = number(case, "regulator.pressure")
    return rule.finding(
        Amount(
            value,
            math.hypot(share * relative, dead_sd),
            Kind.SHARE,
            "duty at full load, dead time included",
        ),
        limit.amount,
        limit,
        place=Place(there.speed),
        corner=there.corner,
        cause=Phrase(
            "The engine drinks {fuel} here, and each injector must pass its share within two turns of the"
            " crank, at {across} across it." + ("" if follows else _UNREFERENCED),
            amounts,
        ),
        remedy=_remedy(size > flow, follows, amounts),
        reading=Reading("Read the number on an injector and look up its flow and rated pressure.", 900.0)
        if not stated
        else Reading(
            "Measure static fuel pressure before you open the rail: ten minutes, and it settles the"
            " regulator question.",
            600.0,
        )
        if rail_sd / rail > 0.02
        else Reading("Have the injectors measured on a bench, all of them at one pressure.", 3600.0),
        assumed="" if stated else _ASSUMED,
        about=(
            "injectors.flow",
            "injectors.dead_time",
            "regulator.pressure",
            "regulator.reference",
            "regulator.droop",
        ),
    )


def _shares(here: FuelLine, turns: float) -> tuple[np.ndarray, np.ndarray]:
    """Open time and dead time over two turns [-]."""
    return here.open_time / turns, here.dead_time / turns


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
    "fuel.smallest_pulse",
    "Smallest pulse at idle",
    asks="Do the injectors still meter the fuel of idle and slow cruise, or are they too big for it?",
    demand="pulse at warm idle or slow cruise, dead time included, from the engine's own cycle",
    capacity="smallest pulse that repeats",
    harm=Harm.POOR_RUNNING,
    harm_words="it hunts at idle, fouls its plugs and washes oil off the bores",
    sense=Sense.AT_LEAST,
    limits=("smallest_pulse",),
)
def smallest_pulse(rule: Rule, case: Case) -> Finding | None:
    """t = m_fuel (4 pi/omega)/(n m_injector(dp)) + dead time, at idle and in slow cruise; the shorter one.

    Silent when idle was not computed.
    """
    light = case.extra.get("light_loads")
    if light is None:
        return None
    parts = fuel_parts(case)

    def pulses(these: FuelParts, more: float = 1.0) -> np.ndarray:
        return idle_pulse(
            these, light.fuel_flow * more, light.speed, light.plenum_pressure, case.ambient_pressure
        )

    def one(these: FuelParts) -> np.ndarray:
        return idle_pulse(
            these, light.fuel_flow[i], light.speed[i], light.plenum_pressure[i], case.ambient_pressure
        )

    own = pulses(parts)
    i = int(np.argmin(own))
    value = float(own[i])
    by_fuel = float(pulses(parts, 1.0 + _IDLE_SD)[i]) - value
    sd = math.hypot(by_fuel, fuel_spread(case, one))
    limit = case.limits["smallest_pulse"]
    dead = float(pulses(parts, 1e-6)[i])
    net = value - dead
    wanted = limit.amount.value - dead
    for _ in range(20):  # open time at which it holds for sure; its spread goes with itself
        reserve = math.hypot(sd * wanted / net, limit.amount.sd or 0.0)
        wanted = max(limit.amount.value - dead + reserve, 0.01 * net)
    most = parts.injectors.flow * net / wanted
    stated = case.build.is_stated("injectors.flow")
    amounts = {
        "net": Amount(net, None, Kind.PULSE),
        "fuel": Amount(float(light.fuel_flow[i]), None, Kind.MASS_FLOW),
        "size": Amount(most, None, Kind.INJECTOR_FLOW),
        "rated": Amount(parts.injectors.rated_difference, None, Kind.PRESSURE_DIFFERENCE),
    }
    return rule.finding(
        Amount(value, sd, Kind.PULSE, "pulse, dead time included"),
        limit.amount,
        limit,
        place=Place(float(light.speed[i]), "at warm idle" if i == 0 else "in slow cruise"),
        cause=Phrase(
            "The engine asks for {fuel} here; an injector of this size is open for {net} only, the rest of"
            " the pulse is the time that it takes to open.",
            amounts,
        ),
        remedy=Phrase(
            "Fit injectors of no more than {size} each, rated at {rated}, if the duty at the top allows; else"
            " ones whose sheet gives small pulses, with their own correction.",
            amounts,
        )
        if most < parts.injectors.flow
        else Phrase("Keep this size; enter its dead time over voltage from the sheet."),
        reading=Reading(
            "At warm idle switch on lights and blower and note by how much the mixture moves for each volt:"
            " it gives the true dead time.",
            1200.0,
        ),
        assumed="" if stated else _ASSUMED,
        about=("injectors.flow", "injectors.dead_time", "engine.idle_speed"),
    )
