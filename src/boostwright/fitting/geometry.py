"""What valves, cams and runners that nobody knows exactly do to the charge, in the terms of the fit.

A fit moves three factors of breathing. They stand for all that shapes the charge over speed, ports and cams
too, which are unknowns of their own before a fit and none after it. So the factors must be allowed to move
by what both are unsure of.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.build.values import StatedValue
from boostwright.errors import BoostwrightError
from boostwright.library.unknowns import unknown_rules
from boostwright.systems.engine.cycle import CycleSolver
from boostwright.systems.engine.types import ModelFactors, OperatingPoints
from boostwright.systems.stated.engine import engine_of, fuel_of

__all__ = ["BreathingSpread", "breathing_spread"]

Array = NDArray[np.float64]

_MOST: Final = 0.4  # of the charge's logarithm: a part that does more is not the engine's (judgement)


class BreathingSpread(NamedTuple):
    """What the absorbed fields are unsure of, as breathing.

    covariance: (3, 3) of level, slope and curve. left: (n,) standard deviation of the charge's logarithm at
    each speed that no such curve follows. fields: those that count.
    """

    covariance: Array
    left: Array
    fields: tuple[str, ...]


def breathing_spread(build: Build, points: OperatingPoints, factors: ModelFactors) -> BreathingSpread:
    """Move each absorbed field by its spread and see what the charge does at the points of the run.

    build: the document. points: (n,) speeds and states. factors: of the model, whose range of speeds counts.
    A field whose move the engine cannot take is passed over.
    """
    speed = np.asarray(points.spread().speed)
    low, high = factors.breathing_range
    way = np.clip((speed - 0.5 * (low + high)) / (0.5 * (high - low)), -1.0, 1.0)
    shape = np.column_stack([np.ones_like(way), way, way**2])
    usual = _charge(build, points, factors)
    covariance, left, fields = np.zeros((3, 3)), np.zeros(speed.size), []
    for path in unknown_rules().absorbed:
        value = build.get(path)
        if value is None or not value.sd or isinstance(value.value, str | tuple):
            continue
        moved = replace(value, value=float(value.value) + float(value.sd))
        try:
            there = _charge(_with(build, path, moved), points, factors)
        except (BoostwrightError, ValueError):
            continue
        change = np.log(there / usual)
        if not np.all(np.abs(change) < _MOST):  # nor where it is none
            continue
        curve, *_ = np.linalg.lstsq(shape, change, rcond=None)
        covariance += np.outer(curve, curve)
        left += (change - shape @ curve) ** 2
        fields.append(path)
    return BreathingSpread(covariance, np.sqrt(left), tuple(fields))


def _with(build: Build, path: str, value: StatedValue) -> Build:
    if build.is_stated(path):
        return replace(build, values={**build.values, path: value})
    return replace(build, _defaults={path: value})


def _charge(build: Build, points: OperatingPoints, factors: ModelFactors) -> Array:
    """Air flow [kg/s] at the points."""
    return np.asarray(CycleSolver(engine_of(build), fuel_of(build), factors=factors).run(points).air_flow)
