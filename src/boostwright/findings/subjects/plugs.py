"""Spark plugs under boost: the voltage that their gap asks of the coil, and the heat that they must shed."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.findings.case import Case, Stated
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
from boostwright.findings.sure import deviations, sure_demand
from boostwright.findings.worst import Line, lines, worst, worst_number
from boostwright.library.electrics import electric_constant
from boostwright.physics.breakdown import breakdown_voltage, formula_holds, largest_gap
from boostwright.systems.ignition import AtSpark, at_spark, colder_steps

__all__ = ["plug_heat", "spark_voltage"]

Array = NDArray[np.float64]

_NO_GAP = "Nobody has stated the plugs' gap; that of an engine without boost is assumed."
_GAP_AND_COIL = (
    "Wire gauge for the gap of every plug; an adjustable tester on one lead, opened until it misses, for"
    " the coil, in the open air and away from fuel. High voltage: insulated pliers, hands off."
)
_SEA_LEVEL = 101325.0  # where the original plugs had to serve [Pa]
_LEAST_GAP = 0.5e-3  # below it idle and light load misfire (common practice, no source) [m]


def _gas(case: Case, line: Line) -> AtSpark:
    cycle = line.goal.result
    return at_spark(case.engine, cycle.trapped_mass, cycle.charge_temperature, line.goal.used_spark)


class _Ignition(NamedTuple):
    """What the kind of ignition adds to a plug's voltage: a share of it, and a gap before it."""

    share: float = 0.0  # [-]
    share_sd: float = 0.0
    before: float = 0.0  # [V]
    before_sd: float = 0.0
    words: str = ""

    def asks(self, volts: ArrayLike) -> Array:
        """Voltage asked of the coil for one of the plug alone [V]."""
        return np.asarray(np.asarray(volts) * (1.0 + self.share) + self.before)

    def of_gap(self, volts: float) -> float:
        """The plug's own part of a coil's voltage [V]."""
        return (volts - self.before) / (1.0 + self.share)

    def sd_of(self, volts: float) -> float:
        """Spread of what is added to reach a voltage of the coil [V]."""
        return math.hypot(self.share_sd * self.of_gap(volts), self.before_sd)


def _kind(case: Case) -> _Ignition:
    """Paired coils fire one plug of each pair from its side electrode; a distributor has its rotor's gap,
    which a coil's voltage that was read at the plug has behind it.
    """
    word = case.word("ignition.coils")
    if word == "paired":
        more = electric_constant("plug", "paired")
        return _Ignition(more.value, more.sd, words=", the plug that fires backwards in its pair")
    if word == "distributor" and not case.build.is_stated("ignition.coil_voltage"):
        gap = electric_constant("plug", "rotor")
        return _Ignition(before=gap.value, before_sd=gap.sd, words=", the rotor's gap with it")
    return _Ignition()


@rule(
    "ignition.spark_voltage",
    "Spark against the gas",
    asks="Does the coil jump the plugs' gap in the densest charge, with its reserve left?",
    demand="breakdown voltage of the gap in the gas that the cycle has at the spark, worst of every day",
    capacity="coil's voltage, the reserve for worn plugs taken off",
    harm=Harm.WEAR,
    harm_words="it misfires at full boost; raw fuel burns in the catalyst, and the lambda probe reads lean",
    sense=Sense.AT_MOST,
    limits=("coil_use",),
)
def spark_voltage(rule: Rule, case: Case) -> Finding | None:
    """V = 24.36 x + 6.72 sqrt(x) kV, x = p 293 K/T x gap; gas at the spark from the trapped mass."""
    gap, coil = case.stated("ignition.plug_gap"), case.stated("ignition.coil_voltage")
    if gap is None or coil is None or not lines(case):
        return None
    width, width_sd = float(gap.value), float(gap.sd or 0.0)
    kind = _kind(case)

    def asked(line: Line) -> Array:
        gas = _gas(case, line)
        holds = formula_holds(gas.pressure, gas.temperature, width)
        return np.where(holds, kind.asks(breakdown_voltage(gas.pressure, gas.temperature, width)), np.nan)

    found = worst_number(case, asked)
    if found is None:
        return None
    volts, there = found
    gas = _gas(case, there.line)
    p, T = float(gas.pressure[there.place]), float(gas.temperature[there.place])
    by_gap = (float(kind.asks(breakdown_voltage(p, T, width * 1.01))) - volts) / (0.01 * width)  # [V/m]
    boost = float(there.goal.boost_sd[there.place] / there.goal.plenum_pressure[there.place])
    shares = math.hypot(electric_constant("plug", "model").value, boost)
    demand = Amount(
        volts,
        math.hypot(shares * volts, by_gap * width_sd, kind.sd_of(volts)),
        Kind.SPARK_VOLTAGE,
        "voltage that a plug asks for",
    )
    limit = case.limits["coil_use"]
    capacity = _given(coil, limit.amount)
    room = deviations(rule.harm) * math.hypot(demand.sd or 0.0, capacity.sd or 0.0)
    widest = float(largest_gap(max(kind.of_gap(capacity.value - room), 1.0), p, T))
    least = float(kind.asks(breakdown_voltage(p, T, _LEAST_GAP)))
    amounts = {
        "gap": Amount(width, None, Kind.LENGTH),
        "p": Amount(p, None, Kind.PRESSURE),
        "T": Amount(T, None, Kind.TEMPERATURE),
        "volts": demand,
        "coil": Amount(float(coil.value), coil.sd, Kind.SPARK_VOLTAGE),
        "left": Amount(float(coil.value) / volts - 1.0, None, Kind.SHARE),
        "least": Amount(_LEAST_GAP, None, Kind.LENGTH),
        "needed": _coil(rule, demand, capacity, limit.amount),
        "stronger": _coil(rule, replace(demand, value=least), capacity, limit.amount),
    }
    if math.isfinite(widest):
        amounts["widest"] = Amount(widest, None, Kind.LENGTH)
    return rule.finding(
        demand,
        capacity,
        limit,
        place=Place(there.speed),
        corner=there.corner,
        cause=_cause(kind.words, case.build.is_stated("ignition.coil_voltage"), amounts),
        remedy=_remedy(widest, demand.value + room <= capacity.value, amounts),
        reading=Reading(_GAP_AND_COIL, 1500.0),
        assumed="" if case.build.is_stated("ignition.plug_gap") else _NO_GAP,
        about=("ignition.plug_gap", "ignition.coil_voltage", "ignition.coils"),
    )


def _given(coil: Stated, use: Amount) -> Amount:
    """What of the coil's voltage new plugs may ask for."""
    volts, sd = float(coil.value), float(coil.sd or 0.0)
    spread = math.hypot(use.value * sd, (use.sd or 0.0) * volts)
    return Amount(use.value * volts, spread, Kind.SPARK_VOLTAGE, "of the coil's voltage")


def _coil(rule: Rule, asked: Amount, given: Amount, use: Amount) -> Amount:
    """Voltage of a coil, known as well as the one of now, that is sure to give what is asked: the spread of
    what it gives grows with it.
    """
    sure = sure_demand(asked, given, Sense.AT_LEAST, rule.harm, relative=True)
    if not sure > 0.0:  # so little known that only a better reading of the coil helps
        sure = sure_demand(asked, given, Sense.AT_LEAST, rule.harm)
    return Amount(sure / use.value, None, Kind.SPARK_VOLTAGE)


def _cause(kind: str, measured: bool, amounts: dict[str, Amount]) -> Phrase:
    text = f"At the spark the gas stands at {{p}} and {{T}}: a gap of {{gap}} asks for {{volts}}{kind}."
    text += " A coil of {coil} " if measured else " A usual coil of {coil}, for nobody has stated this one, "
    text += (
        "leaves {left} over it."
        if amounts["left"].value >= 0.0
        else "cannot reach that: the later the spark and the denser the charge, the more is asked."
    )
    return Phrase(text, amounts)


def _remedy(widest: float, enough: bool, amounts: dict[str, Amount]) -> Phrase:
    if enough:
        return Phrase(
            "Leave the gap at {gap}; up to {widest} keeps the coil's reserve for worn plugs.", amounts
        )
    if math.isfinite(widest) and widest >= _LEAST_GAP:
        return Phrase(
            "Close the gap to {widest}, the largest that keeps the coil's reserve, or measure the coil:"
            " from {needed} on {gap} can stay.",
            amounts,
        )
    return Phrase(
        "Close the gap to {least}, less misfires at idle, and fit coils that give {stronger}; an earlier"
        " spark and less boost ask for less.",
        amounts,
    )


@rule(
    "ignition.plug_heat",
    "Heat range of the plugs",
    asks="Are the plugs cold enough for the power and the charge's warmth?",
    demand="steps by which the fitted plugs are colder than the original ones",
    capacity="steps that more power by litre and a warmer charge ask for",
    harm=Harm.DAMAGE,
    harm_words="the tip glows and lights the charge before the spark does; a piston crown melts",
    sense=Sense.AT_LEAST,
)
def plug_heat(rule: Rule, case: Case) -> Finding | None:
    """n = (P/V - P_0/V)/30 kW/L + (T - T_0)/100 K on the worst day, against the steps stated."""
    fitted = case.stated("ignition.plug_heat")
    if fitted is None or not any(
        case.build.is_stated(f"ignition.{name}") for name in ("plug_gap", "plug_heat")
    ):
        return None
    by_power, by_warmth = electric_constant("plug", "power_step"), electric_constant("plug", "warmth_step")
    power = float(np.nanmax(case.baseline.result.power)) * _SEA_LEVEL / case.ambient_pressure
    there = worst(case, lambda line: -_steps(case, line, power))
    if there is None:
        return None
    needed = -there.margin
    capacity = Amount(needed, _steps_sd(needed), Kind.RATIO, "steps colder that are asked for")
    demand = Amount(float(fitted.value), 0.0, Kind.RATIO, "steps colder than the original plugs")
    wanted = max(0, math.ceil(needed + deviations(rule.harm) * (capacity.sd or 0.0) - 1e-9))
    amounts = {
        "before": Amount(power, None, Kind.POWER),
        "now": Amount(float(there.goal.result.power[there.place]), None, Kind.POWER),
        "T": Amount(float(there.goal.result.charge_temperature[there.place]), None, Kind.TEMPERATURE),
        "wanted": Amount(float(wanted), 0.0, Kind.COUNT),
        "needed": capacity,
    }
    return rule.finding(
        demand,
        capacity,
        LimitRecord(
            "computed",
            by_power.source.rpartition("; ")[2],
            f"{by_power.source.rpartition('; ')[0]}; {by_warmth.source.rpartition('; ')[0]}."
            " Makers count steps their own way.",
        ),
        place=Place(there.speed),
        corner=there.corner,
        cause=Phrase(
            "{before} before at sea level and {now} now, with the charge at {T} when the intake closes: the"
            " tips take up more heat with every firing, which asks for about {needed} steps.",
            amounts,
        ),
        remedy=Phrase(
            "Fit plugs {wanted} steps colder than the original ones, same thread and reach; too cold only"
            " fouls, too hot burns a piston."
            if wanted > float(fitted.value)
            else "Keep these plugs; {wanted} steps colder are enough. If they soot at idle, one step back.",
            amounts,
        ),
        reading=Reading(
            "After a full-load pull, engine cut clean and left to cool: the ground strap's colour should"
            " change near its bend; specks or blisters on the insulator mean too hot.",
            1800.0,
        ),
        assumed=""
        if case.build.is_stated("ignition.plug_heat")
        else "Nobody has stated the plugs' heat range; the original one is assumed.",
        about=("ignition.plug_heat",),
    )


def _steps(case: Case, line: Line, before: float) -> Array:
    """Steps colder that each point of a line asks for [-]. before: power before, at sea level [W]."""
    a, b = (electric_constant("plug", name).value for name in ("power_step", "warmth_step"))
    cycle, volume = line.goal.result, case.engine.displacement
    warmer = cycle.charge_temperature - _before_at(case, line.goal.speed)
    points = zip(cycle.power, warmer, strict=True)
    return np.asarray([colder_steps(before, float(P), volume, float(dT), a, b) for P, dT in points])


def _before_at(case: Case, speed: Array) -> Array:
    """Warmth of the charge of the engine before the turbo at these speeds [K]."""
    return np.interp(speed, case.baseline.speeds, case.baseline.result.charge_temperature)


def _steps_sd(needed: float) -> float:
    """Spread of the steps asked for: of the rule by power and by warmth, and of the steps themselves [-]."""
    step, power = electric_constant("plug", "step"), electric_constant("plug", "power_step")
    return math.hypot(step.value, needed * power.sd / power.value)
