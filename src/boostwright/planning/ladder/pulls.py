"""Expected ranges of a pull, from the match run at its very condition, and where it is broken off."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from boostwright.planning.ladder.asked import TRADE, Asked, Guess, Rule, nearer
from boostwright.planning.ladder.at_rest import thermostat
from boostwright.planning.ladder.records import Limit, Origin
from boostwright.quantity import COVERAGE

__all__ = ["HOUSINGS", "MANIFOLDS", "PULL_RULES"]

_MATCH: Final = "the match of engine and turbo"
_SHARE_OF_HEAD: Final = 0.7  # of the column in the drain, at which a pull is broken off (common practice)
_LAMBDA_SD: Final = 0.02  # of the mixture really run [-]; as findings on fuel take it
_LEANER: Final = 0.06  # than wanted, at which a pull is broken off [-] (common practice)
_GAS_SD: Final = 40.0  # of a computed exhaust temperature without a thermocouple [K]
_RAIL_SHARE: Final = 0.05  # of the set pressure lost, at which a pull is broken off [-] (common practice)
_CREEP_SPAN: Final = 500.0 * math.pi / 30.0  # [rad/s]
_BACK_SD: Final = 0.25  # of the exhaust gauge pressure over boost [-] (judgement)
_MOST_CREEP: Final = (
    5.0e3  # over 500 rpm beyond what the match expects, a gate that runs away [Pa] (common practice)
)

MANIFOLDS: Final = {
    "iron": "exhaust_iron",
    "mild-steel": "exhaust_mild_steel",
    "stainless": "exhaust_stainless",
    "ni-resist": "exhaust_nickel_iron",
    "": "exhaust_unknown",
}
HOUSINGS: Final = {
    "iron": "exhaust_turbine_iron",
    "ni-resist": "exhaust_turbine",
    "steel": "exhaust_turbine_steel",
    "": "exhaust_turbine",
}


def _peak(asked: Asked) -> Guess | None:
    """The highest plenum pressure along the pull, by the match; broken off at the cut of the step."""
    made, span = asked.condition, asked.span
    if span is None or not made.speed.size:
        return None
    along = made.along(made.pressure, *span)
    i = int(np.argmax(along))
    sd = math.hypot(float(made.along(made.pressure_sd, *span)[i]), asked.air.pressure_sd)
    ceilings = [c for c in (made.knock, made.strength) if c is not None]
    stands = min(
        (Limit(c.pressure, f"{c.words} give out", _MATCH) for c in ceilings),
        key=lambda limit: limit.value,
        default=None,
    )
    return Guess(
        float(along[i]),
        sd,
        None,
        None,
        Limit(asked.cut, "the cut of this step stands here", _MATCH),
        stands,
        how=f"the match {asked.air.words}, on the"
        f" {'spring' if asked.step.load == 'spring' else 'controlled boost'}",
    )


def _lam(asked: Asked) -> Guess | None:
    made, span = asked.condition, asked.span
    if span is None or not made.speed.size:
        return None
    leanest = float(np.max(made.along(made.lam, *span)))
    wanted = asked.build.number("fuel.lambda_boost")
    stop = nearer(
        Limit(wanted + _LEANER, "so much leaner than the table asks for is fuel that does not arrive", TRADE),
        asked.limit("leanest_boost", -1.0),
        min,
    )
    stands = asked.limit("leanest_boost", +1.0)
    return Guess(
        leanest,
        _LAMBDA_SD,
        None,
        None,
        stop,
        stands,
        how="lambda asked for, and what the fuel side can deliver",
    )


def _rail(asked: Asked) -> Guess | None:
    made, span = asked.condition, asked.span
    if span is None or not made.speed.size:
        return None
    along = made.along(made.rail, *span)
    i = int(np.argmin(along))
    ought = float(made.along(made.rail_set, *span)[i])
    read = asked.recorded("rail_primed")
    set_to = asked.build["regulator.pressure"]
    sd = float(made.along(made.rail_sd, *span)[i])
    middle, origin = float(along[i]), Origin.MODEL
    if read is not None:  # the regulator's own offset is known by then
        off = read[0] - float(set_to.value)
        middle, ought = middle + off, ought + off
        sd = math.hypot(math.sqrt(max(sd**2 - float(set_to.sd or 0.0) ** 2, 0.0)), read[1])
    unknown = COVERAGE * math.hypot(sd, 0.01 * ought)
    why = "a twentieth of the fuel's pressure is lost: the pump is at its end, a filter or a wire too thin"
    return Guess(
        middle,
        sd,
        None,
        Limit(ought * (1.0 - _RAIL_SHARE) - unknown, why, TRADE),
        origin=origin,
        how="regulator, pump and lines at the fuel of this pull",
    )


def _duty(asked: Asked) -> Guess | None:
    made, span = asked.condition, asked.span
    if span is None or not made.speed.size:
        return None
    along = made.along(made.duty, *span)
    i = int(np.argmax(along))
    stop = asked.limit("injector_duty", 0.0)
    return Guess(
        float(along[i]),
        float(made.along(made.duty_sd, *span)[i]),
        None,
        None,
        stop,
        Limit(0.97, "the injector hardly shuts any more", TRADE),
        how="fuel of this pull through these injectors",
    )


def _intake(asked: Asked) -> Guess | None:
    made, span = asked.condition, asked.span
    if span is None or not made.speed.size:
        return None
    along = made.along(made.intake, *span)
    i = int(np.argmax(along))
    sd = math.hypot(float(made.along(made.intake_sd, *span)[i]), asked.air.temperature_sd)
    return Guess(
        float(along[i]),
        sd,
        None,
        None,
        asked.limit("charge_hot", +1.0),
        how="compressor and cooler in the air of the day",
    )


def _soak(asked: Asked) -> Guess | None:
    made = asked.condition
    if not made.speed.size or not math.isfinite(made.soak):
        return None
    # on the road the core is never colder than the steady air at so little boost
    sd = math.hypot(float(np.max(made.intake_sd)), 2.0, asked.air.temperature_sd)
    return Guess(
        made.soak,
        sd,
        None,
        None,
        asked.limit("charge_hot", +1.0),
        how="the core's own heat, pull after pull, standing between",
    )


def _exhaust(asked: Asked) -> Guess | None:
    made, span = asked.condition, asked.span
    if span is None or not made.speed.size:
        return None
    manifold = asked.build.get("manifold.material")
    housing = asked.build.get("turbo.housing_material")
    keys = (
        MANIFOLDS["" if manifold is None else str(manifold.value)],
        HOUSINGS["" if housing is None else str(housing.value)],
    )
    weakest = min(keys, key=lambda key: asked.limit(key, 0.0).value)
    stands = asked.limit(weakest, +1.0)
    hottest = float(np.max(made.along(made.exhaust, *span)))
    return Guess(
        hottest,
        _GAS_SD,
        None,
        None,
        asked.limit(weakest, 0.0),
        stands,
        how="gas at the turbine by the cycle, at the spark that knock allows",
    )


def _crankcase(asked: Asked) -> Guess | None:
    made, span = asked.condition, asked.span
    stands = None
    stop = Limit(1.0e3, "a crankcase that stands higher pushes oil past the turbo's seals", TRADE)
    if math.isfinite(made.head):
        why = (
            f"{100 * _SHARE_OF_HEAD:.0f} % of the drain's column: beyond, the turbo's oil does not come home"
        )
        stop = (
            nearer(Limit(_SHARE_OF_HEAD * made.head, why, "the drain's drop in the build file"), stop, min)
            or stop
        )
        stands = Limit(made.head, "the column in the drain", "the drain's drop in the build file")
    if (
        asked.step.load == "road"
        or span is None
        or not made.crankcase.size
        or not math.isfinite(made.crankcase_sd)
    ):
        band = (-400.0, min(600.0, 0.8 * stop.value))
        return Guess(band=band, stop_high=stop, stands=stands, origin=Origin.TRADE)
    highest = float(np.max(made.along(made.crankcase, *span)))
    return Guess(
        highest,
        made.crankcase_sd * highest,
        None,
        None,
        stop,
        stands,
        how="blow-by of this pull through the breather",
    )


def _creep(asked: Asked) -> Guess | None:
    """Over the last 500 rpm; broken off where the gate runs away, or the last pull would end at the cut."""
    made, span = asked.condition, asked.span
    if span is None or not made.speed.size or span[1] - span[0] < _CREEP_SPAN:
        return None
    ends = np.interp([span[1] - _CREEP_SPAN, span[1]], made.speed, made.pressure)
    rise = float(ends[1] - ends[0])
    left = max((asked.top - span[1]) / _CREEP_SPAN, 1.0)
    room = (asked.cut - float(np.max(made.along(made.pressure, *span)))) / left
    runaway = max(rise, 0.0) + _MOST_CREEP
    if room < runaway:
        stop = Limit(room, "going on so, the pull to the top would end at the cut", "slope to the top speed")
    else:
        stop = Limit(runaway, "a gate that climbs so fast is running away from its spring", TRADE)
    return Guess(rise, 1.2e3, None, None, stop, how="the gate along this pull")


def _pull_coolant(asked: Asked) -> Guess:
    T, sd = thermostat(asked)
    return Guess(
        T + 3.0,
        math.hypot(sd, 2.5),
        None,
        None,
        asked.limit("coolant_hot", 0.0),
        origin=Origin.STATED,
        how="the warm engine, and two to four kelvin of one pull (common practice)",
    )


def _power(asked: Asked) -> Guess | None:
    made, span = asked.condition, asked.span
    if span is None or not made.speed.size:
        return None
    most = float(np.max(made.along(made.power, *span)))
    return Guess(most, made.power_sd * most, how="torque of the cycle at this condition, at the crank")


def _exhaust_ratio(asked: Asked) -> Guess | None:
    made, span = asked.condition, asked.span
    if span is None or not made.speed.size:
        return None
    value = float(np.interp(span[1], made.speed, made.back))
    return Guess(value, _BACK_SD, how="gauge pressure before the turbine over boost, at the top of the pull")


PULL_RULES: Final[dict[str, Rule]] = {
    "pull_peak": _peak,
    "pull_lambda": _lam,
    "pull_rail": _rail,
    "pull_duty": _duty,
    "pull_intake": _intake,
    "pull_exhaust": _exhaust,
    "pull_creep": _creep,
    "pull_coolant": _pull_coolant,
    "pull_power": _power,
    "crankcase": _crankcase,
    "soak_intake": _soak,
    "exhaust_ratio": _exhaust_ratio,
}
