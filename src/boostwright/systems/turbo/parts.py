"""The parts of the turbo side as records: turbo, pipes, filter, cooler, exhaust, and the air outside."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Final, NamedTuple, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostwright.library import turbo_sizes
from boostwright.physics.compressor import CompressorMap
from boostwright.physics.compressor_sizes import WheelFactors, WheelMap, check_wheel, wheel_sizes
from boostwright.physics.cooler import charge_effectiveness, pressure_loss
from boostwright.physics.turbine import Bearing, TurbineRecipe, TurbineSizes, check_turbine
from boostwright.physics.turbine_unit import SizedTurbine, Turbine

__all__ = [
    "NO_PULSES",
    "Ambient",
    "AmbientEach",
    "ChargeCooling",
    "Cooler",
    "OutsideAir",
    "PressureLoss",
    "Pulses",
    "Restriction",
    "TurbineFactors",
    "TurboParts",
]

Array = NDArray[np.float64]


class OutsideAir(Protocol):
    """The air around the car, one for all points or one for each."""

    @property
    def pressure(self) -> Array | float:
        """Station pressure [Pa absolute]."""
        ...

    @property
    def temperature(self) -> Array | float:
        """[K]."""
        ...


@dataclass(frozen=True, slots=True)
class Ambient:
    """The air around the car, one for all points."""

    pressure: float  # station pressure [Pa absolute]
    temperature: float  # [K]


class AmbientEach(NamedTuple):
    """The air around the car, one for each point; shape (n,)."""

    pressure: Array  # station pressure [Pa absolute]
    temperature: Array  # [K]


class PressureLoss(Protocol):
    """A part, or a row of parts, that costs pressure."""

    def at(self, flow: ArrayLike, density: ArrayLike) -> Array:
        """Pressure loss [Pa] at a flow [kg/s] and a mean density [kg/m3]."""
        ...


class ChargeCooling(Protocol):
    """A charge-air cooler."""

    @property
    def loss(self) -> PressureLoss:
        """Of pressure on the charge side."""
        ...

    def effectiveness_at(self, flow: ArrayLike, *, density: ArrayLike | None = None) -> Array:
        """Effectiveness on the charge side [-] at a charge flow [kg/s]; density: of the outside air
        [kg/m3]."""
        ...


@dataclass(frozen=True, slots=True)
class Restriction:
    """A part that costs pressure, stated by one known point: loss = loss (m/flow)^exponent density/rho."""

    loss: float  # at the known point [Pa]
    flow: float  # of the known point [kg/s]
    density: float  # of the known point [kg/m3]
    exponent: float = 2.0  # 2 for pipes and fittings, 1.8 for a core's fins [-]

    def at(self, flow: ArrayLike, density: ArrayLike) -> Array:
        """Pressure loss [Pa] at a flow [kg/s] and a mean density [kg/m3]."""
        return pressure_loss(flow, density, self.loss, self.flow, self.density, self.exponent)

    @property
    def terms(self) -> tuple[tuple[float, float], ...]:
        """Loss times density at 1 kg/s [Pa kg/m3], and its exponent over the flow."""
        return ((self.loss * self.density / self.flow**self.exponent, self.exponent),)


@dataclass(frozen=True, slots=True)
class Cooler:
    """Charge-air cooler: a known effectiveness, or a conductance and the cooling air it sees."""

    loss: Restriction
    effectiveness: float | None = None  # on the charge side; where given, the other two are not used [-]
    conductance: float = 0.0  # UA [W/K]
    cooling_flow: float = 0.0  # [kg/s]

    def effectiveness_at(self, flow: ArrayLike, *, density: ArrayLike | None = None) -> Array:  # noqa: ARG002
        """Effectiveness on the charge side [-] at a charge flow [kg/s]; the cooling air's flow is stated as
        it is, whatever the density outside."""
        flow = np.asarray(flow, dtype=np.float64)
        if self.effectiveness is not None:
            return np.full(flow.shape, self.effectiveness)
        return charge_effectiveness(self.conductance, flow, self.cooling_flow)


@dataclass(frozen=True, slots=True)
class TurbineFactors:
    """Where this turbine lies inside the band of the estimate; the default is the middle of the band."""

    area: float = 1.0  # on the effective area [-]
    efficiency: float = 0.0  # added to the best efficiency [-]
    bearing: float = 1.0  # on the bearing loss [-]


@dataclass(frozen=True, slots=True)
class Pulses:
    """What exhaust pulses do to a turbine that is fed by mean values; one value per point, or one for all."""

    flow: Array | float = 1.0  # flow over that at the mean pressure [-]
    power: Array | float = 1.0  # power over that at the mean pressure [-]
    valve: Array | float = 1.0  # pressure that a gate's valve feels over the mean [-]


NO_PULSES: Final = Pulses()


@dataclass(frozen=True, slots=True)
class TurboParts:
    """The turbo, and the pipes, filter, cooler and exhaust that it works with. SI units."""

    compressor_map: CompressorMap
    exducer: float  # compressor exducer diameter [m]
    turbine: TurbineSizes
    turbine_recipe: TurbineRecipe
    inlet: PressureLoss  # filter and pipe before the compressor
    charge_pipes: PressureLoss  # pipes and open throttle after the cooler
    exhaust: PressureLoss  # from turbine outlet to tail pipe
    cooler: ChargeCooling | None = None
    bearing: Bearing = Bearing.PLAIN
    shaft: float = 6.5e-3  # journal diameter [m]
    turbine_factors: TurbineFactors = field(default_factory=TurbineFactors)
    measured_turbine: Turbine | None = None  # by its map; goes before the sizes
    worse_turbines: tuple[Turbine, ...] = ()  # the measured one, one thing each a deviation worse
    worse_map: CompressorMap | None = None  # efficiency one deviation lower; None: by the wheel's band

    @classmethod
    def from_sizes(
        cls,
        compressor: tuple[float, float],
        turbine: tuple[float, float, float],
        *,
        inlet: PressureLoss,
        charge_pipes: PressureLoss,
        exhaust: PressureLoss,
        cooler: ChargeCooling | None = None,
        bearing: Bearing = Bearing.PLAIN,
        shaft: float = 6.5e-3,
        wheel_factors: WheelFactors | None = None,
        turbine_factors: TurbineFactors | None = None,
        **known: float,
    ) -> TurboParts:
        """Parts of a turbo of which only the sizes are known.

        compressor: inducer and exducer diameter [m]. turbine: wheel diameter, exducer diameter, A/R as a
        length [m]. known: what else is known of the compressor wheel, see `compressor_sizes.wheel_sizes`. The
        rest: see the fields. Raises OutOfRange for a wheel or a housing outside the ground of the estimates.
        """
        recipe = turbo_sizes.compressor_recipe()
        wheel = wheel_sizes(*compressor, recipe, **known)
        check_wheel(wheel, recipe)
        turbine_recipe = turbo_sizes.turbine_recipe()
        sizes = TurbineSizes(*turbine)
        check_turbine(sizes, turbine_recipe)
        return cls(
            compressor_map=WheelMap(wheel, recipe, wheel_factors or WheelFactors()),
            exducer=wheel.D2,
            turbine=sizes,
            turbine_recipe=turbine_recipe,
            inlet=inlet,
            charge_pipes=charge_pipes,
            exhaust=exhaust,
            cooler=cooler,
            bearing=bearing,
            shaft=shaft,
            turbine_factors=turbine_factors or TurbineFactors(),
        )

    @property
    def turbine_unit(self) -> Turbine:
        """The turbine as it swallows and works: by its map where there is one, else by its sizes."""
        if self.measured_turbine is not None:
            return self.measured_turbine
        factors = self.turbine_factors
        return SizedTurbine(self.turbine, self.turbine_recipe, factors.area, factors.efficiency)

    @property
    def turbine_area(self) -> float:
        """Effective area of the turbine [m2]."""
        return self.turbine_unit.area

    def one_deviation_worse(self) -> tuple[TurboParts, ...]:
        """These parts with one uncertain factor each moved by one standard deviation to the side of less
        boost.

        The factors are independent of each other.
        """
        band = turbo_sizes.turbine_band()
        turbine = self.turbine_factors
        slower = replace(turbine, bearing=turbine.bearing * (1 + band.bearing))
        moved = [replace(self, turbine_factors=slower)]
        if self.measured_turbine is not None:
            moved += [replace(self, measured_turbine=worse) for worse in self.worse_turbines]
        else:
            wider = replace(turbine, area=turbine.area * (1 + band.area))
            weaker = replace(turbine, efficiency=turbine.efficiency - band.efficiency)
            moved += [replace(self, turbine_factors=factors) for factors in (wider, weaker)]
        wheel_map = self.compressor_map
        if self.worse_map is not None:
            moved.append(replace(self, compressor_map=self.worse_map))
        elif isinstance(wheel_map, WheelMap):  # no band was stated: that of the wheel's sizes
            down = wheel_map.factors.efficiency - turbo_sizes.compressor_band().efficiency
            factors = wheel_map.factors._replace(efficiency=down)
            moved.append(replace(self, compressor_map=wheel_map._replace(factors=factors)))
        for name in ("inlet", "charge_pipes", "exhaust", "cooler"):
            worse = getattr(getattr(self, name), "worse", None)
            if worse is not None:
                moved.append(replace(self, **{name: worse(1.0)}))
        return tuple(moved)
