"""Fuel that boils: at the pump's inlet on a hot or high road, and in the rail after a hot stop."""

from __future__ import annotations

import math

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.fuel_case import fuel_parts
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
from boostwright.findings.worst import worst
from boostwright.physics.fuel_line import Reference
from boostwright.physics.fuel_vapour import blend_vapour_pressure, ethanol_rise

__all__ = ["at_pump", "in_rail"]

_RETURN_HEATS, _TANK_HEATS, _HEATS_SD = 12.0, 6.0, 4.0  # tank over the air after an hour [K] (judgement)
_STRAINER, _STRAINER_SD = 3.0e3, 2.0e3  # pressure that the pickup's strainer takes [Pa] (judgement)
_BLEND_SD = 0.06  # of a vapour pressure carried to another temperature [-]; see physics.fuel_vapour
_RAIL_BELOW, _RAIL_SD = 8.0, 6.0  # rail below coolant after ten minutes' stop [K] (judgement)


def _stated(case: Case) -> tuple[float, float]:
    """Vapour pressure of the blend at 37.8 degC and its spread [Pa].

    A stated one is that of the blend. The usual one is that of a petrol that its standard allows with a
    little ethanol in it; much ethanol lowers it.
    """
    value = case.stated("fuel.vapour_pressure")
    assert value is not None
    pressure = float(value.value)
    if not case.build.is_stated("fuel.vapour_pressure"):
        pressure += min(float(ethanol_rise(case.fuel.ethanol_share)), 0.0)
    return max(pressure, 5.0e3), float(value.sd or 0.0)


def _vapour(case: Case, T: float, T_sd: float) -> tuple[float, float]:
    """Vapour pressure at a temperature and its spread [Pa]."""
    stated, sd = _stated(case)
    share = case.fuel.ethanol_share
    here = float(blend_vapour_pressure(T, stated, share))
    by_heat = float(blend_vapour_pressure(T + T_sd, stated, share)) - here
    return here, math.hypot(by_heat, here * sd / stated, here * _BLEND_SD)


@rule(
    "fuel.vapour_pump",
    "Vapour at the pump's inlet",
    asks="Does the fuel stay liquid where the pump sucks it in, on the hottest and on the highest road?",
    demand="vapour pressure of this fuel in a warm tank, on the worst day",
    capacity="outside pressure less what the strainer takes",
    harm=Harm.WEAR,
    harm_words="the pump sucks vapour, pressure sags under load and the pump wears dry",
    sense=Sense.AT_MOST,
)
def at_pump(rule: Rule, case: Case) -> Finding | None:
    """p_vapour(T_air + warming) against p_ambient - strainer, over every day that was computed."""
    in_tank = fuel_parts(case).regulator.reference is Reference.TANK
    warming = _TANK_HEATS if in_tank else _RETURN_HEATS

    def room(pressure: float, T: float) -> float:
        return pressure - _STRAINER - _vapour(case, T + warming, _HEATS_SD)[0]

    there = worst(
        case,
        lambda line: np.full(line.goal.speed.shape, room(line.ambient_pressure, line.ambient_temperature)),
    )
    if there is None:
        return None
    T = there.line.ambient_temperature + warming
    vapour, sd = _vapour(case, T, _HEATS_SD)
    inlet = there.line.ambient_pressure - _STRAINER
    stated = case.build.is_stated("fuel.vapour_pressure")
    return rule.finding(
        Amount(vapour, sd, Kind.PRESSURE_ABSOLUTE, "vapour pressure in the warm tank"),
        Amount(inlet, _STRAINER_SD, Kind.PRESSURE_ABSOLUTE, "at the pump's inlet"),
        LimitRecord("computed", "ap42", "Below its vapour pressure a liquid boils."),
        place=Place(words="after an hour's drive, tank below half"),
        corner=there.corner,
        cause=Phrase(
            "The tank warms to about {warm}"
            + (" on its own." if in_tank else ", for the rail sends hot fuel back."),
            {"warm": Amount(T, None, Kind.TEMPERATURE)},
        ),
        remedy=Phrase(
            "Fill summer fuel, keep the tank above half, and shield tank and return line from the exhaust."
        ),
        reading=Reading(
            "A thermometer on the tank's outside after an hour's drive on a hot day; strip or infrared.",
            600.0,
        )
        if stated
        else Reading("Ask the supplier for the vapour pressure of the season's fuel.", 600.0),
        assumed="" if stated else "The fuel's vapour pressure is not stated; summer petrol is assumed.",
        about=("fuel.vapour_pressure", "fuel.ethanol", "regulator.reference"),
    )


@rule(
    "fuel.vapour_rail",
    "Vapour in the rail after a hot stop",
    asks="Does the fuel in the rail stay liquid when the engine is started again hot?",
    demand="vapour pressure of this fuel at the rail's temperature after a hot stop",
    capacity="rail pressure at idle, absolute",
    harm=Harm.NUISANCE,
    harm_words="it starts badly and runs lean for a minute after a hot stop",
    sense=Sense.AT_MOST,
)
def in_rail(rule: Rule, case: Case) -> Finding | None:
    """p_vapour(T_coolant - 8 K) against p_set + p_idle (referenced) or p_set + p_ambient."""
    coolant = case.amount("engine.coolant_temperature", Kind.TEMPERATURE, "coolant")
    light = case.extra.get("light_loads")
    if coolant is None or light is None:
        return None
    T = coolant.value - _RAIL_BELOW
    vapour, sd = _vapour(case, T, math.hypot(_RAIL_SD, coolant.sd or 0.0))
    parts = fuel_parts(case)
    follows = parts.regulator.reference is Reference.MANIFOLD
    back = float(light.plenum_pressure[0]) if follows else case.ambient_pressure
    rail = case.amount("regulator.pressure", Kind.PRESSURE_DIFFERENCE, "rail")
    assert rail is not None
    stated = case.build.is_stated("fuel.vapour_pressure")
    return rule.finding(
        Amount(vapour, sd, Kind.PRESSURE_ABSOLUTE, "vapour pressure in the hot rail"),
        Amount(rail.value + back, rail.sd or 0.0, Kind.PRESSURE_ABSOLUTE, "rail at idle"),
        LimitRecord("computed", "ap42", "Below its vapour pressure a liquid boils."),
        place=Place(words="ten minutes after a hot stop"),
        corner=case.corner,
        cause=Phrase(
            "The rail soaks to about {warm} while it stands.", {"warm": Amount(T, None, Kind.TEMPERATURE)}
        ),
        remedy=Phrase(
            "Raise the rail pressure, let the pump prime before each hot start, and shield the rail from the"
            " manifold."
        ),
        reading=Reading(
            "Stop hot, wait ten minutes, read the rail's temperature by strip or infrared, then time the"
            " restart.",
            1200.0,
        ),
        assumed="" if stated else "The fuel's vapour pressure is not stated; summer petrol is assumed.",
        about=("fuel.vapour_pressure", "regulator.pressure", "engine.coolant_temperature"),
    )
