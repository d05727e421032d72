"""From the searched sparks to those that can be driven: idle, the latest useful burn, no rise with boost."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostwright.build.document import Build
from boostwright.calibration.cells import EARLIEST, Cells
from boostwright.calibration.grid import Grid
from boostwright.findings.case import Case
from boostwright.library.calibration import rule_of
from boostwright.systems.engine.types import CycleResult

__all__ = ["Sparks", "sparks_of"]

Array = NDArray[np.float64]

LATE_SLOPE: Final = 1.2  # half-burned point for each degree of spark, late in the cycle (own cycles) [-]
_AT_BEST: Final = np.radians(8.0)  # half-burned point at MBT, where the later cycle did not burn out [rad]
_IDLE_SPEED: Final = (1.25, 2.2)  # of idle speed: up to which its spark stands, and where it ends (judgement)
_IDLE_PRESSURE: Final = (0.50, 0.75)  # the same, of the outside air's pressure: lights, fan, pulling away
_LIGHT: Final = (
    0.6  # of the outside air's pressure, below which a charge that does not burn is light load [-]
)


class Sparks(NamedTuple):
    """Sparks of the table in the shape of the grid, and which of them are no plain result of the model."""

    value: Array  # [rad]
    idle: NDArray[np.bool_]  # set by the rule for idle
    held: NDArray[np.bool_]  # knock asks for a later spark than still burns evenly
    smoothed: NDArray[np.bool_]  # moved later, so that spark does not rise with boost
    latest: Array  # spark at which the charge is half burned as late as it may be for a moment [rad]


def sparks_of(
    build: Build, case: Case, grid: Grid, cells: Cells, tried: tuple[Array, CycleResult] | None = None
) -> Sparks:
    """The later of MBT and the knock limit behind its margin, made fit to be driven.

    Near idle, and where so light a charge does not burn out, the rule for idle stands, level over load and
    speed so that neither a load nor a few revolutions move the spark; from there it goes over into the
    model's in steps. Where knock asks for a
    spark so late that half of the charge would burn after the latest point for a moment, that point's spark
    stands instead: later ones misfire. From the outside air's pressure on, spark never rises with pressure:
    where the model's does, it is held.

    tried: sparks near the latest (n,) [rad] and the cycles at them, from which the latest is read; None for
    the searched ones, which may lie far behind it.
    """

    def square(flat: Array) -> Array:
        return np.asarray(flat).reshape(grid.shape)

    rule = rule_of("idle_spark")
    made = cells.made
    value = square(made.used)
    late = case.limits["half_burned_moment"].amount.value
    near_spark, near_cycle = (made.used, made.result) if tried is None else tried
    over = square(np.where(near_cycle.status == 0, near_cycle.ca50, np.nan)) - late
    known = np.isfinite(over)
    usual = square(made.best) + (late - _AT_BEST) / LATE_SLOPE
    latest = np.where(known, square(near_spark) - np.where(known, over, 0.0) / LATE_SLOPE, usual)
    held = value > latest + 1e-9
    value = np.minimum(value, latest)
    idle_speed = build.number("engine.idle_speed")
    share = _ending(grid.speeds / idle_speed, _IDLE_SPEED)[:, None]
    share = share * _ending(grid.pressures / grid.ambient, _IDLE_PRESSURE)[None, :]
    broken = (cells.middle.result.status != 0).reshape(grid.shape)
    unburnt = broken & (grid.pressures < _LIGHT * grid.ambient)[None, :]
    share = np.where(unburnt, 1.0, share)
    idle = share >= 0.5
    knock = square(cells.middle.knock)  # the limit itself: a rule needs no margin, but may not cross it
    at_idle = np.fmax(np.radians(rule.number), knock)
    value = np.where(share > 0.0, share * at_idle + (1.0 - share) * value, value)
    first = int(np.searchsorted(grid.pressures, 0.98 * grid.ambient))
    before = value.copy()
    value[:, first:] = np.maximum.accumulate(value[:, first:], axis=1)
    smoothed = value > before + 1e-9
    return Sparks(np.maximum(value, EARLIEST), idle, held & ~idle, smoothed, latest)


def _ending(x: Array, ends: tuple[float, float]) -> Array:
    """One up to the first of ``ends``, nothing from the second on, straight between."""
    return np.clip((ends[1] - x) / (ends[1] - ends[0]), 0.0, 1.0)
