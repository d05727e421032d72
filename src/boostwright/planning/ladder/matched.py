"""The match run again at the condition of a step: in the air of the day, on the spring or at the goal."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.build.values import Source, StatedValue
from boostwright.errors import BoostwrightError
from boostwright.findings.case import Case
from boostwright.findings.charge_path import last_pull
from boostwright.findings.crankcase_case import crankcase_line, crankcase_worst
from boostwright.findings.fuel_case import fuel_flow_sd, fuel_parts, fuel_spread, usual_line
from boostwright.findings.limit_edits import edits_of
from boostwright.findings.limited_pressure import Ceiling, knock_ceiling, strength_ceiling
from boostwright.findings.model import Finding, Harm, Verdict
from boostwright.findings.oil_case import oil_side
from boostwright.findings.prepare import Progress, prepare
from boostwright.findings.registry import find_all, rules
from boostwright.findings.worst import Line
from boostwright.planning.ladder.conditions import Broken, Condition, Gives, without_pulls
from boostwright.planning.ladder.records import Air
from boostwright.quantity import COVERAGE
from boostwright.systems.fuel_side import FuelParts, fuel_line
from boostwright.systems.oil import head_of

__all__ = ["condition", "conditions_for", "on_spring", "sure_cut", "sure_cut_in"]

Array = NDArray[np.float64]

_EFFECT_SD: Final = 10.0  # of a compressor outlet temperature [K]; as findings on the charge take it
_ABOUT_PULLS: Final = ("strength", "knock", "fuel", "exhaust", "turbo", "engine", "oil", "crankcase", "boost")
_CUTS: Final = frozenset({"boost.cut_knock", "boost.cut_strength", "failure.gate_hose", "failure.gate_stuck"})
_RODS: Final = "strength.full_boost"  # the finding that says from which speed the rods stand the boost
_MORE: Final = 5.0e3  # than the spring holds, from which the goal is a condition of its own [Pa]


def _silent(_: str) -> None:
    """Say nothing."""


def conditions_for(
    build: Build, air: Air, progress: Callable[[str], None] = _silent
) -> tuple[Condition, Condition | None]:
    """The engine on its spring, and at the boost asked for; None where that is no more than the spring."""
    progress("looking for the cut that holds on every day")
    cut, why = sure_cut(build, progress)
    progress("computing the pulls on the spring")
    spring = replace(condition(build, air, "spring", progress), sure_cut=cut, sure_why=why)
    held = spring.air.pressure + build.number("wastegate.spring")
    if spring.pressure.size:
        held = float(spring.pressure.max())
    wanted = air.pressure + build.number("goal.boost")
    if build.words("wastegate.control") == "spring" or wanted <= held + _MORE:
        return spring, None
    progress("computing the pull at the boost asked for")
    return spring, replace(condition(build, air, "goal", progress), sure_cut=cut, sure_why=why)


def _with(build: Build, values: dict[str, object], air: Air) -> Build:
    """The build with other values, in the air of the day, which is also the only corner."""
    stated = dict(build.values)
    values = {"place.barometer": air.pressure, "place.temperature": air.temperature, **values}
    sds = {"place.barometer": air.pressure_sd, "place.temperature": air.temperature_sd}
    for path, value in values.items():
        old = build.get(path)
        stated[path] = StatedValue(
            path, value, sds.get(path, 0.0), Source.CHOSEN, None, kind=None if old is None else old.kind
        )
    corner = {
        "name": StatedValue("corners[].name", "in the air of the day", 0.0, Source.CHOSEN),
        "temperature": StatedValue("corners[].temperature", air.temperature, 0.0, Source.CHOSEN),
    }
    tables = {**build.tables, "corners": (corner,)}
    return dataclasses.replace(build, values=stated, tables=tables, _defaults={})


def on_spring(build: Build, air: Air) -> Build:
    """The build with the control of its boost off, so that the spring alone holds it."""
    return _with(build, {"wastegate.control": "spring", "goal.boost": build.number("wastegate.spring")}, air)


def condition(
    build: Build, air: Air, load: str, progress: Progress = lambda _: None, speeds: Array | None = None
) -> Condition:
    """The engine on its spring ('spring') or at the boost asked for ('goal') in the day's air.

    speeds: crank speeds [rad/s], None for the usual ones. Runs the whole match once. Where that has no
    ground, the condition says so and has no line.
    """
    other = on_spring(build, air) if load == "spring" else _with(build, {}, air)
    try:
        prepared = prepare(other, speeds, edits_of(build), progress, arrival=False)
    except BoostwrightError as mishap:
        return without_pulls(build, air, str(mishap))
    case = prepared.case
    made = Condition(air, case.limits, case.no_goal, case, warnings=prepared.warnings)
    light = case.extra.get("light_loads")
    made = dataclasses.replace(
        made, idle=math.nan if light is None else float(light.plenum_pressure[0]), head=_head(case)
    )
    if case.goal is None or np.count_nonzero(case.goal.settled) < 2:
        why = case.no_goal or "The match settled at fewer than two speeds."
        return dataclasses.replace(made, why_not=why)
    return _along(made, case)


def sure_cut(build: Build, progress: Progress = lambda _: None) -> tuple[float, str]:
    """Highest boost cut that the check allows on all days of the build [Pa absolute], and which finding asks.

    The car that is released drives on all of them, so the ladder prints no other cut than the check does;
    infinite where the check names none.
    """
    try:
        case = prepare(build, None, edits_of(build), progress, arrival=False).case
    except BoostwrightError:
        return math.inf, "nothing"
    return sure_cut_in(case)


def sure_cut_in(case: Case) -> tuple[float, str]:
    """The same from a case that is at hand."""
    found = [finding for rule in rules() if rule.code in _CUTS and (finding := rule(case)) is not None]
    asked = [(f.remedy.amounts["sure"].value, f) for f in found if "sure" in f.remedy.amounts]
    if not asked:
        return math.inf, "nothing"
    value, finding = min(asked, key=lambda one: one[0])
    return value, f"so that it is low enough on every day of the build ({finding.code})"


def _head(case: Case) -> float:
    if not any(path.startswith("oil.drain") for path in case.build):
        return math.nan
    return float(head_of(oil_side(case)))


def _along(made: Condition, case: Case) -> Condition:
    goal = case.goal
    assert goal is not None
    line = Line(goal, case.corner, case.ambient_pressure, case.ambient_temperature)
    keep = goal.settled
    fuel = usual_line(case, line)
    flow_sd = fuel_flow_sd(case)
    gauge = goal.exhaust_pressure - case.ambient_pressure
    boost = np.maximum(goal.boost, 1.0)
    crank = crankcase_line(case, line)
    worst = crankcase_worst(case)
    third = last_pull(case, line)
    parts = fuel_parts(case)
    duty, rail = fuel.duty, fuel.difference
    where = [int(i) for i in np.flatnonzero(keep)]
    found = find_all(case)

    def moved(figure: str) -> Array:
        return np.array([fuel_spread(case, partial(_one, line=line, i=i, figure=figure)) for i in where])

    return dataclasses.replace(
        made,
        speed=goal.speed[keep],
        pressure=goal.plenum_pressure[keep],
        pressure_sd=goal.boost_sd[keep],
        lam=np.fmax(fuel.lam, goal.lam)[keep],
        duty=duty[keep],
        duty_sd=np.hypot(
            moved("duty"), (fuel.open_time / (fuel.open_time + fuel.dead_time) * duty)[keep] * flow_sd
        ),
        rail=rail[keep],
        rail_set=fuel.set_difference[keep],
        rail_sd=np.hypot(moved("difference"), _rail_boost_sd(parts, goal.boost_sd[keep])),
        intake=goal.plenum_temperature[keep],
        intake_sd=_intake_sd(case, goal.plenum_temperature[keep], goal.compressor_outlet_temperature[keep]),
        exhaust=goal.turbine_inlet_temperature[keep],
        back=(gauge / boost)[keep],
        air_flow=goal.result.air_flow[keep],
        power=goal.result.power[keep],
        crankcase=np.empty(0) if crank is None else np.asarray(crank.pressure)[keep],
        crankcase_sd=math.nan if worst is None or worst.value <= 0 else worst.sd / worst.value,
        soak=float(np.nanmax(third)) if np.isfinite(third).any() else math.nan,
        air_sd=math.hypot(flow_sd, float(np.max(goal.boost_sd[keep] / goal.plenum_pressure[keep]))),
        knock=_gives(knock_ceiling(case)),
        strength=_gives(strength_ceiling(case)),
        broken=tuple(Broken(f.subject, f.code) for f in found if _breaks_a_pull(f)),
        rods_from=next((_sure_speed(f) for f in found if f.code == _RODS), math.nan),
    )


def _gives(ceiling: Ceiling | None) -> Gives | None:
    if ceiling is None:
        return None
    return Gives(ceiling.amount.value, ceiling.amount.sd or 0.0, ceiling.words)


def _breaks_a_pull(finding: Finding) -> bool:
    return (
        finding.verdict is Verdict.BREAKS
        and finding.harm >= Harm.DAMAGE
        and finding.code.split(".")[0] in _ABOUT_PULLS
    )


def _sure_speed(finding: Finding) -> float:
    """Speed from which on the parts surely stand the boost [rad/s]."""
    capacity = finding.capacity
    return math.nan if capacity is None else capacity.value + COVERAGE * (capacity.sd or 0.0)


def _one(parts: FuelParts, line: Line, i: int, figure: str) -> Array:
    """A figure of the fuel side at one point, for parts that may be many sets."""
    goal = line.goal
    flow = goal.result.fuel_flow
    found = fuel_line(
        parts,
        flow[i],
        goal.plenum_pressure[i],
        goal.speed[i],
        line.ambient_pressure,
        goal.lam[i],
        full_flow=float(np.nanmax(np.where(goal.settled, flow, np.nan))),
    )
    return np.asarray(getattr(found, figure))


def _rail_boost_sd(parts: FuelParts, boost_sd: Array) -> Array:
    """Where the rail does not follow the plenum, what is not known of the boost is not known of it."""
    return boost_sd if parts.regulator.reference.value != "manifold" else np.zeros_like(boost_sd)


def _intake_sd(case: Case, plenum: Array, outlet: Array) -> Array:
    """Standard deviation of the charge temperature [K]: of the compressor's outlet, and of the cooler."""
    stated = case.stated("cooler.effectiveness")
    air = case.ambient_temperature
    rise = np.maximum(outlet - air, 1.0)
    passed = np.clip((plenum - air) / rise, 0.0, 1.0)
    cooler = 0.0 if stated is None else float(stated.sd or 0.0)
    return np.asarray(np.hypot(_EFFECT_SD * passed, cooler * rise))
