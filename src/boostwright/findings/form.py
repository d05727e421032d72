"""Where the models themselves lie inside what is not known of them: one place in their spread.

The middle is what a plain check computes. A sampled check moves it from draw to draw, together with the
values of the build; then findings must not add the same spreads once more (`carried`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from boostwright.physics.compressor import CompressorMap
from boostwright.physics.compressor_points import MapBand, PointsMap
from boostwright.physics.compressor_sizes import WheelFactors, WheelMap
from boostwright.physics.turbine_map import MappedTurbine
from boostwright.physics.turbine_unit import Turbine
from boostwright.systems.engine.types import BurnLaw, HeatLaw
from boostwright.systems.stated.compressor import StatedCompressor
from boostwright.systems.turbo import TurbineFactors, TurboParts

__all__ = ["MIDDLE", "SPARK_LEVEL_SD", "SPARK_TILT_SD", "Form", "carried"]

Array = NDArray[np.float64]

# By which the computed best and knock-limited spark are off: level, and change to either end of the speeds.
# Laws of how long a flame takes to grow differ by as much (judgement; disagreement E2).
SPARK_LEVEL_SD: Final = math.radians(2.0)
SPARK_TILT_SD: Final = math.radians(3.0)
_SLOW: Final = 1000.0 * math.pi / 30.0  # crank speed at one end [rad/s]; the other is the speed limit


@dataclass(frozen=True, slots=True)
class Form:
    """One place in what is not known of the models; the defaults are the middle.

    knock_law: weight of the guideline delay against the induction-time law; their integrals are mixed as
    geometric mean [-]. heat_law, burn_law: which law the cycle uses. compressor: factors on its map.
    turbine_area, bearing: factors [-]; turbine_efficiency: added [-]. control: by which the boost held under
    control is off [Pa]. inertia: factor on that of the shaft [-]. wall_start: added to the temperature of the
    exhaust walls when the throttle opens [K]. spark_level, spark_tilt: by which the computed spark is off,
    level and change to either end of the speeds [rad]. drawn: whether this is one draw of many.
    """

    knock_law: float = 0.5
    heat_law: HeatLaw = HeatLaw.WOSCHNI
    burn_law: BurnLaw = BurnLaw.ENTRAINMENT
    compressor: WheelFactors = field(default_factory=WheelFactors)
    turbine_area: float = 1.0
    turbine_efficiency: float = 0.0
    bearing: float = 1.0
    control: float = 0.0
    inertia: float = 1.0
    wall_start: float = 0.0
    spark_level: float = 0.0
    spark_tilt: float = 0.0
    drawn: bool = False

    def spark_off(self, speed: Array, top: float) -> Array:
        """What is added to a computed spark [rad] at crank speeds; the top one and these in rad/s."""
        way = (np.asarray(speed, dtype=np.float64) - 0.5 * (_SLOW + top)) / (0.5 * (top - _SLOW))
        return np.asarray(self.spark_level + self.spark_tilt * np.clip(way, -1.0, 1.0))

    def of_compressor(self, stated: StatedCompressor) -> StatedCompressor:
        """The compressor moved inside its band; a drawn one has no band left."""
        if not self.drawn:
            return stated
        return replace(stated, map=_moved(stated.map, self.compressor), band=_NO_BAND)

    def of_turbo(self, parts: TurboParts) -> TurboParts:
        """The turbo with its turbine moved inside its band."""
        if not self.drawn:
            return parts
        factors = TurbineFactors(self.turbine_area, self.turbine_efficiency, self.bearing)
        measured = parts.measured_turbine
        return replace(
            parts,
            turbine_factors=factors,
            measured_turbine=None if measured is None else self._of_measured(measured),
            worse_turbines=(),
        )

    def _of_measured(self, turbine: Turbine) -> Turbine:
        if not isinstance(turbine, MappedTurbine):
            return turbine
        peak = max(turbine.peak + self.turbine_efficiency, turbine.floor)
        return turbine._replace(area=turbine.area * self.turbine_area, peak=peak)


MIDDLE = Form()
_NO_BAND = MapBand(flow=0.0, surge=0.0, head=0.0, speed=0.0, efficiency=0.0)


def _moved(chart: CompressorMap, by: WheelFactors) -> CompressorMap:
    """A map moved further, from where a known point has moved it already."""
    if not isinstance(chart, (WheelMap, PointsMap)):
        return chart
    at = chart.factors
    return chart.with_factors(
        WheelFactors(
            choke=at.choke * by.choke,
            surge=at.surge * by.surge,
            head=at.head * by.head,
            efficiency=at.efficiency + by.efficiency,
        )
    )


def carried(drawn: bool, sd: float) -> float:
    """A spread of the model's that draws carry: none is left of it in a drawn case [unit of sd]."""
    return 0.0 if drawn else sd
