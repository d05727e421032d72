"""The order of things: spring, creep and spike below the cut; the cut below the sensor's end, below what the
parts stand, and below where knock leaves no spark. Each in the worst corner.
"""

from __future__ import annotations

import math

import numpy as np

from boostwright.findings.case import Case
from boostwright.findings.limited_pressure import Ceiling, knock_ceiling, strength_ceiling
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
from boostwright.findings.worst import Line, Worst, worst_number

__all__ = [
    "cut_above_boost",
    "cut_below_knock",
    "cut_below_strength",
    "highest_pressure",
    "no_room",
    "sensor_above_cut",
]

_CONTROL_SD = 6.0e3  # of the boost that stands from pull to pull [Pa] (common practice, no source)
_FULL_SCALE_SD = 0.015  # of a stated full scale [-] (common practice, no source)
_PAST_CUT, _PAST_CUT_SD = 6.0e3, 4.0e3  # gained in 50 ms at 120 kPa/s, before fuel stops [Pa] (judgement)
_LEAST_BOOST = 0.2e5  # below this a turbo is not worth its trouble [Pa above ambient]
_TRY = Reading(
    "Lower the cut below the boost of a gentle pull and see that it trips; then set it back.", 1200.0
)


def _stated(case: Case, field: str, kind: Kind, name: str) -> Amount | None:
    """The amount, only if the file itself states it."""
    return case.amount(field, kind, name) if case.build.is_stated(field) else None


def _record(case: Case, field: str, reason: str) -> LimitRecord:
    stated = case.stated(field)
    line = "" if stated is None or stated.line is None else f", line {stated.line}"
    return LimitRecord(field, f"the build file{line}", reason)


def highest_pressure(case: Case) -> tuple[Amount, Worst] | None:
    """The highest pressure of an ordinary pull [Pa absolute], and where: what the match reaches on the worst
    day, or the spring where that is stiffer, with creep and spike on it.

    Creep that the match's own gate shows is in its pressure; a stated one then only sets a floor under it.
    """
    spring = _stated(case, "wastegate.spring", Kind.PRESSURE_GAUGE, "spring")
    asked = case.amount("goal.boost", Kind.PRESSURE_GAUGE, "boost asked for")
    stiff = spring is not None and (asked is None or spring.value > asked.value)
    held = spring if stiff else asked
    creep = case.amount("wastegate.creep", Kind.PRESSURE_DIFFERENCE, "creep")
    spike = case.amount("wastegate.spike", Kind.PRESSURE_DIFFERENCE, "spike")
    by_gate = getattr(case.goal, "gate_lift", None) is not None
    read = creep if case.build.is_stated("wastegate.creep") else None

    def reached(line: Line) -> np.ndarray:
        least = 0.0
        if held is not None and (stiff or (by_gate and read is not None)):
            least = line.ambient_pressure + held.value
        if by_gate and read is not None:
            least += read.value
        return np.maximum(line.goal.plenum_pressure, least)

    found = worst_number(case, reached)
    if found is None:
        return None
    value, there = found
    extra = [a for a in ((None if by_gate else creep), spike) if a is not None]
    sd = math.hypot(
        _CONTROL_SD,
        (spring.sd or 0.0) if stiff and spring is not None else 0.0,
        (read.sd or 0.0) if by_gate and read is not None else 0.0,
        *(a.sd or 0.0 for a in extra),
    )
    total = value + sum(a.value for a in extra)
    return Amount(total, sd, Kind.PRESSURE_ABSOLUTE, "boost, creep and spike on the outside air"), there


@rule(
    "boost.cut",
    "Room below the boost cut",
    asks="Does the cut leave ordinary driving alone, on every day?",
    demand="plenum pressure that the match reaches, or outside air and spring where that is more, creep and"
    " spike",
    capacity="stated manifold pressure at which the controller cuts",
    harm=Harm.NUISANCE,
    harm_words="the engine cuts out in the middle of a pull, and somebody will be tempted to raise the cut",
    sense=Sense.AT_MOST,
)
def cut_above_boost(rule: Rule, case: Case) -> Finding | None:
    """max(p_match, p_ambient + spring) + creep + spike against the cut; silent when no cut is stated."""
    cut = _stated(case, "controller.boost_cut", Kind.PRESSURE_ABSOLUTE, "boost cut")
    found = highest_pressure(case)
    if cut is None or found is None:
        return None
    highest, there = found
    wanted = {"wanted": Amount(highest.value + (highest.sd or 0.0), None, Kind.PRESSURE_ABSOLUTE)}
    return rule.finding(
        highest,
        Amount(cut.value, cut.sd or 0.0, Kind.PRESSURE_ABSOLUTE, cut.name),
        _record(case, "controller.boost_cut", "The pressure that you state."),
        place=Place(words="at any speed at which boost is full"),
        corner=there.corner,
        cause=Phrase("The cut must lie above what the gate lets through in a good pull, and not far above."),
        remedy=Phrase(
            "Calm creep and spike first. Set the cut near {wanted} only if every other finding holds there.",
            wanted,
        ),
        reading=Reading(
            "Read creep and spike from a log of graded pulls, on the spring alone to begin with.", 3600.0
        ),
        about=("controller.boost_cut", "wastegate.spring", "wastegate.creep", "wastegate.spike"),
    )


@rule(
    "sensor.cut",
    "Boost cut within the sensor's range",
    asks="Can the cut ever trip: does the pressure sensor read as far as the cut?",
    demand="stated manifold pressure at which the controller cuts",
    capacity="top of the sensor's range, less its tolerance; an unknown one may end near 105 kPa",
    harm=Harm.DAMAGE,
    harm_words="the cut never trips, and one hose off the gate ends the engine",
    sense=Sense.AT_MOST,
    limits=("sensor_unknown",),
)
def sensor_above_cut(rule: Rule, case: Case) -> Finding | None:
    """cut against the sensor's top; unknown when the top is not stated, silent when the cut is not."""
    cut = _stated(case, "controller.boost_cut", Kind.PRESSURE_ABSOLUTE, "boost cut")
    if cut is None:
        return None
    top = _stated(case, "pressure_sensor.highest", Kind.PRESSURE_ABSOLUTE, "top of the sensor's range")
    limit = case.limits["sensor_unknown"]
    capacity = (
        limit.amount
        if top is None
        else Amount(top.value, math.hypot(top.sd or 0.0, _FULL_SCALE_SD * top.value), top.kind, top.name)
    )
    below = max(capacity.value - 2.0 * (capacity.sd or 0.0), case.ambient_pressure)
    return rule.finding(
        Amount(cut.value, cut.sd or 0.0, Kind.PRESSURE_ABSOLUTE, cut.name),
        capacity,
        limit
        if top is None
        else _record(
            case, "pressure_sensor.highest", "The range that you state, with the tolerance of a full scale."
        ),
        place=Place(words="when the gate fails to open"),
        cause=Phrase(
            "Above its top the sensor's signal stands still, so the controller never sees the cut."
            if top is not None
            else "Nobody has stated how far this sensor reads, so nobody knows whether it sees the cut."
        ),
        remedy=Phrase(
            "Set the cut below {below}, or fit a sensor that reads to at least {needed}."
            if below > case.ambient_pressure + 2.0 * _CONTROL_SD
            else "Fit a sensor that reads to at least {needed}: with this one only a cut near the outside air"
            " would trip.",
            {
                "below": Amount(below, None, Kind.PRESSURE_ABSOLUTE),
                "needed": Amount(cut.value / (1.0 - 2.0 * _FULL_SCALE_SD), None, Kind.PRESSURE_ABSOLUTE),
            },
        ),
        reading=_TRY,
        about=("controller.boost_cut", "pressure_sensor.highest"),
        undecided=top is None,
    )


def no_room(case: Case, ceiling: Ceiling, sure: float) -> Phrase:
    """What to do where no cut fits: what stands in the way, and with how much less boost one would fit.

    sure: the highest cut that is sure below the ceiling [Pa absolute]. A cut must clear what an ordinary pull
    reaches; both that and the ceiling stay where they are while the boost comes down (for knock to first
    order, for its room grows as the pressure falls).
    """
    if case.drawn:
        return Phrase("")
    highest = highest_pressure(case)
    asked = case.amount("goal.boost", Kind.PRESSURE_GAUGE, "boost asked for")
    who = f"{ceiling.words[0].upper()}{ceiling.words[1:]}"
    knocks = ceiling.words == "knock"
    gives = "leaves no useful spark from about" if knocks else "give out at about"
    mend = "run fuel of more octane or cool the charge" if knocks else f"fit {_STRONGER[ceiling.words]}"
    words = f"No cut fits. {who} {gives} {{ceiling:band}}{' on' if knocks else ''}"
    if highest is None or asked is None:
        return Phrase(f"{words}: ask for less boost, or {mend}.", {"ceiling": ceiling.amount})
    top = highest[0].value + (highest[0].sd or 0.0)
    less = max(top - sure, 0.0)
    amounts = {
        "ceiling": ceiling.amount,
        "sure": Amount(sure, None, Kind.PRESSURE_ABSOLUTE),
        "top": Amount(top, None, Kind.PRESSURE_ABSOLUTE),
        "less": Amount(less, None, Kind.PRESSURE_DIFFERENCE),
        "fits": Amount(asked.value - less, None, Kind.PRESSURE_GAUGE),
        "asked": Amount(asked.value, None, Kind.PRESSURE_GAUGE),
    }
    words += ", and an ordinary pull reaches {top} with creep and spike."
    if asked.value - less >= _LEAST_BOOST:
        rest = f" Calm creep and spike first, ask for {{fits}}, or {mend}."
        return Phrase(f"{words} About {{less}} less makes room for a sure cut at {{sure}}.{rest}", amounts)
    of_it = "nothing of" if less >= asked.value else "only {fits} of"
    return Phrase(f"{words} Less boost alone leaves {of_it} {{asked}}: {mend} first.", amounts)


_STRONGER = {
    "the rods": "rods that stand more",
    "pistons and gasket": "pistons and a gasket that stand more",
}


def _most(case: Case) -> float:
    """What the plenum reaches before a cut that trips ends it [Pa absolute]."""
    cut = _stated(case, "controller.boost_cut", Kind.PRESSURE_ABSOLUTE, "boost cut")
    return math.inf if cut is None else cut.value + _PAST_CUT


def _below(rule: Rule, case: Case, ceiling: Ceiling | None, cause: str, remedy: str) -> Finding | None:
    """The cut, and what passes it before fuel stops, against a ceiling."""
    cut = _stated(case, "controller.boost_cut", Kind.PRESSURE_ABSOLUTE, "boost cut")
    if cut is None or ceiling is None:
        return None
    by_cut = ceiling.reached >= cut.value + _PAST_CUT
    demand = Amount(
        ceiling.reached,
        math.hypot(cut.sd or 0.0, _PAST_CUT_SD if by_cut else _CONTROL_SD),
        Kind.PRESSURE_ABSOLUTE,
        "boost cut, and what passes it before the fuel stops"
        if by_cut
        else "all that the turbo makes here with its gate shut",
    )
    sure = ceiling.amount.value - (ceiling.amount.sd or 0.0) - _PAST_CUT
    there = ceiling.there
    now = float(there.goal.plenum_pressure[there.place])
    amounts = {
        "ceiling": ceiling.amount,
        "sure": Amount(sure, None, Kind.PRESSURE_ABSOLUTE),
        "now": Amount(now, None, Kind.PRESSURE_ABSOLUTE),
    }
    return rule.finding(
        demand,
        ceiling.amount,
        LimitRecord("computed", "the match of engine and turbo", f"Where {ceiling.words} would give out."),
        place=Place(there.speed),
        corner=there.corner,
        cause=Phrase(cause, amounts),
        remedy=no_room(case, ceiling, sure) if sure <= now else Phrase(remedy, amounts),
        reading=_TRY,
        about=("controller.boost_cut",),
    )


@rule(
    "boost.cut_strength",
    "Boost cut below what the parts stand",
    asks="When the gate fails and the cut catches it, have pistons, gasket and rods been spared?",
    demand="stated cut and what passes it before the fuel stops, or all that the turbo makes where that is"
    " less",
    capacity="plenum pressure at which the hardest burn reaches the limit of pistons, gasket or rods, at the"
    " worst speed of the worst day",
    harm=Harm.DAMAGE,
    harm_words="the cut comes after the harm",
    sense=Sense.AT_MOST,
    limits=("peak_pressure_stock", "peak_pressure_strengthened", "rod_load_ratio", "rod_load_ratio_forged"),
)
def cut_below_strength(rule: Rule, case: Case) -> Finding | None:
    """cut + rise against p_plenum limit/peak; silent when no cut is stated or no hardest burn computed."""
    ceiling = strength_ceiling(case, _most(case))
    words = "" if ceiling is None else ceiling.words
    return _below(
        rule,
        case,
        ceiling,
        f"At {{ceiling}} in the plenum the hardest burn reaches what {words} stand; the match stands at"
        " {now} here.",
        "Set the cut at {sure} or below.",
    )


@rule(
    "boost.cut_knock",
    "Boost cut below what knock allows",
    asks="Up to the cut, is there still a spark at which the engine does not knock?",
    demand="stated cut and what passes it before the fuel stops, or all that the turbo makes where that is"
    " less",
    capacity="plenum pressure at which knock has pushed the half-burned point as late as it may be for a"
    " moment, at the worst speed of the worst day",
    harm=Harm.DAMAGE,
    harm_words="between boost and cut it knocks, and a ring land breaks before the cut comes",
    sense=Sense.AT_MOST,
    limits=("half_burned_moment", "spark_reserve"),
)
def cut_below_knock(rule: Rule, case: Case) -> Finding | None:
    """cut + rise against p_plenum + room/3.5 octane numbers a 10 kPa (russ1996); silent without a cut."""
    return _below(
        rule,
        case,
        knock_ceiling(case, _most(case)),
        "From {ceiling} in the plenum on, knock leaves no useful spark; the match stands at {now} here.",
        "Set the cut at {sure} or below, or run fuel of more octane, and let the spark table fall all the way"
        " up to the cut.",
    )
