"""How much the boost of an operating line hangs on what is not known of the turbo."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from boostwright.systems.engine.types import EngineGeometry, Fuel
from boostwright.systems.match.breathing import PlenumState, breathing_line
from boostwright.systems.match.rounds import sought_of
from boostwright.systems.match.turbo_side import TurboSide
from boostwright.systems.match.types import MatchResult, MatchSettings
from boostwright.systems.turbo import OutsideAir, TurboParts

__all__ = ["boost_deviation"]

Array = NDArray[np.float64]


def boost_deviation(
    result: MatchResult,
    engine: EngineGeometry,
    fuel: Fuel,
    turbo: TurboParts,
    ambient: OutsideAir,
    settings: MatchSettings | None = None,
) -> Array:
    """Standard deviation of the boost reached, towards less, from what is not known of the turbo [Pa].

    Each uncertain factor of the turbo is moved by one standard deviation to its bad side, alone, and the
    turbo side is solved again along the breathing line of the settled cycles; the drops are added in squares.
    Zero where the gate still holds the boost asked for whatever is moved. The engine's own spread is not in
    it, and exhaust temperature and spark stay as they are, so near the onset of boost it is a little too
    small.

    result: of `match` with the same engine, fuel, turbo, ambient and settings. Returns shape (n,); NaN where
    the point may not be used.
    """
    settings = settings or MatchSettings()
    points, goal = result.points, result.goal_pressure
    state = PlenumState(
        *(
            np.array(np.broadcast_to(np.asarray(column, dtype=np.float64), goal.shape))
            for column in (points.plenum_pressure, points.plenum_temperature, points.exhaust_pressure)
        )
    )
    lam = np.broadcast_to(np.asarray(points.lam, dtype=np.float64), goal.shape)
    line, usable = breathing_line(engine, fuel, result.cycle, state, lam, result.pulses, settings.housing)
    sought = sought_of(settings, ambient, goal - ambient.pressure, result.speed)
    every, nowhere = np.arange(goal.size), np.full(goal.shape, np.nan)

    def plenum(parts: TurboParts) -> Array:
        return (
            TurboSide(parts, ambient, settings.gate, sought)
            .settle(line, every, nowhere, quick=True)
            .state.plenum
        )

    middle = plenum(turbo)
    drops = [np.maximum(0.0, middle - plenum(worse)) for worse in turbo.one_deviation_worse()]
    total = np.sqrt(np.sum(np.square(drops), axis=0))
    return np.where(usable & result.settled, total, np.nan)
