"""Crank-angle steps of the cycle; docs/numerics.md has the proof by halving."""

from __future__ import annotations

from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.systems.engine.types import BurnLaw

__all__ = ["StepSizes", "sizes_of", "step_kinds", "step_sizes"]

Array = NDArray[np.float64]


class StepSizes(NamedTuple):
    """Crank-angle steps [rad] and tolerances of the cycle; see docs/numerics.md for the proof by halving."""

    compression: float
    burn: float
    expansion: float
    blowdown: float
    exhaust: float
    overlap: float
    filling: float
    shut: float
    tolerance: float = 1.0e-4  # distance from periodicity, relative [-]
    max_cycles: int = 60


LOW_SPEED: Final = 1500.0 * np.pi / 30.0  # from here down the burn takes shorter steps [rad/s]
SHUT: Final = 4.0  # longest step of port and runner while the intake valve is shut [degrees]
SWINGS: Final = 12.0  # steps of theirs in each natural period, at least


def step_kinds(speed: Array, ring: float, law: BurnLaw) -> NDArray[np.int64]:
    """Which of the sets of steps each speed takes; points of one kind run side by side."""
    halvings = np.zeros(speed.shape)
    if ring > 0.0:
        period = np.degrees(2.0 * np.pi * speed / ring)
        halvings = np.maximum(0.0, np.ceil(np.log2(SHUT * SWINGS / period) - 1.0e-9))
    slow = (speed <= LOW_SPEED) & (law is BurnLaw.ENTRAINMENT)
    return (2 * halvings + slow).astype(np.int64)


def step_sizes(
    speed: float,
    ring: float = 0.0,
    refine: float = 1.0,
    tolerance: float = 1.0e-4,
    law: BurnLaw = BurnLaw.ENTRAINMENT,
) -> StepSizes:
    """Steps for a crank speed [rad/s] and a burn law; ``refine`` divides them all.

    The linearly implicit steps of the gas exchange follow valve pressures at any speed, so they are the same
    everywhere: their proportions hold the energy account below 1e-5 of the fuel energy at part load, full
    load, boost and scavenging. ``ring``: natural frequency of runner and port [rad/s]; its period gets 12
    steps or more while the intake valve is shut, in halvings of 4 degrees so that points of like speed share
    their steps, and 15 or more while it is open.
    """
    return sizes_of(int(step_kinds(np.array([speed]), ring, law)[0]), refine, tolerance, law)


@lru_cache(maxsize=64)
def sizes_of(kind: int, refine: float, tolerance: float, law: BurnLaw) -> StepSizes:
    """The steps of one kind."""
    shut = SHUT / 2.0 ** (kind // 2)
    burn = 0.7 if kind % 2 else 1.0 if law is BurnLaw.ENTRAINMENT else 1.5
    share = min(1.0, shut)
    degrees = (3.0, burn, 3.0, 0.35, 0.8, 0.4 * share, 0.8 * share, shut)
    c, b, x, d, e, o, f, r = (float(np.radians(angle)) / refine for angle in degrees)
    return StepSizes(c, b, x, d, e, o, f, r, tolerance)
