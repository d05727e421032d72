"""One thing fails at full boost: what would the engine see, and what stops it."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.fuel_case import at, fuel_flow_sd, fuel_parts, fuel_spread, lines_of
from boostwright.findings.limited_pressure import Ceiling, knock_ceiling, reachable, strength_ceiling
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
from boostwright.findings.subjects.cuts import no_room
from boostwright.findings.worst import Line, Worst, lines, worst_number
from boostwright.physics.injection import dead_time
from boostwright.physics.knock import RUSS_GUIDELINES
from boostwright.systems.failures import CUT_DELAY, Stop, overboost, sagged, signal_lost, stops, weak_pump
from boostwright.systems.fuel_side import FuelParts
from boostwright.systems.sensing import LoadFrom, Reaction
from boostwright.systems.stated.sensing import controller_of, pressure_sensor_of

__all__ = ["gate_hose", "gate_stuck", "pump_fails", "signal_fails", "volts_sag"]

_RISE, _RISE_SD = 1.2e5, 0.6e5  # of the plenum pressure with the gate shut [Pa/s] (judgement)
_NO_CHARGE = 1.8  # volts lost when the alternator stops charging: 14.0 to 12.2 V (common practice) [V]
_HALF = 0.5  # of its flow that a failing pump still gives: the case played through [-]
_SHUT_SD = 0.10  # of the boost with the gate held shut [-] (judgement)
_LAMBDA_SD = 0.02  # of a mixture under boost [-] (common practice, no source)
_PLAY = Reading(
    "Play it through at a standstill first: ask the settings what the controller does, then pull the plug or"
    " the fuse at idle and watch.",
    1200.0,
)


def _gate(rule: Rule, case: Case, cause: str, remedy: str) -> Finding | None:
    """The gate does not open: what the plenum reaches before something stops it, against the weakest part."""
    shut = getattr(case, "gate_shut", None)
    if shut is None or not shut.settled.any():
        return None
    controller = controller_of(case.build)
    sensor = pressure_sensor_of(case.build, case.limits["sensor_unknown"].amount.value)
    past = _RISE * CUT_DELAY
    trips = controller.cut_trips(sensor) and controller.boost_cut is not None
    most = controller.boost_cut + past if trips and controller.boost_cut is not None else math.inf
    strong, knock = strength_ceiling(case, most), knock_ceiling(case, most)
    ceiling = _nearest(strong, knock)
    if ceiling is None:
        return None
    there, value = ceiling.there, ceiling.reached
    free = float(reachable(case, there.line)[there.place])
    at_shut = int(np.argmin(np.abs(np.where(shut.settled, shut.speed, np.inf) - there.speed)))
    air = float(shut.result.air_flow[at_shut])
    found = overboost(free, air, float(shut.lam[at_shut]), controller, sensor, past)
    stop = found.stop[0]
    sd = (
        _RISE_SD * CUT_DELAY
        if stop is Stop.CUT
        else case.left(_SHUT_SD) * max(free - there.line.ambient_pressure, 0.0)
    )
    sure = ceiling.amount.value - (ceiling.amount.sd or 0.0) - past
    amounts = {
        "free": Amount(free, None, Kind.PRESSURE_ABSOLUTE),
        "reached": Amount(value, None, Kind.PRESSURE_ABSOLUTE),
        "lean": Amount(float(found.lam[0]), None, Kind.RATIO),
        "sure": Amount(sure, None, Kind.PRESSURE_ABSOLUTE),
        "ceiling": ceiling.amount,
    }
    words = _WORDS[stop]
    if float(found.lam[0]) > float(shut.lam[at_shut]) * 1.001:
        words += " The sensor's signal stands still before that, and lambda goes to {lean}."
    if knock is not None and knock.reached > knock.amount.value:
        missing = (knock.reached - knock.amount.value) * RUSS_GUIDELINES.intake_pressure
        amounts["octane"] = Amount(missing, None, Kind.COUNT)
        words += " It knocks at any useful spark: {octane} octane numbers are missing."
    if strong is not None:
        share = strong.reached / strong.amount.value
        amounts["load"] = Amount(share, None, Kind.SHARE)
        words += f" On the best fuel {strong.words} see {{load}} of what they stand."
    unstated = controller.boost_cut is None or not sensor.known
    return rule.finding(
        Amount(value, sd, Kind.PRESSURE_ABSOLUTE, "plenum pressure before something stops it"),
        ceiling.amount,
        LimitRecord("computed", "the match of engine and turbo", f"Where {ceiling.words} would give out."),
        place=Place(there.speed),
        corner=there.corner,
        cause=Phrase(f"{cause} With it shut this turbo makes {{free}} here.{words}", amounts),
        remedy=no_room(case, ceiling, sure)
        if sure <= float(there.goal.plenum_pressure[there.place])
        else Phrase(remedy, amounts),
        reading=Reading(
            "Lower the cut below the boost of a gentle pull and see that it trips; then set it back.", 1200.0
        ),
        assumed="" if not unstated else "A cut within the range of a known sensor is not stated.",
        about=("controller.boost_cut", "pressure_sensor.highest"),
    )


_WORDS = {
    Stop.CUT: " The cut stops it at {reached}.",
    Stop.TURBO: " It stays below the cut: only the turbo ends it.",
    Stop.NOTHING: " No cut trips: nothing stops it but the turbo itself and the driver.",
}


def _nearest(*ceilings: Ceiling | None) -> Ceiling | None:
    """The one with the least room, in its own standard deviations."""
    known = [c for c in ceilings if c is not None]
    return min(known, key=lambda c: (c.amount.value - c.reached) / (c.amount.sd or 1.0)) if known else None


_CUT_REMEDY = (
    "Set the boost cut at {sure} or below, on a sensor that reads beyond it, and prove it live; clip the hose"
    " at both ends and keep it off hot parts."
)


@rule(
    "failure.gate_hose",
    "Hose off the wastegate",
    asks="The hose to the wastegate slips off at full boost: does anything stop it before harm?",
    demand="plenum pressure that the match gives with the gate shut, or the cut and what passes it",
    capacity="lowest pressure at which parts or knock give out, at the worst speed of the worst day",
    harm=Harm.SEVERE,
    harm_words="boost runs away and rods, pistons or gasket go in one pull",
    sense=Sense.AT_MOST,
    limits=("sensor_unknown",),
)
def gate_hose(rule: Rule, case: Case) -> Finding | None:
    """min(p_gate_shut, cut + rise) against the weakest; silent without a line with the gate shut."""
    return _gate(
        rule, case, "Without its hose the actuator feels no boost and the gate never opens.", _CUT_REMEDY
    )


@rule(
    "failure.gate_stuck",
    "Wastegate stuck shut",
    asks="The gate sticks shut, which no hose and no valve can mend: does anything stop it before harm?",
    demand="plenum pressure that the match gives with the gate shut, or the cut and what passes it",
    capacity="lowest pressure at which parts or knock give out, at the worst speed of the worst day",
    harm=Harm.SEVERE,
    harm_words="boost runs away and rods, pistons or gasket go in one pull",
    sense=Sense.AT_MOST,
    limits=("sensor_unknown",),
)
def gate_stuck(rule: Rule, case: Case) -> Finding | None:
    """The same as a hose off: no setting of the boost control reaches a seized shaft, only the cut does."""
    return _gate(
        rule,
        case,
        "A seized shaft or a bent rod holds the gate shut whatever the controller asks.",
        "Set the boost cut at {sure} or below and prove it live; move the rod by hand, cold and hot, before"
        " each season.",
    )


def _mixture_finding(
    rule: Rule,
    case: Case,
    value: float,
    there: Worst,
    strays: float,
    reaction: Reaction,
    cause: Phrase,
    remedy: str,
    unstated: str,
    about: tuple[str, ...],
) -> Finding:
    """A mixture that a failure makes, against the leanest that full boost survives. A controller that stops
    it keeps the mixture at the limit's safe side: then what stands is the one wanted. strays: standard
    deviation of the mixture beside that of the one wanted [-].
    """
    limit = case.limits["leanest_boost"]
    ends = stops(reaction)
    stands = float(there.goal.lam[there.place]) if ends else value
    name = "lambda, cut off before it strays" if ends else "lambda at full boost"
    sd = math.hypot(_LAMBDA_SD, 0.0 if ends else strays)
    words = " The controller sees it and stops." if ends else ""
    return rule.finding(
        Amount(stands, sd, Kind.RATIO, name),
        limit.amount,
        limit,
        place=Place(there.speed),
        corner=there.corner,
        cause=Phrase(cause.text + words, cause.amounts),
        remedy=Phrase(
            "Prove that it stops: play it through at a standstill." if ends else remedy, cause.amounts
        ),
        reading=_PLAY,
        assumed=unstated if ends is None else "",
        about=about,
    )


def _strays(case: Case, change: Callable[[FuelParts], FuelParts], there: Worst) -> float:
    """Standard deviation of the mixture that a failure makes: of the engine's need, and of all parts."""
    wanted = float(there.goal.lam[there.place])

    def mixture(parts: FuelParts, more: float = 1.0) -> np.ndarray:
        here = at(change(parts), there, more)
        return np.asarray(wanted * np.sqrt(here.set_difference / np.maximum(here.difference, 1.0e3)))

    own = fuel_parts(case)
    by_need = float((mixture(own, 1.0 + fuel_flow_sd(case, there)) - mixture(own))[0])
    return math.hypot(by_need, fuel_spread(case, mixture))


def _worst_mixture(case: Case, parts: FuelParts) -> tuple[float, Worst] | None:
    """The leanest mixture of a fuel side over every line; the injectors' own size is another finding's."""

    every = lines(case)
    sides = {id(line.goal): side for line, side in zip(every, lines_of(parts, every), strict=True)}

    def leaner(line: Line) -> np.ndarray:
        goal, found = line.goal, sides[id(line.goal)]
        with np.errstate(divide="ignore", invalid="ignore"):
            sagging = goal.lam * np.sqrt(found.set_difference / np.maximum(found.difference, 1.0e3))
        boosted = goal.boost >= 0.5 * np.nanmax(goal.boost)
        return np.where(boosted, sagging, np.nan)

    return worst_number(case, leaner)


@rule(
    "failure.voltage",
    "Alternator that stops charging",
    asks="The alternator stops charging in the middle of a pull: does the mixture hold, or does anything stop"
    " it?",
    demand="lambda at full boost with the pump's flow and the injectors' dead time at the lower voltage",
    capacity="leanest mixture that full boost survives",
    harm=Harm.SEVERE,
    harm_words="rail pressure sags unseen, the pull runs lean and a piston melts",
    sense=Sense.AT_MOST,
    limits=("leanest_boost",),
)
def volts_sag(rule: Rule, case: Case) -> Finding | None:
    """Pump and injectors with 1.8 V less; one that corrects dead time over voltage keeps that part."""

    def low(whole: FuelParts) -> FuelParts:
        return sagged(whole, _NO_CHARGE)

    parts = low(fuel_parts(case))
    found = _worst_mixture(case, parts)
    if found is None:
        return None
    value, there = found
    whole, i = fuel_parts(case), parts.injectors
    late = float(
        dead_time(i.voltage, 3e5, i.dead_time, i.dead_time_slope)
        - dead_time(whole.injectors.voltage, 3e5, i.dead_time, i.dead_time_slope)
    )
    here = at(parts, there)
    amounts = {
        "volts": Amount(parts.pump_voltage, None, Kind.VOLTAGE),
        "have": Amount(float(here.pump_available[0]), None, Kind.VOLUME_FLOW),
        "need": Amount(float(here.need[0]), None, Kind.VOLUME_FLOW),
        "lean": Amount(value, None, Kind.RATIO),
        "late": Amount(late, None, Kind.PULSE),
        "share": Amount(late / float(here.open_time[0]), None, Kind.SHARE),
    }
    return _mixture_finding(
        rule,
        case,
        value,
        there,
        _strays(case, low, there),
        controller_of(case.build).on_lean,
        Phrase(
            "At {volts} the pump gives {have} against {need} needed, and lambda stands at {lean}. The"
            " injectors open {late} later; without the right dead time over voltage that costs {share}"
            " of fuel besides.",
            amounts,
        ),
        "Give the pump its own relay and thick wires or a bigger pump, enter dead time over voltage, and let"
        " the controller cut when lambda or rail pressure strays.",
        "What the controller does when the mixture strays is not stated.",
        ("pump.voltage", "injectors.dead_time_slope", "controller.lean_guard"),
    )


@rule(
    "failure.pump",
    "Fuel pump that gives out",
    asks="The pump gives half of its flow at full boost: does anything stop it before harm?",
    demand="lambda at full boost with half of the pump's flow",
    capacity="leanest mixture that full boost survives",
    harm=Harm.SEVERE,
    harm_words="the pull runs lean and a piston melts before the driver feels anything",
    sense=Sense.AT_MOST,
    limits=("leanest_boost",),
)
def pump_fails(rule: Rule, case: Case) -> Finding | None:
    """The rail sags until injectors and half a pump agree. A pump that dies at once passes through the same
    lean mixtures on its way to silence.
    """

    def half(whole: FuelParts) -> FuelParts:
        return weak_pump(whole, _HALF)

    found = _worst_mixture(case, half(fuel_parts(case)))
    if found is None:
        return None
    value, there = found
    return _mixture_finding(
        rule,
        case,
        value,
        there,
        _strays(case, half, there),
        controller_of(case.build).on_lean,
        Phrase(
            "With half of its pump lambda stands at {lean}. A pump that dies at once passes through every"
            " lean mixture in a few turns, and then the engine stops by itself.",
            {"lean": Amount(value, None, Kind.RATIO)},
        ),
        "Let the controller cut when rail pressure or lambda strays under boost: a rail sensor that it"
        " listens to. Renew an old pump before you tune.",
        "What the controller does when the mixture strays is not stated.",
        ("pump.flow", "controller.lean_guard"),
    )


@rule(
    "failure.pressure_signal",
    "Pressure signal lost",
    asks="The pressure sensor dies, or its wire comes off, at full boost: does anything stop it?",
    demand="lambda at full boost when the controller goes on with the outside air for the plenum",
    capacity="leanest mixture that full boost survives",
    harm=Harm.SEVERE,
    harm_words="fuel and spark for no boost at full boost: a piston goes",
    sense=Sense.AT_MOST,
    limits=("leanest_boost",),
)
def signal_fails(rule: Rule, case: Case) -> Finding | None:
    """lam p/p_ambient from pressure; unchanged from an air meter, whose boost cut is blind then."""
    controller = controller_of(case.build)

    def mixture(line: Line) -> np.ndarray:
        goal = line.goal
        return signal_lost(controller, goal.lam, goal.plenum_pressure, line.ambient_pressure)

    found = worst_number(case, mixture)
    if found is None:
        return None
    value, there = found
    plenum = float(there.goal.plenum_pressure[there.place])
    meter = controller.load is LoadFrom.AIR_METER
    cause = (
        "The air meter still measures the fuel; but the boost cut has gone blind."
        if meter
        else "With the signal at the outside air it meters fuel for no boost: lambda {lean} at {plenum}, and"
        " the spark of no boost."
    )
    return _mixture_finding(
        rule,
        case,
        value,
        there,
        0.0 if meter else value * float(there.goal.boost_sd[there.place]) / plenum,
        controller.on_sensor_fault,
        Phrase(
            cause,
            {
                "lean": Amount(value, None, Kind.RATIO),
                "plenum": Amount(plenum, None, Kind.PRESSURE_ABSOLUTE),
            },
        ),
        "Let the controller cut the boost when the signal leaves its range. A hose that slips off shows the"
        " outside air, which no such check sees: screw the sensor to the plenum, or clip a short hose.",
        "What the controller does when the pressure signal is lost is not stated.",
        ("controller.sensor_fault", "controller.load"),
    )
