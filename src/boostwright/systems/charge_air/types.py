"""The charge air path and the exhaust of one build."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.systems.charge_air.cooler import ChargeCooler
from boostwright.systems.charge_air.passage import Passage

__all__ = ["ChargeAir", "ExhaustPipe", "Pulls"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Pulls:
    """Full-load pulls one after the other."""

    pull: float  # seconds of full load [s]
    pause: float  # seconds between two [s]
    count: int = 3


@dataclass(frozen=True, slots=True, eq=False)
class ChargeAir:
    """From the air filter to the plenum. SI units."""

    inlet: Passage  # filter and pipe before the compressor
    hot: Passage  # pipes from compressor to cooler
    cold: Passage  # pipes from cooler to throttle
    throttle: Passage  # open throttle, into the plenum
    cooler: ChargeCooler | None
    bore: float  # of the charge pipes [m]
    inlet_bore: float  # of the pipe before the compressor [m]; of the charge pipes where none is stated
    throttle_bore: float  # [m]
    volume: float  # compressor to throttle, cooler included [m3]
    volume_sd: float  # [m3]
    plenum_volume: float  # [m3]
    plenum_volume_sd: float  # [m3]
    road_speed: float  # of the car for each rad/s of the crank, in the gear of a pull [m]
    temperature_ratio: float  # hot over cold pipes at the boost wanted, absolute temperatures [-]
    pulls: Pulls

    @property
    def charge_pipes(self) -> Passage:
        """Pipes and open throttle as one passage that is told the density after the cooler."""
        return self.hot.and_then(self.cold.and_then(self.throttle), self.temperature_ratio)

    def worse(self, deviations: float) -> ChargeAir:
        """The same with every loss and the cooler worse by so many standard deviations, all together."""
        return replace(
            self,
            inlet=self.inlet.worse(deviations),
            hot=self.hot.worse(deviations),
            cold=self.cold.worse(deviations),
            throttle=self.throttle.worse(deviations),
            cooler=None if self.cooler is None else self.cooler.worse(deviations),
        )


@dataclass(frozen=True, slots=True)
class ExhaustPipe:
    """From the turbine to the tail pipe. Its `at` is what the turbo side asks for."""

    passage: Passage  # told the density at the turbine outlet's temperature
    bore: float  # of the narrowest stretch behind the turbine [m]
    bore_stated: bool  # whether the file states it

    def at(self, flow: ArrayLike, density: ArrayLike) -> Array:
        """Pressure loss [Pa] at an exhaust flow [kg/s] and a mean density [kg/m3]."""
        return self.passage.at(flow, density)

    @property
    def terms(self) -> tuple[tuple[float, float], ...]:
        """Coefficient and exponent of each term of the loss, as those of `Passage`."""
        return self.passage.terms

    def sd_at(self, flow: ArrayLike, density: ArrayLike) -> Array:
        """Standard deviation of that loss [Pa]."""
        return self.passage.sd_at(flow, density)

    def worse(self, deviations: float) -> ExhaustPipe:
        """The same with a loss moved by so many standard deviations."""
        return replace(self, passage=self.passage.worse(deviations))
