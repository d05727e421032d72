"""Knock at the boost that is reached: how far the spark must retreat in the worst cylinder and corner, and on
which fuel it still works.
"""

from __future__ import annotations

import math
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.case import Case, GoalLine
from boostwright.findings.knock_spread import knock_spread
from boostwright.findings.model import Amount, Finding, Harm, Kind, Phrase, Place, Reading, Sense
from boostwright.findings.registry import Rule, rule
from boostwright.findings.worst import Line, lines
from boostwright.library.part_spreads import part_spread
from boostwright.physics.knock import RUSS_GUIDELINES, mixture_delay_factor, octane_equivalent
from boostwright.systems.engine.types import CycleResult
from boostwright.systems.stated.ignition import timing_error_of

__all__ = ["half_burned", "poorest_fuel", "worst_of"]

_NO_RETREAT = math.radians(0.5)  # below it there is none that anybody could set
_FULL_SHARE = 0.5  # of the boost asked for, from which a point counts as boosted
_BEST_PUMP_FUEL = 102.0  # research octane that can be had at a pump (common practice, no source) [-]
_LEAST_BOOST = 0.2e5  # below this a turbo is not worth its trouble [Pa above ambient]
_LEAST_RATIO = 8.0  # below this an engine is a poor one off boost (common practice, no source) [-]


class _Late(NamedTuple):
    """The worst place: its line and number over speed, half burned [rad] and its spread [rad], octane spread
    alone [-], octane numbers that the worst cylinder asks above the mean [-].
    """

    line: Line
    place: int
    angle: float
    sd: float
    octane_sd: float
    cylinder: float

    @property
    def goal(self) -> GoalLine:
        """The operating line that it lies on."""
        return self.line.goal


class _WorstOf(NamedTuple):
    """The largest of some independent normal numbers, in standard deviations."""

    mean: float
    sd: float


@cache
def worst_of(count: int) -> _WorstOf:
    """Mean and standard deviation of the largest of `count` independent standard normal numbers.

    f(x) = n phi(x) Phi(x)^(n-1), integrated over -9..9 (harter1961, from memory). count: 1 or more. Error
    below 1e-6.
    """
    x = np.linspace(-9.0, 9.0, 1801)
    below = np.array([0.5 * math.erfc(-v / math.sqrt(2.0)) for v in x])
    density = count * np.exp(-0.5 * x**2) / math.sqrt(2.0 * math.pi) * below ** (count - 1)
    step = float(x[1] - x[0])
    mean = float(np.sum(x * density)) * step
    return _WorstOf(mean, math.sqrt(max(float(np.sum(x**2 * density)) * step - mean**2, 0.0)))


def _cylinders_apart(case: Case, goal: GoalLine, i: int, octane: float) -> float:
    """One standard deviation of what one cylinder asks in octane above the mean of all [-].

    Air, its temperature and the compression ratio by russ1996; fuel by the set of injectors, as lambda.
    """
    condition = case.word("injectors.condition") or "used"
    air = part_spread("cylinder", "air")
    lam = float(goal.lam[i])
    leaner = lam * (1.0 + math.hypot(part_spread("injector_set", condition), air))
    mixture = float(mixture_delay_factor(lam) / mixture_delay_factor(leaner))
    return math.hypot(
        abs(float(octane_equivalent(mixture, octane))),
        air * float(goal.plenum_pressure[i]) * RUSS_GUIDELINES.intake_pressure,
        part_spread("cylinder", "charge_temperature") * RUSS_GUIDELINES.intake_temperature,
        part_spread("cylinder", "compression_ratio") * RUSS_GUIDELINES.compression_ratio,
    )


def _boosted(case: Case, goal: GoalLine) -> NDArray[np.bool_]:
    asked = case.amount("goal.boost", Kind.PRESSURE_GAUGE, "boost asked for")
    least = 0.0 if asked is None else _FULL_SHARE * asked.value
    boosted = goal.settled & np.isfinite(goal.result.ca50) & (goal.boost >= least)
    return boosted if boosted.any() else goal.settled & np.isfinite(goal.result.ca50)


def _slope(case: Case, line: Line, i: int) -> float:
    """Degrees that the half-burned point moves for each degree of spark, between MBT and the spark used."""
    goal, strong = line.goal, case.strength
    for corner in getattr(case, "corners", ()):
        if corner.goal is goal and corner.strength is not None:
            strong = corner.strength
    if strong is None:
        return 1.2
    spark = float(np.interp(goal.speed[i], strong.speed, strong.spark))
    half = float(np.interp(goal.speed[i], strong.speed, strong.result.ca50))
    retreat = float(goal.used_spark[i]) - spark
    if retreat < math.radians(3.0):
        return 1.2
    return min(2.0, max(0.8, (float(goal.result.ca50[i]) - half) / retreat))


def _models_apart(cycle: CycleResult, i: int, octane: float) -> float:
    """Half of what the two knock-delay models differ by, in octane numbers."""
    a, c = float(cycle.knock_a[i]), float(cycle.knock_c[i])
    if not (a > 0.0 and c > 0.0):
        return 0.0
    return 0.5 * abs(float(octane_equivalent(a / c, octane)))


def _latest(case: Case) -> _Late | None:
    """The latest half-burned point over boosted speeds and corners on the usual fuel, reserve included.

    None where there is no line.
    """
    poorest = {c.name for c in getattr(case, "corners", ()) if c.poorest_fuel}
    found = [_latest_of(case, line) for line in lines(case) if line.corner not in poorest]
    late = [one for one in found if one is not None]
    return max(late, key=lambda one: one.angle) if late else None


def _latest_of(case: Case, line: Line) -> _Late | None:
    """The same over the boosted speeds of one line.

    One octane number is worth one degree of spark, one unit of compression ratio five (russ1996). All
    cylinders share one spark, so the worst of them sets it: it asks so many octane numbers more than their
    mean. Spread: the knock factor of the build, half the difference of the two delay models, octane,
    compression ratio, the timing mark, and how far the worst cylinder of such engines scatters.
    """
    goal, octane = line.goal, case.fuel.ron
    boosted = _boosted(case, goal)
    if not boosted.any():
        return None
    cycle = goal.result
    i = int(np.nanargmax(np.where(boosted, cycle.ca50, -np.inf)))
    knock_sd = knock_spread(case, float(cycle.peak_unburned_temperature[i]))
    ratio = case.amount("engine.compression_ratio", Kind.RATIO, "compression ratio")
    ratio_sd = 0.0 if ratio is None or ratio.sd is None else ratio.sd
    fuel_octane = case.amount("fuel.octane", Kind.OCTANE, "octane")
    error = timing_error_of(case.build).either  # 19 times out of 20 [rad]
    apart, worst = _cylinders_apart(case, goal, i, octane), worst_of(case.engine.cylinders)
    numbers = (
        float(octane_equivalent(1.0 + knock_sd, octane)),
        _models_apart(cycle, i, octane),
        RUSS_GUIDELINES.compression_ratio * ratio_sd,
        0.7 if fuel_octane is None or fuel_octane.sd is None else fuel_octane.sd,
        worst.sd * apart,
        0.5 * error * RUSS_GUIDELINES.spark,
    )
    octane_sd = math.hypot(*numbers)
    cylinder = worst.mean * apart
    slope = _slope(case, line, i)
    reserve = case.limits["spark_reserve"].amount.value
    late = reserve + cylinder / RUSS_GUIDELINES.spark  # later than the mean engine's knock limit [rad]
    held = not math.isfinite(float(goal.knock_spark[i]))
    angle = float(cycle.ca50[i]) + (0.0 if held else slope * late)
    return _Late(line, i, angle, slope * octane_sd / RUSS_GUIDELINES.spark, octane_sd, cylinder)


@rule(
    "knock.half_burned",
    "Knock in the worst cylinder",
    asks="Does the spark still stand early enough, once knock in the worst cylinder has pushed it back?",
    demand="latest half-burned point over boosted speeds and corners at the knock-limited spark of the worst"
    " cylinder, two degrees kept in hand",
    capacity="latest useful half-burned point",
    harm=Harm.SEVERE,
    harm_words="either it knocks and a ring land or piston crown breaks in seconds, or it burns so late"
    " that exhaust parts glow",
    sense=Sense.AT_MOST,
    limits=("half_burned", "spark_reserve"),
)
def half_burned(rule: Rule, case: Case) -> Finding | None:
    """CA50 at the later of MBT and knock limit, by both delay models, on the usual fuel."""
    late = _latest(case)
    if late is None:
        return None
    goal, i, limit = late.goal, late.place, case.limits["half_burned"]
    room = _octane_room(late, limit.amount, _slope(case, late.line, i))
    return rule.finding(
        Amount(
            late.angle, late.sd, Kind.CRANK_ANGLE, "half of the charge burned, spark two degrees off knock"
        ),
        limit.amount,
        limit,
        place=Place(float(goal.speed[i])),
        corner=late.line.corner,
        cause=_half_burned_cause(case, late),
        remedy=_remedy(case, goal, i, room),
        reading=Reading(
            "One knock-limited spark before the conversion, at full load in third gear: it halves this"
            " spread.",
            3600.0,
        ),
        about=(
            "model.knock", "engine.compression_ratio", "cooler.effectiveness", "fuel.octane",
            "injectors.condition",
        ),
    )  # fmt: skip


def _half_burned_cause(case: Case, late: _Late) -> Phrase:
    retreat = max(0.0, float(late.goal.used_spark[late.place] - late.goal.mbt_spark[late.place]))
    apart = (
        f" The worst of {case.engine.cylinders} cylinders, in fuel, air and heat together, asks for"
        f" {late.cylinder:.1f} octane numbers more than their mean."
        if case.engine.cylinders > 1
        else ""
    )
    if retreat < _NO_RETREAT:
        return Phrase(f"Knock does not hold the mean cylinder back here.{apart}")
    return Phrase(
        "Denser and hotter charge makes the end gas burn by itself; the spark must retreat {retreat}"
        f" from the one of greatest torque.{apart}",
        {"retreat": Amount(retreat, None, Kind.CRANK_DIFFERENCE)},
    )


def _remedy(case: Case, goal: GoalLine, i: int, room: float) -> Phrase:
    """What would make up for the octane numbers missing: fuel, boost or compression, each if it is within
    reach.
    """
    if room >= 0.0:
        return Phrase(
            "Set the spark two degrees later than the knock limit, and listen for knock on every pull."
        )
    missing = -room
    octane = case.fuel.ron + missing
    boost = float(goal.boost[i]) - missing / RUSS_GUIDELINES.intake_pressure
    ratio = case.engine.compression_ratio - missing / RUSS_GUIDELINES.compression_ratio
    ways = []
    if octane <= _BEST_PUMP_FUEL:
        ways.append("run fuel of at least {octane}")
    if boost >= _LEAST_BOOST:
        ways.append("hold boost near {boost} here")
    if ratio >= _LEAST_RATIO:
        ways.append("bring the compression ratio to {ratio}")
    if not ways:
        return Phrase(
            "It lacks {missing} octane numbers here: no pump fuel, boost or compression ratio mends that"
            " by itself. Lower boost and compression, and cool the charge better, together.",
            {"missing": Amount(missing, None, Kind.COUNT)},
        )
    text = ", or ".join(ways)
    return Phrase(
        f"{text[0].upper()}{text[1:]}.",
        {
            "octane": Amount(octane, None, Kind.OCTANE),
            "boost": Amount(boost, None, Kind.PRESSURE_GAUGE),
            "ratio": Amount(ratio, None, Kind.COMPRESSION),
        },
    )


def _octane_room(late: _Late, limit: Amount, slope: float) -> float:
    """Octane numbers in hand (negative: missing) so that it holds with two thirds of a standard deviation."""
    wanted = limit.value - 0.67 * math.hypot(late.sd, limit.sd or 0.0)
    return (wanted - late.angle) / slope * RUSS_GUIDELINES.spark


def _poorest_remedy(goal: GoalLine, i: int, least: Amount, poorest: Amount | None) -> Phrase:
    """The grade below which not to fill, and the boost that the poorest grade stands for sure."""
    meets = least.value if poorest is None else poorest.value
    boost = float(goal.boost[i]) - max(0.0, least.value - meets) / RUSS_GUIDELINES.intake_pressure
    amounts = {"least": least, "boost": Amount(max(boost, 0.0), None, Kind.PRESSURE_GAUGE)}
    if poorest is None and least.value > _BEST_PUMP_FUEL:
        return Phrase(
            "This boost asks for {least}, more than any pump fuel has: see the knock finding first, and state"
            " the poorest fuel on your roads (fuel.poorest_octane).",
            amounts,
        )
    if poorest is None:
        return Phrase(
            "Never fill below {least}; state the poorest fuel on your roads (fuel.poorest_octane).", amounts
        )
    if least.value <= meets:
        return Phrase("Never fill below {least}; the poorest fuel that you named lies above it.", amounts)
    if boost < _LEAST_BOOST and least.value > _BEST_PUMP_FUEL:
        return Phrase(
            "This boost asks for {least}, more than any pump fuel has, and no boost worth its trouble suits"
            " the poorest fuel: see the knock finding first.",
            amounts,
        )
    if boost < _LEAST_BOOST:
        return Phrase("Never fill below {least}; no boost worth its trouble suits the poorest fuel.", amounts)
    if least.value > _BEST_PUMP_FUEL:
        return Phrase("Ask for less boost: the poorest fuel stands {boost} here for sure.", amounts)
    return Phrase(
        "Never fill below {least}, or keep a boost setting of {boost} here for poorer fuel.", amounts
    )


@rule(
    "fuel.octane",
    "The poorest fuel that you will meet",
    asks="Does the poorest fuel still give the octane that this boost asks for?",
    demand="octane at which the half-burned point stands at its latest useful place",
    capacity="research octane of the poorest fuel",
    harm=Harm.DAMAGE,
    harm_words="one bad tank knocks at load and breaks a ring land",
    sense=Sense.AT_MOST,
    limits=("half_burned",),
)
def poorest_fuel(rule: Rule, case: Case) -> Finding | None:
    """Octane asked for: that of the usual fuel, less one for each degree of spark in hand (russ1996)."""
    late = _latest(case)
    if late is None:
        return None
    goal, octane = late.goal, case.fuel.ron
    limit = case.limits["half_burned"]
    slope = _slope(case, late.line, late.place)
    asked = octane - (limit.amount.value - late.angle) / slope * RUSS_GUIDELINES.spark
    demand = Amount(asked, late.octane_sd, Kind.OCTANE, "octane that this boost asks for")
    poorest = case.amount("fuel.poorest_octane", Kind.OCTANE, "poorest fuel")
    sure = octane - _octane_room(late, limit.amount, slope)  # the reserve of the knock finding: one advice
    least = Amount(sure, None, Kind.OCTANE)
    return rule.finding(
        demand,
        poorest,
        limit,
        place=Place(float(goal.speed[late.place])),
        corner="on the poorest fuel"
        if late.line.corner == case.corner
        else f"on the poorest fuel, {late.line.corner}",
        cause=Phrase(
            "Spark and boost are set for the usual fuel; a poorer tank knocks where the usual one does not."
        ),
        remedy=_poorest_remedy(goal, late.place, least, poorest),
        reading=Reading(
            "Ask at the pumps on your roads, and write the poorest grade into fuel.poorest_octane.", 600.0
        )
        if poorest is None
        else Reading(
            "Keep the receipt of each tank while you tune, and note knock after each refill.", 300.0
        ),
        about=("fuel.octane", "fuel.poorest_octane", "model.knock"),
    )
