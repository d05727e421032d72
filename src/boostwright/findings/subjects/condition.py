"""The readings of the engine as it stands, one by one: compression, leak-down, oil pressure, coolant."""

from __future__ import annotations

import math

import numpy as np

from boostwright.findings.before_after import latest
from boostwright.findings.case import Case
from boostwright.findings.model import (
    Amount,
    Finding,
    Harm,
    Kind,
    Phrase,
    Place,
    Reading,
    Sense,
)
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import sure_demand

__all__ = ["coolant_gas", "coolant_hold", "evenness", "leakage", "oil_at_idle", "oil_at_speed"]

_WHERE = Place(words="the engine as it stands today")
_MISSED = 0.25  # share of real leaks that a fluid test at idle does not show (judgement)
_RARE = 0.08  # share of used engines that have one (judgement)


def _now(case: Case, field: str, kind: Kind, name: str) -> Amount | None:
    """A reading of one value as an amount; None where nobody has read it."""
    read = latest(case, field)
    return None if read is None else Amount(float(read[0][0]), float(read[1][0]), kind, name)


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
    rows = latest(case, "engine.compression_pressure")
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
    rows = latest(case, "engine.leak_down")
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
            "Listen at intake, exhaust and oil filler to find the leak, and mend rings or valves before"
            f" boost until cylinder {worst + 1} leaks {{most}} or less."
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
    read = _now(case, "engine.oil_pressure_idle", Kind.PRESSURE_GAUGE, "read at hot idle")
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
    read = _now(case, "engine.oil_pressure_3000", Kind.PRESSURE_GAUGE, "read hot at 3000 rpm")
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


@rule(
    "engine.gas_in_coolant",
    "Combustion gas in the coolant",
    asks="Is the head tight against combustion gas?",
    demand="what the test fluid showed",
    capacity="none",
    harm=Harm.DAMAGE,
    harm_words="boost pushes the coolant out, the head overheats, and coolant that gets in locks a cylinder",
    sense=Sense.AT_MOST,
    limits=("coolant_gas",),
)
def coolant_gas(rule: Rule, case: Case) -> Finding | None:
    """Found: one against none. None found: the share of real leaks that the test misses. Silent untested."""
    word = case.word("engine.coolant_gas")
    if word is None:
        return None
    found = word == "found"
    limit = case.limits["coolant_gas"]
    # as sure as the test is: one in `_MISSED` of the leaks it does not show, a leak being as rare as `_RARE`
    demand = Amount(1.0 if found else _RARE * _MISSED, 0.0, Kind.SHARE, "chance of gas in the coolant")
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=_WHERE,
        cause=Phrase(
            "The test fluid changed its colour: gas from a cylinder gets into the coolant."
            if found
            else "The fluid kept its colour; a leak that opens only hot and at load can still hide from it."
        ),
        remedy=Phrase(
            "Spend nothing on boost before head and block are checked for cracks and warp and a new gasket"
            " is on; then test again."
            if found
            else "Leave it as it is; test again after the first hundred kilometres with boost."
        ),
        reading=Reading(
            "Test again with fresh fluid after a drive, the coolant's level drawn down below the tester."
            " Open the cap of a cold engine only.",
            1200.0,
        ),
        about=("engine.coolant_gas",),
    )


@rule(
    "engine.coolant_hold",
    "Pressure hold of the cooling system",
    asks="Does the cooling system hold its pressure?",
    demand="pressure lost in ten minutes under a hand pump",
    capacity="most that a sound system loses",
    harm=Harm.DAMAGE,
    harm_words="coolant goes, air comes in, and the first long climb under boost overheats the head",
    sense=Sense.AT_MOST,
    limits=("coolant_hold",),
)
def coolant_hold(rule: Rule, case: Case) -> Finding | None:
    """The reading against the limit; silent when it was not read."""
    read = _now(case, "engine.coolant_drop", Kind.PRESSURE_SMALL, "lost in ten minutes")
    if read is None:
        return None
    limit = case.limits["coolant_hold"]
    most = Amount(sure_demand(limit.amount, read, rule.sense, rule.harm), None, Kind.PRESSURE_SMALL)
    return rule.finding(
        read,
        limit.amount,
        limit,
        place=_WHERE,
        cause=Phrase(
            "What the cold system loses by hand pump it loses faster hot; the way out may be the gasket."
        ),
        remedy=Phrase(
            "Find the way out before boost: hoses and radiator first, then plugs out and a look for coolant"
            " in the cylinders, until it loses {most} or less."
            if read.value > most.value
            else "Leave it as it is; pump it up again at each coolant change.",
            {"most": most},
        ),
        reading=Reading(
            "Hand pump on the filler neck of the cold engine, to the pressure on the cap, and ten minutes"
            " by the clock. Never open a hot system.",
            900.0,
        ),
        about=("engine.coolant_drop",),
    )
