"""The charge cooler as a working part: effectiveness over flow, in moving and in standing air."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.heat_soak import CP_CHARGE, cooling_conductance
from boostwright.systems.charge_air.passage import Origin, Passage

__all__ = ["ChargeCooler", "CoolingAir", "CoolingCurve"]

Array = NDArray[np.float64]

_LEAST: Final = 0.01  # effectiveness that a deviation may reach [-]
_MOST: Final = 0.985  # beyond, the table says more than the charge's last kelvin is worth [-]
_NO_FLOW: Final = 1e-6  # the table ends far above it [kg/s]
_APART: Final = 0.01  # between the effectiveness against the wall and the steady one, at least [-]


class CoolingAir(Enum):
    """What blows on the core."""

    MOVING = "on the road"
    STANDING = "in standing air"
    FAN = "before a fan"


@dataclass(frozen=True, slots=True, eq=False)
class CoolingCurve:
    """Effectiveness of a cooler in one kind of air, tabled over the charge flow."""

    flow: Array  # rising [kg/s]
    effectiveness: Array  # steady, on the charge side, against the outside air [-]
    to_wall: Array  # of the charge against the core's wall [-]


@dataclass(frozen=True, slots=True, eq=False)
class ChargeCooler:
    """Charge cooler. `loss` and `effectiveness_at` are what the turbo side asks for."""

    loss: Passage  # of the core
    curves: dict[CoolingAir, CoolingCurve]
    sd: float  # of the effectiveness [-]
    heat_capacity: float  # of the core, or of the water that cools it [J/K]
    heat_capacity_spread: float  # relative standard deviation [-]
    origin: Origin  # of the effectiveness
    density: float = 1.18  # of the outside air that the curves are for [kg/m3]
    thinning: float = 0.7  # exponent of its density in the heat that it takes [-]; judgement
    volume: float | None = None  # of the core; None when no sizes are stated [m3]
    water: bool = False  # cooled by water, which the outside air cools
    deviation: float = 0.0  # moved by so many standard deviations [-]

    def effectiveness_at(
        self, flow: ArrayLike, air: CoolingAir = CoolingAir.MOVING, density: ArrayLike | None = None
    ) -> Array:
        """Steady effectiveness on the charge side [-] at a charge flow [kg/s], against the outside air.

        On the road the car is as fast as the engine turns in the gear of a pull: the table follows the flow.
        density: of the outside air [kg/m3], where it is not that of the table: thin air takes less heat.
        """
        found = self._steady(flow, air, density)
        moved = found if self.deviation == 0.0 else np.maximum(found + self.deviation * self.sd, _LEAST)
        return np.asarray(np.minimum(moved, _MOST))

    def _steady(self, flow: ArrayLike, air: CoolingAir, density: ArrayLike | None) -> Array:
        curve = self.curves[air]
        log_flow = np.log(np.maximum(flow, _NO_FLOW))
        found = np.minimum(np.interp(log_flow, np.log(curve.flow), curve.effectiveness), _MOST)
        if density is None:
            return np.asarray(found)
        to_wall = np.maximum(np.interp(log_flow, np.log(curve.flow), curve.to_wall), _above(found))
        rate = np.maximum(flow, _NO_FLOW) * CP_CHARGE
        to_air = (
            cooling_conductance(found, to_wall, rate) * (np.asarray(density) / self.density) ** self.thinning
        )
        return np.asarray(to_air * to_wall / (rate * to_wall + to_air))

    def to_wall_at(
        self, flow: ArrayLike, air: CoolingAir = CoolingAir.MOVING, density: ArrayLike | None = None
    ) -> Array:
        """Effectiveness of the charge against the wall of the core [-], above the steady one."""
        curve = self.curves[air]
        found = np.interp(np.log(np.maximum(flow, _NO_FLOW)), np.log(curve.flow), curve.to_wall)
        return np.asarray(np.maximum(found, _above(self.effectiveness_at(flow, air, density))))

    def to_air_at(
        self, flow: ArrayLike, air: CoolingAir = CoolingAir.MOVING, density: ArrayLike | None = None
    ) -> Array:
        """Conductance from wall to outside air [W/K] that belongs to the steady effectiveness."""
        rate = np.asarray(flow, dtype=np.float64) * CP_CHARGE
        steady = self.effectiveness_at(flow, air, density)
        return cooling_conductance(steady, self.to_wall_at(flow, air, density), rate)

    def worse(self, deviations: float) -> ChargeCooler:
        """The same with its effectiveness lower by so many standard deviations."""
        return replace(self, deviation=self.deviation - deviations)

    def times(self, size: float) -> ChargeCooler:
        """A core of the same kind, so many times as large, in as much more air.

        1 - eps falls as exp(-size NTU), loss as the front of the charge side grows, heat capacity with it.
        """
        curves = {
            air: CoolingCurve(
                curve.flow,
                1.0 - (1.0 - np.minimum(curve.effectiveness, _MOST)) ** size,
                1.0 - (1.0 - np.minimum(curve.to_wall, 1.0 - 1e-6)) ** size,
            )
            for air, curve in self.curves.items()
        }
        return replace(
            self,
            loss=self.loss.scaled(size**-1.8),
            curves=curves,
            heat_capacity=self.heat_capacity * size,
            volume=None if self.volume is None else self.volume * size,
        )


def _above(steady: ArrayLike) -> Array:
    """Least effectiveness against the wall that can belong to a steady one [-]."""
    steady = np.asarray(steady)
    return np.asarray(np.minimum(steady + _APART, 1.0 - (1.0 - steady) / 2))
