"""Parts that cost pressure, one behind the other, each with its spread and where its figure comes from."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.physics.cooler import pressure_loss
from boostwright.physics.pipes import mean_density_loss

__all__ = ["Origin", "PartLoss", "Passage"]

Array = NDArray[np.float64]


class Origin(Enum):
    """Where a figure comes from; the value is said in reports."""

    READING = "as stated"
    GEOMETRY = "from its sizes"
    USUAL = "usual for such parts"


class PartLoss(NamedTuple):
    """One part, by one known point: loss (m/flow)^exponent density/rho. SI units."""

    name: str
    loss: float  # at the known point [Pa]
    flow: float  # of the known point [kg/s]
    density: float  # of the known point [kg/m3]
    exponent: float  # 2 for fittings, about 1.8 for smooth pipes and fins, 1 for a honeycomb [-]
    spread: float  # relative standard deviation of the loss [-]
    origin: Origin

    def at(self, flow: ArrayLike, density: ArrayLike) -> Array:
        """Pressure loss [Pa] at a flow [kg/s] and a mean density [kg/m3]."""
        return pressure_loss(flow, density, self.loss, self.flow, self.density, self.exponent)

    @property
    def coefficient(self) -> float:
        """Loss times density at a flow of 1 kg/s [Pa kg/m3]."""
        return float(self.loss * self.density / self.flow**self.exponent)


@dataclass(frozen=True, slots=True)
class Passage:
    """Parts in a row that pass the same flow at about the same temperature."""

    parts: tuple[PartLoss, ...]
    terms: tuple[tuple[float, float], ...]  # coefficient and exponent, parts of one exponent taken together

    @classmethod
    def of(cls, *parts: PartLoss) -> Passage:
        """These parts in a row; parts that cost nothing are left out."""
        kept = tuple(part for part in parts if part.loss > 0.0)
        together: dict[float, float] = {}
        for part in kept:
            together[part.exponent] = together.get(part.exponent, 0.0) + part.coefficient
        return cls(kept, tuple((c, n) for n, c in sorted(together.items())))

    def at(self, flow: ArrayLike, density: ArrayLike) -> Array:
        """Pressure loss [Pa] at a flow [kg/s] and a mean density [kg/m3]. Both broadcast."""
        flow, density = np.asarray(flow, dtype=np.float64), np.asarray(density, dtype=np.float64)
        total = np.zeros(np.broadcast_shapes(flow.shape, density.shape))
        for coefficient, exponent in self.terms:
            total = total + coefficient * (flow * flow if exponent == 2.0 else flow**exponent)
        return np.asarray(total / density)

    def sd_at(self, flow: ArrayLike, density: ArrayLike) -> Array:
        """Standard deviation of that loss [Pa], the parts independent of each other."""
        squares = [(part.spread * part.at(flow, density)) ** 2 for part in self.parts]
        return np.asarray(
            np.sqrt(sum(squares, np.zeros(np.broadcast_shapes(np.shape(flow), np.shape(density)))))
        )

    def from_outlet(self, flow: ArrayLike, p_out: ArrayLike, T: ArrayLike, R: float) -> Array:
        """Loss [Pa] ahead of a known outlet pressure [Pa], with the density of the mean pressure."""
        return mean_density_loss(self.at(flow, 1.0), p_out, T, R, p_is_outlet=True)

    def from_inlet(self, flow: ArrayLike, p_in: ArrayLike, T: ArrayLike, R: float) -> Array:
        """Loss [Pa] behind a known inlet pressure [Pa], with the density of the mean pressure."""
        return mean_density_loss(self.at(flow, 1.0), p_in, T, R, p_is_outlet=False)

    def worse(self, deviations: float) -> Passage:
        """The same with its loss moved by so many standard deviations, not below a tenth of it."""
        reference = max((part.flow for part in self.parts), default=1.0)
        loss = float(self.at(reference, 1.0))
        if loss <= 0.0:
            return self
        factor = max(1.0 + deviations * float(self.sd_at(reference, 1.0)) / loss, 0.1)
        return self.scaled(factor)

    def scaled(self, factor: float) -> Passage:
        """The same with its loss times a factor."""
        return Passage.of(*(part._replace(loss=part.loss * factor) for part in self.parts))

    def and_then(self, other: Passage, temperature_ratio: float = 1.0) -> Passage:
        """This passage and another behind it, as one that is told the density of the other.

        temperature_ratio: temperature in this one over that in the other [-]; its air is thinner by as much.
        """
        return Passage.of(
            *(part._replace(loss=part.loss * temperature_ratio) for part in self.parts), *other.parts
        )

    def greatest(self, flow: float) -> PartLoss | None:
        """The part that costs most at a flow [kg/s]; None for a passage without parts."""
        return max(self.parts, key=lambda part: float(part.at(flow, 1.0)), default=None)

    @property
    def origin(self) -> Origin:
        """Where the figure of its costliest part comes from."""
        found = self.greatest(0.15)
        return Origin.USUAL if found is None else found.origin
