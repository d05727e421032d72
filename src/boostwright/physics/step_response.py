"""The answer of a second-order system to a step: what an overshoot says of its damping.

Any text on control: y'' + 2 zeta wn y' + wn^2 y = wn^2 u, 0 < zeta < 1. A boost controller is of higher
order; its first peak is near enough for a word like 'lively', not for a design.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.errors import OutOfRange

__all__ = ["StepPeak", "damping_from_overshoot", "step_peak"]

Array = NDArray[np.float64]


class StepPeak(NamedTuple):
    """overshoot: of the step [-]. time: of the first peak, times the natural frequency [rad]."""

    overshoot: Array
    time: Array


def step_peak(zeta: ArrayLike) -> StepPeak:
    """First peak after a step, exp(-pi zeta/sqrt(1 - zeta^2)) at wn t = pi/sqrt(1 - zeta^2).

    zeta: damping ratio [-], more than 0 and less than 1. Raises OutOfRange elsewhere: no peak, or no end of
    it.
    """
    z = np.asarray(zeta, dtype=np.float64)
    if not bool(np.all((z > 0.0) & (z < 1.0))):
        raise OutOfRange(
            f"damping ratio {z.min():.4g} to {z.max():.4g}: an overshoot needs more than 0 and less than 1."
        )
    root = np.sqrt(1.0 - z * z)
    return StepPeak(np.exp(-math.pi * z / root), math.pi / root)


def damping_from_overshoot(overshoot: ArrayLike) -> Array:
    """Damping ratio [-] from the overshoot as a share of the step [-]; inverse of `step_peak`.

    overshoot: more than 0 and less than 1, counted on the step itself (gauge boost), not on absolute
    pressure. Raises OutOfRange elsewhere.
    """
    share = np.asarray(overshoot, dtype=np.float64)
    if not bool(np.all((share > 0.0) & (share < 1.0))):
        raise OutOfRange(
            f"overshoot {share.min():.4g} to {share.max():.4g} of the step: needs more than 0, less than 1."
        )
    log = np.log(share)
    return np.asarray(-log / np.sqrt(math.pi**2 + log * log))
