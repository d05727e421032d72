"""The engine controller under boost: its tables, closed loop, air meter and torque model."""

from __future__ import annotations

import math

import numpy as np

from boostwright.findings.case import Case
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
from boostwright.findings.subjects.cuts import highest_pressure
from boostwright.findings.worst import worst_number
from boostwright.systems.sensing import LoadFrom
from boostwright.systems.stated.sensing import controller_of

__all__ = ["closed_loop", "meter_range", "table_top", "throttle"]

_AIR_SD = 0.09  # of the computed air with class breathing; see findings.fuel_case
_TORQUE_SD = 0.08  # of a computed boosted torque (judgement)


def _record(case: Case, field: str, reason: str) -> LimitRecord:
    stated = case.stated(field)
    line = "" if stated is None or stated.line is None else f", line {stated.line}"
    return LimitRecord(field, f"the build file{line}", reason)


@rule(
    "controller.table_top",
    "Top of the fuel and spark tables",
    asks="Do the tables reach as far as boost, creep and spike, and as the cut?",
    demand="plenum pressure that the match reaches on the worst day, creep and spike; the cut when it lies"
    " above",
    capacity="stated last row of the tables",
    harm=Harm.SEVERE,
    harm_words="above the last row it is lean and early at full boost, and a piston goes",
    sense=Sense.AT_MOST,
)
def table_top(rule: Rule, case: Case) -> Finding | None:
    """max(p_plenum + creep + spike, cut) against the top row; silent when the top is not stated."""
    top = case.amount("controller.table_top", Kind.PRESSURE_ABSOLUTE, "last row of the tables")
    found = highest_pressure(case)
    if top is None or found is None:
        return None
    highest, there = found
    cut = case.amount("controller.boost_cut", Kind.PRESSURE_ABSOLUTE, "boost cut")
    up_to_cut = cut is not None and cut.value > highest.value
    demand = highest
    if cut is not None and up_to_cut:
        demand = Amount(cut.value, cut.sd or 0.0, Kind.PRESSURE_ABSOLUTE, "boost cut")
    sure = demand.value + 2.0 * (demand.sd or 0.0)
    return rule.finding(
        demand,
        Amount(top.value, top.sd or 0.0, top.kind, top.name),
        _record(case, "controller.table_top", "The last row that you state."),
        place=Place(there.speed),
        corner=there.corner,
        cause=Phrase(
            "Between the last row and the cut the controller holds the fuel and the spark of the last row."
            if up_to_cut
            else "Above the last row the controller holds the fuel and the spark of the last row."
        ),
        remedy=Phrase(
            "Give the tables a last row of at least {sure}, one beyond the cut, and fill it before the first"
            " boost.",
            {"sure": Amount(sure, None, Kind.PRESSURE_ABSOLUTE)},
        ),
        reading=Reading("Look at the load axis of every table in the controller's settings.", 600.0),
        about=("controller.table_top", "controller.boost_cut", "wastegate.creep", "wastegate.spike"),
    )


@rule(
    "controller.closed_loop",
    "Closed loop under boost",
    asks="Does the controller leave closed loop before boost begins?",
    demand="stated manifold pressure above which it leaves closed loop",
    capacity="plenum pressure up to which lambda 1 does no harm",
    harm=Harm.SEVERE,
    harm_words="it holds lambda 1 at full boost, and that melts pistons",
    sense=Sense.AT_MOST,
    limits=("closed_loop_top",),
)
def closed_loop(rule: Rule, case: Case) -> Finding | None:
    """p_leave against the limit; silent when it is not stated or when no line was matched."""
    leaves = case.amount("controller.closed_loop_below", Kind.PRESSURE_ABSOLUTE, "closed loop up to")
    found = worst_number(case, lambda line: line.goal.plenum_pressure)
    if leaves is None or found is None:
        return None
    top, there = found
    limit = case.limits["closed_loop_top"]
    amounts = {
        "wanted": Amount(float(there.goal.lam[there.place]), None, Kind.RATIO),
        "top": Amount(min(leaves.value, top), None, Kind.PRESSURE_ABSOLUTE),
        "most": Amount(top, None, Kind.PRESSURE_ABSOLUTE),
        "below": Amount(limit.amount.value - 2.0 * (limit.amount.sd or 0.0), None, Kind.PRESSURE_ABSOLUTE),
    }
    return rule.finding(
        Amount(leaves.value, leaves.sd or 0.0, leaves.kind, "closed loop up to"),
        limit.amount,
        limit,
        place=Place(there.speed, "wherever there is boost"),
        corner=there.corner,
        cause=Phrase(
            "In closed loop it trims the mixture to lambda 1, up to {top}; the match reaches {most}, where"
            " {wanted} is wanted.",
            amounts,
        ),
        remedy=Phrase("Let it leave closed loop at {below} or below, and by throttle as well.", amounts),
        reading=Reading(
            "Watch lambda while the load rises slowly past the outside air: it must turn rich at once.", 900.0
        ),
        about=("controller.closed_loop_below",),
    )


@rule(
    "controller.meter_range",
    "Range of the air meter",
    asks="Does the air meter read as much air as the engine takes under boost?",
    demand="greatest air flow of the match, on the worst day",
    capacity="stated end of the meter; else what a meter of the engine without turbo usually has in hand",
    harm=Harm.SEVERE,
    harm_words="the meter's signal stands still, fuel no longer follows the air, and a piston goes",
    sense=Sense.AT_MOST,
    limits=("meter_usual",),
)
def meter_range(rule: Rule, case: Case) -> Finding | None:
    """Greatest air flow against the meter's end; silent for a controller that knows the load by pressure."""
    controller = controller_of(case.build)
    if controller.load is not LoadFrom.AIR_METER:
        return None
    found = worst_number(case, lambda line: line.goal.result.air_flow)
    if found is None:
        return None
    value, there = found
    stock = float(np.nanmax(case.baseline.result.air_flow))
    top = case.amount("controller.meter_highest", Kind.MASS_FLOW, "end of the air meter")
    limit = case.limits["meter_usual"]
    usual = Amount(
        stock * limit.amount.value, stock * (limit.amount.sd or 0.0), Kind.MASS_FLOW, limit.amount.name
    )
    boost = float(there.goal.boost_sd[there.place] / there.goal.plenum_pressure[there.place])
    sd = value * math.hypot(case.left(_AIR_SD), boost)
    return rule.finding(
        Amount(value, sd, Kind.MASS_FLOW, "greatest air flow"),
        usual if top is None else Amount(top.value, top.sd or 0.0, top.kind, top.name),
        limit
        if top is None
        else _record(case, "controller.meter_highest", "The end of the meter that you state."),
        place=Place(there.speed),
        corner=there.corner,
        cause=Phrase(
            "Before the turbo this engine took {stock} at most; under boost it takes {now}.",
            {
                "stock": Amount(stock, None, Kind.MASS_FLOW),
                "now": Amount(value, None, Kind.MASS_FLOW),
            },
        ),
        remedy=Phrase(
            "Fit a meter that reads to at least {needed} and enter its curve, or let the controller know the"
            " load by pressure.",
            {"needed": Amount(value + 2.0 * sd, None, Kind.MASS_FLOW)},
        ),
        reading=Reading(
            "Log the meter's signal over a full-load pull before the conversion: how far below its end does"
            " it stay?",
            1800.0,
        ),
        assumed=""
        if top is not None
        else "Where the meter ends is not stated; the usual one of an engine without turbo is assumed.",
        about=("controller.load", "controller.meter_highest"),
    )


@rule(
    "controller.throttle",
    "Electronic throttle and its torque model",
    asks="Does the controller's own torque model let the boosted torque pass?",
    demand="greatest torque of the match, on the worst day",
    capacity="stated greatest torque that its torque model allows; unknown when not stated",
    harm=Harm.NUISANCE,
    harm_words="it shuts the throttle in the middle of a pull, and the compressor blows against the plate",
    sense=Sense.AT_MOST,
)
def throttle(rule: Rule, case: Case) -> Finding | None:
    """Greatest torque against the limit; silent for a throttle worked by cable."""
    controller = controller_of(case.build)
    found = worst_number(case, lambda line: line.goal.result.torque)
    if not controller.electronic_throttle or found is None:
        return None
    value, there = found
    most = case.amount("controller.torque_limit", Kind.TORQUE, "torque that its model allows")
    stock = Amount(float(np.nanmax(case.baseline.result.torque)), None, Kind.TORQUE)
    amounts = {"stock": stock, "now": Amount(value, None, Kind.TORQUE)}
    return rule.finding(
        Amount(value, case.left(_TORQUE_SD) * value, Kind.TORQUE, "greatest torque with the turbo"),
        None if most is None else Amount(most.value, most.sd or 0.0, most.kind, most.name),
        _record(case, "controller.torque_limit", "The limit that you state.")
        if most is not None
        else LimitRecord("controller.torque_limit", "nobody has stated it", "Only the settings tell."),
        place=Place(there.speed),
        corner=there.corner,
        cause=Phrase(
            "Its torque model was made for {stock} at most; the match gives {now}. What it takes for too much"
            " it answers with the throttle.",
            amounts,
        ),
        remedy=Phrase(
            "Raise the torque limits and the torque tables above {now} in the controller, all of them, and"
            " keep a boost cut in their place.",
            amounts,
        ),
        reading=Reading(
            "Log throttle angle against pedal over a graded pull: the plate must stay where the foot is.",
            1800.0,
        ),
        about=("throttle.kind", "controller.torque_limit"),
    )
