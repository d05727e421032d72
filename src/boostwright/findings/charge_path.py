"""The charge air path and the exhaust of a case, computed along its operating lines: what their findings
read.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.findings.case import Case
from boostwright.findings.model import Amount, Finding, Kind, Phrase, Place, Reading
from boostwright.findings.registry import Rule
from boostwright.findings.sure import sure_demand
from boostwright.findings.worst import Line, worst_number
from boostwright.systems.charge_air.cooler import ChargeCooler, CoolingAir
from boostwright.systems.charge_air.line import (
    ChargeAirLine,
    ExhaustLine,
    SoakLine,
    charge_air_line,
    exhaust_line,
    soak_line,
)
from boostwright.systems.charge_air.passage import Origin, PartLoss, Passage
from boostwright.systems.charge_air.types import ChargeAir, ExhaustPipe
from boostwright.systems.stated.charge_air import charge_air_of
from boostwright.systems.stated.exhaust import exhaust_of

__all__ = [
    "Pipe",
    "amount",
    "assumed_part",
    "charge_air",
    "costliest",
    "exhaust_pipe",
    "flow_sd",
    "last_pull",
    "losses",
    "pull_speeds",
    "soak",
    "speed_finding",
    "tail",
    "wider",
]

Array = NDArray[np.float64]

_R_AIR = 287.05
_FLOW_SD = 0.04  # relative, of the air flow at a given boost [-]; judgement


def flow_sd(case: Case) -> float:
    """Relative standard deviation of the air flow at a given boost [-]."""
    return case.left(_FLOW_SD)


def amount(value: float, kind: Kind) -> Amount:
    """A number in a sentence, without a band."""
    return Amount(value, None, kind)


def charge_air(case: Case) -> ChargeAir:
    """The path that the build states; made once for a case."""
    if "charge_air" not in case.extra:
        case.extra["charge_air"] = charge_air_of(case.build)
    made: ChargeAir = case.extra["charge_air"]
    return made


def exhaust_pipe(case: Case) -> ExhaustPipe:
    """The exhaust that the build states; made once for a case."""
    if "exhaust_pipe" not in case.extra:
        case.extra["exhaust_pipe"] = exhaust_of(case.build)
    made: ExhaustPipe = case.extra["exhaust_pipe"]
    return made


def losses(case: Case, line: Line) -> ChargeAirLine:
    """Losses and Mach numbers from filter to plenum over the speeds of a line."""
    goal = line.goal
    return charge_air_line(
        charge_air(case),
        line.ambient_pressure,
        line.ambient_temperature,
        goal.result.air_flow,
        goal.plenum_pressure,
        goal.plenum_temperature,
        goal.compressor_outlet_temperature,
    )


def tail(case: Case, line: Line) -> ExhaustLine:
    """Loss and Mach number behind the turbine over the speeds of a line."""
    goal = line.goal
    return exhaust_line(
        exhaust_pipe(case),
        line.ambient_pressure,
        line.ambient_temperature,
        goal.result.air_flow,
        goal.result.fuel_flow,
        goal.turbine_inlet_temperature,
        goal.compressor_outlet_temperature,
    )


def pull_speeds(line: Line) -> NDArray[np.bool_]:
    """The speeds that a pull goes through: settled, from where the turbo gives most of its boost on."""
    goal = line.goal
    boost = np.where(goal.settled, goal.boost, -np.inf)
    return np.asarray(goal.settled & (goal.speed >= goal.speed[int(np.argmax(boost > 0.7 * np.max(boost)))]))


def soak(
    case: Case,
    line: Line,
    cooler: ChargeCooler,
    air: CoolingAir = CoolingAir.MOVING,
    pause_air: CoolingAir = CoolingAir.STANDING,
    outlet_rise: float = 0.0,
) -> SoakLine | None:
    """Pull after pull along a line; None where fewer than two speeds are left.

    outlet_rise: added to the compressor outlet temperature [K], to see what its spread does.
    """
    goal, pulled = line.goal, pull_speeds(line)
    if np.count_nonzero(pulled) < 2:
        return None
    hot = np.where(pulled, goal.compressor_outlet_temperature + outlet_rise, np.nan)
    return soak_line(
        replace(charge_air(case), cooler=cooler),
        line.ambient_temperature,
        goal.speed,
        goal.result.air_flow,
        hot,
        air,
        pause_air,
        line.ambient_pressure / (_R_AIR * line.ambient_temperature),
    )


def last_pull(case: Case, line: Line) -> Array:
    """Charge temperature over the speeds of the last pull [K]: on the road, with the car standing between
    pulls.

    Without a cooler it is the compressor's outlet temperature.
    """
    cooler = charge_air(case).cooler
    if cooler is None:
        return np.where(pull_speeds(line), line.goal.compressor_outlet_temperature, np.nan)
    found = soak(case, line, cooler)
    return np.full(line.goal.speed.shape, np.nan) if found is None else found.charge[-1]


def wider(case: Case, path: str, bore: float, factor: float) -> tuple[str, Amount]:
    """Words with a gap {bore} for a bore so many times as wide, and the amount for it: a bore where the file
    states one, else how much wider than it is.
    """
    if case.build.is_stated(path):
        return "of {bore} bore or more", amount(bore * factor, Kind.LENGTH)
    return "{bore} wider in bore", amount(factor - 1.0, Kind.SHARE)


def costliest(passages: tuple[Passage, ...], flow: float) -> PartLoss | None:
    """The part that costs most at a flow [kg/s]."""
    parts = [part for passage in passages for part in passage.parts]
    return max(parts, key=lambda part: float(part.at(flow, 1.0)), default=None)


def assumed_part(part: PartLoss | None) -> str:
    """A sentence where the part that decides is only a usual one."""
    if part is None or part.origin is not Origin.USUAL:
        return ""
    return f"Nobody stated the {part.name}; what is usual stands in."


def _bore_sd(case: Case, path: str) -> float:
    """Relative spread of a Mach number: flow, and twice that of the bore [-]."""
    stated = case.stated(path)
    if stated is None or not stated.value:
        return flow_sd(case)
    return math.hypot(flow_sd(case), 2.0 * (stated.sd or 0.0) / float(stated.value))


class Pipe(NamedTuple):
    """A pipe whose speed is judged."""

    what: str  # in words
    bore: float  # [m]
    path: str  # of its bore in the file
    limit: str  # key of the limit


def speed_finding(rule: Rule, case: Case, pipe: Pipe, mach: Callable[[Line], np.ndarray]) -> Finding | None:
    """The greatest Mach number of a pipe over every line, against its limit."""
    seen = worst_number(case, mach)
    if seen is None:
        return None
    value, found = seen
    limit = case.limits[pipe.limit]
    demand = Amount(value, value * _bore_sd(case, pipe.path), Kind.RATIO, "greatest Mach number")
    wanted = sure_demand(limit.amount, demand, rule.sense, rule.harm, relative=True)
    stated = case.build.is_stated(pipe.path)
    if value <= wanted or not math.isfinite(wanted):
        remedy = Phrase("Leave it as it is." if value <= wanted else "Measure the bore first.")
    else:
        remedy = Phrase(
            "Fit a bore of {bore} or more.",
            {"bore": amount(pipe.bore * math.sqrt(value / wanted), Kind.LENGTH)},
        )
    return rule.finding(
        demand,
        limit.amount,
        limit,
        place=Place(found.speed),
        corner=found.corner,
        cause=Phrase(
            f"{{flow}} of air pass {pipe.what}, {{bore}} in bore, at this speed.",
            {
                "flow": amount(float(found.goal.result.air_flow[found.place]), Kind.MASS_FLOW),
                "bore": amount(pipe.bore, Kind.LENGTH),
            },
        ),
        remedy=remedy,
        reading=Reading("Measure the pipe's outside with a calliper, and take off twice its wall.", 600.0),
        about=(pipe.path,),
        assumed="" if stated else f"Nobody stated the bore of {pipe.what}; a usual one stands in.",
    )
