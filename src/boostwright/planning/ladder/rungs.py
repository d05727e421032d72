"""The steps made for this build: where a pull begins and ends, its cut, and whether it may be gone."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from boostwright.build.document import Build
from boostwright.findings.model import Amount, Kind, Phrase
from boostwright.findings.notes import caution
from boostwright.job.records import Reading
from boostwright.library.ladder import StepTable, ladder_steps, what_on_stop
from boostwright.library.measurements import measurements
from boostwright.physics.driveline import road_speed_at
from boostwright.planning.ladder.asked import Asked
from boostwright.planning.ladder.conditions import Condition
from boostwright.planning.ladder.crew import crew_of, people_there
from boostwright.planning.ladder.expected import expected_of
from boostwright.planning.ladder.records import Air, Expected, PullLine, Rung
from boostwright.quantity import COVERAGE, write
from boostwright.systems.stated.road import USUAL_GEARING, rolling_radius_of

__all__ = ["Setting", "rungs_of", "setting_of"]

_RPM: Final = math.pi / 30.0
_LOWEST: Final = (
    2500.0 * _RPM
)  # from which a pull begins where nothing asks for more (common practice) [rad/s]
_LOWEST_UNKNOWN: Final = 2800.0 * _RPM  # the same where nobody knows the rods (judgement)
_BELOW_LIMIT: Final = 300.0 * _RPM  # the top of a pull below the speed limit (common practice)
_SHORTEST: Final = 800.0 * _RPM  # a pull shorter than this says nothing
_ABOVE_BAND: Final = 10.0e3  # of the cut above what a pull surely reaches [Pa] (common practice)
_PAST_CUT: Final = 6.0e3  # gained before the fuel stops [Pa] (judgement, as the findings on the cut take it)
_SENSOR_SD: Final = 0.015  # of a stated full scale [-] (common practice, no source)
_TEST_CUT: Final = 4.0e3  # of the live test below the outside air [Pa]
_LOW_CUT: Final = 15.0e3  # of the first drive above the outside air [Pa] (common practice)
_MORE: Final = 5.0e3  # than the spring, from which a goal counts as more [Pa]


@dataclass(frozen=True, slots=True)
class Setting:
    """What is set for the pulls: speeds [rad/s], cut [Pa absolute], gear and road speed per crank speed [m].

    low: from where; top: to where the last one goes. cut: where it stands; caps: what keeps it down, lowest
    first. why_low: what sets the lowest speed.
    """

    low: float
    top: float
    cut: float
    cap: float
    cap_why: str
    gear: int
    way: float
    why_low: str


def _down(pressure: float) -> float:
    """To whole kPa, never up: a cut is a most."""
    return math.floor(pressure / 1e3) * 1e3


def _round_up(speed: float) -> float:
    return math.ceil(speed / _RPM / 100.0 - 1e-6) * 100.0 * _RPM


def setting_of(build: Build, made: Condition, pressure_sd: float) -> Setting:
    """Speeds, gear and cut of the pulls at one condition. pressure_sd: of the sensor that is read [Pa]."""
    low, why = _lowest(build, made)
    top = build.number("engine.speed_limit") - _BELOW_LIMIT
    reached = _LOW_CUT + made.air.pressure
    if made.speed.size and top > low:
        along, sds = made.along(made.pressure, low, top), made.along(made.pressure_sd, low, top)
        i = int(np.argmax(along))
        reached = float(along[i]) + COVERAGE * math.hypot(float(sds[i]), pressure_sd, made.air.pressure_sd)
    cap, cap_why = _cap(build, made)
    gear, way = _gear(build)
    least = made.air.pressure - _TEST_CUT  # a cut below the outside air would stop the engine at cruise
    cut = max(min(reached + _ABOVE_BAND, cap), least)
    return Setting(low, top, cut, cap, cap_why, gear, way, why)


def _lowest(build: Build, made: Condition) -> tuple[float, str]:
    """Lowest speed of a pull, and what sets it: never full throttle where the rods do not stand it."""
    speed, why = _LOWEST, "below, a pull loads the rods most and says little (common practice)"
    rods = build.is_stated("engine.rods")
    if not rods:
        speed, why = _LOWEST_UNKNOWN, "nobody said what the rods are (judgement)"
    if made.rods_from > speed:
        speed, why = made.rods_from, "below, the rods do not surely stand the boost"
    return _round_up(speed), why


def _cap(build: Build, made: Condition) -> tuple[float, str]:
    """Highest pressure at which the cut may stand [Pa absolute], and what asks for it."""
    caps = [(math.inf, "nothing"), (made.sure_cut, made.sure_why)]
    for ceiling in (made.knock, made.strength):
        if ceiling is not None:
            sure = ceiling.pressure - ceiling.sd - _PAST_CUT
            caps.append(
                (sure, f"so that {ceiling.words} are spared" if ceiling.words != "knock" else "before knock")
            )
    if build.is_stated("pressure_sensor.highest"):
        highest = build["pressure_sensor.highest"]
        sd = math.hypot(float(highest.sd or 0.0), _SENSOR_SD * float(highest.value))
        caps.append((float(highest.value) - 2.0 * sd, "within what the pressure sensor can see"))
    else:
        unknown = made.limits["sensor_unknown"].amount
        caps.append((unknown.value, "a pressure sensor whose range nobody stated may end there"))
    if build.is_stated("controller.boost_cut"):
        caps.append((build.number("controller.boost_cut"), "the cut that the build file states"))
    return min(caps)


def _gear(build: Build) -> tuple[int, float]:
    """Gear of a pull, and road speed over crank speed in it [m]."""
    gears, final = build.get("car.gears"), build.get("car.final_drive")
    gear = build.count("car.test_gear")
    if gears is None or final is None:
        return gear, USUAL_GEARING
    gear = min(gear, len(gears.value))
    ratio = float(gears.value[gear - 1]) * float(final.value)
    return gear, float(road_speed_at(1.0, ratio, rolling_radius_of(build)))


def _span(step: StepTable, setting: Setting) -> tuple[float, float] | None:
    if step.load not in ("spring", "goal"):
        return None
    if step.reach >= 1.0:
        return setting.low, setting.top
    return setting.low, _round_up(setting.low + step.reach * (setting.top - setting.low))


# -------------------------------------------------------------------------------------------------- the steps


def rungs_of(
    build: Build,
    spring: Condition,
    goal: Condition | None,
    before: Mapping[str, Mapping[str, Reading]],
    cold: Air | None = None,
) -> tuple[Rung, ...]:
    """Every step for this build.

    spring, goal: the engine at both conditions; goal None where the build asks for no more than its spring.
    before: for each step the newest standing readings of what was read before it, by measurement.
    cold: the air that the engine stands in at the first step; None for that of the conditions.
    """
    known = measurements()["pull_peak"].repeat
    sd = 0.0 if known is None else known.at(spring.air.pressure)
    on_spring = setting_of(build, spring, sd)
    at_goal = on_spring if goal is None else setting_of(build, goal, sd)
    made = []
    for number, step in enumerate(ladder_steps(), 1):
        more = step.load == "goal"
        condition = goal if more and goal is not None else spring
        setting = at_goal if more else on_spring
        air = cold if number == 1 and cold is not None else condition.air
        span = _span(step, setting)
        read = dict(before.get(step.key, {}))
        asked = Asked(build, air, condition, read, step, span, setting.top, setting.cut)
        made.append(_rung(number, asked, setting, at_goal, goal is None))
    return tuple(made)


def _rung(number: int, asked: Asked, setting: Setting, at_goal: Setting, no_more: bool) -> Rung:
    build, made, step, span = asked.build, asked.condition, asked.step, asked.span
    expected = tuple(expected_of(asked, row) for row in step.reads)
    amounts = _amounts(build, made.air, setting, at_goal, span)
    return Rung(
        key=step.key,
        number=number,
        words=_filled(step.words, amounts),
        tasks=step.tasks,
        task=step.task,
        people=people_there(build, step),
        do=tuple(_filled(text, amounts) for text in (*crew_of(build, step), *step.do)),
        watch=step.watch,
        stop=step.stop,
        on_stop=what_on_stop()[step.on_stop],
        evidence=step.evidence,
        cautions=tuple(caution(key) for key in step.cautions),
        concerns=step.concerns,
        critical=step.critical,
        expected=expected,
        barred=_barred(step, made, setting, span, expected, no_more),
        speeds=span,
        line=_line(made, span),
    )


def _filled(text: str, amounts: Mapping[str, Amount]) -> Phrase:
    return Phrase(text, {name: amount for name, amount in amounts.items() if f"{{{name}}}" in text})


def _amounts(
    build: Build, air: Air, setting: Setting, at_goal: Setting, span: tuple[float, float] | None
) -> dict[str, Amount]:
    low, high = span if span is not None else (setting.low, setting.top)

    def pressure(value: float) -> Amount:
        return Amount(round(value, -3), None, Kind.PRESSURE_ABSOLUTE)

    def road(speed: float) -> Amount:
        return Amount(speed * setting.way, None, Kind.ROAD_SPEED)

    return {
        "spring": Amount(build.number("wastegate.spring"), None, Kind.PRESSURE_GAUGE),
        "goal": Amount(build.number("goal.boost"), None, Kind.PRESSURE_GAUGE),
        "gear": Amount(float(setting.gear), None, Kind.COUNT),
        "from": Amount(low, None, Kind.ENGINE_SPEED),
        "to": Amount(high, None, Kind.ENGINE_SPEED),
        "from_road": road(low),
        "to_road": road(high),
        "cut": pressure(_down(setting.cut)),
        "goal_cut": pressure(_down(at_goal.cut)),
        "low_cut": pressure(air.pressure + _LOW_CUT),
        "test_cut": pressure(air.pressure - _TEST_CUT),
        "idle": Amount(build.number("engine.idle_speed"), None, Kind.ENGINE_SPEED),
        "octane": Amount(build.number("fuel.octane"), None, Kind.OCTANE),
    }


def _barred(
    step: StepTable,
    made: Condition,
    setting: Setting,
    span: tuple[float, float] | None,
    expected: tuple[Expected, ...],
    no_more: bool,
) -> tuple[str, ...]:
    """Why the step may not be gone at all: no ground, something that breaks there, limits out of order."""
    if step.load == "goal" and no_more:
        return ("the build asks for no more boost than its spring holds",)
    why = [] if span is None else _no_pull(made, setting, span)
    for one in expected:
        why += _out_of_order(one)
    return tuple(why)


def _no_pull(made: Condition, setting: Setting, span: tuple[float, float]) -> list[str]:
    if made.why_not:
        return [f"no line with the turbo could be computed: {made.why_not}"]
    why = []
    if made.broken:
        names = "; ".join(f"{f.subject} ({f.code})" for f in made.broken)
        why.append(f"the check says that this breaks already at this boost: {names}")
    if setting.cap < made.air.pressure:
        why.append(f"the cut would stand below the outside air, {setting.cap_why}")
    if span[1] - span[0] < 0.3 * _SHORTEST or setting.top - setting.low < _SHORTEST:
        why.append(
            f"from {setting.low / _RPM:.0f} rpm ({setting.why_low}) to {setting.top / _RPM:.0f} rpm"
            f" is no pull"
        )
    return why


def _out_of_order(one: Expected) -> list[str]:
    """Range, limit and what the parts stand must rise in this order, else a pull ends where it should not."""
    measured = measurements()[one.measurement]
    if measured.dimension is None or one.low is None or one.high is None:
        return []

    def say(value: float) -> str:
        assert measured.dimension is not None
        return write(value, measured.unit, measured.dimension, digits=3)

    why = []
    name = measured.words[0].lower() + measured.words[1:]
    if one.stop_high is not None and one.high > one.stop_high.value + 1e-9:
        why.append(
            f"{name} may well reach {say(one.high)}, and the step is broken off at {say(one.stop_high.value)}"
            f" ({one.stop_high.why}){_narrower(one, one.stop_high.value - 1e-9, say)}"
        )
    if one.stop_low is not None and one.low < one.stop_low.value - 1e-9:
        why.append(
            f"{name} may well fall to {say(one.low)}, and the step is broken off at {say(one.stop_low.value)}"
            f" ({one.stop_low.why})"
        )
    if one.stands is not None and one.stop_high is not None and one.stop_high.value >= one.stands.value:
        why.append(
            f"{name}: it would be broken off at {say(one.stop_high.value)} only, and at"
            f" {say(one.stands.value)}"
            f" {one.stands.why}"
        )
    return why


def _narrower(one: Expected, most: float, say: Callable[[float], str]) -> str:
    """That the middle lies inside, so that better knowledge may settle it; '' where it does not."""
    if one.middle is None or one.middle >= most:
        return ""
    return (
        f"; likeliest is {say(one.middle)}: a reading with a smaller '+/-' of what it rests on may settle it"
    )


def _line(made: Condition, span: tuple[float, float] | None) -> PullLine | None:
    if span is None or made.speed.size < 2 or span[1] <= span[0]:
        return None

    def row(values: np.ndarray) -> tuple[float, ...]:
        return tuple(float(v) for v in made.along(values, *span))

    return PullLine(
        speed=tuple(float(v) for v in made.speeds(*span)),
        pressure=row(made.pressure),
        pressure_sd=row(made.pressure_sd),
        lam=row(made.lam),
        duty=row(made.duty),
        duty_sd=row(made.duty_sd),
        intake=row(made.intake),
        intake_sd=row(made.intake_sd),
        air_flow=row(made.air_flow),
        power=row(made.power),
        air_sd=made.air_sd,
        power_sd=made.power_sd,
    )
