"""The charge cooler that a build states: by its sizes, by a reading, or as is usual."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.physics.atmosphere import air_viscosity
from boostwright.physics.cooler import (
    charge_effectiveness,
    core_conductance,
    core_reference_loss,
    face_velocity,
)
from boostwright.physics.heat_soak import CP_CHARGE, cooling_conductance, wall_effectiveness
from boostwright.physics.offset_fin import CoreFlows, bar_plate_core
from boostwright.physics.roots import bracketed_root
from boostwright.systems.charge_air.cooler import ChargeCooler, CoolingAir, CoolingCurve
from boostwright.systems.charge_air.passage import Origin, PartLoss, Passage
from boostwright.systems.stated.full_load import FLOW_SPREAD, FullLoad, loss_and_spread
from boostwright.systems.stated.road import road_speed_of

__all__ = ["cooler_of", "core_size"]

Array = NDArray[np.float64]

R_AIR: Final = 287.05
USUAL_FLOW: Final = 0.15  # at which the class's usual loss is meant [kg/s]
DERATING: Final = 0.55  # of an ideal core: uneven flow, tanks, slanting and warmed air [-]; judgement
CONDUCTANCE_SPREAD: Final = 0.18  # of a derated core, beside what the two estimates differ by [-]; judgement
WIND_SPREAD: Final = 0.25  # of the air's speed on the core [-]; judgement
LOSS_SPREAD: Final = 0.20  # of a core's loss, beside what the two estimates differ by [-]; judgement
STANDING_WIND: Final = 0.8  # on the core of a standing car, its own fans running [m/s]; judgement, 0.3 to 1.5
FAN_WIND: Final = 3.5  # before a bench's fan [m/s]; judgement, 2 to 5
LEAST_WIND: Final = 0.5  # on the road at walking pace [m/s]; judgement
HEAT: Final = 900.0  # of aluminium [J/(kg K)]; printed in any handbook
CORE_DENSITY: Final = (
    615.0  # mass over volume of a core with its tanks [kg/m3]: 4 kg for 6.5 litres; judgement
)
USUAL_MASS: Final = 4.0  # of a cooler whose size nobody stated [kg]; judgement, half as much again or less
STANDING_SHARE: Final = 0.2  # of the conductance to moving air that is left in standing air [-]; judgement
FAN_SHARE: Final = 0.7  # the same before a bench's fan [-]; judgement
WATER_EFFECTIVENESS: Final = (
    0.82  # of a water-cooled core against its water [-]; common practice, 0.75 to 0.9
)
WATER_RISE: Final = 15.0  # of the water over the air outside at full load [K]; common practice, 10 to 20
WATER_SD: Final = 0.08  # of the effectiveness that follows from the two [-]; judgement
WATER_HEAT: Final = 3.7e6  # of water with antifreeze [J/(m3 K)]; common practice
THINNING: Final = 0.7  # exponent of the outside air's density in the heat that it takes [-]; judgement
TUBE_FIN: Final = (0.875, 0.7)  # conductance and loss of tube and fin over bar and plate [-]; judgement


class Nose(NamedTuple):
    """How air reaches the core: pressure share and grille loss of `face_velocity` [-]; judgement."""

    share: float
    grille: float


OPEN_NOSE: Final = Nose(0.6, 5.0)
DUCTED_NOSE: Final = Nose(1.0, 1.0)
TOP_NOSE: Final = Nose(0.35, 12.0)  # through a scoop in the bonnet: 0.10 of the road speed


class _Core(NamedTuple):
    """A core by its sizes: estimates of both recipes at the flows of the table."""

    size: tuple[float, float, float]  # along the tubes, height, depth [m]
    factor: tuple[float, float]  # on conductance and loss, by construction [-]

    @property
    def volume(self) -> float:
        return math.prod(self.size)

    @property
    def face(self) -> float:
        return self.size[0] * self.size[1]


def cooler_of(build: Build, load: FullLoad) -> ChargeCooler | None:
    """The cooler; None where the build has none."""
    kind = build.words("cooler.type")
    if kind == "none":
        return None
    core = _core(build)
    mass = build.get("cooler.mass")
    if mass is not None:
        kilograms, spread = float(mass.value), max(float(mass.sd) / float(mass.value), 0.1)
    else:
        kilograms, spread = (USUAL_MASS, 0.5) if core is None else (CORE_DENSITY * core.volume, 0.3)
    heat = HEAT * kilograms
    if kind == "water":
        heat += WATER_HEAT * build.number("cooler.water_volume")
    cooling = _unsized(build, load) if core is None or kind == "water" else _sized(build, load, core)
    return ChargeCooler(
        loss=Passage.of(_core_loss(build, load, core)),
        curves=cooling.curves,
        sd=cooling.sd,
        heat_capacity=heat,
        heat_capacity_spread=spread,
        origin=cooling.origin,
        density=load.ambient_pressure / (R_AIR * load.ambient_temperature),
        thinning=cooling.thinning,
        volume=None if core is None else core.volume,
        water=kind == "water",
    )


def core_size(build: Build) -> tuple[float, float, float] | None:
    """Along the tubes, height and depth of the core [m]; None unless the file states all three."""
    sides = ("cooler.width", "cooler.height", "cooler.depth")
    if not all(build.is_stated(side) for side in sides):
        return None
    width, height, depth = (build.number(side) for side in sides)
    return width, height, depth


def _core(build: Build) -> _Core | None:
    size = core_size(build)
    if size is None:
        return None
    factor = TUBE_FIN if build.words("cooler.construction") == "tube-fin" else (1.0, 1.0)
    return _Core(size, factor)


def _core_loss(build: Build, load: FullLoad, core: _Core | None) -> PartLoss:
    """Loss of the core: a reading, the mean of two estimates from its sizes, or the usual one."""
    middle = 0.5 * (load.outlet_temperature + load.plenum_temperature)
    density = load.plenum_pressure / (R_AIR * middle)
    loss, spread = loss_and_spread(build, "cooler.pressure_loss")
    if build.is_stated("cooler.pressure_loss"):
        known = math.hypot(spread, 1.8 * FLOW_SPREAD)
        return PartLoss("cooler core", loss, load.flow, density, 1.8, known, Origin.READING)
    if core is None:
        usual_density = (101325.0 + 50.0e3) / (R_AIR * 340.0)
        return PartLoss("cooler core", loss, USUAL_FLOW, usual_density, 1.8, spread, Origin.USUAL)
    recipe = core_reference_loss(*core.size) * (load.flow / 0.15) ** 1.8 * 2.0 / density
    ideal = float(_ideal(core, np.array([load.flow]), np.array([1.0]), load).charge.loss[0])
    mean, apart = (recipe + ideal) / 2, abs(recipe - ideal) / 2
    spread = math.hypot(LOSS_SPREAD, apart / mean)
    return PartLoss("cooler core", core.factor[1] * mean, load.flow, density, 1.8, spread, Origin.GEOMETRY)


def _ideal(core: _Core, flow: Array, cooling: Array, load: FullLoad) -> CoreFlows:
    """The ideal core at charge flows and cooling flows [kg/s]."""
    middle = 0.5 * (load.outlet_temperature + load.plenum_temperature)
    rho = load.plenum_pressure / (R_AIR * middle)
    outside = load.ambient_pressure / (R_AIR * load.ambient_temperature)
    return bar_plate_core(
        flow,
        cooling,
        core.size,
        rho,
        outside,
        air_viscosity(middle),
        air_viscosity(load.ambient_temperature + 15.0),
    )


class _Cooling(NamedTuple):
    curves: dict[CoolingAir, CoolingCurve]
    sd: float
    origin: Origin
    thinning: float = THINNING


_TABLE: Final = np.geomspace(0.03, 2.0, 41)  # charge flow of the table over the build's greatest


def _unsized(build: Build, load: FullLoad) -> _Cooling:
    """A cooler known by its effectiveness alone: the same at every flow."""
    value = build["cooler.effectiveness"]
    steady, sd = float(value.value), float(value.sd)
    stated = build.is_stated("cooler.effectiveness")
    if build.words("cooler.type") == "water" and not stated:
        rise = max(load.outlet_temperature - load.ambient_temperature, 2 * WATER_RISE)
        steady, sd = WATER_EFFECTIVENESS * (1.0 - WATER_RISE / rise), WATER_SD
    flow = load.flow * _TABLE
    to_wall = 1.0 - 0.4 * (
        1.0 - steady
    )  # a usual core gives the charge somewhat less resistance than the air
    rate = load.flow * CP_CHARGE
    to_air = float(cooling_conductance(steady, to_wall, rate)) if steady > 0.0 else 0.0

    def curve(conductance: float | None) -> CoolingCurve:
        if conductance is None:
            return CoolingCurve(flow, np.full(flow.shape, steady), np.full(flow.shape, to_wall))
        less = conductance * to_wall / (flow * CP_CHARGE * to_wall + conductance)
        return CoolingCurve(flow, np.minimum(less, steady), np.full(flow.shape, to_wall))

    curves = {
        CoolingAir.MOVING: curve(None),
        CoolingAir.STANDING: curve(STANDING_SHARE * to_air),
        CoolingAir.FAN: curve(FAN_SHARE * to_air),
    }
    return _Cooling(curves, sd, Origin.READING if stated else Origin.USUAL)


def _sized(build: Build, load: FullLoad, core: _Core) -> _Cooling:
    """An air-cooled core by its sizes; where its effectiveness is stated too, the table passes through it."""
    flow = load.flow * _TABLE
    outside = load.ambient_pressure / (R_AIR * load.ambient_temperature)
    wind = _road_wind(build, load, core, flow)
    size = 1.0
    stated = build.is_stated("cooler.effectiveness")
    if stated:
        size = _size_that_gives(build.number("cooler.effectiveness"), core, load, wind, flow, outside)
    found = {}
    for air, speed in (
        (CoolingAir.MOVING, wind),
        (CoolingAir.STANDING, np.full(flow.shape, STANDING_WIND)),
        (CoolingAir.FAN, np.full(flow.shape, FAN_WIND)),
    ):
        cooling = speed * outside * core.face
        conductance, to_charge, _ = _conductance(core, flow, cooling, load)
        steady = charge_effectiveness(size * conductance, flow, cooling)
        found[air] = CoolingCurve(flow, steady, wall_effectiveness(size * to_charge, flow))
    if stated:
        sd = float(build["cooler.effectiveness"].sd)
        return _Cooling(found, sd, Origin.READING, _thinning(core, load, wind, flow, outside, size))
    sd = _spread(core, load, wind, flow, outside)
    return _Cooling(found, sd, Origin.GEOMETRY, _thinning(core, load, wind, flow, outside, 1.0))


def _road_wind(build: Build, load: FullLoad, core: _Core, flow: Array) -> Array:
    """Air speed on the face as the car rolls in the gear of a pull, over charge flow: the flow follows the
    engine speed [m/s].
    """
    nose = DUCTED_NOSE if build.flag("cooler.ducted") else OPEN_NOSE
    if build.words("cooler.position") == "top":
        nose = TOP_NOSE
    outside = load.ambient_pressure / (R_AIR * load.ambient_temperature)
    middle = 5.0  # on the face; the core's loss coefficient hardly hangs on it [m/s]
    air = _ideal(core, np.array([load.flow]), np.array([middle * outside * core.face]), load).air
    core_loss = float(air.loss[0]) / (outside * middle**2 / 2)
    engine_speed = load.speed * np.clip(flow / load.flow, 0.1, 1.1)
    wind = face_velocity(road_speed_of(build) * engine_speed, core_loss, nose.share, nose.grille)
    return np.maximum(wind, LEAST_WIND)


def _conductance(core: _Core, flow: Array, cooling: Array, load: FullLoad) -> tuple[Array, Array, Array]:
    """Conductance of the core as built in, that of its charge side, and half of what the two estimates
    differ by over their mean.
    """
    ideal = _ideal(core, flow, cooling, load)
    derated = DERATING * ideal.conductance
    front = core.size[1] * core.size[2] / (0.2 * 0.065)
    recipe = core_conductance(core.volume, flow, cooling, 0.15 * front, 4.0 * 1.16 * core.face)
    mean = (derated + recipe) / 2
    to_charge = core.factor[0] * mean * ideal.charge.conductance / ideal.conductance
    return core.factor[0] * mean, to_charge, np.abs(derated - recipe) / (2 * mean)


def _at_peak(
    core: _Core, load: FullLoad, wind: Array, flow: Array, outside: float
) -> tuple[float, float, float]:
    """Conductance, cooling flow and the estimates' difference at the build's greatest flow."""
    peak = np.array([load.flow])
    cooling = np.interp(peak, flow, wind) * outside * core.face
    conductance, _, apart = _conductance(core, peak, cooling, load)
    return float(conductance[0]), float(cooling[0]), float(apart[0])


def _size_that_gives(
    effectiveness: float, core: _Core, load: FullLoad, wind: Array, flow: Array, outside: float
) -> float:
    """Factor on the conductance at which the core has a stated effectiveness at the greatest flow [-].

    Between a quarter and four times the estimate; a reading beyond meets the nearer end, and its own spread
    covers the rest.
    """
    conductance, cooling, _ = _at_peak(core, load, wind, flow, outside)

    def excess(size: Array) -> Array:
        return charge_effectiveness(size * conductance, load.flow, cooling) - effectiveness

    return float(bracketed_root(excess, np.array([0.25]), np.array([4.0]), 1e-6).x[0])


def _spread(core: _Core, load: FullLoad, wind: Array, flow: Array, outside: float) -> float:
    """Standard deviation of the effectiveness at the greatest flow, from conductance and wind [-]."""
    conductance, cooling, apart = _at_peak(core, load, wind, flow, outside)
    middle = float(charge_effectiveness(conductance, load.flow, cooling))
    less = 1.0 - math.hypot(CONDUCTANCE_SPREAD, apart)
    weak_core = float(charge_effectiveness(less * conductance, load.flow, cooling))
    calm = (1.0 - WIND_SPREAD) * cooling
    weaker, _, _ = _conductance(core, np.array([load.flow]), np.array([calm]), load)
    weak_wind = float(charge_effectiveness(weaker[0], load.flow, calm))
    return math.hypot(middle - weak_core, middle - weak_wind)


def _thinning(core: _Core, load: FullLoad, wind: Array, flow: Array, outside: float, size: float) -> float:
    """Exponent of the outside air's density in the conductance from wall to air, about the greatest flow
    [-].
    """
    peak = np.array([load.flow])
    to_air = []
    for share in (1.0, 0.8):
        cooling = np.interp(peak, flow, wind) * share * outside * core.face
        conductance, to_charge, _ = _conductance(core, peak, cooling, load)
        steady = charge_effectiveness(size * conductance, peak, cooling)
        to_wall = wall_effectiveness(size * to_charge, peak)
        steady = np.minimum(steady, 0.99 * to_wall)
        to_air.append(float(cooling_conductance(steady, to_wall, peak * CP_CHARGE)[0]))
    return math.log(to_air[1] / to_air[0]) / math.log(0.8)
