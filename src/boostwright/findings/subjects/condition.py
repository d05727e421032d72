"""Is this engine worth boosting: compression, leak-down and oil pressure, before money is spent."""

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
from boostwright.findings.sure import sure_demand

__all__ = ["condition", "evenness", "leakage", "oil_at_idle", "oil_at_speed"]

_GATE = {
    "engine.compression_pressure": "compression of every cylinder",
    "engine.leak_down": "leak-down of every cylinder",
    "engine.oil_pressure_idle": "oil pressure at hot idle",
}
_WHERE = Place(words="the engine as it stands today")


@rule(
    "engine.condition",
    "Is this engine worth boosting",
    asks="Have compression, leak-down and hot oil pressure been read, before money is spent?",
    demand="the readings that the build file states",
    capacity="all three",
    harm=Harm.DAMAGE,
    harm_words="money goes into a tired engine, and boost finishes it",
    sense=Sense.AT_LEAST,
)
def condition(rule: Rule, case: Case) -> Finding | None:
    """Unknown as long as one of the three readings is missing; silent once all are there."""
    missing = [words for field, words in _GATE.items() if case.stated(field) is None]
    if not missing:
        return None
    listed = ", ".join(missing[:-1]) + (" and " if len(missing) > 1 else "") + missing[-1]
    return rule.finding(
        None,
        None,
        LimitRecord("readings", "the build file", "A verdict on the parts says nothing about a worn engine."),
        place=_WHERE,
        cause=Phrase(
            f"The file does not state {listed}; boost only suits an engine that is sound to begin with."
        ),
        remedy=Phrase(f"Read {listed} before you buy parts, and write them into the file."),
        reading=Reading(
            "Warm engine, all plugs out, throttle open, battery charged: five strokes on each cylinder,"
            " then leak-down at top dead centre, then oil pressure hot at idle and at 3000 rpm.",
            5400.0,
        ),
        about=tuple(_GATE),
    )


def _rows(case: Case, field: str) -> tuple[np.ndarray, np.ndarray] | None:
    stated = case.stated(field)
    if stated is None:
        return None
    values = np.atleast_1d(np.asarray(stated.value, dtype=float))
    spreads = np.zeros_like(values) if stated.sd is None else np.asarray(stated.sd, dtype=float)
    return values, np.broadcast_to(spreads, values.shape)


@rule(
    "engine.compression",
    "Evenness of compression",
    asks="Is the lowest cylinder close enough to the highest?",
    demand="lowest compression reading over the highest",
    capacity="evenness wanted before boost",
    harm=Harm.DAMAGE,
    harm_words="the weak cylinder fails first under boost",
    sense=Sense.AT_LEAST,
    limits=("compression_evenness",),
)
def evenness(rule: Rule, case: Case) -> Finding | None:
    """ratio = lowest / highest; the readings' spreads are taken as independent."""
    rows = _rows(case, "engine.compression_pressure")
    if rows is None or rows[0].size < 2:
        return None
    values, spreads = rows
    values = values + case.ambient_pressure  # gauge readings; evenness is one of absolute pressures
    low, high = int(np.argmin(values)), int(np.argmax(values))
    ratio = float(values[low] / values[high])
    sd = ratio * math.hypot(spreads[low] / values[low], spreads[high] / values[high])
    limit = case.limits["compression_evenness"]
    lowest = Amount(
        float(values[low] - case.ambient_pressure), float(spreads[low]), Kind.PRESSURE_GAUGE, "lowest"
    )
    demand = Amount(ratio, sd, Kind.SHARE, "lowest cylinder over the highest")
    even = min(1.0, sure_demand(limit.amount, demand, rule.sense, rule.harm))
    least = Amount(
        float(even * values[high] - case.ambient_pressure), float(spreads[low]), Kind.PRESSURE_GAUGE, "least"
    )
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(words=f"cylinder {low + 1} of {values.size}, counted from the belt end"),
        cause=Phrase(
            f"Cylinder {low + 1} gives {{lowest}}; rings, valves or gasket let it out."
            if ratio < limit.amount.value
            else f"Cylinder {low + 1} is the lowest with {{lowest}}; readings scatter as much as the"
            " cylinders differ.",
            {"lowest": lowest},
        ),
        remedy=Phrase(
            f"Find out why cylinder {low + 1} is low (a spoonful of oil on the piston tells rings from"
            " valves) and mend it before boost until it reads {least} beside the highest."
            if ratio < limit.amount.value
            else "Read every cylinder twice more and write the means: one test alone repeats to about 3 %."
            f" Cylinder {low + 1} should come out at {{least}} or more.",
            {"least": least},
        ),
        reading=Reading("Read that cylinder again dry and wet, and its leak-down.", 1800.0),
        about=("engine.compression_pressure",),
    )


@rule(
    "engine.leak_down",
    "Leak-down",
    asks="Does the worst cylinder hold its pressure?",
    demand="largest leak-down reading",
    capacity="most leakage before boost",
    harm=Harm.DAMAGE,
    harm_words="blow-by floods the turbo's drain, and the weak cylinder fails first",
    sense=Sense.AT_MOST,
    limits=("leak_down",),
)
def leakage(rule: Rule, case: Case) -> Finding | None:
    """The worst of the readings against the limit."""
    rows = _rows(case, "engine.leak_down")
    if rows is None:
        return None
    values, spreads = rows
    worst = int(np.argmax(values))
    limit = case.limits["leak_down"]
    demand = Amount(float(values[worst]), float(spreads[worst]), Kind.SHARE, "worst cylinder")
    most = Amount(sure_demand(limit.amount, demand, rule.sense, rule.harm), None, Kind.SHARE)
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(words=f"cylinder {worst + 1} of {values.size}, counted from the belt end"),
        cause=Phrase(
            "Air that escapes past rings and valves in the test escapes under boost, with more pressure"
            " behind it."
        ),
        remedy=Phrase(
            "Listen at intake, exhaust and oil filler to find the leak, and mend rings or valves before boost"
            f" until cylinder {worst + 1} leaks {{most}} or less."
            if float(values[worst]) > most.value
            else "Leave it as it is; read it again each year, and stop above {most} in any cylinder.",
            {"most": most},
        ),
        reading=Reading("Repeat the leak-down warm, piston exactly at top dead centre.", 2400.0),
        about=("engine.leak_down",),
    )


@rule(
    "engine.oil_idle",
    "Oil pressure at hot idle",
    asks="Is there oil pressure left for a turbo at hot idle?",
    demand="oil pressure read at hot idle",
    capacity="least hot idle oil pressure",
    harm=Harm.DAMAGE,
    harm_words="the turbo starves first, the bearings after it",
    sense=Sense.AT_LEAST,
    limits=("oil_pressure_idle",),
)
def oil_at_idle(rule: Rule, case: Case) -> Finding | None:
    """The reading against the limit."""
    read = case.amount("engine.oil_pressure_idle", Kind.PRESSURE_GAUGE, "read at hot idle")
    return None if read is None else _oil(rule, case, read, "oil_pressure_idle", "engine.oil_pressure_idle")


@rule(
    "engine.oil_speed",
    "Oil pressure at 3000 rpm",
    asks="Does oil pressure rise with speed as it should?",
    demand="oil pressure read hot at 3000 rpm",
    capacity="least hot oil pressure at 3000 rpm",
    harm=Harm.DAMAGE,
    harm_words="bearings and turbo run short of oil at load",
    sense=Sense.AT_LEAST,
    limits=("oil_pressure_3000",),
)
def oil_at_speed(rule: Rule, case: Case) -> Finding | None:
    """The reading against the limit."""
    read = case.amount("engine.oil_pressure_3000", Kind.PRESSURE_GAUGE, "read hot at 3000 rpm")
    return None if read is None else _oil(rule, case, read, "oil_pressure_3000", "engine.oil_pressure_3000")


def _oil(rule: Rule, case: Case, read: Amount, key: str, field: str) -> Finding:
    limit = case.limits[key]
    least = Amount(sure_demand(limit.amount, read, rule.sense, rule.harm), None, Kind.PRESSURE_GAUGE)
    return rule.finding(
        read,
        limit.amount,
        limit,
        place=_WHERE,
        cause=Phrase("Worn bearings or a weak pump leave less pressure, and a turbo takes oil besides."),
        remedy=Phrase(
            "Find the wear, or the wrong oil, before you add a turbo: the gauge must show {least} or more."
            if read.value < least.value
            else "Keep the oil grade that you read it with; below {least} stop and look for the cause.",
            {"least": least},
        ),
        reading=Reading("Mechanical gauge at the block, oil at 90 degC, note the oil grade.", 1200.0),
        about=(field,),
    )
