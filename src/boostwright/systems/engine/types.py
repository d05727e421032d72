"""What the engine cycle takes and gives: plain frozen records in SI units.

Crank angles are in radians, 0 at firing top dead centre, gas-exchange top dead centre at 2 pi; see
``docs/nomenclature.md``.
"""

from __future__ import annotations

from dataclasses import dataclass
from dataclasses import fields as dataclass_fields
from enum import Enum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "BurnLaw",
    "CycleResult",
    "EngineGeometry",
    "Fuel",
    "HeatLaw",
    "ModelFactors",
    "OperatingPoints",
    "ValveTrain",
]

Array = NDArray[np.float64]


class BurnLaw(Enum):
    """How fuel burns in the cylinder."""

    ENTRAINMENT = 0  # turbulent entrainment, two zones (reference)
    WIEBE = 1  # Wiebe law with durations fitted to the entrainment model of the same engine (fast path)
    NONE = 2  # nothing burns: a motored engine


class HeatLaw(Enum):
    """Gas-to-wall heat transfer correlation in the cylinder."""

    WOSCHNI = 0
    HOHENBERG = 1


@dataclass(frozen=True, slots=True)
class ValveTrain:
    """One side's valves of one cylinder. Angles [rad] at zero lift; lengths [m]."""

    count: int  # valves per cylinder on this side
    diameter: float  # inner seat diameter [m]
    lift: float  # greatest lift [m]
    opens: float  # crank angle of opening at zero lift [rad]
    closes: float  # crank angle of closing at zero lift [rad]
    cam_powers: tuple[int, int, int] = (10, 18, 26)  # five-term cam polynomial exponents
    flow_factor: float = 1.0  # class factor on the discharge coefficient [-]


@dataclass(frozen=True, slots=True)
class EngineGeometry:
    """One engine, as the cycle sees it. SI units throughout."""

    cylinders: int
    bore: float  # [m]
    stroke: float  # [m]
    rod: float  # connecting-rod centre distance [m]
    compression_ratio: float  # [-]
    intake: ValveTrain
    exhaust: ValveTrain
    runner_length: float  # plenum to port [m]; 0 = no runner dynamics
    runner_area: float  # per cylinder [m2]
    port_volume: float  # between runner and valve, per cylinder [m3]
    runner_loss: float = 1.5  # loss coefficient on dynamic pressure [-]
    plug_offset: float = 0.25  # flame centre offset as a fraction of the bore radius [-]
    tumble: float = 1.0  # C_u: turbulence intensity over mean piston speed at TDC [-]
    kernel_radius: float = 6.0e-3  # flame radius below which small eddies do not wrinkle it [m]
    piston_area_ratio: float = 1.0  # crown area over bore area [-]
    head_area_ratio: float = 1.12  # chamber roof area over bore area [-]
    valve_gear: str = "direct"  # key of the friction table's valve gear row
    exhaust_port_diameter: float = 0.035  # [m]
    exhaust_port_length: float = 0.085  # [m]
    manifold_diameter: float = 0.038  # exhaust manifold runner [m]
    manifold_length: float = 0.30  # of one runner [m]

    @property
    def swept_volume(self) -> float:
        """Swept volume of one cylinder [m3]."""
        return float(np.pi / 4 * self.bore**2 * self.stroke)

    @property
    def displacement(self) -> float:
        """Swept volume of the engine [m3]."""
        return self.cylinders * self.swept_volume

    @property
    def clearance_volume(self) -> float:
        """Volume of one cylinder at TDC [m3]."""
        return self.swept_volume / (self.compression_ratio - 1.0)


@dataclass(frozen=True, slots=True)
class Fuel:
    """The fuel in the tank. SI units."""

    ethanol_share: float = 0.0  # by volume, 0..1 [-]
    ron: float = 95.0  # research octane of the blend as it is pumped [-]
    mon: float = 85.0  # motor octane [-]
    petrol_heating_value: float = 43.0e6  # lower heating value of the petrol part [J/kg]


@dataclass(frozen=True, slots=True)
class ModelFactors:
    """Multipliers that fit the model to one engine; 1 = the class default. Dimensionless but two."""

    burn: float = 1.0  # on turbulence intensity
    heat: float = 1.4  # on the Woschni coefficient (1.0 belongs to Hohenberg)
    friction: float = 1.0
    knock: float = 1.25  # C_K on the knock integral
    knock_warmth: float = 0.0  # on the integral's logarithm, for each 10 % that the end gas is above 830 K
    evaporated_share: float = 0.4  # of the fuel, evaporated from the air's heat before the valve
    port_heating: float = 8.0  # charge heating in the port [K]
    exhaust_cooling: float = 1.0  # on the heat that port and manifold take from the exhaust
    combustion_loss: float = 0.03  # share of fuel that leaves unburnt, times min(1, lambda)
    coolant_temperature: float = 368.0  # [K]
    breathing: float = 1.0  # on the charge, in the middle of the speed range
    breathing_slope: float = 0.0  # change of its logarithm from the middle to the end of the range
    breathing_curve: float = 0.0  # the same with the square of the way to either end
    breathing_range: tuple[float, float] = (100.0, 650.0)  # crank speeds between which these count [rad/s]

    def breathing_at(self, speed: Array | float) -> Array:
        """Factor on the charge at crank speeds [rad/s]; any shape [-].

        ln k = ln b + s x + c x^2, x from -1 to 1 over the range, and no farther.
        """
        low, high = self.breathing_range
        way = (np.asarray(speed, dtype=np.float64) - 0.5 * (low + high)) / (0.5 * (high - low))
        x = np.clip(way, -1.0, 1.0)
        return np.asarray(self.breathing * np.exp(self.breathing_slope * x + self.breathing_curve * x**2))


@dataclass(frozen=True, slots=True)
class OperatingPoints:
    """Prescribed conditions for one or many cycles; every field broadcasts to one shape (n,)."""

    speed: Array | float  # crank speed [rad/s]
    plenum_pressure: Array | float  # [Pa absolute]
    plenum_temperature: Array | float  # [K]
    exhaust_pressure: Array | float  # exhaust manifold [Pa absolute]
    lam: Array | float  # lambda [-]
    spark: Array | float  # crank angle of the spark [rad], negative before firing TDC

    def arrays(self) -> tuple[Array, ...]:
        """The six fields in order, broadcast to one shape (n,)."""
        fields = (getattr(self, f.name) for f in dataclass_fields(self))
        wide = np.broadcast_arrays(*(np.atleast_1d(np.asarray(v, dtype=np.float64)) for v in fields))
        return tuple(np.array(a) for a in wide)

    def spread(self) -> OperatingPoints:
        """The same points with every field an array of shape (n,)."""
        return OperatingPoints(*self.arrays())

    def pick(self, mask: NDArray[np.bool_]) -> OperatingPoints:
        """Only the points where ``mask`` (n,) is true."""
        return OperatingPoints(*(a[mask] for a in self.arrays()))

    def with_spark(self, spark: Array) -> OperatingPoints:
        """The same points, repeated as often as ``spark`` (k n,) is longer, with these sparks [rad]."""
        speed, p, T, p_exhaust, lam, _ = self.arrays()
        n = spark.size // speed.size
        return OperatingPoints(
            np.tile(speed, n), np.tile(p, n), np.tile(T, n), np.tile(p_exhaust, n), np.tile(lam, n), spark
        )


class CycleResult(NamedTuple):
    """Converged cycles; every array has shape (n,), SI units, per cylinder where it says so."""

    torque: Array  # brake torque of the whole engine [N m]
    power: Array  # brake power of the whole engine [W]
    imep: Array  # net indicated mean effective pressure, gas exchange included [Pa]
    pmep: Array  # gas-exchange (pumping) part of imep, negative when it costs [Pa]
    fmep: Array  # friction mean effective pressure [Pa]
    bmep: Array  # brake mean effective pressure [Pa]
    air_flow: Array  # of the whole engine [kg/s]
    fuel_flow: Array  # of the whole engine [kg/s]
    volumetric_efficiency: Array  # on plenum density [-]
    residual: Array  # burned gas from the last cycle in the trapped charge, by mass [-]
    trapped_mass: Array  # per cylinder at intake closing [kg]
    charge_temperature: Array  # mixed charge at intake closing [K]
    peak_pressure: Array  # [Pa]
    peak_angle: Array  # [rad]
    ca10: Array  # crank angle at 10 % burned [rad]
    ca50: Array  # [rad]
    ca90: Array  # [rad]
    peak_burned_temperature: Array  # [K]
    peak_unburned_temperature: Array  # [K]
    exhaust_valve_temperature: Array  # mass-enthalpy mean at the valve [K]
    exhaust_port_temperature: Array  # after port heat loss [K]
    exhaust_manifold_temperature: Array  # after manifold runner heat loss [K]
    wall_heat: Array  # cylinder wall heat, share of fuel energy [-]
    wall_temperatures: Array  # shape (n, 3): piston, head, liner [K]
    knock_a: Array  # Livengood-Wu integral, Douaud & Eyzat delay, with C_K and octane [-]
    knock_c: Array  # the same, guideline-fitted delay [-]
    fuel_energy: Array  # released if all burned, per cylinder and cycle [J]
    unburnt_energy: Array  # per cylinder and cycle [J]
    periodicity: Array  # greatest relative change of the periodic state over the last cycle [-]
    cycles: Array  # cycles computed [-]
    status: NDArray[np.int64]  # 0 converged; see cycle.STATUS_WORDS
