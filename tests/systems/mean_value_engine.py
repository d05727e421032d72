"""A stand-in for the engine cycle in tests of the match: a mean-value formula, not a cycle.

It knows a volumetric efficiency and an exhaust temperature for each engine speed and corrects the first for
residual gas. Its torque, pressures and knock figures are NaN on purpose: nothing may be concluded from them.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from boostwright.systems.engine.types import (
    CycleResult,
    EngineGeometry,
    OperatingPoints,
    ValveTrain,
)

Array = NDArray[np.float64]
RPM = np.pi / 30

# An invented two-litre four of 86 x 86 mm at full load; volumetric efficiency on the plenum state at an
# exhaust pressure of 1.03 times the plenum's, and turbine inlet temperature. Plausible values, common
# practice, no source.
SPEEDS_RPM = np.array([1000, 1500, 2000, 2500, 3000, 3500, 4000, 4500, 5000, 5500, 6000, 6500.0])
VE = np.array([0.80, 0.84, 0.87, 0.89, 0.90, 0.92, 0.94, 0.95, 0.94, 0.92, 0.88, 0.83])
T3 = np.array([930, 980, 1030, 1065, 1100, 1125, 1150, 1170, 1190, 1202, 1215, 1225.0])


def two_litre(compression_ratio: float = 9.0) -> EngineGeometry:
    """The invented engine; valves and runner are filled in but not used by the stand-in."""
    valves = ValveTrain(count=2, diameter=0.033, lift=0.009, opens=-0.2, closes=3.9)
    return EngineGeometry(
        cylinders=4, bore=0.086, stroke=0.086, rod=0.143, compression_ratio=compression_ratio, intake=valves,
        exhaust=valves, runner_length=0.3, runner_area=1.2e-3, port_volume=1e-4,
    )  # fmt: skip


@dataclass
class MeanValueEngine:
    """Callable like a cycle runner; counts its calls."""

    engine: EngineGeometry = field(default_factory=two_litre)
    air_fuel_ratio: float = 12.5
    spark_heat: float = 0.0  # exhaust temperature rise per rad of spark retard from -0.35 [K/rad]
    calls: int = 0

    def __call__(self, points: OperatingPoints) -> CycleResult:
        self.calls += 1
        speed, p, T, p3, _, spark = np.broadcast_arrays(
            points.speed, points.plenum_pressure, points.plenum_temperature, points.exhaust_pressure,
            points.lam, points.spark,
        )  # fmt: skip
        r = self.engine.compression_ratio
        ve = np.interp(speed / RPM, SPEEDS_RPM, VE)
        ve = ve * (r - (p3 / p) ** (1 / 1.32)) / (r - 1.03 ** (1 / 1.32))
        air = ve * speed / (4 * np.pi) * self.engine.displacement * p / (287.05 * T)
        hot = np.interp(speed / RPM, SPEEDS_RPM, T3) + self.spark_heat * (spark + 0.35)
        nan = np.full(speed.shape, np.nan)
        known = {
            "air_flow": air,
            "fuel_flow": air / self.air_fuel_ratio,
            "volumetric_efficiency": ve,
            "exhaust_manifold_temperature": hot,
            "wall_temperatures": np.full((*speed.shape, 3), np.nan),
            "status": np.zeros(speed.shape, dtype=np.int64),
        }
        return CycleResult(**{name: known.get(name, nan) for name in CycleResult._fields})
