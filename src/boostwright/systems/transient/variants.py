"""What a transient is run for beside the middle case: each unknown on its slow side, and other turbines."""

from __future__ import annotations

from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np

from boostwright.library.transient import inertia_recipe
from boostwright.physics.turbine import TurbineSizes, effective_area, peak_turbine_efficiency
from boostwright.physics.turbine_unit import SizedTurbine, Turbine
from boostwright.systems.transient.records import TransientSetup
from boostwright.systems.turbo import TurboParts

__all__ = ["Blades", "Variant", "blades_of", "inertia_share", "other_turbines", "turbine_unit", "variants_of"]

_HOUSINGS: Final = (0.85, 0.7, 0.55)  # of the housing's A/R: what a smaller one would do
_WHEELS: Final = (0.9, 0.8)  # of the turbine wheel's diameter
_RATIOS: Final = np.linspace(0.40, 0.90, 501)  # blade speed ratios along which the best is sought


class Variant(NamedTuple):
    """One thing moved by one standard deviation to its slow side, or another turbine."""

    words: str
    parts: TurboParts
    inertia: float  # factor [-]
    start: float  # added to the walls' temperature [K]


def variants_of(turbo: TurboParts, setup: TransientSetup) -> tuple[Variant, ...]:
    """The middle first, then each unknown moved to its slow side."""
    moved = [Variant("", turbo, 1.0, 0.0)]
    for worse in turbo.one_deviation_worse():
        moved.append(Variant(_what_moved(turbo, worse), worse, 1.0, 0.0))
    moved.append(Variant("inertia of the shaft", turbo, 1 + setup.inertia_sd / setup.inertia, 0.0))
    moved.append(Variant("warmth of the exhaust walls", turbo, 1.0, -setup.start_temperature_sd))
    return tuple(moved)


def _what_moved(turbo: TurboParts, worse: TurboParts) -> str:
    if turbine_unit(worse).area != turbine_unit(turbo).area:
        return "flow area of the turbine"
    if blades_of(worse, worse).peak != blades_of(turbo, turbo).peak:
        return "efficiency of the turbine"
    if worse.turbine_factors.bearing != turbo.turbine_factors.bearing:
        return "friction of the bearings"
    return "the compressor"


def other_turbines(turbo: TurboParts) -> tuple[Variant, ...]:
    """Smaller housings on the same wheel, then smaller wheels of the same trim in the same housing."""
    sizes, low = turbo.turbine, turbo.turbine_recipe
    found = [
        sizes._replace(area_over_radius=sizes.area_over_radius * f)
        for f in _HOUSINGS
        if sizes.area_over_radius * f >= low.area_over_radius[0]
    ]
    found += [
        TurbineSizes(sizes.Dt * f, sizes.Dex * f, sizes.area_over_radius)
        for f in _WHEELS
        if sizes.Dt * f >= low.plausible_diameter[0]
    ]
    return tuple(Variant("", replace(turbo, turbine=s), 1.0, 0.0) for s in found)


class Blades(NamedTuple):
    """One turbine as a lane takes it."""

    area: float  # effective [m2]
    wheel: float  # inlet diameter [m]
    peak: float  # best efficiency [-]
    best: float  # blade speed ratio of it [-]


def turbine_unit(parts: TurboParts) -> Turbine:
    """The turbine by its map where there is one, else by its sizes."""
    known: Turbine | None = getattr(parts, "turbine_unit", None)
    factors = parts.turbine_factors
    return known or SizedTurbine(parts.turbine, parts.turbine_recipe, factors.area, factors.efficiency)


def blades_of(parts: TurboParts, usual: TurboParts) -> Blades:
    """A turbine of other sizes than the usual one: what the sizes change is added to what is known of it.

    Both kinds of turbine have their efficiency as a parabola over blade speed ratio; its top is found by
    looking along it.
    """
    unit, recipe = turbine_unit(parts), parts.turbine_recipe
    along = unit.efficiency(_RATIOS)
    top = int(np.argmax(along))
    now, before = parts.turbine, usual.turbine
    if now == before:
        return Blades(unit.area, unit.diameter, float(along[top]), float(_RATIOS[top]))
    unit = turbine_unit(usual)
    along = unit.efficiency(_RATIOS)
    wider = effective_area(now, recipe).effective / effective_area(before, recipe).effective
    better = float(peak_turbine_efficiency(now.Dt, recipe) - peak_turbine_efficiency(before.Dt, recipe))
    return Blades(
        unit.area * wider,
        unit.diameter * now.Dt / before.Dt,
        float(along.max()) + better,
        float(_RATIOS[top]),
    )


def inertia_share(turbo: TurboParts) -> float:
    """Share of the turbine wheel in the inertia: nickel is three times as heavy as aluminium [-]."""
    recipe = inertia_recipe()
    turbine = recipe.turbine * turbo.turbine.Dt**recipe.exponent
    compressor = recipe.compressor * turbo.exducer**recipe.exponent
    return float(turbine / (turbine + compressor))
