"""One turbine as a thing that swallows gas and gives power, whether known from its sizes or from a map.

Both kinds answer the same four questions - how wide, how it swallows, how well it works, how large its wheel
is - so that those who use a turbine need not know where the answers come from.
"""

from __future__ import annotations

from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.turbine import (
    USUAL_EXPONENT,
    ExhaustGas,
    TurbineRecipe,
    TurbineSizes,
    blade_speed_ratio,
    effective_area,
    inlet_pressure_for_flow,
    isentropic_drop,
    peak_turbine_efficiency,
    turbine_efficiency,
    turbine_flow,
)

__all__ = [
    "EfficiencyParabola",
    "SizedTurbine",
    "Turbine",
    "TurbineWork",
    "flow_through",
    "pressure_before",
    "work_of",
]

Array = NDArray[np.float64]


class Turbine(Protocol):
    """What every turbine can say of itself."""

    @property
    def diameter(self) -> float:
        """Wheel diameter at the inlet [m]."""
        ...

    @property
    def area(self) -> float:
        """Effective flow area [m2]."""
        ...

    @property
    def exponent(self) -> float:
        """Exponent of its swallowing form, see `turbine.turbine_flow` [-]."""
        ...

    def efficiency(self, speed_ratio: ArrayLike) -> Array:
        """Total-to-static efficiency without bearing loss [-] at a blade speed ratio [-]."""
        ...


class EfficiencyParabola(NamedTuple):
    """eta = peak (2 x - x^2), x the blade speed ratio over its best value, not below a floor."""

    peak: float  # [-]
    best_speed_ratio: float  # [-]
    floor: float  # [-]


class SizedTurbine(NamedTuple):
    """A turbine of which wheel and housing sizes are known."""

    sizes: TurbineSizes
    recipe: TurbineRecipe
    area_factor: float = 1.0  # where it lies in the band of the estimate [-]
    efficiency_shift: float = 0.0  # added to the best efficiency [-]

    @property
    def diameter(self) -> float:
        """Wheel diameter at the inlet [m]."""
        return self.sizes.Dt

    @property
    def area(self) -> float:
        """Effective flow area [m2]."""
        return self.area_factor * effective_area(self.sizes, self.recipe).effective

    @property
    def exponent(self) -> float:
        """Exponent of the swallowing form [-]."""
        return USUAL_EXPONENT

    @property
    def parabola(self) -> EfficiencyParabola:
        """What `efficiency` follows."""
        peak = peak_turbine_efficiency(self.sizes.Dt, self.recipe) + self.efficiency_shift
        return EfficiencyParabola(float(peak), self.recipe.best_speed_ratio, self.recipe.eta_floor)

    def efficiency(self, speed_ratio: ArrayLike) -> Array:
        """Total-to-static efficiency without bearing loss [-]."""
        peak = peak_turbine_efficiency(self.sizes.Dt, self.recipe) + self.efficiency_shift
        return turbine_efficiency(speed_ratio, peak, self.recipe)


class TurbineWork(NamedTuple):
    """What a turbine makes of the gas."""

    power: Array  # [W]
    efficiency: Array  # total to static, without bearing loss [-]
    speed_ratio: Array  # blade over spouting speed [-]


def flow_through(
    turbine: Turbine, p03: ArrayLike, T03: ArrayLike, p4: ArrayLike, gas: ExhaustGas, factor: ArrayLike = 1.0
) -> Array:
    """Mass flow of the turbine [kg/s]; arguments as `turbine.turbine_flow`. factor: on its area [-]."""
    return turbine_flow(np.asarray(factor) * turbine.area, p03, T03, p4, gas, turbine.exponent)


def pressure_before(
    turbine: Turbine,
    m_dot: ArrayLike,
    T03: ArrayLike,
    p4: ArrayLike,
    gas: ExhaustGas,
    factor: ArrayLike = 1.0,
) -> Array:
    """Inlet pressure [Pa] at which the turbine swallows m_dot [kg/s]; the inverse of `flow_through`."""
    area = np.asarray(factor) * turbine.area
    return inlet_pressure_for_flow(m_dot, area, T03, p4, gas, turbine.exponent)


def work_of(
    turbine: Turbine,
    m_dot: ArrayLike,
    expansion_ratio: ArrayLike,
    T03: ArrayLike,
    shaft_speed: ArrayLike,
    gas: ExhaustGas,
) -> TurbineWork:
    """Power m dh_s eta of the turbine and its efficiency.

    m_dot: [kg/s]. expansion_ratio: p03/p4, at least 1 [-]. T03: [K]. shaft_speed: [rad/s]. gas: about T03.
    All broadcast.
    """
    drop = isentropic_drop(gas, T03, expansion_ratio)
    ratio = blade_speed_ratio(shaft_speed, turbine.diameter, drop)
    eta = turbine.efficiency(ratio)
    return TurbineWork(np.asarray(np.asarray(m_dot) * drop * eta), eta, ratio)
