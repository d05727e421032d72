"""Expected ranges of the engine itself: compression, breathing, oil, coolant, full load."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

import numpy as np

from boostwright.build.document import Build
from boostwright.findings.limit_edits import edits_of
from boostwright.findings.limits import Limit, shipped_limits
from boostwright.library.expected import expected_constant
from boostwright.library.oil import OilConstant, oil_constant, oil_grade
from boostwright.physics.friction import barnes_moss_fmep
from boostwright.physics.oil import kinematic_viscosity
from boostwright.physics.slider_crank import clearance_volume, cylinder_volume
from boostwright.planning.readings.ground import Expected, Ground
from boostwright.systems.oil.side import READ_AT
from boostwright.systems.stated.engine import engine_of, losses_of
from boostwright.systems.stated.oil import grade_of

__all__ = [
    "air_cold",
    "compression",
    "compression_wet",
    "coolant_cold",
    "coolant_drop",
    "crankcase_pressure",
    "fan_on_temperature",
    "full_load_air",
    "full_load_manifold",
    "full_load_torque",
    "idle_manifold_pressure",
    "idle_speed",
    "leak_down",
    "limit_of",
    "oil_pressure_3000",
    "oil_pressure_cold",
    "oil_pressure_idle",
    "oil_temperature",
]

_AIR: Final = 287.05  # gas constant of dry air [J/(kg K)]
_STOICHIOMETRIC: Final = 14.6  # air for a kilogram of petrol [-]
_OPEN_PUMPING: Final = 15e3  # mean effective pressure of pumping, motored at open throttle [Pa] (judgement)
_MIDDLE_GRADE: Final = "10W-40"  # the oil of the table's usual pressures (judgement)


def limit_of(build: Build, key: str) -> Limit:
    """A limit as `check` uses it: with the edits of the file."""
    return shipped_limits().edited(edits_of(build))[key]


def _spread(build: Build, path: str) -> float:
    sd = build[path].sd
    return float(sd or 0.0)


def _stated(build: Build, path: str, share: float = 0.0, fixed: float = 0.0) -> Expected | None:
    """The band around what the file itself states of the same thing; None where it states nothing."""
    if not build.is_stated(path):
        return None
    value = build[path]
    number = float(value.value)
    sd = math.hypot(float(value.sd or 0.0), share * number, fixed)
    return Expected.band(number, sd, "The file states it.", f"the build file, line {value.line}", (path,))


def _by_field(build: Build, path: str, fixed: float = 0.0) -> Expected:
    """The band around the field's stated or usual value."""
    value = build[path]
    sd = math.hypot(float(value.sd or 0.0), fixed)
    where = f"the build file, line {value.line}" if value.line else f"class default: {value.note}"
    return Expected.band(float(value.value), sd, "What the file states, else what is usual.", where, (path,))


def compression(ground: Ground) -> Expected:
    """p = p_air (V_closing/V_clearance)^n - p_air: the charge shut in when the intake valve closes."""
    build, n = ground.build, expected_constant("exponent")
    shape = engine_of(build)
    ratio = float(
        cylinder_volume(shape.intake.closes, shape.bore, shape.stroke, shape.rod, shape.compression_ratio)
        / clearance_volume(shape.bore, shape.stroke, shape.compression_ratio)
    )
    inside = build.barometer * ratio**n.value
    by_ratio = n.value * _spread(build, "engine.compression_ratio") / shape.compression_ratio
    by_cam = 0.5 * n.value * _spread(build, "engine.intake_closes")  # d ln V/d theta: 0.4 to 0.6 a rad there
    by_air = _spread(build, "place.barometer") / build.barometer
    relative = math.hypot(math.log(ratio) * n.sd, by_ratio, by_cam, by_air)
    found = Expected.band(
        inside - build.barometer,
        inside * relative,
        "Air of the place, pressed from the closing of the intake valve into the clearance.",
        n.source,
        ("engine.compression_ratio", "engine.intake_closes", "place.altitude"),
    )
    even = limit_of(build, "compression_evenness").amount.value
    return replace(found, even=even, even_from=build.barometer)


def compression_wet(ground: Ground) -> Expected:
    """Dry, as read if it was, times what a spoon of oil adds."""
    factor = expected_constant("oiled")
    air = ground.build.barometer
    dry = ground.others.get("compression")
    model = compression(ground)
    middle = model.middle or 0.0
    inside = air + (middle if dry is None else dry)
    sd = 0.0 if dry is not None else float(model.sd or 0.0) / inside
    why = "The dry reading and what oil adds to sound rings." if dry is not None else model.why
    return Expected.band(
        factor.value * inside - air,
        inside * math.hypot(factor.sd, factor.value * sd),
        why,
        factor.source,
        model.about,
    )


def leak_down(ground: Ground) -> Expected:
    """At most the limit of the finding on leak-down."""
    return _at_most(ground.build, "leak_down", "engine.leak_down")


def coolant_drop(ground: Ground) -> Expected:
    """At most the limit of the finding on the cooling system's hold."""
    return _at_most(ground.build, "coolant_hold", "engine.coolant_drop")


def _at_most(build: Build, key: str, path: str) -> Expected:
    limit = limit_of(build, key)
    return Expected(None, limit.amount.value, None, None, limit.record.reason, limit.record.source, (path,))


def air_cold(ground: Ground) -> Expected:
    """The air of the day, known only as that of the place."""
    day = expected_constant("cold_day")
    place = ground.build["place.temperature"]
    sd = math.hypot(float(place.sd or 0.0), day.sd)
    return Expected.band(
        float(place.value) + day.value, sd, "The place's ordinary day, with this morning's weather.",
        day.source, ("place.temperature",)
    )  # fmt: skip


def coolant_cold(ground: Ground) -> Expected:
    """The same as the air of a car that stood overnight; without that reading, the place's day."""
    air = ground.others.get("air_cold")
    if air is None:
        return air_cold(ground)
    pair = expected_constant("cold_pair")
    return Expected.band(
        air, pair.sd, "A cold car has one temperature: the air sensor's reading.", pair.source
    )


def idle_speed(ground: Ground) -> Expected:
    """The stated or usual idle speed."""
    own = expected_constant("idle_speed")
    return _by_field(ground.build, "engine.idle_speed", own.sd)


def idle_manifold_pressure(ground: Ground) -> Expected:
    """Plenum pressure at which the indicated work of the charge carries friction, pumping and loads.

    eta v p LHV/(14.6 R T) = fmep + load + p_air - p: charge of v p/(R T) of air a cubic metre, fuel
    of 1/14.6 of it. fmep: `barnes_moss_fmep` less the pumping of an open throttle that is in it. Error: 15 %.
    """
    build = ground.build
    eta, filling = expected_constant("idle_efficiency"), expected_constant("idle_filling")
    warm, load = expected_constant("idle_warming"), expected_constant("idle_load")
    speed = build.number("engine.idle_speed")
    air = build.barometer

    def plenum(eta_: float, filling_: float, warm_: float, load_: float, friction: float) -> float:
        T = build.number("place.temperature") + warm_
        work = eta_ * filling_ * build.number("fuel.heating_value") / (_STOICHIOMETRIC * _AIR * T)
        rubbing = friction * float(barnes_moss_fmep(speed)) - _OPEN_PUMPING
        return (rubbing + load_ + air) / (work + 1.0)

    at = (eta.value, filling.value, warm.value, load.value, 1.0)
    middle = plenum(*at)
    steps = (eta.sd, filling.sd, warm.sd, load.sd, 0.25)
    moved = [plenum(*(v + (s if i == k else 0.0) for i, v in enumerate(at))) for k, s in enumerate(steps)]
    return Expected.band(
        middle,
        math.hypot(*(m - middle for m in moved)),
        "Work of the charge against friction, pumping and the belt, at idle speed.",
        "barnesmoss1975, from memory; efficiency and filling at idle are judgement",
        ("engine.idle_speed", "place.altitude", "place.temperature"),
    )


def fan_on_temperature(ground: Ground) -> Expected:
    """A few kelvin over the coolant's temperature at load."""
    over = expected_constant("fan_over")
    at = ground.build["engine.coolant_temperature"]
    return Expected.band(
        float(at.value) + over.value,
        math.hypot(float(at.sd or 0.0), over.sd),
        "Fans switch a little above the thermostat's own temperature.",
        over.source,
        ("engine.coolant_temperature",),
    )


def _thickness(build: Build) -> float:
    """Viscosity of the stated oil over that of the usual one, at the temperature of the readings [-]."""
    grade, usual = grade_of(build), oil_grade(_MIDDLE_GRADE)
    if grade is None or usual is None:
        return 1.0
    own, middle = (float(kinematic_viscosity(READ_AT, g.at_40, g.at_100)) for g in (grade, usual))
    return own / middle


def _oil(ground: Ground, path: str, usual: OilConstant, power: float, limit: Limit) -> Expected:
    """What the file states of the same pressure, else the usual one with the oil's thickness; never below
    the limit.
    """
    least = limit.amount.value
    stated = _stated(ground.build, path, share=0.08)
    if stated is not None and stated.middle is not None:
        return Expected.band(
            stated.middle, stated.sd or 0.0, stated.why, stated.source, stated.about, at_least=least
        )
    times = _thickness(ground.build) ** power
    return Expected.band(
        usual.value * times,
        usual.sd * times,
        "Usual for such engines, with the thickness of the stated oil.",
        usual.source,
        ("oil.grade",),
        at_least=least,
    )


def oil_pressure_idle(ground: Ground) -> Expected:
    """At idle bearings alone make the pressure: it follows the oil's thickness."""
    usual = oil_constant("pressure", "idle")
    return _oil(ground, "engine.oil_pressure_idle", usual, 1.0, limit_of(ground.build, "oil_pressure_idle"))


def oil_pressure_3000(ground: Ground) -> Expected:
    """At 3000 rpm the relief valve has begun to open: it follows the oil's thickness in part."""
    usual, slide = oil_constant("pressure", "middle"), oil_constant("pressure", "slide")
    limit = limit_of(ground.build, "oil_pressure_3000")
    return _oil(ground, "engine.oil_pressure_3000", usual, slide.value, limit)


def oil_pressure_cold(ground: Ground) -> Expected:
    """The relief valve's pressure, stated or usual."""
    return _by_field(ground.build, "engine.oil_pressure_cold")


def oil_temperature(ground: Ground) -> Expected:
    """Stated or usual, and never where oil burns."""
    return _by_field(ground.build, "oil.temperature")


def crankcase_pressure(ground: Ground) -> Expected:
    """Stated or usual."""
    return _by_field(ground.build, "engine.crankcase_pressure")


def full_load_manifold(ground: Ground) -> Expected:
    """The air of the place less what filter, pipe and throttle of such an engine take at the top."""
    build, share = ground.build, expected_constant("full_load_loss")
    loss = losses_of(build).intake
    return Expected.band(
        build.barometer - share.value * loss,
        math.hypot(share.sd * loss, _spread(build, "place.barometer")),
        "Air of the place less the intake's loss.",
        share.source,
        ("place.altitude", "place.barometer"),
        at_most=build.barometer + 1000.0,
    )


def full_load_air(ground: Ground) -> Expected | None:
    """The engine model's greatest air flow before the turbo; None without a check."""
    if ground.result is None:
        return None
    share = expected_constant("full_load_air")
    most = float(np.nanmax(ground.result.baseline.result.air_flow))
    return Expected.band(
        most, share.sd * most, "The engine model before the turbo, at full load.", share.source,
        ("engine.bore", "engine.stroke")
    )  # fmt: skip


def full_load_torque(ground: Ground) -> Expected | None:
    """Torque curve of the file where it has one, else the engine model; None without either."""
    build = ground.build
    if build.is_stated("baseline.torque") and build.words("baseline.at") == "crank":
        roller, curve = expected_constant("roller"), build.numbers("baseline.torque")
        line = build["baseline.torque"].line
        return Expected.band(
            max(curve), roller.sd * max(curve), "The torque curve of the file.",
            f"the build file, line {line}; {roller.source}", ("baseline.torque",)
        )  # fmt: skip
    if ground.result is None:
        return None
    share = expected_constant("full_load_torque")
    most = float(np.nanmax(ground.result.baseline.result.torque))
    return Expected.band(
        most, share.sd * most, "The engine model before the turbo, at full load.", share.source,
        ("engine.bore", "engine.stroke", "engine.compression_ratio")
    )  # fmt: skip
