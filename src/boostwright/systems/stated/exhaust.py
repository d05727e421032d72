"""The exhaust behind the turbine that a build states: by a reading, by its sizes, or as is usual."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from boostwright.build.document import Build
from boostwright.physics.atmosphere import air_viscosity
from boostwright.physics.pipes import (
    bend_loss,
    channel_loss,
    contraction_loss,
    enlargement_loss,
    pipe_reynolds,
    velocity_head,
)
from boostwright.systems.charge_air.passage import Origin, PartLoss, Passage
from boostwright.systems.charge_air.types import ExhaustPipe
from boostwright.systems.stated.charge_air import USUAL_FLOW, relative, round_pipe
from boostwright.systems.stated.full_load import FLOW_SPREAD, FullLoad, full_load_of, loss_and_spread

__all__ = ["exhaust_of"]

R_GAS: Final = 288.0
HOT: Final = 950.0  # behind the turbine at full load, where losses are stated [K]; common practice
FUEL_SHARE: Final = 0.08  # fuel over air at full load [-]
ROUGHNESS: Final = 0.15e-3  # sooted, welded tube [m]; judgement
COOLER_LATER: Final = (
    0.85  # gas temperature over that behind the turbine, catalyst to tail pipe [-]; judgement
)
FRICTION_SPREAD: Final = 0.15  # [-]; judgement
BEND_SPREAD: Final = 0.35  # from method to method [-] (rennels2012)
BEND_RADIUS: Final = 1.5  # of exhaust bends over the bore [-]; common practice
DOWN_PIPE: Final = 0.25  # share of the length before the catalyst [-]; judgement
SILENCERS: Final = {  # loss coefficient of one silencer and its relative spread [-]
    "straight": (0.75, 0.35),  # common practice, 0.5 to 1 beside friction
    "chambered": (6.0, 0.30),  # common practice, 4 to 8
    "": (2.0, 0.75),  # of an unknown kind; judgement
}
BRICK_LENGTH: Final = 0.110  # of a catalyst's brick [m]; common practice
CELL: Final = 1.1e-3  # open width of a channel, 400 cells a square inch [m]; common practice
OPEN_SHARE: Final = 0.75  # of the brick's front [-]; common practice


def exhaust_of(build: Build) -> ExhaustPipe:
    """Down pipe, catalyst, silencers and tail pipe as one passage, told the density behind the turbine.

    A stated back pressure wins; else a stated bore gives it by sizes; else it is the usual one at 0.15 kg/s.
    """
    load = full_load_of(build)
    flow = load.flow * (1.0 + FUEL_SHARE)
    bore, down = build.number("exhaust.bore"), build.get("exhaust.downpipe_bore")
    narrow = bore if down is None else min(bore, float(down.value))
    stated = build.is_stated("exhaust.bore")
    if build.is_stated("exhaust.back_pressure") or not stated:
        loss, spread = loss_and_spread(build, "exhaust.back_pressure")
        origin = Origin.USUAL
        if build.is_stated("exhaust.back_pressure"):
            spread, origin = math.hypot(spread, 2 * FLOW_SPREAD), Origin.READING
        else:
            flow = USUAL_FLOW
        # density of the mean of the pressures at both ends, as the turbine side reckons
        density = (load.ambient_pressure + loss / 2) / (R_GAS * HOT)
        whole = PartLoss("exhaust", loss, flow, density, 2.0, spread, origin)
        return ExhaustPipe(Passage.of(whole), narrow, stated)
    return ExhaustPipe(_by_sizes(build, load, flow, bore), narrow, stated)


def _by_sizes(build: Build, load: FullLoad, flow: float, bore: float) -> Passage:
    """Loss of each part of the exhaust."""
    down = build.get("exhaust.downpipe_bore")
    first = bore if down is None else float(down.value)
    density = load.ambient_pressure / (R_GAS * HOT)
    length, bends = build.number("exhaust.length"), build.number("exhaust.bends")
    size = relative(build, "exhaust.bore")
    friction = math.hypot(FRICTION_SPREAD, 5 * size, relative(build, "exhaust.length"))
    fitting = math.hypot(BEND_SPREAD, 4 * size, relative(build, "exhaust.bends"))
    parts = []
    for name, d, share, warmth in (
        ("down pipe", first, DOWN_PIPE, 1.0),
        ("exhaust pipe", bore, 1.0 - DOWN_PIPE, COOLER_LATER),
    ):
        pipe = round_pipe(
            name,
            d,
            share * length,
            flow,
            density / warmth,
            warmth * HOT,
            ROUGHNESS,
            friction,
            Origin.GEOMETRY,
        )
        reynolds = float(pipe_reynolds(flow, d, float(air_viscosity(warmth * HOT))))
        each = bend_loss(d, reynolds, BEND_RADIUS, roughness=ROUGHNESS)
        bent = share * bends * each * float(velocity_head(flow, d, density / warmth))
        # told the density behind the turbine, cooler gas costs less
        parts.append(pipe._replace(density=density))
        parts.append(PartLoss(f"bends of the {name}", bent, flow, density, 2.0, fitting, Origin.GEOMETRY))
    head = float(velocity_head(flow, bore, density / COOLER_LATER))
    kind = build.get("exhaust.silencer_kind")
    coefficient, spread = SILENCERS["" if kind is None else str(kind.value)]
    silencers = build.count("exhaust.silencers") * coefficient * head
    silenced = math.hypot(spread, 4 * size)
    parts.append(PartLoss("silencers", silencers, flow, density, 2.0, silenced, Origin.GEOMETRY))
    if build.flag("exhaust.catalyst"):
        parts += _catalyst(build, flow, first, density)
    return Passage.of(*parts)


def _catalyst(build: Build, flow: float, bore: float, density: float) -> list[PartLoss]:
    """Brick of the catalyst and the cones at its ends."""
    volume = build.number("exhaust.catalyst_volume")
    front = volume / BRICK_LENGTH
    mu = float(air_viscosity(HOT))
    brick = float(channel_loss(flow, density, mu, front, BRICK_LENGTH, CELL, OPEN_SHARE))
    half = float(channel_loss(flow / 2, density, mu, front, BRICK_LENGTH, CELL, OPEN_SHARE))
    exponent = round(math.log(brick / half) / math.log(2.0), 2)
    spread = math.hypot(0.2, 1.5 * relative(build, "exhaust.catalyst_volume"))
    wide = float(np.sqrt(4 / np.pi * front))
    cones = (
        enlargement_loss(bore, wide) * 0.5 + contraction_loss(wide, bore) * 0.5
    )  # tapered: half of a sharp step
    loss = cones * float(velocity_head(flow, bore, density))
    return [
        PartLoss("catalyst", brick, flow, density, exponent, spread, Origin.GEOMETRY),
        PartLoss("cones of the catalyst", loss, flow, density, 2.0, 0.4, Origin.GEOMETRY),
    ]
