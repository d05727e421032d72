"""From matches to the lines that findings read."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.findings.case import GoalLine
from boostwright.physics.compressor_points import MapBand
from boostwright.systems.engine.types import CycleResult
from boostwright.systems.match import MatchResult

__all__ = ["LineSpread", "goal_line", "only", "retuned"]

Array = NDArray[np.float64]

_KNOCK_LIMITED = 2.0e-3  # spark later than the best one by more than this is held back by knock [rad]


class LineSpread(NamedTuple):
    """What is not known along a line."""

    boost_sd: Array  # [Pa]
    band: MapBand  # of the compressor


def only(cycle: CycleResult, keep: NDArray[np.bool_]) -> CycleResult:
    """The cycles with NaN where a point did not settle, so that nobody uses its numbers."""
    blank: dict[str, Any] = {}
    for name, values in cycle._asdict().items():
        if np.issubdtype(np.asarray(values).dtype, np.floating):
            mask = keep if np.ndim(values) == 1 else keep[:, np.newaxis]
            blank[name] = np.where(mask, values, np.nan)
    return cycle._replace(**blank)


def retuned(cycle: CycleResult, knock_scale: float, dry_share: float = 1.0) -> CycleResult:
    """The cycles on a fuel that knocks more or less readily, in air of more or less water.

    knock_scale: on the knock integrals [-]. dry_share: what burns of the air, over the ordinary day's [-];
    fuel and indicated work follow it, flow and temperatures do not (vapour takes part in the flow).
    """
    imep = cycle.imep * dry_share
    work = (imep - cycle.fmep) / cycle.bmep
    return cycle._replace(
        knock_a=knock_scale * cycle.knock_a,
        knock_c=knock_scale * cycle.knock_c,
        fuel_flow=cycle.fuel_flow * dry_share,
        imep=imep,
        bmep=cycle.bmep * work,
        torque=cycle.torque * work,
        power=cycle.power * work,
    )


def goal_line(line: MatchResult, mbt: Array, ambient_pressure: float, spread: LineSpread) -> GoalLine:
    """The operating line of one day; mbt: best spark of this charge, shape (n,) [rad]."""
    points, turbo = line.points, line.turbo
    settled = line.settled
    boost = np.asarray(points.plenum_pressure, dtype=float) - ambient_pressure
    used = np.asarray(points.spark, dtype=float)

    def kept(values: ArrayLike) -> Array:
        return np.where(settled, np.asarray(values, dtype=float), np.nan)

    return GoalLine(
        speed=line.speed,
        boost=kept(boost),
        boost_sd=kept(spread.boost_sd),
        plenum_pressure=kept(points.plenum_pressure),
        plenum_temperature=kept(points.plenum_temperature),
        exhaust_pressure=kept(points.exhaust_pressure),
        lam=np.asarray(points.lam, dtype=float) * np.ones_like(boost),
        mbt_spark=kept(mbt),
        knock_spark=np.where(settled & (used > mbt + _KNOCK_LIMITED), used, np.nan),
        used_spark=kept(used),
        result=only(line.cycle, settled),
        settled=settled,
        turbine_enough=np.asarray(settled & (line.gate_area_needed >= 0)),
        flow_over_surge=kept(turbo.compressor.surge_ratio),
        flow_over_choke=kept(turbo.compressor.choke_ratio),
        surge_sd=float(spread.band.surge),
        choke_sd=float(spread.band.flow),
        tip_speed=kept(turbo.compressor.tip_speed),
        tip_speed_sd=float(spread.band.speed),
        shaft_speed=kept(turbo.compressor.speed),
        pressure_ratio=kept(turbo.compressor.pressure_ratio),
        compressor_outlet_temperature=kept(turbo.compressor.outlet_temperature),
        turbine_inlet_temperature=kept(line.cycle.exhaust_manifold_temperature),
        compressor_inlet_pressure=kept(turbo.inlet_pressure),
        turbine_outlet_pressure=kept(turbo.turbine_outlet_pressure),
        pulse_peak_pressure=kept(line.pulse_peak),
    )
