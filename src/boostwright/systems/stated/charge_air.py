"""The charge air path that a build states: filter, pipes, cooler, throttle, volumes.

A stated loss or effectiveness is a reading and wins; sizes come next; what is usual for the class stands in
for the rest. Each part keeps its spread and where its figure comes from.
"""

from __future__ import annotations

import math
from typing import Final

from boostwright.build.document import Build
from boostwright.physics.atmosphere import air_viscosity
from boostwright.physics.pipes import (
    bend_loss,
    contraction_loss,
    darcy_friction,
    enlargement_loss,
    entrance_loss,
    pipe_reynolds,
    velocity_head,
)
from boostwright.systems.charge_air.passage import Origin, PartLoss, Passage
from boostwright.systems.charge_air.types import ChargeAir, Pulls
from boostwright.systems.stated.charge_cooler import cooler_of, core_size
from boostwright.systems.stated.full_load import FLOW_SPREAD, FullLoad, full_load_of, loss_and_spread
from boostwright.systems.stated.road import road_speed_of

__all__ = ["charge_air_of", "relative", "round_pipe", "stated_or_usual"]

R_AIR: Final = 287.05
USUAL_FLOW: Final = 0.15  # at which the class's usual losses are meant [kg/s]
TUBE_ROUGHNESS: Final = 0.01e-3  # aluminium tube and silicone hose [m]; judgement
FRICTION_SPREAD: Final = 0.10  # of the friction of a tube whose roughness is a guess [-]; judgement
BEND_SPREAD: Final = (
    0.35  # of the loss of bends close behind each other, from method to method [-] (rennels2012)
)
COUPLER: Final = 0.075  # loss coefficient of a hose coupler's step [-]; common practice, 0.05 to 0.1
COUPLER_SPREAD: Final = 0.4  # [-]
THROTTLE: Final = 0.3  # loss coefficient of an open plate and its shaft [-]; common practice, 0.2 to 0.4
THROTTLE_SPREAD: Final = 0.35  # of throttle and plenum entry together [-]; judgement
PLENUM_NECK: Final = 1.5  # width of the plenum behind the throttle over the throttle's bore [-]; judgement
FILTER_LOSS: Final = 1.2e3  # clean paper element in its box at 0.15 kg/s and 1.18 kg/m3 [Pa]; common practice
FILTER_SPREAD: Final = 0.5  # [-]; dirt, size and snorkel; judgement
TANK_WIDTH: Final = 0.06  # of a cooler's tank, across the core's end [m]; judgement
CORE_GAS: Final = 0.36  # share of a core's volume that the charge fills [-]; 6.5 of 15 mm layers less fins


def charge_air_of(build: Build) -> ChargeAir:
    """Filter, pipes, cooler and throttle, with the volumes that they hold."""
    load = full_load_of(build)
    bore, throttle = build.number("pipes.bore"), build.number("throttle.bore")
    cooler = cooler_of(build, load)
    hot, cold = _pipes(build, load, cooler is not None)
    volume, volume_sd = _volume(build, cooler is not None)
    plenum = build["pipes.plenum_volume"]
    inlet_bore = build.get("pipes.inlet_bore")
    return ChargeAir(
        inlet=_inlet(build, load),
        hot=hot,
        cold=cold,
        throttle=_throttle(build, load),
        cooler=cooler,
        bore=bore,
        inlet_bore=bore if inlet_bore is None else float(inlet_bore.value),
        throttle_bore=throttle,
        volume=volume,
        volume_sd=volume_sd,
        plenum_volume=float(plenum.value),
        plenum_volume_sd=float(plenum.sd),
        road_speed=road_speed_of(build),
        temperature_ratio=load.outlet_temperature / load.plenum_temperature,
        pulls=Pulls(build.number("cooler.pull_time"), build.number("cooler.pause_time")),
    )


def relative(build: Build, path: str) -> float:
    """Relative standard deviation of a field [-]; 0 for a value of zero."""
    value = build[path]
    return abs(float(value.sd) / float(value.value)) if value.value else 0.0


def stated_or_usual(
    build: Build,
    path: str,
    name: str,
    flow: float,
    density: float,
    usual_density: float,
    exponent: float = 2.0,
) -> PartLoss:
    """A loss that the file states, at the build's own greatest flow; or the class's usual one at 0.15 kg/s.

    The flow of a reading is only known as the greatest, so its spread counts too.
    """
    loss, spread = loss_and_spread(build, path)
    if build.is_stated(path):
        known = math.hypot(spread, exponent * FLOW_SPREAD)
        return PartLoss(name, loss, flow, density, exponent, known, Origin.READING)
    return PartLoss(name, loss, USUAL_FLOW, usual_density, exponent, spread, Origin.USUAL)


def round_pipe(
    name: str, bore: float, length: float, flow: float, density: float, temperature: float, roughness: float,
    spread: float, origin: Origin,
) -> PartLoss:  # fmt: skip
    """Friction of a round pipe as a power law about a flow; two calls of the friction factor give its slope.

    bore, length: [m]. flow: [kg/s]. density: [kg/m3]. temperature: of the gas [K]. roughness: [m]. spread:
    relative [-].
    """
    mu = float(air_viscosity(temperature))
    factors = [darcy_friction(float(pipe_reynolds(m, bore, mu)), roughness / bore) for m in (flow, flow / 2)]
    # rounded, so that `Passage` takes stretches of one kind together; 2 % at half the flow at most
    exponent = round(20 * (2.0 + math.log(factors[0] / factors[1]) / math.log(2.0))) / 20
    loss = factors[0] * length / bore * float(velocity_head(flow, bore, density))
    return PartLoss(name, loss, flow, density, exponent, spread, origin)


def _inlet(build: Build, load: FullLoad) -> Passage:
    """Filter and pipe before the compressor."""
    density = load.ambient_pressure / (R_AIR * load.ambient_temperature)
    if build.is_stated("pipes.filter_loss") or not build.is_stated("pipes.inlet_bore"):
        part = stated_or_usual(
            build, "pipes.filter_loss", "filter and inlet pipe", load.flow, density, density
        )
        return Passage.of(part)
    bore, length = build.number("pipes.inlet_bore"), build.number("pipes.inlet_length")
    mu = float(air_viscosity(load.ambient_temperature))
    reynolds = float(pipe_reynolds(load.flow, bore, mu))
    head = float(velocity_head(load.flow, bore, density))
    bends = build.number("pipes.inlet_bends") * bend_loss(bore, reynolds, 1.5, roughness=TUBE_ROUGHNESS)
    size = relative(build, "pipes.inlet_bore")
    friction = math.hypot(FRICTION_SPREAD, 5 * size, relative(build, "pipes.inlet_length"))
    fitting = math.hypot(BEND_SPREAD, 4 * size, relative(build, "pipes.inlet_bends"))
    made, flow = Origin.GEOMETRY, load.flow
    return Passage.of(
        PartLoss("filter", FILTER_LOSS, USUAL_FLOW, 1.18, 2.0, FILTER_SPREAD, Origin.USUAL),
        PartLoss("mouth of the inlet pipe", entrance_loss() * head, flow, density, 2.0, 0.3, made),
        round_pipe(
            "inlet pipe",
            bore,
            length,
            flow,
            density,
            load.ambient_temperature,
            TUBE_ROUGHNESS,
            friction,
            made,
        ),
        PartLoss("bends of the inlet pipe", bends * head, flow, density, 2.0, fitting, made),
    )


def _pipes(build: Build, load: FullLoad, cooled: bool) -> tuple[Passage, Passage]:
    """Charge pipes before and after the cooler, half of the length in each; all after the compressor
    without one.
    """
    cold_density = load.plenum_pressure / (R_AIR * load.plenum_temperature)
    hot_density = load.plenum_pressure / (R_AIR * load.outlet_temperature)
    if build.is_stated("pipes.loss") or not build.is_stated("pipes.bore"):
        usual_density = (101325.0 + 50.0e3) / (R_AIR * 320.0)
        part = stated_or_usual(build, "pipes.loss", "charge pipes", load.flow, cold_density, usual_density)
        if not cooled:
            return Passage.of(), Passage.of(part)
        half = part._replace(loss=part.loss / 2)
        # one reading for both halves: in the hot one the same flow costs more, in the cold one less
        share = 2 * hot_density / (hot_density + cold_density)
        hot = half._replace(name="hot charge pipes", density=part.density * share)
        return Passage.of(hot), Passage.of(
            half._replace(name="cold charge pipes", density=part.density * share)
        )
    halves = (0.5, 0.5) if cooled else (0.0, 1.0)
    tanks = cooled and _core_by_sizes(build)
    return (
        _stretch(build, load, "hot", hot_density, load.outlet_temperature, halves[0], tanks),
        _stretch(build, load, "cold", cold_density, load.plenum_temperature, halves[1], tanks),
    )


def _core_by_sizes(build: Build) -> bool:
    """Whether the core's loss comes from its sizes, so that the tanks have to be counted apart."""
    return core_size(build) is not None and not build.is_stated("cooler.pressure_loss")


def _stretch(
    build: Build, load: FullLoad, which: str, density: float, temperature: float, share: float, tank: bool
) -> Passage:
    """One stretch of charge pipe with its bends, couplers and the cooler's tank at its end."""
    if share == 0.0:
        return Passage.of()
    bore, flow = build.number("pipes.bore"), load.flow
    reynolds = float(pipe_reynolds(flow, bore, float(air_viscosity(temperature))))
    head = float(velocity_head(flow, bore, density))
    bend = bend_loss(bore, reynolds, build.number("pipes.bend_radius"), roughness=TUBE_ROUGHNESS)
    bends = share * build.number("pipes.bends") * bend
    couplers = share * build.count("pipes.couplers") * COUPLER
    size = relative(build, "pipes.bore")
    friction = math.hypot(FRICTION_SPREAD, 5 * size, relative(build, "pipes.length"))
    fitting = math.hypot(BEND_SPREAD, 4 * size, relative(build, "pipes.bends"))
    made = Origin.GEOMETRY
    parts = [
        round_pipe(
            f"{which} charge pipe",
            bore,
            share * build.number("pipes.length"),
            flow,
            density,
            temperature,
            TUBE_ROUGHNESS,
            friction,
            made,
        ),
        PartLoss(f"bends of the {which} charge pipe", bends * head, flow, density, 2.0, fitting, made),
        PartLoss(
            f"couplers of the {which} charge pipe", couplers * head, flow, density, 2.0, COUPLER_SPREAD, made
        ),
    ]
    if tank:
        wide = math.sqrt(4 / math.pi * TANK_WIDTH * build.number("cooler.depth"))
        loss = (
            enlargement_loss(bore, math.inf)
            if which == "hot"
            else contraction_loss(max(wide, 2 * bore), bore)
        )
        parts.append(PartLoss(f"cooler tank, {which} end", loss * head, flow, density, 2.0, 0.3, made))
    return Passage.of(*parts)


def _throttle(build: Build, load: FullLoad) -> Passage:
    """Open throttle: the step from the pipe, plate and shaft, and the way into the plenum."""
    bore, pipe = build.number("throttle.bore"), build.number("pipes.bore")
    density = load.plenum_pressure / (R_AIR * load.plenum_temperature)
    coefficient = contraction_loss(pipe, bore) + THROTTLE + enlargement_loss(bore, PLENUM_NECK * bore)
    loss = coefficient * float(velocity_head(load.flow, bore, density))
    if pipe < bore:
        loss += enlargement_loss(pipe, bore) * float(velocity_head(load.flow, pipe, density))
    stated = build.is_stated("throttle.bore")
    spread = math.hypot(THROTTLE_SPREAD, 4 * relative(build, "throttle.bore"))
    origin = Origin.GEOMETRY if stated else Origin.USUAL
    return Passage.of(PartLoss("open throttle", loss, load.flow, density, 2.0, spread, origin))


def _volume(build: Build, cooled: bool) -> tuple[float, float]:
    """Volume from compressor to throttle and its standard deviation [m3]."""
    pipe = math.pi / 4 * build.number("pipes.bore") ** 2 * build.number("pipes.length")
    pipe_sd = pipe * math.hypot(2 * relative(build, "pipes.bore"), relative(build, "pipes.length"))
    if not cooled:
        return pipe, pipe_sd
    size = core_size(build)
    if size is not None:
        width, height, depth = size
        core = CORE_GAS * width * height * depth + 2 * TANK_WIDTH * height * depth
        return pipe + core, math.hypot(pipe_sd, 0.25 * core)
    usual = 0.0045  # a 6.5 litre core with its tanks [m3]; judgement, half as much again or less
    return pipe + usual, math.hypot(pipe_sd, 0.5 * usual)
