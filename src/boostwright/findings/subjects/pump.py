"""The fuel pump at rail pressure, boost and the voltage at its own terminals."""

from __future__ import annotations

import math

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.fuel_case import at, fuel_flow_sd, fuel_parts, fuel_spread, number, usual_line
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.worst import worst
from boostwright.physics.pump import pump_flow
from boostwright.systems.fuel_side import FuelLine
from boostwright.systems.stated.fuel_side import pump_supply_of

__all__ = ["pump"]

_SAG = 0.3  # voltage below that of the figure, from which wires are worth a word [V] (judgement)
_WIRING = ("pump.cable_area", "pump.cable_length", "pump.relay", "pump.earth", "pump.current")
_FREE = 0.5e5  # a figure at less pressure than this is one of free flow [Pa]


@rule(
    "fuel.pump_flow",
    "Fuel pump",
    asks="Does the pump deliver the fuel of full load at its real pressure and voltage, with some in hand?",
    demand="fuel of the hungriest place of the worst day, times the reserve",
    capacity="what the pump's curve gives at rail pressure, boost, filter and line, at its own voltage",
    harm=Harm.SEVERE,
    harm_words="rail pressure sags at the top of the pull, the engine runs lean and a piston melts",
    sense=Sense.AT_MOST,
    limits=("pump_reserve",),
)
def pump(rule: Rule, case: Case) -> Finding | None:
    """Q_0 x (1 - p/(p_s x^m)) at p = rail + boost + losses, x = V/V_rated, against reserve times need."""
    parts = fuel_parts(case)
    there = worst(case, lambda line: usual_line(case, line).pump_margin)
    if there is None:
        return None
    here = at(parts, there)
    delivers, need = float(here.pump_available[0]), float(here.need[0])
    capacity = Amount(
        delivers,
        fuel_spread(case, lambda p: at(p, there).pump_available, but=("fuel.density",)),
        Kind.VOLUME_FLOW,
        "what the pump delivers there",
    )
    limit = case.limits["pump_reserve"]
    density, density_sd = number(case, "fuel.density")
    relative = math.hypot(fuel_flow_sd(case, there), density_sd / density)
    asked = need * limit.amount.value
    demand = Amount(asked, asked * relative, Kind.VOLUME_FLOW, "fuel of full load, reserve included")
    supply = pump_supply_of(case.build)
    volts, rated = parts.pump_voltage, float(np.asarray(parts.pump.rated_voltage))
    wired = pump_flow(parts.pump, here.pump_pressure, rated)
    amounts = {
        "have": capacity,
        "need": demand,
        "size": Amount(asked * (1.0 + 2.0 * relative), None, Kind.VOLUME_FLOW),
        "pressure": Amount(float(here.pump_pressure[0]), None, Kind.PRESSURE_DIFFERENCE),
        "volts": Amount(volts, None, Kind.VOLTAGE),
        "rated": Amount(rated, None, Kind.VOLTAGE),
        "wired": Amount(float(wired[0]), None, Kind.VOLUME_FLOW),
        "free": Amount(float(np.asarray(parts.pump.free_flow)), None, Kind.VOLUME_FLOW),
        "across": Amount(float(here.difference[0]), None, Kind.PRESSURE_DIFFERENCE),
        "lean": Amount(_lean(here, float(there.goal.lam[there.place])), None, Kind.RATIO),
    }
    relief = float(np.asarray(parts.pump.relief_pressure))
    if relief < float(here.pump_pressure[0]):
        amounts["relief"] = Amount(relief, None, Kind.PRESSURE_DIFFERENCE)
    return rule.finding(
        demand,
        capacity,
        limit,
        place=Place(there.speed),
        corner=there.corner,
        cause=_cause(case, delivers < need, supply is not None, amounts),
        remedy=_remedy(delivers >= asked, volts < rated - _SAG and float(wired[0]) > delivers, amounts),
        reading=Reading(
            "Let the pump fill a can for 30 s at this pressure with the engine off and a charger on the"
            " battery, and read the voltage at its terminals. Fuel is out in the open: outdoors,"
            " extinguisher in reach.",
            1800.0,
        ),
        assumed=""
        if case.build.is_stated("pump.flow")
        else "No pump is stated; the usual original one is assumed.",
        about=(
            "pump.flow",
            *(("pump.voltage",) if supply is None else _WIRING),
            "pump.flow_pressure",
            "regulator.pressure",
            "regulator.filter_loss",
            "pump.shut_off_pressure",
        ),
    )


def _lean(here: FuelLine, wanted: float) -> float:
    """Lambda that the sagging rail alone makes of the one wanted; the injectors' size apart."""
    return wanted * math.sqrt(float(here.set_difference[0]) / max(float(here.difference[0]), 1.0))


def _cause(case: Case, short: bool, by_wires: bool, amounts: dict[str, Amount]) -> Phrase:
    at_pump = "that its wires leave it" if by_wires else "at its own terminals"
    text = f"At {{pressure}} and the {{volts}} {at_pump} a pump gives less than its label says."
    rated_at, _ = number(case, "pump.flow_pressure")
    if rated_at < _FREE:
        text += " The figure that you state is free flow; at pressure the same pump gives {have}."
    if "relief" in amounts:
        text += " Its relief valve opens at {relief}: there it spills instead of filling the rail."
    if short:
        text += (
            " It falls short: the pressure across the injectors sags to {across}, and lambda goes to {lean}."
        )
    return Phrase(text, amounts)


def _remedy(enough: bool, sags: bool, amounts: dict[str, Amount]) -> Phrase:
    if enough:
        return Phrase(
            "By its middle figure the pump delivers enough: {have:band} against {need:band}. What spoils it"
            " is the spread. Fill a can for 30 s and read the volts: {size} or more in the can at {pressure}"
            " is a sure hold.",
            amounts,
        )
    first = "Fit a pump that delivers at least {size} at {pressure}, on its own relay and wires."
    if sags:
        first += " Wires alone, up to {rated} at the pump, would bring this one to {wired}."
    return Phrase(first, amounts)
