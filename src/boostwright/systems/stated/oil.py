"""Oil, drain, relief valve and breather that a build states, and what of them is uncertain."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final, NamedTuple

from boostwright.build.document import Build
from boostwright.library.oil import OilGrade, oil_constant, oil_grade
from boostwright.physics.relief_spring import solid_length, spring_rate
from boostwright.systems.oil import Breather, OilSide, bearing_by_bottle, bore_by_bottle

__all__ = [
    "Relief",
    "breather_of",
    "grade_of",
    "oil_side_of",
    "oil_uncertain_of",
    "pump_at_idle",
    "relief_of",
    "turbo_volume_of",
]

_USUAL_GRADE: Final = "10W-40"  # where nobody states one (judgement)
_UNKNOWN_GRADE_SD: Final = 0.30  # of the viscosity of an oil that nobody stated [-] (judgement)
_PLACES: Final = (
    "oil.temperature",
    "oil.drain_bore",
    "oil.drain_drop",
    "oil.drain_slope",
)
_PRESSURES: Final = {"engine.oil_pressure_idle": "idle", "engine.oil_pressure_3000": "middle"}
_WIRE, _TURNS, _FITTED = "oil.relief_wire", "oil.relief_turns", "oil.relief_fitted_length"
_THIN, _AIR, _LAW, _GROWTH, _SLIDE, _BEARING = "viscosity", "air", "law", "growth", "slide", "bearing"


def grade_of(build: Build) -> OilGrade | None:
    """The oil's grade; None where none is stated or the words hold none."""
    stated = build.get("oil.grade")
    return None if stated is None else oil_grade(str(stated.value))


def oil_uncertain_of(build: Build) -> dict[str, tuple[float, float]]:
    """What the oil side rests on: name -> value and standard deviation [SI]."""
    found = {}
    for path in _PLACES:
        stated = build[path]
        found[path] = (float(stated.value), float(stated.sd or 0.0))
    for path, name in _PRESSURES.items():
        read = build.get(path)
        usual = oil_constant("pressure", name)
        found[path] = (usual.value, usual.sd) if read is None else (float(read.value), float(read.sd or 0.0))
    bore = build.get("oil.feed_bore")
    if bore is not None:
        found["oil.feed_bore"] = (float(bore.value), float(bore.sd or 0.0))
    bottle = build.get("oil.turbo_flow")
    if bottle is not None:
        found["oil.turbo_flow"] = (float(bottle.value), float(bottle.sd or 0.0))
    else:
        bearing = oil_constant("bearing", build.words("turbo.bearing"))
        found[_BEARING] = (bearing.value, bearing.sd)
    thin = oil_constant("thinner", "sd").value if grade_of(build) is not None else _UNKNOWN_GRADE_SD
    found[_THIN] = (1.0, thin)
    air, law = oil_constant("drain", "air"), oil_constant("drain", "law")
    growth, slide = oil_constant("pressure", "growth"), oil_constant("pressure", "slide")
    found |= {
        _AIR: (air.value, air.sd),
        _LAW: (1.0, law.value),
        _GROWTH: (growth.value, growth.sd),
        _SLIDE: (slide.value, slide.sd),
    }
    return found


def oil_side_of(build: Build, instead: Mapping[str, float] | None = None) -> OilSide:
    """The oil side; instead: other values by the names of `oil_uncertain_of`.

    A bottle that fills faster than the stated bore lets oil through is believed before that bore: the least
    one that passes it stands in.
    """
    at = {name: value for name, (value, _) in oil_uncertain_of(build).items()} | dict(instead or {})
    grade = grade_of(build) or oil_grade(_USUAL_GRADE)
    assert grade is not None
    at_40, at_100 = at[_THIN] * grade.at_40, at[_THIN] * grade.at_100
    restrictor = at.get("oil.feed_bore", math.inf)
    idle = at["engine.oil_pressure_idle"]
    if "oil.turbo_flow" in at:
        flow = max(at["oil.turbo_flow"], 0.0)
        restrictor = max(restrictor, bore_by_bottle(flow, idle))
        bearing = bearing_by_bottle(flow, idle, restrictor, at_40, at_100)
    else:
        bearing = at[_BEARING]
    return OilSide(
        idle_speed=build.number("engine.idle_speed"),
        idle_pressure=idle,
        middle_pressure=at["engine.oil_pressure_3000"],
        growth=at[_GROWTH],
        top_speed=build.number("engine.speed_limit"),
        slide=at[_SLIDE],
        at_40=at_40,
        at_100=at_100,
        temperature=at["oil.temperature"],
        restrictor=restrictor,
        bearing=bearing,
        drain_bore=at["oil.drain_bore"],
        drain_slope=at["oil.drain_slope"],
        drain_drop=at["oil.drain_drop"],
        air=min(max(at[_AIR], 0.0), 0.95),
        law=at[_LAW],
    )


def pump_at_idle(build: Build) -> tuple[float, float]:
    """Flow of the engine's own oil pump at hot idle and its standard deviation [m3/s]."""
    pump = oil_constant("pump", "idle")
    turns = build.number("engine.idle_speed") / (2.0 * math.pi) * build.displacement
    return pump.value * turns, pump.sd * turns


def turbo_volume_of(build: Build) -> tuple[float, float]:
    """Oil that turbo, lines and cooler hold, and its standard deviation [m3]."""
    stated = build.get("oil.added_volume")
    if stated is not None:
        return float(stated.value), float(stated.sd or 0.0)
    turbo, cooler = oil_constant("volume", "turbo"), oil_constant("volume", "cooler")
    if not build.flag("oil.cooler"):
        return turbo.value, turbo.sd
    return turbo.value + cooler.value, math.hypot(turbo.sd, cooler.sd)


def breather_of(build: Build) -> Breather:
    """The way out of the crankcase."""
    heads = oil_constant("breather", "heads").value
    outlet = build.get("breather.outlet")
    if outlet is not None and outlet.value == "can":
        heads += oil_constant("breather", "can_heads").value
    return Breather(
        bore=build.number("breather.hose_bore"),
        length=build.number("breather.length"),
        hoses=build.count("breather.hoses"),
        heads=heads,
        temperature=oil_constant("breather", "temperature").value,
    )


class Relief(NamedTuple):
    """What is known of the relief valve: value and standard deviation [SI]; None where nobody measured."""

    shim: float  # [m]
    per_length: tuple[float, float]  # pressure for each metre of shim [Pa/m]
    measured: bool  # whether that comes from spring and plunger
    travel_left: tuple[float, float] | None  # with the shim, until the turns touch [m]
    port: tuple[float, float] | None  # travel that opens the port [m]
    open_at: tuple[float, float] | None  # pressure with the port open, without the shim [Pa]


def relief_of(build: Build) -> Relief:
    """The relief valve with its shim."""
    shim = build.number("oil.relief_shim")
    rate = _rate(build)
    plunger = _known(build, "oil.relief_plunger")
    usual = oil_constant("relief", "per_shim")
    per_length, measured = (usual.value, usual.sd), False
    if rate is not None and plunger is not None:
        area = 0.25 * math.pi * plunger[0] ** 2
        value = rate[0] / area
        per_length = (value, value * math.hypot(rate[1] / rate[0], 2.0 * plunger[1] / plunger[0]))
        measured = True
    fitted, wire, turns = (_known(build, path) for path in (_FITTED, _WIRE, _TURNS))
    left = None
    if fitted is not None and wire is not None and turns is not None:
        solid = float(solid_length(wire[0], turns[0]))
        sd = math.hypot(fitted[1], wire[0] * turns[1], (turns[0] + 2.0) * wire[1])
        left = (fitted[0] - shim - solid, sd)
    port, free = _known(build, "oil.relief_port_travel"), _known(build, "oil.relief_free_length")
    open_at = None
    if measured and fitted is not None and port is not None and free is not None:
        pressed = free[0] - fitted[0] + port[0]
        sd = math.hypot(per_length[1] * pressed, per_length[0] * math.hypot(free[1], fitted[1], port[1]))
        open_at = (per_length[0] * pressed, sd)
    return Relief(shim, per_length, measured, left, port, open_at)


def _rate(build: Build) -> tuple[float, float] | None:
    """Rate of the relief spring: as measured, else from wire, diameter and turns."""
    stated = _known(build, "oil.relief_rate")
    if stated is not None:
        return stated
    wire, outside, turns = (_known(build, path) for path in (_WIRE, "oil.relief_outside", _TURNS))
    if wire is None or outside is None or turns is None or outside[0] <= 2.0 * wire[0]:
        return None
    mean = outside[0] - wire[0]
    rate = float(spring_rate(wire[0], mean, turns[0]))
    relative = math.hypot(4.0 * wire[1] / wire[0], 3.0 * outside[1] / mean, turns[1] / turns[0])
    return rate, rate * relative


def _known(build: Build, path: str) -> tuple[float, float] | None:
    stated = build.get(path)
    return None if stated is None else (float(stated.value), float(stated.sd or 0.0))
