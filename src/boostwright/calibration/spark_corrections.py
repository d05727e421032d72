"""How much later the spark must stand when air or coolant is warmer: the knock model, run hotter."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.calibration.cells import Moved
from boostwright.calibration.records import Axis, Origin, Table
from boostwright.calibration.work import Work, origins
from boostwright.quantity import Dimension

__all__ = ["AIR_MORE", "COOLANT_MORE", "reference_temperature", "spark_corrections"]

Array = NDArray[np.float64]

AIR_MORE: Final = (15.0, 40.0)  # warmer air that is run [K]
COOLANT_MORE: Final = (10.0, 20.0)  # warmer coolant [K]
AIR: Final = np.arange(-30.0, 91.0, 15.0) + 273.15  # breakpoints [K]
_COOLANT_STEPS: Final = np.array([-60.0, -30.0, 0.0, 5.0, 10.0, 15.0, 20.0, 25.0])  # about the usual [K]
_STRICTEST: Final = 90.0  # percentile over the cells: the strictest of them, but for what no cell shares


def reference_temperature(work: Work) -> float:
    """Plenum temperature at which the tables hold [K]: the warmest of the trajectory's cells that knock
    limits.
    """
    where = _limited(work)
    return float(np.max(work.grid.temperature[where]))


def _limited(work: Work) -> NDArray[np.bool_]:
    """Visited cells from about the outside air's pressure on, where the table's spark is knock's (flat)."""
    cells, grid = work.cells, work.grid
    loaded = grid.visited & cells.burns & (grid.pressure >= 0.9 * grid.ambient)
    limited = loaded & (cells.made.used > cells.made.best + np.radians(0.1))
    even = (
        limited & ~work.sparks.held.ravel()
    )  # a spark so late that it is held tells nothing of a degree more
    for found in (even, limited, loaded):
        if found.any():
            return found
    return cells.burns


def _later(work: Work, moved: list[Moved]) -> tuple[Array, Array]:
    """How much later the spark must be [rad] for each change, strictest of the cells, and its spread."""
    where = _limited(work)
    slope = np.abs(work.cells.made.slope[where])
    rows = [np.maximum(m.log_knock[where] / slope, 0.0) for m in moved]
    return (
        np.array([float(np.percentile(row, _STRICTEST)) for row in rows]),
        np.array([float(np.std(row)) for row in rows]),
    )


def _table(
    key: str,
    words: str,
    axis: Axis,
    more: tuple[float, ...],
    usual: float,
    later: Array,
    sd: Array,
    note: str,
) -> Table:
    """Nothing up to the usual temperature; above it straight between what was run, and on beyond it."""
    at = np.concatenate([[0.0], more])
    known, spread = np.concatenate([[0.0], later]), np.concatenate([[0.0], sd])
    over = np.maximum(axis.values - usual, 0.0)
    steep = (known[-1] - known[-2]) / (at[-1] - at[-2])
    value = np.where(over > at[-1], known[-1] + steep * (over - at[-1]), np.interp(over, at, known))
    n = axis.values.size
    return Table(
        key,
        words,
        Dimension.ANGLE,
        (axis,),
        value,
        np.interp(over, at, spread),
        origins((n,), Origin.MODEL),
        np.abs(axis.values - usual) <= 40.0,
        (
            note,
            (
                "TAKE OFF these degrees from the spark table's degrees before top dead centre, never add"
                " them: 25 before with a 5 here is 20 before. Colder than that it stays at nothing,"
                " MBT is not moved."
            ),
        ),
    )


def spark_corrections(work: Work, air: list[Moved], coolant: list[Moved]) -> tuple[Table, ...]:
    """Corrections of the spark for the plenum's and for the coolant's temperature.

    air, coolant: what `AIR_MORE` and `COOLANT_MORE` do to the cells.
    """
    reference = reference_temperature(work)
    usual = work.build.number("engine.coolant_temperature")
    T_axis = Axis("plenum_temperature", "air temperature in the plenum", Dimension.TEMPERATURE, AIR.copy())
    c_axis = Axis("coolant_temperature", "coolant temperature", Dimension.TEMPERATURE, usual + _COOLANT_STEPS)
    return (
        _table(
            "air_temperature_spark",
            "degrees to take off the spark (before top dead centre) for warmer air in the plenum",
            T_axis,
            AIR_MORE,
            reference,
            *_later(work, air),
            f"The spark table holds up to {reference - 273.15:.0f} degC in the plenum.",
        ),
        _table(
            "coolant_temperature_spark",
            "degrees to take off the spark (before top dead centre) for hotter coolant",
            c_axis,
            COOLANT_MORE,
            usual,
            *_later(work, coolant),
            f"The spark table holds at {usual - 273.15:.0f} degC coolant.",
        ),
    )
