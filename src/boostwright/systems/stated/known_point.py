"""The one known point of a compressor that a build may state, and what it did to the estimate, in words."""

from __future__ import annotations

import math
from typing import Final

from boostwright.build.document import Build
from boostwright.library import compressor_points as points_table
from boostwright.physics.compressor_anchor import KnownPoint, PointPlace, Reading, Touched

__all__ = ["known_point_of", "told"]

_SURPRISE: Final = 3.0  # standard deviations between a known point and the estimate
_FACTOR_WORDS: Final = {
    "choke": "largest flow",
    "surge": "surge flow",
    "head": "pressure made at a given speed",
    "efficiency": "efficiency",
}


def known_point_of(build: Build) -> tuple[KnownPoint | None, tuple[str, ...]]:
    """The one known point that the build states, and what was taken for granted about it."""
    flow = _reading(build, "turbo.known_flow")
    others = [
        _reading(build, path)
        for path in ("turbo.known_pressure_ratio", "turbo.known_speed", "turbo.known_efficiency")
    ]
    if flow is None:
        if all(one is None for one in others):
            return None, ()
        return None, (
            "A known point of the compressor needs its flow; without turbo.known_flow it is left out.",
        )
    table = points_table.points_band()
    warnings: tuple[str, ...] = ()
    T_ref, p_ref = build.get("turbo.map_reference_temperature"), build.get("turbo.map_reference_pressure")
    if T_ref is None or p_ref is None:
        flow = Reading(flow.value, math.hypot(flow.sd, table.unknown_reference_flow * flow.value))
        unsure = (
            "The reference state of the known compressor point is not stated whole; what is missing is taken "
            f"as {table.unknown_reference_temperature:.0f} K and "
            f"{table.unknown_reference_pressure / 1e3:.0f} kPa, and its flow counts as "
            f"{table.unknown_reference_flow:.0%} unsure. State turbo.map_reference_temperature and "
            "turbo.map_reference_pressure."
        )
        warnings = (unsure,)
    place = build.get("turbo.known_place")
    return (
        KnownPoint(
            place=PointPlace(str(place.value)) if place is not None else PointPlace.LINE,
            flow=flow,
            pressure_ratio=others[0],
            speed=others[1],
            efficiency=others[2],
            T_ref=float(T_ref.value) if T_ref is not None else table.unknown_reference_temperature,
            p_ref=float(p_ref.value) if p_ref is not None else table.unknown_reference_pressure,
        ),
        warnings,
    )


def _reading(build: Build, path: str) -> Reading | None:
    stated = build.get(path)
    return None if stated is None else Reading(float(stated.value), float(stated.sd))


def told(touched: tuple[Touched, ...], surprise: float) -> tuple[str, ...]:
    """What the known point did, and whether it is to be believed."""
    said = [
        f"{_FACTOR_WORDS[one.factor]} {100 * one.moved:+.0f} %, its spread from {100 * one.before:.0f} to "
        f"{100 * one.after:.0f} %"
        for one in touched
    ]
    sentences = (f"The known compressor point moved: {'; '.join(said)}.",) if said else ()
    if surprise <= _SURPRISE:
        return sentences
    doubt = (
        f"The known compressor point lies {surprise:.1f} standard deviations from what the wheel's sizes "
        "give. Check the diameters, the point's units and its reference state before you trust either."
    )
    return (*sentences, doubt)
