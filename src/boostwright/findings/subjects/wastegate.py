"""Spring, boost wanted, cut and sensor must stand in this order; nothing goes below the spring."""

from __future__ import annotations

import math

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

__all__ = ["cut_above_boost", "sensor_above_cut", "spring_alone", "spring_below_goal"]

_OVER = 10.0e3  # by which boost may stand over the wish before it counts as too much [Pa] (judgement)
_RISE, _RISE_SD = 15.0e3, 10.0e3  # of boost above cracking, held by a spring alone [Pa] (judgement)
_CONTROL_SD = 6.0e3  # of the boost that stands from pull to pull [Pa] (common practice, no source)
_FULL_SCALE_SD = 0.015  # of a stated full scale [-] (common practice, no source)
_PLACE = Place(words="at any speed at which boost is full")
_PUMP = Reading(
    "Hand pump and gauge on the actuator: note the pressure at which the rod first moves, and where it ends.",
    900.0,
)


def _stated(case: Case, field: str, kind: Kind, name: str) -> Amount | None:
    """The amount, only if the file itself states it."""
    return case.amount(field, kind, name) if case.build.is_stated(field) else None


def _record(case: Case, field: str, reason: str) -> LimitRecord:
    stated = case.stated(field)
    line = "" if stated is None or stated.line is None else f", line {stated.line}"
    return LimitRecord(field, f"the build file{line}", reason)


@rule(
    "boost.spring",
    "Wastegate spring and boost wanted",
    asks="Can the boost be as low as you ask for, with this spring?",
    demand="boost at which the stated spring begins to open the gate, and stated creep on it",
    capacity="boost asked for, and 10 kPa over it",
    harm=Harm.DAMAGE,
    harm_words="the engine always gets more boost than everything else here was judged for",
    sense=Sense.AT_MOST,
)
def spring_below_goal(rule: Rule, case: Case) -> Finding | None:
    """spring + creep against goal + 10 kPa; silent when the spring is not stated."""
    spring = _stated(case, "wastegate.spring", Kind.PRESSURE_GAUGE, "spring")
    goal = case.amount("goal.boost", Kind.PRESSURE_GAUGE, "boost asked for")
    if spring is None or goal is None:
        return None
    creep = _stated(case, "wastegate.creep", Kind.PRESSURE_DIFFERENCE, "creep")
    rise, rise_sd = (0.0, 0.0) if creep is None else (creep.value, creep.sd or 0.0)
    lowest = Amount(
        spring.value + rise,
        math.hypot(spring.sd or 0.0, rise_sd),
        Kind.PRESSURE_GAUGE,
        "least boost that the spring gives" + ("" if creep is None else ", with creep"),
    )
    return rule.finding(
        lowest,
        Amount(goal.value + _OVER, goal.sd or 0.0, Kind.PRESSURE_GAUGE, "boost asked for, and a little over"),
        _record(
            case, "goal.boost", "You asked for it; a tenth of a bar over it is within what boost wanders."
        ),
        place=_PLACE,
        cause=Phrase(
            "A controller can only add to the spring: it can never hold less than the {spring} at which the"
            " gate begins to open.",
            {"spring": spring},
        ),
        remedy=Phrase(
            "Fit a spring that opens below {goal}, or ask for what this one gives and check again.",
            {"goal": goal},
        ),
        reading=_PUMP,
        about=("wastegate.spring", "wastegate.creep"),
    )


@rule(
    "boost.spring_alone",
    "Boost that the spring alone holds",
    asks="Does the gate stay shut long enough for the boost that you ask for, with nothing but the spring?",
    demand="boost asked for",
    capacity="boost held by the stated spring alone: midway to full stroke when that is stated",
    harm=Harm.NUISANCE,
    harm_words="the boost stays below the wish, and somebody will be tempted to pinch a hose",
    sense=Sense.AT_MOST,
)
def spring_alone(rule: Rule, case: Case) -> Finding | None:
    """goal against (cracking + full stroke)/2, or cracking + 15 kPa; only where the spring alone holds."""
    spring = _stated(case, "wastegate.spring", Kind.PRESSURE_GAUGE, "spring")
    goal = case.amount("goal.boost", Kind.PRESSURE_GAUGE, "boost asked for")
    if spring is None or goal is None or case.word("wastegate.control") != "spring":
        return None
    full = _stated(case, "wastegate.full_open", Kind.PRESSURE_GAUGE, "full stroke")
    if full is None:
        held, sd = spring.value + _RISE, math.hypot(spring.sd or 0.0, _RISE_SD)
    else:
        held = 0.5 * (spring.value + full.value)
        sd = math.hypot(
            0.5 * (spring.sd or 0.0), 0.5 * (full.sd or 0.0), abs(full.value - spring.value) / 4.0
        )
    return rule.finding(
        Amount(goal.value, goal.sd or 0.0, Kind.PRESSURE_GAUGE, goal.name),
        Amount(held, sd, Kind.PRESSURE_GAUGE, "boost that the spring alone holds"),
        _record(
            case, "wastegate.spring", "Between the first move of the rod and its full stroke boost settles."
        ),
        place=_PLACE,
        cause=Phrase(
            "The gate begins to open at {spring} and spills what the turbo would give beyond.",
            {"spring": spring},
        ),
        remedy=Phrase(
            "Fit a stiffer spring, though never one above {goal}, or a solenoid valve under the controller.",
            {"goal": goal},
        ),
        reading=_PUMP,
        assumed=""
        if case.build.is_stated("wastegate.control")
        else "What holds the boost is not stated; the spring alone is assumed.",
        about=("wastegate.spring", "wastegate.full_open", "wastegate.control"),
    )


@rule(
    "boost.cut",
    "Room below the boost cut",
    asks="Does the cut leave ordinary driving alone?",
    demand="outside air, boost asked for or the spring if that is stiffer, creep and spike",
    capacity="stated manifold pressure at which the controller cuts",
    harm=Harm.NUISANCE,
    harm_words="the engine cuts out in the middle of a pull, and somebody will be tempted to raise the cut",
    sense=Sense.AT_MOST,
)
def cut_above_boost(rule: Rule, case: Case) -> Finding | None:
    """p_ambient + max(goal, spring) + creep + spike against the cut; silent when no cut is stated."""
    cut = _stated(case, "controller.boost_cut", Kind.PRESSURE_ABSOLUTE, "boost cut")
    goal = case.amount("goal.boost", Kind.PRESSURE_GAUGE, "boost asked for")
    if cut is None or goal is None:
        return None
    spring = _stated(case, "wastegate.spring", Kind.PRESSURE_GAUGE, "spring")
    boost = goal if spring is None or spring.value <= goal.value else spring
    creep = case.amount("wastegate.creep", Kind.PRESSURE_DIFFERENCE, "creep")
    spike = case.amount("wastegate.spike", Kind.PRESSURE_DIFFERENCE, "spike")
    extra = [a for a in (creep, spike) if a is not None]
    highest = case.ambient_pressure + boost.value + sum(a.value for a in extra)
    sd = math.hypot(_CONTROL_SD, boost.sd or 0.0, *(a.sd or 0.0 for a in extra))
    wanted = {"wanted": Amount(highest + sd, None, Kind.PRESSURE_ABSOLUTE)}
    return rule.finding(
        Amount(highest, sd, Kind.PRESSURE_ABSOLUTE, "boost, creep and spike on the outside air"),
        Amount(cut.value, cut.sd or 0.0, Kind.PRESSURE_ABSOLUTE, cut.name),
        _record(case, "controller.boost_cut", "The pressure that you state."),
        place=_PLACE,
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
    capacity="stated top of the sensor's range",
    harm=Harm.DAMAGE,
    harm_words="the cut never trips, and one hose off the gate ends the engine",
    sense=Sense.AT_MOST,
)
def sensor_above_cut(rule: Rule, case: Case) -> Finding | None:
    """cut against the sensor's top; silent when one of them is not stated."""
    cut = _stated(case, "controller.boost_cut", Kind.PRESSURE_ABSOLUTE, "boost cut")
    top = _stated(case, "pressure_sensor.highest", Kind.PRESSURE_ABSOLUTE, "top of the sensor's range")
    if cut is None or top is None:
        return None
    return rule.finding(
        Amount(cut.value, cut.sd or 0.0, Kind.PRESSURE_ABSOLUTE, cut.name),
        Amount(top.value, math.hypot(top.sd or 0.0, _FULL_SCALE_SD * top.value), top.kind, top.name),
        _record(
            case, "pressure_sensor.highest", "The range that you state, with the tolerance of a full scale."
        ),
        place=Place(words="when the gate fails to open"),
        cause=Phrase("Above its top the sensor's signal stands still, so the controller never sees the cut."),
        remedy=Phrase("Set the cut below {top}, or fit a sensor that reads further.", {"top": top}),
        reading=Reading(
            "Lower the cut below the boost of a gentle pull and see that it trips; then set it back.", 1200.0
        ),
        about=("controller.boost_cut", "pressure_sensor.highest"),
    )
