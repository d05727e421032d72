"""What is drawn beside the tables and stands in none: MBT, and the boost that knock and parts leave."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.calibration.work import Work
from boostwright.findings.limited_pressure import SpeedCeilings, ceilings_by_speed

__all__ = ["Beside", "beside_of"]


class Beside(NamedTuple):
    """mbt: in the shape of the spark table [rad], a crank angle; NaN where the charge does not burn.
    ceilings: over speed [Pa absolute]; None where nothing was matched.
    """

    mbt: NDArray[np.float64]
    ceilings: SpeedCeilings | None


def beside_of(work: Work) -> Beside:
    """The same from what a calibration was made from."""
    burns = work.square(work.cells.burns.astype(np.float64)) > 0.0
    return Beside(np.where(burns, work.square(work.cells.made.best), np.nan), ceilings_by_speed(work.case))
