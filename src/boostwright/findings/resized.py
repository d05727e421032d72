"""What another size would do: the compressor or the turbine housing solved again at one place of the line.

Answers are scaled so that the size in hand gives what the line says: only the change comes from the solve,
and whatever the line knows besides (pulses, a measured map) stays in it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from boostwright.errors import BoostwrightError
from boostwright.findings.case import Case
from boostwright.findings.worst import Line
from boostwright.physics.compressor import CompressorPoint, operating_point
from boostwright.physics.compressor_sizes import WheelMap
from boostwright.systems.engine.types import Fuel
from boostwright.systems.match import exhaust_gas
from boostwright.systems.stated.turbo import turbo_of
from boostwright.systems.turbo import Ambient, TurboParts, turbo_point

__all__ = [
    "Bench",
    "bench",
    "boost_where",
    "exducer_where",
    "housing_where",
    "inducer_where",
    "turbine_where",
]

_STEPS = 24  # of a halving; the last one is finer than any calliper
_MOST_SHARE = 1.6  # of the plenum pressure, up to which more boost is tried
_SCALE = (0.70, 1.45)  # sizes tried, over the one in hand
_WHEEL = (0.038, 0.095)  # exducers that the estimate from sizes stands on [m]
_TURBINE = (0.038, 0.085)  # turbine wheels that the estimate stands on [m]
_HOUSING = (0.00635, 0.0381)  # A/R that the estimate stands on [m]

Measure = Callable[[CompressorPoint], float]


class Bench(NamedTuple):
    """One place of one day's line, ready to be solved again."""

    parts: TurboParts
    fuel: Fuel
    air: Ambient
    inlet_pressure: float  # before the compressor [Pa]
    flow: float  # air [kg/s]
    fuel_flow: float  # [kg/s]
    ratio: float  # compressor pressure ratio [-]
    plenum: float  # [Pa absolute]
    exhaust: float  # manifold [Pa absolute]
    exhaust_temperature: float  # turbine inlet [K]
    lam: float  # [-]

    def compressor(self, scale: float = 1.0, share: float = 1.0) -> CompressorPoint:
        """The compressor of `scale` times the size in hand, trim kept, at `share` times the plenum pressure.

        Air flow and pressure ratio go with the plenum pressure: the engine breathes by density. Wheels of
        one shape share one chart in similarity variables; what small ones pass less is set right after it.
        """
        chart = self.parts.compressor_map
        point = operating_point(
            chart, scale * self.parts.exducer, share * self.flow, max(share * self.ratio, 1.001),
            self.air.temperature, self.inlet_pressure,
        )  # fmt: skip
        if not isinstance(chart, WheelMap) or scale == 1.0:
            return point
        larger = _small_wheel(chart, scale) / _small_wheel(chart, 1.0)
        return point._replace(surge_ratio=point.surge_ratio / larger, choke_ratio=point.choke_ratio / larger)

    def back_pressure(self, housing: float, scale: float = 1.0) -> float:
        """Exhaust pressure [Pa] with a turbine housing of this A/R [m] and a wheel of `scale` times the
        size.
        """
        now = self.parts.turbine
        turbine = now._replace(area_over_radius=housing, Dt=scale * now.Dt, Dex=scale * now.Dex)
        gas = exhaust_gas(self.fuel, np.array([self.lam]), np.array([self.exhaust_temperature]))
        point = turbo_point(
            replace(self.parts, turbine=turbine), self.air, np.array([self.flow]),
            np.array([self.fuel_flow]), np.array([self.plenum]), np.array([self.exhaust_temperature]), gas,
        )  # fmt: skip
        return float(point.exhaust_pressure[0])


def _small_wheel(chart: WheelMap, scale: float) -> float:
    """What a wheel passes below its similar larger sisters [-], see `compressor_sizes.flow_limits`."""
    recipe = chart.recipe
    return float(
        min(1.0, (scale * chart.wheel.D1 / recipe.small_wheel_diameter) ** recipe.small_wheel_exponent)
    )


def bench(case: Case, line: Line, i: int) -> Bench | None:
    """The place `i` of a line; None when the build has no turbo that can be solved again."""
    parts: TurboParts | None = case.extra.get("turbo_parts")  # as they were matched
    if parts is None:
        try:
            parts = turbo_of(case.build)
        except BoostwrightError:
            return None
    if parts is None:
        return None
    goal, air = line.goal, Ambient(line.ambient_pressure, line.ambient_temperature)
    flow = float(goal.result.air_flow[i])
    stated = getattr(goal, "compressor_inlet_pressure", None)
    if stated is None:
        density = air.pressure / (287.05 * air.temperature)
        inlet = air.pressure - float(parts.inlet.at(flow, density))
    else:
        inlet = float(stated[i])
    made = Bench(
        parts, case.fuel, air, inlet, flow, float(goal.result.fuel_flow[i]), float(goal.pressure_ratio[i]),
        float(goal.plenum_pressure[i]), float(goal.exhaust_pressure[i]),
        float(goal.turbine_inlet_temperature[i]), float(goal.lam[i]),
    )  # fmt: skip
    return made if all(math.isfinite(v) for v in made[3:]) else None


def _halve(wrong: Callable[[float], bool], good: float, bad: float) -> float | None:
    """The end of the good side between a good and a bad place; None when `good` is none or `bad` is good."""
    try:
        if wrong(good):
            return None
        if not wrong(bad):
            return bad
        for _ in range(_STEPS):
            middle = 0.5 * (good + bad)
            if wrong(middle):
                bad = middle
            else:
                good = middle
            if abs(good - bad) < 1e-3 * abs(good):
                break
    except BoostwrightError:
        return None
    return good


def _scales(place: Bench) -> tuple[float, float]:
    D2 = place.parts.exducer
    return max(_SCALE[0], _WHEEL[0] / D2), min(_SCALE[1], _WHEEL[1] / D2)


def _size_where(place: Bench, measure: Measure, value: float, wanted: float, at_most: bool) -> float | None:
    """Scale of the wheel at which a measure meets `wanted`; `value` is what the line says for scale 1."""
    here = measure(place.compressor())
    if not (here > 0.0 and value > 0.0 and math.isfinite(wanted)):
        return None

    def wrong(scale: float) -> bool:
        found = value * measure(place.compressor(scale)) / here
        return not (found <= wanted if at_most else found >= wanted)

    small, large = _scales(place)
    return _halve(wrong, *((large, small) if at_most else (small, large)))


def inducer_where(
    place: Bench, measure: Measure, value: float, wanted: float, at_most: bool, inducer: float
) -> float | None:
    """Inducer [m], trim kept, from which on (at most) or up to which (at least) a measure keeps `wanted`.

    measure: of a compressor point. value: what the line says for the wheel in hand. inducer: in hand [m].
    returns: None when no wheel on firm ground does it.
    """
    scale = _size_where(place, measure, value, wanted, at_most)
    return None if scale is None else scale * inducer


def exducer_where(place: Bench, measure: Measure, value: float, wanted: float) -> float | None:
    """The smallest exducer [m], trim kept, at which a measure stays at or below `wanted`; None for none."""
    scale = _size_where(place, measure, value, wanted, True)
    return None if scale is None else scale * place.parts.exducer


def boost_where(place: Bench, measure: Measure, value: float, wanted: float, at_most: bool) -> float | None:
    """The greatest boost [Pa above the day's air] at which a measure keeps `wanted`, at the same engine
    speed with the same parts; more than is reached where there is room. None when even no boost does not.
    """
    here = measure(place.compressor())
    if not (here > 0.0 and value > 0.0 and math.isfinite(wanted)):
        return None

    def wrong(share: float) -> bool:
        found = value * measure(place.compressor(1.0, share)) / here
        return not (found <= wanted if at_most else found >= wanted)

    least = 1.02 * place.air.pressure / place.plenum
    if not wrong(1.0):
        share = _halve(wrong, 1.0, _MOST_SHARE)
    else:
        share = None if least >= 1.0 else _halve(wrong, least, 1.0)
    return None if share is None else share * place.plenum - place.air.pressure


def housing_where(place: Bench, wanted: float) -> float | None:
    """The smallest A/R [m] of the turbine housing at which the exhaust pressure stays at or below `wanted`
    [Pa], with the wheel in hand; None when none on firm ground does.
    """
    return _turbine_where(place, wanted, place.back_pressure, _HOUSING)


def turbine_where(place: Bench, wanted: float) -> float | None:
    """The smallest turbine wheel, by its exducer [m], trim kept and the housing grown along, at which the
    exhaust pressure stays at or below `wanted` [Pa]; None when none on firm ground does.
    """
    now = place.parts.turbine
    span = max(_SCALE[0], _TURBINE[0] / now.Dt), min(_SCALE[1], _TURBINE[1] / now.Dt)
    scale = _turbine_where(
        place, wanted, lambda k: place.back_pressure(min(k * now.area_over_radius, _HOUSING[1]), k), span
    )
    return None if scale is None else scale * now.Dex


def _turbine_where(
    place: Bench, wanted: float, pressure: Callable[[float], float], span: tuple[float, float]
) -> float | None:
    try:
        here = place.back_pressure(place.parts.turbine.area_over_radius)
    except BoostwrightError:
        return None
    return _halve(lambda size: not place.exhaust * pressure(size) / here <= wanted, span[1], span[0])
