"""How long boost takes to come when the throttle opens: in a gear, and with the engine speed held."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from typing import Final

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
from boostwright.systems.transient import Arrival, Pull, Resized

__all__ = ["arrival_of", "in_gear", "wait"]

_ABOUT = (
    "turbo.turbine_housing", "turbo.turbine_inducer", "turbo.inertia", "turbo.compressor_exducer", "car.mass",
    "car.gears", "car.final_drive", "car.tyre", "manifold.kind", "goal.boost",
)  # fmt: skip
_MODEL_SD: Final = 0.20  # of a computed time beside what is not known of the parts; judgement
_VOLUME_SD: Final = (
    0.10  # of the volume between compressor and valves, by tape; judgement, rounds its figure only
)
_INERTIA = Reading(
    "Swing the turbo's shaft on two threads and time it: that gives its inertia within a few per cent.",
    3600.0,
)
_HOUSING = Reading(
    "Read the A/R that is cast on the turbine housing, and measure the turbine wheel with a calliper.", 1800.0
)
_PULL = Reading(
    "Log boost and engine speed while you floor it once in this gear, on a closed road or a chassis dyno.",
    1800.0,
)


def arrival_of(case: Case) -> Arrival | None:
    """The computed arrival of boost; None where none was computed."""
    found = getattr(case, "arrival", None) or case.extra.get("arrival")
    return found if isinstance(found, Arrival) else None


_THERE: Final = 0.9  # share of the boost wanted from which it counts as there


@rule(
    "boost.in_gear",
    "Boost by the speed wanted, in gear",
    asks="Is boost there by the engine speed that you named when you floor it in a gear?",
    demand="engine speed at which 90 % of the boost is there after the throttle opened lower down",
    capacity="speed by which you want it",
    harm=Harm.NUISANCE,
    harm_words="the car feels lazy where you wanted it to pull",
    sense=Sense.AT_MOST,
)
def in_gear(rule: Rule, case: Case) -> Finding | None:
    """Crank speed at arrival in the reference gear; the steady threshold stands beside it, in the cause."""
    arrival = arrival_of(case)
    wanted = case.amount("goal.boost_by", Kind.ENGINE_SPEED, "speed by which you want full boost")
    if arrival is None or wanted is None:
        return None
    pull = arrival.pulls[arrival.reference]
    if pull.gear == 0:
        return None
    there = math.isfinite(pull.arrival)
    last = float(pull.crank[-1])
    if there:
        demand = Amount(
            pull.arrival_speed, _known(_speed_sd(pull)), Kind.ENGINE_SPEED, "boost is there at this speed"
        )
    else:
        demand = Amount(last, 0.0, Kind.ENGINE_SPEED, "boost is still not there at this speed")
    return rule.finding(
        demand,
        Amount(wanted.value, wanted.sd or 0.0, Kind.ENGINE_SPEED, wanted.name),
        _goal_record(case),
        place=Place(demand.value, f"in gear {pull.gear}"),
        corner=case.corner,
        undecided=not there and last <= wanted.value,
        cause=_cause(case, pull),
        remedy=_remedy(arrival, wanted.value),
        reading=_reading(arrival),
        notes=_notes(arrival, case),
        about=_ABOUT,
    )


@rule(
    "boost.wait",
    "Wait for boost",
    asks="How long does boost take when you floor it at the engine speed by which you want it?",
    demand="time until 90 % of the boost is there, engine speed held",
    capacity="wait that a driver puts up with",
    harm=Harm.NUISANCE,
    harm_words="the driver lifts and floors it again, and the boost comes when it is not expected",
    sense=Sense.AT_MOST,
    limits=("boost_lag",),
)
def wait(rule: Rule, case: Case) -> Finding | None:
    """Time of the held pull. Where boost never comes at that speed, the steady findings have said it."""
    arrival = arrival_of(case)
    pull = None if arrival is None else arrival.held
    if arrival is None or pull is None or not math.isfinite(pull.arrival):
        return None
    limit = case.limits["boost_lag"]
    sd = _known(math.hypot(pull.arrival_sd, _MODEL_SD * pull.arrival))
    return rule.finding(
        Amount(pull.arrival, sd, Kind.DELAY, "until boost is there"),
        limit.amount,
        limit,
        place=Place(pull.start),
        corner=case.corner,
        cause=Phrase(
            "From {shaft} of the shaft, {inertia} has to be spun up, {volume} of pipes, cooler and plenum has"
            " to be filled, and the exhaust walls take heat until they are warm.",
            {
                "shaft": Amount(arrival.start_shaft, None, Kind.SHAFT_SPEED),
                "inertia": Amount(arrival.inertia, None, Kind.INERTIA),
                "volume": Amount(arrival.volume, _VOLUME_SD * arrival.volume, Kind.VOLUME),
            },
        ),
        remedy=_quicker(arrival, pull, limit.amount.value),
        reading=_reading(arrival),
        notes=_held_short(case),
        about=_ABOUT,
    )


def _goal_record(case: Case) -> LimitRecord:
    stated = case.stated("goal.boost_by")
    line = "" if stated is None or stated.line is None else f", line {stated.line}"
    return LimitRecord("goal", f"the build file{line}", "You asked for it.")


def _speed_sd(pull: Pull) -> float:
    """The parts' unknowns, and the model's own error of the time as engine speed gained in it."""
    gained = pull.arrival_speed - pull.start
    return math.hypot(pull.arrival_speed_sd, _MODEL_SD * gained)


def _cause(case: Case, pull: Pull) -> Phrase:
    amounts = {"start": Amount(pull.start, None, Kind.ENGINE_SPEED)}
    if math.isfinite(pull.arrival):
        sd = _known(math.hypot(pull.arrival_sd, _MODEL_SD * pull.arrival))
        amounts["time"] = Amount(pull.arrival, sd, Kind.DELAY)
        shown = "{time}" if sd is None else "{time:band}"
        words = f"Floored at {{start}} in gear {pull.gear}, boost takes {shown}."
    else:
        amounts["last"] = Amount(float(pull.time[-1]), None, Kind.DELAY)
        words = f"Floored at {{start}} in gear {pull.gear}, boost has not come after {{last}}."
    steady = _steady(case)
    if steady is None:
        return Phrase(words + " Even at a steady speed the turbine drives it nowhere.", amounts)
    amounts["steady"] = Amount(steady, None, Kind.ENGINE_SPEED)
    words += (
        " At a steady speed the turbine drives it from about {steady} on; what comes on top is the time that"
        " shaft, charge and exhaust walls take while the engine gains speed."
    )
    return Phrase(words, amounts)


def _steady(case: Case) -> float | None:
    """Lowest speed at which the turbine holds the boost asked for, coming up [rad/s]."""
    goal, threshold = case.goal, case.threshold
    if threshold is not None:
        return threshold.coming_up if math.isfinite(threshold.coming_up) else None
    if goal is None:
        return None
    there = np.flatnonzero(goal.turbine_enough & goal.settled)
    return float(goal.speed[there[0]]) if there.size else None


def _remedy(arrival: Arrival, by: float) -> Phrase:
    """The largest housing, else the largest wheel, that brings boost by the speed wanted."""
    if math.isfinite(arrival.turbine.arrival_speed) and arrival.turbine.arrival_speed <= by:
        return Phrase("Leave it; a smaller housing would only raise the back pressure at the top.")
    housing = _size_for(lambda r: r.area_over_radius, (arrival.turbine, *arrival.housings), by)
    if housing is not None:
        return Phrase(
            "A turbine housing of A/R {housing} or less brings it by then; back pressure and heat at the top"
            " grow. Or change down: a lower gear starts higher.",
            {"housing": Amount(housing, None, Kind.LENGTH)},
        )
    wheel = _size_for(lambda r: r.wheel, (arrival.turbine, *arrival.wheels), by)
    if wheel is not None:
        return Phrase(
            "A housing alone does not do it; a turbine wheel of {wheel} or less brings it by then, with more"
            " back pressure at the top.",
            {"wheel": Amount(wheel, None, Kind.LENGTH)},
        )
    best = min(
        (r.arrival_speed for r in (*arrival.housings, *arrival.wheels) if math.isfinite(r.arrival_speed)),
        default=math.nan,
    )
    if math.isfinite(best):
        return Phrase(
            "Neither a smaller housing nor a smaller turbine wheel brings it by then; the best of those tried"
            " comes at {best}. Fit a smaller turbo, ask for less boost, or be content with later.",
            {"best": Amount(best, None, Kind.ENGINE_SPEED)},
        )
    return Phrase("Fit a smaller turbo, ask for less boost, or be content with later.")


def _size_for(size: Callable[[Resized], float], tried: tuple[Resized, ...], by: float) -> float | None:
    """Largest size that is there by a speed, straight between the two tried about it; None if none is."""
    for large, small in itertools.pairwise(tried):
        if math.isfinite(small.arrival_speed) and small.arrival_speed <= by:
            if not math.isfinite(large.arrival_speed):
                return size(small)
            share = (large.arrival_speed - by) / (large.arrival_speed - small.arrival_speed)
            return size(large) + share * (size(small) - size(large))
    return None


def _quicker(arrival: Arrival, pull: Pull, most: float) -> Phrase:
    """What a smaller housing takes off the reference pull, as a share that holds for the wait as well."""
    if pull.arrival <= most:
        return Phrase("Leave it; a smaller housing would only raise the back pressure at the top.")
    usual = arrival.pulls[arrival.reference].arrival
    gains = [(r, 1 - r.arrival / usual) for r in arrival.housings if math.isfinite(r.arrival)]
    needed = 1 - most / pull.arrival
    enough = next((r for r, gain in gains if gain >= needed), None)
    if enough is not None:
        return Phrase(
            "A turbine housing of A/R {housing} takes about {gain} off the wait; back pressure at the top"
            " grows.",
            {
                "housing": Amount(enough.area_over_radius, None, Kind.LENGTH),
                "gain": Amount(1 - enough.arrival / usual, None, Kind.SHARE),
            },
        )
    return Phrase(
        "A smaller housing alone does not cure it: fit a smaller turbo, or a lighter turbine wheel."
    )


def _reading(arrival: Arrival) -> Reading:
    """The reading that would take most out of the spread."""
    first = arrival.unknowns[0][0] if arrival.unknowns else ""
    if first == "inertia of the shaft":
        return _INERTIA
    return _HOUSING if first == "flow area of the turbine" else _PULL


def _notes(arrival: Arrival, case: Case) -> tuple[Phrase, ...]:
    notes = _held_short(case)
    if arrival.assumed:
        listed = ", ".join(arrival.assumed)
        words = f"Usual values stand in for what the file does not state of the car: {listed}."
        notes = (*notes, Phrase(words))
    return notes


def _held_short(case: Case) -> tuple[Phrase, ...]:
    """Where spring and control hold less than what counts as there: the pulls have a gate that holds it."""
    wanted = case.build.number("goal.boost")
    if case.goal is None or not case.goal.settled.any():
        return ()
    held = float(np.nanmax(np.where(case.goal.settled, case.goal.boost, np.nan)))
    if held >= _THERE * wanted:
        return ()
    return (
        Phrase(
            "Spring and control of this file hold {held} at most, so {wanted} never comes: times and speeds"
            " here are those of a gate that holds it. See the findings on boost first.",
            {
                "held": Amount(held, None, Kind.PRESSURE_GAUGE),
                "wanted": Amount(wanted, None, Kind.PRESSURE_GAUGE),
            },
        ),
    )


def _known(sd: float) -> float | None:
    """A spread; None where boost comes for too few of the variants to tell one."""
    return sd if math.isfinite(sd) else None
