"""When boost arrives: pulls at a held engine speed and in the gears, with what is not known of the turbo in
the spread, and what a smaller housing or wheel would change."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import OutOfRange
from boostwright.physics.driveline import effective_mass, road_load
from boostwright.physics.turbine import (
    ExhaustGas,
)
from boostwright.systems.transient.charging import ChargeTable, charge_table
from boostwright.systems.transient.engine_surface import EngineSurface
from boostwright.systems.transient.records import (
    Arrival,
    Pull,
    PullRequest,
    Resized,
    TransientSetup,
)
from boostwright.systems.transient.spool import (
    Gate,
    Lanes,
    Run,
    State,
    Trace,
    run_lanes,
    surplus_at,
)
from boostwright.systems.transient.variants import (
    Variant,
    blades_of,
    inertia_share,
    other_turbines,
    turbine_unit,
    variants_of,
)
from boostwright.systems.turbo import Ambient, TurboParts, unboosted_plenum_pressure

__all__ = ["boost_arrival"]

Array = NDArray[np.float64]

_EASY_WORK: Final = 0.33  # indicated efficiency in easy driving; common practice, no source [-]
_EASY_HEAT: Final = 43e6  # of petrol [J/kg]
_EASY_RATIO: Final = 14.7  # air to fuel
_EASY_GEAR: Final = 3.0  # total ratio that stands in where no gear is in
_SCAN: Final = 60  # shaft speeds at which the balance of easy driving is scanned


def boost_arrival(
    turbo: TurboParts,
    ambient: Ambient,
    surface: EngineSurface,
    gas: ExhaustGas,
    setup: TransientSetup,
    requests: tuple[PullRequest, ...],
    reference: int = 0,
    with_spread: bool = True,
) -> Arrival:
    """Follow pulls from the opening of the throttle until boost is there, and tell how sure that is.

    The throttle opens at once and the plenum stands at the pressure without boost; the shaft turns as in easy
    driving, the exhaust walls are as warm as easy driving left them. The gate stays shut until its own
    balance opens it. Each thing that is not known is moved by one standard deviation to its slow side, alone;
    the delays are added in squares.

    turbo, ambient, gas, surface, setup: records. requests: the pulls. reference: index of the pull on which
    smaller housings and wheels are tried. with_spread: else no spread and no other turbines.

    Raises OutOfRange for no request, a reference that is not there, or a gear without car or torque. Error:
    30 % of the time from sizes, 10 % between two turbos in one car (judgement); the largest part is the
    turbine's efficiency far from its best point, which no map shows. The spread adds what is not known of
    these parts.
    """
    _check(surface, setup, requests, reference)
    variants = variants_of(turbo, setup) if with_spread else (Variant("", turbo, 1.0, 0.0),)
    others = other_turbines(turbo) if with_spread else ()
    table, maps = _tables(variants, ambient, setup)
    n = len(requests)
    every = [(v, m, r) for v, m in zip(variants, maps, strict=True) for r in requests]
    every += [(v, 0, requests[reference]) for v in others]
    lanes = _lanes(setup, every, turbo)
    run = _run(turbo, ambient, surface, gas, setup, table)
    shaft = setup.start_shaft or _easy_shaft(run, lanes, setup, requests[reference])
    goal = setup.goal_pressure - ambient.pressure
    until = ambient.pressure + setup.arrived * goal
    trace = run_lanes(run, lanes, _start(run, setup, every, shaft), setup.duration, setup.step, until)
    boost = trace.state.plenum - ambient.pressure
    there = np.array([_crossing(trace.time, b, setup.arrived * goal) for b in boost.T])
    speeds = np.array([np.interp(t, trace.time, c) for t, c in zip(there, trace.state.crank.T, strict=True)])
    grid = there[: n * len(variants)].reshape(len(variants), n)
    late = np.where(np.isnan(grid), trace.time[-1], grid)
    delays = np.maximum(late[1:] - late[0], 0.0)
    delay_speeds = np.maximum(speeds[: grid.size].reshape(grid.shape)[1:] - speeds[:n], 0.0)
    pulls = tuple(
        _pull(trace, boost, setup, goal, i, request, there[i], delays[:, i], delay_speeds[:, i], with_spread)
        for i, request in enumerate(requests)
    )
    tried = tuple(
        Resized(v.parts.turbine.area_over_radius, v.parts.turbine.Dt, float(there[k]), float(speeds[k]))
        for k, v in enumerate(others, start=grid.size)
    )
    unknowns = _shares(variants, delays[:, reference])
    same_wheel = tuple(r for r in tried if r.wheel == turbo.turbine.Dt)
    return Arrival(
        goal=goal,
        share=setup.arrived,
        pulls=pulls,
        reference=reference,
        inertia=setup.inertia,
        inertia_sd=setup.inertia_sd,
        volume=setup.volume,
        start_shaft=shaft,
        start_temperature=setup.start_temperature,
        turbine=Resized(
            turbo.turbine.area_over_radius,
            turbo.turbine.Dt,
            pulls[reference].arrival,
            pulls[reference].arrival_speed,
        ),
        housings=same_wheel,
        wheels=tuple(r for r in tried if r not in same_wheel),
        assumed=setup.car.assumed if setup.car else (),
        unknowns=unknowns,
    )


def _check(
    surface: EngineSurface, setup: TransientSetup, requests: tuple[PullRequest, ...], reference: int
) -> None:
    if not requests or not 0 <= reference < len(requests):
        raise OutOfRange("A transient needs at least one pull, and a reference among them.")
    if any(r.gear for r in requests) and (setup.car is None or not surface.has_torque):
        raise OutOfRange("A pull in a gear needs a car and an engine whose torque is known.")
    positive = (
        setup.inertia,
        setup.volume,
        setup.duration,
        setup.step,
        setup.gate_time,
        setup.start_temperature,
    )
    if not all(np.isfinite(v) and v > 0 for v in positive) or not all(r.start > 0 for r in requests):
        raise OutOfRange(
            "A transient needs a moment of inertia, a charge volume, a duration, a step, a gate lag, a wall "
            "temperature and starting speeds, each above zero."
        )


def _tables(
    variants: tuple[Variant, ...], ambient: Ambient, setup: TransientSetup
) -> tuple[ChargeTable, list[int]]:
    """One table with a sheet for each different compressor, and the sheet of each variant."""
    sheets: list[TurboParts] = []
    maps: list[int] = []
    for variant in variants:
        same = [k for k, s in enumerate(sheets) if s.compressor_map == variant.parts.compressor_map]
        if not same:
            sheets.append(variant.parts)
        maps.append(same[0] if same else len(sheets) - 1)
    return charge_table(tuple(sheets), ambient, setup.least_shaft), maps


def _lanes(setup: TransientSetup, every: list[tuple[Variant, int, PullRequest]], turbo: TurboParts) -> Lanes:
    """The lanes of all variants and pulls; a smaller turbine wheel takes its share of the inertia with it."""
    car = setup.car
    geared = [car.total_ratio(r.gear) if car and r.gear else 0.0 for _, _, r in every]
    blades = [blades_of(variant.parts, turbo) for variant, _, _ in every]
    share = inertia_share(turbo)
    inertia = [
        setup.inertia
        * variant.inertia
        * (1 + share * ((variant.parts.turbine.Dt / turbo.turbine.Dt) ** 5 - 1))
        for variant, _, _ in every
    ]
    area, wheel, peak, best = (np.array(column) for column in zip(*blades, strict=True))
    ratio = np.array(geared)
    m_eff = np.ones(ratio.shape) if car is None else effective_mass(car.mass, ratio, car.rotating)
    return Lanes(
        which=np.array([m for _, m, _ in every]),
        turbine_area=area,
        turbine_wheel=wheel,
        turbine_peak=peak,
        turbine_best=best,
        bearing=np.array([variant.parts.turbine_factors.bearing for variant, _, _ in every]),
        inertia=np.array(inertia),
        ratio=ratio,
        m_eff=m_eff,
        rate=np.array([r.rate for _, _, r in every]),
    )


def _run(
    turbo: TurboParts,
    ambient: Ambient,
    surface: EngineSurface,
    gas: ExhaustGas,
    setup: TransientSetup,
    table: ChargeTable,
) -> Run:
    return Run(
        parts=turbo,
        ambient=ambient,
        surface=surface,
        table=table,
        gas=gas,
        exponent=turbine_unit(turbo).exponent,
        lag=setup.lag,
        gate=_gate_of(setup),
        gate_time=setup.gate_time,
        goal=setup.goal_pressure,
        band=setup.gate_band * (setup.goal_pressure - ambient.pressure),
        step=setup.step,
        volume=setup.volume,
        least_speed=setup.least_shaft,
        top_speed=setup.top_speed,
        car=setup.car,
    )


def _gate_of(setup: TransientSetup) -> Gate | None:
    """The gate's own force balance, in the shape in which a run takes it."""
    area = setup.gate_area
    return None if area is None else lambda p: area(p.plenum, p.outlet, p.inlet, p.back)


def _start(
    run: Run, setup: TransientSetup, every: list[tuple[Variant, int, PullRequest]], shaft: float
) -> State:
    crank = np.array([r.start for _, _, r in every])
    walls = setup.start_temperature + np.array([v.start for v, _, _ in every])
    density = run.ambient.pressure / (287.05 * run.ambient.temperature)
    flow = 0.85 * density * run.surface.displacement * crank / (4 * np.pi)
    plenum = unboosted_plenum_pressure(run.parts, run.ambient, flow)
    n = crank.size
    return State(np.full(n, shaft), plenum, walls, walls.copy(), np.zeros(n), crank)


def _easy_shaft(run: Run, lanes: Lanes, setup: TransientSetup, request: PullRequest) -> float:
    """Shaft speed in easy driving at the engine speed of a pull: where its turbine just turns it [rad/s].

    The engine burns what road and friction take, at a plain indicated efficiency; the throttle takes whatever
    pressure the compressor makes.
    """
    values = run.surface.at(np.array([request.start]), run.surface.pressure[:1])
    friction = float(values[4, 0]) * run.surface.displacement * request.start / (4 * np.pi)
    road, car = 0.0, setup.car
    if car is not None:
        ratio = car.total_ratio(request.gear) if request.gear else _EASY_GEAR
        v = request.start * car.radius / ratio
        density = run.ambient.pressure / (287.05 * run.ambient.temperature)
        road = float(road_load(v, car.mass, car.drag_area, car.rolling, density)) * v / car.efficiency
    fuel = (np.nan_to_num(friction) + road) / (_EASY_WORK * _EASY_HEAT)
    if fuel <= 0:
        return setup.least_shaft
    return _balance(run, lanes, setup, fuel)


def _balance(run: Run, lanes: Lanes, setup: TransientSetup, fuel: float) -> float:
    """Greatest shaft speed at which turbine power still covers compressor and bearings at a small flow."""
    air = _EASY_RATIO * fuel
    shaft = np.linspace(setup.least_shaft, 0.5 * run.table.speed[-1], _SCAN)
    surplus = surplus_at(run, lanes, shaft, air, air + fuel, setup.start_temperature)
    enough = np.flatnonzero(surplus >= 0)
    return float(shaft[enough[-1]]) if enough.size else setup.least_shaft


def _crossing(time: Array, boost: Array, level: float) -> float:
    """First time at which boost reaches a level, straight between steps; NaN if it does not."""
    above = np.flatnonzero(boost >= level)
    if above.size == 0:
        return float("nan")
    k = int(above[0])
    if k == 0:
        return float(time[0])
    return float(np.interp(level, boost[k - 1 : k + 1], time[k - 1 : k + 1]))


def _pull(
    trace: Trace,
    boost: Array,
    setup: TransientSetup,
    goal: float,
    lane: int,
    request: PullRequest,
    arrival: float,
    delays: Array,
    delay_speeds: Array,
    with_spread: bool,
) -> Pull:
    crank = trace.state.crank[:, lane]
    there = bool(np.isfinite(arrival))
    known = there and with_spread
    at_top = bool(crank[-1] >= setup.top_speed)
    peak = float(np.max(boost[:, lane]))
    return Pull(
        gear=request.gear,
        start=request.start,
        time=trace.time,
        boost=boost[:, lane],
        crank=crank,
        shaft=trace.state.shaft[:, lane],
        arrival=arrival,
        arrival_sd=float(np.sqrt(np.sum(delays**2))) if known else float("nan"),
        arrival_speed=float(np.interp(arrival, trace.time, crank)) if there else float("nan"),
        arrival_speed_sd=float(np.sqrt(np.sum(delay_speeds**2))) if known else float("nan"),
        peak=peak,
        overshoot=max(0.0, peak - goal),
        ends_at_top=at_top,
    )


def _shares(variants: tuple[Variant, ...], delays: Array) -> tuple[tuple[str, float], ...]:
    total = float(np.sum(delays**2))
    if total <= 0:
        return ()
    named = [(v.words, float(d**2) / total) for v, d in zip(variants[1:], delays, strict=True)]
    return tuple(sorted(named, key=lambda pair: -pair[1]))
