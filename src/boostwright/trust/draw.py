"""One draw of a sampled check: the whole check at one set of values, kept as plain numbers.

A draw keeps what is left of a finding's spread beside its room, so that its probability is exact for what
was not drawn, and the arrays over speed from which bands are made.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.errors import BoostwrightError
from boostwright.findings.case import Case, GoalLine
from boostwright.findings.form import MIDDLE, Form
from boostwright.findings.fuel_case import usual_line
from boostwright.findings.limits import LimitEdit
from boostwright.findings.model import Finding, Sense
from boostwright.findings.prepare import prepare
from boostwright.findings.registry import find_all
from boostwright.findings.worst import lines
from boostwright.systems.corners import Begin
from boostwright.systems.transient.records import Arrival
from boostwright.trust.unknowns import drawn_build, drawn_form

__all__ = ["Draw", "Request", "Side", "curves_of", "draw", "side_of"]

Array = NDArray[np.float64]

_LEAST_BOOST = 0.1e5  # below it exhaust over plenum pressure says nothing [Pa above the outside air]
_CYCLE = (
    "torque",
    "power",
    "bmep",
    "air_flow",
    "fuel_flow",
    "volumetric_efficiency",
    "peak_pressure",
    "ca50",
    "exhaust_manifold_temperature",
    "residual",
)
_LINE = (
    "boost",
    "plenum_pressure",
    "plenum_temperature",
    "exhaust_pressure",
    "used_spark",
    "flow_over_surge",
    "flow_over_choke",
    "tip_speed",
    "shaft_speed",
    "pressure_ratio",
    "compressor_outlet_temperature",
    "turbine_inlet_temperature",
)


@dataclass(frozen=True, slots=True)
class Side:
    """What one finding came to in one draw [SI]: both sides and what is left of their spreads."""

    demand: float
    demand_sd: float
    capacity: float
    capacity_sd: float
    room: float  # positive when it holds
    limit: str  # whose spread the capacity's is
    corner: str
    speed: float  # [rad/s]; NaN without a place

    @property
    def holds(self) -> float:
        """Probability that it holds, given this draw [-]."""
        sd = math.hypot(self.demand_sd, self.capacity_sd)
        if sd == 0.0:
            return 1.0 if self.room >= 0.0 else 0.0
        return 0.5 * math.erfc(-self.room / (sd * math.sqrt(2.0)))


@dataclass(frozen=True, slots=True)
class Draw:
    """One draw. findings: code -> sides, those that can be told. curves: name -> array over speed or time.
    trouble: why nothing could be computed; '' when it could.
    """

    findings: Mapping[str, Side] = field(default_factory=dict)
    curves: Mapping[str, Array] = field(default_factory=dict)
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class Request:
    """What every draw of one sampled check shares.

    build: as stated. names: of the unknowns. speeds: crank speeds (n,) [rad/s]. edits: limits that a person
    changed. times: of each pull, at which its boost is kept [s]. begin: where every match begins.
    """

    build: Build
    names: tuple[str, ...]
    speeds: Array
    edits: tuple[LimitEdit, ...]
    times: tuple[Array, ...] = ()
    begin: Begin | None = None


def draw(request: Request, values: Array) -> Draw:
    """The whole check at one set of values. values: (d,) [SI] in the order of the names. Never raises for
    what the models refuse; the draw then says so.
    """
    form = drawn_form(request.names, values)
    try:
        prepared = prepare(
            drawn_build(request.build, request.names, values),
            request.speeds,
            request.edits,
            form=form,
            begin=request.begin,
        )
        case = prepared.case
        sides = {f.code: side for f in find_all(case) if (side := side_of(f)) is not None}
        return Draw(sides, curves_of(case, request.times, form), case.no_goal)
    except BoostwrightError as mishap:
        return Draw(trouble=str(mishap))
    except (ArithmeticError, ValueError, IndexError) as mishap:  # said in the report; the rest is kept
        return Draw(trouble=f"the program itself went wrong ({type(mishap).__name__}: {mishap})")


def side_of(finding: Finding) -> Side | None:
    """The numbers of a finding; None when a side is not known."""
    demand, capacity = finding.demand, finding.capacity
    if demand is None or capacity is None or not (demand.known and capacity.known):
        return None
    sign = 1.0 if finding.sense is Sense.AT_MOST else -1.0
    speed = finding.place.speed
    return Side(
        demand.value,
        demand.sd or 0.0,
        capacity.value,
        capacity.sd or 0.0,
        sign * (capacity.value - demand.value),
        finding.limit.key if finding.limit.key != "computed" else finding.code,
        finding.corner,
        math.nan if speed is None else float(speed),
    )


def curves_of(case: Case, times: tuple[Array, ...] = (), form: Form = MIDDLE) -> dict[str, Array]:
    """The arrays of a case by name; see `_CYCLE` and `_LINE`. times: of each pull [s]. form: of the models,
    by which the spark is off.
    """
    found = dict(_named("baseline", case.baseline.result, _CYCLE))
    top = case.build.number("engine.speed_limit")
    off = form.spark_off(case.baseline.speeds, top)
    found["baseline.used_spark"] = np.asarray(case.baseline.used_spark + off, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        thirst = case.baseline.result.fuel_flow / case.baseline.result.power
    found["baseline.fuel_per_work"] = np.asarray(thirst, dtype=np.float64)
    if case.goal is None:
        return found
    for i, line in enumerate(lines(case)):
        name = "goal" if i == 0 else f"corner {line.corner}"
        found |= _line(name, line.goal)
        found[f"{name}.used_spark"] += form.spark_off(line.goal.speed, top)
        fuel = usual_line(case, line)
        found[f"{name}.duty"] = np.asarray(fuel.duty, dtype=np.float64)
        found[f"{name}.pump_margin"] = np.asarray(fuel.pump_margin, dtype=np.float64)
    if case.strength is not None:
        found |= _named("hardest", case.strength.result, ("peak_pressure",))
    if case.arrival is not None:
        found |= _pulls(case.arrival, times)
    return found


def _line(name: str, goal: GoalLine) -> dict[str, Array]:
    return (
        dict(_named(name, goal, _LINE))
        | dict(_named(name, goal.result, _CYCLE))
        | {
            f"{name}.exhaust_over_plenum": np.where(
                goal.boost >= _LEAST_BOOST, goal.exhaust_pressure / goal.plenum_pressure, np.nan
            )
        }
    )


def _named(name: str, record: Any, fields: tuple[str, ...]) -> Iterator[tuple[str, Array]]:
    for key in fields:
        yield f"{name}.{key}", np.array(getattr(record, key), dtype=np.float64)


def _pulls(arrival: Arrival, times: tuple[Array, ...]) -> dict[str, Array]:
    found = {}
    for i, (pull, time) in enumerate(zip(arrival.pulls, times, strict=False)):
        found[f"pull {i}.boost"] = np.interp(time, pull.time, pull.boost)
    return found
