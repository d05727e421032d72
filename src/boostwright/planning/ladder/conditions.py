"""The engine at the condition of a step: the match run again in the day's air, by spring or goal."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass, field
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
from boostwright.findings.judgement import judged
from boostwright.findings.limit_edits import edits_of
from boostwright.findings.limited_pressure import Ceiling, knock_ceiling, strength_ceiling
from boostwright.findings.limits import Limits, shipped_limits
from boostwright.findings.model import Finding, Harm, Verdict
from boostwright.findings.oil_case import oil_side
from boostwright.findings.prepare import Progress, prepare
from boostwright.findings.registry import find_all
from boostwright.findings.worst import Line
from boostwright.planning.ladder.records import Air
from boostwright.systems.fuel_side import FuelParts, fuel_line
from boostwright.systems.oil import head_of

__all__ = [
    "Condition",
    "air_of",
    "any_day",
    "condition",
    "day_air",
    "limits_of",
    "on_spring",
    "sure_cut",
    "without_pulls",
]

Array = NDArray[np.float64]

_DAY_PRESSURE_SD: Final = 300.0  # of a barometer that was read [Pa]
_DAY_TEMPERATURE_SD: Final = 1.0  # of a thermometer in the shade [K]
_ANY_PRESSURE_SD: Final = 1.0e3  # of a barometer over the year, as the corners take it [Pa]
_ANY_TEMPERATURE_SD: Final = 9.0  # of the outside air over the year; field experience (judgement) [K]
_POWER_SD: Final = 0.08  # of computed boosted power, as findings on the goal take it [-]
_EFFECT_SD: Final = 10.0  # of a compressor outlet temperature [K]; as findings on the charge take it
_ABOUT_PULLS: Final = ("strength", "knock", "fuel", "exhaust", "turbo", "engine", "oil", "crankcase", "boost")
_CUTS: Final = frozenset({"boost.cut_knock", "boost.cut_strength", "failure.gate_hose", "failure.gate_stuck"})
_STEP: Final = 100.0 * math.pi / 30.0  # of the speeds along a pull [rad/s]


@dataclass(frozen=True, slots=True)
class Condition:
    """One condition of the engine over speed, (n,), and what gives out at it. SI.

    why_not: why there is no line; then the arrays are empty. light: plenum pressure of warm idle [Pa], NaN
    where no cycle carries itself. knock, strength: where either gives out. found: findings at this condition.
    sure_cut, sure_why: highest cut that the check allows on all days [Pa absolute], and for what.
    head: column in the turbo's drain [Pa], NaN where nothing of the drain is known.
    """

    air: Air
    limits: Limits
    why_not: str = ""
    case: Case | None = None
    speed: Array = field(default_factory=lambda: np.empty(0))
    pressure: Array = field(default_factory=lambda: np.empty(0))
    pressure_sd: Array = field(default_factory=lambda: np.empty(0))
    lam: Array = field(default_factory=lambda: np.empty(0))
    duty: Array = field(default_factory=lambda: np.empty(0))
    duty_sd: Array = field(default_factory=lambda: np.empty(0))
    rail: Array = field(default_factory=lambda: np.empty(0))  # across an injector [Pa]
    rail_set: Array = field(default_factory=lambda: np.empty(0))  # as the regulator ought to hold it [Pa]
    rail_sd: Array = field(default_factory=lambda: np.empty(0))
    intake: Array = field(default_factory=lambda: np.empty(0))
    intake_sd: Array = field(default_factory=lambda: np.empty(0))
    exhaust: Array = field(default_factory=lambda: np.empty(0))  # gas before the turbine [K]
    back: Array = field(default_factory=lambda: np.empty(0))  # exhaust pressure over boost, gauge [-]
    air_flow: Array = field(default_factory=lambda: np.empty(0))
    power: Array = field(default_factory=lambda: np.empty(0))
    crankcase: Array = field(default_factory=lambda: np.empty(0))
    crankcase_sd: float = math.nan  # relative [-]
    soak: float = math.nan  # intake at the end of the third pull [K]
    idle: float = math.nan
    head: float = math.nan
    air_sd: float = 0.09
    power_sd: float = _POWER_SD
    knock: Ceiling | None = None
    strength: Ceiling | None = None
    sure_cut: float = math.inf
    sure_why: str = "nothing"
    found: tuple[Finding, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def broken(self) -> tuple[Finding, ...]:
        """Findings on what a pull loads that break here and do harm."""
        return tuple(
            f
            for f in self.found
            if f.verdict is Verdict.BREAKS and f.harm >= Harm.DAMAGE and f.code.split(".")[0] in _ABOUT_PULLS
        )

    def along(self, values: Array, low: float, high: float) -> Array:
        """A quantity along a pull from low to high [rad/s], at equal steps."""
        return np.asarray(np.interp(self.speeds(low, high), self.speed, values))

    def speeds(self, low: float, high: float) -> Array:
        """The speeds of a pull [rad/s]."""
        return np.linspace(low, high, max(3, round((high - low) / _STEP) + 1))


def air_of(build: Build) -> Air:
    """The ordinary day of the build's place."""
    pressure, temperature = build["place.barometer"], build["place.temperature"]
    return Air(
        float(pressure.value),
        float(temperature.value),
        "on an ordinary warm day",
        float(pressure.sd or 0.0),
        float(temperature.sd or 0.0),
    )


def any_day(build: Build) -> Air:
    """The air of the build's place on some day of the year, which nobody read yet."""
    air = air_of(build)
    return air._replace(
        words="on any day of the year, for the air of today was not given",
        pressure_sd=math.hypot(air.pressure_sd, _ANY_PRESSURE_SD),
        temperature_sd=math.hypot(air.temperature_sd, _ANY_TEMPERATURE_SD),
    )


def day_air(pressure: float, temperature: float, words: str) -> Air:
    """Air that was read on the day [Pa, K]."""
    return Air(pressure, temperature, words, _DAY_PRESSURE_SD, _DAY_TEMPERATURE_SD)


def limits_of(build: Build) -> Limits:
    """The limits with the build's own changes."""
    return shipped_limits().edited(edits_of(build))


def without_pulls(build: Build, air: Air, why: str) -> Condition:
    """A condition without a line."""
    return Condition(air, limits_of(build), why)


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
        prepared = prepare(other, speeds, edits_of(build), progress)
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
        found = judged(build, None, (), progress, "").result.findings
    except BoostwrightError:
        return math.inf, "nothing"
    asked = [
        (f.remedy.amounts["sure"].value, f) for f in found if f.code in _CUTS and "sure" in f.remedy.amounts
    ]
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
        knock=knock_ceiling(case),
        strength=strength_ceiling(case),
        found=find_all(case),
    )


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
