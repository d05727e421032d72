"""What a pressure test of the charge pipes says: the hole that lets so much out, and its cost at boost."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange
from boostwright.physics.atmosphere import R_DRY_AIR
from boostwright.physics.coupler import leak_area
from boostwright.physics.nozzle import nozzle_flow

__all__ = ["HOLE_COEFFICIENT", "Leak", "LeakTest", "hole_diameter", "leak_flow", "leak_of"]

Array = NDArray[np.float64]

GAMMA: Final = 1.4
HOLE_COEFFICIENT: Final = (
    0.7  # discharge of a hole with sharp edges, 0.6 to 0.8 [-]; common practice, no source
)
_CORRELATED: Final = 0.3  # share of a gauge's error that both readings have in common [-]; judgement


class LeakTest(NamedTuple):
    """One pressure test: readings with their standard deviations. SI, pressures above the outside air."""

    volume: float  # under pressure [m3]
    volume_sd: float
    start: float  # [Pa gauge]
    end: float  # [Pa gauge]
    pressure_sd: float  # of each of the two [Pa]
    seconds: float  # [s]
    seconds_sd: float
    temperature: float  # of the air [K]
    temperature_sd: float
    ambient: float  # outside [Pa absolute]


class Leak(NamedTuple):
    """The leak's effective area, discharge coefficient included [m2]."""

    area: float  # in the middle of the bounds
    area_sd: float
    largest: float  # if the air kept the walls' temperature
    smallest: float  # if no heat came in while it expanded


def leak_of(test: LeakTest) -> Leak:
    """Effective area of the leak with its spread [m2].

    The middle of the isothermal and the adiabatic bound of `coupler.leak_area`; their distance counts as a
    uniform band, d/sqrt(12). Volume, seconds, temperature and both pressures add theirs to first order, by
    differences of the same law.

    Raises OutOfRange for a test in which pressure does not fall, in no time or in no volume.
    """
    if not test.seconds > 0 or not test.volume > 0 or not test.temperature > 0:
        raise OutOfRange(
            "A leak is worked out from seconds, a volume and an absolute temperature, each above zero."
        )
    if not 0 <= test.end < test.start:
        raise OutOfRange(
            f"The pressure must fall during the test, to zero gauge at the lowest: {test.start / 1e3:.4g}"
            f" kPa at the start and {test.end / 1e3:.4g} kPa at the end do not. Have the two changed places?"
        )
    low, high, by_gauge = _bounds(test)
    middle = 0.5 * (low + high)
    parts = [
        (high - low) / math.sqrt(12.0),
        middle * test.volume_sd / test.volume,
        middle * test.seconds_sd / test.seconds,
        0.5 * middle * test.temperature_sd / test.temperature,
        by_gauge,
    ]
    return Leak(middle, math.hypot(*parts), high, low)


def _bounds(test: LeakTest) -> tuple[float, float, float]:
    """Smallest and largest area, and what the gauge's error does to their middle [m2].

    The gauge's error is partly each reading's own and partly common to both; slopes are central differences.
    """
    step = min(0.05 * (test.start - test.end), 0.5e3)
    end = max(test.end, 2.0 * step)  # a reading at the outside's own pressure can only be off upwards
    started = test.start + np.array([0.0, step, -step, 0.0, 0.0])
    ended = np.array([test.end, end, end, end + step, end - step])
    found = leak_area(
        test.seconds,
        test.volume,
        test.ambient + started,
        test.ambient + ended,
        test.temperature,
        test.ambient,
    )
    both = 0.5 * (found.adiabatic + found.isothermal)
    at_start, at_end = (both[1] - both[2]) / (2.0 * step), (both[3] - both[4]) / (2.0 * step)
    own, common = 1.0 - _CORRELATED, _CORRELATED
    variance = own * (at_start**2 + at_end**2) + common * (at_start + at_end) ** 2
    return float(found.adiabatic[0]), float(found.isothermal[0]), test.pressure_sd * math.sqrt(variance)


def leak_flow(area: ArrayLike, pressure: ArrayLike, temperature: ArrayLike, ambient: ArrayLike) -> Array:
    """Air that a leak loses [kg/s]: the nozzle law on its effective area [m2].

    pressure: in the pipe [Pa absolute]. temperature: there [K]. ambient: outside [Pa absolute]. Broadcast.
    """
    inside = np.maximum(np.asarray(pressure, dtype=np.float64), np.asarray(ambient, dtype=np.float64))
    return nozzle_flow(area, inside, temperature, ambient, R_DRY_AIR, GAMMA)


def hole_diameter(area: float) -> float:
    """Diameter of one round hole that leaks as much, sqrt(4 A/(pi C)) with C of `HOLE_COEFFICIENT` [m]."""
    return math.sqrt(4.0 * area / (math.pi * HOLE_COEFFICIENT))
