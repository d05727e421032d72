"""Does the turbo give the power and the torque that are wanted, on the poorest of days."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Harm, Kind, LimitRecord, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.sure import sure_demand
from boostwright.findings.worst import Line, lines
from boostwright.systems.engine.types import CycleResult

__all__ = ["power", "torque"]

Array = NDArray[np.float64]

_POWER_SD = 0.08  # of computed boosted power and torque
_WHEELS = 0.88  # of crank power that reaches the wheels (common practice, no source)
_HARM_WORDS = "the goal is missed, and somebody will be tempted to turn the boost up"
_PULLS = Reading("Two full-load pulls before the conversion pin down how this engine breathes.", 3600.0)


class _Best(NamedTuple):
    """The greatest value of one line, and where."""

    line: Line
    i: int
    value: float


def _best(line: Line, quantity: Callable[[CycleResult], Array]) -> _Best | None:
    values = np.where(line.goal.settled, quantity(line.goal.result), np.nan)
    if not np.isfinite(values).any():
        return None
    i = int(np.nanargmax(values))
    return _Best(line, i, float(values[i]))


def _bests(case: Case, quantity: Callable[[CycleResult], Array]) -> list[_Best]:
    found = (_best(line, quantity) for line in lines(case))
    return [b for b in found if b is not None]


def _more_boost(case: Case, best: _Best, quantity: Callable[[CycleResult], Array], factor: float) -> float:
    """Boost [Pa] that is missing for `factor` times the value, by the line between the engine before the
    turbo and with it at this speed: knock, back pressure and friction are in both ends.
    """
    goal, base = best.line.goal, case.baseline
    speed = float(goal.speed[best.i])
    before = float(np.interp(speed, base.speeds, quantity(base.result)))
    lift = float(goal.plenum_pressure[best.i]) - case.ambient_pressure
    gain = best.value - before
    if lift < 0.05e5 or gain <= 0.0:
        return (factor - 1.0) * float(goal.plenum_pressure[best.i])
    return (factor - 1.0) * best.value * lift / gain


def _finding(
    rule: Rule,
    case: Case,
    field: str,
    quantity: Callable[[CycleResult], Array],
    words: str,
    kind: Kind,
    cause: Callable[[_Best], Phrase],
    about: tuple[str, ...],
) -> Finding | None:
    wanted = case.amount(field, kind, f"{words} wanted")
    bests = _bests(case, quantity)
    if case.goal is None or wanted is None or not bests:
        return None
    best = bests[0]  # the wish is one for an ordinary day; the corners are told beside it
    at_wheels = case.word("goal.at") == "wheels"
    there = _WHEELS if at_wheels else 1.0
    where = " at the wheels" if at_wheels else ""
    value = best.value * there
    capacity = Amount(value, case.left(_POWER_SD) * value, kind, f"greatest computed {words}")
    demand = Amount(wanted.value, wanted.sd or 0.0, kind, f"{words} wanted{where}")
    stated = case.stated(field)
    line = "" if stated is None or stated.line is None else f", line {stated.line}"
    return rule.finding(
        demand,
        capacity,
        LimitRecord("goal", f"the build file{line}", "You asked for it."),
        place=Place(float(best.line.goal.speed[best.i])),
        corner=best.line.corner,
        cause=cause(best),
        remedy=_remedy(rule, case, best, quantity, demand, capacity),
        reading=_PULLS,
        notes=_poorest_day(bests, there, kind),
        about=about,
    )


def _remedy(
    rule: Rule, case: Case, best: _Best, quantity: Callable[[CycleResult], Array], demand: Amount, has: Amount
) -> Phrase:
    sure = Amount(sure_demand(has, demand, rule.sense, rule.harm), None, demand.kind)
    if demand.value <= sure.value:
        return Phrase("Leave it; up to {sure} is sure.", {"sure": sure})
    factor = demand.value / max(sure.value, 1.0)
    more = Amount(_more_boost(case, best, quantity, factor), None, Kind.PRESSURE_DIFFERENCE)
    return Phrase(
        "For a sure hold ask for about {more} more boost, if every other finding allows; else lower the wish"
        " to {sure}.",
        {"more": more, "sure": sure},
    )


def _poorest_day(bests: list[_Best], there: float, kind: Kind) -> tuple[Phrase, ...]:
    """What is left of it on the poorest of the corners."""
    if len(bests) < 2:
        return ()
    poorest = min(bests, key=lambda b: b.value)
    if poorest.line.corner == bests[0].line.corner:
        return ()
    return (
        Phrase(
            f"The poorest day, {poorest.line.corner}, leaves {{left}} at {{speed}}.",
            {
                "left": Amount(poorest.value * there, _POWER_SD * poorest.value * there, kind),
                "speed": Amount(float(poorest.line.goal.speed[poorest.i]), None, Kind.ENGINE_SPEED),
            },
        ),
    )


@rule(
    "goal.power",
    "Power that you want",
    asks="Does it give the power that you ask for?",
    demand="power wanted",
    capacity="greatest computed power with the turbo on an ordinary day",
    harm=Harm.NUISANCE,
    harm_words=_HARM_WORDS,
    sense=Sense.AT_MOST,
)
def power(rule: Rule, case: Case) -> Finding | None:
    """max P at the knock-limited spark; counted at the wheels 12 % less."""

    def cause(best: _Best) -> Phrase:
        air = Amount(float(best.line.goal.result.air_flow[best.i]), None, Kind.MASS_FLOW)
        return Phrase(
            "The engine takes {air} of air here and turns it into power at the spark that knock allows.",
            {"air": air},
        )

    about = ("engine.port_flow", "engine.intake_closes", "model.friction")
    return _finding(rule, case, "goal.power", lambda c: c.power, "power", Kind.POWER, cause, about)


@rule(
    "goal.torque",
    "Torque that you want",
    asks="Does it give the torque that you ask for?",
    demand="torque wanted",
    capacity="greatest computed torque with the turbo on an ordinary day",
    harm=Harm.NUISANCE,
    harm_words=_HARM_WORDS,
    sense=Sense.AT_MOST,
)
def torque(rule: Rule, case: Case) -> Finding | None:
    """max T at the knock-limited spark; counted at the wheels 12 % less."""

    def cause(best: _Best) -> Phrase:
        plenum = Amount(float(best.line.goal.plenum_pressure[best.i]), None, Kind.PRESSURE_ABSOLUTE)
        return Phrase(
            "At {pressure} in the plenum, and at the spark that knock allows, the engine gives this much.",
            {"pressure": plenum},
        )

    about = ("goal.torque", "engine.port_flow", "fuel.octane")
    return _finding(rule, case, "goal.torque", lambda c: c.torque, "torque", Kind.TORQUE, cause, about)
